"""Points of a front by the batched optimiser, each started from its neighbours on the front."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from mdo.explore.fronts.found import Answers, Floats, Indices
from mdo.explore.fronts.objectives import Objective
from mdo.explore.many.model import OUTPUTS, Goal
from mdo.explore.many.neighbours import Known, nearest, predicted
from mdo.explore.many.optima import Optima, Setting, find_optima
from mdo.explore.many.worker import FEASIBLE

if TYPE_CHECKING:
    import pandas as pd

LOOKS = 2  # further rounds of starts for points that fail or are beaten
BEATEN = 1e-6  # relative: worse than a known design that meets the same bounds


class StudySolver:
    """Least first objective of a study at bounds of the others.

    Parameters
    ----------
    setting : axes (those of the objectives that are turned), variables, who does the work
    objectives : the first one is minimised
    """

    def __init__(self, setting: Setting, objectives: Sequence[Objective]) -> None:
        self.setting = setting
        self.first, self.bounded = objectives[0], tuple(objectives[1:])
        self.bounds = np.zeros((0, len(self.bounded)))
        self.values = np.zeros((0, len(objectives)))
        self.kept: list[Optima] = []
        self.stages = 0

    @property
    def frame(self) -> pd.DataFrame:
        """Everything known of each bound, in the order in which they were asked."""
        import pandas as pd

        return pd.concat([one.frame for one in self.kept], ignore_index=True)

    def __call__(self, bounds: Floats) -> Answers:
        """Optima at bounds, times the signs of the objectives."""
        found = self._first_look(bounds)
        before = np.full(len(bounds), -1, dtype=np.intp)
        for _ in range(LOOKS):
            start = self._other_starts(bounds, found)
            again = np.flatnonzero((start >= 0) & (start != before))
            if again.size == 0:
                break
            before = start
            starts = _taken(_joined([*self.kept, found]), start[again])
            found = _better(found, again, self._solve(bounds[again], starts))
        values = self._values(bounds, found)
        self.bounds = np.vstack([self.bounds, bounds])
        self.values = np.vstack([self.values, values])
        self.kept.append(found)
        frame = found.frame
        return Answers(
            values,
            self._slopes(found),
            [str(status) for status in frame["status"]],
            [str(words) for words in frame["active"]],
            [str(words) for words in frame["reason"]],
        )

    def tightest(self, which: int) -> float | None:
        """Least value of a bounded output, from the first design; None for what is turned."""
        one = self.bounded[which]
        if not one.output:
            return None
        bounds = self.bounds[:1]
        start = self._starts_of(np.array([0]))
        start = start._replace(hessians=np.zeros_like(start.hessians))
        goal = self._goal(bounds)
        goal.weights[:] = 0.0
        goal.weights[:, OUTPUTS.index(one.output)] = one.factor
        found = find_optima(self._stage(), self._points(bounds), goal, starts=start, looks=0,
                            costs=False)  # fmt: skip
        if not found.feasible[0]:
            return float(self.values[0, which + 1])
        return float(found.frame[one.output].iloc[0]) * one.factor

    def _stage(self) -> Setting:
        self.stages += 1
        return self.setting._replace(stage=f"{self.setting.stage}-{self.stages:03d}")

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

    def _solve(self, bounds: Floats, starts: Optima | None) -> Optima:
        return find_optima(
            self._stage(), self._points(bounds), self._goal(bounds), starts=starts, looks=0
        )

    def _first_look(self, bounds: Floats) -> Optima:
        """Solve bounds from planes through their neighbours, or from the middle of the axes."""
        known = np.flatnonzero(np.isfinite(self.values[:, 0]))
        if known.size == 0:
            return self._solve(bounds, None)
        places, own = self._places(self.values[known, 1:], bounds)
        near = nearest(places, own, 1)[:, 0]
        starts = self._starts_of(known[near])
        if known.size >= 2 * (bounds.shape[1] + 1):
            problem = self.setting.turner.problem
            scaled = np.array([problem.scale(x) for x in self._starts_of(known).designs])
            planes = predicted(places, Known(own, scaled))
            starts = _with_designs(starts, np.array([problem.unscale(z) for z in planes]))
        return self._solve(bounds, starts)

    def _other_starts(self, bounds: Floats, found: Optima) -> Indices:
        """Known designs from which to start bounds again that failed or are beaten; -1 for none.

        A bound is beaten where a known design that meets it is better than its own.
        """
        values = np.vstack([self.values, self._values(bounds, found)])
        mine = values[len(self.values) :, 0]
        known = np.flatnonzero(np.isfinite(values[:, 0]))
        if known.size == 0:
            return np.full(len(bounds), -1, dtype=np.intp)
        slack = bounds + 1e-9 * np.abs(bounds)
        meets = (values[None, known, 1:] <= slack[:, None, :]).all(axis=2)
        best = np.where(meets, values[None, known, 0], np.inf)
        places, others = self._places(values[known, 1:], bounds)
        near = known[nearest(places, others, 1)[:, 0]]
        start = np.where(np.isfinite(mine), -1, near)
        beaten = np.nan_to_num(mine, nan=np.inf) > best.min(axis=1) * (1.0 + BEATEN)
        return np.where(beaten, known[best.argmin(axis=1)], start)

    def _places(self, reached: Floats, bounds: Floats) -> tuple[Floats, Floats]:
        """Bounds, and the bounds that known points reach, in the range of the latter."""
        low, high = reached.min(axis=0), reached.max(axis=0)
        asked = np.where(np.isfinite(bounds), bounds, high)
        span = np.maximum(high, asked.max(axis=0)) - np.minimum(low, asked.min(axis=0))
        span = np.where(span > 0.0, span, 1.0)
        return (asked - low) / span, (reached - low) / span

    def _starts_of(self, places: NDArray[np.intp]) -> Optima:
        return _taken(_joined(self.kept), places)

    def _values(self, bounds: Floats, found: Optima) -> Floats:
        """Objectives reached, times their signs; NaN where there is no optimum."""
        columns = [found.frame[self.first.output].to_numpy() * self.first.factor]
        for n, one in enumerate(self.bounded):
            if one.output:
                reached = found.frame[one.output].to_numpy() * one.factor
                columns.append(np.minimum(reached, bounds[:, n]))
            else:
                columns.append(bounds[:, n])
        values = np.column_stack(columns)
        values[~found.feasible] = np.nan
        return values

    def _slopes(self, found: Optima) -> Floats:
        """Slopes of the first objective along the bounds, zero or less."""
        columns = []
        for one in self.bounded:
            if one.axis is not None:
                columns.append(found.frame[f"cost.{one.axis.name}"].to_numpy() * one.sign)
            else:
                columns.append(found.frame[f"cost.limit.{one.output}"].to_numpy() / one.factor)
        return np.asarray(np.minimum(np.column_stack(columns), 0.0))


def _taken(optima: Optima, places: NDArray[np.intp]) -> Optima:
    return Optima(optima.frame.iloc[places].reset_index(drop=True), optima.hessians[places])


def _joined(parts: Sequence[Optima]) -> Optima:
    import pandas as pd

    frame = pd.concat([one.frame for one in parts], ignore_index=True)
    return Optima(frame, np.concatenate([one.hessians for one in parts]))


def _with_designs(optima: Optima, designs: Floats) -> Optima:
    names = [name for name in optima.frame if str(name).startswith("x.")]
    frame = optima.frame.copy()
    frame[names] = designs
    return optima._replace(frame=frame)


def _better(found: Optima, places: Indices, other: Optima) -> Optima:
    """Optima with those at some places replaced where the other ones are better."""
    frame, hessians = found.frame.copy(), found.hessians.copy()
    for n, place in enumerate(places):
        old, new = frame.iloc[place], other.frame.iloc[n]
        good = new["status"] == FEASIBLE
        had = old["status"] == FEASIBLE
        closer = new["violation"] < old["violation"] and not good and not had
        if (good and (not had or new["objective"] < old["objective"])) or closer:
            frame.iloc[place] = new
            hessians[place] = other.hessians[n]
    return Optima(frame, hessians)
