"""What a sweep covers: axes and design variables, from points of the unit cube or from a list."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from mdo.arrays import Floats
from mdo.explore.exploration import refuse
from mdo.explore.sweeps.samples import Sample, level_faults, sample_of
from mdo.optimise.axes import Axis, ParametricProblem, axes_of, ends_of, ranged
from mdo.optimise.knob_list import known_knob
from mdo.optimise.problem import DesignProblem
from mdo.optimise.starts import starting_designs
from mdo.study.units import UnitError

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
