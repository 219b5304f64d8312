"""What a design does when numbers of the study change that are known but could be others.

Vehicle, cases, supply and requirements: exact slopes at the fixed design along the derivative of
the parameters, for every knob of the study and for every other number that its file states.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import NamedTuple

import numpy as np
import pandas as pd

from mdo.arrays import Floats
from mdo.defend.slopes import DesignValues, OptimumSlopes, design_values, optimum_slopes
from mdo.defend.tables.frame import of_lines
from mdo.defend.uncertain import Uncertain
from mdo.model.system import OBJECTIVE
from mdo.optimise.knob_list import all_knobs
from mdo.optimise.knobs import ALLOY, direction, with_fields
from mdo.optimise.optimum import Optimum
from mdo.optimise.problem import DesignProblem
from mdo.study.reader import Input, StudyError

RELATIVE_STEP = 1e-4  # of a plain input, one-sided
CENT = 0.01  # a change of 1 %
# Sections whose numbers are taken with their defaults too; of a case only what the file states:
# the rest follows [requirements], which has knobs.
WITH_DEFAULTS = ("vehicle", "supply", "requirements")
SECTIONS = (*WITH_DEFAULTS, "case", "actuator")
PLAIN = "study"


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


class KnownNumber(NamedTuple):
    """A number of the study, one step of it, and the derivative of the parameters by it."""

    name: str
    title: str
    kind: str
    unit: str
    value: float
    change: float
    direction: Floats


def known_numbers(problem: DesignProblem, inputs: Iterable[Uncertain]) -> Iterator[KnownNumber]:
    """Every knob and every plain input of a study that is not among the uncertain ones."""
    uncertain = frozenset(entry.path for entry in inputs)
    yield from knob_numbers(problem, uncertain)
    yield from plain_numbers(problem, uncertain)


def knob_numbers(problem: DesignProblem, uncertain: frozenset[str]) -> Iterator[KnownNumber]:
    """Knobs of a study, those of uncertain inputs alone left out."""
    for knob in all_knobs(problem):
        if not {move.path for move in knob.moves} <= uncertain:
            change = CENT * abs(knob.value) if knob.value != 0.0 else knob.step
            way = direction(problem, knob)
            yield KnownNumber(knob.name, knob.title, knob.kind, knob.unit, knob.value, change, way)


def plain_numbers(problem: DesignProblem, uncertain: frozenset[str]) -> Iterator[KnownNumber]:
    """Other numbers of a study; those that cannot be changed alone are left out."""
    turned = {move.path for knob in all_knobs(problem) for move in knob.moves} | uncertain
    start = np.asarray(problem.theta)
    for entry in problem.study.inputs:
        if entry.path in turned or not _counts(entry):
            continue
        value = float(entry.value)  # type: ignore[arg-type]
        for step in (RELATIVE_STEP * value, -RELATIVE_STEP * value):
            try:
                ahead = np.asarray(with_fields(problem, {entry.path: value + step}).theta)
            except StudyError:
                continue
            if ahead.shape == start.shape:
                change, way = CENT * abs(value), (ahead - start) / step
                yield KnownNumber(entry.path, entry.text, PLAIN, entry.unit, value, change, way)
            break


def _counts(entry: Input) -> bool:
    """Whether a plain input is a number that can be changed by a per cent."""
    section = entry.path.replace("[", ".").split(".")[0]
    wanted = entry.origin == "file" or section in WITH_DEFAULTS
    number = isinstance(entry.value, float) and math.isfinite(entry.value) and entry.value != 0.0
    return section in SECTIONS and wanted and number and not entry.path.startswith(ALLOY)


def find_elasticities(
    problem: DesignProblem, optimum: Optimum, numbers: Iterable[KnownNumber]
) -> tuple[Elasticity, ...]:
    """Answer of an optimum to known numbers of its study, in their order."""
    here = design_values(problem, optimum.design)
    return tuple(
        _elasticity(problem, here, number, optimum_slopes(problem, optimum, number.direction))
        for number in numbers
    )


def _elasticity(
    problem: DesignProblem, here: DesignValues, number: KnownNumber, slopes: OptimumSlopes
) -> Elasticity:
    mass, optimum_mass = float(slopes.figures[OBJECTIVE][0]), float(slopes.mass[0])
    margin_slopes = slopes.figures["torque_margin"][0, : len(here.resists)][here.resists]
    margins, least, worst = {}, {}, {}
    for way in (1.0, -1.0):
        rows = here.rows + way * number.change * slopes.rows[0]
        worst[way], least[way] = int(rows.argmin()), float(rows.min() - here.rows.min())
        moved = here.margins + way * number.change * margin_slopes
        margins[way] = float(moved.min() - here.margins.min()) if moved.size else math.nan
    worse = 1.0 if least[1.0] < least[-1.0] else -1.0
    breaks = problem.describe(problem.counting_labels[worst[worse]]) if least[worse] < 0.0 else ""
    relative = (number.value or math.nan) / here.mass
    return Elasticity(
        *number[:-1], mass * number.change, optimum_mass * number.change, mass * relative,
        optimum_mass * relative, margins[1.0], margins[-1.0], least[1.0], least[-1.0], breaks,
    )  # fmt: skip


def elasticities_table(elasticities: Iterable[Elasticity]) -> pd.DataFrame:
    """Answer to the known numbers of the study, largest change of mass or row first."""

    def strength(answer: Elasticity) -> float:
        effects = [abs(answer.optimum_mass), -answer.row_up, -answer.row_down]
        return float(np.nan_to_num(effects).max())

    lines = sorted(elasticities, key=strength, reverse=True)
    return of_lines(Elasticity, lines)
