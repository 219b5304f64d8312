"""A front of two objectives: exact points spread evenly along it, closer where it bends or breaks.

Every point is the least first objective at a bound of the second (epsilon-constraint method;
Haimes, Lasdon & Wismer, IEEE Trans. SMC 1, 1971, from memory). New bounds are laid where the front
between two points is longest, at equal lengths of a monotone cubic through the points and their
slopes (Fritsch & Carlson, SIAM J. Numer. Anal. 17, 1980, from memory).

The knee of a front is the point farthest from the chord through its ends, towards the better side,
all objectives normalised (Das, Structural Optimization 18, 1999, from memory). With three
objectives the plane of equal sums stands for the chord, through the best point of the border, that
is of those worst in some objective.
"""

from __future__ import annotations

import itertools
from typing import NamedTuple

import numpy as np

from mdo.arrays import Booleans, Floats, Indices
from mdo.explore.exploration import Say
from mdo.explore.fronts.known_points import SAME, FrontEnds, KnownPoints, find_ends, thinned

EXPLORED = 3  # one point in so many is laid evenly over the bounds, before the shape is known
FEWEST = 7  # of these
RESERVED = 5  # one point in so many is kept for bends and breaks
LEVELS = 3  # rounds of refinement
ROUNDS = 10  # most rounds of points
BEND = 0.25  # weight of a bend [1/rad] beside the length of a piece
NARROW = 5e-3  # of the range of the bound: a jump is not followed closer
SHORT = 4e-3  # normalised: pieces this short are not refined
ABRUPT = 3.0  # a piece this much steeper than the slopes at its ends holds a jump
SAMPLES = 65  # along a piece


class Nodes(NamedTuple):
    """Points of the front over its bound, normalised, from tight to loose.

    A point that does not reach its bound has two nodes, between which the front is flat. A slope
    that is not known is NaN.
    """

    u: Floats
    f: Floats
    slope: Floats
    place: Indices

    @property
    def measures(self) -> Floats:
        """Length of the front in each piece, more where it bends; 0 where it is flat or jumps."""
        du, df = np.diff(self.u), -np.diff(self.f)
        angle = np.arctan(np.minimum(self.slope, 0.0))
        turn = np.nan_to_num(np.abs(np.diff(angle)))
        closed = (df <= SAME) | (self.jumps & (du <= NARROW))
        return np.where(closed, 0.0, np.hypot(du, df) * (1.0 + BEND * turn))

    @property
    def flat(self) -> Booleans:
        """Pieces over which the first objective does not change, and whose looser bound is idle."""
        still = (np.diff(self.f) >= -SAME) & (np.diff(self.u) > SAME)
        return np.asarray(still & (self.slope[1:] > -SAME))

    @property
    def broken(self) -> Booleans:
        """Pieces that hold a jump or the end of a flat piece, or end where the bound is idle."""
        flat, idle = self.flat, self.slope > -SAME
        beside = np.append(flat[1:], False) | np.append(False, flat[:-1])
        return np.asarray(self.jumps | beside | idle[:-1] | idle[1:])

    @property
    def jumps(self) -> Booleans:
        """Pieces in which the first objective falls more than the slopes at their ends say."""
        steepest = np.maximum(-self.slope[:-1], -self.slope[1:])  # NaN: no jump is told
        return np.asarray(-np.diff(self.f) > ABRUPT * steepest * np.diff(self.u) + SAME)


class Traced(NamedTuple):
    """A traced front.

    Attributes
    ----------
    ends
        Its ends; None where nothing is feasible.
    places
        Points to be shown, along the front from tight to loose.
    nodes
        Where one objective is bounded: all points over the bound, flat pieces and jumps between.
    """

    ends: FrontEnds | None = None
    places: Indices = np.array([], dtype=np.intp)
    nodes: Nodes | None = None


