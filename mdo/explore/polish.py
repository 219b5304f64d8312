"""Newton steps on the optimality conditions, from a solution that a solver left at 1e-5 or so.

With the active rows and bounds known, the conditions ``grad m = J^T lambda`` and ``rows = 0`` are
equations. Their Hessian is taken by central differences of the exact gradients, so no second
derivatives are compiled.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import nnls

from mdo.explore.problem import DesignProblem, Evaluated

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
STEPS = 6
DIFFERENCE = 1e-5  # step of the scaled variables
AT_BOUND = 1e-7
NEAR = 1e-4  # rows this close to their limit may be active


class Conditions(NamedTuple):
    """Multipliers of the counting rows and how far the optimality conditions are from holding."""

    multipliers: Floats
    residual: float


def optimality(problem: DesignProblem, x: Floats, keep: Indices) -> Conditions:
    """Multipliers [kg per unit of row] and relative KKT residual at a design.

    Non-negative least squares on ``grad m = J_active^T lambda + bounds`` in scaled variables, over
    the gradient's norm.
    """
    value = problem.evaluate(x)
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


def polish(problem: DesignProblem, x: Floats, keep: Indices) -> Floats:
    """Improve a solution by Newton steps; returns the design with the least KKT residual.

    Never returns a design that violates a row more than the one given or 1e-9, whichever is more.
    """
    best, conditions = x, optimality(problem, x, keep)
    allowed = max(1e-9, -float(problem.evaluate(x).rows[keep].min()))
    for _ in range(STEPS):
        if conditions.residual < 1e-10:
            break
        trial = _newton_step(problem, best, keep, conditions)
        after = optimality(problem, trial, keep)
        violation = -float(problem.evaluate(trial).rows[keep].min())
        if not after.residual < conditions.residual or violation > allowed:
            break
        best, conditions = trial, after
    return best


def _newton_step(
    problem: DesignProblem, x: Floats, keep: Indices, conditions: Conditions
) -> Floats:
    """One Newton step on stationarity and the rows with a multiplier, bounded variables fixed."""
    value = problem.evaluate(x)
    largest = conditions.multipliers.max()
    rows = keep[conditions.multipliers[keep] > 1e-6 * max(largest, 1e-30)]
    low, high = at_bounds(problem, x)
    free = np.flatnonzero(~(low | high))
    multipliers = conditions.multipliers[rows]
    hessian = _lagrangian_hessian(problem, x, rows, multipliers, free)
    jacobian = value.row_slopes[rows][:, free]
    gradient = value.objective_slope[free] - jacobian.T @ multipliers
    size = rows.size
    matrix = np.block([[hessian, -jacobian.T], [jacobian, np.zeros((size, size))]])
    right = -np.concatenate([gradient, value.rows[rows]])
    step = np.linalg.lstsq(matrix, right, rcond=None)[0][: free.size]
    return _moved(problem, x, free, step)


def _moved(problem: DesignProblem, x: Floats, free: Indices, step: Floats) -> Floats:
    """Design after a step of some of the active scaled variables."""
    z = problem.scale(x)
    places = np.flatnonzero(problem.active)[free]
    z[places] += step
    moved = x.copy()
    moved[places] = problem.unscale(z)[places]
    return np.clip(moved, problem.lower, problem.upper)


def _lagrangian_hessian(
    problem: DesignProblem, x: Floats, rows: Indices, multipliers: Floats, free: Indices
) -> Floats:
    """Hessian of ``m - lambda . rows`` in the free scaled variables, by central differences."""

    def slope(value: Evaluated) -> Floats:
        whole = value.objective_slope - value.row_slopes[rows].T @ multipliers
        return np.asarray(whole[free])

    columns = []
    for number in range(free.size):
        step = np.zeros(free.size)
        step[number] = DIFFERENCE
        ahead = slope(problem.evaluate(_moved(problem, x, free, step)))
        behind = slope(problem.evaluate(_moved(problem, x, free, -step)))
        columns.append((ahead - behind) / (2.0 * DIFFERENCE))
    hessian = np.array(columns)
    return (hessian + hessian.T) / 2.0
