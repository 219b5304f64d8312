"""Points of a front by the batched optimiser, each started from its neighbours on the front."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from mdo.explore.fronts.known_points import Answers, Booleans, Floats, Indices
from mdo.explore.fronts.objectives import Objective
from mdo.optimise.many.chunk import FEASIBLE, HOLDS, NONE
from mdo.optimise.many.model import OUTPUTS, Goal
from mdo.optimise.many.neighbours import Known, nearest, predicted
from mdo.optimise.many.optima import Optima, Setting, find_optima
from mdo.optimise.many.solver import WIDTH

if TYPE_CHECKING:
    import pandas as pd

LOOKS = 2  # further rounds of starts for points that fail or are beaten
AGREED = 1e-6  # relative: first objectives of two starts that count as one
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
        found, agreed = self._first_look(bounds)
        before = np.full(len(bounds), -1, dtype=np.intp)
        for _ in range(LOOKS):
            start = self._other_starts(bounds, found, agreed)
            again = np.flatnonzero((start >= 0) & (start != before))
            if again.size == 0:
                break
            before = start
            starts = _taken(_joined([*self.kept, found]), start[again])
            other = self._solve(bounds[again], _fresh(starts, start[again] >= len(self.values)))
            agreed[again] |= _agree(_taken(found, again), other)
            found = _better(found, again, other)
        self.bounds = np.vstack([self.bounds, bounds])
        self.values = np.vstack([self.values, self._values(bounds, found)])
        self.kept.append(found)
        return self._answers(bounds, found, agreed)

    def _answers(self, bounds: Floats, found: Optima, agreed: Booleans) -> Answers:
        """What is told of the bounds: an open end counts where two starts agree on it."""
        held = _held(found)
        good = found.feasible | (agreed & held)
        values = self._values(bounds, found)
        values[~good] = np.nan
        status, reason = found.frame["status"].astype(str), found.frame["reason"].astype(str)
        status = np.where(good, FEASIBLE, status)
        reason = np.where(good, "", reason)
        for place in np.flatnonzero(agreed & ~held & (status != NONE)):
            status[place] = NONE
            reason[place] = self._worst(bounds[place], found.designs[place])
        words = [str(words) for words in found.frame["active"]]
        return Answers(values, self._slopes(found), status.tolist(), words, reason.tolist())

    def _worst(self, bound: Floats, design: Floats) -> str:
        """Title of the row that a design breaks most."""
        problem = self.setting.turner.at(self._points(bound[None, :])[0])
        rows = problem.values_only(design)[1]
        return problem.counting_labels[int(np.argmin(rows))].requirement.title

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
        if not _held(found)[0]:
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

    def _first_look(self, bounds: Floats) -> tuple[Optima, Booleans]:
        """Solve bounds from planes through their neighbours, or from the middle of the axes.

        As long as the lanes allow it, each is started from its nearest neighbour too; the second
        value says where both agree.
        """
        known = np.flatnonzero(np.isfinite(self.values[:, 0]))
        never = np.zeros(len(bounds), dtype=bool)
        if known.size == 0:
            return self._solve(bounds, None), never
        places, own = self._places(self.values[known, 1:], bounds)
        near = self._starts_of(known[nearest(places, own, 1)[:, 0]])
        if known.size < 2 * (bounds.shape[1] + 1):
            return self._solve(bounds, near), never
        problem = self.setting.turner.problem
        scaled = np.array([problem.scale(x) for x in self._starts_of(known).designs])
        planes = predicted(places, Known(own, scaled))
        starts = _with_designs(near, np.array([problem.unscale(z) for z in planes]))
        if 2 * len(bounds) > WIDTH:
            return self._solve(bounds, starts), never
        both = self._solve(np.vstack([bounds, bounds]), _joined([starts, near]))
        first = np.arange(len(bounds))
        one, other = _taken(both, first), _taken(both, first + len(bounds))
        return _better(one, first, other), _agree(one, other)

    def _other_starts(self, bounds: Floats, found: Optima, agreed: Booleans) -> Indices:
        """Known designs from which to start bounds again that failed or are beaten; -1 for none.

        A bound is beaten where a known design that meets it is better than its own. One that two
        starts agree on is left so, unless it is beaten.
        """
        values = np.vstack([self.values, self._values(bounds, found)])
        own = np.arange(len(self.values), len(values))
        known = np.flatnonzero(np.isfinite(values[:, 0]))
        if known.size == 0:
            return np.full(len(bounds), -1, dtype=np.intp)
        slack = bounds + 1e-9 * np.abs(bounds)
        meets = (values[None, known, 1:] <= slack[:, None, :]).all(axis=2)
        best = np.where(meets, values[None, known, 0], np.inf)
        places, others = self._places(values[known, 1:], bounds)
        near = known[nearest(places, others, 2)]
        other = np.where(near[:, 0] == own, near[:, -1], near[:, 0])
        start = np.where(found.feasible | agreed, -1, other)
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

    def _starts_of(self, places: NDArray[np.intp]) -> Optima:
        return _taken(_joined(self.kept), places)

    def _values(self, bounds: Floats, found: Optima) -> Floats:
        """Objectives reached, times their signs; NaN where the rows do not hold."""
        columns = [found.frame[self.first.output].to_numpy() * self.first.factor]
        for n, one in enumerate(self.bounded):
            if one.output:
                reached = found.frame[one.output].to_numpy() * one.factor
                columns.append(np.minimum(reached, bounds[:, n]))
            else:
                columns.append(bounds[:, n])
        values = np.column_stack(columns)
        values[~_held(found)] = np.nan
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


def _held(optima: Optima) -> Booleans:
    """Ends whose design meets every row, optimum or not."""
    frame = optima.frame
    return np.asarray((frame["status"] != NONE) & (frame["violation"] <= HOLDS))


def _agree(one: Optima, other: Optima) -> Booleans:
    """Ends that are one: the same objective where every row holds, else the same violation."""
    held = _held(one) & _held(other)
    broken = ~_held(one) & ~_held(other)
    none = np.asarray((one.frame["status"] == NONE) & (other.frame["status"] == NONE))
    return np.asarray(
        none | (held & _same(one, other, "objective")) | (broken & _same(one, other, "violation"))
    )


def _same(one: Optima, other: Optima, name: str) -> Booleans:
    values = [each.frame[name].to_numpy() for each in (one, other)]
    return np.asarray(np.abs(values[0] - values[1]) <= AGREED * np.abs(values[0]))


def _fresh(optima: Optima, forget: Booleans) -> Optima:
    """Starts without the Hessians of some: a design started anew from itself must not recall."""
    return optima._replace(hessians=np.where(forget[:, None], 0.0, optima.hessians))


def _better(found: Optima, places: Indices, other: Optima) -> Optima:
    """Optima with those at some places replaced where the other ones are better."""
    pick = np.arange(len(found.hessians))
    joined = _joined([found, other])
    good = joined.feasible
    objective, violation = (joined.frame[name].to_numpy() for name in ("objective", "violation"))
    for new, old in enumerate(places, pick.size):
        lighter = good[new] and (not good[old] or objective[new] < objective[old])
        closer = not good[new] and not good[old] and violation[new] < violation[old]
        if lighter or closer:
            pick[old] = new
    return _taken(joined, pick)
