"""A front of three objectives: exact points spread evenly over the surface.

Every point is the least first objective at bounds of the other two. After a coarse grid, bounds are
added one after another where, by the slopes of the points solved so far, the new point would stand
farthest from all others (farthest-point insertion; Gonzalez, Theor. Comput. Sci. 38, 1985, from
memory), a little sooner where different rows hold the points around.
"""

from __future__ import annotations

import numpy as np

from mdo.arrays import Booleans, Floats, Indices
from mdo.explore.exploration import Say
from mdo.explore.fronts.curve import Traced
from mdo.explore.fronts.known_points import SAME, FrontEnds, KnownPoints, find_ends

GRID = 5  # bounds of the first grid, each way
LATTICE = 49  # candidates each way
BATCH = 16  # bounds of one round
MOST = 4  # bounds solved per point asked for
SPARE = 1.3  # points known per point asked for, before those nearest to each other are left out
CHANGE = 1.25  # weight of a candidate between points that are held by different rows
NEAR = 3  # points around a candidate
CLOSE = 0.35  # share of the even spacing below which there is nothing to add


def trace_surface(known: KnownPoints, points: int, say: Say) -> Traced:
    """Trace a front of three objectives.

    Parameters
    ----------
    known : solves bounds, and keeps them
    points : to be shown
    say : told what is being done
    """
    say("Front: its ends")
    ends = find_ends(known, 2 * GRID)
    if ends is None:
        return Traced()
    grid = _lattice(GRID)
    ends = _solved(known, ends, grid[grid.min(axis=1) < 1.0], 0)
    least = CLOSE / np.sqrt(points)
    level = 0
    wanted = int(np.ceil(SPARE * points))
    while len(known.status) < MOST * points + len(grid):
        missing = wanted - len(known.front(ends.scale))
        chosen = farthest(known, ends, min(missing, BATCH), least) if missing > 0 else grid[:0]
        if len(chosen) == 0:
            break
        level += 1
        say(f"Front: {wanted - missing} of {wanted} points, {len(chosen)} more")
        ends = _solved(known, ends, chosen, level)
    return Traced(ends, _shown(known, ends, points))


def _lattice(side: int) -> Floats:
    """Points of the unit square, so many each way, shape (points, 2)."""
    shares = np.linspace(0.0, 1.0, side)
    return np.stack(np.meshgrid(shares, shares, indexing="ij"), axis=-1).reshape(-1, 2)


def _solved(known: KnownPoints, ends: FrontEnds, shares: Floats, level: int) -> FrontEnds:
    """Solve bounds given as shares of their ranges; the ends with the range of all points."""
    known.ask(ends.tight + shares * (ends.loose - ends.tight), level)
    return ends.rescaled(known)


def farthest(known: KnownPoints, ends: FrontEnds, count: int, least: float) -> Floats:
    """Bounds, as shares of their ranges, whose points would stand farthest from all others.

    Parameters
    ----------
    known, ends : what is known
    count : at most so many
    least : normalised distance below which a candidate adds nothing
    """
    shares = _lattice(LATTICE)
    bounds = ends.tight + shares * (ends.loose - ends.tight)
    low, high = _limits(known, ends, bounds)
    open_ = high > low + SAME
    shares, bounds, low, high = shares[open_], bounds[open_], low[open_], high[open_]
    if len(shares) == 0:
        return shares
    points, weight = _predicted(known, ends, bounds, low, high)
    front = ends.scale.normal(known.values[known.front(ends.scale)])
    distance = _distances(points, front).min(axis=1) * weight
    chosen: list[int] = []
    while len(chosen) < count and distance.max() > least:
        chosen.append(int(distance.argmax()))
        own = _distances(points, points[chosen[-1:]])[:, 0] * weight
        distance = np.minimum(distance, own)
    return shares[chosen]


def _limits(known: KnownPoints, ends: FrontEnds, bounds: Floats) -> tuple[Floats, Floats]:
    """Least and largest normalised first objective that solved bounds leave to a candidate.

    Looser bounds have no worse optimum, tighter ones no better; a candidate tighter than bounds
    without an optimum has none either, and is left no room.
    """
    good = known.feasible
    first = ends.scale.normal(known.values)[:, 0]
    reached, asked = known.values[:, 1:], known.bounds
    low, high = np.full(len(bounds), -np.inf), np.full(len(bounds), np.inf)
    slack = 1e-9 * (ends.loose - ends.tight)
    for place in range(len(asked)):
        if not good[place]:
            low[(bounds <= asked[place] + slack).all(axis=1)] = np.inf
            continue
        tighter = (bounds <= asked[place] + slack).all(axis=1)
        low[tighter] = np.maximum(low[tighter], first[place])
        looser = (bounds >= reached[place] - slack).all(axis=1)
        high[looser] = np.minimum(high[looser], first[place])
    return low, high


def _predicted(
    known: KnownPoints, ends: FrontEnds, bounds: Floats, low: Floats, high: Floats
) -> tuple[Floats, Floats]:
    """Normalised objectives of candidates by the slopes of the nearest points; their weights."""
    good = np.flatnonzero(known.feasible)
    scale = ends.scale
    values = scale.normal(known.values[good])
    slope = np.nan_to_num(known.slopes[good]) * scale.span[1:] / scale.span[0]
    u = (bounds - scale.ideal[1:]) / scale.span[1:]
    near = np.argsort(_distances(u, values[:, 1:]), axis=1, kind="stable")[:, :NEAR]
    steps = u[:, None, :] - values[near][:, :, 1:]
    guesses = values[near][:, :, 0] + (slope[near] * steps).sum(axis=2)
    first = np.clip(guesses.mean(axis=1), low, np.minimum(high, low + 1.0))
    words = known.active[good][near]
    change: Booleans = (words != words[:, :1]).any(axis=1)
    return np.column_stack([first, u]), np.where(change, CHANGE, 1.0)


def _distances(one: Floats, other: Floats) -> Floats:
    return np.asarray(np.sqrt(((one[:, None, :] - other[None, :, :]) ** 2).sum(axis=2)))


def _shown(known: KnownPoints, ends: FrontEnds, points: int) -> Indices:
    """At most so many points of the front: of the two nearest ones one goes, but no end."""
    front = known.front(ends.scale)
    values = ends.scale.normal(known.values[front])
    keep = np.isin(front, ends.anchors)
    left = np.arange(len(front))
    while left.size > points:
        distance = _distances(values[left], values[left])
        np.fill_diagonal(distance, np.inf)
        nearest = np.sort(distance, axis=1)[:, :2].sum(axis=1)
        pair = np.array(np.unravel_index(distance.argmin(), distance.shape))
        nearest[keep[left]] = np.inf
        gone = pair[int(np.argmin(nearest[pair]))]
        if not np.isfinite(nearest[gone]):
            gone = int(np.argmin(nearest))
        left = np.delete(left, gone)
    order = np.lexsort((values[left, 2], values[left, 1]))
    return front[left[order]]
