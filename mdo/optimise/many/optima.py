"""Optima at all points of some axes, in levels: each point starts from neighbours that are solved.

First the middle, from several starts of the count problem; then few points far from each other;
then the rest from planes through their neighbours. Points that end infeasible, or open, or heavier
than their neighbours say, are looked at again from other neighbours; the better end is kept.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.optimise.axes import Turner
from mdo.optimise.many.chunk import FEASIBLE, HOLDS, NONE, OPEN, triangle
from mdo.optimise.many.model import OUTPUTS, Goal, least_mass
from mdo.optimise.many.neighbours import Known, above_neighbours, nearest, predicted, spread_order
from mdo.optimise.many.solver import WIDTH, bench_context, bench_in, lanes
from mdo.optimise.starts import starting_designs
from mdo.results.work import Task, Work

if TYPE_CHECKING:
    import pandas as pd

Floats = NDArray[np.float64]
Booleans = NDArray[np.bool_]
Say = Callable[[str], None]
WORKER = "mdo.optimise.many.chunk:solve_chunk"
LEVELS = (32, 160, 2000)  # points solved before the next ones start from them
FILLS = 6  # points of one piece of work, over the lanes
MIDDLE_STARTS = 4
TITLES = {
    "first": "Points",
    "middle": "Middle of the axes",
    "level1": "First points",
    "level2": "Next points",
    "level3": "More points",
    "level4": "All points",
    "look2": "Second look",
    "last": "Last look",
}
SUSPECT = 2e-3  # share of the objective above what neighbours say from which a point is tried again
SAME_OBJECTIVE, SAME_VIOLATION = 1e-6, 1e-2  # relative: ends of two starts that count as one
LOOKS = 1  # further starts of points that are infeasible, open or suspect


class Setting(NamedTuple):
    """What all points have in common.

    Attributes
    ----------
    turner
        Axes of the study.
    active
        Variables that move, in this or another study that shares the compiled functions.
    work
        Who does the chunks.
    stage
        Name of the folder of the chunks.
    say
        Told what is being done.
    """

    turner: Turner
    active: Booleans
    work: Work
    stage: str
    say: Say


class Optima(NamedTuple):
    """Ends of all points.

    Attributes
    ----------
    frame
        One row per point: ``status``, ``objective``, ``violation``, ``kkt_residual``,
        ``iterations``, ``counts_exist``, ``active``, ``reason``, the outputs, ``x.<variable>``,
        ``cost.<axis>`` (slope of the objective).
    hessians
        Lower triangles of the quasi-Newton matrices.
    """

    frame: pd.DataFrame
    hessians: Floats

    @property
    def feasible(self) -> Booleans:
        """Points with a feasible optimum."""
        return np.asarray(self.frame["status"] == FEASIBLE)

    @property
    def designs(self) -> Floats:
        """Design vectors, shape (n, design)."""
        names = [name for name in self.frame if str(name).startswith("x.")]
        return np.asarray(self.frame[names], dtype=float)


def find_optima(
    setting: Setting,
    points: Floats,
    goal: Goal | None = None,
    *,
    starts: Optima | None = None,
    looks: int = LOOKS,
    costs: bool = True,
) -> Optima:
    """Optimise every point.

    Parameters
    ----------
    setting : axes, variables and who does the work
    points : values of the axes, shape (n, axes), SI
    goal : what is minimised; the mass if None
    starts : a design and Hessian for each point, instead of the levels
    looks : further starts of points that are infeasible, open or suspect
    costs : whether slopes along the axes are wanted
    """
    search = _Search(setting, points, goal, costs)
    if starts is not None:
        search.set_typical(starts.designs[0])
        search.run("first", np.arange(len(points)), starts.designs, starts.hessians)
    else:
        search.levels()
    for look in range(looks):
        if not search.look_again(look):
            break
    if looks:
        search.go_on()
    return search.result()


class _Search:
    """Points, what is known of them, and how the next ones start."""

    def __init__(self, setting: Setting, points: Floats, goal: Goal | None, costs: bool) -> None:
        self.setting, self.points, self.want_costs = setting, np.asarray(points, float), costs
        turner = setting.turner
        self.scale = turner.problem.scale
        self.unscale = turner.problem.unscale
        self.size = triangle(int(setting.active.sum()))
        self.goal = goal
        self.width = lanes()
        self.context = bench_context(turner.given, turner.axes, setting.active, self.width)
        low = np.array([axis.low for axis in turner.axes])
        high = np.array([axis.high for axis in turner.axes])
        self.places = (self.points - low) / np.where(high > low, high - low, 1.0)
        self.frame: pd.DataFrame | None = None
        self.hessians = np.zeros((len(points), self.size))
        self.solved = np.zeros(len(points), dtype=bool)
        self.typical = 1.0  # objective of a start, to which the solver's is scaled

    @property
    def feasible(self) -> NDArray[np.intp]:
        """Places of the points with a feasible optimum."""
        if self.frame is None:
            return np.array([], dtype=np.intp)
        return np.flatnonzero(self.solved & np.asarray(self.frame["status"] == FEASIBLE))

    def levels(self) -> None:
        """Solve all points, level by level."""
        order = spread_order(self.places, LEVELS[-1])
        seeds, hessian = self.middle()
        done = 0
        for level, until in enumerate((*LEVELS, len(order))):
            chosen = order[done : min(until, len(order))]
            done = max(done, min(until, len(order)))
            if chosen.size == 0:
                continue
            designs, hessians = self.starts(chosen, seeds, hessian)
            self.run(f"level{level + 1}", chosen, designs, hessians)

    def middle(self) -> tuple[Floats, Floats]:
        """Design and Hessian of the middle of the axes, from starts of the count problem."""
        turner = self.setting.turner
        self.setting.say("Compiling the optimiser of many points (once; kept for later runs)")
        bench_in(self.context).compile()
        self.setting.say("Starting designs")
        begun = starting_designs(turner.problem, MIDDLE_STARTS)
        designs = np.array([start.design for start in begun])
        self.set_typical(designs[0])
        point = np.tile(turner.middle, (len(designs), 1))
        goal = self._goal_at(np.zeros(len(designs), dtype=np.intp))
        frame = self._do("middle", point, designs, np.zeros((len(designs), self.size)), goal)
        good = np.asarray(frame["status"] == FEASIBLE)
        rank = np.where(good, frame["objective"], 1e6 + frame["violation"])
        best = int(np.argmin(rank))
        return _columns(frame, "x.")[best], _columns(frame, "hessian.")[best]

    def set_typical(self, design: Floats) -> None:
        """Scale the objective by its value at a design."""
        values = self.setting.turner.problem.values(design, *OUTPUTS)
        weights = self._goal_at(np.array([0])).weights[0]
        self.typical = float(weights @ [float(values[name]) for name in OUTPUTS])

    def starts(
        self, chosen: NDArray[np.intp], seed: Floats, hessian: Floats
    ) -> tuple[Floats, Floats]:
        """Designs and Hessians to start from: of neighbours, else of the middle."""
        known = self.feasible
        if known.size < 2 * (self.places.shape[1] + 1):
            return np.tile(seed, (chosen.size, 1)), np.tile(hessian, (chosen.size, 1))
        assert self.frame is not None
        found = _columns(self.frame, "x.")[known]
        scaled = np.array([self.scale(x) for x in found])
        planes = predicted(self.places[chosen], Known(self.places[known], scaled))
        near = nearest(self.places[chosen], self.places[known], 1)[:, 0]
        return np.array([self.unscale(z) for z in planes]), self.hessians[known[near]]

    def look_again(self, look: int) -> bool:
        """Start points that are not settled or look heavy from other neighbours; False if none."""
        assert self.frame is not None
        known = self.feasible
        chosen = np.union1d(np.setdiff1d(np.arange(len(self.points)), known), self.suspects())
        if chosen.size == 0 or known.size == 0:
            return False
        near = nearest(self.places[chosen], self.places[known], look + 2)
        other = known[near[:, min(look + 1, near.shape[1] - 1)]]
        if look == 0:
            other = np.where(np.isin(chosen, known), other, known[near[:, 0]])
        lost = np.isin(chosen, self.lost)
        if lost.any():  # where nothing may be feasible the best start is a least violation
            settled = np.setdiff1d(np.arange(len(self.points)), self.lost)
            nearby = nearest(self.places[chosen[lost]], self.places[settled], look + 1)[:, -1]
            other[lost] = settled[nearby]
        designs = _columns(self.frame, "x.")[other]
        self.run(f"look{look + 2}", chosen, designs, self.hessians[other])
        return True

    def go_on(self) -> None:
        """Go on where points that are lost had to stop."""
        assert self.frame is not None
        chosen = self.lost
        if chosen.size:
            designs = _columns(self.frame, "x.")[chosen]
            self.run("last", chosen, designs, self.hessians[chosen], independent=False)

    @property
    def lost(self) -> NDArray[np.intp]:
        """Places of the points that are not settled and violate a row."""
        assert self.frame is not None
        open_ = np.asarray(self.frame["status"] == OPEN)
        return np.flatnonzero(open_ & np.asarray(self.frame["violation"] > HOLDS))

    def suspects(self) -> NDArray[np.intp]:
        """Feasible points heavier than a plane through their neighbours says."""
        assert self.frame is not None
        known = self.feasible
        if known.size <= 4 * (self.places.shape[1] + 1):
            return np.array([], dtype=np.intp)
        value = np.log(np.asarray(self.frame["objective"])[known])
        above = above_neighbours(self.places[known], value)
        level = max(SUSPECT, 3.0 * float(np.median(np.abs(above))))
        return np.asarray(known[above > level])

    def run(
        self,
        name: str,
        chosen: NDArray[np.intp],
        designs: Floats,
        hessians: Floats,
        *,
        independent: bool = True,
    ) -> None:
        """Solve some points and keep what is better than what is known of them.

        Parameters
        ----------
        name : of the stage
        chosen : places of the points
        designs, hessians : to start from
        independent : whether the starts are others than those of the ends that are known
        """
        goal = self._goal_at(chosen)
        frame = self._do(name, self.points[chosen], designs, hessians, goal)
        if self.frame is None:
            self.frame = frame.iloc[np.zeros(len(self.points), dtype=int)].reset_index(drop=True)
        before = self.frame.iloc[chosen]
        settled = self.solved[chosen] & independent
        _settle(frame, before.reset_index(drop=True), settled)
        better = ~self.solved[chosen] | _better(frame, before)
        where = chosen[better]
        rows = frame[better]
        self.hessians[where] = _columns(rows, "hessian.")
        kept = rows.set_axis(where)
        self.frame.loc[where] = kept
        self.solved[where] = True

    def result(self) -> Optima:
        """Everything that was found."""
        assert self.frame is not None
        plain = [name for name in self.frame if not str(name).startswith("hessian.")]
        return Optima(self.frame[plain].copy(), self.hessians)

    def _piece(self, count: int) -> int:
        """Points of one piece: equal pieces in pairs, so that two processes end together."""
        most = FILLS * self.width
        if self.width > WIDTH or count <= 2 * self.width:
            return most
        return math.ceil(count / (2 * math.ceil(count / (2 * most))))

    def _goal_at(self, chosen: NDArray[np.intp]) -> Goal:
        if self.goal is None:
            return least_mass(chosen.size, 1.0)
        return Goal(self.goal.weights[chosen], self.goal.limits[chosen])

    def _do(
        self, name: str, points: Floats, designs: Floats, hessians: Floats, goal: Goal
    ) -> pd.DataFrame:
        goal = goal._replace(weights=goal.weights / self.typical)
        size, costs = self._piece(len(points)), self.want_costs
        tasks: Sequence[Task] = [
            Task(f"part{at // size:05d}", _payload(part, points, designs, hessians, goal, costs))
            for at in range(0, len(points), size)
            for part in [slice(at, at + size)]
        ]
        work, stage = self.setting.work, f"{self.setting.stage}-{name}"
        title = TITLES.get(name, name)
        done = work.do(stage, WORKER, self.context, tasks, self.setting.say, title=title)
        frame = done.frame()
        scaled = ["objective", *(name for name in frame if str(name).startswith("cost."))]
        frame[scaled] *= self.typical
        return frame


def _payload(
    part: slice, points: Floats, designs: Floats, hessians: Floats, goal: Goal, costs: bool
) -> dict[str, Any]:
    return {
        "points": points[part],
        "designs": designs[part],
        "hessians": hessians[part],
        "weights": goal.weights[part],
        "limits": goal.limits[part],
        "costs": costs,
    }


def _columns(frame: pd.DataFrame, prefix: str) -> Floats:
    names = [name for name in frame if str(name).startswith(prefix)]
    return np.asarray(frame[names], dtype=float)


def _settle(new: pd.DataFrame, old: pd.DataFrame, twice: Booleans) -> None:
    """Settle what two starts agree on, though the conditions of optimality are met by neither.

    An optimum, or a least violation, that lies on a kink of the model has no residual of zero: the
    same objective where every row holds, or the same violation, from two starts counts.

    Parameters
    ----------
    new : ends, changed in place
    old : ends of the same points from other starts
    twice : points that have both
    """
    both = twice & np.asarray((new["status"] == OPEN) & (old["status"] == OPEN))
    held = np.asarray((new["violation"] <= HOLDS) & (old["violation"] <= HOLDS))
    broken = np.asarray((new["violation"] > HOLDS) & (old["violation"] > HOLDS))
    optimum = both & held & _close(new["objective"], old["objective"], SAME_OBJECTIVE)
    least = both & broken & _close(new["violation"], old["violation"], SAME_VIOLATION)
    new.loc[optimum, ["status", "reason"]] = FEASIBLE, ""
    new.loc[least, "status"] = NONE
    new.loc[least, "reason"] = new.loc[least, "blocks"]


def _close(one: pd.Series, other: pd.Series, share: float) -> Booleans:
    first, second = one.to_numpy(float), other.to_numpy(float)
    return np.asarray(np.abs(first - second) <= share * np.maximum(np.abs(first), np.abs(second)))


def _better(new: pd.DataFrame, old: pd.DataFrame) -> Booleans:
    """Whether new ends are better: feasible before not, then lighter; else less violated."""
    good, had = np.asarray(new["status"] == FEASIBLE), np.asarray(old["status"] == FEASIBLE)
    lighter = np.asarray(new["objective"]) < np.asarray(old["objective"])
    less = np.asarray(new["violation"]) < np.asarray(old["violation"])
    return np.where(good & had, lighter, np.where(good == had, less, good))
