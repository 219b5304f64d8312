"""Axes of an exploration: numbers of a study that are turned together, at many points at once."""

from mdo.optimise.axes.axis import Axis, axes_of
from mdo.optimise.axes.parameters import Parameters, ParametricProblem, written_axes

__all__ = ["Axis", "Parameters", "ParametricProblem", "axes_of", "written_axes"]
