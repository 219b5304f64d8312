"""The lightest design that holds in each of some samples, by steps of linear programmes.

Each step takes every row of every sample by its exact slope. What a sample misses has a price, so
that few miss anything: a step that looked at the largest of them would let all miss as much. A step
that brings less than it promised is made again with the bend that was seen (second-order
correction; Nocedal and Wright, Numerical Optimization, 2nd ed., 2006, chapter 18, from memory); if
that is no step either, the box shrinks.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy import sparse
from scipy.optimize import linprog

from mdo.arrays import Floats
from mdo.explore.assurance.local import HAIR, STIFF, Nominal, NominalSlopes, Sampled
from mdo.explore.assurance.quantile import STILL, deviations

ROUNDS = 30  # steps at one price
PRICES = (3.0, 30.0)  # of a deviation that a sample misses, over the mass; the next if some do
LEAST_DEVIATION = 3e-3  # of a row: one that varies less has no more weight
RADIUS, LEAST_RADIUS = 0.2, 3e-3
GOOD, POOR = 0.7, 0.1  # share of the promise from which the box grows; below which it is no step
DONE = 5e-4  # promise, over the mass, below which the design is the best
MARGIN = 2e-4  # deviations that a row holds by, so that what a step leaves is no failure
MISSED = 5e-3  # deviations: what all samples together miss where none counts as failing


class Place(NamedTuple):
    """A design with what it weighs, and its rows over their deviations.

    ``rows`` are those that vary, in each sample; ``settled`` the others, at their worst sample.
    """

    z: Floats
    nominal: Nominal
    rows: Floats
    settled: Floats


class Slopes(NamedTuple):
    """Slopes of the same."""

    nominal: NominalSlopes
    rows: Floats
    settled: Floats


class Step(NamedTuple):
    """A step, what is foretold of the merit there, and the price of a deviation of all rows."""

    change: Floats
    merit: float
    multiplier: float


class Each:
    """Samples of which each shall hold.

    Parameters
    ----------
    sampled : what is sized
    rows : at a first design, which say by how much each row varies
    """

    def __init__(self, sampled: Sampled, rows: Floats) -> None:
        self.sampled, self.rounds = sampled, 0
        deviation = deviations(rows)
        self.varies = np.flatnonzero(deviation > STILL)
        self.still = np.flatnonzero(deviation <= STILL)
        self.deviation = np.maximum(deviation[self.varies], LEAST_DEVIATION)
        self.every = np.arange(sampled.size)

    def at(self, z: Floats) -> Place:
        """Everything at a design."""
        rows = self.sampled.rows(z, self.every)
        self.rounds += 1
        settled = STIFF * (rows[:, self.still].min(axis=0) - HAIR)
        return Place(
            z, self.sampled.nominal(z), rows[:, self.varies] / self.deviation - MARGIN, settled
        )

    def slopes(self, z: Floats) -> Slopes:
        """Slopes at a design."""
        nominal = self.sampled.nominal_slopes(z)
        rows = self.sampled.slopes(z, self.every)[:, self.varies] / self.deviation[:, None]
        return Slopes(nominal, rows, STIFF * nominal.rows[self.still])

    def missing(self, place: Place) -> float:
        """What all samples miss, and the settled rows, in deviations."""
        short = place.rows.min(axis=1, initial=0.0).sum()
        return -float(short + place.settled.min(initial=0.0))

    def merit(self, place: Place, price: float, scale: float) -> float:
        """Mass and what is missing at its price."""
        return place.nominal.objective / scale + price * self.missing(place)

    def step(self, place: Place, slopes: Slopes, radius: float, price: float) -> Step | None:
        """Best step to first order; None where the solver finds none."""
        scale = abs(place.nominal.objective)
        lower = np.maximum(self.sampled.lower - place.z, -radius)
        upper = np.minimum(self.sampled.upper - place.z, radius)
        least = np.minimum(slopes.rows * lower, slopes.rows * upper).sum(axis=2)
        samples, rows = np.nonzero(place.rows + least < 0.0)
        own, misses = np.unique(samples, return_inverse=True)
        misses = np.append(misses, np.full(self.still.size, own.size))  # settled rows together
        steep = np.vstack([slopes.rows[samples, rows], slopes.settled])
        slack = sparse.csr_array(
            (np.ones(misses.size), (np.arange(misses.size), misses)),
            shape=(misses.size, own.size + 1),
        )
        found = linprog(
            np.append(slopes.nominal.objective / scale, np.full(own.size + 1, price)),
            A_ub=-sparse.hstack([sparse.csr_array(steep), slack]),
            b_ub=np.append(place.rows[samples, rows], place.settled),
            bounds=[*zip(lower, upper, strict=True), *[(0.0, None)] * (own.size + 1)],
        )
        if found.status != 0:
            return None
        carried = -found.ineqlin.marginals[: samples.size].sum()
        change = np.asarray(found.x[: place.z.size])
        return Step(change, 1.0 + float(found.fun), scale * float(carried))

    def lightest(self, z: Floats, price: float) -> tuple[Place, float]:
        """Design of the least mass and missing at a price, and what a deviation costs there."""
        place, slopes, radius, multiplier = self.at(z), None, RADIUS, 0.0
        last = self.rounds + ROUNDS
        while self.rounds < last and radius > LEAST_RADIUS:
            slopes = slopes or self.slopes(place.z)
            scale = abs(place.nominal.objective)
            step = self.step(place, slopes, radius, price)
            here = self.merit(place, price, scale)
            if step is None or here - step.merit < DONE:
                multiplier = multiplier if step is None else step.multiplier
                break
            multiplier, promise = step.multiplier, here - step.merit
            ahead = self.at(np.clip(place.z + step.change, self.sampled.lower, self.sampled.upper))
            if here - self.merit(ahead, price, scale) < GOOD * promise:
                bent = Place(
                    place.z, place.nominal, ahead.rows - slopes.rows @ step.change,
                    ahead.settled - slopes.settled @ step.change,
                )  # fmt: skip
                again = self.step(bent, slopes, radius, price)
                if again is not None:
                    z = np.clip(place.z + again.change, self.sampled.lower, self.sampled.upper)
                    ahead = min(ahead, self.at(z), key=lambda one: self.merit(one, price, scale))
            gain = here - self.merit(ahead, price, scale)
            reached = float(np.abs(ahead.z - place.z).max())
            if gain < POOR * promise:
                radius = 0.35 * min(radius, reached)
            elif gain > GOOD * promise and reached > 0.9 * radius:
                radius *= 2.0
            if gain > 0.0:
                place, slopes = ahead, None
        return place, multiplier


def held_by_each(sampled: Sampled, z: Floats, rows: Floats) -> tuple[Floats, float, int]:
    """Lightest design at which each sample holds, or at which least is missing.

    Parameters
    ----------
    sampled : what is sized
    z, rows : a first design, and its rows in all samples

    Returns
    -------
    The design, what one deviation of all rows costs there, and evaluations of the samples.
    """
    each, multiplier = Each(sampled, rows), 0.0
    for price in PRICES:
        place, multiplier = each.lightest(z, price)
        z = place.z
        if each.missing(place) < MISSED:
            break
    return z, multiplier, each.rounds
