"""Inputs of a sensitivity analysis: axes of the study, or all that are judged."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from mdo.arrays import Booleans, Floats
from mdo.defend import drawn_inputs
from mdo.defend.uncertain import uncertain_inputs
from mdo.explore.exploration import refuse
from mdo.optimise.axes import Axis, axes_of
from mdo.optimise.problem import DesignProblem
from mdo.study.units import as_written

COMPARED = "baseline"  # record of the hinges compared with: no output here follows it


class Input(NamedTuple):
    """One input: an axis, and whether its logarithm is even over the range."""

    axis: Axis
    logarithmic: bool

    def at(self, share: Floats) -> Floats:
        """Values at shares 0 to 1 of the range, SI."""
        low, high = self.axis.low, self.axis.high
        if self.logarithmic:
            return np.asarray(low * (high / low) ** share)
        return np.asarray(low + (high - low) * share)

    @property
    def own_share(self) -> float:
        """Share of the range at which the value of the study is."""
        low, high, value = self.axis.low, self.axis.high, self.axis.knob.value
        if self.logarithmic:
            low, high, value = np.log(low), np.log(high), np.log(value)
        share = (value - low) / (high - low)
        return float(np.clip(share, 0.0, 1.0)) if np.isfinite(share) else 0.5


def inputs_of(problem: DesignProblem) -> tuple[Input, ...]:
    """Axes of the plan, even over their ranges; every judged input of the study without any.

    Raises
    ------
    StudyError
        If the plan is wrong or there are no inputs.
    """
    plan = problem.study.analysis.sensitivity
    axes = axes_of(problem, plan.axes, "analysis.sensitivity.axes")
    counts = {"samples": plan.samples, "optimum_samples": plan.optimum_samples}
    faults = [
        f"{name}: got {count}, expected a power of two"
        for name, count in counts.items()
        if count & (count - 1)
    ]
    inputs = tuple(Input(axis, logarithmic=False) for axis in axes) or _judged(problem)
    if not inputs:
        faults.append("axes: none, and the study judges no input")
    refuse(problem, "sensitivity", faults)
    return inputs


def _judged(problem: DesignProblem) -> tuple[Input, ...]:
    """Every judged input of a study."""
    judged = [one for one in uncertain_inputs(problem) if one.record != COMPARED]
    ends = {
        one.path: (as_written(one.low, one.unit), as_written(one.high, one.unit)) for one in judged
    }
    axes = axes_of(problem, ends, "inputs")
    return tuple(Input(axis, one.logarithmic) for axis, one in zip(axes, judged, strict=True))


def values_at(inputs: Sequence[Input], shares: Floats, part: float = 1.0) -> Floats:
    """Values at points of the unit cube, SI, shape (points, inputs).

    Parameters
    ----------
    inputs : what is turned
    shares : points of the unit cube
    part : part of every range that is covered, drawn in towards the value of the study
    """
    own = [one.own_share for one in inputs]
    drawn = np.array(own) + part * (shares - own) if part != 1.0 else shares
    return np.column_stack([one.at(share) for one, share in zip(inputs, drawn.T, strict=True)])


def agrees(problem: DesignProblem, inputs: Sequence[Input], values: Floats) -> Booleans:
    """Points at which temperatures and stresses of the alloy keep their order."""
    return drawn_inputs.agrees(problem, (one.axis.name for one in inputs), values)
