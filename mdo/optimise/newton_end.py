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
from numpy.typing import NDArray
from scipy.optimize import nnls

from mdo.optimise.problem import DesignProblem, Evaluated

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
STEPS = 8
GOOD = 1e-10  # residual from which nothing is left to gain
DIFFERENCE = 1e-6  # step of the scaled variables
AT_BOUND = 1e-7
NEAR = 1e-4  # rows this close to their limit may be active
ROUNDS = 3  # most changes of the rows taken for active
COUPLED = 1e-6  # steps across the rows below this need no curvature of their own
RANK = 1e-9  # singular values below this share of the largest are zero


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


class _Curvature(NamedTuple):
    """Hessian of the Lagrangian along some directions: ``images = H @ directions``."""

    directions: Floats
    images: Floats


def optimality(
    problem: DesignProblem, x: Floats, keep: Indices, value: Evaluated | None = None
) -> Conditions:
    """Multipliers [kg per unit of row] and relative KKT residual at a design.

    Non-negative least squares on ``grad m = J_active^T lambda + bounds`` in scaled variables, over
    the gradient's norm.
    """
    value = problem.evaluate(x) if value is None else value
    active = keep[np.abs(value.rows[keep]) < NEAR]
    low, high = at_bounds(problem, x)
    unit = np.eye(low.size)
    columns = np.hstack([value.row_slopes[active].T, unit[:, low], -unit[:, high]])
    multipliers = np.zeros(value.rows.size)
    norm = max(float(np.linalg.norm(value.objective_slope)), 1e-30)
    if columns.shape[1] == 0:
        return Conditions(multipliers, 1.0)
    solution, residual = nnls(columns, value.objective_slope)
    multipliers[active] = solution[: active.size]
    complementary = float(np.abs(multipliers * value.rows).sum()) / norm
    return Conditions(multipliers, max(float(residual) / norm, complementary))


def at_bounds(problem: DesignProblem, x: Floats) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which active variables stand at their lower and upper bounds."""
    z = problem.scale(x)[problem.active]
    lower = problem.scale(problem.lower)[problem.active]
    upper = problem.scale(problem.upper)[problem.active]
    return z - lower < AT_BOUND, upper - z < AT_BOUND


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
        system = _System(at, rows, free)
        if not system.left < 0.5 * left or system.left < GOOD / 10.0:
            break
        left = system.left
        trial, curvature = _newton_step(problem, at, system, curvature)
        at = solution_at(problem, trial, keep)
    return at


def _carrying(solution: Solution) -> Indices:
    """Rows with a multiplier."""
    multipliers = solution.conditions.multipliers
    return np.flatnonzero(multipliers > 1e-6 * max(multipliers.max(initial=0.0), 1e-30))


class _System:
    """Optimality conditions with given rows as equations, at a solution."""

    def __init__(self, at: Solution, rows: Indices, free: Indices) -> None:
        self.rows, self.free = rows, free
        self.jacobian = at.value.row_slopes[rows][:, free]
        self.residual = at.value.rows[rows]
        slope = at.value.objective_slope[free]
        self.multipliers = np.linalg.lstsq(self.jacobian.T, slope, rcond=None)[0]
        self.gradient = slope - self.jacobian.T @ self.multipliers
        norm = max(float(np.linalg.norm(slope)), 1e-30)
        meets = float(np.abs(self.residual).max(initial=0.0))
        self.left = max(meets, float(np.linalg.norm(self.gradient)) / norm)

    def lagrangian_slope(self, value: Evaluated) -> Floats:
        """Gradient of ``m - lambda . rows`` in the free variables."""
        carried = value.row_slopes[self.rows][:, self.free].T @ self.multipliers
        return np.asarray(value.objective_slope[self.free] - carried)


def _newton_step(
    problem: DesignProblem, at: Solution, system: _System, curvature: _Curvature | None
) -> tuple[Floats, _Curvature]:
    """One Newton step, bounded variables fixed; curvature is reused where it is given."""
    left, sizes, right = np.linalg.svd(system.jacobian, full_matrices=True)
    rank = int((sizes > RANK * sizes.max(initial=1e-30)).sum())
    across, along = right[:rank].T, right[rank:].T
    meeting = across @ (-(left[:, :rank].T @ system.residual) / sizes[:rank])

    def image(step: Floats) -> Floats:
        """Hessian of the Lagrangian times a direction."""
        ahead = problem.evaluate(_moved(problem, at.design, system.free, DIFFERENCE * step))
        return np.asarray((system.lagrangian_slope(ahead) - system.gradient) / DIFFERENCE)

    if curvature is None or curvature.directions.shape != along.shape:
        images = [image(column) for column in along.T]
        curvature = _Curvature(along, np.array(images).reshape(along.shape[1], along.shape[0]).T)
    if along.shape[1] == 0:
        return _moved(problem, at.design, system.free, meeting), curvature
    size = float(np.linalg.norm(meeting))
    coupled = size * image(meeting / size) if size > COUPLED else np.zeros(system.free.size)
    matrix = along.T @ curvature.images @ (curvature.directions.T @ along)
    right_side = -along.T @ (system.gradient + coupled)
    step = along @ np.linalg.lstsq((matrix + matrix.T) / 2.0, right_side, rcond=None)[0]
    return _moved(problem, at.design, system.free, meeting + step), curvature


def _moved(problem: DesignProblem, x: Floats, free: Indices, step: Floats) -> Floats:
    """Design after a step of some of the active scaled variables."""
    z = problem.scale(x)
    places = np.flatnonzero(problem.active)[free]
    z[places] += step
    moved = x.copy()
    moved[places] = problem.unscale(z)[places]
    return np.clip(moved, problem.lower, problem.upper)
