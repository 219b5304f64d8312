"""Designs from a CSV file: one line of heads with units, one line per design."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import IO, Any, NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.optimise.axes import Axis
from mdo.optimise.problem import DesignProblem
from mdo.quantities import QUANTITIES
from mdo.results.files import clear_errors
from mdo.study.reader import StudyError
from mdo.study.text import clipped
from mdo.study.units import UnitError, parse_quantity
from mdo.study.values import shown

_HEAD = re.compile(r"\s*(?P<name>[\w.-]+)\s*(?:\[(?P<unit>[^\]]*)\])?\s*")
BLOCK = 20_000  # lines held at once
PROBLEMS_SHOWN = 20
LINE_MAX = 100_000  # characters of a cell


class Column(NamedTuple):
    """One column: what it gives, its unit as factor and offset to SI, and the range allowed."""

    name: str
    factor: float
    offset: float
    low: float
    high: float


class DesignList:
    """Designs of a file, kept as plain numbers beside the chunks and read by their numbers.

    Attributes
    ----------
    names
        Columns in the order of the numbers: axes, then design variables.
    size
        Number of designs.
    """

    def __init__(self, path: Path, names: Sequence[str], size: int) -> None:
        self._path = path
        self.names = tuple(names)
        self.size = size

    def rows(self, start: int, stop: int) -> Floats:
        """Values (SI) of some designs, shape (designs, names)."""
        width = len(self.names)
        found = np.fromfile(
            self._path, dtype="<f8", count=(stop - start) * width, offset=8 * start * width
        )
        return found.reshape(-1, width)


def read_list(
    problem: DesignProblem, axes: Sequence[Axis], file: Path, kept: Path, where: str
) -> DesignList:
    """Read a file of designs, check every line, and keep the numbers in SI.

    Parameters
    ----------
    problem : the study
    axes : axes, each of which needs a column
    file : the CSV file
    kept : file that takes the numbers
    where : field of the study that names the file, for messages

    Raises
    ------
    StudyError
        With the lines that cannot be used, by their numbers.
    StoreError
        If the numbers cannot be kept.
    """
    name = clipped(file.name)
    try:
        with file.open(encoding="utf-8-sig", newline="") as text:
            csv.field_size_limit(LINE_MAX)
            lines = csv.reader(text, strict=True)
            columns = _columns(problem, axes, next(lines, []), f"{where}: {name}")
            names = [column.name for column in columns]
            wanted = [*(axis.name for axis in axes), *problem.labels]
            order = sorted(range(len(names)), key=lambda place: wanted.index(names[place]))
            with clear_errors(kept, "write"), kept.open("wb") as numbers:
                size = _copy(lines, columns, order, numbers, f"{where}: {name}")
    except (csv.Error, UnicodeDecodeError) as error:
        raise StudyError([f"{where}: {name}: no CSV in UTF-8 ({error})"]) from None
    except OSError as error:
        reason = error.strerror or str(error)
        raise StudyError([f"{where}: cannot be read ({reason}), got {shown(file.name)}"]) from None
    if size == 0:
        raise StudyError([f"{where}: {name}: no designs, expected one on every line after line 1"])
    return DesignList(kept, [names[place] for place in order], size)


def _columns(
    problem: DesignProblem, axes: Sequence[Axis], heads: Sequence[str], where: str
) -> list[Column]:
    """Columns of the line of heads.

    Raises
    ------
    StudyError
        With every head that is not known, twice there or missing.
    """
    known = _known(problem, axes)
    problems: list[str] = []
    columns: list[Column] = []
    for head in heads:
        match = _HEAD.fullmatch(head)
        about = known.get(match["name"]) if match else None
        if match is None or about is None:
            problems.append(
                f"{where} line 1: got {shown(head)}, expected one of {', '.join(known)}, each with "
                "its unit in brackets"
            )
            continue
        unit, low, high = about
        try:
            columns.append(_column(match["name"], (match["unit"] or "").strip(), unit, low, high))
        except UnitError as error:
            problems.append(f"{where} line 1: {match['name']}: {error}")
    names = [column.name for column in columns]
    twice = sorted({name for name in names if names.count(name) > 1})
    missing = [axis.name for axis in axes if axis.name not in names]
    problems += [f"{where} line 1: {name} given twice, expected once" for name in twice]
    problems += [f"{where} line 1: no column {name}, which is an axis" for name in missing]
    if problems or not names:
        raise StudyError(problems or [f"{where}: empty, expected a line of heads, then designs"])
    return columns


def _known(problem: DesignProblem, axes: Sequence[Axis]) -> Mapping[str, tuple[str, float, float]]:
    """Unit and range of whatever may have a column."""
    known = {axis.name: (axis.unit, axis.low, axis.high) for axis in axes}
    for label, active, low, high in zip(
        problem.labels, problem.active, problem.lower, problem.upper, strict=True
    ):
        if active:
            known[label] = (QUANTITIES[label.partition(".")[0]].unit, float(low), float(high))
    return known


def _column(name: str, given: str, unit: str, low: float, high: float) -> Column:
    """Column with the factor and offset of its unit; SI where it gives none.

    Raises
    ------
    UnitError
        If the unit is not one of the quantity.
    """
    if not given or given == unit:
        return Column(name, 1.0, 0.0, low, high)
    zero, one = (parse_quantity(f"{number} {given}", unit) for number in (0, 1))
    return Column(name, one - zero, zero, low, high)


def _copy(
    lines: Any, columns: Sequence[Column], order: Sequence[int], numbers: IO[bytes], where: str
) -> int:
    """Check the lines and write their numbers; gives how many designs there are.

    Raises
    ------
    StudyError
        With the lines that cannot be used.
    """
    size = 0
    block: list[list[float]] = []
    problems: list[str] = []

    def write() -> None:
        values = np.array(block, dtype="<f8").reshape(-1, len(columns))
        numbers.write(values[:, order].tobytes())
        block.clear()

    for line in lines:
        if not any(cell.strip() for cell in line):
            continue
        block.append([*_numbers(line, columns, f"{where} line {lines.line_num}", problems)])
        if len(problems) >= PROBLEMS_SHOWN:
            problems.append(f"{where}: not read any further, expected fewer problems")
        if problems:
            block.clear()
            if len(problems) > PROBLEMS_SHOWN:
                break
            continue
        size += 1
        if len(block) == BLOCK:
            write()
    if problems:
        raise StudyError(problems)
    write()
    return size


def _numbers(
    line: Sequence[str], columns: Sequence[Column], where: str, problems: list[str]
) -> Iterator[float]:
    """Numbers of one line in SI; notes what is wrong with it."""
    if len(line) != len(columns):
        problems.append(f"{where}: got {len(line)} cells, expected {len(columns)}")
        return
    for cell, column in zip(line, columns, strict=True):
        try:
            value = column.factor * float(cell) + column.offset
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            problems.append(f"{where}: {column.name}: got {shown(cell)}, expected a finite number")
        elif not column.low <= value <= column.high:
            problems.append(
                f"{where}: {column.name}: outside its range, got {value:.6g}, expected "
                f"{column.low:.6g} to {column.high:.6g} (SI)"
            )
        yield value
