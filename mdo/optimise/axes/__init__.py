"""Axes of an exploration: numbers of a study that are turned together, at many points at once."""

from mdo.optimise.axes.axis import Axis, axes_of, ends_of, parsed_end, ranged
from mdo.optimise.axes.parameters import Parameters, ParametricProblem, written_axes

__all__ = [
    "Axis", "Parameters", "ParametricProblem", "axes_of", "ends_of", "parsed_end", "ranged",
    "written_axes",
]  # fmt: skip
