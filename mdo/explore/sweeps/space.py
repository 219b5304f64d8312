"""From points of the unit cube, or from a list, to values of axes and whole designs."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from mdo.explore.sweeps.options import SweepOptions, swept_names, swept_variables
from mdo.explore.sweeps.samples import Sample, sample_of
from mdo.optimise.axes.axis import ends_of
from mdo.optimise.problem import DesignProblem
from mdo.optimise.starts import starting_designs

Floats = NDArray[np.float64]


class Space:
    """What a sweep covers: axes evenly, variables evenly in the scale of the optimiser.

    That scale is the logarithm but for temperature, insulation and spring rate.

    Attributes
    ----------
    names
        Axes, then variables.
    """

    def __init__(self, problem: DesignProblem, options: SweepOptions) -> None:
        self._problem = problem
        self._axes = options.axes
        self.names = swept_names(problem, options)
        variables = swept_variables(problem, options)
        self._places = [problem.labels.index(label) for label in variables]
        self._base = np.array(options.base)
        self._low, self._high = self._base.copy(), self._base.copy()
        for label, place in zip(variables, self._places, strict=True):
            ends = options.variables.get(label)
            self._low[place], self._high[place] = (
                ends if ends is not None else (problem.lower[place], problem.upper[place])
            )

    def values(self, shares: Floats) -> Floats:
        """Values (SI) of all that is swept at points of the unit cube, both (n, names)."""
        count = len(self._axes)
        low, high = ends_of(self._axes)
        axes = low + shares[:, :count] * (high - low)
        ends = self._problem.scale(self._low), self._problem.scale(self._high)
        whole = np.tile(ends[0], (len(shares), 1))
        whole[:, self._places] += shares[:, count:] * (ends[1] - ends[0])[self._places]
        # the ends of a range come out of a logarithm a last digit outside of it
        designs = np.clip(self._problem.unscale(whole), self._low, self._high)
        return np.concatenate([axes, designs[:, self._places]], axis=1)

    def points(self, values: Floats) -> Floats:
        """Values of the axes, shape (n, axes)."""
        return values[:, : len(self._axes)]

    def designs(self, values: Floats) -> Floats:
        """Whole design vectors, shape (n, design)."""
        whole = np.tile(self._base, (len(values), 1))
        whole[:, self._places] = values[:, len(self._axes) :]
        return whole


def base_design(problem: DesignProblem, options: SweepOptions) -> tuple[float, ...]:
    """Design that gives what is not swept: the one given, else a first guess where one is needed.

    Variables that the study freezes, or that mean nothing with its choices, keep their lower bound.
    """
    if options.base:
        return options.base
    swept = set(swept_variables(problem, options))
    active = [label for label, on in zip(problem.labels, problem.active, strict=True) if on]
    if swept >= set(active):
        return tuple(problem.lower.tolist())
    guess = starting_designs(problem, 1)[0].design
    return tuple(np.where(problem.active, guess, problem.lower).tolist())


def drawn_sample(problem: DesignProblem, options: SweepOptions) -> Sample | None:
    """Sample of the unit cube that the options ask for; None for a list."""
    names = swept_names(problem, options)
    return sample_of(options.sample, names, options.designs, options.levels, options.seed)
