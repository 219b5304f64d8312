"""Follow an optimum while its active set is held, to where it stops being the optimum.

With the rows and bounds at their limit kept there as equations, stationarity has a solution that
varies smoothly with the parameters of the study, also beyond the point where the active set should
change: there a row falls below zero, a multiplier turns negative, or a variable passes its bound.
Newton's method in the null space of the held rows (Nocedal & Wright, Numerical Optimization, 2nd
ed., ch. 18.3, from memory) finds it in a few evaluations. Along a knob this
brackets the change to a few thousandths (:func:`bracket_change`).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from mdo.arrays import Booleans, Floats, Indices
from mdo.optimise.knobs import Knob, with_fields
from mdo.optimise.newton_end import DIFFERENCE, Lagrangian, across_and_along, along_step, at_bounds
from mdo.optimise.optimum import Optimum
from mdo.optimise.problem import DesignProblem, Evaluated
from mdo.study.reader import StudyError

TOUCHING = 1e-6  # rows below this are at their limit
CARRYING = 1e-7  # share of the largest multiplier from which a row is held
STEPS = 12
MEETINGS = 8  # steps back to the held rows
NEARLY = 1e-8  # violation that the steps along the rows may start from
GOOD = 1e-9  # error at which Newton's steps end
NOISE = 1e-7  # slope below which steps need not lessen it
LOST = 1.0  # step of the scaled variables from which the solution is out of reach
SHARES = (1.0, 0.5, 0.25, 0.125)  # of a step, tried in turn
TRIALS = 16  # most stationary designs along one knob and way
FIRST = 0.02  # first step along the knob, share of the whole way
GROWTH = 4.0  # largest step after it, times the distance covered
BESIDE = 0.002  # how far beside an expected change is looked, share of the distance
CLOSE = 0.005  # width of the bracket of a change, share of the distance
LEAST = 1e-4  # the same, share of the whole way


class ActiveSet(NamedTuple):
    """What is at its limit at an optimum.

    Attributes
    ----------
    touching
        Positions, among all rows, of the rows at their limit.
    held
        Those of them that carry a multiplier; their slopes are independent.
    low, high
        Active variables at their lower and upper bounds.
    """

    touching: Indices
    held: Indices
    low: Booleans
    high: Booleans


class Followed(NamedTuple):
    """Stationary design of a changed study with an active set held.

    Attributes
    ----------
    design
        Design vector; its bounds are not minded.
    rows
        All rows by position; infinite where they do not count.
    signs
        What stays above zero as long as the active set is that of the optimum: rows not touching
        (infinite where they do), multipliers of the held rows, multipliers of variables at bounds,
        and the room of the others to their bounds.
    """

    design: Floats
    rows: Floats
    signs: Floats


def active_set_of(optimum: Optimum) -> ActiveSet:
    """Rows and bounds at their limit at an optimum."""
    problem = optimum.problem
    rows = all_rows(problem, problem.evaluate(optimum.design))
    multipliers = optimum.multipliers
    carrying = multipliers > CARRYING * multipliers.max(initial=0.0)
    held = problem.counting[carrying]
    low, high = at_bounds(problem, optimum.design)
    return ActiveSet(np.union1d(np.flatnonzero(rows < TOUCHING), held), held, low, high)


def all_rows(problem: DesignProblem, value: Evaluated) -> Floats:
    """Every row by its position; infinite where it does not count."""
    rows = np.full(len(problem.rows.labels), np.inf)
    rows[problem.counting] = value.rows
    return rows


def follow(problem: DesignProblem, start: Floats, kept: ActiveSet) -> Followed | None:
    """Stationary design of a study with an active set held; None where Newton's steps find none.

    Parameters
    ----------
    problem : the study, changed
    start : a design to start from
    kept : rows and bounds to hold
    """
    if not problem.rows.counts[kept.held].all():
        return None
    newton = _Newton(problem, kept)
    here: _Point | None = newton.meet(problem.scale(start))
    steps = 0
    while here is not None and here.left.error >= GOOD:
        steps += 1
        here = newton.advance(here) if steps <= STEPS else None
    if here is None:
        return None
    rows = all_rows(problem, here.value)
    return Followed(problem.unscale(here.z), rows, _signs(problem, kept, here))


class _Point(NamedTuple):
    """Scaled design, what it evaluates to, and the Lagrangian of the held rows there."""

    z: Floats
    value: Evaluated
    left: Lagrangian


class _Newton:
    """Newton's method for one study and one active set."""

    def __init__(self, problem: DesignProblem, kept: ActiveSet) -> None:
        self.problem = problem
        self.free = np.flatnonzero(~(kept.low | kept.high))
        self.places = np.flatnonzero(problem.active)[self.free]
        self.held = np.searchsorted(problem.counting, kept.held)

    def at(self, z: Floats, multipliers: Floats | None = None) -> _Point:
        """Lagrangian with the multipliers given, or those that make it most stationary."""
        value = self.problem.evaluate(self.problem.unscale(z))
        return _Point(z, value, Lagrangian(value, self.held, self.free, multipliers))

    def moved(self, z: Floats, step: Floats) -> Floats:
        """Scaled design after a step of the free variables."""
        there = z.copy()
        there[self.places] += step
        return there

    def meet(self, z: Floats) -> _Point | None:
        """Nearest design that meets the held rows, nearly; None if that is too far."""
        for _ in range(MEETINGS):
            here = self.at(z)
            if not np.isfinite(here.left.error):
                return None
            if here.left.violation < NEARLY:
                return here
            step = -across_and_along(here.left.jacobian)[0] @ here.left.residual
            if np.abs(step).max(initial=0.0) > LOST:
                return None
            z = self.moved(z, step)
        return None

    def advance(self, here: _Point) -> _Point | None:
        """One step, shortened until the gradient along the rows falls; None where it does not."""
        left = here.left
        inverse, along = across_and_along(left.jacobian)
        across = -inverse @ left.residual
        step = np.zeros_like(across)
        if along.shape[1]:
            images = [
                self.at(self.moved(here.z, DIFFERENCE * column), left.multipliers).left.gradient
                - left.gradient
                for column in along.T
            ]
            curvature = along.T @ (np.array(images) / DIFFERENCE).T
            step = along_step(along, curvature, -along.T @ left.gradient)
        for share in SHARES:
            whole = across + share * step
            if np.abs(whole).max(initial=0.0) > LOST:
                continue
            trial = self.meet(self.moved(here.z, whole))
            if trial is None:
                continue
            falls = trial.left.slope < max((1.0 - 0.2 * share) * left.slope, NOISE)
            if trial.left.error < GOOD or falls:
                return trial
        return None


