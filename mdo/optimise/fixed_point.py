"""Fixed point of a map that is dear to evaluate: the next point, mixed from those before."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from mdo.arrays import Floats

DEPTH = 4  # differences of points that are mixed
PLAIN = 2  # first points, which are taken as the map gives them
CUTOFF = 1e-2  # of the largest singular value: directions that are hardly known are left out


def mixed(tried: Sequence[tuple[Floats, Floats]]) -> Floats:
    r"""Next point toward a fixed point, by Anderson's mixing.

    .. math:: z' = z + f - (\Delta Z + \Delta F)\,\gamma, \quad
        \gamma = \arg\min |f - \Delta F\,\gamma|

    Parameters
    ----------
    tried
        Points :math:`z` and what the map gave there less the point, :math:`f`, the last one last.

    Returns
    -------
    Array
        Point, in the unit of those tried.

    Examples
    --------
    A map with slope 0.9, whose plain steps take 44 rounds to a hundredth of the way (hand: 10):

    >>> line = lambda z: 1.0 + 0.9 * z - z
    >>> points = [np.array([x]) for x in (0.0, 1.0, 1.9)]
    >>> float(mixed([(z, line(z)) for z in points])[0])
    10.0

    References
    ----------
    Anderson 1965, J. ACM 12, 547 (from memory).
    """
    points, misses = (np.array(part[-DEPTH - 1 :]) for part in zip(*tried, strict=True))
    if len(tried) <= PLAIN:
        plain: Floats = points[-1] + misses[-1]
        return plain
    turned, changed = np.diff(misses, axis=0).T, np.diff(points, axis=0).T
    weights = np.linalg.lstsq(turned, misses[-1], rcond=CUTOFF)[0]
    following: Floats = points[-1] + misses[-1] - (changed + turned) @ weights
    return following
