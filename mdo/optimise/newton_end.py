"""Newton steps on the optimality conditions, from a solution that a solver left at 1e-4 or so.

With the active rows and bounds known, the conditions ``grad m = J^T lambda`` and ``rows = 0`` are
equations. The step splits into the part that meets the rows and the part along them; only along
them is curvature needed, taken by differences of the exact gradients, so that no second derivatives
are compiled (null-space form: Nocedal & Wright, Numerical Optimization, 2nd ed., ch. 18.3, from
memory).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.optimize import nnls

from mdo.arrays import Booleans, Floats, Indices
from mdo.optimise.problem import DesignProblem, Evaluated

STEPS = 8
GOOD = 1e-10  # residual from which nothing is left to gain
DIFFERENCE = 1e-6  # step of the scaled variables
AT_BOUND = 1e-7
NEAR = 1e-4  # rows this close to their limit may be active
ROUNDS = 3  # most changes of the rows taken for active
COUPLED = 1e-6  # steps across the rows below this need no curvature of their own
RANK = 1e-9  # singular values below this share of the largest are zero


# Directions, and the Hessian of the Lagrangian times them.
Curvature = tuple[Floats, Floats]


class Conditions(NamedTuple):
    """Multipliers of the counting rows and how far the optimality conditions are from holding."""

    multipliers: Floats
    residual: float


class Solution(NamedTuple):
    """A design, its values, and how optimal it is; violation of the rows given to the solver."""

    design: Floats
    value: Evaluated
    conditions: Conditions
    violation: float

    @property
    def error(self) -> float:
        """Larger of KKT residual and violation."""
        return max(self.conditions.residual, self.violation)


def optimality(
    problem: DesignProblem, x: Floats, keep: Indices, value: Evaluated | None = None
) -> Conditions:
    """Multipliers [kg per unit of row] and relative KKT residual at a design.

    Parameters
    ----------
    problem, x : the study and a design
    keep : rows given to the solver (positions among the counting rows)
    value : of the design, where it is known
    """
    value = problem.evaluate(x) if value is None else value
    return stationarity(value, keep, *at_bounds(problem, x))


def stationarity(
    value: Evaluated, keep: Indices, low: Booleans, high: Booleans, *, least: float = 1e-30
) -> Conditions:
    """Multipliers and relative KKT residual of evaluated functions.

    Non-negative least squares on ``grad m = J_active^T lambda + bounds`` in scaled variables, over
    the gradient's norm.

    Parameters
    ----------
    value : objective and rows with slopes
    keep : rows that may carry a multiplier
    low, high : variables at their lower and upper bounds
    least : norm that is taken where that of the gradient is smaller
    """
    active = keep[np.abs(value.rows[keep]) < NEAR]
    columns = with_bound_columns(value.row_slopes[active].T, low, high)
    multipliers = np.zeros(value.rows.size)
    slope = float(np.linalg.norm(value.objective_slope))
    norm = max(slope, least)
    if columns.shape[1] == 0:
        return Conditions(multipliers, slope / norm)
    solution, residual = nnls(columns, value.objective_slope)
    multipliers[active] = solution[: active.size]
    complementary = float(np.abs(multipliers * value.rows).sum()) / norm
    return Conditions(multipliers, max(float(residual) / norm, complementary))


def at_bounds(problem: DesignProblem, x: Floats) -> tuple[Booleans, Booleans]:
    """Which active variables stand at their lower and upper bounds."""
    z = problem.scale(x)[problem.active]
    lower = problem.scale(problem.lower)[problem.active]
    upper = problem.scale(problem.upper)[problem.active]
    return z - lower < AT_BOUND, upper - z < AT_BOUND


def with_bound_columns(columns: Floats, low: Booleans, high: Booleans) -> Floats:
    """Slopes of rows, (variables, rows), and of the variables at lower and upper bounds."""
    unit = np.eye(low.size)
    return np.hstack([columns, unit[:, low], -unit[:, high]])


def solution_at(problem: DesignProblem, x: Floats, keep: Indices) -> Solution:
    """Evaluate a design and its optimality."""
    value = problem.evaluate(x)
    violation = max(0.0, -float(value.rows[keep].min(initial=0.0)))
    return Solution(x, value, optimality(problem, x, keep, value), violation)


def polish(
    problem: DesignProblem, x: Floats, keep: Indices, guess: Indices | None = None
) -> Solution:
    """Improve a solution by Newton steps; returns the design with the least error.

    Never returns a design that violates a row more than the one given or 1e-9, whichever is more.

    Parameters
    ----------
    problem, x : the study and a design near its optimum
    keep : rows given to the solver (positions among the counting rows)
    guess : rows that a solver holds for active; else those with a multiplier at ``x``
    """
    first = best = solution_at(problem, x, keep)
    allowed = max(1e-9, first.violation)
    rows = _carrying(first) if guess is None else guess
    for _ in range(ROUNDS):
        if best.error < GOOD:
            break
        end = _newton(problem, best, keep, rows)
        if not end.error < best.error:
            break
        best = end
        carrying = _carrying(best)
        if np.array_equal(carrying, rows):
            break
        rows = carrying
    return best if best.violation <= allowed else first


def _newton(problem: DesignProblem, start: Solution, keep: Indices, rows: Indices) -> Solution:
    """Newton steps with given rows as equations, as long as each halves what is left."""
    at, curvature, left = start, None, np.inf
    for _ in range(STEPS):
        free = np.flatnonzero(~np.logical_or(*at_bounds(problem, at.design)))
        here = Lagrangian(at.value, rows, free)
        if not here.error < 0.5 * left or here.error < GOOD / 10.0:
            break
        left = here.error
        trial, curvature = _newton_step(problem, at, here, (rows, free), curvature)
        at = solution_at(problem, trial, keep)
    return at


def _carrying(solution: Solution) -> Indices:
    """Rows with a multiplier."""
    multipliers = solution.conditions.multipliers
    return np.flatnonzero(multipliers > 1e-6 * max(multipliers.max(initial=0.0), 1e-30))


class Lagrangian:
    """The Lagrangian ``m - multipliers . rows`` at a design, with given rows as equations.

    Parameters
    ----------
    value : what the design evaluates to
    rows, free : positions of the rows and of the free ones among the active variables
    multipliers : of the rows; those that make it most stationary where they are not given

    Attributes
    ----------
    jacobian, residual
        Slopes of the rows in the free variables, and their values.
    gradient
        What is left of the slope of the mass.
    slope
        Norm of the gradient over that of the mass.
    """

    def __init__(
        self, value: Evaluated, rows: Indices, free: Indices, multipliers: Floats | None = None
    ) -> None:
        self.jacobian = value.row_slopes[rows][:, free]
        self.residual = value.rows[rows]
        slope = value.objective_slope[free]
        if multipliers is None:
            multipliers = np.asarray(np.linalg.lstsq(self.jacobian.T, slope, rcond=None)[0])
        self.multipliers = multipliers
        self.gradient = np.asarray(slope - self.jacobian.T @ multipliers)
        self.slope = float(np.linalg.norm(self.gradient)) / max(float(np.linalg.norm(slope)), 1e-30)

    @property
    def violation(self) -> float:
        """Largest departure of a row from its limit."""
        return float(np.abs(self.residual).max(initial=0.0))

    @property
    def error(self) -> float:
        """Larger of violation and slope."""
        return max(self.violation, self.slope)


def across_and_along(jacobian: Floats) -> tuple[Floats, Floats]:
    """Pseudo-inverse of the slopes of the rows, and an orthonormal basis along the rows."""
    left, sizes, right = np.linalg.svd(jacobian, full_matrices=True)
    rank = int((sizes > RANK * sizes.max(initial=1e-30)).sum())
    return right[:rank].T @ (left[:, :rank].T / sizes[:rank, None]), right[rank:].T


def along_step(along: Floats, curvature: Floats, target: Floats) -> Floats:
    """Newton step within some directions; ``curvature`` is made symmetric."""
    return np.asarray(
        along @ np.linalg.lstsq((curvature + curvature.T) / 2.0, target, rcond=None)[0]
    )


def _newton_step(
    problem: DesignProblem,
    at: Solution,
    here: Lagrangian,
    held: tuple[Indices, Indices],
    curvature: Curvature | None,
) -> tuple[Floats, Curvature]:
    """One Newton step with ``held`` rows and free variables; curvature is reused if given."""
    rows, free = held
    inverse, along = across_and_along(here.jacobian)
    meeting = -inverse @ here.residual

    def image(step: Floats) -> Floats:
        """Hessian of the Lagrangian times a direction."""
        ahead = problem.evaluate(_moved(problem, at.design, free, DIFFERENCE * step))
        there = Lagrangian(ahead, rows, free, here.multipliers)
        return np.asarray((there.gradient - here.gradient) / DIFFERENCE)

    if curvature is None or curvature[0].shape != along.shape:
        turned = np.array([image(column) for column in along.T])
        curvature = along, turned.reshape(along.shape[::-1]).T
    if along.shape[1] == 0:
        return _moved(problem, at.design, free, meeting), curvature
    size = float(np.linalg.norm(meeting))
    coupled = size * image(meeting / size) if size > COUPLED else np.zeros(free.size)
    directions, images = curvature
    matrix = along.T @ images @ (directions.T @ along)
    step = along_step(along, matrix, -along.T @ (here.gradient + coupled))
    return _moved(problem, at.design, free, meeting + step), curvature


def _moved(problem: DesignProblem, x: Floats, free: Indices, step: Floats) -> Floats:
    """Design after a step of some of the active scaled variables."""
    z = problem.scale(x)
    places = np.flatnonzero(problem.active)[free]
    z[places] += step
    moved = x.copy()
    moved[places] = problem.unscale(z)[places]
    return problem.clip(moved)
