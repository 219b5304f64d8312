"""Objectives of a front: outputs that are minimised or limited, requirements that are turned."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from mdo.explore.exploration import refuse
from mdo.explore.fronts.known_points import Range
from mdo.model.system import OBJECTIVE
from mdo.optimise.axes import Axis, axes_of, parsed_end
from mdo.optimise.knob_list import all_knobs
from mdo.optimise.many.model import OUTPUTS
from mdo.optimise.problem import DesignProblem
from mdo.quantities import QUANTITIES
from mdo.study.analyses import Ends, FrontPlan
from mdo.study.reader import StudyError
from mdo.study.units import UnitError
from mdo.study.values import nearest

PER_FOLD = "energy_per_fold"
MINIMISED = (*OUTPUTS, PER_FOLD)
SPAN = 4.0  # times the value of the study, either way: where a requirement is sought by itself


class Objective(NamedTuple):
    """One objective.

    Attributes
    ----------
    name, title, unit
        Column, words, SI unit.
    output
        Output of the model that it is, else empty.
    factor
        Objective over output.
    axis
        What is turned where it is no output.
    sign
        +1 where less is better, -1 where more is.
    within
        Bounds between which it is looked at, times the sign.
    """

    name: str
    title: str
    unit: str
    output: str
    factor: float
    axis: Axis | None
    sign: float
    within: Range


def objectives_of(problem: DesignProblem) -> tuple[Objective, ...]:
    """Objectives of the front of a study.

    Raises
    ------
    StudyError
        With everything that is wrong with them and their ranges.
    """
    plan = problem.study.analysis.front
    faults, others = [*_faults(plan)], list[str]()
    objectives: list[Objective] = []
    for name in plan.objectives:
        try:
            objectives.append(_objective(problem, name, plan.ranges.get(name)))
        except StudyError as error:
            others += error.problems
        except UnitError as error:
            faults.append(f"ranges.{name}: {error}")
    refuse(problem, "front", faults, others)
    return tuple(objectives)


def _faults(plan: FrontPlan) -> Iterator[str]:
    """What is wrong with the plan whatever the study."""
    names = plan.objectives
    if names[0] not in MINIMISED:
        yield (
            f"objectives: the first one is minimised, got {names[0]}, expected one of "
            f"{', '.join(MINIMISED)}"
        )
    if {"sortie_energy", PER_FOLD} <= set(names):
        yield f"objectives: sortie_energy and {PER_FOLD} are one thing, expected one of them"
    for name in plan.ranges:
        if name not in names:
            yield f"ranges.{name}: no objective of the front, {nearest(name, names)}"
        elif name == names[0]:
            yield f"ranges.{name}: the first objective is minimised, expected no range"


def _objective(problem: DesignProblem, name: str, given: Ends | None) -> Objective:
    if name not in MINIMISED:
        return _turned(problem, name, given)
    output, factor = name, 1.0
    if name == PER_FOLD:
        folds = float(problem.assembled.parameters["supply"].folds_per_sortie)
        output, factor = "sortie_energy", 1.0 / folds
    title, unit = QUANTITIES[name].title, QUANTITIES[name].unit
    if name == OBJECTIVE:  # counts of tubes are free
        title = f"{title} (bound)"
    within = Range(
        *((0.0, float("inf")) if given is None else (parsed_end(e, unit) for e in given))
    )
    if not 0.0 <= within.tight < within.loose:
        got = f"{within.tight:.6g} to {within.loose:.6g} {unit}"
        raise UnitError(f"no range, got {got}, expected the lower end first")
    return Objective(name, title, unit, output, factor, None, 1.0, within)


def _turned(problem: DesignProblem, name: str, given: Ends | None) -> Objective:
    """Objective that is a number of the study, over a range that is given or around its value.

    Raises
    ------
    StudyError
        If there is no such number.
    UnitError
        If its value gives no range, or no way of it is the better one.
    """
    if given is not None:
        (axis,) = axes_of(problem, {name: given}, "analysis.front.ranges")
    else:
        knobs = {knob.name: knob for knob in all_knobs(problem)}
        if name not in knobs:
            known = nearest(name, [*MINIMISED, *knobs])
            fault = f"objectives: {name}: unknown, or without a value in the study; {known}"
            refuse(problem, "front", [fault])
        knob = knobs[name]
        if not knob.value > 0.0:
            raise UnitError(f"no range given and its value is {knob.value:g}, expected a range")
        axis = Axis(knob, max(knob.value / SPAN, knob.low), min(knob.value * SPAN, knob.high))
    sign = float(axis.knob.easier)
    if sign == 0.0:
        raise UnitError(
            "not known whether more or less of it is better, expected another objective"
        )
    tight, loose = sorted((sign * axis.low, sign * axis.high))
    return Objective(name, axis.title, axis.unit, "", 1.0, axis, sign, Range(tight, loose))
