"""Requirement maps: the optimum at every point of some axes, and which choice wins where."""

from mdo.explore.maps.map import MapOptions, run_map

__all__ = ["MapOptions", "run_map"]
