"""Corrections of a study at any point of its axes, interpolated from those at few points.

Centres, values and slopes have the same weights: what the difference of the levels is linear in,
design or axes, is then exact between the points as well, though the optimum has kinks.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple, Self

import numpy as np
from scipy.stats import t as student

from mdo.arrays import Booleans, Floats
from mdo.model.correction import Correction
from mdo.model.layout import LOGARITHMIC, SMALLEST, STEPS
from mdo.optimise.levels.process import USUAL, Process, fitted

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
