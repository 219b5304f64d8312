"""Objectives of a front: outputs that are minimised or limited, requirements that are turned."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from mdo.explore.exploration import source_of
from mdo.explore.fronts.known_points import Range
from mdo.optimise.axes import Axis, axes_of
from mdo.optimise.knob_list import all_knobs
from mdo.optimise.many.model import OUTPUTS
from mdo.optimise.problem import DesignProblem
from mdo.quantities import QUANTITIES
from mdo.study.reader import StudyError
from mdo.study.units import UnitError, parse_quantity
from mdo.study.values import nearest

Given = tuple[str | float, str | float]
WHERE = "analysis.front"
MASS = "system_mass"
PER_FOLD = "energy_per_fold"
MINIMISED = (*OUTPUTS, PER_FOLD)
SPAN = 4.0  # times the value of the study, either way: where a requirement is sought by itself
POINTS_LEAST = 3


@dataclass(frozen=True, kw_only=True)
class FrontOptions:
    """Options of a front.

    Attributes
    ----------
    objectives
        Two or three names; the first one is an output, which is minimised, the others are outputs
        or numbers of the study that can be turned.
    ranges
        Lowest and highest value of bounded objectives, as in a study file; found where left out.
    points
        Points of each front.
    choices
        Values of fields of ``[actuator]``: a front of every combination.
    """

    objectives: tuple[str, ...] = (MASS, "fold_time")
    ranges: Mapping[str, Given] = field(default_factory=dict)
    points: int = 50
    choices: Mapping[str, Sequence[Any]] = field(default_factory=dict)


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


def objectives_of(problem: DesignProblem, options: FrontOptions) -> tuple[Objective, ...]:
    """Objectives of a front.

    Raises
    ------
    StudyError
        With everything that is wrong with the options.
    """
    source = source_of(problem)
    faults = [f"{source}: {WHERE}.{text}" for text in _faults(options)]
    found: list[Objective] = []
    for name in dict.fromkeys(options.objectives):
        try:
            found.append(_objective(problem, name, options.ranges.get(name)))
        except StudyError as error:
            faults += error.problems
        except UnitError as error:
            faults.append(f"{source}: {WHERE}.ranges.{name}: {error}")
    if faults:
        raise StudyError(faults)
    return tuple(found)


def _faults(options: FrontOptions) -> list[str]:
    """What is wrong with the options whatever the study."""
    names, faults = options.objectives, []
    if not 2 <= len(names) <= 3 or len(set(names)) != len(names):
        faults.append(
            f"objectives: got {', '.join(names) or 'none'}, expected two or three different ones"
        )
    if names and names[0] not in MINIMISED:
        faults.append(
            f"objectives: the first one is minimised, got {names[0]}, expected one of "
            f"{', '.join(MINIMISED)}"
        )
    if {"sortie_energy", PER_FOLD} <= set(names):
        faults.append(
            f"objectives: sortie_energy and {PER_FOLD} are one thing, expected one of them"
        )
    if options.points < POINTS_LEAST:
        faults.append(f"points: got {options.points}, expected {POINTS_LEAST} or more")
    for name in options.ranges:
        if name not in names:
            faults.append(f"ranges.{name}: no objective of the front, {nearest(name, names)}")
        elif name == names[0]:
            faults.append(f"ranges.{name}: the first objective is minimised, expected no range")
    return faults


def _objective(problem: DesignProblem, name: str, given: Given | None) -> Objective:
    if name not in MINIMISED:
        return _turned(problem, name, given)
    output = "sortie_energy" if name == PER_FOLD else name
    folds = float(problem.assembled.parameters["supply"].folds_per_sortie)
    factor = 1.0 / folds if name == PER_FOLD else 1.0
    title, unit = QUANTITIES[name].title, QUANTITIES[name].unit
    low, high = (0.0, float("inf")) if given is None else (_parsed(end, unit) for end in given)
    if not 0.0 <= low < high:
        raise UnitError(
            f"no range, got {low:.6g} to {high:.6g} {unit}, expected the lower end first"
        )
    return Objective(name, title, unit, output, factor, None, 1.0, Range(low, high))


def _parsed(end: str | float, unit: str) -> float:
    if not isinstance(end, str):
        raise UnitError(f"missing unit, got {end}, expected text with a unit of {unit}")
    return parse_quantity(end, unit)


def _turned(problem: DesignProblem, name: str, given: Given | None) -> Objective:
    """Objective that is a number of the study."""
    if given is None:
        axis = _found_range(problem, name)
    else:
        (axis,) = axes_of(problem, {name: given}, f"{WHERE}.ranges")
    easier = axis.knob.easier
    if easier == 0:
        raise UnitError(
            "not known whether more or less of it is better, expected another objective"
        )
    sign = float(easier)
    tight, loose = sorted((sign * axis.low, sign * axis.high))
    return Objective(name, axis.title, axis.unit, "", 1.0, axis, sign, Range(tight, loose))


def _found_range(problem: DesignProblem, name: str) -> Axis:
    """Axis over a range around the value that the study has.

    Raises
    ------
    StudyError
        If there is no such number.
    UnitError
        If its value gives no range.
    """
    knobs = {knob.name: knob for knob in all_knobs(problem)}
    if name not in knobs:
        source = source_of(problem)
        known = [*MINIMISED, *knobs]
        raise StudyError(
            [
                f"{source}: {WHERE}.objectives: {name}: unknown, or without a value in the study; "
                + nearest(name, known)
            ]
        )
    knob = knobs[name]
    if not knob.value > 0.0:
        raise UnitError(f"no range given and its value is {knob.value:g}, expected a range")
    return Axis(knob, max(knob.value / SPAN, knob.low), min(knob.value * SPAN, knob.high))
