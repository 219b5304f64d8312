"""What a sweep covers: axes and design variables, from points of the unit cube or from a list.

A sweep is done in chunks, in any order and by several processes, and may be too large to be held at
once. So every sample of the cube is a function of the number of a point.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from mdo.arrays import Floats
from mdo.explore.exploration import refuse
from mdo.optimise.axes import Axis, ParametricProblem, axes_of, ends_of, ranged
from mdo.optimise.knob_list import known_knob
from mdo.optimise.problem import DesignProblem
from mdo.optimise.starts import starting_designs
from mdo.study.analyses import SAMPLES, MapPlan, SweepPlan
from mdo.study.units import UnitError

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


VARIABLE = "variable"  # kind of a knob: one of the design, which no study is turned by


@dataclass(frozen=True, eq=False)
class Space:
    """What a sweep covers: axes evenly, variables evenly in the scale of the optimiser.

    That scale is the logarithm but for temperature, insulation and spring rate.

    Attributes
    ----------
    problem
        The study.
    axes, variables
        What is swept: numbers of the study, and labels of design variables.
    low, high
        Ends of the designs, whole vectors; equal where a variable is not swept.
    """

    problem: DesignProblem
    axes: tuple[Axis, ...]
    variables: tuple[str, ...]
    low: Floats
    high: Floats

    @property
    def names(self) -> tuple[str, ...]:
        """Axes, then variables."""
        return (*(axis.name for axis in self.axes), *self.variables)

    @property
    def places(self) -> list[int]:
        """Places of the variables in the design vector."""
        return [self.problem.labels.index(label) for label in self.variables]

    @cached_property
    def parametric(self) -> ParametricProblem:
        """The study over its axes."""
        return ParametricProblem(self.problem, self.axes)

    @cached_property
    def sample(self) -> Sample | None:
        """Sample of the unit cube that the study asks for; None for a list."""
        plan = self.problem.study.analysis.sweep
        return sample_of(plan, plan.designs, self.names, self.problem.study.seed)

    def values(self, shares: Floats) -> Floats:
        """Values (SI) of all that is swept at points of the unit cube, both (n, names)."""
        count, places = len(self.axes), self.places
        low, high = ends_of(self.axes)
        axes = low + shares[:, :count] * (high - low)
        ends = self.problem.scale(self.low), self.problem.scale(self.high)
        scaled = np.tile(ends[0], (len(shares), 1))
        scaled[:, places] += shares[:, count:] * (ends[1] - ends[0])[places]
        # the ends of a range come out of a logarithm a last digit outside of it
        designs = np.clip(self.problem.unscale(scaled), self.low, self.high)
        return np.concatenate([axes, designs[:, places]], axis=1)

    def designs(self, values: Floats) -> Floats:
        """Whole design vectors of such values, shape (n, design)."""
        designs = np.tile(self.low, (len(values), 1))
        designs[:, self.places] = values[:, len(self.axes) :]
        return designs


def variable_axes(problem: DesignProblem) -> dict[str, Axis]:
    """Design variables that may be swept, over their bounds, by label."""
    axes = {}
    for label, active, *ends in zip(
        problem.labels, problem.active, problem.lower, problem.upper, strict=True
    ):
        if active:
            low, high = map(float, ends)
            own = {"low": low, "high": high, "step": high - low, "per": "", "easier": 0}
            knob = known_knob(label, VARIABLE, low, (), of=label.partition(".")[0], **own)
            axes[label] = Axis(knob, low, high)
    return axes


def space_of(
    problem: DesignProblem, base: ArrayLike | None = None, listed: Sequence[str] | None = None
) -> Space:
    """What the plan of a study sweeps.

    Parameters
    ----------
    problem : the study
    base : design that gives what is not swept; None: a first guess, where one is needed
    listed : axes and variables that a list of designs has columns for; None: there is no list

    Raises
    ------
    StudyError
        With every fault of axes, variables and levels.
    """
    plan = problem.study.analysis.sweep
    axes = axes_of(problem, plan.axes, "analysis.sweep.axes")
    known, chosen, faults = variable_axes(problem), dict[str, Axis](), list[str]()
    for label, ends in plan.variables.items():
        try:
            chosen[label] = ranged(known[label].knob, ends)
        except KeyError:
            meaningless = "frozen or without meaning with the choices of this study"
            fault = meaningless if label in problem.labels else "no design variable"
            faults.append(f"variables.{label}: {fault}, expected one of {', '.join(known)}")
        except UnitError as error:
            faults.append(f"variables.{label}: {error}")
    if listed is not None:
        chosen = {label: axis for label, axis in known.items() if label in listed}
    elif not (plan.variables or axes):
        chosen = known
    variables = tuple(label for label in known if label in chosen)
    names = [*(axis.name for axis in axes), *variables]
    refuse(problem, "sweep", [*faults, *(level_faults(plan, names) if not faults else ())])
    if base is None and len(variables) < len(known):
        # what means nothing with the choices of the study keeps its lower bound
        base = np.where(problem.active, starting_designs(problem, 1)[0].design, problem.lower)
    low = np.array(problem.lower if base is None else base, dtype=float)
    high = low.copy()
    for label in variables:
        place = problem.labels.index(label)
        low[place], high[place] = chosen[label].low, chosen[label].high
    return Space(problem, axes, variables, low, high)
