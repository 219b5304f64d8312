"""Discrepancy between levels of fidelity: each requirement at the neighbours of its level.

What the difference would cost is first order: the change of the normalised row by its multiplier.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from mdo.arrays import Floats
from mdo.defend.tables.frame import of_lines
from mdo.disciplines.tube.record import NO_RESISTANCE
from mdo.model.layout import SET_NAMES
from mdo.model.marching import level_drag
from mdo.model.requirements import ANGLES, LEGS, STATICS
from mdo.model.rows import RowLabel, place, read_row, row_of
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.neighbour_levels import NeighbourLevel

SAME = 1e-6  # relative: values closer than this are one
MARGIN, MARGIN_WORDS = "torque_margin", "Torque margin"


class Discrepancy(NamedTuple):
    """One quantity at the level of the study and at a neighbour.

    ``ratio`` is neighbour over level, NaN where the sign differs; ``row_change`` that of the
    normalised row; ``mass_change`` [kg] what the design would have to change by, first order, to
    have the same margin at the neighbour, NaN where it was not optimised.
    """

    discipline: str
    group: str
    quantity: str
    case: str
    leg: str
    fold_angle: float
    side: str
    level: str
    value: float
    unit: str
    neighbour: str
    neighbour_value: float
    ratio: float
    row_change: float
    mass_change: float


def discrepancies(appraisal: Appraisal) -> list[Discrepancy]:
    """Return one line per neighbour, quantity and leg or set: at the angle where it weighs most."""
    kept: dict[tuple[str, ...], Discrepancy] = {}
    for beside in appraisal.neighbours:
        for line in (*_rows(appraisal, beside), *_margins(appraisal, beside)):
            key = (line.neighbour, line.group, line.case, line.leg, line.side)
            if key not in kept or _weight(line) > _weight(kept[key]):
                kept[key] = line
    return sorted(kept.values(), key=_weight, reverse=True)


def discrepancy_table(appraisal: Appraisal) -> pd.DataFrame:
    """Discrepancies of a design, the heaviest first; without lines where no neighbour was run."""
    return of_lines(Discrepancy, discrepancies(appraisal))


def _weight(line: Discrepancy) -> tuple[float, float]:
    """Kilograms, then the change of the normalised row."""
    return (0.0 if math.isnan(line.mass_change) else abs(line.mass_change)), abs(line.row_change)


def _rows(appraisal: Appraisal, beside: NeighbourLevel) -> Iterator[Discrepancy]:
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
        line = _line(appraisal, beside, label, own.value, other.value)
        yield line._replace(
            row_change=-lost, mass_change=row.multiplier * lost if optimised else math.nan
        )


def _margins(appraisal: Appraisal, beside: NeighbourLevel) -> Iterator[Discrepancy]:
    """Least torque margin of each leg that a heated set drives against a load."""
    here, there = appraisal.known, beside.values  # noqa: PD011
    driven = np.asarray(here["heated"]) > 0.5
    for leg in np.flatnonzero(driven):
        angle = int(np.argmin(there[MARGIN][leg]))
        own, other = (float(each[MARGIN][leg, angle]) for each in (here, there))
        if max(own, other) < NO_RESISTANCE / 2 and not _alike(own, other):
            label = RowLabel("drive_strain", int(leg), angle)
            line = _line(appraisal, beside, label, own, other)
            yield line._replace(group=MARGIN, quantity=MARGIN_WORDS, row_change=other - own)


def _alike(one: float, other: float) -> bool:
    return abs(one - other) <= SAME * max(abs(one), abs(other))


def _line(
    appraisal: Appraisal, beside: NeighbourLevel, label: RowLabel, own: float, other: float
) -> Discrepancy:
    """Line of a quantity at its place."""
    assembled, over = appraisal.problem.assembled, label.requirement.over
    places = assembled.statics if over == STATICS else assembled.legs
    leg = places[label.leg] if over in {LEGS, ANGLES, STATICS} else None
    moves = leg is not None and leg.kind == "fold"
    return Discrepancy(
        discipline=beside.discipline,
        group=label.group,
        quantity=label.requirement.title,
        case=leg.case if leg else "",
        leg=("return" if leg.is_return else "fold") if leg and moves else "",
        fold_angle=float(assembled.parameters["fold_angle"][label.leg, label.angle])
        if over == ANGLES
        else math.nan,
        side=SET_NAMES[label.side] if label.side >= 0 else "",
        level=getattr(appraisal.study.fidelity.optimise, beside.discipline),
        value=own,
        unit=label.requirement.unit,
        neighbour=beside.level,
        neighbour_value=other,
        ratio=other / own if own * other > 0.0 else math.nan,
        row_change=0.0,
        mass_change=math.nan,
    )


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


class VerifiedLeg(NamedTuple):
    """One leg that a heated set drives, marched along its path.

    Outer-fibre stress [Pa]: at the level of the study without a factor, largest while the set
    drives, while it was wound before, of the set that it winds. ``outer_stress_factor`` of the
    first two over that of the level [1]; torque margins at their least, moments of the other set
    [N*m] at their largest, that of the level without the drag that was fed back.
    """

    leg: str
    driver: str
    level_outer_stress: float
    driven_outer_stress: float
    wound_outer_stress: float
    other_outer_stress: float
    outer_stress_factor: float
    cold_moment: float
    cold_moment_marched: float
    torque_margin: float
    torque_margin_marched: float
    strain_left: float
    residual: float


def verified_legs(appraisal: Appraisal) -> list[VerifiedLeg]:
    """Return the legs of a design that were marched, none where none were."""
    found, values = appraisal.verification, appraisal.values  # noqa: PD011
    if found is None:
        return []
    factor = np.asarray(appraisal.known["legs"].outer_stress_factor)
    cold = level_drag(appraisal.known, values)
    march, marched, lines = found.march, found.values, []  # noqa: PD011
    for at in np.flatnonzero(found.driven):
        margins = (float(each[MARGIN][at].min()) for each in (values, marched))
        lines.append(
            VerifiedLeg(
                leg=appraisal.problem.assembled.legs[at].label,
                driver=f"{SET_NAMES[0 if values['pushes_up'][at] > 0.5 else 1]} set",
                level_outer_stress=float(values["leg_outer_stress"][at] / factor[at]),
                driven_outer_stress=float(march.driven_outer_stress[at]),
                wound_outer_stress=float(march.wound_outer_stress[at]),
                other_outer_stress=float(march.other_outer_stress[at]),
                outer_stress_factor=float(found.ratio[at]),
                cold_moment=float(np.max(cold[at])),
                cold_moment_marched=float(np.max(march.cold_moment[at])),
                **dict(
                    zip(("torque_margin", "torque_margin_marched"), map(_met, margins), strict=True)
                ),
                strain_left=float(np.min(values["tube_strain"][at] - march.required_strain[at])),
                residual=float(march.residual[at]),
            )
        )
    return lines


def _met(margin: float) -> float:
    """Margin, NaN where the load assists."""
    return math.nan if margin >= NO_RESISTANCE / 2 else margin


def verification_table(appraisal: Appraisal) -> pd.DataFrame:
    """Legs of a design along their paths; without lines where none were marched."""
    return of_lines(VerifiedLeg, verified_legs(appraisal))


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