def _signs(problem: DesignProblem, kept: ActiveSet, here: _Point) -> Floats:
    """Everything that must stay above zero, see :class:`Followed`."""
    rows = all_rows(problem, here.value)
    rows[kept.touching] = np.inf
    at = np.searchsorted(problem.counting, kept.held)
    left = here.value.objective_slope - here.value.row_slopes[at].T @ here.left.multipliers
    bounded = kept.low | kept.high
    lower, upper = (problem.scale(ends)[problem.active] for ends in (problem.lower, problem.upper))
    z = here.z[problem.active]
    of_bounds, room = np.where(kept.low, left, -left)[bounded], ~bounded
    parts = (rows, here.left.multipliers, of_bounds, (z - lower)[room], (upper - z)[room])
    return np.concatenate(parts)


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


class _Along(NamedTuple):
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
    points = [_Along(start, first)]
    inside, beyond, trial = points[0], math.nan, start + FIRST * (farthest - start)
    for _ in range(1, TRIALS):
        followed = _follow_to(problem, knob, trial, points, kept)
        if followed is not None:
            points.append(_Along(trial, followed))
        # no longer the active set of the optimum
        if followed is None or (
            (followed.signs < 0.0).any() or (np.abs(followed.rows[idle]) > TOUCHING).any()
        ):
            beyond = trial
        else:
            inside = points[-1]
        distance = abs(beyond - start)
        closed = abs(beyond - inside.value) <= max(CLOSE * distance, LEAST * abs(farthest - start))
        if closed or inside.value == farthest:
            break
        trial = _next_trial(points, inside.value, beyond, farthest)
    return Bracket(inside.value, beyond, inside.followed.design)


def _follow_to(
    problem: DesignProblem, knob: Knob, value: float, points: list[_Along], kept: ActiveSet
) -> Followed | None:
    """Stationary design at a value of the knob, from those extrapolated to it."""
    near = sorted(points, key=lambda point: abs(point.value - value))[:3]
    places = np.array([point.value for point in near])
    scaled = np.array([problem.scale(point.followed.design) for point in near])
    start = problem.unscale(_extrapolated(places, scaled, value))
    try:
        return follow(with_fields(problem, knob.fields(value)), start, kept)
    except StudyError:
        return None


def _extrapolated(places: Floats, curves: Floats, value: float) -> Floats:
    """Lagrange's polynomials through curves at some places, shape (places, n), at a value."""
    total = np.zeros(curves.shape[1])
    for number, place in enumerate(places):
        others = np.delete(places, number)
        total += curves[number] * np.prod((value - others) / (place - others))
    return total


def _next_trial(points: list[_Along], inside: float, beyond: float, farthest: float) -> float:
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
