"""What a design does when numbers of the study change that are known but could be others.

Vehicle, cases, supply and requirements: exact slopes at the fixed design along the derivative of
the parameters, for every knob of the study and for every other number that its file states.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.optimise.knob_list import all_knobs
from mdo.optimise.knobs import ALLOY, direction, with_fields
from mdo.optimise.problem import DesignProblem
from mdo.study.reader import Input, StudyError

Floats = NDArray[np.float64]
RELATIVE_STEP = 1e-4  # of a plain input, one-sided
CENT = 0.01  # a change of 1 %
# Sections whose numbers are taken with their defaults too; of a case only what the file states:
# the rest follows [requirements], which has knobs.
WITH_DEFAULTS = ("vehicle", "supply", "requirements")
SECTIONS = (*WITH_DEFAULTS, "case", "actuator")
PLAIN = "study"
NONE, KNOBS, ALL = "none", "knobs", "all"  # which known numbers are looked at


class Elasticity(NamedTuple):
    """Answer of a design to one number of the study, to first order.

    Attributes
    ----------
    name, title, kind, unit, value
        Of a knob, or path, text, ``study``, unit and value of a plain input [SI].
    change
        What counts as one step here: 1 % of the value (of the absolute temperature for one in
        kelvin), or the step of the knob where the value is zero [SI].
    mass, optimum_mass
        Change of the system mass for one step up, at the fixed design and re-optimised [kg].
    mass_elasticity, optimum_elasticity
        The same, per cent of mass per per cent of the input; NaN where the value is zero.
    margin_up, margin_down
        Change of the worst torque margin A/R - 1 for one step up and down [1].
    row_up, row_down
        Change of the worst row for one step up and down (normalised, >= 0 is good).
    breaks
        Requirement that becomes the worst one the unfavourable way.
    """

    name: str
    title: str
    kind: str
    unit: str
    value: float
    change: float
    mass: float
    optimum_mass: float
    mass_elasticity: float
    optimum_elasticity: float
    margin_up: float
    margin_down: float
    row_up: float
    row_down: float
    breaks: str


class Unmoved(NamedTuple):
    """A number that could not be changed alone, and why."""

    path: str
    reason: str


class Along(NamedTuple):
    """Slopes along one direction in theta.

    Counting rows of the design and of the optimum (``binding``), mass of the design and of the
    optimum re-optimised [kg], torque margins.
    """

    rows: Floats
    binding: Floats
    mass: float
    optimum_mass: float
    margins: Floats


class Turned(NamedTuple):
    """A number of the study with the derivative of the parameters by it."""

    name: str
    title: str
    kind: str
    unit: str
    value: float
    change: float
    direction: Floats


class Base(NamedTuple):
    """Where the slopes are taken: counting rows, mass [kg], mass at the optimum, torque margins."""

    rows: Floats
    mass: float
    optimum_mass: float
    margins: Floats


def find_elasticities(
    problem: DesignProblem,
    base: Base,
    slopes_of: Callable[[Floats], Along],
    *,
    known: frozenset[str],
    which: str,
) -> tuple[tuple[Elasticity, ...], tuple[Unmoved, ...]]:
    """Answer of a design to every knob, and to the plain inputs if asked.

    Parameters
    ----------
    problem : the study
    base : values at the design
    slopes_of : slopes along one direction in theta
    known : paths that are handled elsewhere (uncertain inputs)
    which : ``none``, ``knobs``, or ``all``: the plain inputs too

    Raises
    ------
    ValueError
        If it is none of these words.
    """
    if which not in {NONE, KNOBS, ALL}:
        raise ValueError(f"known numbers: got {which!r}, expected {NONE}, {KNOBS} or {ALL}")
    unmoved: list[Unmoved] = []
    turns = [] if which == NONE else [*_knobs(problem, known)]
    if which == ALL:
        turns += _plain_inputs(problem, known, unmoved)
    found = [_elasticity(problem, base, one, slopes_of(one.direction)) for one in turns]
    return tuple(found), tuple(unmoved)


def _knobs(problem: DesignProblem, known: frozenset[str]) -> Iterator[Turned]:
    for knob in all_knobs(problem):
        if {move.path for move in knob.moves} <= known:
            continue
        change = CENT * abs(knob.value) if knob.value != 0.0 else knob.step
        yield Turned(
            knob.name,
            knob.title,
            knob.kind,
            knob.unit,
            knob.value,
            change,
            direction(problem, knob),
        )


def _plain_inputs(
    problem: DesignProblem, known: frozenset[str], unmoved: list[Unmoved]
) -> Iterator[Turned]:
    turned = {move.path for knob in all_knobs(problem) for move in knob.moves} | known
    start = np.asarray(problem.theta)
    for one in problem.study.inputs:
        if one.path in turned or not _counts(one):
            continue
        value = float(one.value)  # type: ignore[arg-type]
        step = RELATIVE_STEP * value
        try:
            ahead = np.asarray(with_fields(problem, {one.path: value + step}).theta)
        except StudyError:
            step = -step
            try:
                ahead = np.asarray(with_fields(problem, {one.path: value + step}).theta)
            except StudyError as error:
                unmoved.append(Unmoved(one.path, error.problems[0]))
                continue
        if ahead.shape != start.shape:
            unmoved.append(Unmoved(one.path, "it changes the shape of the study"))
            continue
        yield Turned(
            one.path, one.text, PLAIN, one.unit, value, CENT * abs(value), (ahead - start) / step
        )


def _counts(one: Input) -> bool:
    """Whether a plain input is a number that can be changed by a per cent."""
    section = one.path.replace("[", ".").split(".")[0]
    wanted = one.origin == "file" or section in WITH_DEFAULTS
    number = isinstance(one.value, float) and math.isfinite(one.value) and one.value != 0.0
    return section in SECTIONS and wanted and number and not one.path.startswith(ALLOY)


def _elasticity(problem: DesignProblem, base: Base, one: Turned, slope: Along) -> Elasticity:
    changes = {}
    rows = {}
    for way in (1.0, -1.0):
        moved = base.rows + way * one.change * slope.rows
        rows[way] = int(moved.argmin())
        margin = base.margins + way * one.change * slope.margins
        changes[way] = (
            float(moved.min() - base.rows.min()),
            float(margin.min() - base.margins.min()) if margin.size else np.nan,
        )
    worse = 1.0 if changes[1.0][0] < changes[-1.0][0] else -1.0
    gets_worse = changes[worse][0] < 0.0
    scale = one.value if one.value != 0.0 else np.nan
    return Elasticity(
        name=one.name,
        title=one.title,
        kind=one.kind,
        unit=one.unit,
        value=one.value,
        change=one.change,
        mass=slope.mass * one.change,
        optimum_mass=slope.optimum_mass * one.change,
        mass_elasticity=slope.mass * scale / base.mass,
        optimum_elasticity=slope.optimum_mass * scale / base.optimum_mass,
        margin_up=changes[1.0][1],
        margin_down=changes[-1.0][1],
        row_up=changes[1.0][0],
        row_down=changes[-1.0][0],
        breaks=problem.describe(problem.counting_labels[rows[worse]]) if gets_worse else "",
    )
