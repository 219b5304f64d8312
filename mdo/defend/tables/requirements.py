"""Every requirement of a study in physical units: value, limit and margin at its worst angle.

The rows of the model are normalised for the optimiser; here each is read back in the unit that an
engineer checks, with the row itself as judge of whether it holds.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.defend.tables.facts import Facts
from mdo.defend.tables.never import row_status
from mdo.disciplines.tube.record import NO_RESISTANCE
from mdo.model.layout import SET_NAMES
from mdo.model.requirements import AT_LEAST, STATICS, WING
from mdo.model.rows import RowLabel
from mdo.optimise.appraisal import Appraisal, RowResult
from mdo.optimise.idle_rows import FEASIBLE

REQUIRED, REPORTED = "required", "reported only"
ALIKE = 1e-9  # share of the largest value within which values are alike


class RequirementLine(NamedTuple):
    """One requirement of one leg, static case or set at its worst fold angle.

    ``margin`` is positive where the requirement holds, in ``unit``; temperatures of margins are
    differences. ``row`` is the normalised row (>= 0 good), ``multiplier`` the sum over the angles,
    in kg of the aircraft per unit of row. NaN where a line has none.
    """

    requirement: str
    group: str
    standing: str
    leg: str
    fold_angle: float
    side: str
    sense: str
    value: float
    limit: float
    margin: float
    unit: str
    of: str
    row: float = np.nan
    multiplier: float = 0.0
    holds: bool = False
    note: str = ""


def first_least(values: Floats) -> int:
    """Position of the least value, flat; of those alike to round-off the first.

    So that round-off, which other padding or another machine changes, decides no place.
    """
    flat = np.ravel(values)
    size = np.abs(flat[np.isfinite(flat)]).max(initial=0.0)
    return int(np.flatnonzero(flat <= flat.min() + ALIKE * size)[0])


def requirement_lines(appraisal: Appraisal) -> tuple[RequirementLine, ...]:
    """Every requirement that counts, one line per group and leg, static case or set.

    Groups are in the order of the model, the torque margin A/R - 1 first; what is only reported
    (margin with one tube failed where none is required to fail) comes last.
    """
    facts = Facts(appraisal)
    gathered: dict[RowLabel, list[RowResult]] = {}
    for result in appraisal.rows:
        gathered.setdefault(result.label._replace(angle=-1), []).append(result)
    lines = [_line(appraisal, facts, rows) for rows in gathered.values()]
    return (*_torque_lines(facts), *lines, *_reported(facts))


def _line(appraisal: Appraisal, facts: Facts, rows: list[RowResult]) -> RequirementLine:
    """Line of one requirement at one place: the worst of its angles."""
    worst = min(rows, key=lambda row: row.value)
    group, leg, angle, side = worst.label
    entry, reading = worst.label.requirement, appraisal.reading(worst.label)
    names = facts.static_names if entry.over == STATICS else facts.leg_names
    return RequirementLine(
        requirement=entry.title,
        group=group,
        standing=REQUIRED,
        leg=names[leg] if leg >= 0 else "",
        fold_angle=float(facts.fold_angle[leg, angle]) if angle >= 0 else np.nan,
        side=SET_NAMES[side] if side >= 0 else "",
        sense=entry.sense,
        **reading._asdict(),
        unit=entry.unit,
        of=entry.of,
        row=worst.value,
        multiplier=sum(row.multiplier for row in rows),
        holds=worst.value >= -FEASIBLE,
        note=entry.no_limit if reading.limit <= 0.0 else row_status(facts, group, leg),
    )


def _torque_lines(facts: Facts) -> Iterator[RequirementLine]:
    """Torque margin A/R - 1 of each leg that a heated set drives, at its worst angle."""
    wanted = np.broadcast_to(facts.legs.torque_margin_required, facts.up.shape)
    for leg in np.flatnonzero(facts.heated):
        line = _margin_line(facts, "Torque margin", "torque_margin", int(leg), float(wanted[leg]))
        if line.value <= -1.0:
            taken = facts.v["internal_moment"][leg, _worst_angle(facts, "torque_margin", int(leg))]
            drag = "drag of the opposing set exceeds drive torque"
            used = "the hot set has no twist left at this angle"
            line = line._replace(note=drag if taken > 0.0 else used)
        yield line


def _reported(facts: Facts) -> Iterator[RequirementLine]:
    """Lines without a requirement: margin with one tube failed where none is required to fail."""
    if float(facts.choices.tubes_failed) > 0.5:
        return
    counts, title = facts.of_driver("tube_count"), "Torque margin with one tube failed"
    for leg in np.flatnonzero(facts.heated):
        line = _margin_line(facts, title, "torque_margin_failed", int(leg))
        note = "none is required to fail"
        if counts[leg] <= 1.0 and line.value <= -1.0:  # how far below nothing says nothing
            line = line._replace(value=-1.0, margin=-1.0)
            note = f"stalled: the only tube of the set is lost; {note}"
        yield line._replace(standing=REPORTED, note=note)


def _worst_angle(facts: Facts, name: str, leg: int) -> int:
    """Angle of the least margin of a leg.

    From -1 down nothing is available and the ratio says little: there the largest shortfall counts.
    """
    margins = facts.v[name][leg]
    if margins.min() > -1.0:
        return int(np.argmin(margins))
    shortfall = -margins * np.abs(facts.v["required_moment"][leg])
    return int(np.argmax(np.where(margins <= -1.0, shortfall, -np.inf)))


def _margin_line(
    facts: Facts, title: str, name: str, leg: int, limit: float = 0.0
) -> RequirementLine:
    """Line of a torque margin of one leg at its worst angle."""
    angle = _worst_angle(facts, name, leg)
    value, at = float(facts.v[name][leg, angle]), float(facts.fold_angle[leg, angle])
    line = RequirementLine(
        title, name, REQUIRED, facts.leg_names[leg], at, "", AT_LEAST, value, limit, value - limit,
        "fraction", WING, holds=value - limit >= -FEASIBLE,
    )  # fmt: skip
    if value < 0.5 * NO_RESISTANCE:
        return line
    words = "load assists at every angle"
    return line._replace(fold_angle=np.nan, value=np.nan, margin=np.nan, note=words)
