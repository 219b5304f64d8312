"""What a sweep covers: axes and design variables, from points of the unit cube or from a list."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mdo.arrays import Floats
from mdo.explore.exploration import refuse
from mdo.explore.sweeps.samples import Sample, level_faults, sample_of
from mdo.optimise.axes.axis import Axis, axes_of, ends_of, parsed_end
from mdo.optimise.problem import DesignProblem
from mdo.optimise.starts import starting_designs
from mdo.quantities import QUANTITIES
from mdo.study.analyses import Ends
from mdo.study.units import UnitError


class Space(NamedTuple):
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

    @property
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

    def points(self, values: Floats) -> Floats:
        """Values of the axes, shape (n, axes)."""
        return values[:, : len(self.axes)]

    def designs(self, values: Floats) -> Floats:
        """Whole design vectors, shape (n, design)."""
        designs = np.tile(self.low, (len(values), 1))
        designs[:, self.places] = values[:, len(self.axes) :]
        return designs


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
    ranges, faults = _ranges(problem, plan.variables)
    active = [label for label, on in zip(problem.labels, problem.active, strict=True) if on]
    if listed is not None:
        ranges, wanted = {}, set(listed)
    else:
        wanted = set(ranges) if ranges or axes else set(active)
    variables = tuple(label for label in problem.labels if label in wanted)
    names = [*(axis.name for axis in axes), *variables]
    refuse(problem, "sweep", [*faults, *(level_faults(plan, names) if not faults else ())])
    low = np.array(_base(problem, variables, active) if base is None else base, dtype=float)
    high = low.copy()
    for label in variables:
        place = problem.labels.index(label)
        low[place], high[place] = ranges.get(label, (problem.lower[place], problem.upper[place]))
    return Space(problem, axes, variables, low, high)


def _base(problem: DesignProblem, variables: Sequence[str], active: Sequence[str]) -> Floats:
    """Design that gives what is not swept: a first guess, where one is needed.

    Variables that the study freezes, or that mean nothing with its choices, keep their lower bound.
    """
    if set(variables) >= set(active):
        return problem.lower
    return np.where(problem.active, starting_designs(problem, 1)[0].design, problem.lower)


def _ranges(
    problem: DesignProblem, given: Mapping[str, Ends]
) -> tuple[dict[str, tuple[float, float]], list[str]]:
    """Ranges of design variables in SI by label, and what is wrong with those given."""
    ranges, faults = {}, []
    for label, ends in given.items():
        try:
            unit = QUANTITIES[label.partition(".")[0]].unit if label in problem.labels else "1"
            low, high = (parsed_end(end, unit) for end in ends)
            ranges[label] = low, high
            wrong = [*_faults(problem, label, low, high)]
        except UnitError as error:
            wrong = [str(error)] if label in problem.labels else [*_faults(problem, label, 0, 0)]
        faults += [f"variables.{label}: {fault}" for fault in wrong]
    return ranges, faults


def _faults(problem: DesignProblem, label: str, low: float, high: float) -> Iterator[str]:
    """What is wrong with the range of a design variable."""
    free = [name for name, on in zip(problem.labels, problem.active, strict=True) if on]
    expected = f"expected one of {', '.join(free)}"
    if label not in problem.labels:
        yield f"no design variable, {expected}"
    elif label not in free:
        yield f"frozen or without meaning with the choices of this study, {expected}"
    elif not (math.isfinite(low) and math.isfinite(high) and low < high):
        yield f"no range, got {low} to {high}, expected the lower end first"
    else:
        place = problem.labels.index(label)
        least, most = problem.lower[place], problem.upper[place]
        if low < least or high > most:
            yield (
                f"outside its bounds, got {low:.6g} to {high:.6g}, expected {least:.6g} to "
                f"{most:.6g} (SI)"
            )
