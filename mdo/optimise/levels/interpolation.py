"""Corrections of a study at any point of its axes, interpolated from those at few points.

Centres, values and slopes have the same weights: what the difference of the levels is linear in,
design or axes, is then exact between the points as well, though the optimum has kinks.

The weights are those of a Gaussian process, with its deviation: Matérn 5/2 with a length for each
axis and an unknown mean (ordinary kriging). The size of each deviation is that of what each place
says of itself when it is left out (Rasmussen and Williams, Gaussian Processes for Machine Learning,
MIT Press, 2006, eq. 2.25, 2.26, 2.41, 4.17 and ch. 5.4.2; Dubrule, Cross validation of kriging in a
unique neighborhood, Mathematical Geology 15, 1983; all from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cached_property
from typing import Any, NamedTuple, Self

import jax
import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import minimize
from scipy.stats import t as student
from tinygp import kernels, transforms
from tinygp.kernels.distance import L2Distance

from mdo.arrays import Booleans, Floats
from mdo.model.correction import Correction
from mdo.model.layout import LOGARITHMIC, SMALLEST, STEPS

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


HELD = 0.99  # share of the points at which the bound should hold
EXACT = 1e-5  # share of the mass: what optimisers leave
FEWEST = 3  # known points, beside one for each axis, without which there is no bound
PREFIX = "corrected_"


class Known(NamedTuple):
    """Corrections at some points, first axis of every array: the point.

    Attributes
    ----------
    points
        Values of the axes, SI.
    correction
        Around the optimum of the dear model at each point.
    carried
        What an error of mass and rows costs there: one, and the multipliers less than zero.
    counts
        Rows that count.
    """

    points: Floats
    correction: Correction
    carried: Floats
    counts: Booleans


class Interpolation(NamedTuple):
    """Corrections between known ones; plain arrays, so that it travels to other processes.

    Attributes
    ----------
    places, lengths
        Of the process, in the unit box of the axes.
    low, high
        Ends of the axes, SI.
    centres, values, slopes, curvatures
        Of the known corrections; centres scaled.
    counts
        Rows that count at all known points.
    errors
        Of mass and rows at each known point from the others, over its deviation.
    """

    places: Floats
    lengths: Floats
    low: Floats
    high: Floats
    centres: Floats
    values: Floats
    slopes: Floats
    curvatures: Floats
    counts: Booleans
    errors: Floats

    @classmethod
    def of(cls, known: Known, low: Floats, high: Floats) -> Self:
        """Interpolate what is known over axes between two ends."""
        places = (known.points - low) / (high - low)
        parts = [np.asarray(part) for part in known.correction]
        centre, values, slopes, curvatures = parts
        safe = np.maximum(centre, SMALLEST)
        centres = np.where(LOGARITHMIC, np.log(safe), centre / STEPS)
        worth = np.einsum("ir,jr->ij", known.carried, values)
        worth_slopes = np.einsum("ir,jrk->ijk", known.carried, slopes)

        def in_mass(weights: Floats) -> Floats:
            step = centres - weights @ centres
            moved = np.einsum("ij,ijk,ik->i", weights, worth_slopes, step)
            return np.asarray(np.diag(worth) - (weights * worth).sum(axis=1) - moved)

        if len(places) < FEWEST + places.shape[1]:  # they say nothing of each other
            lengths, errors = np.full(places.shape[1], USUAL), np.full(values.shape, np.inf)
        else:
            process = fitted(places, in_mass)
            lengths, (weights, deviations) = process.lengths, process.left_out
            step = centres - weights @ centres
            moved = np.einsum("ij,jrk,ik->ir", weights, slopes, step, optimize=True)
            errors = (values - weights @ values - moved) / deviations[:, None]
        return cls(
            places, lengths, low, high, centres, values, slopes, curvatures,
            np.asarray(known.counts.all(axis=0)), errors,
        )  # fmt: skip

    @property
    def process(self) -> Process:
        """Weights of the known points."""
        return Process(self.places, self.lengths)

    def at(self, points: Floats) -> Correction:
        """Corrections at points (SI), first axis of every array: the point."""
        weights = self.process.weights((points - self.low) / (self.high - self.low))
        centres = weights @ self.centres
        return Correction(
            np.where(LOGARITHMIC, np.exp(np.where(LOGARITHMIC, centres, 0.0)), centres * STEPS),
            weights @ self.values,
            np.tensordot(weights, self.slopes, axes=1),
            np.tensordot(weights, self.curvatures, axes=1),
        )

    def bounds(self, points: Floats, carried: Floats, counts: Booleans) -> Floats:
        """Bound on the error of the optimal objective at points, by multipliers, shape (n,).

        Parameters
        ----------
        points : values of the axes, SI
        carried : slopes of the Lagrangian in mass and rows, shape (n, 1 + rows)
        counts : rows that count, shape (n, rows); where others do than at the known points the
            bound is infinite
        """
        deviations = self.process.deviations((points - self.low) / (self.high - self.low))
        if not np.isfinite(self.errors).all():
            return np.full(len(points), np.inf)
        size = np.sqrt(np.mean((carried @ self.errors.T) ** 2, axis=1))
        free = max(1, len(self.places) - 1 - self.places.shape[1])
        factor = float(student.ppf(0.5 + 0.5 * HELD, free))
        unknown = (counts & ~self.counts).any(axis=1)
        return np.where(unknown, np.inf, factor * size * deviations)

    def payload(self) -> dict[str, Any]:
        """The arrays by name, for another process."""
        return {PREFIX + name: part for name, part in self._asdict().items()}

    @classmethod
    def sent(cls, payload: Mapping[str, Any]) -> Self | None:
        """Interpolation of a payload; None where it has none."""
        if PREFIX + "places" not in payload:
            return None
        return cls(*(np.asarray(payload[PREFIX + name]) for name in cls._fields))
