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

from mdo.defend.slopes import (
    DesignValues,
    OptimumSlopes,
    design_values,
    knob_slopes,
    optimum_slopes,
)
from mdo.defend.uncertain import Uncertain
from mdo.model.system import OBJECTIVE
from mdo.optimise.knob_list import all_knobs
from mdo.optimise.knobs import ALLOY, parameters_with
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
COLUMNS = [
    "name", "title", "kind", "unit", "value", "change", "mass", "optimum_mass", "mass_elasticity",
    "optimum_elasticity", "margin_up", "margin_down", "row_up", "row_down", "breaks",
]  # fmt: skip


class KnownNumber(NamedTuple):
    """A number of the study, one step of it, and slopes of an optimum along it.

    A step is 1 % of the value (of the absolute temperature for one in kelvin), or the step of the
    knob where the value is zero [SI].
    """

    name: str
    title: str
    kind: str
    unit: str
    value: float
    change: float
    slopes: OptimumSlopes


def known_numbers(optimum: Optimum, inputs: Iterable[Uncertain]) -> Iterator[KnownNumber]:
    """Every knob and every plain input of a study that is not among the uncertain ones."""
    uncertain = frozenset(entry.path for entry in inputs)
    yield from knob_numbers(optimum, uncertain)
    yield from plain_numbers(optimum, uncertain)


def knob_numbers(optimum: Optimum, uncertain: frozenset[str]) -> Iterator[KnownNumber]:
    """Knobs of a study, those of uncertain inputs alone left out."""
    for knob in all_knobs(optimum.problem):
        if not {move.path for move in knob.moves} <= uncertain:
            change = CENT * abs(knob.value) if knob.value != 0.0 else knob.step
            words = (knob.name, knob.title, knob.kind, knob.unit)
            yield KnownNumber(*words, knob.value, change, knob_slopes(optimum, knob))


def plain_numbers(optimum: Optimum, uncertain: frozenset[str]) -> Iterator[KnownNumber]:
    """Other numbers of a study; those that cannot be changed alone are left out."""
    problem = optimum.problem
    turned = {move.path for knob in all_knobs(problem) for move in knob.moves} | uncertain
    start = np.asarray(problem.theta)
    for entry in problem.study.inputs:
        if entry.path in turned or not _counts(entry):
            continue
        value = float(entry.value)  # type: ignore[arg-type]
        for step in (RELATIVE_STEP * value, -RELATIVE_STEP * value):
            try:
                ahead = parameters_with(problem, {entry.path: value + step})
            except StudyError:
                continue
            if ahead.shape == start.shape:
                along = optimum_slopes(optimum, (ahead - start) / step)
                words = (entry.path, entry.text, PLAIN, entry.unit)
                yield KnownNumber(*words, value, CENT * abs(value), along)
            break


def _counts(entry: Input) -> bool:
    """Whether a plain input is a number that can be changed by a per cent."""
    section = entry.path.replace("[", ".").split(".")[0]
    wanted = entry.origin == "file" or section in WITH_DEFAULTS
    number = isinstance(entry.value, float) and math.isfinite(entry.value) and entry.value != 0.0
    return section in SECTIONS and wanted and number and not entry.path.startswith(ALLOY)


def find_elasticities(optimum: Optimum, numbers: Iterable[KnownNumber]) -> pd.DataFrame:
    """Answer of an optimum to known numbers, to first order, largest change of mass or row first.

    Returns
    -------
    A line for each number: its name, title, kind, unit and value (of a plain input path, text,
    ``study``) [SI]; ``change``, one step here; change of the system mass for one step up, at the
    fixed design and re-optimised [kg], and the same as an elasticity, per cent of mass per per cent
    of the input (NaN where the value is zero); change of the worst torque margin A/R - 1 and of the
    worst row (normalised, >= 0 is good) for one step up and down; the requirement that becomes the
    worst one the unfavourable way.
    """
    problem = optimum.problem
    here = design_values(problem, optimum.design)
    lines = [_elasticity(problem, here, number) for number in numbers]
    table = pd.DataFrame(lines, columns=COLUMNS)
    effects = np.abs(table["optimum_mass"]), -table["row_up"], -table["row_down"]
    strength = np.nan_to_num(np.column_stack(effects)).max(axis=1)
    return table.iloc[np.argsort(-strength, kind="stable")].reset_index(drop=True)


def _elasticity(
    problem: DesignProblem, here: DesignValues, number: KnownNumber
) -> tuple[object, ...]:
    """Line of one number, as :data:`COLUMNS`."""
    slopes = number.slopes
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
    return (
        *number[:-1], mass * number.change, optimum_mass * number.change, mass * relative,
        optimum_mass * relative, margins[1.0], margins[-1.0], least[1.0], least[-1.0], breaks,
    )  # fmt: skip
