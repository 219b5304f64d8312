"""Tables for a spreadsheet: as CSV that it opens as it should, and all of a result as one workbook.

CSV is RFC 4180, UTF-8 with its mark.

Lines end with CR LF; a cell with a comma, a quote or a break is quoted. The mark of UTF-8 (BOM) is
what spreadsheets need to know the encoding. Numbers are in SI and in full: the shortest digits that
read back to the same bits; a cell is empty where there is no number. A text that a spreadsheet
would take for a formula gets an apostrophe before it.
"""

from __future__ import annotations

import codecs
import io
import math
from collections.abc import Mapping
from typing import Any

import pandas as pd

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
ROWS_MAX = 1_048_576  # of a sheet, by ISO/IEC 29500 and what reads it
NAME_MAX = 31  # letters of the name of a sheet


def csv_bytes(data: pd.DataFrame) -> bytes:
    """Return a table as the bytes of a CSV file; its index is not kept. Same data, same bytes."""
    guarded = {
        place: data.iloc[:, place]
        if pd.api.types.is_numeric_dtype(data.dtypes.iloc[place])
        else data.iloc[:, place].map(guarded_cell)
        for place in range(data.shape[1])
    }
    table = pd.DataFrame(guarded, index=data.index)
    table.columns = [guarded_cell(str(name)) for name in data.columns]
    text: str = table.to_csv(index=False, lineterminator="\r\n")
    return codecs.BOM_UTF8 + text.encode("utf-8")


def guarded_cell(cell: Any) -> Any:
    """Return a cell that no spreadsheet takes for a formula; what is no text stays as it is."""
    if isinstance(cell, str) and cell.startswith(FORMULA_STARTS):
        return f"'{cell}"
    return cell


def workbook_bytes(tables: Mapping[str, pd.DataFrame]) -> bytes:
    """Return tables as one workbook (.xlsx), a sheet each, the first line of each kept in view.

    Raises
    ------
    ValueError
        If a table has more lines than a sheet.
    """
    import openpyxl
    from openpyxl.styles import Font

    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for name, table in tables.items():
        if len(table) >= ROWS_MAX:
            raise ValueError(f"table {name} has {len(table)} lines, a sheet holds {ROWS_MAX - 1}")
        sheet = book.create_sheet(name[:NAME_MAX])
        sheet.append([guarded_cell(str(column)) for column in table.columns])
        for cell in sheet[1]:
            cell.font = Font(bold=True)
        sheet.freeze_panes = "A2"
        for row in table.itertuples(index=False, name=None):
            sheet.append([_cell_of_sheet(cell) for cell in row])
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


def _cell_of_sheet(cell: Any) -> Any:
    """Cell of a workbook: number, truth or guarded text; what is not finite in words or empty."""
    plain = cell.item() if hasattr(cell, "item") else cell
    if isinstance(plain, float):
        return plain if math.isfinite(plain) else None if math.isnan(plain) else str(plain)
    return plain if isinstance(plain, bool | int) or plain is None else guarded_cell(str(plain))
