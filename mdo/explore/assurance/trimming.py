"""Variables that are set after the build, in each sample where its worst requirement holds best.

By linear programmes of the exact slopes within a box that shrinks where a step does not help; plain
functions of the settings alone.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy import sparse
from scipy.optimize import linprog

from mdo.arrays import Floats

ROUNDS = 3
BOX, SHRINK = 0.5, 0.3  # of the scaled variables: 5 K, or half of a power
ROWS = 24  # least rows of a sample that a step looks at
TOGETHER = 128  # samples of one linear programme


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
        within = np.maximum(low - best, -box[:, None]), np.minimum(high - best, box[:, None])
        ahead = best + _steps(now, slopes(best), *within)
        tried = rows(ahead)
        better = tried.min(axis=1) > now.min(axis=1)
        best = np.where(better[:, None], ahead, best)
        now = np.where(better[:, None], tried, now)
        box = np.where(better, box, SHRINK * box)
    return best


def _steps(rows: Floats, slopes: Floats, low: Floats, high: Floats) -> Floats:
    """Steps within bounds after which the least of the linear rows of each sample is largest.

    One linear programme of many samples, which do not touch each other.
    """
    reach = rows + np.minimum(slopes * low[:, None], slopes * high[:, None]).sum(axis=2)
    near = reach.argsort(axis=1, kind="stable")[:, :ROWS]
    own = np.take_along_axis(rows, near, axis=1)
    along = np.take_along_axis(slopes, near[:, :, None], axis=1)
    limits = np.concatenate([-along, np.ones_like(own)[:, :, None]], axis=2)
    steps = np.zeros_like(low)
    for at in range(0, len(rows), TOGETHER):
        some = slice(at, at + TOGETHER)
        count, size = low[some].shape
        ends = np.stack([low[some], high[some]], axis=2)
        free = np.broadcast_to([-np.inf, np.inf], (count, 1, 2))
        found = linprog(
            np.tile(np.append(np.zeros(size), -1.0), count),
            A_ub=sparse.block_diag(list(limits[some]), format="csr"),
            b_ub=own[some].ravel(),
            bounds=np.concatenate([ends, free], axis=1).reshape(-1, 2),
        )
        if found.status == 0:
            steps[some] = found.x.reshape(count, -1)[:, :size]
    return steps
