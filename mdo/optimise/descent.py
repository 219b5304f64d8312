"""The two steps of SLSQP from a start: the elastic problem, and the problem itself."""

from __future__ import annotations

from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from mdo.optimise.problem import DesignProblem, Evaluated

Floats = NDArray[np.float64]
PENALTY = 100.0  # rho, on the mass over that of the start: above the sum of multipliers seen (< 30)
ROUGH = 1e-7  # tolerance of the elastic step; Newton's steps do the rest
REACH = 1.0  # rows below this are given to the solver
ROUNDS = 6  # most rounds of adding rows


class _At:
    """Values at one design; derivatives are only taken where they are asked for."""

    def __init__(self, problem: DesignProblem, x: Floats, keep: NDArray[np.intp]) -> None:
        self.problem, self.x, self.keep = problem, x, keep

    @cached_property
    def slopes(self) -> Evaluated:
        """Values and derivatives."""
        value = self.problem.evaluate(self.x)
        return value._replace(rows=value.rows[self.keep], row_slopes=value.row_slopes[self.keep])

    @cached_property
    def values(self) -> tuple[float, Floats]:
        """Objective and rows: all that a line search asks for."""
        if "slopes" in self.__dict__:
            return self.slopes.objective, self.slopes.rows
        mass, rows = self.problem.values_only(self.x)
        return mass, rows[self.keep]


class Cache:
    """Evaluates a design once for objective, rows and derivatives."""

    def __init__(self, problem: DesignProblem, x: Floats, keep: NDArray[np.intp]) -> None:
        self.problem = problem
        self.keep = keep
        self._whole = problem.scale(x)
        self._seen: tuple[bytes, _At] | None = None

    def design(self, z: Floats) -> Floats:
        """Design vector of the scaled active variables, within its bounds."""
        whole = self._whole.copy()
        whole[self.problem.active] = z
        x = self.problem.unscale(whole)
        return np.clip(x, self.problem.lower, self.problem.upper)

    def objective(self, z: Floats) -> float:
        """Mass [kg]."""
        return self._at(z).values[0]

    def rows(self, z: Floats) -> Floats:
        """Rows given to the solver."""
        return self._at(z).values[1]

    def objective_slope(self, z: Floats) -> Floats:
        """Slope of the mass in the scaled variables."""
        return self._at(z).slopes.objective_slope

    def row_slopes(self, z: Floats) -> Floats:
        """Slopes of the rows in the scaled variables."""
        return self._at(z).slopes.row_slopes

    def _at(self, z: Floats) -> _At:
        key = z.tobytes()
        if self._seen is None or self._seen[0] != key:
            self._seen = (key, _At(self.problem, self.design(z), self.keep))
        return self._seen[1]


class Solved(NamedTuple):
    """A design that a solver left, and its values."""

    design: Floats
    mass: float
    rows: Floats

    @property
    def violation(self) -> float:
        """Largest violation of the rows given to the solver."""
        return max(0.0, -float(self.rows.min(initial=0.0)))


class Elastic(NamedTuple):
    """End of the elastic step: variables, multipliers of the rows, iterations, last message."""

    z: Floats
    multipliers: Floats
    iterations: int
    message: str


def elastic(
    cache: Cache, z: Floats, lower: Floats, upper: Floats, scale: float, iterations: int
) -> Elastic:
    """Minimise mass plus penalised slack; the start is feasible by construction.

    The solver sees the rows within reach of their limit; those that turn out to be violated all
    the same are added and it goes on, so that in the end every row has been looked at.
    """
    values = cache.rows(z)
    within = values < REACH
    spent = 0
    for _ in range(ROUNDS):
        chosen = np.flatnonzero(within)
        result = _with_rows(cache, z, chosen, lower, upper, scale, iterations)
        spent += int(result.nit)
        z = np.clip(result.x[:-1], lower, upper)
        values = cache.rows(z)
        missed = ~within & (values < -max(float(result.x[-1]), 0.0) - 1e-9)
        if not missed.any():
            break
        within |= values < REACH
    multipliers = np.zeros(within.size)
    multipliers[chosen] = result.multipliers
    return Elastic(z, multipliers, spent, str(result.message))


def _with_rows(
    cache: Cache,
    z: Floats,
    chosen: NDArray[np.intp],
    lower: Floats,
    upper: Floats,
    scale: float,
    iterations: int,
) -> Any:
    """Elastic problem with some of the rows."""
    slack = max(0.0, -float(cache.rows(z).min(initial=0.0)))
    ones = np.ones((chosen.size, 1))
    return minimize(
        lambda y: cache.objective(y[:-1]) / scale + PENALTY * y[-1],
        np.append(z, slack),
        jac=lambda y: np.append(cache.objective_slope(y[:-1]) / scale, PENALTY),
        bounds=[*zip(lower, upper, strict=True), (0.0, None)],
        constraints=[
            {
                "type": "ineq",
                "fun": lambda y: cache.rows(y[:-1])[chosen] + y[-1],
                "jac": lambda y: np.hstack([cache.row_slopes(y[:-1])[chosen], ones]),
            }
        ],
        method="SLSQP",
        options={"maxiter": iterations, "ftol": ROUGH},
    )


def plain(
    cache: Cache,
    z: Floats,
    lower: Floats,
    upper: Floats,
    scale: float,
    tolerance: float,
    iterations: int,
) -> Any:
    """The problem itself, from a start that is nearly feasible."""
    result = minimize(
        lambda v: cache.objective(v) / scale,
        z,
        jac=lambda v: cache.objective_slope(v) / scale,
        bounds=list(zip(lower, upper, strict=True)),
        constraints=[
            {
                "type": "ineq",
                "fun": cache.rows,
                "jac": cache.row_slopes,
            }
        ],
        method="SLSQP",
        options={"maxiter": iterations, "ftol": tolerance},
    )
    result.x = np.clip(result.x, lower, upper)
    return result
