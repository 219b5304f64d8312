"""Areas of a wing given by breakpoints, to check the study and to fill its defaults."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple


class Area(NamedTuple):
    """Area [m2] of one side outboard of a station, and its centroid from that station [m]."""

    area: float
    centroid: float


def chord_at(stations: Sequence[float], chords: Sequence[float], station: float) -> float:
    """Return the chord [m] at a station [m] inside the wing, linear between breakpoints."""
    for (y1, c1), (y2, c2) in pairwise(zip(stations, chords, strict=True)):
        if station <= y2:
            return c1 + (c2 - c1) * (station - y1) / (y2 - y1)
    return chords[-1]


def area_outboard(stations: Sequence[float], chords: Sequence[float], start: float) -> Area:
    """Integrate the chord outboard of a station, exactly for straight edges.

    Parameters
    ----------
    stations, chords
        Breakpoints of one wing [m], stations increasing.
    start
        Station [m] inside the wing from which to integrate.
    """
    inside = [(y, c) for y, c in zip(stations, chords, strict=True) if y > start]
    edges = [(start, chord_at(stations, chords, start)), *inside]
    area = first_moment = 0.0
    for (y1, c1), (y2, c2) in pairwise(edges):
        width = y2 - y1
        strip = 0.5 * (c1 + c2) * width
        area += strip
        first_moment += strip * (y1 - start) + width**2 * (c1 + 2.0 * c2) / 6.0
    return Area(area, first_moment / area)
