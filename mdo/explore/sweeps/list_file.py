"""Designs from a CSV file: one line of heads with units, one line per design."""

from __future__ import annotations

import csv
import itertools
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import IO, Any, NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.explore.sweeps.space import variable_axes
from mdo.optimise.axes import Axis
from mdo.optimise.problem import DesignProblem
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
    """One column: what it gives, with its range, and its unit as factor and offset to SI."""

    axis: Axis
    factor: float
    offset: float


class DesignList(NamedTuple):
    """Designs of a file: what its columns give, axes first, and their numbers (SI), on disk."""

    names: tuple[str, ...]
    numbers: Floats


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
    named = f"{where}: {clipped(file.name)}"
    try:
        with file.open(encoding="utf-8-sig", newline="") as text:
            csv.field_size_limit(LINE_MAX)
            lines = csv.reader(text, strict=True)
            known = {axis.name: axis for axis in axes} | variable_axes(problem)
            columns = _columns(known, axes, next(lines, []), named)
            names = [column.axis.name for column in columns]
            order = [names.index(name) for name in known if name in names]
            with clear_errors(kept, "write"), kept.open("wb") as taking:
                _copy(lines, columns, order, taking, named)
    except (csv.Error, UnicodeDecodeError) as error:
        raise StudyError([f"{named}: no CSV in UTF-8 ({error})"]) from None
    except OSError as error:
        reason = error.strerror or str(error)
        raise StudyError([f"{where}: cannot be read ({reason}), got {shown(file.name)}"]) from None
    if not kept.stat().st_size:
        raise StudyError([f"{named}: no designs, expected one on every line after line 1"])
    numbers = np.memmap(kept, dtype="<f8", mode="r").reshape(-1, len(names))
    return DesignList(tuple(names[place] for place in order), numbers)


def _columns(
    known: Mapping[str, Axis], axes: Sequence[Axis], heads: Sequence[str], where: str
) -> list[Column]:
    """Columns of the line of heads.

    Raises
    ------
    StudyError
        With every head that is not known, twice there or missing.
    """
    problems: list[str] = []
    columns: list[Column] = []
    for head in heads:
        match = _HEAD.fullmatch(head)
        if match is None or match["name"] not in known:
            problems.append(
                f"{where} line 1: got {shown(head)}, expected one of {', '.join(known)}, each with "
                "its unit in brackets"
            )
            continue
        try:
            columns.append(_column(known[match["name"]], (match["unit"] or "").strip()))
        except UnitError as error:
            problems.append(f"{where} line 1: {match['name']}: {error}")
    names = [column.axis.name for column in columns]
    twice = sorted({name for name in names if names.count(name) > 1})
    missing = [axis.name for axis in axes if axis.name not in names]
    problems += [f"{where} line 1: {name} given twice, expected once" for name in twice]
    problems += [f"{where} line 1: no column {name}, which is an axis" for name in missing]
    if problems or not names:
        raise StudyError(problems or [f"{where}: empty, expected a line of heads, then designs"])
    return columns


def _column(axis: Axis, unit: str) -> Column:
    """Column with the factor and offset of its unit; SI where it gives none.

    Raises
    ------
    UnitError
        If the unit is not one of the quantity.
    """
    if unit in {"", axis.unit}:
        return Column(axis, 1.0, 0.0)
    zero, one = (parse_quantity(f"{number} {unit}", axis.unit) for number in (0, 1))
    return Column(axis, one - zero, zero)


def _copy(
    lines: Any, columns: Sequence[Column], order: Sequence[int], kept: IO[bytes], where: str
) -> None:
    """Check the lines and write their numbers, in blocks.

    Raises
    ------
    StudyError
        With the lines that cannot be used.
    """
    problems: list[str] = []
    filled = (line for line in lines if any(cell.strip() for cell in line))
    while block := [
        [*_numbers(line, columns, f"{where} line {lines.line_num}", problems)]
        for line in itertools.islice(filled, BLOCK)
        if len(problems) < PROBLEMS_SHOWN
    ]:
        if not problems:
            kept.write(np.array(block, dtype="<f8")[:, order].tobytes())
    if len(problems) >= PROBLEMS_SHOWN:
        problems.append(f"{where}: not read any further, expected fewer problems")
    if problems:
        raise StudyError(problems)


def _numbers(
    line: Sequence[str], columns: Sequence[Column], where: str, problems: list[str]
) -> Iterator[float]:
    """Numbers of one line in SI; notes what is wrong with it."""
    if len(line) != len(columns):
        problems.append(f"{where}: got {len(line)} cells, expected {len(columns)}")
        return
    for cell, (axis, factor, offset) in zip(line, columns, strict=True):
        try:
            value = factor * float(cell) + offset
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            problems.append(f"{where}: {axis.name}: got {shown(cell)}, expected a finite number")
        elif not axis.low <= value <= axis.high:
            problems.append(
                f"{where}: {axis.name}: outside its range, got {value:.6g}, expected "
                f"{axis.low:.6g} to {axis.high:.6g} (SI)"
            )
        yield value
