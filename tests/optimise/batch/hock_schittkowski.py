"""Problems of Hock and Schittkowski with their printed optima, padded to one shape.

W. Hock, K. Schittkowski, Test Examples for Nonlinear Programming Codes, Lecture Notes in Economics
and Mathematical Systems 187 1981: formulas, starting points and optima from memory, by
the number of the problem. An equality is two rows of opposite sign.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from math import inf, log, pi, sqrt
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy as np

from mdo.optimise.batch.functions import Model, Problems
from mdo.optimise.batch.iteration import Slope, Value

VARIABLES = 10
ROWS = 8


class Problem(NamedTuple):
    """One problem: inequalities are ``>= 0``, equalities ``= 0``."""

    number: int
    objective: Callable[[Any], Any]
    start: tuple[float, ...]
    optimum: float
    inequalities: Callable[[Any], tuple[Any, ...]] = lambda x: ()
    equalities: Callable[[Any], tuple[Any, ...]] = lambda x: ()
    lower: Any = -inf
    upper: Any = inf


def rosenbrock(x):
    return 100 * (x[1] - x[0] ** 2) ** 2 + (1 - x[0]) ** 2


def product(x, n=3):
    return jnp.prod(x[:n])


def powell_rows(x):
    return (jnp.sum(x[:5] ** 2) - 10, x[1] * x[2] - 5 * x[3] * x[4], x[0] ** 3 + x[1] ** 3 + 1)


def quadratic_51(x):
    return (x[1] + x[2] - 2) ** 2 + (x[3] - 1) ** 2 + (x[4] - 1) ** 2


def rows_52(x):
    return x[0] + 3 * x[1], x[2] + x[3] - 2 * x[4], x[1] - x[4]


def colville_4(x):
    return (
        rosenbrock(x)
        + 90 * (x[3] - x[2] ** 2) ** 2
        + (1 - x[2]) ** 2
        + 10.1 * ((x[1] - 1) ** 2 + (x[3] - 1) ** 2)
        + 19.8 * (x[1] - 1) * (x[3] - 1)
    )


PROBLEMS = (
    Problem(1, rosenbrock, (-2, 1), 0.0, lower=(-inf, -1.5)),
    Problem(2, rosenbrock, (-2, 1), 0.0504261879, lower=(-inf, 1.5)),
    Problem(3, lambda x: x[1] + 1e-5 * (x[1] - x[0]) ** 2, (10, 1), 0.0, lower=(-inf, 0)),
    Problem(4, lambda x: (x[0] + 1) ** 3 / 3 + x[1], (1.125, 0.125), 8 / 3, lower=(1, 0)),
    Problem(
        5,
        lambda x: jnp.sin(x[0] + x[1]) + (x[0] - x[1]) ** 2 - 1.5 * x[0] + 2.5 * x[1] + 1,
        (0, 0), -sqrt(3) / 2 - pi / 3, lower=(-1.5, -3), upper=(4, 3),
    ),
    Problem(6, lambda x: (1 - x[0]) ** 2, (-1.2, 1), 0.0,
            equalities=lambda x: (10 * (x[1] - x[0] ** 2),)),
    Problem(7, lambda x: jnp.log(1 + x[0] ** 2) - x[1], (2, 2), -sqrt(3),
            equalities=lambda x: ((1 + x[0] ** 2) ** 2 + x[1] ** 2 - 4,)),
    Problem(9, lambda x: jnp.sin(pi * x[0] / 12) * jnp.cos(pi * x[1] / 16), (0, 0), -0.5,
            equalities=lambda x: (4 * x[0] - 3 * x[1],)),
    Problem(10, lambda x: x[0] - x[1], (-10, 10), -1.0,
            lambda x: (-3 * x[0] ** 2 + 2 * x[0] * x[1] - x[1] ** 2 + 1,)),
    Problem(11, lambda x: (x[0] - 5) ** 2 + x[1] ** 2 - 25, (4.9, 0.1), -8.498464223,
            lambda x: (x[1] - x[0] ** 2,)),
    Problem(12, lambda x: x[0] ** 2 / 2 + x[1] ** 2 - x[0] * x[1] - 7 * x[0] - 7 * x[1], (0, 0),
            -30.0, lambda x: (25 - 4 * x[0] ** 2 - x[1] ** 2,)),
    Problem(14, lambda x: (x[0] - 2) ** 2 + (x[1] - 1) ** 2, (2, 2), 9 - 2.875 * sqrt(7),
            lambda x: (1 - x[0] ** 2 / 4 - x[1] ** 2,), lambda x: (x[0] - 2 * x[1] + 1,)),
    Problem(15, rosenbrock, (-2, 1), 306.5, lambda x: (x[0] * x[1] - 1, x[0] + x[1] ** 2),
            upper=(0.5, inf)),
    Problem(16, rosenbrock, (-2, 1), 0.25, lambda x: (x[0] + x[1] ** 2, x[0] ** 2 + x[1]),
            lower=(-0.5, -inf), upper=(0.5, 1)),
    Problem(17, rosenbrock, (-2, 1), 1.0, lambda x: (x[1] ** 2 - x[0], x[0] ** 2 - x[1]),
            lower=(-0.5, -inf), upper=(0.5, 1)),
    Problem(18, lambda x: 0.01 * x[0] ** 2 + x[1] ** 2, (2, 2), 5.0,
            lambda x: (x[0] * x[1] - 25, x[0] ** 2 + x[1] ** 2 - 25), lower=(2, 0), upper=50),
    Problem(19, lambda x: (x[0] - 10) ** 3 + (x[1] - 20) ** 3, (20.1, 5.84), -6961.81381,
            lambda x: ((x[0] - 5) ** 2 + (x[1] - 5) ** 2 - 100,
                       82.81 - (x[1] - 5) ** 2 - (x[0] - 6) ** 2), lower=(13, 0), upper=100),
    Problem(20, rosenbrock, (-2, 1), 81.5 - 25 * sqrt(3),
            lambda x: (x[0] + x[1] ** 2, x[0] ** 2 + x[1], x[0] ** 2 + x[1] ** 2 - 1),
            lower=(-0.5, -inf), upper=(0.5, inf)),
    Problem(21, lambda x: 0.01 * x[0] ** 2 + x[1] ** 2 - 100, (-1, -1), -99.96,
            lambda x: (10 * x[0] - x[1] - 10,), lower=(2, -50), upper=50),
    Problem(22, lambda x: (x[0] - 2) ** 2 + (x[1] - 1) ** 2, (2, 2), 1.0,
            lambda x: (2 - x[0] - x[1], x[1] - x[0] ** 2)),
    Problem(23, lambda x: x[0] ** 2 + x[1] ** 2, (3, 1), 2.0,
            lambda x: (x[0] + x[1] - 1, x[0] ** 2 + x[1] ** 2 - 1, 9 * x[0] ** 2 + x[1] ** 2 - 9,
                       x[0] ** 2 - x[1], x[1] ** 2 - x[0]), lower=-50, upper=50),
    Problem(24, lambda x: ((x[0] - 3) ** 2 - 9) * x[1] ** 3 / (27 * sqrt(3)), (1, 0.5), -1.0,
            lambda x: (x[0] / sqrt(3) - x[1], x[0] + sqrt(3) * x[1], 6 - x[0] - sqrt(3) * x[1]),
            lower=0),
    Problem(26, lambda x: (x[0] - x[1]) ** 2 + (x[1] - x[2]) ** 4, (-2.6, 2, 2), 0.0,
            equalities=lambda x: ((1 + x[1] ** 2) * x[0] + x[2] ** 4 - 3,)),
    Problem(27, lambda x: 0.01 * (x[0] - 1) ** 2 + (x[1] - x[0] ** 2) ** 2, (2, 2, 2), 0.04,
            equalities=lambda x: (x[0] + x[2] ** 2 + 1,)),
    Problem(28, lambda x: (x[0] + x[1]) ** 2 + (x[1] + x[2]) ** 2, (-4, 1, 1), 0.0,
            equalities=lambda x: (x[0] + 2 * x[1] + 3 * x[2] - 1,)),
    Problem(29, lambda x: -product(x), (1, 1, 1), -16 * sqrt(2),
            lambda x: (48 - x[0] ** 2 - 2 * x[1] ** 2 - 4 * x[2] ** 2,)),
    Problem(30, lambda x: jnp.sum(x[:3] ** 2), (1, 1, 1), 1.0,
            lambda x: (x[0] ** 2 + x[1] ** 2 - 1,), lower=(1, -10, -10), upper=10),
    Problem(31, lambda x: 9 * x[0] ** 2 + x[1] ** 2 + 9 * x[2] ** 2, (1, 1, 1), 6.0,
            lambda x: (x[0] * x[1] - 1,), lower=(-10, 1, -10), upper=(10, 10, 1)),
    Problem(32, lambda x: (x[0] + 3 * x[1] + x[2]) ** 2 + 4 * (x[0] - x[1]) ** 2, (0.1, 0.7, 0.2),
            1.0, lambda x: (6 * x[1] + 4 * x[2] - x[0] ** 3 - 3,),
            lambda x: (1 - x[0] - x[1] - x[2],), lower=0),
    Problem(33, lambda x: (x[0] - 1) * (x[0] - 2) * (x[0] - 3) + x[2], (0, 0, 3), sqrt(2) - 6,
            lambda x: (x[2] ** 2 - x[1] ** 2 - x[0] ** 2, jnp.sum(x[:3] ** 2) - 4),
            lower=0, upper=(inf, inf, 5)),
    Problem(34, lambda x: -x[0], (0, 1.05, 2.9), -log(log(10)),
            lambda x: (x[1] - jnp.exp(x[0]), x[2] - jnp.exp(x[1])), lower=0, upper=(100, 100, 10)),
    Problem(35, lambda x: 9 - 8 * x[0] - 6 * x[1] - 4 * x[2] + 2 * x[0] ** 2 + 2 * x[1] ** 2
            + x[2] ** 2 + 2 * x[0] * x[1] + 2 * x[0] * x[2], (0.5, 0.5, 0.5), 1 / 9,
            lambda x: (3 - x[0] - x[1] - 2 * x[2],), lower=0),
    Problem(36, lambda x: -product(x), (10, 10, 10), -3300.0,
            lambda x: (72 - x[0] - 2 * x[1] - 2 * x[2],), lower=0, upper=(20, 11, 42)),
    Problem(37, lambda x: -product(x), (10, 10, 10), -3456.0,
            lambda x: (72 - x[0] - 2 * x[1] - 2 * x[2], x[0] + 2 * x[1] + 2 * x[2]),
            lower=0, upper=42),
    Problem(38, colville_4, (-3, -1, -3, -1), 0.0, lower=-10, upper=10),
    Problem(39, lambda x: -x[0], (2, 2, 2, 2), -1.0,
            equalities=lambda x: (x[1] - x[0] ** 3 - x[2] ** 2, x[0] ** 2 - x[1] - x[3] ** 2)),
    Problem(40, lambda x: -product(x, 4), (0.8, 0.8, 0.8, 0.8), -0.25,
            equalities=lambda x: (x[0] ** 3 + x[1] ** 2 - 1, x[0] ** 2 * x[3] - x[2],
                                  x[3] ** 2 - x[1])),
    Problem(42, lambda x: jnp.sum((x[:4] - jnp.arange(1.0, 5.0)) ** 2), (1, 1, 1, 1),
            28 - 10 * sqrt(2), equalities=lambda x: (x[0] - 2, x[2] ** 2 + x[3] ** 2 - 2)),
    Problem(43, lambda x: x[0] ** 2 + x[1] ** 2 + 2 * x[2] ** 2 + x[3] ** 2 - 5 * x[0] - 5 * x[1]
            - 21 * x[2] + 7 * x[3], (0, 0, 0, 0), -44.0,
            lambda x: (
                8 - jnp.sum(x[:4] ** 2) - x[0] + x[1] - x[2] + x[3],
                10 - x[0] ** 2 - 2 * x[1] ** 2 - x[2] ** 2 - 2 * x[3] ** 2 + x[0] + x[3],
                5 - 2 * x[0] ** 2 - x[1] ** 2 - x[2] ** 2 - 2 * x[0] + x[1] + x[3])),
    Problem(45, lambda x: 2 - product(x, 5) / 120, (2, 2, 2, 2, 2), 1.0, lower=0,
            upper=(1, 2, 3, 4, 5)),
    Problem(48, lambda x: (x[0] - 1) ** 2 + (x[1] - x[2]) ** 2 + (x[3] - x[4]) ** 2,
            (3, 5, -3, 2, -2), 0.0,
            equalities=lambda x: (jnp.sum(x[:5]) - 5, x[2] - 2 * (x[3] + x[4]) + 3)),
    Problem(51, lambda x: (x[0] - x[1]) ** 2 + quadratic_51(x), (2.5, 0.5, 2, -1, 0.5), 0.0,
            equalities=lambda x: (x[0] + 3 * x[1] - 4, x[2] + x[3] - 2 * x[4], x[1] - x[4])),
    Problem(52, lambda x: (4 * x[0] - x[1]) ** 2 + quadratic_51(x), (2, 2, 2, 2, 2), 1859 / 349,
            equalities=rows_52),
    Problem(53, lambda x: (x[0] - x[1]) ** 2 + quadratic_51(x), (2, 2, 2, 2, 2), 176 / 43,
            equalities=rows_52, lower=-10, upper=10),
    Problem(60, lambda x: (x[0] - 1) ** 2 + (x[0] - x[1]) ** 2 + (x[1] - x[2]) ** 4, (2, 2, 2),
            0.03256820025,
            equalities=lambda x: (x[0] * (1 + x[1] ** 2) + x[2] ** 4 - 4 - 3 * sqrt(2),),
            lower=-10, upper=10),
    Problem(61, lambda x: 4 * x[0] ** 2 + 2 * x[1] ** 2 + 2 * x[2] ** 2 - 33 * x[0] + 16 * x[1]
            - 24 * x[2], (0, 0, 0), -143.6461422,
            equalities=lambda x: (3 * x[0] - 2 * x[1] ** 2 - 7, 4 * x[0] - x[2] ** 2 - 11)),
    Problem(63, lambda x: 1000 - x[0] ** 2 - 2 * x[1] ** 2 - x[2] ** 2 - x[0] * x[1] - x[0] * x[2],
            (2, 2, 2), 961.7151721,
            equalities=lambda x: (8 * x[0] + 14 * x[1] + 7 * x[2] - 56, jnp.sum(x[:3] ** 2) - 25),
            lower=0),
    Problem(65, lambda x: (x[0] - x[1]) ** 2 + (x[0] + x[1] - 10) ** 2 / 9 + (x[2] - 5) ** 2,
            (-5, 5, 0), 0.9535288567, lambda x: (48 - jnp.sum(x[:3] ** 2),),
            lower=(-4.5, -4.5, -5), upper=(4.5, 4.5, 5)),
    Problem(66, lambda x: 0.2 * x[2] - 0.8 * x[0], (0, 1.05, 2.9), 0.5181632741,
            lambda x: (x[1] - jnp.exp(x[0]), x[2] - jnp.exp(x[1])), lower=0, upper=(100, 100, 10)),
    Problem(71, lambda x: x[0] * x[3] * jnp.sum(x[:3]) + x[2], (1, 5, 5, 1), 17.0140173,
            lambda x: (product(x, 4) - 25,), lambda x: (jnp.sum(x[:4] ** 2) - 40,),
            lower=1, upper=5),
    Problem(76, lambda x: x[0] ** 2 + x[1] ** 2 / 2 + x[2] ** 2 + x[3] ** 2 / 2 - x[0] * x[2]
            + x[2] * x[3] - x[0] - 3 * x[1] + x[2] - x[3], (0.5, 0.5, 0.5, 0.5), -4.681818181,
            lambda x: (5 - x[0] - 2 * x[1] - x[2] - x[3], 4 - 3 * x[0] - x[1] - 2 * x[2] + x[3],
                       x[1] + 4 * x[2] - 1.5), lower=0),
    Problem(77, lambda x: (x[0] - 1) ** 2 + (x[0] - x[1]) ** 2 + (x[2] - 1) ** 2 + (x[3] - 1) ** 4
            + (x[4] - 1) ** 6, (2, 2, 2, 2, 2), 0.24150513,
            equalities=lambda x: (x[0] ** 2 * x[3] + jnp.sin(x[3] - x[4]) - 2 * sqrt(2),
                                  x[1] + x[2] ** 4 * x[3] ** 2 - 8 - sqrt(2))),
    Problem(78, lambda x: product(x, 5), (-2, 1.5, 2, -1, -1), -2.91970041,
            equalities=powell_rows),
    Problem(79, lambda x: (x[0] - 1) ** 2 + (x[0] - x[1]) ** 2 + (x[1] - x[2]) ** 2
            + (x[2] - x[3]) ** 4 + (x[3] - x[4]) ** 4, (2, 2, 2, 2, 2), 0.0787768209,
            equalities=lambda x: (x[0] + x[1] ** 2 + x[2] ** 3 - 2 - 3 * sqrt(2),
                                  x[1] - x[2] ** 2 + x[3] + 2 - 2 * sqrt(2), x[0] * x[4] - 2)),
    Problem(80, lambda x: jnp.exp(product(x, 5)), (-2, 2, 2, -1, -1), 0.0539498478,
            equalities=powell_rows, lower=(-2.3, -2.3, -3.2, -3.2, -3.2),
            upper=(2.3, 2.3, 3.2, 3.2, 3.2)),
    Problem(81, lambda x: jnp.exp(product(x, 5)) - (x[0] ** 3 + x[1] ** 3 + 1) ** 2 / 2,
            (-2, 2, 2, -1, -1), 0.0539498478, equalities=powell_rows,
            lower=(-2.3, -2.3, -3.2, -3.2, -3.2), upper=(2.3, 2.3, 3.2, 3.2, 3.2)),
    Problem(100, lambda x: (x[0] - 10) ** 2 + 5 * (x[1] - 12) ** 2 + x[2] ** 4
            + 3 * (x[3] - 11) ** 2 + 10 * x[4] ** 6 + 7 * x[5] ** 2 + x[6] ** 4 - 4 * x[5] * x[6]
            - 10 * x[5] - 8 * x[6], (1, 2, 0, 4, 0, 1, 1), 680.6300573,
            lambda x: (
                127 - 2 * x[0] ** 2 - 3 * x[1] ** 4 - x[2] - 4 * x[3] ** 2 - 5 * x[4],
                282 - 7 * x[0] - 3 * x[1] - 10 * x[2] ** 2 - x[3] + x[4],
                196 - 23 * x[0] - x[1] ** 2 - 6 * x[5] ** 2 + 8 * x[6],
                -4 * x[0] ** 2 - x[1] ** 2 + 3 * x[0] * x[1] - 2 * x[2] ** 2 - 5 * x[5]
                + 11 * x[6])),
    Problem(113, lambda x: x[0] ** 2 + x[1] ** 2 + x[0] * x[1] - 14 * x[0] - 16 * x[1]
            + (x[2] - 10) ** 2 + 4 * (x[3] - 5) ** 2 + (x[4] - 3) ** 2 + 2 * (x[5] - 1) ** 2
            + 5 * x[6] ** 2 + 7 * (x[7] - 11) ** 2 + 2 * (x[8] - 10) ** 2 + (x[9] - 7) ** 2 + 45,
            (2, 3, 5, 5, 1, 2, 7, 3, 6, 10), 24.3062091,
            lambda x: (
                105 - 4 * x[0] - 5 * x[1] + 3 * x[6] - 9 * x[7],
                -10 * x[0] + 8 * x[1] + 17 * x[6] - 2 * x[7],
                8 * x[0] - 2 * x[1] - 5 * x[8] + 2 * x[9] + 12,
                -3 * (x[0] - 2) ** 2 - 4 * (x[1] - 3) ** 2 - 2 * x[2] ** 2 + 7 * x[3] + 120,
                -5 * x[0] ** 2 - 8 * x[1] - (x[2] - 6) ** 2 + 2 * x[3] + 40,
                -((x[0] - 8) ** 2) / 2 - 2 * (x[1] - 4) ** 2 - 3 * x[4] ** 2 + x[5] + 30,
                -x[0] ** 2 - 2 * (x[1] - 2) ** 2 + 2 * x[0] * x[1] - 14 * x[4] + 6 * x[5],
                3 * x[0] - 6 * x[1] - 12 * (x[8] - 8) ** 2 + 7 * x[9])),
)  # fmt: skip


def rows_of(problem: Problem, x: Any) -> list[Any]:
    """Inequalities, then every equality from both sides."""
    equal = problem.equalities(x)
    return [*problem.inequalities(x), *equal, *(-row for row in equal)]


def _padded(problem: Problem) -> Callable[[Any], Value]:
    def values(x: Any) -> Value:
        rows = [jnp.asarray(row, dtype=float) for row in rows_of(problem, x)]
        filled = jnp.stack([*rows, *[jnp.ones(())] * (ROWS - len(rows))])
        return Value(jnp.asarray(problem.objective(x), dtype=float), filled)

    return values


_BRANCHES = [_padded(problem) for problem in PROBLEMS]


def model_of(values: Callable[[Any, Any], Value]) -> Model:
    """Model of a function of one lane that can be traced; derivatives by JAX."""

    def slopes(x: Any, data: Any) -> tuple[Value, Slope]:
        def twice(at: Any) -> tuple[Value, Value]:
            value = values(at, data)
            return value, value

        slope, value = jax.jacfwd(twice, has_aux=True)(x)
        return value, Slope(slope.f, slope.c)

    valued, sloped = jax.jit(jax.vmap(values)), jax.jit(jax.vmap(slopes))
    return Model(
        valued, sloped, lambda z, data: [partial(valued, z, data), partial(sloped, z, data)]
    )


def _values(x: Any, which: Any) -> Value:
    return jax.lax.switch(which, _BRANCHES, x)


MODEL = model_of(_values)


def all_problems(problems: tuple[Problem, ...] = PROBLEMS) -> Problems:
    """Problems of the set as one batch; a lane knows its own by its place in PROBLEMS."""
    start, lower, upper = (np.zeros((len(problems), VARIABLES)) for _ in range(3))
    counts = np.zeros((len(problems), ROWS), dtype=bool)
    for i, one in enumerate(problems):
        n = len(one.start)
        start[i, :n] = one.start
        lower[i, :n], upper[i, :n] = one.lower, one.upper
        counts[i, : len(rows_of(one, start[i]))] = True
    places = {one.number: place for place, one in enumerate(PROBLEMS)}
    which = np.array([places[one.number] for one in problems])
    return Problems(start, lower, upper, counts, which)
