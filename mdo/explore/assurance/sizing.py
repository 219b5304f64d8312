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
from mdo.explore.assurance.local import Local, Sampled, violation_of
from mdo.explore.assurance.quantile import STILL, deviations, order_weights
from mdo.optimise.optimum import FEASIBLE

ROUNDS = 16
TURNS = 8  # looks at all samples; between them those near their limit are looked at
CLOSING = 8  # rounds of a turn
FEWER = 0.4  # of the samples that fail at its start: asked of a turn, no fewer
CLOSER = 0.1  # first box of a turn but the first
NEAR, LEAST_NEAR = 2, 256  # samples of a turn: for each that may fail, and beside these
NEAR_TO = 0.1  # deviations from the limit within which every sample belongs to a turn
SETTLED = 3e-4  # share of the mass gained in a turn below which it was the last
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
    violation
        Of the quantile, in deviations.
    multiplier
        What one deviation of the quantile costs, in the objective.
    rounds
        Evaluations of all samples.
    """

    z: Floats
    objective: float
    rows: Floats
    violation: float
    multiplier: float
    rounds: int

    @property
    def holds(self) -> bool:
        """Whether the share is reached."""
        return self.violation <= HOLDS

    @property
    def held(self) -> Booleans:
        """Whether all rows that vary hold in each sample."""
        varies = deviations(self.rows) > STILL
        return np.asarray(self.rows[:, varies].min(axis=1, initial=np.inf) >= -FEASIBLE)


def size_for(
    sampled: Sampled, start: Floats, share: float, most: int = ROUNDS, radius: float = RADIUS
) -> Sized:
    """Find the lightest design that holds in a share of the samples.

    Parameters
    ----------
    sampled : what is sized
    start : scaled variables of a design
    share : of the samples; 1 where each of them shall hold
    most : rounds
    radius : of the first box
    """
    everywhere = np.arange(sampled.size)
    z = np.clip(start, sampled.lower, sampled.upper)
    rows = sampled.rows(z, everywhere)
    rounds = 1
    local = Local(sampled, z, rows, share)
    step, stuck = None, 0
    while rounds < most and stuck < STUCK:
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
    return Sized(z, objective, rows, local.violation_of(rows), multiplier, rounds)


def settle(sampled: Sampled, start: Floats, spare: int) -> Sized:
    """Find the lightest design that holds in all samples but so many.

    By turns of :func:`size_for` with samples near their limit alone; all others are looked at when
    a turn is done, and those that have come near join the next one.

    Parameters
    ----------
    sampled : what is sized
    start : scaled variables of a design
    spare : samples that may fail
    """
    z = np.clip(start, sampled.lower, sampled.upper)
    rows, near, rounds = sampled.rows(z, np.arange(sampled.size)), np.empty(0, int), 1
    best: Sized | None = None
    for turn in range(TURNS):
        least = _least(rows, deviations(rows))
        asked = max(spare, int(FEWER * (least < 0.0).sum()))
        most = max(NEAR * asked + LEAST_NEAR, int((least < NEAR_TO).sum()))
        near = np.union1d(near, least.argsort(kind="stable")[:most])
        radius = CLOSER if turn else RADIUS
        sized = size_for(sampled.of(near), z, 1.0 - asked / near.size, CLOSING, radius)
        own, sized = sized.rounds, _among_all(sampled, sized, rounds, spare)
        z, rows, rounds = sized.z, sized.rows, sized.rounds
        last, best = best, sized if best is None else max(best, sized, key=_rank)
        ended = sized.holds and own < CLOSING
        if asked == spare and (ended or (last is not None and _rested(last, best))):
            break
    assert best is not None
    return best._replace(rounds=rounds)


def _among_all(sampled: Sampled, sized: Sized, spent: int, spare: int) -> Sized:
    """A design sized for some samples, with rows and violation of all of them."""
    rows = sampled.rows(sized.z, np.arange(sampled.size))
    rounds = spent + sized.rounds + 1
    return sized._replace(rows=rows, rounds=rounds, violation=_violation(rows, spare))


def _rested(last: Sized, best: Sized) -> bool:
    """Whether a turn has brought nothing more: no mass, or nothing of what the samples miss."""
    if best.holds:
        return last.holds and best.objective > (1.0 - SETTLED) * last.objective
    return best.violation > STILL_FAR * last.violation


def _rank(sized: Sized) -> tuple[bool, float]:
    """What is better: a lighter design that holds, else one that misses less."""
    return sized.holds, -sized.objective if sized.holds else -sized.violation


def _violation(rows: Floats, spare: int) -> float:
    """Of the quantile of all samples; rows that hardly vary are to hold as in any design."""
    deviation, left = deviations(rows), spare / len(rows)
    found = violation_of(rows, deviation, 1.0 - left, order_weights(len(rows), left))
    fails = rows[:, deviation <= STILL].min(initial=0.0) < -FEASIBLE
    return max(found, 2.0 * HOLDS) if fails else found


def _least(rows: Floats, deviation: Floats) -> Floats:
    """Least row of each sample, in deviations."""
    varies = deviation > STILL
    return np.asarray((rows[:, varies] / deviation[varies]).min(axis=1, initial=np.inf))


def _merit(local: Local, z: Floats, violation: float, weight: float) -> float:
    return local.value(z).objective / local.scale + weight * violation
