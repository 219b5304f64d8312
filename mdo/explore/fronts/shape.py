"""What the shape of a front says: its knee, its gaps.

The knee is the point farthest from the chord through the ends of the front, towards the better
side, all objectives normalised (Das, Structural Optimization 18, 1999, from memory). With three
objectives the plane of equal sums stands for the chord, through the best point of the border, that
is of those worst in some objective.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.explore.fronts.curve import Traced
from mdo.explore.fronts.known_points import FrontEnds, KnownPoints

BULGE = 1e-3  # least distance of a knee from the chord, normalised
GAP = 0.03  # normalised: shorter breaks are not told
NO_BETTER = "no design between is better than the one at the tight end"
JUMP = "the first objective jumps: another kind of design takes over"


class Gap(NamedTuple):
    """Bounds between which the front has no point, SI turned so that less is better."""

    low: Floats
    high: Floats
    reason: str


def knee_of(values: Floats) -> int | None:
    """Place of the knee; None where the front bulges nowhere towards the better side.

    Parameters
    ----------
    values : normalised objectives of the points, shape (n, objectives)
    """
    if len(values) < 3:
        return None
    sums = values.sum(axis=1)
    border = (values >= values.max(axis=0)).any(axis=1)
    depth = (sums[border].min() - sums) / np.sqrt(values.shape[1])
    best = int(np.argmax(depth))
    return best if depth[best] > BULGE else None


def infeasible_gaps(known: KnownPoints, ends: FrontEnds | None) -> list[Gap]:
    """Bounds tighter than the tightest with an optimum, per bounded objective."""
    none = np.flatnonzero(~known.feasible)
    if ends is None:
        low = np.array([one.tight for one in known.ranges])
        return [Gap(low, known.loosest, known.reason[none[0]])]
    gaps = []
    for which in range(len(known.ranges)):
        others = np.delete(known.bounds, which, axis=1) >= np.delete(ends.loose, which)
        own = none[others[none].all(axis=1) & (known.bounds[none, which] < ends.tight[which])]
        if own.size == 0:
            continue
        low, high = ends.tight.copy(), ends.loose.copy()
        low[which], high[which] = known.bounds[own, which].min(), ends.tight[which]
        nearest = int(own[np.argmax(known.bounds[own, which])])
        gaps.append(Gap(low, high, known.reason[nearest]))
    return gaps


def breaks(known: KnownPoints, curve: Traced) -> list[Gap]:
    """Breaks of a front of two objectives: where its bound does not bind, and where it jumps."""
    if curve.ends is None or curve.nodes is None:
        return []
    nodes = curve.nodes
    values = known.values[curve.places, 1]
    normal = curve.ends.scale.normal(known.values[curve.places])
    gaps = []
    for at in range(len(values) - 1):
        low, high = normal[at], normal[at + 1]
        inside = (nodes.u[:-1] >= low[1] - 1e-9) & (nodes.u[1:] <= high[1] + 1e-9)
        flat = float(np.diff(nodes.u)[inside & nodes.flat].sum())
        fall = float(-np.diff(nodes.f)[inside & nodes.jumps].sum())
        if flat > GAP or fall > GAP:
            reason = NO_BETTER if flat > fall else JUMP
            gaps.append(Gap(values[at : at + 1], values[at + 1 : at + 2], reason))
    return gaps
