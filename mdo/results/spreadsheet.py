"""Tables as CSV that a spreadsheet opens as it should: RFC 4180, UTF-8 with its mark.

Lines end with CR LF; a cell with a comma, a quote or a break is quoted. The mark of UTF-8 (BOM) is
what spreadsheets need to know the encoding. Numbers are in SI and in full: the shortest digits that
read back to the same bits; a cell is empty where there is no number. A text that a spreadsheet
would take for a formula gets an apostrophe before it.
"""

from __future__ import annotations

import codecs
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
ENCODING = "utf-8-sig"  # what the files are read back with


def csv_bytes(data: pd.DataFrame) -> bytes:
    """Return a table as the bytes of a CSV file; its index is not kept. Same data, same bytes."""
    import pandas as pd

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
