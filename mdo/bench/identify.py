"""What a log cannot tell: combinations of parameters that it leaves open, and the test that would.

A direction is a combination of parameters, each counted in half of its known range. A log that
narrows it to no less than that range has told nothing on it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from mdo.bench.fit import Fit
from mdo.bench.log_cells import Numbers

DEVIATIONS = 1.96  # of a normal distribution, on either side of 95 %
PART = 0.3  # weight from which a parameter belongs to a direction; judgement
ALIKE = 0.95  # correlation from which two parameters cannot be told apart; judgement
RANGE = 1.0 / 3.0  # variance of what is even between -1 and 1


class Direction(NamedTuple):
    """A combination of parameters and the half width that a log leaves it, in half ranges.

    ``weights`` has length 1 over all parameters; ``names`` are those that matter in it.
    """

    names: tuple[str, ...]
    weights: Numbers
    left: float

    @property
    def is_open(self) -> bool:
        """Whether the log says nothing on it."""
        return self.left >= 1.0


class Pair(NamedTuple):
    """Two parameters and the correlation of their errors [1]."""

    first: str
    second: str
    correlation: float


class Separation(NamedTuple):
    """A test, and the half width that log and test together leave the least known direction."""

    test: str
    left: float


def directions(fit: Fit) -> list[Direction]:
    """Directions of the fitted parameters, the least known one first."""
    names = [one.parameter.name for one in fit.fitted]
    _, values, rows = np.linalg.svd(fit.slopes / fit.widened, full_matrices=False)
    found = []
    for value, row in zip(values[::-1], rows[::-1], strict=True):
        large = np.flatnonzero(np.abs(row) >= PART)
        order = large[np.argsort(-np.abs(row[large]))]
        left = DEVIATIONS / value if value > 0.0 else np.inf
        found.append(Direction(tuple(names[n] for n in order), row, float(left)))
    return found


def alike(fit: Fit) -> list[Pair]:
    """Pairs of parameters that the log cannot tell apart."""
    curvature = (fit.slopes / fit.widened).T @ (fit.slopes / fit.widened)
    covariance = np.linalg.inv(curvature + np.eye(len(curvature)) / RANGE)
    deviation = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(deviation, deviation)
    names = [one.parameter.name for one in fit.fitted]
    return [
        Pair(names[a], names[b], float(correlation[a, b]))
        for a in range(len(names))
        for b in range(a + 1, len(names))
        if abs(correlation[a, b]) >= ALIKE
    ]


def separations(fit: Fit, tests: Mapping[str, Numbers]) -> list[Separation]:
    """What each test would leave of the least known direction, the best test first.

    Parameters
    ----------
    fit : of the log
    tests : derivatives of what a test measures, counted in its noise, by the fitted parameters in
        half ranges, (R, F)
    """
    row = directions(fit)[0].weights
    known = (fit.slopes / fit.widened).T @ (fit.slopes / fit.widened)
    known = known + np.eye(len(known)) / RANGE

    def left(more: Numbers) -> float:
        return DEVIATIONS * float(np.sqrt(row @ np.linalg.solve(known + more.T @ more, row)))

    found = [Separation(name, left(np.asarray(slopes))) for name, slopes in tests.items()]
    return sorted(found, key=lambda one: one.left)
