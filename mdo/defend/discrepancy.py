"""Discrepancy between levels of fidelity: each requirement at the neighbours of its level.

What the difference would cost is first order: the change of the normalised row by its multiplier.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd

from mdo.arrays import Floats
from mdo.disciplines.tube.record import NO_RESISTANCE
from mdo.model.layout import SET_NAMES
from mdo.model.marching import level_drag
from mdo.model.requirements import ANGLES, LEGS, STATICS
from mdo.model.rows import RowLabel, place, read_row, row_of
from mdo.optimise.appraisal import Appraisal, NeighbourLevel

SAME = 1e-6  # relative: values closer than this are one
MARGIN, MARGIN_WORDS = "torque_margin", "Torque margin"


COLUMNS = [
    "discipline", "group", "quantity", "case", "leg", "fold_angle", "side", "level", "value",
    "unit", "neighbour", "neighbour_value", "ratio", "row_change", "mass_change",
]  # fmt: skip
PLACE = ["neighbour", "group", "case", "leg", "side"]
VERIFIED = [
    "leg", "driver", "level_outer_stress", "driven_outer_stress", "wound_outer_stress",
    "other_outer_stress", "outer_stress_factor", "cold_moment", "cold_moment_marched",
    "torque_margin", "torque_margin_marched", "strain_left", "residual",
]  # fmt: skip
Line = dict[str, Any]


def discrepancy_table(appraisal: Appraisal) -> pd.DataFrame:
    """Every quantity at the level of the study and at its neighbours, the heaviest first.

    One line per neighbour, quantity and leg or set, at the angle where it weighs most: by
    kilograms, then by the change of the normalised row. ``ratio`` is neighbour over level, NaN
    where the sign differs; ``mass_change`` [kg] what the design would have to change by, first
    order, to have the same margin at the neighbour, NaN where it was not optimised. Without lines
    where no neighbour was run.
    """
    lines = [
        line
        for beside in appraisal.neighbours
        for line in (*_rows(appraisal, beside), *_margins(appraisal, beside))
    ]
    table = pd.DataFrame(lines, columns=COLUMNS)
    changes = table[["mass_change", "row_change"]].astype(float).abs().fillna(0.0)
    weight = changes.round(9)  # what ties stays in its order, whatever the last digits
    heaviest = weight.sort_values(list(weight), ascending=False).index
    return table.loc[heaviest].drop_duplicates(PLACE).reset_index(drop=True)


def _rows(appraisal: Appraisal, beside: NeighbourLevel) -> Iterator[Line]:
    """Requirements that count and differ."""
    known = {**appraisal.known, **beside.values}  # noqa: PD011
    optimised = appraisal.optimum is not None and appraisal.optimum.feasible
    changed: dict[str, Floats] = {}
    for row in appraisal.rows:
        label, entry = row.label, row.label.requirement
        own, other = appraisal.reading(label), read_row(label, known)
        if _alike(own.value, other.value) and _alike(own.limit, other.limit):
            continue
        if entry.name not in changed:
            shape = np.shape(known[entry.name])
            changed[entry.name] = np.broadcast_to(np.asarray(row_of(entry, known)), shape)
        lost = row.value - float(changed[entry.name][place(label)])
        weight = row.multiplier * lost if optimised else math.nan
        line = _line(appraisal, beside, label, own.value, other.value)
        yield line | {"row_change": -lost, "mass_change": weight}


def _margins(appraisal: Appraisal, beside: NeighbourLevel) -> Iterator[Line]:
    """Least torque margin of each leg that a heated set drives against a load."""
    here, there = appraisal.known, beside.values  # noqa: PD011
    driven = np.asarray(here["heated"]) > 0.5
    for leg in np.flatnonzero(driven):
        angle = int(np.argmin(there[MARGIN][leg]))
        own, other = (float(each[MARGIN][leg, angle]) for each in (here, there))
        if max(own, other) < NO_RESISTANCE / 2 and not _alike(own, other):
            label = RowLabel("drive_strain", int(leg), angle)
            words = {"group": MARGIN, "quantity": MARGIN_WORDS, "row_change": other - own}
            yield _line(appraisal, beside, label, own, other) | words


def _alike(one: float, other: float) -> bool:
    return abs(one - other) <= SAME * max(abs(one), abs(other))


def _line(
    appraisal: Appraisal, beside: NeighbourLevel, label: RowLabel, own: float, other: float
) -> Line:
    """Line of a quantity at its place."""
    assembled, entry = appraisal.problem.assembled, label.requirement
    places = assembled.statics if entry.over == STATICS else assembled.legs
    leg = places[label.leg] if entry.over in {LEGS, ANGLES, STATICS} else None
    angles = assembled.parameters["fold_angle"]
    return {
        "discipline": beside.discipline,
        "group": label.group,
        "quantity": entry.title,
        "case": leg.case if leg else "",
        "leg": ("return" if leg.is_return else "fold") if leg and leg.kind == "fold" else "",
        "fold_angle": float(angles[label.leg, label.angle]) if entry.over == ANGLES else math.nan,
        "side": SET_NAMES[label.side] if label.side >= 0 else "",
        "level": getattr(appraisal.study.fidelity.optimise, beside.discipline),
        "value": own,
        "unit": entry.unit,
        "neighbour": beside.level,
        "neighbour_value": other,
        "ratio": other / own if own * other > 0.0 else math.nan,
        "mass_change": math.nan,
    }


def largest(table: pd.DataFrame) -> str:
    """Sentence on the largest discrepancy of a table; empty where it has no lines.

    Parameters
    ----------
    table : of :func:`discrepancy_table`
    """
    if table.empty:
        return ""
    top: Any = next(table.itertuples(index=False))
    angle = "" if math.isnan(top.fold_angle) else f"{math.degrees(top.fold_angle):.0f} deg"
    where = ", ".join(part for part in (top.case, top.leg, angle, top.side) if part)
    weight = f", first order {top.mass_change:+.2g} kg" if abs(top.mass_change) > 0.0 else ""
    said = (
        f"has another sign at {top.neighbour} than at {top.level}"
        if math.isnan(top.ratio)
        else f"is {top.ratio:.2f} times as much at {top.neighbour} as at {top.level}"
    )
    quantity = f"{top.quantity.lower()}{where and f' ({where})'}"
    return f"largest discrepancy between levels: {quantity} {said}{weight}"


def verification_table(appraisal: Appraisal) -> pd.DataFrame:
    """Legs that a heated set drives, marched along their paths; without lines where none were.

    Outer-fibre stress [Pa]: at the level of the study without a factor, largest while the set
    drives, while it was wound before, of the set that it winds. ``outer_stress_factor`` of the
    first two over that of the level [1]; torque margins at their least (NaN where the load
    assists), moments of the other set [N*m] at their largest, that of the level without the drag
    that was fed back.
    """
    found, values = appraisal.verification, appraisal.values  # noqa: PD011
    if found is None:
        return pd.DataFrame(columns=VERIFIED)
    legs, march, at = appraisal.problem.assembled.legs, found.march, np.flatnonzero(found.driven)
    margins = (each[MARGIN][at].min(axis=1) for each in (values, found.values))  # noqa: PD011
    columns = (
        [legs[leg].label for leg in at],
        [f"{SET_NAMES[0 if values['pushes_up'][leg] > 0.5 else 1]} set" for leg in at],
        values["leg_outer_stress"][at]
        / np.asarray(appraisal.known["legs"].outer_stress_factor)[at],
        march.driven_outer_stress[at],
        march.wound_outer_stress[at],
        march.other_outer_stress[at],
        found.ratio[at],
        level_drag(appraisal.known, values)[at].max(axis=1),
        march.cold_moment[at].max(axis=1),
        *(np.where(margin >= NO_RESISTANCE / 2, math.nan, margin) for margin in margins),
        (values["tube_strain"][at] - march.required_strain[at]).min(axis=1),
        march.residual[at],
    )
    return pd.DataFrame(dict(zip(VERIFIED, map(np.asarray, columns), strict=True)))


def verification_facts(appraisal: Appraisal) -> dict[str, object] | None:
    """Masses before and after the stress that was found, and legs, as plain data."""
    found = appraisal.verification
    if found is None:
        return None
    table = verification_table(appraisal)
    legs = table.astype(object).where(table.notna(), None).to_dict("records")
    return {
        "masses": list(found.masses),
        "settled": found.settled,
        "kept_back": found.kept_back,
        "legs": legs,
    }
