"""Points of the unit cube by their numbers: any run of them can be made without the others.

A sweep is done in chunks, in any order and by several processes, and may be too large to be held at
once. So every sample here is a function of the number of a point.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mdo.arrays import Floats
from mdo.study.analyses import SAMPLES, MapPlan, SweepPlan

Words = NDArray[np.uint64]
LATIN, SOBOL, FACTORIAL, _ = SAMPLES
DESIGNS_MAX = 100_000_000
ROUNDS = 6  # of the Feistel network
GAMMA = 0x9E3779B97F4A7C15  # step of the SplitMix64 generator
JITTER_BITS = 20  # of the place within a stratum: exact beside the number of the stratum


class LatinHypercube:
    """Latin hypercube: in every dimension each of ``size`` equal strata holds one point.

    Point i lies in dimension j at ``(p_j(i) + u_ij) / size`` (M. D. McKay, R. J. Beckman and W. J.
    Conover, Technometrics 21 (1979) 239-245), with p_j a permutation of the numbers of the points
    and u_ij between 0 and 1. The permutation is a keyed Feistel network on the bits of the number
    (M. Luby and C. Rackoff, SIAM J. Comput. 17 (1988) 373-386), repeated until it falls below the
    size, so no list of it is held.
    """

    def __init__(self, size: int, dimensions: int, seed: int) -> None:
        self.size = size
        words = np.random.SeedSequence(seed).generate_state(dimensions * (ROUNDS + 1), np.uint64)
        self._keys: Words = np.asarray(words, np.uint64).reshape(dimensions, ROUNDS + 1)

    def shares(self, start: int, stop: int) -> Floats:
        """Points by their numbers."""
        numbers = np.arange(start, stop, dtype=np.uint64)
        columns = [
            permuted(numbers, self.size, keys[:ROUNDS]) + _jitter(numbers, keys[ROUNDS])
            for keys in self._keys
        ]
        return np.stack(columns, axis=1) / self.size


def permuted(numbers: Words, size: int, keys: Words) -> Words:
    """Numbers below ``size`` in the places that a keyed permutation gives them."""
    half = max(1, ((size - 1).bit_length() + 1) // 2)
    found = _feistel(numbers, half, keys)
    outside = found >= size
    while outside.any():  # walk along the cycle until it comes back below the size
        found[outside] = _feistel(found[outside], half, keys)
        outside = found >= size
    return found


def _feistel(numbers: Words, half: int, keys: Words) -> Words:
    """Permutation of the numbers of ``2 half`` bits."""
    bits, mask = np.uint64(half), np.uint64((1 << half) - 1)
    left, right = numbers >> bits, numbers & mask
    for key in keys:
        left, right = right, left ^ (mixed(right ^ key) & mask)
    return (left << bits) | right


def mixed(words: Words) -> Words:
    """Scatter the bits of words.

    The finaliser of SplitMix64 (G. L. Steele, D. Lea and C. H. Flood, OOPSLA 2014, from memory).
    """
    words = (words ^ (words >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    words = (words ^ (words >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return words ^ (words >> np.uint64(31))


def _jitter(numbers: Words, key: np.uint64) -> Floats:
    """Place of each point within its stratum, above 0 and below 1."""
    words = mixed((numbers + np.uint64(1)) * np.uint64(GAMMA) + key)
    places: Floats = (words >> np.uint64(64 - JITTER_BITS)).astype(np.float64)
    return (places + 0.5) / 2.0**JITTER_BITS


class Sobol:
    """Scrambled Sobol sequence of scipy, taken up where the last chunk ended or wound forward."""

    def __init__(self, size: int, dimensions: int, seed: int) -> None:
        self.size = size
        self._about = (dimensions, seed)
        self._engine: Any = None

    def shares(self, start: int, stop: int) -> Floats:
        """Points by their numbers."""
        from scipy.stats import qmc

        if self._engine is None or self._engine.num_generated > start:
            dimensions, seed = self._about
            self._engine = qmc.Sobol(dimensions, scramble=True, rng=seed)
        ahead = start - self._engine.num_generated
        if ahead:
            self._engine.fast_forward(ahead)
        # the first point alone: scipy warns of a first draw that is not a power of two
        parts = [self._engine.random(count) for count in (1, stop - start - 1) if count]
        return np.concatenate(parts)


class Factorial:
    """Every combination of levels; the last dimension changes fastest."""

    def __init__(self, levels: Sequence[int]) -> None:
        self.size = math.prod(levels)
        self._levels = tuple(levels)

    def shares(self, start: int, stop: int) -> Floats:
        """Points by their numbers."""
        digits = np.unravel_index(np.arange(start, stop), self._levels)
        steps = np.array(self._levels, dtype=float) - 1.0
        return np.stack(digits, axis=1) / steps


Sample = LatinHypercube | Sobol | Factorial


def sample_of(
    plan: MapPlan | SweepPlan, count: int, names: Sequence[str], seed: int
) -> Sample | None:
    """Sample of the unit cube that a plan asks for; None for a list.

    Parameters
    ----------
    plan : kind of the sample, and levels of each dimension
    count, seed : of the hypercube and the sequence
    names : of the dimensions
    """
    if plan.sample == FACTORIAL:
        return Factorial([plan.levels[name] for name in names])
    if plan.sample == LATIN:
        return LatinHypercube(count, len(names), seed)
    return Sobol(count, len(names), seed) if plan.sample == SOBOL else None


def level_faults(plan: MapPlan | SweepPlan, names: Sequence[str]) -> Iterator[str]:
    """What is wrong with the levels of a factorial sample of some dimensions."""
    for name in plan.levels:
        if name not in names:
            yield f"levels.{name}: not swept, expected one of {', '.join(names)}"
    if plan.sample == FACTORIAL:
        wanted = "missing, expected 2 or more levels of everything that is swept"
        yield from (f"levels.{name}: {wanted}" for name in names if name not in plan.levels)
        total = math.prod(plan.levels.values())
        if total > DESIGNS_MAX:
            yield f"levels: too many, got {total} points, expected at most {DESIGNS_MAX}"
