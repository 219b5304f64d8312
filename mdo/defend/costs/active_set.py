"""Follow an optimum while its active set is held, to where it stops being the optimum.

With the rows and bounds at their limit kept there as equations, stationarity has a solution that
varies smoothly with the parameters of the study, also beyond the point where the active set should
change: there a row falls below zero, a multiplier turns negative, or a variable passes its bound.
Newton's method in the null space of the held rows (Nocedal & Wright, Numerical Optimization, 2nd
ed., ch. 18.3, from memory) finds it in a few evaluations.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.optimise.newton_end import at_bounds
from mdo.optimise.optimum import Optimum
from mdo.optimise.problem import DesignProblem, Evaluated

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Booleans = NDArray[np.bool_]

TOUCHING = 1e-6  # rows below this are at their limit
CARRYING = 1e-7  # share of the largest multiplier from which a row is held
STEPS = 12
MEETINGS = 8  # steps back to the held rows
NEARLY = 1e-8  # violation that the steps along the rows may start from
GOOD = 1e-9  # error at which Newton's steps end
NOISE = 1e-7  # slope below which steps need not lessen it
LOST = 1.0  # step of the scaled variables from which the solution is out of reach
SHARES = (1.0, 0.5, 0.25, 0.125)  # of a step, tried in turn
DIFFERENCE = 1e-6  # step of the scaled variables


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
    here: _Lagrangian | None = newton.meet(problem.scale(start))
    steps = 0
    while here is not None and here.error >= GOOD:
        steps += 1
        here = newton.advance(here) if steps <= STEPS else None
    if here is None:
        return None
    rows = all_rows(problem, here.value)
    return Followed(problem.unscale(here.z), rows, _signs(problem, kept, here))


class _Lagrangian(NamedTuple):
    """The Lagrangian ``m - multipliers . rows`` at a design, in the free variables.

    Attributes
    ----------
    z, value
        Scaled design, and what it evaluates to.
    rows, jacobian
        Held rows and their slopes.
    multipliers, gradient
        Multipliers and the gradient left.
    slope
        Norm of the gradient along the rows over that of the mass.
    """

    z: Floats
    value: Evaluated
    rows: Floats
    jacobian: Floats
    multipliers: Floats
    gradient: Floats
    slope: float

    @property
    def violation(self) -> float:
        """Largest departure of a held row from its limit."""
        return float(np.abs(self.rows).max(initial=0.0))

    @property
    def error(self) -> float:
        """Larger of violation and slope."""
        return max(self.violation, self.slope)


class _Newton:
    """Newton's method for one study and one active set."""

    def __init__(self, problem: DesignProblem, kept: ActiveSet) -> None:
        self.problem = problem
        self.free = ~(kept.low | kept.high)
        self.places = np.flatnonzero(problem.active)[self.free]
        self.held = np.searchsorted(problem.counting, kept.held)

    def at(self, z: Floats, multipliers: Floats | None = None) -> _Lagrangian:
        """Lagrangian with the multipliers given, or those that make it most stationary."""
        value = self.problem.evaluate(self.problem.unscale(z))
        jacobian = value.row_slopes[self.held][:, self.free]
        slope = value.objective_slope[self.free]
        if multipliers is None:
            found = np.linalg.lstsq(jacobian.T, slope, rcond=None)[0]
            multipliers = np.asarray(found, dtype=float)
        gradient = slope - jacobian.T @ multipliers
        size = float(np.linalg.norm(gradient)) / max(float(np.linalg.norm(slope)), 1e-30)
        return _Lagrangian(z, value, value.rows[self.held], jacobian, multipliers, gradient, size)

    def moved(self, z: Floats, step: Floats) -> Floats:
        """Scaled design after a step of the free variables."""
        there = z.copy()
        there[self.places] += step
        return there

    def meet(self, z: Floats) -> _Lagrangian | None:
        """Nearest design that meets the held rows, nearly; None if that is too far."""
        for _ in range(MEETINGS):
            here = self.at(z)
            if not np.isfinite(here.error):
                return None
            if here.violation < NEARLY:
                return here
            step = -_across_and_along(here.jacobian)[0] @ here.rows
            if np.abs(step).max(initial=0.0) > LOST:
                return None
            z = self.moved(z, step)
        return None

    def advance(self, here: _Lagrangian) -> _Lagrangian | None:
        """One step, shortened until the gradient along the rows falls; None where it does not."""
        inverse, along = _across_and_along(here.jacobian)
        across = -inverse @ here.rows
        step = np.zeros_like(across)
        if along.shape[1]:
            images = []
            for one in along.T:
                there = self.at(self.moved(here.z, DIFFERENCE * one), here.multipliers)
                images.append((there.gradient - here.gradient) / DIFFERENCE)
            curvature = along.T @ np.array(images).T
            target = -along.T @ here.gradient
            step = along @ np.linalg.lstsq((curvature + curvature.T) / 2.0, target, rcond=None)[0]
        for share in SHARES:
            whole = across + share * step
            if np.abs(whole).max(initial=0.0) > LOST:
                continue
            trial = self.meet(self.moved(here.z, whole))
            if trial is None:
                continue
            if trial.error < GOOD or trial.slope < max((1.0 - 0.2 * share) * here.slope, NOISE):
                return trial
        return None


def _across_and_along(jacobian: Floats) -> tuple[Floats, Floats]:
    """Pseudo-inverse of the slopes of the rows, and an orthonormal basis along the rows."""
    left, sizes, right = np.linalg.svd(jacobian, full_matrices=True)
    rank = int((sizes > 1e-9 * sizes.max(initial=1e-30)).sum())
    inverse = right[:rank].T @ (left[:, :rank].T / sizes[:rank, None])
    return inverse, right[rank:].T


def _signs(problem: DesignProblem, kept: ActiveSet, here: _Lagrangian) -> Floats:
    """Everything that must stay above zero, see :class:`Followed`."""
    rows = all_rows(problem, here.value)
    rows[kept.touching] = np.inf
    at = np.searchsorted(problem.counting, kept.held)
    left = here.value.objective_slope - here.value.row_slopes[at].T @ here.multipliers
    bounded = kept.low | kept.high
    lower, upper = (problem.scale(one)[problem.active] for one in (problem.lower, problem.upper))
    z = here.z[problem.active]
    return np.concatenate(
        [
            rows,
            here.multipliers,
            np.where(kept.low, left, -left)[bounded],
            (z - lower)[~bounded],
            (upper - z)[~bounded],
        ]
    )
