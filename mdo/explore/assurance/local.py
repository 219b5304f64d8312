"""What the rows of all samples are near a design, and the best step there.

Near a design the rows of a sample are those of the study's values, exactly, and a difference that
is linear in the variables: matched in value in every sample, and in slope in those that decide (the
others take the mean slope of these).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from scipy import sparse
from scipy.optimize import linprog

from mdo.arrays import Booleans, Floats, Indices
from mdo.explore.assurance.quantile import STILL, deviations, order_weights, worst_of
from mdo.optimise.descent import Functions, slsqp, softened

NEAR = 128  # samples whose slopes are evaluated
CLOSE = 4.0  # deviations from the limit beyond which a row is looked at again after the step only
PENALTY = 30.0  # on the mass over its scale, per deviation
STIFF = 100.0  # weight of rows that no sample moves, which are not to pay for those that do
WITHIN = 1.5  # deviations from the limit within which a row is given to a linear step
EACH = 8  # samples of each row that are given to the solver where all must hold
HAIR = 2e-5  # that these hold by, so that what a solver leaves of them is no violation
STEPS = 30
ROUGH = 1e-8


class Nominal(NamedTuple):
    """Objective and rows at the study's values."""

    objective: float
    rows: Floats


class NominalSlopes(NamedTuple):
    """Their slopes in the scaled variables, shapes (variables,) and (rows, variables)."""

    objective: Floats
    rows: Floats


class Sampled(NamedTuple):
    """What is to be sized: plain functions of scaled variables.

    Attributes
    ----------
    nominal, nominal_slopes
        ``z`` to :class:`Nominal`, and to :class:`NominalSlopes`.
    rows
        ``z`` and places of samples to their rows, shape (places, rows).
    slopes
        The same to their slopes, shape (places, rows, variables).
    size
        How many samples.
    lower, upper
        Bounds of the variables.
    """

    nominal: Callable[[Floats], Nominal]
    nominal_slopes: Callable[[Floats], NominalSlopes]
    rows: Callable[[Floats, Indices], Floats]
    slopes: Callable[[Floats, Indices], Floats]
    size: int
    lower: Floats
    upper: Floats

    def of(self, places: Indices) -> Sampled:
        """The same with some of the samples alone."""
        return self._replace(
            rows=lambda z, at: self.rows(z, places[at]),
            slopes=lambda z, at: self.slopes(z, places[at]),
            size=len(places),
        )


class Step(NamedTuple):
    """Where the model of a neighbourhood has its best design.

    ``violation`` and ``multiplier`` are of the quantile, in deviations and objective per deviation;
    the objective is as it is.
    """

    z: Floats
    objective: float
    violation: float
    multiplier: float


