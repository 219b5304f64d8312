"""Wanted columns of a log in CSV, in whatever dialect it comes; a row is a line."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from itertools import islice
from typing import TextIO

import numpy as np
from numpy.typing import NDArray

from mdo.bench.log_cells import (
    CELLS_MAX,
    ROWS_MAX,
    Cells,
    Column,
    Columns,
    Fault,
    Numbers,
    match_columns,
    refused,
    same_unit,
    split_header,
    to_numbers,
)
from mdo.study.text import clipped
from mdo.study.values import shown

LINE_MAX = 100_000
_HEAD = 60  # lines that are searched for the names of the columns
_CHUNK = 20_000
_SAMPLE = 2_000
_DELIMITERS = ",;\t|"
_COMMA = re.compile(r"[+-]?\d+,\d+(?:[eE][+-]?\d+)?")
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}(?:,\d{3})+")


def read_csv(text: TextIO, name: str, columns: Columns) -> Cells:
    """Read the wanted columns of a text.

    Raises
    ------
    StudyError
        If it cannot be read; the message names file, line and column.
    """
    lines = _lines(text, name)
    head = list(islice(lines, _HEAD))
    number, delimiter, header = _find_header(head, name, columns.wanted)
    places = match_columns(header, columns.wanted, f"{name}: line {number}")
    reader = _Rows(name, places, len(header), delimiter, columns)
    after = head[number:]
    number += 1
    if after and _says_units(_split_line(after[0], delimiter), places, columns.wanted):
        after, number = after[1:], number + 1
    while chunk := after + list(islice(lines, _CHUNK - len(after))):
        reader.take(chunk, number)
        number, after = number + len(chunk), []
    return reader.cells()


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


def _split_line(line: str, delimiter: str) -> list[str]:
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
            cells = _split_line(line, delimiter)
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


def _says_units(cells: Sequence[str], places: Sequence[int], wanted: Sequence[Column]) -> bool:
    """Whether a row under the header holds units."""
    if max(places) >= len(cells) or not all(cells[place] for place in places):
        return False
    if any(re.match(r"[+-]?[.\d]", cells[place]) for place in places):
        return False
    units = [cells[place].strip("[]()") for place in places]
    return all(same_unit(unit, column) for unit, column in zip(units, wanted, strict=True))


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
            rows = [_split_line(line, self._delimiter) for line in lines]
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
