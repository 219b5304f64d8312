"""Rows of a table that a study names: a CSV file, or the first sheet of a workbook (.xlsx).

Every cell is text as it would stand in a CSV file; what it means is up to whoever asked.
"""

from __future__ import annotations

import csv
import errno
import io
import os
import re
import zipfile
from pathlib import Path

from mdo.study.reader import Place
from mdo.study.text import clipped, not_utf8
from mdo.study.values import shown

SIZE_MAX = 1_000_000
ROWS_MAX, COLUMNS_MAX = 50_000, 200
WORKBOOK = ".xlsx"
HEADER = re.compile(r"\s*(?P<name>[\w.]+)\s*(?:\[(?P<unit>[^\]]*)\])?\s*")  # name [unit]
Lines = list[list[str]]


def read_sheet(place: Place, path: Path) -> Lines | None:
    """Read all rows; None with a problem noted where that does not work."""
    data = _read_bytes(place, path)
    if data is None:
        return None
    return (_workbook if path.suffix.lower() == WORKBOOK else _csv)(place, data, path.name)


def _read_bytes(place: Place, path: Path) -> bytes | None:
    name = shown(path.name)
    try:
        if not path.is_file():
            raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT))
        with path.open("rb") as file:
            data = file.read(SIZE_MAX + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a usable path"
        place.problem(f"cannot be read ({reason}), got {name}, expected a CSV file")
        return None
    if len(data) > SIZE_MAX:
        place.problem(f"too large, got {name}, expected at most 1 MB")
        return None
    return data


def _csv(place: Place, data: bytes, name: str) -> Lines | None:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        place.problem(f"{clipped(name)}: {not_utf8(data, error)}")
        return None
    try:
        return list(csv.reader(io.StringIO(text, newline=""), strict=True))
    except csv.Error as error:
        place.problem(f"not CSV ({error}), got {clipped(name)}, expected comma-separated rows")
        return None


def _workbook(place: Place, data: bytes, name: str) -> Lines | None:
    """First sheet of a workbook, values as they were last computed; empty rows at its end go."""
    import openpyxl

    try:
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        cells = book.worksheets[0].iter_rows(
            max_row=ROWS_MAX, max_col=COLUMNS_MAX, values_only=True
        )
        lines = [["" if cell is None else _as_text(cell) for cell in row] for row in cells]
    except (OSError, ValueError, KeyError, IndexError, TypeError, SyntaxError, zipfile.BadZipFile,
            NotImplementedError) as error:  # fmt: skip
        why = type(error).__name__
        place.problem(f"not a workbook ({why}), got {clipped(name)}, expected a sheet of rows")
        return None
    wide = max((n for line in lines for n, cell in enumerate(line, 1) if cell), default=0)
    lines = [line[:wide] for line in lines]
    while lines and not any(lines[-1]):
        lines.pop()
    return lines


def _as_text(cell: object) -> str:
    """Cell as a CSV file has it: whole numbers without a point, truth in lower case."""
    if isinstance(cell, bool):
        return str(cell).lower()
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return str(cell)
