"""Inputs of a sensitivity analysis: axes of the study, or all that are judged."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.explore.axes import Axis, axes_of
from mdo.explore.knobs import ALLOY
from mdo.explore.problem import DesignProblem
from mdo.explore.sensitivity.design_odds import ORDERED
from mdo.explore.uncertain import uncertain_inputs

Floats = NDArray[np.float64]
Booleans = NDArray[np.bool_]
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


def inputs_of(problem: DesignProblem, axes: Sequence[Axis]) -> tuple[Input, ...]:
    """Axes given, even over their ranges; every judged input of the study where there are none."""
    if axes:
        return tuple(Input(axis, logarithmic=False) for axis in axes)
    judged = [one for one in uncertain_inputs(problem) if one.record != COMPARED]
    ends = {one.path: (text(one.low, one.unit), text(one.high, one.unit)) for one in judged}
    found = axes_of(problem, ends, "inputs")
    return tuple(Input(axis, one.logarithmic) for axis, one in zip(found, judged, strict=True))


def text(value: float, unit: str) -> str | float:
    """Value as in a study file."""
    return float(value) if unit == "1" else f"{float(value)!r} {unit}"


def values_at(inputs: Sequence[Input], shares: Floats) -> Floats:
    """Values at points of the unit cube, SI, shape (points, inputs)."""
    return np.column_stack([one.at(share) for one, share in zip(inputs, shares.T, strict=True)])


def agrees(problem: DesignProblem, inputs: Sequence[Input], values: Floats) -> Booleans:
    """Points at which temperatures and stresses of the alloy keep their order."""
    alloy = problem.assembled.parameters["alloy"]
    columns = {
        one.axis.name.removeprefix(ALLOY): values[:, number]
        for number, one in enumerate(inputs)
        if one.axis.name.startswith(ALLOY)
    }
    sound = np.ones(len(values), dtype=bool)
    for lower, upper in ORDERED:
        if lower in columns or upper in columns:
            first, second = (columns.get(name, getattr(alloy, name)) for name in (lower, upper))
            sound &= np.asarray(first < second)
    return sound
