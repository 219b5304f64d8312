"""What is known of a front: every bound that was solved, its ends, which points are on it.

All objectives are turned so that less is better; the first one is minimised, the others are kept
at or below bounds.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple, Protocol

import numpy as np

from mdo.arrays import Booleans, Floats, Indices
from mdo.optimise.many.solution import Words
from mdo.optimise.status import FEASIBLE, INFEASIBLE

PROBES = 15  # bounds of one round of the search for the tightest
ROUNDS = 2  # after the first look over the range
INSIDE = 1e-4  # of the range: the end of a front is solved so far inside its tightest bound
SAME = 1e-4  # of the range of an objective: differences below it are none


class Answers(NamedTuple):
    """Optima at some bounds, first axis: the bound.

    Attributes
    ----------
    values
        Objectives reached, shape (n, objectives), NaN where there is no optimum.
    slopes
        Of the first objective along each bound, zero or less, shape (n, objectives - 1).
    status
        ``feasible``, ``infeasible`` or ``not settled``.
    active
        What holds each optimum, in words.
    reason
        Why there is none, in words.
    """

    values: Floats
    slopes: Floats
    status: Words | Sequence[str]
    active: Words | Sequence[str]
    reason: Words | Sequence[str]


class Solve(Protocol):
    """Finds the least first objective at bounds of the others."""

    def __call__(self, bounds: Floats) -> Answers:
        """Optima at bounds, shape (n, objectives - 1)."""

    def tightest(self, which: int) -> float | None:
        """Least value of a bounded objective, the other bounds loose; None if it must be sought."""


class Range(NamedTuple):
    """Tightest and loosest bound of an objective; infinite where the front itself ends it."""

    tight: float
    loose: float


class Scale(NamedTuple):
    """Best and worst value of every objective on the front, between which it is normalised."""

    ideal: Floats
    nadir: Floats

    @property
    def span(self) -> Floats:
        """Width of the range, never zero."""
        width = self.nadir - self.ideal
        return np.where(width > 0.0, width, 1.0)

    def normal(self, values: Floats) -> Floats:
        """Objectives from 0, best, to 1, worst."""
        return np.asarray((values - self.ideal) / self.span)


class KnownPoints:
    """Every bound that was solved, in the order in which it was.

    Parameters
    ----------
    ranges : of the bounded objectives
    solve : gives the optima at bounds; None where there is nothing to solve
    """

    def __init__(self, ranges: Sequence[Range], solve: Solve | None = None) -> None:
        self.ranges, self.solve = tuple(ranges), solve
        self.bounds = self.slopes = np.zeros((0, len(ranges)))
        self.values = np.zeros((0, len(ranges) + 1))
        self.status = self.active = self.reason = np.array([], dtype=object)
        self.level = np.array([], dtype=np.intp)

    @property
    def loosest(self) -> Floats:
        """Loosest bounds."""
        return np.array([one.loose for one in self.ranges])

    def ask(self, bounds: Floats, level: int = 0) -> Indices:
        """Solve bounds and keep what comes; returns their places."""
        assert self.solve is not None
        return self._keep(bounds, self.solve(bounds), level)

    def note(self, bounds: Floats, reason: str) -> None:
        """Keep bounds that were not solved because there is nothing to solve."""
        values = np.full((1, self.values.shape[1]), np.nan)
        none = Answers(values, np.zeros_like(bounds[None]), [INFEASIBLE], [""], [reason])
        self._keep(bounds[None], none, 0)

    def _keep(self, bounds: Floats, answers: Answers, level: int) -> Indices:
        self.bounds = np.vstack([self.bounds, bounds])
        self.values = np.vstack([self.values, answers.values])
        self.slopes = np.vstack([self.slopes, answers.slopes])
        self.status = np.append(self.status, answers.status)
        self.active = np.append(self.active, answers.active)
        self.reason = np.append(self.reason, answers.reason)
        self.level = np.append(self.level, np.full(len(bounds), level))
        return np.arange(len(self.status) - len(bounds), len(self.status))

    @property
    def feasible(self) -> Booleans:
        """Bounds with an optimum."""
        return np.asarray(self.status == FEASIBLE)

    def front(self, scale: Scale) -> Indices:
        """Places of the points that no other one dominates, each once."""
        good = np.flatnonzero(self.feasible)
        return good[non_dominated(scale.normal(self.values[good]))]


def non_dominated(values: Floats) -> Indices:
    """Places of points that none dominates; of points that are the same, one.

    Parameters
    ----------
    values : normalised objectives, less is better, shape (n, objectives)

    Notes
    -----
    Points are taken in the order of their bounded objectives, tight ones first: along a shallow
    slope one is left wherever the first objective has become better than that of the last one.
    """
    kept: list[int] = []
    order = np.lexsort((values[:, 0], values[:, 1:].sum(axis=1)))
    for place in order:
        no_worse = (values[kept] <= values[place] + SAME).all(axis=1)
        if not no_worse.any():
            kept.append(int(place))
    return np.sort(np.array(kept, dtype=np.intp))


def thinned(values: Floats, keep: Booleans, spacing: float, least: int) -> Indices:
    """Places that are left when points that stand closer than a spacing are taken out.

    Parameters
    ----------
    values : normalised objectives in their order along the front
    keep : points that stay
    spacing : a point goes if its neighbours are then no farther apart than this
    least : so many stay
    """
    left = list(range(len(values)))
    while len(left) > least:
        gaps = [
            np.inf if keep[one] else float(np.linalg.norm(values[after] - values[before]))
            for before, one, after in zip(left, left[1:], left[2:], strict=False)
        ]
        if not gaps or min(gaps) > spacing:
            break
        del left[int(np.argmin(gaps)) + 1]
    return np.array(left, dtype=np.intp)


class FrontEnds(NamedTuple):
    """Ends of a front.

    Attributes
    ----------
    anchors
        Places of the points: the first objective alone, then each other one at its tightest.
    tight, loose
        Bounds between which the front lies.
    scale
        Range of the objectives over the anchors.
    """

    anchors: Indices
    tight: Floats
    loose: Floats
    scale: Scale

    def rescaled(self, known: KnownPoints) -> FrontEnds:
        """Ends with the range of all points of the front: a flat piece at its end is left out."""
        nadir = known.values[known.front(self.scale)].max(axis=0)
        return self._replace(scale=self.scale._replace(nadir=nadir))


def find_ends(known: KnownPoints, look: int) -> FrontEnds | None:
    """Find the ends; None where even the loosest bounds have no optimum.

    Parameters
    ----------
    known : solves bounds, and keeps them
    look : bounds that are laid over every range first, together with the loosest ones
    """
    bounds = [known.loosest]
    shares = np.arange(look + 1) / (look + 1.0)
    for which, one in enumerate(known.ranges):
        if np.isfinite(one).all():
            values = one.tight + shares * (one.loose - one.tight)
            bounds += [*_turned(known.loosest, which, values)]
    first = int(known.ask(np.array(bounds))[0])
    if not known.feasible[first]:
        return None
    tightest = [_tightest(known, which) for which in range(len(known.ranges))]
    tight = np.array([known.bounds[place, which] for which, place in enumerate(tightest)])
    places = np.array([first, *tightest], dtype=np.intp)
    nadir = known.values[places].max(axis=0)
    ideal = np.append(known.values[places, 0].min(), tight)
    return FrontEnds(places, tight, np.maximum(nadir[1:], tight), Scale(ideal, nadir))


def _turned(bounds: Floats, which: int, values: Floats) -> Floats:
    """Bounds with one of them at several values, shape (values, bounded)."""
    turned = np.tile(bounds, (len(values), 1))
    turned[:, which] = values
    return turned


def _tightest(known: KnownPoints, which: int) -> int:
    """Place of the point with one objective at its tightest, the other bounds loose.

    Where the solver does not know the tightest bound it is sought in rounds of evenly spread ones.
    Every round tries the loosest bound without an optimum again: it starts from nearer designs.
    """
    assert known.solve is not None
    range_, first = known.ranges[which], known.bounds[0]
    least = known.solve.tightest(which)
    if least is not None:
        reached = float(known.values[0, which + 1])
        bound = max(range_.tight, least + INSIDE * max(reached - least, 0.0))
        known.ask(_turned(first, which, np.array([bound])))
        return _best(known, which)
    shares = np.arange(PROBES + 1) / (PROBES + 1.0)
    for _ in range(ROUNDS):
        high = float(known.bounds[_best(known, which), which])
        if high <= range_.tight:
            break
        none = known.bounds[~known.feasible, which]
        low = max(none[none < high], default=range_.tight)
        known.ask(_turned(first, which, low + (high - low) * shares))
    return _best(known, which)


def _best(known: KnownPoints, which: int) -> int:
    """Place of the tightest bound of one objective that has an optimum, the others loose."""
    others = np.delete(known.bounds == known.bounds[0], which, axis=1).all(axis=1)
    good = np.flatnonzero(others & known.feasible)
    return int(good[np.argmin(known.bounds[good, which])])
