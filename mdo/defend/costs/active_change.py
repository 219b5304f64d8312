"""Where along a knob an active set stops being that of the optimum, to a few thousandths."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from mdo.arrays import Floats, Indices
from mdo.defend.costs.active_set import TOUCHING, ActiveSet, Followed, active_set_of, follow
from mdo.optimise.knobs import Knob, turned
from mdo.optimise.optimum import Optimum
from mdo.optimise.problem import DesignProblem
from mdo.study.reader import StudyError

TRIALS = 16  # most stationary designs along one knob and way
FIRST = 0.02  # first step along the knob, share of the whole way
GROWTH = 4.0  # largest step after it, times the distance covered
BESIDE = 0.002  # how far beside an expected change is looked, share of the distance
CLOSE = 0.005  # width of the bracket of a change, share of the distance
LEAST = 1e-4  # the same, share of the whole way


class Bracket(NamedTuple):
    """Where a held active set stops being that of the optimum, along one knob and way.

    Attributes
    ----------
    inside, beyond
        Values of the knob: the active set is still that of the optimum, and no longer so. Beyond
        is NaN where nothing changes up to the farthest value.
    design
        Stationary design at ``inside``.
    """

    inside: float
    beyond: float
    design: Floats


class _Point(NamedTuple):
    """A stationary design along the knob."""

    value: float
    followed: Followed


def bracket_change(optimum: Optimum, knob: Knob, farthest: float) -> Bracket:
    """Follow an optimum along a knob with its active set held, until that should change.

    Signs of the designs found so far are interpolated by parabolas of the knob; the next design is
    solved for just past or just short of the first zero, until both sides of it are within a few
    thousandths of the distance.

    Parameters
    ----------
    optimum : the optimum
    knob : what is turned
    farthest : last value that is looked at
    """
    start = knob.value
    problem, kept = optimum.problem, active_set_of(optimum)
    idle = np.setdiff1d(kept.touching, kept.held)
    first = follow(problem, optimum.design, kept)
    if first is None or farthest == start:
        return Bracket(start, start if first is None else math.nan, optimum.design)
    points = [_Point(start, first)]
    inside, beyond, trial = points[0], math.nan, start + FIRST * (farthest - start)
    for _ in range(1, TRIALS):
        followed = _follow_to(problem, knob, trial, points, kept)
        if followed is not None:
            points.append(_Point(trial, followed))
        if followed is None or _over(followed, idle):
            beyond = trial
        else:
            inside = points[-1]
        distance = abs(beyond - start)
        closed = abs(beyond - inside.value) <= max(CLOSE * distance, LEAST * abs(farthest - start))
        if closed or inside.value == farthest:
            break
        trial = _next_trial(points, inside.value, beyond, farthest)
    return Bracket(inside.value, beyond, inside.followed.design)


def _over(followed: Followed, idle: Indices) -> bool:
    """Whether the active set is no longer that of the optimum."""
    return bool((followed.signs < 0.0).any() or (np.abs(followed.rows[idle]) > TOUCHING).any())


def _follow_to(
    problem: DesignProblem, knob: Knob, value: float, points: list[_Point], kept: ActiveSet
) -> Followed | None:
    """Stationary design at a value of the knob, from those extrapolated to it."""
    near = sorted(points, key=lambda point: abs(point.value - value))[:3]
    places = np.array([point.value for point in near])
    scaled = np.array([problem.scale(point.followed.design) for point in near])
    start = problem.unscale(_extrapolated(places, scaled, value))
    try:
        return follow(turned(problem, {knob: value}), start, kept)
    except StudyError:
        return None


def _extrapolated(places: Floats, curves: Floats, value: float) -> Floats:
    """Lagrange's polynomials through curves at some places, shape (places, n), at a value."""
    total = np.zeros(curves.shape[1])
    for number, place in enumerate(places):
        others = np.delete(places, number)
        total += curves[number] * np.prod((value - others) / (place - others))
    return total


def _next_trial(points: list[_Point], inside: float, beyond: float, farthest: float) -> float:
    """Value to try next: beside the zero expected, or in the middle, or some way further."""
    start = points[0].value
    bracketed = not math.isnan(beyond)
    until = beyond if bracketed else farthest
    near = sorted(points, key=lambda point: abs(point.value - inside))[:3]
    guess = None
    if len(near) > 1:
        signs = np.array([point.followed.signs for point in near])
        signs = signs[:, np.isfinite(signs).all(axis=0)]
        guess = first_zero(np.array([point.value for point in near]), signs, until)
    if guess is not None:
        margin = BESIDE * (guess - start)
        least = 0.1 * abs(margin)
        for trial in (guess + margin, guess - margin):
            if min(abs(trial - inside), abs(trial - until)) > least and (
                min(inside, until) < trial < max(inside, until)
            ):
                return trial if bracketed else _no_further(trial, inside, start, farthest)
    return (inside + beyond) / 2.0 if bracketed else _no_further(farthest, inside, start, farthest)


def _no_further(trial: float, inside: float, start: float, farthest: float) -> float:
    """The trial, or a few times the distance already covered, whichever is nearer."""
    covered = max(abs(inside - start), FIRST * abs(farthest - start))
    way = math.copysign(1.0, farthest - start)
    return way * min(way * trial, way * (start + way * (1.0 + GROWTH) * covered))


def first_zero(values: Floats, curves: Floats, until: float) -> float | None:
    """First value on the way to ``until`` where an interpolated curve falls to zero.

    Parameters
    ----------
    values : two or three places, shape (n,); the first is the one to go from
    curves : values of the curves there, shape (n, curves), not below zero at the first place
    until : where to stop
    """
    span = until - values[0]
    offsets = (values - values[0]) / span
    level = np.maximum(curves[0], 0.0)
    slope = (curves[1] - level) / offsets[1]
    bend = np.zeros_like(level)
    if values.size == 3:
        bend = ((curves[2] - level) / offsets[2] - slope) / (offsets[2] - offsets[1])
        slope = slope - bend * offsets[1]
    inner = slope**2 - 4.0 * bend * level
    root = np.sqrt(np.maximum(inner, 0.0)) - slope
    # the least positive root of level + slope u + bend u^2, in the form that keeps its digits
    real = (inner >= 0.0) & (root > 0.0) & (level > 0.0)
    share = np.where(real, 2.0 * level / np.where(real, root, 1.0), np.inf)
    least = float(share.min(initial=np.inf))
    return float(values[0] + least * span) if least < 1.0 else None
