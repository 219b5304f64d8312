"""The lightest design that holds in a wanted share of samples, by steps within a trust region.

Each round evaluates all samples at the design, makes a model of their rows there
(:mod:`mdo.explore.assurance.local`), and takes its best step within a box. A step counts by the
exact penalty of mass and quantile (Nocedal and Wright, Numerical Optimization, 2nd ed., 2006,
chapters 4 and 18, from memory); a bad one shrinks the box.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from mdo.arrays import Booleans, Floats
from mdo.explore.assurance.local import Local, Sampled
from mdo.explore.assurance.quantile import STILL, deviations
from mdo.optimise.optimum import FEASIBLE

ROUNDS = 16
RADIUS, LEAST_RADIUS = 0.5, 1e-4
GOOD, POOR = 0.75, 0.1  # share of the promise from which the box grows; below which it is no step
DONE = 2e-5  # promise, of the objective, below which the design is the best
HOLDS = 5e-3  # violation in deviations that counts as none: at most 0.2 points of a share
STUCK, STILL_FAR = 3, 0.95  # steps in a row that leave this share of a violation: not to be had
WEIGHT, LEAST_WEIGHT = 2.0, 0.02  # of a violation, over its price; and where it has none


class Sized(NamedTuple):
    """The design of one share.

    Attributes
    ----------
    z, objective
        Scaled variables, and the objective at the study's values.
    rows
        Of all samples.
    holds
        Whether the share is reached.
    multiplier
        What one deviation of the quantile costs, in the objective.
    rounds
        Evaluations of all samples.
    """

    z: Floats
    objective: float
    rows: Floats
    holds: bool
    multiplier: float
    rounds: int

    @property
    def held(self) -> Booleans:
        """Whether all rows that vary hold in each sample."""
        varies = deviations(self.rows) > STILL
        return np.asarray(self.rows[:, varies].min(axis=1, initial=np.inf) >= -FEASIBLE)


def size_for(sampled: Sampled, start: Floats, share: float) -> Sized:
    """Find the lightest design that holds in a share of the samples.

    Parameters
    ----------
    sampled : what is sized
    start : scaled variables of a design
    share : of the samples; 1 where each of them shall hold
    """
    everywhere = np.arange(sampled.size)
    z = np.clip(start, sampled.lower, sampled.upper)
    rows = sampled.rows(z, everywhere)
    rounds, radius = 1, RADIUS
    local = Local(sampled, z, rows, share)
    step, stuck = None, 0
    while rounds < ROUNDS and stuck < STUCK:
        here = local.violation_of(rows)
        step = local.best(radius)
        weight = max(WEIGHT * step.multiplier / local.scale, LEAST_WEIGHT)
        ahead_of_it = step.objective / local.scale + weight * step.violation
        promise = _merit(local, z, here, weight) - ahead_of_it
        if promise < DONE:
            if here <= HOLDS or radius <= LEAST_RADIUS:
                break
            radius = max(0.3 * radius, LEAST_RADIUS)  # the model was not solved in so large a box
            continue
        ahead = sampled.rows(step.z, everywhere)
        rounds += 1
        after = local.violation_of(ahead)
        gain = _merit(local, z, here, weight) - _merit(local, step.z, after, weight)
        reached = float(np.abs(step.z - z).max())
        if gain < POOR * promise:
            radius = max(0.3 * min(radius, reached), LEAST_RADIUS)
            if radius <= LEAST_RADIUS:
                break
            continue
        stuck = stuck + 1 if here > 10.0 * HOLDS and after > STILL_FAR * here else 0
        if gain > GOOD * promise and reached > 0.9 * radius:
            radius *= 2.0
        z, rows = step.z, ahead
        local = Local(sampled, z, rows, share)
    multiplier = 0.0 if step is None else step.multiplier
    objective = local.here.objective
    return Sized(z, objective, rows, local.violation_of(rows) <= HOLDS, multiplier, rounds)


def _merit(local: Local, z: Floats, violation: float, weight: float) -> float:
    return local.value(z).objective / local.scale + weight * violation
