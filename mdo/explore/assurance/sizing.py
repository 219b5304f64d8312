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
from mdo.explore.assurance.each import held_by_each
from mdo.explore.assurance.local import STIFF, Local, Sampled, violation_of
from mdo.explore.assurance.quantile import STILL, deviations, order_weights
from mdo.optimise.idle_rows import FEASIBLE

ROUNDS = 16
TURNS = 6  # looks at all samples; between them those near their limit are looked at
HOLDING, CLOSING = 20, 8  # rounds of a turn: until all hold that shall, and until they are light
NEAR, LEAST_NEAR = 3, 256  # samples of a turn: for each that may fail, and beside these
NEAR_TO = 0.3  # deviations from the limit within which every sample belongs to a turn
PRICE = 3.0  # of a deviation that a sample misses, over the mass: above every price seen (1.1)
MANY = 0.2  # share that may fail above which the quantile is smooth enough to begin with
FEW = 0.05  # share that may fail below which a tail is held before it is sized
NEARLY = 0.2  # deviations that the quantile may miss where a first turn is sized at once
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
    sampled: Sampled, start: Floats, share: float, most: int = ROUNDS, *, firm: bool = False
) -> Sized:
    """Find the lightest design that holds in a share of the samples.

    Parameters
    ----------
    sampled : what is sized
    start : scaled variables of a design
    share : of the samples; 1 where each of them shall hold
    most : rounds
    firm : whether rows that no sample moves are to hold whatever the others miss
    """
    everywhere = np.arange(sampled.size)
    z = np.clip(start, sampled.lower, sampled.upper)
    rows = sampled.rows(z, everywhere)
    rounds, radius = 1, RADIUS
    local = Local(sampled, z, rows, share, firm=firm)
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
        local = Local(sampled, z, rows, share, firm=firm)
    multiplier = 0.0 if step is None else step.multiplier
    objective = local.here.objective
    return Sized(z, objective, rows, local.violation_of(rows), multiplier, rounds)


def settle(sampled: Sampled, start: Floats, spare: int) -> Sized:
    """Find the lightest design that holds in all samples but so many.

    Where many may fail, many carry the quantile, and it is smooth: :func:`size_for` alone. Else,
    from far off the quantile of the worst row is no guide: it has a kink wherever the worst row of
    a sample changes, and a step that looks at the largest violation lets all samples miss as much.
    So the sum of what is missing is made small first, then the mass by :func:`size_for`; both look
    at samples near their limit alone, and at all others when a turn is done. Where none may fail
    there is no quantile: every row of every sample is a row of a linear programme
    (:mod:`mdo.explore.assurance.each`).

    Parameters
    ----------
    sampled : what is sized
    start : scaled variables of a design
    spare : samples that may fail
    """
    if spare > MANY * sampled.size:
        found = size_for(sampled, start, 1.0 - spare / sampled.size)
    else:
        found = _settled(sampled, start, spare) if spare else _settled_by_each(sampled, start)
    if found.holds or _holding_all(found).any():
        return found
    # what no sample moves is given up for the others in all of them: of no use where they miss too
    firm = size_for(sampled, start, 1.0 - spare / sampled.size, firm=True)
    return firm if _holding_all(firm).any() else found


def _holding_all(sized: Sized) -> Booleans:
    """Whether all rows hold in each sample, those that hardly vary too."""
    return np.asarray(sized.rows.min(axis=1) >= -FEASIBLE)


def _settled(sampled: Sampled, start: Floats, spare: int) -> Sized:
    """The same where few may fail."""
    everywhere, rounds = np.arange(sampled.size), 0
    z = np.clip(start, sampled.lower, sampled.upper)
    rows, near = sampled.rows(z, everywhere), np.empty(0, int)
    best: Sized | None = None
    for _ in range(TURNS):
        least = _least(rows, deviations(rows))
        most = max(NEAR * spare + LEAST_NEAR, int((least < NEAR_TO).sum()))
        known, near = near.size, np.union1d(near, least.argsort(kind="stable")[:most])
        part = sampled.of(near)
        nearly = NEARLY if best is None and spare > FEW * sampled.size else HOLDS
        z, spent = _holding(part, z, rows[near], spare, nearly)
        sized = size_for(part, z, 1.0 - spare / near.size, CLOSING)
        if not sized.holds:  # stalled at a kink: the next turn sizes from a design that holds
            spent, sized = spent + sized.rounds, _without_the_worst(part, z, spare)
        sized = _among_all(sampled, sized, rounds + spent, spare)
        z, rows, rounds = sized.z, sized.rows, sized.rounds
        last, best = best, sized if best is None else max(best, sized, key=_rank)
        if sized.holds and near.size == sampled.size:
            break
        if last is not None and _rested(last, sized, grown=near.size > known):
            break
    assert best is not None
    if best.holds:
        return best
    z, spent = _holding(sampled, best.z, best.rows, spare, HOLDS)
    held = _without_the_worst(sampled, z, spare)
    held = _among_all(sampled, held, best.rounds + spent, spare)
    return max(best, held, key=_rank)


