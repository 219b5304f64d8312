"""Starts from neighbours that are solved: a local fit of their designs, the Hessian of the nearest.

The optimum follows the axes smoothly as long as the same rows are active, so a plane through the
nearest optima is several times nearer to the next one than any of them.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
RIDGE = 1e-3  # on the coefficients of a plane, of the spread of the neighbours
BLOCK = 2048


class Known(NamedTuple):
    """Solved points: places in the unit box, scaled designs (n, variables), feasible ones only."""

    places: Floats
    designs: Floats


def nearest(places: Floats, known: Floats, count: int) -> Indices:
    """Nearest known points of each place, nearest first, shape (n, count)."""
    count = min(count, len(known))
    found = []
    for at in range(0, len(places), BLOCK):
        block = places[at : at + BLOCK]
        distance = ((block[:, None, :] - known[None, :, :]) ** 2).sum(axis=2)
        found.append(np.argsort(distance, axis=1, kind="stable")[:, :count])
    return np.concatenate(found)


def predicted(places: Floats, known: Known) -> Floats:
    """Scaled designs of planes through the nearest known ones, within the range of these."""
    neighbours = nearest(places, known.places, 2 * (places.shape[1] + 1))
    starts = np.empty((len(places), known.designs.shape[1]))
    for number, (place, near) in enumerate(zip(places, neighbours, strict=True)):
        starts[number] = _plane(place, known.places[near], known.designs[near])
    return starts


def _plane(place: Floats, places: Floats, designs: Floats) -> Floats:
    """Value at a place of a plane fitted with weights that fall with the distance."""
    offsets = places - place
    distance = np.sqrt((offsets**2).sum(axis=1))
    weights = 1.0 / (distance + 0.3 * distance.max() + 1e-12)
    basis = np.hstack([np.ones((len(places), 1)), offsets])
    spread = max(float(distance.max()), 1e-12)
    penalty = RIDGE * np.diag(np.append(0.0, np.full(places.shape[1], spread**2)))
    matrix = (basis.T * weights) @ basis + penalty * weights.sum()
    fitted = np.linalg.lstsq(matrix, (basis.T * weights) @ designs, rcond=None)[0][0]
    return np.asarray(np.clip(fitted, designs.min(axis=0), designs.max(axis=0)))


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
