"""SLSQP: what it asks of a problem."""

from __future__ import annotations

import numpy as np

from mdo.optimise.descent import Cache, slsqp
from mdo.optimise.problem import Evaluated

# Hock and Schittkowski, Test Examples for Nonlinear Programming Codes, 1981, problem 35 (from
# memory): least value 1/9 at (4/3, 7/9, 4/9)
BOUNDS = np.zeros(3), np.full(3, 10.0)
HESSIAN = np.array([[4.0, 2.0, 2.0], [2.0, 4.0, 0.0], [2.0, 0.0, 2.0]])
LINEAR = np.array([-8.0, -6.0, -4.0])


class Counting:
    """That problem in the place of a study; counts its evaluations."""

    active = np.ones(3, dtype=bool)

    def __init__(self) -> None:
        self.seen: list[bytes] = []

    def scale(self, x):
        return x

    unscale = clip = scale

    def evaluate(self, x):
        self.seen.append(x.tobytes())
        value = 9.0 + LINEAR @ x + x @ HESSIAN @ x / 2.0
        rows, slopes = np.array([3.0 - x[0] - x[1] - 2.0 * x[2]]), np.array([[-1.0, -1.0, -2.0]])
        return Evaluated(float(value), rows, LINEAR + HESSIAN @ x, slopes)


def test_every_design_is_evaluated_once() -> None:
    problem, start = Counting(), np.full(3, 0.5)
    cache = Cache(problem, start, np.array([0]))
    found = slsqp(cache.functions(1.0), start, *BOUNDS, iterations=50, tolerance=1e-12)
    np.testing.assert_allclose(found.x, [4 / 3, 7 / 9, 4 / 9], rtol=1e-5)
    again = sum(one == other for one, other in zip(problem.seen, problem.seen[1:], strict=False))
    assert again == 0
    assert len(problem.seen) < found.nfev + found.njev
