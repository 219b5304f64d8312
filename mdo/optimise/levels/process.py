"""What is known at a few places, interpolated with its deviation: a Gaussian process.

Matérn 5/2 with a length for each axis and an unknown mean (ordinary kriging). All outputs share the
weights, so that what is linear in them stays so; the size of each deviation is that of what each
place says of itself when it is left out (Rasmussen and Williams, Gaussian Processes for Machine
Learning, MIT Press, 2006, eq. 2.25, 2.26, 2.41, 4.17 and ch. 5.4.2; Dubrule, Cross validation of
kriging in a unique neighborhood, Mathematical Geology 15, 1983; all from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from typing import Any

import jax
import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import minimize
from tinygp import kernels, transforms
from tinygp.kernels.distance import L2Distance

from mdo.arrays import Floats

JITTER = 1e-8  # variance of what is known, over that of the process
SHORTEST, LONGEST = 0.2, 8.0  # lengths, of the range of an axis
USUAL, DOUBT = 1.5, 1.0  # length taken where the places say nothing, and deviation of its logarithm


@jax.jit
def _covariance(lengths: Any, one: Any, other: Any) -> Any:
    kernel = transforms.Linear(1.0 / lengths, kernels.Matern52(distance=L2Distance()))
    return kernel(one, other)


class Process:
    """Weights of known places anywhere between them.

    Parameters
    ----------
    places : where values are known, in the unit box, shape (n, axes)
    lengths : over which values change, shape (axes,)
    """

    def __init__(self, places: Floats, lengths: Floats) -> None:
        self.places, self.lengths = np.asarray(places), np.asarray(lengths)

    def _near(self, at: Floats) -> Floats:
        return np.asarray(_covariance(self.lengths, at, self.places))

    @cached_property
    def _solved(self) -> tuple[Floats, Floats, float]:
        """Inverse of the covariance less what the mean takes, weights and variance of the mean."""
        count = len(self.places)
        factor = cho_factor(self._near(self.places) + JITTER * np.eye(count))
        inverse = cho_solve(factor, np.eye(count))
        ones = inverse.sum(axis=1)
        total = float(ones.sum())
        return inverse - np.outer(ones, ones) / total, ones / total, 1.0 / total

    def weights(self, at: Floats) -> Floats:
        """Weights of the known places, shape (m, n); each row sums to one."""
        reduced, mean, _ = self._solved
        return np.asarray(self._near(at) @ reduced + mean)

    def deviations(self, at: Floats) -> Floats:
        """Deviation of what is interpolated, over that of the process, shape (m,)."""
        near, (reduced, mean, of_mean) = self._near(at), self._solved
        less = np.einsum("mi,ij,mj->m", near, reduced, near) + 2.0 * near @ mean
        return np.asarray(np.sqrt(np.maximum(1.0 + of_mean - less, JITTER)))

    @cached_property
    def left_out(self) -> tuple[Floats, Floats]:
        """Weights for each place from all the others, shape (n, n), and deviations, shape (n,)."""
        reduced, _, _ = self._solved
        own = np.diag(reduced)
        weights = -reduced / own[:, None]
        np.fill_diagonal(weights, 0.0)
        return weights, 1.0 / np.sqrt(own)


def fitted(places: Floats, errors: Callable[[Floats], Floats]) -> Process:
    """Process whose lengths make the errors of places that are left out most probable.

    Parameters
    ----------
    places : in the unit box, shape (n, axes)
    errors : of each place, from weights of the others, shape (n, n)
    """

    def improbable(logarithms: Floats) -> float:
        weights, deviations = Process(places, np.exp(logarithms)).left_out
        size = max(float(np.mean((errors(weights) / deviations) ** 2)), 1e-300)
        doubt = ((logarithms - np.log(USUAL)) / DOUBT) ** 2
        return float(np.log(deviations).sum() + 0.5 * len(places) * np.log(size) + doubt.sum() / 2)

    axes = places.shape[1]
    ends = [(np.log(SHORTEST), np.log(LONGEST))] * axes
    begins = [np.full(axes, np.log(length)) for length in (0.6, USUAL, 4.0)]
    found = [minimize(improbable, begin, bounds=ends, method="L-BFGS-B") for begin in begins]
    best = min(found, key=lambda one: float(one.fun))
    return Process(places, np.exp(np.asarray(best.x)))