def _settled_by_each(sampled: Sampled, start: Floats) -> Sized:
    """The same where none may fail: each row of each sample stands by its own exact slope."""
    z, near, rounds = np.clip(start, sampled.lower, sampled.upper), np.empty(0, int), 1
    rows = sampled.rows(z, np.arange(sampled.size))
    best: Sized | None = None
    for _ in range(TURNS):
        worst = _least(rows, deviations(rows)).argsort(kind="stable")[:LEAST_NEAR]
        known, near = near.size, np.union1d(near, worst)
        if near.size == known:
            break
        z, multiplier, spent = held_by_each(sampled.of(near), z, rows[near])
        end = Sized(z, sampled.nominal(z).objective, rows, np.inf, multiplier, spent)
        sized = _among_all(sampled, end, rounds, 0)
        rows, rounds = sized.rows, sized.rounds
        best = sized if best is None else max(best, sized, key=_rank)
        if not (rows < -FEASIBLE).any():
            break
    assert best is not None
    return best._replace(rounds=rounds)


def _among_all(sampled: Sampled, sized: Sized, spent: int, spare: int) -> Sized:
    """A design sized for some samples, with rows and violation of all of them."""
    rows = sampled.rows(sized.z, np.arange(sampled.size))
    rounds = spent + sized.rounds + 1
    return sized._replace(rows=rows, rounds=rounds, violation=_violation(rows, spare))


def _without_the_worst(sampled: Sampled, z: Floats, spare: int) -> Sized:
    """Design for all samples but those that are worst at a design, each row by itself."""
    rows = sampled.rows(z, np.arange(sampled.size))
    kept = np.sort(_least(rows, deviations(rows)).argsort(kind="stable")[spare:])
    return size_for(sampled.of(kept), z, 1.0, CLOSING)


def _rested(last: Sized, sized: Sized, *, grown: bool) -> bool:
    """Whether a turn has brought nothing more: no mass, or nothing of what the samples miss."""
    if last.holds:
        return sized.holds and sized.objective > (1.0 - SETTLED) * last.objective
    return not grown and not sized.holds and sized.violation > STILL_FAR * last.violation


def _rank(sized: Sized) -> tuple[bool, float]:
    """What is better: a lighter design that holds, else one that misses less."""
    return sized.holds, -sized.objective if sized.holds else -sized.violation


def _holding(
    sampled: Sampled, z: Floats, rows: Floats, spare: int, nearly: float
) -> tuple[Floats, int]:
    """Design at which all samples but so many hold, and the rounds that it took.

    Each step takes those that miss most at its start for the spare ones. Where the quantile misses
    no more than ``nearly`` the sizing goes on from there by itself.
    """
    everywhere, radius, spent, local = np.arange(sampled.size), RADIUS, 0, None
    while spent < HOLDING and radius > LEAST_RADIUS:
        deviation = deviations(rows) if local is None else local.all_deviations
        least = _least(rows, deviation)
        if np.partition(least, spare)[spare] > -(HOLDS if spent else nearly):
            break
        local = local or Local(sampled, z, rows, 1.0)
        here = 1.0 + PRICE * _missing(rows, deviation, spare)
        spared = least.argsort(kind="stable")[:spare]
        ahead, promised = local.least_missing(radius, spared, PRICE)
        tried = sampled.rows(ahead, everywhere)
        spent += 1
        there = local.value(ahead).objective / local.scale
        gain = here - there - PRICE * _missing(tried, deviation, spare)
        if gain < POOR * (here - promised):
            radius *= 0.3
            continue
        if gain > GOOD * (here - promised):
            radius *= 2.0
        z, rows, local = ahead, tried, None
    return z, spent


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


def _missing(rows: Floats, deviation: Floats, spare: int) -> float:
    """What all samples miss but for the worst ones, and what settled rows do, in deviations."""
    settled = float(rows[:, deviation <= STILL].min(initial=0.0))
    short = np.sort(np.minimum(_least(rows, deviation), 0.0))[spare:]
    return -float(short.sum()) - STIFF * settled


def _merit(local: Local, z: Floats, violation: float, weight: float) -> float:
    return local.value(z).objective / local.scale + weight * violation
