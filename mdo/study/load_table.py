"""Hinge moments of the user's own, from a sheet: case, leg, fold angle, minimum, maximum."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mdo.study.reader import Place
from mdo.study.sheet import HEADER, read_sheet
from mdo.study.text import clipped, hidden_character
from mdo.study.units import UnitError, parse_quantity
from mdo.study.values import shown

Cases = Sequence[tuple[Mapping[str, Any], object]]
LEGS = ("fold", "return")
_COLUMNS = {
    "case": "",
    "leg": "",
    "fold_angle": "rad",
    "minimum": "N*m",
    "maximum": "N*m",
    "source": "",
}
_ANGLE_SLACK = 1e-6  # rad
_ANGLE_MAX = math.radians(180.0)
_MOMENT_MAX = 1e7  # N*m
_PROBLEMS_SHOWN = 20


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


def read_load_table(place: Place, path: Path, cases: Cases) -> LoadTable | None:
    """Read the file and check it against the cases, noting every problem."""
    before = place.noted
    name = clipped(path.name)
    lines = read_sheet(place, path)
    rows = [] if lines is None else _read_rows(place, lines, name)
    if place.noted == before:
        _check_cover(place, rows, cases, name)
    return LoadTable(tuple(rows)) if place.noted == before else None


def same_for_all(place: Place, points: Sequence[tuple[float, float]], cases: Cases) -> LoadTable:
    """Moments [N*m] by fold angle [rad] that hold in every leg that moves or holds."""
    rows = [
        LoadRow(values["id"], leg, angle, moment, moment, place.path)
        for values, _ in cases
        for leg in LEGS
        for angle, moment in points
        if "id" in values
    ]
    _check_cover(place, rows, cases, place.path.rpartition(".")[2])
    return LoadTable(tuple(rows))


def _read_rows(place: Place, lines: Sequence[Sequence[str]], name: str) -> list[LoadRow]:
    """Convert all rows to SI."""
    if not lines:
        place.problem(f"empty, got {name}, expected columns {', '.join(_COLUMNS)}")
        return []
    units = _read_header(place, lines[0], name)
    rows = []
    enough = place.noted + _PROBLEMS_SHOWN
    for number, line in enumerate(lines[1:], 2):
        if units is None or not any(cell.strip() for cell in line):
            continue
        if place.noted >= enough:
            place.problem(f"{name}: not read from line {number}, expected fewer problems")
            break
        if len(line) != len(units):
            place.problem(f"{name} line {number}: got {len(line)} cells, expected {len(units)}")
            continue
        row = _read_row(place, dict(zip(units, line, strict=True)), units, f"{name} line {number}")
        rows += [row] if row else []
    return rows


def _read_header(place: Place, cells: Sequence[str], name: str) -> dict[str, str] | None:
    """Return the unit text of each column, in order."""
    units = {}
    for cell in cells:
        match = HEADER.fullmatch(cell)
        if match and match["name"] in _COLUMNS:
            units[match["name"]] = (match["unit"] or "").strip()
    missing = [column for column in _COLUMNS if column not in units]
    if missing or len(units) != len(cells):
        place.problem(
            f"{name} line 1: wrong columns, got {shown(','.join(cells))}, expected "
            "case, leg, fold_angle [deg], minimum [N*m], maximum [N*m], source"
        )
        return None
    sound = True
    for column, unit in _COLUMNS.items():
        try:
            parse_quantity(f"1 {units[column]}", unit) if unit else None
        except UnitError as problem:
            place.problem(f"{name} line 1: column {column}: {problem}")
            sound = False
    return units if sound else None


def _read_row(
    place: Place, cells: Mapping[str, str], units: Mapping[str, str], where: str
) -> LoadRow | None:
    """Convert one row to SI."""
    numbers = {}
    for column, unit in _COLUMNS.items():
        if not unit:
            continue
        try:
            plain = cells[column].isascii() and "_" not in cells[column]
            number = float(cells[column]) if plain else math.nan
        except ValueError:
            number = math.nan
        if not math.isfinite(number):
            place.problem(
                f"{where}: {column}: got {shown(cells[column])}, expected a finite number"
            )
            return None
        numbers[column] = parse_quantity(f"{number!r} {units[column]}", unit)
        most = _ANGLE_MAX if column == "fold_angle" else _MOMENT_MAX
        if abs(numbers[column]) > most:
            expected = "at most 180 deg" if column == "fold_angle" else "at most 1e7 N*m"
            place.problem(
                f"{where}: {column}: out of range, got {cells[column]}, expected {expected}"
            )
            return None
    if numbers["minimum"] > numbers["maximum"]:
        place.problem(f"{where}: minimum above maximum, expected minimum at most maximum")
        return None
    leg = cells["leg"].strip()
    if leg not in LEGS:
        place.problem(f"{where}: leg: got {shown(leg)}, expected fold or return")
        return None
    hidden = hidden_character(cells["source"])
    if hidden:
        place.problem(f"{where}: source: got {hidden}, expected text without it")
        return None
    return LoadRow(cells["case"].strip(), leg, source=cells["source"].strip(), **numbers)


def _check_cover(place: Place, rows: Sequence[LoadRow], cases: Cases, name: str) -> None:
    """Note unknown cases, angles given twice, and legs that the rows do not cover."""
    known = [values["id"] for values, _ in cases if "id" in values]
    for stranger in sorted({row.case for row in rows} - set(known)):
        place.problem(f"{name}: got case {shown(stranger)}, expected one of {known}")
    for values, back in cases:
        start, end = values.get("fold_from"), values.get("fold_to")
        if values.get("kind") == "soak" or "id" not in values or start is None or end is None:
            continue
        for leg in LEGS if back else LEGS[:1]:
            angles = sorted(
                row.fold_angle for row in rows if (row.case, row.leg) == (values["id"], leg)
            )
            label = f"{name}: case {values['id']}, leg {leg}"
            _check_leg(place, angles, (min(start, end), max(start, end)), label)


def _check_leg(
    place: Place, angles: Sequence[float], ends: tuple[float, float], label: str
) -> None:
    """Note angles of a leg given twice, and a leg that they do not cover."""
    if any(second - first < _ANGLE_SLACK for first, second in pairwise(angles)):
        place.problem(f"{label}: an angle given twice, expected each once")
    low, high = ends
    if not angles or low < angles[0] - _ANGLE_SLACK or high > angles[-1] + _ANGLE_SLACK:
        place.problem(
            f"{label}: not covered, got {len(angles)} angles, expected rows from "
            f"{math.degrees(low):g} to {math.degrees(high):g} deg"
        )
