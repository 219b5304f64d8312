"""Wing and folding panel from span-wise breakpoints (run once per study, outside the chain)."""

from __future__ import annotations

import jax
import numpy as np
from numpy.typing import ArrayLike

from mdo.arrays import Floats
from mdo.disciplines.loads.span_load import elliptic_span_load
from mdo.disciplines.records import Planform

_ellipse = jax.jit(elliptic_span_load)  # compiled whole, not operation by operation

# Three Gauss points per piece are exact for the piecewise polynomials up to degree five used here
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(3)
BREAKPOINTS = 8  # in the record, the tip repeated: wings with fewer share compiled code


def _filled(values: Floats) -> Floats:
    """Values at the breakpoints, the last one repeated."""
    return np.pad(values, (0, max(0, BREAKPOINTS - values.size)), mode="edge")


class _Wing:
    """Piecewise-linear wing with exact integrals over any part of the semi-span."""

    def __init__(self, *parts: ArrayLike) -> None:
        self.station, self.leading_edge, self.breakpoint_chord, self.breakpoint_twist = (
            np.asarray(part, dtype=float) for part in parts
        )

    def chord(self, station: Floats | float) -> Floats:
        return np.asarray(np.interp(station, self.station, self.breakpoint_chord))

    def twist(self, station: Floats | float) -> Floats:
        return np.asarray(np.interp(station, self.station, self.breakpoint_twist))

    def points(self, start: float, end: float) -> tuple[Floats, Floats]:
        """Gauss stations and weights on every piece between `start` and `end`."""
        inside = self.station[(self.station > start) & (self.station < end)]
        edges = np.concatenate(([start], inside, [end]))
        half = 0.5 * np.diff(edges)[:, None]
        middle = 0.5 * (edges[1:] + edges[:-1])[:, None]
        return (middle + half * _NODES).ravel(), (half * _WEIGHTS).ravel()

    def mean_tangent(self, fraction: float) -> float:
        """Area-weighted mean tangent of the sweep of the line at a chord fraction."""
        line = self.leading_edge + fraction * self.breakpoint_chord
        step = np.diff(self.station)
        area = 0.5 * (self.breakpoint_chord[1:] + self.breakpoint_chord[:-1]) * step
        return float(np.sum(area * np.diff(line) / step) / np.sum(area))


def planform_from_breakpoints(
    *,
    station: ArrayLike,
    leading_edge: ArrayLike,
    chord: ArrayLike,
    twist: ArrayLike,
    thickness_ratio: ArrayLike,
    fold_station: float,
) -> Planform:
    """Planform record of a wing given by breakpoints along the semi-span, flat, fold chordwise.

    Parameters
    ----------
    station
        Distance from the plane of symmetry along the flat wing [m], increasing from 0 to the tip,
        shape (n,).
    leading_edge
        Leading-edge position, positive aft [m], shape (n,).
    chord
        Chord [m], positive (a pointed tip may be 0), shape (n,).
    twist
        Incidence of the section, positive nose up [rad], shape (n,).
    thickness_ratio
        Thickness over chord [1], shape (n,).
    fold_station
        Station of the fold axis [m], inside the semi-span.

    Returns
    -------
    Planform
        In SI, units in :mod:`mdo.quantities`. Everything is linear between breakpoints and
        integrated exactly; sweeps are area-weighted mean tangents; ``panel_incidence`` and
        ``inner_incidence`` are the area means of the twist outboard and inboard of the fold, in
        the datum of the breakpoints.

    Examples
    --------
    Semi-span 2 m, chord 1 to 0.5 m, fold at 1 m (hand: panel (0.75 + 0.5)/2 m2, wing 3 m2):

    >>> wing = planform_from_breakpoints(station=[0.0, 2.0], leading_edge=[0.0, 0.0],
    ...     chord=[1.0, 0.5], twist=[0.0, 0.0], thickness_ratio=[0.1, 0.1], fold_station=1.0)
    >>> float(wing.panel_area), float(wing.aspect_ratio), float(wing.taper_ratio)
    (0.625, 5.333333, 0.5)

    References
    ----------
    Schrenk 1940, TM 948: mean of the chord and of an ellipse of equal area. Its two integrals
    outboard of the fold are half the chord's and half the ellipse's, both exact.
    """
    wing = _Wing(station, leading_edge, chord, twist)
    y, c = wing.station, wing.breakpoint_chord
    tip = float(y[-1])
    points, weights = wing.points(fold_station, tip)
    inner_points, inner_weights = wing.points(0.0, fold_station)
    area = weights * wing.chord(points)
    inner_area = inner_weights * wing.chord(inner_points)
    arm = points - fold_station
    panel_area = float(np.sum(area))
    wing_area = 2.0 * (panel_area + float(np.sum(inner_area)))
    centroid = float(np.sum(area * arm)) / panel_area
    width = tip - float(fold_station)
    ellipse = _ellipse(width / tip)
    thickness = np.asarray(thickness_ratio, dtype=float) * c
    panel_incidence = float(np.sum(area * wing.twist(points))) / panel_area
    inner_incidence = float(np.sum(inner_area * wing.twist(inner_points)) / np.sum(inner_area))
    return Planform(
        span=2.0 * tip,
        reference_area=wing_area,
        aspect_ratio=(2.0 * tip) ** 2 / wing_area,
        taper_ratio=float(c[-1] / c[0]),
        leading_edge_sweep=float(np.arctan(wing.mean_tangent(0.0))),
        quarter_chord_sweep=float(np.arctan(wing.mean_tangent(0.25))),
        half_chord_sweep=float(np.arctan(wing.mean_tangent(0.5))),
        fold_station=float(fold_station),
        panel_span=width,
        panel_area=panel_area,
        panel_aspect_ratio=width**2 / panel_area,
        panel_centroid=centroid,
        panel_damping_integral=float(np.sum(area * arm**2)),
        panel_apparent_inertia=float(
            np.sum(weights * 0.25 * np.pi * wing.chord(points) ** 2 * arm**2)
        ),
        fold_chord=float(wing.chord(fold_station)),
        fold_thickness=float(np.interp(fold_station, y, thickness)),
        panel_mean_chord=panel_area / width,
        schrenk_moment_factor=0.5 * panel_area * centroid / (wing_area * tip)
        + 0.5 * float(ellipse.moment),
        schrenk_force_factor=0.5 * panel_area / wing_area + 0.5 * float(ellipse.force),
        panel_incidence=panel_incidence,
        inner_incidence=inner_incidence,
        station=_filled(y),
        leading_edge=_filled(wing.leading_edge),
        chord=_filled(c),
        twist=_filled(wing.breakpoint_twist),
    )
