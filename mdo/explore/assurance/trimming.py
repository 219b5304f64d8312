"""Variables that are set after the build, in each sample where its worst requirement holds best.

By linear programmes of the exact slopes within a box that shrinks where a step does not help; plain
functions of the settings alone.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.optimize import linprog

from mdo.arrays import Floats

ROUNDS = 3
BOX, SHRINK = 0.5, 0.3  # of the scaled variables: 5 K, or half of a power
ROWS = 24  # least rows of a sample that a step looks at


def best_settings(
    rows: Callable[[Floats], Floats],
    slopes: Callable[[Floats], Floats],
    start: Floats,
    low: Floats,
    high: Floats,
) -> Floats:
    """Settings with which the least row of each sample is largest.

    Parameters
    ----------
    rows : settings (samples, variables) to rows, each over its deviation, (samples, rows)
    slopes : the same to their slopes, (samples, rows, variables)
    start : settings
    low, high : their bounds, (variables,)
    """
    best = np.clip(start, low, high)
    now, box = rows(best), np.full(len(best), BOX)
    for _ in range(ROUNDS):
        turned = slopes(best)
        ahead = np.array([
            at + _step(row, slope, np.maximum(low - at, -size), np.minimum(high - at, size))
            for at, row, slope, size in zip(best, now, turned, box, strict=True)
        ])  # fmt: skip
        tried = rows(ahead)
        better = tried.min(axis=1) > now.min(axis=1)
        best = np.where(better[:, None], ahead, best)
        now = np.where(better[:, None], tried, now)
        box = np.where(better, box, SHRINK * box)
    return best


def _step(row: Floats, slope: Floats, low: Floats, high: Floats) -> Floats:
    """Step within bounds after which the least of linear rows is largest."""
    reach = row + np.minimum(slope * low, slope * high).sum(axis=1)
    near = np.argpartition(reach, ROWS)[:ROWS] if len(row) > ROWS else np.arange(len(row))
    size = low.size
    found = linprog(
        np.append(np.zeros(size), -1.0),
        A_ub=np.hstack([-slope[near], np.ones((near.size, 1))]),
        b_ub=row[near],
        bounds=[*zip(low, high, strict=True), (None, None)],
    )
    return np.asarray(found.x[:size]) if found.status == 0 else np.zeros(size)
