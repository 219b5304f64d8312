"""A study as a solver of bounds: its objectives, and points by the batch.

Objectives are outputs that are minimised or limited, or requirements that are turned; each point is
started from its neighbours on the front.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from mdo.arrays import Booleans, Floats, Indices
from mdo.explore.exploration import refuse
from mdo.explore.fronts.known_points import Answers, Range
from mdo.model.system import OBJECTIVE
from mdo.optimise.axes import Axis, axes_of, parsed_end
from mdo.optimise.knob_list import all_knobs
from mdo.optimise.many.model import OUTPUTS, Goal
from mdo.optimise.many.neighbours import nearest as nearest_places
from mdo.optimise.many.optima import Setting, between, find_optima
from mdo.optimise.many.points import WIDTH
from mdo.optimise.many.solution import Optima, Starts, agreeing, better, joined, starts_at
from mdo.optimise.problem import DesignProblem
from mdo.optimise.status import FEASIBLE, INFEASIBLE
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


LOOKS = 2  # further rounds of starts for points that fail or are beaten
AGREED = 1e-6  # relative: first objectives of two starts that count as one
BEATEN = 1e-6  # relative: worse than a known design that meets the same bounds


class StudyFront:
    """Least first objective of a study at bounds of the others.

    Parameters
    ----------
    setting : axes (those of the objectives that are turned), variables, who does the work
    objectives : the first one is minimised

    Attributes
    ----------
    optima
        Of every bound, in the order in which they were asked; None at first.
    """

    def __init__(self, setting: Setting, objectives: Sequence[Objective]) -> None:
        self.setting = setting
        self.first, self.bounded = objectives[0], tuple(objectives[1:])
        self.bounds = np.zeros((0, len(self.bounded)))
        self.optima: Optima | None = None
        self.stages = 0

    def __call__(self, bounds: Floats) -> Answers:
        """Optima at bounds, times the signs of the objectives."""
        optima, agreed = self._first_look(bounds)
        before = np.full(len(bounds), -1, dtype=np.intp)
        for _ in range(LOOKS):
            start = self._other_starts(bounds, optima, agreed)
            again = np.flatnonzero((start >= 0) & (start != before))
            if again.size == 0:
                break
            before = start
            designs, hessians = self._with(optima).take(start[again]).starts
            itself = start[again] >= len(self.bounds)  # started anew: its Hessian must not recall
            starts = Starts(designs, np.where(itself[:, None], 0.0, hessians))
            other = self._solve(bounds[again], starts)
            agreed[again] |= _agree(optima.take(again), other)
            kept = better(other, optima.take(again))
            optima = optima.replaced(again[kept], other.take(kept))
        self.optima, self.bounds = self._with(optima), np.vstack([self.bounds, bounds])
        return self._answers(bounds, optima, agreed)

    def _with(self, optima: Optima) -> Optima:
        """What is known, and more."""
        return optima if self.optima is None else joined([self.optima, optima])

    def _answers(self, bounds: Floats, optima: Optima, agreed: Booleans) -> Answers:
        """What is told of the bounds: an open end counts where two starts agree on it."""
        good = optima.feasible | (agreed & optima.held)
        lost = agreed & ~optima.held & (optima.status != INFEASIBLE)
        status = np.select([good, lost], [FEASIBLE, INFEASIBLE], optima.status)
        reason = np.where(good, "", optima.reason)
        for place in np.flatnonzero(lost & ~good):
            reason[place] = self._worst(bounds[place], optima.designs[place])
        values = np.where(good[:, None], self._values(bounds, optima), np.nan)
        return Answers(values, self._slopes(optima), status, optima.active, reason)

    def _worst(self, bound: Floats, design: Floats) -> str:
        """Title of the row that a design breaks most."""
        problem = self.setting.parametric.at(self._points(bound[None, :])[0])
        rows = problem.values_only(design)[1]
        return problem.counting_labels[int(np.argmin(rows))].requirement.title

    def tightest(self, which: int) -> float | None:
        """Least value of a bounded output, from the first design; None for what is turned."""
        one = self.bounded[which]
        if not one.output or self.optima is None:
            return None
        loosest, goal = self.bounds[:1], self._goal(self.bounds[:1])
        goal.weights[:] = 0.0
        goal.weights[:, OUTPUTS.index(one.output)] = one.factor
        first = self.optima.take([0])
        starts = starts_at(first.designs, self.setting.active)
        least = self._solve(loosest, starts, goal, costs=False)
        if not least.held[0]:
            return float(self._values(loosest, first)[0, which + 1])
        return float(least.output(one.output)[0]) * one.factor

    def _points(self, bounds: Floats) -> Floats:
        """Values of the axes, shape (n, axes)."""
        columns = [
            one.sign * bounds[:, n] for n, one in enumerate(self.bounded) if one.axis is not None
        ]
        return np.column_stack([np.zeros((len(bounds), 0)), *columns])

    def _goal(self, bounds: Floats) -> Goal:
        """The first objective, and limits of the outputs."""
        weights = np.zeros((len(bounds), len(OUTPUTS)))
        weights[:, OUTPUTS.index(self.first.output)] = self.first.factor
        limits = np.full(weights.shape, np.inf)
        for n, one in enumerate(self.bounded):
            if one.output:
                limits[:, OUTPUTS.index(one.output)] = bounds[:, n] / one.factor
        return Goal(weights, limits)

    def _solve(
        self, bounds: Floats, starts: Starts | None, goal: Goal | None = None, *, costs: bool = True
    ) -> Optima:
        self.stages += 1
        setting = self.setting._replace(stage=f"{self.setting.stage}-{self.stages:03d}")
        points, goal = self._points(bounds), goal or self._goal(bounds)
        return find_optima(setting, points, goal, starts=starts, looks=0, costs=costs)

    def _first_look(self, bounds: Floats) -> tuple[Optima, Booleans]:
        """Solve bounds from planes through their neighbours, or from the middle of the axes.

        As long as the lanes allow it, each is started from its nearest neighbour too; the second
        value says where both agree.
        """
        never = np.zeros(len(bounds), dtype=bool)
        if self.optima is None or not self.optima.held.any():
            return self._solve(bounds, None), never
        values, known = self._values(self.bounds, self.optima), np.flatnonzero(self.optima.held)
        optima = self.optima.take(known)
        places, own = self._places(values[known, 1:], bounds)
        near = optima.take(nearest_places(places, own, 1)[:, 0]).starts
        if known.size < 2 * (bounds.shape[1] + 1):
            return self._solve(bounds, near), never
        planes = between(self.setting.parametric.problem, places, own, optima)
        if 2 * len(bounds) > WIDTH:
            return self._solve(bounds, planes), never
        pairs = zip(planes, near, strict=True)
        both = self._solve(np.vstack([bounds] * 2), Starts(*(np.vstack(pair) for pair in pairs)))
        one, other = both.take(slice(len(bounds))), both.take(slice(len(bounds), None))
        kept = better(other, one)
        return one.replaced(kept, other.take(kept)), _agree(one, other)

    def _other_starts(self, bounds: Floats, optima: Optima, agreed: Booleans) -> Indices:
        """Known designs from which to start bounds again that failed or are beaten; -1 for none.

        A bound is beaten where a known design that meets it is better than its own. One that two
        starts agree on is left so, unless it is beaten.
        """
        values = self._values(np.vstack([self.bounds, bounds]), self._with(optima))
        own = np.arange(len(self.bounds), len(values))
        known = np.flatnonzero(np.isfinite(values[:, 0]))
        if known.size == 0:
            return np.full(len(bounds), -1, dtype=np.intp)
        slack = bounds + 1e-9 * np.abs(bounds)
        meets = (values[None, known, 1:] <= slack[:, None, :]).all(axis=2)
        best = np.where(meets, values[None, known, 0], np.inf)
        places, others = self._places(values[known, 1:], bounds)
        near = known[nearest_places(places, others, 2)]
        other = np.where(near[:, 0] == own, near[:, -1], near[:, 0])
        start = np.where(optima.feasible | agreed, -1, other)
        mine = np.nan_to_num(values[own, 0], nan=np.inf)
        beaten = mine > best.min(axis=1) * (1.0 + BEATEN)
        return np.where(beaten, known[best.argmin(axis=1)], start)

    def _places(self, reached: Floats, bounds: Floats) -> tuple[Floats, Floats]:
        """Bounds, and the bounds that known points reach, in the range of the latter."""
        low, high = reached.min(axis=0), reached.max(axis=0)
        asked = np.where(np.isfinite(bounds), bounds, high)
        span = np.maximum(high, asked.max(axis=0)) - np.minimum(low, asked.min(axis=0))
        span = np.where(span > 0.0, span, 1.0)
        return (asked - low) / span, (reached - low) / span

    def _values(self, bounds: Floats, optima: Optima) -> Floats:
        """Objectives reached, times their signs; NaN where the rows do not hold."""
        columns = [optima.output(self.first.output) * self.first.factor]
        for n, one in enumerate(self.bounded):
            bound = bounds[:, n]
            reached = optima.output(one.output) * one.factor if one.output else bound
            columns.append(np.minimum(reached, bound))
        values = np.column_stack(columns)
        values[~optima.held] = np.nan
        return values

    def _slopes(self, optima: Optima) -> Floats:
        """Slopes of the first objective along the bounds, zero or less."""
        axes = [axis.name for axis in self.setting.parametric.axes]
        columns = [
            optima.costs[:, axes.index(one.axis.name)] * one.sign
            if one.axis is not None
            else optima.limit_costs[:, OUTPUTS.index(one.output)] / one.factor
            for one in self.bounded
        ]
        return np.asarray(np.minimum(np.column_stack(columns), 0.0))


def _agree(one: Optima, other: Optima) -> Booleans:
    """Ends that are one: the same objective where every row holds, else the same violation."""
    optimum, least = agreeing(one, other, AGREED, AGREED)
    none = (one.status == INFEASIBLE) & (other.status == INFEASIBLE)
    return np.asarray(optimum | least | none)
