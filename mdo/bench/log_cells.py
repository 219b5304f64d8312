"""Numbers of a log as they stand in its file, whatever kind of file it is.

What is no number is missing (NaN) and noted with its line and column.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.bench.log_columns import Column, conversion, split_header
from mdo.study.reader import StudyError
from mdo.study.text import clipped
from mdo.study.units import UnitError
from mdo.study.values import nearest, shown

Numbers = NDArray[np.float64]
ROWS_MAX, CELLS_MAX = 3_000_000, 60_000_000
_CELL_MAX = 64
_MISSING = frozenset({"", "nan", "na", "n/a", "null", "none", "-", "--", "?", "#n/a"})


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
        if unit and not same_unit(unit, column):
            problems.append(
                f"{where}, column {clipped(column.name)}: wrong unit, the header says "
                f"{shown(unit)}, [log] says {shown(column.unit)}, expected the same"
            )
    if problems:
        raise StudyError(problems)
    return places


def same_unit(unit: str, column: Column) -> bool:
    """Whether a unit of a header is that of ``[log]``, or none at all."""
    try:
        return np.allclose(conversion(unit, column.channel), column[3:], rtol=1e-9)
    except UnitError as problem:  # of another kind is wrong; what is no unit says nothing
        return "unknown unit" in str(problem)


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