def trace_curve(known: KnownPoints, points: int, say: Say) -> Traced:
    """Trace a front of two objectives.

    Parameters
    ----------
    known : solves bounds, and keeps them
    points : to be shown
    say : told what is being done
    """
    say("Front: its ends")
    explored = max(FEWEST, points // EXPLORED)
    ends = find_ends(known, explored)
    if ends is None:
        return Traced()
    if int(known.feasible.sum()) < FEWEST + len(ends.anchors):
        shares = np.arange(1, explored + 1) / (explored + 1.0)
        say(f"Front: {explored} points over its range")
        known.ask((ends.tight + shares * (ends.loose - ends.tight))[:, None])
    tracer = _Tracer(known, ends.rescaled(known), say)
    tracer.fill(points - points // RESERVED)
    tracer.refine(points // RESERVED)
    tracer.fill(points)
    return Traced(tracer.ends, tracer.thinned(np.inf, points), tracer.nodes())


class _Tracer:
    """A front while it is traced."""

    def __init__(self, known: KnownPoints, ends: FrontEnds, say: Say) -> None:
        self.known, self.ends, self.say = known, ends, say
        self.refined: list[int] = []

    def nodes(self) -> Nodes:
        """Nodes of all points, those that a tighter bound beats left out."""
        good, scale = np.flatnonzero(self.known.feasible), self.ends.scale
        normal = scale.normal(self.known.values[good])
        slope = self.known.slopes[good, 0] * (scale.span[1] / scale.span[0])
        asked = np.minimum(self.known.bounds[good, 0], self.ends.loose[0])
        bound = (asked - scale.ideal[1]) / scale.span[1]
        spare = bound > normal[:, 1] + SAME
        u = np.append(normal[:, 1], bound[spare])
        f = np.append(normal[:, 0], normal[spare, 0])
        slopes = np.append(slope, np.zeros(int(spare.sum())))
        place = np.append(good, good[spare])
        order = np.lexsort((f, u))
        least = np.minimum.accumulate(f[order])
        order = order[f[order] <= least + SAME]
        return Nodes(u[order], f[order], slopes[order], place[order])

    def fill(self, points: int) -> None:
        """Lay new bounds until so many points stand evenly along the front."""
        for _ in range(ROUNDS):
            nodes = self.nodes()
            even = self.thinned(float(nodes.measures.sum()) / max(points - 1, 1), 2)
            missing = points - len(even)
            bounds = _laid(nodes, missing) if missing > 0 else np.array([])
            if bounds.size == 0:
                return
            self.say(f"Front: {points - missing} of {points} points, {bounds.size} more")
            self.ask(bounds)

    def refine(self, spare: int) -> None:
        """Halve the pieces at breaks, and the longest of those where what is active changes."""
        for level in range(1, LEVELS + 1):
            nodes = self.nodes()
            long = nodes.measures > SHORT
            breaks = long & nodes.broken
            changes = np.where(long & ~breaks & self._changes(nodes), nodes.measures, 0.0)
            count = min(spare, int((changes > 0.0).sum()))
            longest = np.argsort(-changes, kind="stable")[:count]
            chosen = np.union1d(np.flatnonzero(breaks), longest)
            if chosen.size == 0:
                return
            bounds = np.array([float(_between(nodes, int(piece), 1)[0]) for piece in chosen])
            self.say(f"Front: {bounds.size} points where it bends or breaks")
            places = self.ask(bounds, level)
            self.refined += [int(p) for p in places[np.isin(chosen, longest)]]
            spare -= count

    def _changes(self, nodes: Nodes) -> Booleans:
        """Pieces whose ends are held by different rows."""
        active = [frozenset(self.known.active[place].split("; ")) for place in nodes.place]
        return np.array([one != other for one, other in itertools.pairwise(active)], dtype=bool)

    def ask(self, shares: Floats, level: int = 0) -> Indices:
        """Solve normalised bounds."""
        scale = self.ends.scale
        bounds = scale.ideal[1] + shares * scale.span[1]
        return self.known.ask(bounds[:, None], level)

    def thinned(self, spacing: float, least: int) -> Indices:
        """Places of points on the front, from tight to loose, without those that stand closer."""
        front = self.known.front(self.ends.scale)
        front = front[np.argsort(self.known.values[front, 1], kind="stable")]
        values = self.ends.scale.normal(self.known.values[front])
        return front[thinned(values, self._kept(front), spacing, least)]

    def _kept(self, front: Indices) -> Booleans:
        """Points that are never thinned out: the ends, those beside breaks, where rows change."""
        nodes = self.nodes()
        beside = np.flatnonzero(nodes.flat | nodes.jumps)
        ends = nodes.place[np.append(beside, beside + 1)]
        keep = np.isin(front, np.append(self.refined, ends).astype(np.intp))
        if keep.size:
            keep[[0, -1]] = True
        return keep


def _laid(nodes: Nodes, count: int) -> Floats:
    """Normalised bounds of new points: each where the largest piece is left."""
    measures = nodes.measures
    inside = np.zeros(measures.size, dtype=int)
    for _ in range(count if (measures > SHORT / 4.0).any() else 0):
        inside[np.where(measures > SHORT / 4.0, measures / (inside + 1.0), 0.0).argmax()] += 1
    laid = [_between(nodes, int(piece), int(inside[piece])) for piece in np.flatnonzero(inside)]
    return np.concatenate(laid) if laid else np.array([])


def _between(nodes: Nodes, piece: int, count: int) -> Floats:
    """Bounds inside a piece at equal lengths of a monotone cubic over it."""
    low, high = nodes.u[piece], nodes.u[piece + 1]
    drop = nodes.f[piece + 1] - nodes.f[piece]
    width = high - low
    steep = 3.0 * drop / width
    known = nodes.slope[piece : piece + 2]
    ends = np.clip(np.where(np.isnan(known), drop / width, known), steep, 0.0) * width
    t = np.linspace(0.0, 1.0, SAMPLES)
    f = drop * (3.0 * t**2 - 2.0 * t**3) + ends[0] * t * (1.0 - t) ** 2 - ends[1] * t**2 * (1.0 - t)
    length = np.append(0.0, np.cumsum(np.hypot(np.diff(t) * width, np.diff(f))))
    shares = np.arange(1, count + 1) / (count + 1.0)
    return np.asarray(low + width * np.interp(shares * length[-1], length, t))


BULGE = 1e-3  # least distance of a knee from the chord, normalised
GAP = 0.03  # normalised: shorter breaks are not told
NO_BETTER = "no design between is better than the one at the tight end"
JUMP = "the first objective jumps: another kind of design takes over"


class Gap(NamedTuple):
    """Bounds between which the front has no point, SI turned so that less is better."""

    low: Floats
    high: Floats
    reason: str


def knee_of(values: Floats) -> int | None:
    """Place of the knee; None where the front bulges nowhere towards the better side.

    Parameters
    ----------
    values : normalised objectives of the points, shape (n, objectives)
    """
    if len(values) < 3:
        return None
    sums = values.sum(axis=1)
    border = (values >= values.max(axis=0)).any(axis=1)
    depth = (sums[border].min() - sums) / np.sqrt(values.shape[1])
    best = int(np.argmax(depth))
    return best if depth[best] > BULGE else None


def infeasible_gaps(known: KnownPoints, ends: FrontEnds | None) -> list[Gap]:
    """Bounds tighter than the tightest with an optimum, per bounded objective."""
    none = np.flatnonzero(~known.feasible)
    if ends is None:
        low = np.array([one.tight for one in known.ranges])
        return [Gap(low, known.loosest, known.reason[none[0]])]
    gaps = []
    for which in range(len(known.ranges)):
        others = np.delete(known.bounds, which, axis=1) >= np.delete(ends.loose, which)
        own = none[others[none].all(axis=1) & (known.bounds[none, which] < ends.tight[which])]
        if own.size == 0:
            continue
        low, high = ends.tight.copy(), ends.loose.copy()
        low[which], high[which] = known.bounds[own, which].min(), ends.tight[which]
        nearest = int(own[np.argmax(known.bounds[own, which])])
        gaps.append(Gap(low, high, known.reason[nearest]))
    return gaps


def breaks(known: KnownPoints, curve: Traced) -> list[Gap]:
    """Breaks of a front of two objectives: where its bound does not bind, and where it jumps."""
    if curve.ends is None or curve.nodes is None:
        return []
    nodes = curve.nodes
    values = known.values[curve.places, 1]
    normal = curve.ends.scale.normal(known.values[curve.places])
    gaps = []
    for at in range(len(values) - 1):
        low, high = normal[at], normal[at + 1]
        inside = (nodes.u[:-1] >= low[1] - 1e-9) & (nodes.u[1:] <= high[1] + 1e-9)
        flat = float(np.diff(nodes.u)[inside & nodes.flat].sum())
        fall = float(-np.diff(nodes.f)[inside & nodes.jumps].sum())
        if flat > GAP or fall > GAP:
            reason = NO_BETTER if flat > fall else JUMP
            gaps.append(Gap(values[at : at + 1], values[at + 1 : at + 2], reason))
    return gaps
