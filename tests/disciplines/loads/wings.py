"""Trapezoidal wings of the tests of lifting surfaces."""

import numpy as np

from mdo.disciplines.loads.lifting_surfaces import Wing
from mdo.disciplines.loads.planform import planform_from_breakpoints


def trapezoid(aspect, fraction, taper=1.0, quarter_sweep=0.0, twist=0.0, hinge_height=0.0):
    """Wing of mean chord 1 with linear twist from root to tip; sweep in degrees."""
    half = aspect / 2
    root = 2 / (1 + taper)
    slope = np.tan(np.radians(quarter_sweep)) + 0.25 * root * (1 - taper) / half
    return wing([0.0, half], [0.0, slope * half], [root, taper * root], (1 - fraction) * half,
                twist=[0.0, twist], hinge_height=hinge_height)  # fmt: skip


def delta(aspect, fraction=0.4):
    """Delta wing of root chord 1, straight trailing edge."""
    half = aspect / 4
    return wing([0.0, half], [0.0, 1.0], [1.0, 0.0], (1 - fraction) * half)


def wing(station, leading_edge, chord, fold, *, twist=None, hinge_height=0.0, efficiency=1.0):
    flat = planform_from_breakpoints(
        station=station,
        leading_edge=leading_edge,
        chord=chord,
        twist=np.zeros(len(station)) if twist is None else twist,
        thickness_ratio=np.full(len(station), 0.05),
        fold_station=fold,
    )
    return Wing(flat, hinge_height, efficiency)


def reversed_wing(given):
    """The same wing flown backwards: trailing edge in front."""
    flat = given.planform
    back = -(flat.leading_edge + flat.chord)
    return given._replace(planform=flat._replace(leading_edge=back - back[0]))
