"""Axes of an exploration: numbers of a study that are turned together, at many points at once."""

from mdo.optimise.axes.axis import Axis, axes_of
from mdo.optimise.axes.parameters import Parameters, Turner

__all__ = ["Axis", "Parameters", "Turner", "axes_of"]
