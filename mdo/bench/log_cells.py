"""Cells of a log as numbers: CSV in whatever dialect it comes, or Parquet.

A row is a line. What is no number is missing (NaN) and noted with its line and column; what cannot
be read at all raises.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import Any, NamedTuple, TextIO

import numpy as np
from numpy.typing import NDArray

from mdo.bench.log_columns import Column, Columns, conversion, refused, split_header
from mdo.study.reader import StudyError
from mdo.study.text import clipped
from mdo.study.units import UnitError
from mdo.study.values import nearest, shown

Numbers = NDArray[np.float64]
ROWS_MAX, CELLS_MAX, LINE_MAX = 3_000_000, 60_000_000, 100_000
_HEAD = 60  # lines that are searched for the names of the columns
_CHUNK = 20_000
_SAMPLE = 2_000
_CELL_MAX = 64
_DELIMITERS = ",;\t|"
_MISSING = frozenset({"", "nan", "na", "n/a", "null", "none", "-", "--", "?", "#n/a"})
_COMMA = re.compile(r"[+-]?\d+,\d+(?:[eE][+-]?\d+)?")
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}(?:,\d{3})+")
_OTHER_FILES = {
    b"PK\x03\x04": "a workbook or an archive", b"\x1f\x8b": "a compressed file",
    b"\xd0\xcf\x11\xe0": "a workbook", b"%PDF": "a PDF", b"\x89HDF": "an HDF5 file",
}  # fmt: skip


class Fault(NamedTuple):
    """Cells of a column that are no numbers: how many, and line and text of the first."""

    cells: int
    line: int
    text: str


@dataclass
class Cells:
    """Numbers of each wanted column as they are written, and the line of each row.

    Attributes
    ----------
    columns, numbers
        Wanted columns and their numbers, NaN where one is missing.
    lines
        Line (CSV) or row (Parquet) of the file, counted from 1.
    faults
        Cells that are no numbers, by name of the column.
    torn
        Rows of another number of cells than the header; they were left out.
    notes
        What was done to read the file at all.
    place
        What a row is called: ``line`` or ``row``.
    """

    columns: tuple[Column, ...]
    numbers: list[Numbers]
    lines: NDArray[np.int64]
    faults: dict[str, Fault] = field(default_factory=dict)
    torn: Fault | None = None
    notes: list[str] = field(default_factory=list)
    place: str = "line"


def read_cells(path: Path, columns: Columns) -> Cells:
    """Read the wanted columns of a log.

    Raises
    ------
    StudyError
        If it cannot be read; the message names file, line and column.
    """
    name = clipped(path.name)
    try:
        if not path.is_file():
            raise refused(f"{name}: no such file, expected a log (CSV or Parquet)")
        with path.open("rb") as file:
            head = file.read(4096)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a usable path"
        raise refused(f"{name}: cannot be read: {reason}") from None
    if not head.strip(b"\x00\xef\xbb\xbf\xff\xfe \t\r\n"):
        raise refused(f"{name}: empty, expected rows under the names of the columns")
    for start, what in _OTHER_FILES.items():
        if head.startswith(start):
            raise refused(f"{name}: {what}, expected CSV or Parquet (save it as CSV)")
    if head.startswith(b"PAR1"):
        from mdo.bench.log_parquet import read_parquet

        return read_parquet(path, name, columns)
    for encoding in (_encoding(head), "latin-1"):
        try:
            with path.open("r", encoding=encoding, newline=None) as text:
                cells = _read_csv(text, name, columns)
        except UnicodeError:
            continue
        if encoding != "utf-8-sig":
            cells.notes.insert(0, f"not UTF-8: read as {encoding}")
        return cells
    raise refused(f"{name}: not text in any known encoding, expected UTF-8")


def _encoding(head: bytes) -> str:
    """Encoding of a text by its first bytes."""
    if head[:2] in {b"\xff\xfe", b"\xfe\xff"}:
        return "utf-16"
    if head[1::2].count(0) > len(head) // 4:
        return "utf-16-le"
    return "utf-16-be" if head[::2].count(0) > len(head) // 4 else "utf-8-sig"


def _lines(text: TextIO, name: str) -> Iterator[str]:
    """Lines of a file, none of them longer than any log needs."""
    number = 0
    while line := text.readline(LINE_MAX):
        number += 1
        if len(line) == LINE_MAX and not line.endswith("\n"):
            raise refused(
                f"{name}: line {number}: longer than {LINE_MAX} characters, expected rows of text"
            )
        yield line.replace("\x00", "")


def _read_csv(text: TextIO, name: str, columns: Columns) -> Cells:
    lines = _lines(text, name)
    head = list(islice(lines, _HEAD))
    number, delimiter, header = _find_header(head, name, columns.wanted)
    places = match_columns(header, columns.wanted, f"{name}: line {number}")
    reader = _Rows(name, places, len(header), delimiter, columns)
    after = head[number:]
    number += 1
    if after and _says_units(split_line(after[0], delimiter), places, columns.wanted):
        after, number = after[1:], number + 1
    while chunk := after + list(islice(lines, _CHUNK - len(after))):
        reader.take(chunk, number)
        number, after = number + len(chunk), []
    return reader.cells()


def split_line(line: str, delimiter: str) -> list[str]:
    """Cells of one line, without the blanks around them."""
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])]
    except csv.Error:
        return line.strip().split(delimiter)


def _find_header(
    head: Sequence[str], name: str, wanted: Sequence[Column]
) -> tuple[int, str, list[str]]:
    """Line, delimiter and cells of the header: whichever names most of the wanted columns."""
    names = {column.name for column in wanted}
    best = (0, 0, ",", [""])
    for number, line in enumerate(head, 1):
        for delimiter in _DELIMITERS:
            cells = split_line(line, delimiter)
            found = len(names & {split_header(cell)[0] for cell in cells} | names & {*cells})
            if found > best[0]:
                best = (found, number, delimiter, cells)
    if not best[0]:
        first = next((line for line in head if line.strip()), "").strip()
        raise refused(
            f"{name}: line 1: no line names the columns, got {shown(first)}, expected "
            f"{', '.join(sorted(names))}"
        )
    return best[1], best[2], best[3]


def match_columns(header: Sequence[str], wanted: Sequence[Column], where: str) -> list[int]:
    """Place of each wanted column in a header.

    Raises
    ------
    StudyError
        If one is missing, there twice, or says another unit than ``[log]``.
    """
    plain = [split_header(cell)[0] for cell in header]
    problems, places = [], []
    for column in wanted:
        found = [n for n, cell in enumerate(header) if column.name in {cell, plain[n]}]
        if len(found) != 1:
            what = "there twice" if found else f"no such column, {nearest(column.name, plain[:50])}"
            problems.append(f"{where}, column {clipped(column.name)}: {what}")
            continue
        places += found
        unit = split_header(header[found[0]])[1]
        if unit and not _same_unit(unit, column):
            problems.append(
                f"{where}, column {clipped(column.name)}: wrong unit, the header says "
                f"{shown(unit)}, [log] says {shown(column.unit)}, expected the same"
            )
    if problems:
        raise StudyError(problems)
    return places


def _same_unit(unit: str, column: Column) -> bool:
    """Whether a unit of a header is that of ``[log]``, or none at all."""
    try:
        return np.allclose(conversion(unit, column.channel), column[3:], rtol=1e-9)
    except UnitError as problem:  # of another kind is wrong; what is no unit says nothing
        return "unknown unit" in str(problem)


def _says_units(cells: Sequence[str], places: Sequence[int], wanted: Sequence[Column]) -> bool:
    """Whether a row under the header holds units."""
    if max(places) >= len(cells) or not all(cells[place] for place in places):
        return False
    if any(re.match(r"[+-]?[.\d]", cells[place]) for place in places):
        return False
    units = [cells[place].strip("[]()") for place in places]
    return all(_same_unit(unit, column) for unit, column in zip(units, wanted, strict=True))


class _Rows:
    """Takes rows chunk by chunk and keeps the numbers of the wanted columns."""

    def __init__(
        self, name: str, places: list[int], width: int, delimiter: str, columns: Columns
    ) -> None:
        self._name, self._places, self._width = name, places, width
        self._delimiter, self._wanted = delimiter, columns.wanted
        self._comma: bool | None = {"comma": True, "point": False}.get(columns.decimal)
        self._found: list[list[Numbers]] = [[] for _ in places]
        self._lines: list[NDArray[np.int64]] = []
        self._faults: dict[str, Fault] = {}
        self._torn: Fault | None = None
        self._rows = 0
        self._noted_comma = False

    def take(self, lines: Sequence[str], first: int) -> None:
        """Take the rows of some lines, the first of which has that number."""
        kept, numbers = [], []
        for number, row in self._split(lines, first):
            if len(row) != self._width and not _only_more_blanks(row, self._width):
                if any(cell.strip() for cell in row):
                    self._tear(number, row)
                continue
            if any(row):
                kept.append(row)
                numbers.append(number)
        self._rows += len(kept)
        if self._rows > ROWS_MAX or self._rows * len(self._places) > CELLS_MAX:
            raise refused(
                f"{self._name}: line {numbers[-1]}: too long, got more than {self._rows - 1} "
                f"rows, expected at most {ROWS_MAX} (thin the log, or name fewer columns)"
            )
        where = np.asarray(numbers, dtype=np.int64)
        self._lines.append(where)
        texts = [[row[place] for row in kept] for place in self._places]
        if self._comma is None and kept:
            self._comma = self._decimal_comma(texts, numbers)
        for column, found, text in zip(self._wanted, self._found, texts, strict=True):
            found.append(to_numbers(text, where, column.name, self._faults, comma=self._comma))

    def cells(self) -> Cells:
        """All that was taken."""
        if not self._rows:
            at = "" if self._torn is None else f": line {self._torn.line}: got {self._torn.text}"
            raise refused(f"{self._name}{at}: no rows, expected samples under the header")
        if self._torn and self._torn.cells > self._rows:
            hint = " (decimal commas between commas? save it with ; between cells)"
            raise refused(
                f"{self._name}: line {self._torn.line}: {self._torn.text}, as in "
                f"{self._torn.cells} lines{hint if self._delimiter == ',' else ''}"
            )
        cells = Cells(
            self._wanted,
            [np.concatenate(found) for found in self._found],
            np.concatenate(self._lines),
            self._faults,
            self._torn,
        )
        if self._comma:
            cells.notes.append("decimals follow a comma")
        return cells

    def _split(self, lines: Sequence[str], first: int) -> Iterator[tuple[int, list[str]]]:
        """Cells of each line; a quote that is never closed spoils its own line only."""
        try:
            rows = list(csv.reader(lines, delimiter=self._delimiter))
        except csv.Error:
            rows = []
        if len(rows) != len(lines):
            rows = [split_line(line, self._delimiter) for line in lines]
        return iter(enumerate(rows, first))

    def _tear(self, number: int, row: Sequence[str]) -> None:
        text = f"got {len(row)} cells, expected {self._width}"
        before = self._torn or Fault(0, number, text)
        self._torn = before._replace(cells=before.cells + 1)

    def _decimal_comma(self, texts: Sequence[Sequence[str]], numbers: Sequence[int]) -> bool:
        """Whether decimals follow a comma, by the first rows.

        Raises
        ------
        StudyError
            If the commas may as well part thousands.
        """
        some = [
            (column, n, cell.strip())
            for column, text in zip(self._wanted, texts, strict=True)
            for n, cell in enumerate(text[:_SAMPLE])
        ]
        commas = [one for one in some if _COMMA.fullmatch(one[2])]
        if not commas or any(re.fullmatch(r"[+-]?\d*\.\d+", cell) for *_, cell in some):
            return False
        if all(_THOUSANDS.fullmatch(cell) for *_, cell in commas):
            column, n, cell = commas[0]
            raise refused(
                f"{self._name}: line {numbers[n]}, column {clipped(column.name)}: got "
                f"{shown(cell)}, decimals or thousands, expected decimal = "
                '"comma" or "point" in [log]'
            )
        return True


def _only_more_blanks(row: Sequence[str], width: int) -> bool:
    """Whether a row has all cells and then some that hold nothing."""
    return len(row) > width and not any(cell.strip() for cell in row[width:])


def to_numbers(
    cells: Sequence[Any],
    lines: NDArray[np.int64],
    name: str,
    faults: dict[str, Fault],
    *,
    comma: bool | None,
) -> Numbers:
    """Numbers of cells of text, NaN where there is none; what is no number is noted."""
    if comma:
        cells = [cell.replace(",", ".", 1) for cell in cells]
    text = "".join(cells)
    plain = text.isascii() and "_" not in text
    try:  # an array of text is as wide as its longest cell
        narrow = plain and max(map(len, cells), default=0) <= _CELL_MAX
        numbers = np.asarray(cells if narrow else ["?"], dtype=str).astype(float)
    except ValueError:
        numbers = np.full(len(cells), np.nan)
        for n, cell in enumerate(cells):
            try:
                plain = cell.isascii() and "_" not in cell
                numbers[n] = float(cell) if plain else float("?")
            except ValueError:
                if cell.strip().lower() not in _MISSING:
                    before = faults.get(name, Fault(0, int(lines[n]), clipped(cell)))
                    faults[name] = before._replace(cells=before.cells + 1)
    numbers[~np.isfinite(numbers)] = np.nan
    return numbers
