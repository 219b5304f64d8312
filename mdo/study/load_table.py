"""Hinge moments of the user's own, from a sheet: case, leg, fold angle, minimum, maximum."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mdo.study.fields import Field
from mdo.study.reader import Place, Reader
from mdo.study.sheet import PROBLEMS_SHOWN, read_rows
from mdo.study.text import clipped, file_name
from mdo.study.values import shown

Cases = Sequence[tuple[Mapping[str, Any], object]]
LEGS = ("fold", "return")
_MOMENT = Field(kind="quantity", unit="N*m", low="-1e7 N*m", high="1e7 N*m", required=True)
_COLUMNS = {
    "case": Field(kind="text", text="case of the study", required=True),
    "leg": Field(kind="choice", noun="leg", choices=LEGS, required=True),
    "fold_angle": Field(kind="quantity", unit="rad", low="-180 deg", high="180 deg", required=True),
    "minimum": _MOMENT,
    "maximum": _MOMENT,
    "source": Field(kind="text", default=""),
}
_ANGLE_SLACK = 1e-6  # rad
# These fields act by the air alone, and a table brings the moments of the air itself. A load factor
# is none of them: it acts on the weight of the panel too.
_AIR_LOAD = ("wind_speed", "gust_speed", "sideslip")


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
    rows: list[LoadRow] = []
    for where, cells in read_rows(place, path, _COLUMNS, complete=True):
        if place.noted - before >= PROBLEMS_SHOWN:
            place.problem(f"not read from {where} on, expected fewer problems")
            break
        row = Reader(place.reader.source)
        values = row.section(_COLUMNS, cells, f"{place.path}: {where}")
        if not row.problems and values["minimum"] > values["maximum"]:
            place.problem(f"{where}: minimum above maximum, expected minimum at most maximum")
        elif not row.problems:
            rows.append(LoadRow(**values))
        place.reader.problems += row.problems
    if place.noted == before:
        _check_cover(place, rows, cases, name)
    return LoadTable(tuple(rows)) if place.noted == before else None


def vehicle_loads(
    reader: Reader, tables: Iterable[object], cases: Cases, name: str | None, folder: Path
) -> LoadTable | None:
    """Table of hinge moments of a vehicle; names the fields whose air load it replaces.

    Parameters
    ----------
    reader : takes problems and the warning
    tables, cases : the cases as the file gives them and as they were read, in the same order
    name, folder : of the file; None where there is none
    """
    if name is None:
        return None
    loads = read_load_table(Place(reader, "actuator.table"), folder / file_name(name), cases)
    found: dict[str, list[str]] = {}
    for table, (case, _) in zip(tables, cases, strict=True):
        if isinstance(table, Mapping) and case.get("kind") != "soak":
            back = table.get("return")
            given = {*table, *(back if isinstance(back, Mapping) else ())}
            for field in given.intersection(_AIR_LOAD):
                found.setdefault(field, []).append(str(case.get("id", "?")))
    if found and loads is not None:
        named = "; ".join(f"{of} in {', '.join(found[of])}" for of in _AIR_LOAD if of in found)
        reader.warn(
            "actuator.table",
            "its moments stand for all loads of the air, so these fields have no effect but on the "
            f"friction of the bearings: {named}; see to it that the table holds for them",
        )
    return loads


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
