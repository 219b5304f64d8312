"""Optima at all points of some axes, in levels: each point starts from neighbours that are solved.

First the middle, from several starts of the count problem; then few points far from each other;
then the rest from planes through their neighbours. Points that end infeasible, or open, or heavier
than their neighbours say, are looked at again from other neighbours; the better end is kept.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from mdo.arrays import Booleans, Floats, Indices
from mdo.optimise.axes import ParametricProblem, ends_of
from mdo.optimise.many.model import OUTPUTS, Goal, least_mass
from mdo.optimise.many.neighbours import above_neighbours, nearest, predicted, spread_order
from mdo.optimise.many.points import WIDTH, compile_points, lane_count, point_context, point_solver
from mdo.optimise.many.solution import (
    Optima,
    Starts,
    agreeing,
    better,
    optima_of,
    starts_at,
    unsolved,
)
from mdo.optimise.optimum import Progress
from mdo.optimise.problem import DesignProblem
from mdo.optimise.starts import starting_designs
from mdo.optimise.status import FEASIBLE, INFEASIBLE, OPEN
from mdo.results.work import Work, in_parts

WORKER = "mdo.optimise.many.chunk:solve_chunk"
LEVELS = (32, 160, 2000)  # points solved before the next ones start from them
FILLS = 6  # points of one piece of work, over the lanes
MIDDLE_STARTS = 4
LAST = "last"  # stage that goes on from where points had to stop
TITLES = {
    "first": "Points", "middle": "Middle of the axes", "level1": "First points",
    "level2": "Next points", "level3": "More points", "level4": "All points",
    "look2": "Second look", LAST: "Last look",
}  # fmt: skip
SUSPECT = 2e-3  # share of the objective above what neighbours say from which a point is tried again
SAME_OBJECTIVE, SAME_VIOLATION = 1e-6, 1e-2  # relative: ends of two starts that count as one
LOOKS = 1  # further starts of points that are infeasible, open or suspect


class Setting(NamedTuple):
    """What all points have in common.

    Attributes
    ----------
    parametric
        The study over its axes.
    active
        Variables that move, in this or another study that shares the compiled functions.
    work
        Who does the chunks.
    stage
        Name of the folder of the chunks.
    say
        Told what is being done.
    """

    parametric: ParametricProblem
    active: Booleans
    work: Work
    stage: str
    say: Progress


class _Search(NamedTuple):
    """What all stages have in common.

    ``places`` are the points in the unit box; ``typical`` is the objective of a start, to which the
    solver's is scaled.
    """

    setting: Setting
    points: Floats
    places: Floats
    goal: Goal
    costs: bool
    context: str
    typical: float = 1.0


def find_optima(
    setting: Setting,
    points: Floats,
    goal: Goal | None = None,
    *,
    starts: Starts | None = None,
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
    points = np.asarray(points, float)
    axes = setting.parametric.axes
    low, high = ends_of(axes)
    places = (points - low) / np.where(high > low, high - low, 1.0)
    context = point_context(setting.parametric.given, axes, setting.active)
    goal = goal or least_mass(len(points), 1.0)
    search = _Search(setting, points, places, goal, costs, context)
    if starts is None:
        search, optima = _levels(search)
    else:
        search = _scaled_by(search, starts.designs[0])
        optima = _improved(search, None, "first", np.arange(len(points)), starts)
    for look in range(looks):
        chosen, start = _other_starts(search, optima, look)
        if chosen.size == 0:
            break
        optima = _improved(search, optima, f"look{look + 2}", chosen, start)
    lost = np.flatnonzero(optima.lost)
    if looks and lost.size:
        optima = _improved(search, optima, LAST, lost, optima.take(lost).starts)
    return optima


def _scaled_by(search: _Search, design: Floats) -> _Search:
    """The search with the objective scaled by its value at a design."""
    values = search.setting.parametric.problem.values(design, *OUTPUTS)
    weights = search.goal.weights[0]
    return search._replace(typical=float(weights @ [float(values[name]) for name in OUTPUTS]))


def _levels(search: _Search) -> tuple[_Search, Optima]:
    """Solve all points, level by level."""
    order = spread_order(search.places, LEVELS[-1])
    search, middle = _middle(search)
    optima: Optima | None = None
    for level, chosen in enumerate(np.split(order, LEVELS), 1):
        if chosen.size:
            start = _near_starts(search, optima, chosen, middle)
            optima = _improved(search, optima, f"level{level}", chosen, start)
    assert optima is not None
    return search, optima


def _middle(search: _Search) -> tuple[_Search, Starts]:
    """Design and Hessian of the middle of the axes, from starts of the count problem."""
    setting = search.setting
    setting.say("Compiling the optimiser of many points (once; kept for later runs)")
    compile_points(point_solver(search.context))
    setting.say("Starting designs")
    begun = starting_designs(setting.parametric.problem, MIDDLE_STARTS)
    designs = np.array([start.design for start in begun])
    search = _scaled_by(search, designs[0])
    points = np.tile(setting.parametric.middle, (len(designs), 1))
    goal = search.goal.take(np.zeros(len(designs), dtype=np.intp))
    ends = _solved(search, "middle", points, starts_at(designs, setting.active), goal)
    rank = np.where(ends.feasible, ends.objective, 1e6 + ends.violation)
    return search, ends.take([int(np.argmin(rank))]).starts


def _near_starts(search: _Search, optima: Optima | None, chosen: Indices, middle: Starts) -> Starts:
    """Where points start: planes through their neighbours, else the middle."""
    places, problem = search.places, search.setting.parametric.problem
    known = np.flatnonzero(optima.feasible) if optima else np.array([], dtype=np.intp)
    if optima is None or known.size < 2 * (places.shape[1] + 1):
        return Starts(*(np.repeat(part, chosen.size, axis=0) for part in middle))
    return between(problem, places[chosen], places[known], optima.take(known))


def between(problem: DesignProblem, places: Floats, known: Floats, optima: Optima) -> Starts:
    """Designs of planes through neighbours, with the Hessian of the nearest.

    Parameters
    ----------
    problem : any study over the axes
    places, known : of the points that start, and of the optima, in the unit box
    optima : feasible ones
    """
    planes = predicted(places, known, problem.scale(optima.designs))
    near = nearest(places, known, 1)[:, 0]
    return Starts(problem.unscale(planes), optima.hessians[near])


def _other_starts(search: _Search, optima: Optima, look: int) -> tuple[Indices, Starts]:
    """Points that are not settled or look heavy, and other neighbours to start them from."""
    places, good = search.places, optima.feasible
    known = np.flatnonzero(good)
    chosen = np.union1d(np.flatnonzero(~good), _suspects(search, optima))
    if known.size == 0:
        chosen = known
    if chosen.size == 0:
        return chosen, optima.take(chosen).starts
    near = known[nearest(places[chosen], places[known], look + 2)]
    other = near[:, min(look + 1, near.shape[1] - 1)]
    if look == 0:
        other = np.where(good[chosen], other, near[:, 0])
    lost = optima.lost[chosen]
    if lost.any():  # where nothing may be feasible the best start is a least violation
        settled = np.flatnonzero(~optima.lost)
        nearby = nearest(places[chosen[lost]], places[settled], look + 1)[:, -1]
        other[lost] = settled[nearby]
    return chosen, optima.take(other).starts


def _suspects(search: _Search, optima: Optima) -> Indices:
    """Feasible points heavier than a plane through their neighbours says."""
    known = np.flatnonzero(optima.feasible)
    if known.size <= 4 * (search.places.shape[1] + 1):
        return known[:0]
    above = above_neighbours(search.places[known], np.log(optima.objective[known]))
    level = max(SUSPECT, 3.0 * float(np.median(np.abs(above))))
    return np.asarray(known[above > level])


def _improved(
    search: _Search, optima: Optima | None, stage: str, chosen: Indices, starts: Starts
) -> Optima:
    """Solve some points and keep what is better than what is known of them.

    Parameters
    ----------
    search : what all stages have in common
    optima : what is known; None at first
    stage : its name
    chosen : places of the points
    starts : theirs
    """
    new = _solved(search, stage, search.points[chosen], starts, search.goal.take(chosen))
    known = unsolved(len(search.points), new) if optima is None else optima
    before = known.take(chosen)
    first = before.status == ""
    if stage != LAST:  # else from the ends that are known, and both agree
        new = settled(new, before, ~first)
    kept = first | better(new, before)
    return known.replaced(chosen[kept], new.take(kept))


def _solved(search: _Search, stage: str, points: Floats, starts: Starts, goal: Goal) -> Optima:
    """Solve points in pieces; objective and slopes in their own size."""
    setting, typical = search.setting, search.typical
    payload = {
        "points": points, **starts._asdict(),
        "weights": goal.weights / typical, "limits": goal.limits,
    }  # fmt: skip
    interpolation = setting.parametric.interpolation
    sent = interpolation.payload() if interpolation is not None else {}
    tasks = in_parts(payload, _piece(len(points)), {"costs": search.costs, **sent})
    name, title = f"{setting.stage}-{stage}", TITLES.get(stage, stage)
    chunks = setting.work.do(name, WORKER, search.context, tasks, setting.say, title=title)
    ends = optima_of(chunks.frame())
    scaled = ("objective", "costs", "limit_costs", "bound")
    return ends._replace(**{field: getattr(ends, field) * typical for field in scaled})


def _piece(count: int) -> int:
    """Points of one piece: equal pieces in pairs, so that two processes end together."""
    width = lane_count()
    most = FILLS * width
    if width > WIDTH or count <= 2 * width:
        return most
    return math.ceil(count / (2 * math.ceil(count / (2 * most))))


def settled(new: Optima, old: Optima, twice: Booleans) -> Optima:
    """Settle what two starts agree on, though the conditions of optimality are met by neither.

    An optimum, or a least violation, that lies on a kink of the model has no residual of zero: the
    same objective where every row holds, or the same violation, from two starts counts.

    Parameters
    ----------
    new, old : ends of the same points from other starts
    twice : points that have both
    """
    both = twice & np.asarray((new.status == OPEN) & (old.status == OPEN))
    optimum, least = (both & same for same in agreeing(new, old, SAME_OBJECTIVE, SAME_VIOLATION))
    status = np.select([optimum, least], [FEASIBLE, INFEASIBLE], new.status)
    reason = np.select([optimum, least], ["", new.blocks], new.reason)
    return new._replace(status=status.astype(object), reason=reason.astype(object))
