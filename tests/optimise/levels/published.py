"""Published pairs of a dear and a cheap function with known optima, and their models.

Formulas and optima from memory; the optimum of each is checked against SLSQP of scipy.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy as np

from mdo.model.kept import known_options
from mdo.optimise.descent import Functions, slsqp
from mdo.optimise.levels.trust_region import Difference, Direct, Model
from mdo.optimise.problem import Evaluated

PENALTY = 1e3


class Pair(NamedTuple):
    """Dear and cheap objective and rows (>= 0), bounds, and the known least value."""

    source: str
    dear: Callable[[Any], Any]
    cheap: Callable[[Any], Any]
    lower: np.ndarray
    upper: np.ndarray
    least: float
    at: tuple[np.ndarray, ...]


def _no_rows(objective):
    return lambda x: (objective(x), jnp.zeros(0))


def _forrester(x):
    return (6.0 * x[0] - 2.0) ** 2 * jnp.sin(12.0 * x[0] - 4.0)


def _rosenbrock(x):
    return jnp.sum(100.0 * (x[1:] - x[:-1] ** 2) ** 2 + (1.0 - x[:-1]) ** 2)


def _cheap_rosenbrock(x):
    bent = jnp.sum(50.0 * (x[1:] - x[:-1] ** 2) ** 2 + (-2.0 - x[:-1]) ** 2)
    return bent - jnp.sum(0.5 * x)


def _branin(x):
    bent = x[1] - 5.1 / (4.0 * jnp.pi**2) * x[0] ** 2 + 5.0 / jnp.pi * x[0] - 6.0
    return bent**2 + 10.0 * (1.0 - 1.0 / (8.0 * jnp.pi)) * jnp.cos(x[0]) + 10.0


def _cheap_branin(x):
    return 10.0 * jnp.sqrt(_branin(x - 2.0)) + 2.0 * (x[0] - 0.5) - 3.0 * (3.0 * x[1] - 1.0) - 1.0


PAIRS = {
    "forrester": Pair(
        "Forrester, Sobester and Keane, Proc. R. Soc. A 463, 2007",
        _no_rows(_forrester),
        _no_rows(lambda x: 0.5 * _forrester(x) + 10.0 * (x[0] - 0.5) - 5.0),
        np.zeros(1), np.ones(1), -6.020740, (np.array([0.757249]),),
    ),
    "rosenbrock 2": Pair(
        "Mainini and others, benchmarks of task group AVT-331, 2022",
        _no_rows(_rosenbrock), _no_rows(_cheap_rosenbrock),
        np.full(2, -2.0), np.full(2, 2.0), 0.0, (np.ones(2),),
    ),
    "rosenbrock 5": Pair(
        "Mainini and others, benchmarks of task group AVT-331, 2022",
        _no_rows(_rosenbrock), _no_rows(_cheap_rosenbrock),
        np.full(5, -2.0), np.full(5, 2.0), 0.0, (np.ones(5),),
    ),
    "branin": Pair(
        "Perdikaris and others, Proc. R. Soc. A 473, 2017 (its middle level)",
        _no_rows(_branin), _no_rows(_cheap_branin),
        np.array([-5.0, 0.0]), np.array([10.0, 15.0]), 0.397887,
        (np.array([-np.pi, 12.275]), np.array([np.pi, 2.275]), np.array([9.42478, 2.475])),
    ),
    "constrained": Pair(
        "Gano, Renaud and Sanders, AIAA Journal 43, 2005",
        lambda x: (4.0 * x[0] ** 2 + x[1] ** 3 + x[0] * x[1],
                   jnp.array([2.0 - 1.0 / x[0] - 1.0 / x[1]])),
        lambda x: (4.0 * (x[0] + 0.1) ** 2 + (x[1] - 0.1) ** 3 + x[0] * x[1] + 0.1,
                   jnp.array([2.001 - 1.0 / x[0] - 1.0 / (x[1] + 0.1)])),
        np.full(2, 0.1), np.full(2, 10.0), 5.66836, (np.array([0.884644, 1.149993]),),
    ),
}  # fmt: skip


def model_of(functions: Callable[[Any], Any]) -> Model:
    """Values and slopes of objective and rows by automatic differentiation.

    With the compiler's own emitters, whatever the tests set: SLSQP ends the subproblem of the
    constrained pair at a residual of 1e-6 by the last digits of its functions.
    """
    options = known_options(xla_cpu_use_fusion_emitters=True)
    values = jax.jit(functions, compiler_options=options)
    slopes = jax.jit(jax.jacfwd(functions), compiler_options=options)

    def both(z: np.ndarray) -> Evaluated:
        (objective, rows), (gradient, jacobian) = values(z), slopes(z)
        return Evaluated(
            float(objective), np.asarray(rows), np.asarray(gradient), np.asarray(jacobian)
        )

    def only(z: np.ndarray) -> tuple[float, np.ndarray]:
        objective, rows = values(z)
        return float(objective), np.asarray(rows)

    return Model(only, both)


def seen(slopes: Callable[[np.ndarray], Evaluated]) -> Functions:
    """Functions as SLSQP sees them; without rows it gets one that holds everywhere."""

    def rows(z: np.ndarray) -> np.ndarray:
        return np.append(slopes(z).rows, 1.0)

    return Functions(
        lambda z: slopes(z).objective,
        lambda z: slopes(z).objective_slope,
        rows,
        lambda z: np.vstack([slopes(z).row_slopes, np.zeros(z.size)]),
    )


def subproblem_of(cheap: Model):
    """Minimiser of a cheap model with a difference, between bounds."""

    def solve(difference: Difference, low: np.ndarray, high: np.ndarray) -> np.ndarray:
        end = slsqp(
            seen(lambda z: difference.corrected(z, cheap.slopes(z))), difference.centre, low, high,
            penalty=PENALTY, iterations=200, tolerance=1e-13,
        )  # fmt: skip
        return np.asarray(end.x[:-1])

    return solve


def direct_of(dear: Model, lower: np.ndarray, upper: np.ndarray):
    """Minimiser of the dear model from a design, with what it takes."""

    def solve(z: np.ndarray) -> Direct:
        end = slsqp(seen(dear.slopes), z, lower, upper, iterations=300, tolerance=1e-15)
        return Direct(np.asarray(end.x), int(end.nfev), int(end.njev))

    return solve
