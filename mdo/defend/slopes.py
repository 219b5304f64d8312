"""Values of a design and their exact slopes along directions in the parameters of a study.

Directions are knobs, uncertain inputs, and the numbers that are known but could be others: vehicle,
cases, supply and requirements, for every knob of the study and every number that its file states.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from mdo.arrays import Floats
from mdo.defend.uncertain import Uncertain, directions, of_inputs
from mdo.disciplines.tube.record import NO_RESISTANCE
from mdo.model.system import OBJECTIVE
from mdo.optimise.knob_list import all_knobs
from mdo.optimise.knobs import ALLOY, Knob, direction, parameters_with
from mdo.optimise.optimum import Optimum
from mdo.optimise.problem import DesignProblem
from mdo.optimise.reoptimise import NoOptimumError, reoptimise_with
from mdo.study.reader import Input, StudyError


class DesignValues(NamedTuple):
    """Counting rows, system mass [kg] and torque margins of a design.

    ``resists`` says which margins of all legs and angles these are: those of heated sets that meet
    resistance.
    """

    rows: Floats
    mass: float
    margins: Floats
    resists: NDArray[np.bool_]

    @property
    def worst_margin(self) -> float:
        """Least torque margin A/R - 1; infinite where nothing resists."""
        return float(self.margins.min(initial=np.inf))


def design_values(problem: DesignProblem, design: Floats) -> DesignValues:
    """Evaluate a design."""
    values = problem.values(design)
    margins = values["torque_margin"]
    resists = (values["heated"] > 0.5)[:, None] & (margins < NO_RESISTANCE)
    rows = problem.rows_of(values)[problem.counting]
    return DesignValues(rows, float(values[OBJECTIVE]), margins[resists], resists)


class OptimumSlopes(NamedTuple):
    """Slopes at an optimum along directions (first axis).

    Attributes
    ----------
    rows, figures
        Counting rows and figures of the design as it is.
    mass
        Mass of the aircraft with the design optimised again [kg].
    """

    rows: Floats
    figures: Mapping[str, Any]
    mass: Floats


def optimum_slopes(optimum: Optimum, directions: Floats) -> OptimumSlopes:
    """Slopes at an optimum; of the least mass by the envelope theorem.

    ``dm*/dp = dm/dp - multipliers . d rows/dp`` (Fiacco, Introduction to Sensitivity and Stability
    Analysis in Nonlinear Programming, 1983, ch. 3, from memory).

    Parameters
    ----------
    optimum : of the study
    directions : in the parameters, shape (k, parameters)
    """
    problem = optimum.problem
    slopes = problem.chain.slopes(optimum.design, problem.theta, problem.prelude, directions)
    rows = np.asarray(slopes.rows)[:, problem.counting]
    return OptimumSlopes(
        rows, slopes.figures, slopes.figures[OBJECTIVE] - rows @ optimum.multipliers
    )


def knob_slopes(optimum: Optimum, knob: Knob) -> OptimumSlopes:
    """Slopes at an optimum along a knob of its study, found once."""
    return _once(optimum, knob, lambda: direction(optimum.problem, knob))


class InputSlopes(NamedTuple):
    """Slopes by the inputs in their even variables: first axis inputs.

    Counting rows, system mass of the design as it is and re-optimised [kg].
    """

    rows: Floats
    mass: Floats
    optimum_mass: Floats


def input_slopes(optimum: Optimum, inputs: tuple[Uncertain, ...]) -> InputSlopes:
    """Slopes at an optimum along uncertain inputs, found once."""
    slopes = _once(optimum, inputs, lambda: directions(optimum.problem, inputs))
    stretch, mass = of_inputs(inputs, "stretch"), slopes.figures[OBJECTIVE]
    return InputSlopes(stretch[:, None] * slopes.rows, stretch * mass, stretch * slopes.mass)


def _once(optimum: Optimum, key: object, along: Callable[[], Floats]) -> OptimumSlopes:
    if key not in optimum.memory:
        optimum.memory[key] = optimum_slopes(optimum, along())
    found: OptimumSlopes = optimum.memory[key]
    return found


def mass_with(optimum: Optimum, fields: Mapping[str, float]) -> float:
    """Mass of the aircraft re-optimised with numbers of the study changed [kg].

    NaN where no design is feasible then.
    """
    try:
        return reoptimise_with(optimum.problem, fields, optimum).mass
    except NoOptimumError:
        return math.nan


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
