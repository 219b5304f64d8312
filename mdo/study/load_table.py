"""Hinge moments of the user's own, from a CSV file: case, leg, fold angle, minimum, maximum."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mdo.study.reader import Reader, shown
from mdo.study.units import UnitError, parse_quantity

LEGS = ("fold", "return")
SIZE_MAX = 10_000_000
_COLUMNS = {
    "case": "",
    "leg": "",
    "fold_angle": "rad",
    "minimum": "N*m",
    "maximum": "N*m",
    "source": "",
}
_HEADER = re.compile(r"\s*(?P<name>\w+)\s*(?:\[(?P<unit>[^\]]*)\])?\s*")
_PATH = "actuator.table"
_ANGLE_SLACK = 1e-6  # rad


@dataclass(frozen=True)
class LoadRow:
    """One row: hinge moments on the right wing, positive when they fold up."""

    case: str
    leg: str
    fold_angle: float
    minimum: float
    maximum: float
    source: str


@dataclass(frozen=True)
class LoadTable:
    """Hinge moments over fold angle for each leg."""

    rows: tuple[LoadRow, ...]

    def moments(
        self, case: str, leg: str, fold_angle: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Interpolate least and largest moment [N*m] linearly at fold angles [rad].

        Raises
        ------
        KeyError
            If the table has no rows for this leg.
        """
        rows = sorted(
            (row for row in self.rows if (row.case, row.leg) == (case, leg)),
            key=lambda row: row.fold_angle,
        )
        if not rows:
            raise KeyError(f"no hinge moments for case {case}, leg {leg}")
        angles = [row.fold_angle for row in rows]
        low = np.interp(fold_angle, angles, [row.minimum for row in rows])
        high = np.interp(fold_angle, angles, [row.maximum for row in rows])
        return low, high


def read_load_table(
    reader: Reader, path: Path, cases: Sequence[tuple[Mapping[str, Any], object]]
) -> LoadTable | None:
    """Read the file and check it against the cases, noting every problem."""
    try:
        if path.stat().st_size > SIZE_MAX:
            reader.problem(_PATH, f"too large, got {path.name}, expected at most 10 MB")
            return None
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        reader.problem(_PATH, f"not UTF-8 text, got {path.name}, expected a CSV file")
        return None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a usable path"
        reader.problem(_PATH, f"cannot be read ({reason}), got {shown(path.name)}, expected a file")
        return None
    before = len(reader.problems)
    try:
        lines = list(csv.reader(io.StringIO(text), strict=True))
    except csv.Error as error:
        reader.problem(_PATH, f"not CSV ({error}), got {path.name}, expected comma-separated rows")
        return None
    rows = _read_rows(reader, lines, path.name)
    if len(reader.problems) == before:
        _check_cover(reader, rows, cases, path.name)
    return LoadTable(tuple(rows)) if len(reader.problems) == before else None


def _read_rows(reader: Reader, lines: Sequence[Sequence[str]], name: str) -> list[LoadRow]:
    """Convert all rows to SI."""
    if not lines:
        reader.problem(_PATH, f"empty, got {name}, expected columns {', '.join(_COLUMNS)}")
        return []
    units = _read_header(reader, lines[0], name)
    rows = []
    for number, line in enumerate(lines[1:], 2):
        if units is None or not any(cell.strip() for cell in line):
            continue
        if len(line) != len(units):
            reader.problem(
                _PATH, f"{name} line {number}: got {len(line)} cells, expected {len(units)}"
            )
            continue
        row = _read_row(reader, dict(zip(units, line, strict=True)), units, f"{name} line {number}")
        rows += [row] if row else []
    return rows


def _read_header(reader: Reader, cells: Sequence[str], name: str) -> dict[str, str] | None:
    """Return the unit text of each column, in order."""
    units = {}
    for cell in cells:
        match = _HEADER.fullmatch(cell)
        if match and match["name"] in _COLUMNS:
            units[match["name"]] = (match["unit"] or "").strip()
    missing = [column for column in _COLUMNS if column not in units]
    if missing or len(units) != len(cells):
        reader.problem(
            _PATH,
            f"{name} line 1: wrong columns, got {shown(','.join(cells))}, expected "
            "case, leg, fold_angle [deg], minimum [N*m], maximum [N*m], source",
        )
        return None
    sound = True
    for column, unit in _COLUMNS.items():
        try:
            parse_quantity(f"1 {units[column]}", unit) if unit else None
        except UnitError as problem:
            reader.problem(_PATH, f"{name} line 1: column {column}: {problem}")
            sound = False
    return units if sound else None


def _read_row(
    reader: Reader, cells: Mapping[str, str], units: Mapping[str, str], where: str
) -> LoadRow | None:
    """Convert one row to SI."""
    numbers = {}
    for column, unit in _COLUMNS.items():
        if not unit:
            continue
        try:
            number = float(cells[column])
        except ValueError:
            number = math.nan
        if not math.isfinite(number):
            reader.problem(
                _PATH, f"{where}: {column}: got {shown(cells[column])}, expected a finite number"
            )
            return None
        numbers[column] = parse_quantity(f"{number!r} {units[column]}", unit)
    if numbers["minimum"] > numbers["maximum"]:
        reader.problem(_PATH, f"{where}: minimum above maximum, expected minimum at most maximum")
        return None
    leg = cells["leg"].strip()
    if leg not in LEGS:
        reader.problem(_PATH, f"{where}: leg: got {shown(leg)}, expected fold or return")
        return None
    return LoadRow(cells["case"].strip(), leg, source=cells["source"].strip(), **numbers)


def _check_cover(
    reader: Reader,
    rows: Sequence[LoadRow],
    cases: Sequence[tuple[Mapping[str, Any], object]],
    name: str,
) -> None:
    """Note unknown cases, angles given twice, and legs that the rows do not cover."""
    known = [values["id"] for values, _ in cases if "id" in values]
    for stranger in sorted({row.case for row in rows} - set(known)):
        reader.problem(_PATH, f"{name}: got case {shown(stranger)}, expected one of {known}")
    for values, back in cases:
        start, end = values.get("fold_from"), values.get("fold_to")
        if values.get("kind") == "soak" or "id" not in values or start is None or end is None:
            continue
        for leg in LEGS if back else LEGS[:1]:
            angles = sorted(
                row.fold_angle for row in rows if (row.case, row.leg) == (values["id"], leg)
            )
            label = f"{name}: case {values['id']}, leg {leg}"
            _check_leg(reader, angles, (min(start, end), max(start, end)), label)


def _check_leg(
    reader: Reader, angles: Sequence[float], ends: tuple[float, float], label: str
) -> None:
    """Note angles of a leg given twice, and a leg that they do not cover."""
    if any(second - first < _ANGLE_SLACK for first, second in pairwise(angles)):
        reader.problem(_PATH, f"{label}: an angle given twice, expected each once")
    low, high = ends
    if not angles or low < angles[0] - _ANGLE_SLACK or high > angles[-1] + _ANGLE_SLACK:
        reader.problem(
            _PATH,
            f"{label}: not covered, got {len(angles)} angles, expected rows from "
            f"{math.degrees(low):g} to {math.degrees(high):g} deg",
        )
