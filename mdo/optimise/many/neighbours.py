"""Starts from neighbours that are solved: a local fit of their designs, the Hessian of the nearest.

The optimum follows the axes smoothly as long as the same rows are active, so a plane through the
nearest optima is several times nearer to the next one than any of them.
"""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from mdo.arrays import Floats, Indices

RIDGE = 1e-3  # on the slopes of a plane


def nearest(places: Floats, known: Floats, count: int) -> Indices:
    """Nearest known points of each place, nearest first, shape (n, count)."""
    count = min(count, len(known))
    _, found = cKDTree(known).query(places, k=range(1, count + 1))
    return np.asarray(found, dtype=np.intp)


def predicted(places: Floats, known: Floats, designs: Floats) -> Floats:
    """Scaled designs of planes through the nearest known ones, within the range of these.

    Least squares with weights that fall with the distance.

    Parameters
    ----------
    places : in the unit box, shape (n, axes)
    known, designs : places and scaled designs of feasible points
    """
    near = nearest(places, known, 2 * (places.shape[1] + 1))
    offsets = known[near] - places[:, None, :]
    distance = np.sqrt((offsets**2).sum(axis=2))
    farthest = np.maximum(distance.max(axis=1), 1e-12)[:, None]
    weights = 1.0 / (distance + 0.3 * farthest)
    basis = np.concatenate([np.ones((*near.shape, 1)), offsets / farthest[:, :, None]], axis=2)
    ridge = np.diag(np.append(0.0, np.full(places.shape[1], RIDGE)))
    weighted = basis * weights[:, :, None]
    matrix = weighted.transpose(0, 2, 1) @ basis + ridge * weights.sum(axis=1)[:, None, None]
    around = designs[near]
    fitted = np.linalg.solve(matrix, weighted.transpose(0, 2, 1) @ around)[:, 0, :]
    return np.asarray(np.clip(fitted, around.min(axis=1), around.max(axis=1)))


def above_neighbours(places: Floats, values: Floats) -> Floats:
    """How far each value lies above the plane through those of its neighbours."""
    count = 2 * (places.shape[1] + 1)
    near = nearest(places, places, count + 1)
    own = near == np.arange(len(places))[:, None]
    order = np.argsort(own, axis=1, kind="stable")  # the point itself last
    near = np.take_along_axis(near, order, axis=1)[:, :count]
    basis = np.concatenate([np.ones((*near.shape, 1)), places[near] - places[:, None, :]], axis=2)
    fitted = (np.linalg.pinv(basis) @ values[near][:, :, None])[:, 0, 0]
    return np.asarray(values - fitted)


def spread_order(places: Floats, first: int) -> Indices:
    """Order in which the first points lie far from each other, then the rest.

    Parameters
    ----------
    places : in the unit box, shape (n, axes)
    first : how many are ordered so
    """
    chosen = [int(((places - 0.5) ** 2).sum(axis=1).argmin())]
    distance = ((places - places[chosen[0]]) ** 2).sum(axis=1)
    while len(chosen) < min(first, len(places)):
        chosen.append(int(distance.argmax()))
        distance = np.minimum(distance, ((places - places[chosen[-1]]) ** 2).sum(axis=1))
    rest = np.setdiff1d(np.arange(len(places)), chosen)
    return np.concatenate([np.array(chosen, dtype=np.intp), rest])
