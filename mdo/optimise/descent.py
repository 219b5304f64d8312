"""SLSQP: the functions it sees, of the problem itself and of the elastic one."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from scipy.optimize import minimize

from mdo.arrays import Floats, Indices
from mdo.optimise.problem import DesignProblem, Evaluated

PENALTY = 100.0  # rho, on the mass over that of the start: above the sum of multipliers seen (< 30)
ROUGH = 1e-7  # tolerance of the elastic step; Newton's steps do the rest
REACH = 1.0  # rows below this are given to the solver
ROUNDS = 6  # most rounds of adding rows
ALL = slice(None)


class Functions(NamedTuple):
    """What SLSQP sees: objective and rows (>= 0) of the variables, and their slopes."""

    objective: Callable[[Floats], float]
    objective_slope: Callable[[Floats], Floats]
    rows: Callable[[Floats], Floats]
    row_slopes: Callable[[Floats], Floats]


class Cache:
    """Evaluates a design once for objective, rows and derivatives."""

    def __init__(self, problem: DesignProblem, x: Floats, keep: Indices) -> None:
        self.problem = problem
        self.keep = keep
        self._whole = problem.scale(x)
        self._at = b""
        self._value: Evaluated | None = None

    def design(self, z: Floats) -> Floats:
        """Design vector of the scaled active variables, within its bounds."""
        whole = self._whole.copy()
        whole[self.problem.active] = z
        return self.problem.clip(self.problem.unscale(whole))

    def values(self, z: Floats) -> tuple[float, Floats]:
        """Mass [kg] and rows given to the solver."""
        value = self.slopes(z)
        return value.objective, value.rows

    def slopes(self, z: Floats) -> Evaluated:
        """Values and slopes in the scaled variables.

        A line search asks for values alone, but mostly goes on from there: slopes taken with them
        cost less than all outputs of the model do.
        """
        if self._value is None or z.tobytes() != self._at:
            value = self.problem.evaluate(self.design(z))
            self._at = z.tobytes()
            self._value = value._replace(
                rows=value.rows[self.keep], row_slopes=value.row_slopes[self.keep]
            )
        return self._value

    def functions(self, scale: float, chosen: Indices | slice = ALL) -> Functions:
        """Mass over a scale, and some of the rows."""
        return Functions(
            lambda z: self.values(z)[0] / scale,
            lambda z: self.slopes(z).objective_slope / scale,
            lambda z: self.values(z)[1][chosen],
            lambda z: self.slopes(z).row_slopes[chosen],
        )


class Elastic(NamedTuple):
    """End of the elastic step: variables, multipliers of the rows, iterations, last message."""

    z: Floats
    multipliers: Floats
    iterations: int
    message: str


def softened(hard: Functions, penalty: float, shares: Floats | float = 1.0) -> Functions:
    """Elastic problem: one more variable, a slack that is penalised.

    Every row may use it, or the share of it that is given for each.
    """

    def row_slopes(y: Floats) -> Floats:
        slopes = hard.row_slopes(y[:-1])
        return np.column_stack([slopes, np.broadcast_to(shares, len(slopes))])

    return Functions(
        lambda y: hard.objective(y[:-1]) + penalty * y[-1],
        lambda y: np.append(hard.objective_slope(y[:-1]), penalty),
        lambda y: hard.rows(y[:-1]) + shares * y[-1],
        row_slopes,
    )


def slsqp(
    functions: Functions,
    start: Floats,
    lower: Floats,
    upper: Floats,
    *,
    iterations: int,
    tolerance: float,
    penalty: float | None = None,
) -> Any:
    """Minimise by SLSQP between bounds; the result of scipy.

    With a penalty the rows are softened, and the last variable of the result is the slack.
    """
    if penalty is not None:
        slack = max(0.0, -float(functions.rows(start).min(initial=0.0)))
        functions = softened(functions, penalty)
        start, lower = np.append(start, slack), np.append(lower, 0.0)
        upper = np.append(upper, np.inf)
    return minimize(
        functions.objective, start, jac=functions.objective_slope, method="SLSQP",
        bounds=list(zip(lower, upper, strict=True)),
        constraints=[{"type": "ineq", "fun": functions.rows, "jac": functions.row_slopes}],
        options={"maxiter": iterations, "ftol": tolerance},
    )  # fmt: skip


def elastic(
    cache: Cache, z: Floats, lower: Floats, upper: Floats, scale: float, iterations: int
) -> Elastic:
    """Minimise mass plus penalised slack; the start is feasible by construction.

    The solver sees the rows within reach of their limit; those that turn out to be violated all
    the same are added and it goes on, so that in the end every row has been looked at.
    """
    within = cache.values(z)[1] < REACH
    spent = 0
    for _ in range(ROUNDS):
        chosen = np.flatnonzero(within)
        result = slsqp(
            cache.functions(scale, chosen), z, lower, upper,
            penalty=PENALTY, iterations=iterations, tolerance=ROUGH,
        )  # fmt: skip
        spent += int(result.nit)
        z = np.clip(result.x[:-1], lower, upper)
        values = cache.values(z)[1]
        missed = ~within & (values < -max(float(result.x[-1]), 0.0) - 1e-9)
        if not missed.any():
            break
        within |= values < REACH
    multipliers = np.zeros(within.size)
    multipliers[chosen] = result.multipliers
    return Elastic(z, multipliers, spent, str(result.message))