class Local:
    """Model of the rows of all samples around a design.

    Parameters
    ----------
    sampled : what is sized
    z : the design
    rows : of all samples there, shape (samples, rows)
    share : of the samples that shall hold; 1 for each of them
    firm : whether rows that no sample moves are to hold whatever the others miss
    """

    def __init__(
        self, sampled: Sampled, z: Floats, rows: Floats, share: float, *, firm: bool = False
    ) -> None:
        self.sampled, self.z, self.share, self.firm = sampled, z, share, firm
        self._values = lru_cache(maxsize=4)(lambda at: sampled.nominal(np.frombuffer(at)))
        self._slopes = lru_cache(maxsize=2)(lambda at: sampled.nominal_slopes(np.frombuffer(at)))
        self.here = self.value(z)
        deviation = deviations(rows)
        varies = deviation > STILL
        self.doubtful = np.flatnonzero(varies & (rows.min(axis=0) < CLOSE * deviation))
        self.settled = np.flatnonzero(~varies)
        self.deviation, self.all_deviations = deviation[self.doubtful], deviation
        self.least = rows[:, self.settled].min(axis=0)
        self.rows = rows[:, self.doubtful]
        self.ordered = order_weights(sampled.size, 1.0 - share) if share < 1.0 else np.empty(0)
        self.near = self._near()
        slopes = sampled.slopes(z, self.near)[:, self.doubtful]
        self.mean = slopes.mean(axis=0) - self.slope(z).rows[self.doubtful]
        self.own = slopes - slopes.mean(axis=0)
        self.scale = abs(self.here.objective)

    def _near(self) -> Indices:
        """Samples that decide: those next to the quantile, or with the least rows."""
        if not self.doubtful.size:
            return np.arange(1)
        standard = self.rows / self.deviation
        order = standard.min(axis=1).argsort(kind="stable")
        most = min(NEAR, len(order))
        if self.share == 1.0:
            return np.sort(np.unique(standard.argsort(axis=0)[:EACH].ravel()))
        first = round((1.0 - self.share) * len(order)) - most // 2
        first = min(max(first, 0), len(order) - most)
        return np.sort(order[first : first + most])

    def value(self, z: Floats) -> Nominal:
        """Values at the study's inputs; kept for the last designs asked for."""
        return self._values(z.tobytes())

    def slope(self, z: Floats) -> NominalSlopes:
        """Their slopes, likewise."""
        return self._slopes(z.tobytes())

    def moved(self, z: Floats) -> Floats:
        """Doubtful rows of all samples at a design near by."""
        d = z - self.z
        change = self.value(z).rows - self.here.rows
        rows = self.rows + (change[self.doubtful] + self.mean @ d)
        rows[self.near] += self.own @ d
        return np.asarray(rows)

    def settled_rows(self, z: Floats) -> Floats:
        """Rows that hardly vary, at their worst sample."""
        change = self.value(z).rows - self.here.rows
        return np.asarray(self.least + change[self.settled])

    def settled_slopes(self, z: Floats) -> Floats:
        """Their slopes."""
        return self.slope(z).rows[self.settled]

    def slopes_of(self, z: Floats, samples: Indices, rows: Indices) -> Floats:
        """Slopes of some doubtful rows, each in its sample, shape (pairs, variables)."""
        slopes = self.slope(z).rows[self.doubtful[rows]] + self.mean[rows]
        place = np.full(self.sampled.size, -1)
        place[self.near] = np.arange(self.near.size)
        known = place[samples] >= 0
        slopes[known] += self.own[place[samples[known]], rows[known]]
        return np.asarray(slopes)

    def quantile(self, z: Floats) -> float:
        """Quantile of the worst doubtful row, in deviations; large where none is doubtful."""
        if not self.doubtful.size:
            return CLOSE
        return worst_of(self.moved(z), self.deviation, self.ordered).quantile

    def quantile_slope(self, z: Floats) -> Floats:
        """Its slope in the variables."""
        if not self.doubtful.size:
            return np.zeros(z.size)
        worst = worst_of(self.moved(z), self.deviation, self.ordered)
        used = np.flatnonzero(worst.weights > 1e-12)
        slopes = self.slopes_of(z, used, worst.row[used])
        return np.asarray((worst.weights[used] / self.deviation[worst.row[used]]) @ slopes)

    def functions(self) -> Functions:
        """Objective over its scale, the quantile (or every row near its limit), settled rows."""
        pairs = self._pairs()

        def rows(z: Floats) -> Floats:
            first = (
                np.array([self.quantile(z)])
                if self.share < 1.0
                else (self.moved(z) / self.deviation)[pairs]
            )
            return np.concatenate([first, STIFF * (self.settled_rows(z) - HAIR)])

        def row_slopes(z: Floats) -> Floats:
            if self.share < 1.0:
                first = self.quantile_slope(z)[None]
            else:
                first = self.slopes_of(z, *pairs) / self.deviation[pairs[1], None]
            return np.vstack([first, STIFF * self.settled_slopes(z)])

        return Functions(
            lambda z: self.value(z).objective / self.scale,
            lambda z: self.slope(z).objective / self.scale,
            rows,
            row_slopes,
        )

    def _pairs(self) -> tuple[Indices, Indices]:
        """Samples and doubtful rows that are given to the solver where each sample must hold."""
        least = np.argsort(self.rows, axis=0, kind="stable")[:EACH]
        columns = np.broadcast_to(np.arange(self.doubtful.size), least.shape)
        return least.ravel(), columns.ravel()

    def best(self, radius: float) -> Step:
        """Best design within a box around the centre."""
        hard = self.functions()
        shares = np.ones(len(hard.rows(self.z)))
        shares[len(shares) - self.settled.size :] = 0.0 if self.firm else 1.0
        lower = np.maximum(self.sampled.lower, self.z - radius)
        upper = np.minimum(self.sampled.upper, self.z + radius)
        slack = max(0.0, -float(hard.rows(self.z).min(initial=0.0)))
        result = slsqp(
            softened(hard, PENALTY, shares), np.append(self.z, slack), np.append(lower, 0.0),
            np.append(upper, np.inf), iterations=STEPS, tolerance=ROUGH,
        )  # fmt: skip
        z = np.clip(result.x[:-1], lower, upper)
        own = 1 if self.share < 1.0 else self._pairs()[0].size
        multiplier = float(result.multipliers[:own].sum()) * self.scale
        return Step(z, self.value(z).objective, self.violation(z), multiplier)

    def least_missing(self, radius: float, spared: Indices, price: float) -> tuple[Floats, float]:
        """Step after which least is missing in all samples but the spared ones, to first order.

        What each sample misses has a price: the sum leaves few samples that miss anything, where
        the largest of them would let all miss as much.

        Returns
        -------
        The design, and the objective over its scale plus what is missing at its price.
        """
        reached = self.rows < WITHIN * self.deviation
        reached[spared] = False
        samples, rows = np.nonzero(reached)
        slopes = self.slopes_of(self.z, samples, rows) / self.deviation[rows, None]
        own, place = np.unique(samples, return_inverse=True)
        place = np.append(place, np.full(self.settled.size, own.size))  # settled rows miss together
        steep = np.vstack([slopes, STIFF * self.settled_slopes(self.z)])
        missing = sparse.csr_array((np.ones(place.size), (np.arange(place.size), place)))
        here = self.slope(self.z).objective / self.scale
        lower = np.maximum(self.sampled.lower - self.z, -radius)
        upper = np.minimum(self.sampled.upper - self.z, radius)
        found = linprog(
            np.append(here, np.full(missing.shape[1], price)),
            A_ub=-sparse.hstack([steep, missing]),
            b_ub=np.concatenate([
                self.rows[samples, rows] / self.deviation[rows],
                STIFF * self.settled_rows(self.z),
            ]),
            bounds=[*zip(lower, upper, strict=True), *[(0.0, None)] * missing.shape[1]],
        )  # fmt: skip
        if found.status != 0:
            return self.z, np.inf
        return self.z + found.x[: self.z.size], 1.0 + float(found.fun)

    def violation(self, z: Floats) -> float:
        """Largest violation: of the quantile or of any sample, and of settled rows."""
        if self.share < 1.0:
            worst = self.quantile(z)
        else:
            worst = float((self.moved(z) / self.deviation).min(initial=CLOSE))
        return max(0.0, -worst, -STIFF * float(self.settled_rows(z).min(initial=0.0)))

    def violation_of(self, rows: Floats) -> float:
        """The same of evaluated rows of all samples."""
        return violation_of(rows, self.all_deviations, self.share, self.ordered)


def violation_of(rows: Floats, deviation: Floats, share: float, ordered: Floats) -> float:
    """Violation of rows of all samples, as :meth:`Local.violation`."""
    varies: Booleans = deviation > STILL
    settled = STIFF * float(rows[:, ~varies].min(initial=np.inf))
    if not varies.any():
        return max(0.0, -settled)
    if share < 1.0:
        worst = worst_of(rows[:, varies], deviation[varies], ordered).quantile
    else:
        worst = float((rows[:, varies] / deviation[varies]).min())
    return max(0.0, -worst, -settled)
