"""Rows of a table that a study names: a CSV file, or the first sheet of a workbook (.xlsx).

The first line names fields, each with its unit in brackets where the cells below are bare numbers.
A row becomes what a study file would have there, and is read by the same fields.
"""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from mdo.study.fields import Field
from mdo.study.reader import Place
from mdo.study.text import FileError, clipped, small_file, small_text
from mdo.study.units import NUMBER, UnitError, parse_quantity
from mdo.study.values import nearest, shown

ROWS_MAX, COLUMNS_MAX = 50_000, 200
PROBLEMS_SHOWN = 20
WORKBOOK = ".xlsx"
_HEADER = re.compile(r"\s*(?P<name>[\w.]+)\s*(?:\[(?P<unit>[^\]]*)\])?\s*")  # name [unit]
_TRUTH = {"true": True, "false": False, "1": True, "0": False, "yes": True, "no": False}
Lines = list[list[str]]


class Row(NamedTuple):
    """A row of a table: where it stands, and its cells by field as a study file has them."""

    where: str
    cells: dict[str, object]


class Column(NamedTuple):
    """A column: the field, its declaration, and the unit of bare numbers below it."""

    name: str
    of: Field
    unit: str

    def value(self, cell: str) -> object:
        """Cell as a study file would have it; what is wrong with it the reader says."""
        if self.of.kind == "boolean":
            return _TRUTH.get(cell.lower(), cell)
        if self.of.kind not in {"quantity", "difference"} or not re.fullmatch(NUMBER, cell):
            return cell
        return f"{cell} {self.unit}" if self.unit else float(cell.replace(",", ""))


def read_rows(
    place: Place, path: Path, fields: Mapping[str, Field], *, complete: bool = False
) -> list[Row]:
    """Read all rows, noting every problem; an empty cell leaves its field out.

    Parameters
    ----------
    place : takes the problems
    path : of the file
    fields : what a column may be, by its name
    complete : whether every field has its column, and every number its unit in the first line
    """
    name = clipped(path.name)
    try:
        lines = _read_lines(path)
    except FileError as fault:
        place.problem(str(fault))
        return []
    if not any(any(line) for line in lines[1:]):
        place.problem(f"empty, got {name}, expected rows of cells under the names of fields")
        return []
    columns: list[Column] = []
    before = place.noted
    for problem in _read_head(lines[0], fields, columns, complete=complete):
        place.problem(f"{name} line 1: {problem}")
    rows = []
    for number, line in enumerate(lines[1:] if place.noted == before else (), 2):
        where, cells = f"{name} line {number}", [cell.strip() for cell in line]
        if place.noted - before >= PROBLEMS_SHOWN:
            place.problem(f"not read from {where} on, expected fewer problems")
            break
        if any(cells) and len(cells) != len(columns):
            place.problem(f"{where}: got {len(cells)} cells, expected {len(columns)}")
        elif any(cells):
            pairs = zip(columns, cells, strict=True)
            rows.append(Row(where, {of.name: of.value(cell) for of, cell in pairs if cell}))
    return rows


def _read_head(
    head: Sequence[str], fields: Mapping[str, Field], columns: list[Column], *, complete: bool
) -> Iterator[str]:
    """Put the columns that the first line names into a list; say what is wrong with it."""
    for cell in head:
        match = _HEADER.fullmatch(cell)
        name = match["name"] if match else cell
        if match is None or name not in fields:
            yield f"unknown column, {nearest(clipped(name), sorted(fields))}"
            continue
        of, unit = fields[name], (match["unit"] or "").strip()
        if name in {column.name for column in columns}:
            yield f"column {name} given twice, expected once"
        if complete and of.unit != "1":
            try:
                parse_quantity(f"1 {unit}", of.unit, difference=of.kind == "difference")
            except UnitError as problem:
                yield f"column {name}: {problem}"
        columns.append(Column(name, of, unit))
    missing = [name for name in fields if name not in {column.name for column in columns}]
    if complete and missing:
        yield f"missing {', '.join(missing)}, expected the columns {', '.join(fields)}"


def _read_lines(path: Path) -> Lines:
    """Return the lines of a file, every cell as text as it would stand in a CSV file.

    Raises
    ------
    FileError
        If it is no table.
    """
    got, noun = shown(path.name), "a CSV file or a workbook"
    if path.suffix.lower() == WORKBOOK:
        return _workbook(small_file(path, noun, got), got)
    try:
        text = small_text(path, noun, got)
        return list(csv.reader(io.StringIO(text, newline=""), strict=True))
    except csv.Error as error:
        raise FileError(f"not CSV ({error}), got {got}, expected comma-separated rows") from None


def _workbook(data: bytes, got: str) -> Lines:
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
        raise FileError(f"not a workbook ({why}), got {got}, expected a sheet of rows") from None
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
