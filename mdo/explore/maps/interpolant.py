"""A smooth surface through values, and slopes where they are known, at points spread anyhow.

Radial functions with a plane, in places of the unit box (centres ``x_i``, ``d_i = x - x_i``):

    s(x) = sum_i a_i |d_i|^3 - sum_i 3 |d_i| (b_i . d_i) + c_0 + c . x

No parameter is to be chosen. Without slopes (``b = 0``) it is the cubic radial basis function with
a plane. Equations: generalised Hermite interpolation by radial functions, from memory (Wendland,
Scattered Data Approximation, 2005, chapter 16).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from mdo.arrays import Booleans, Floats

TINY = 1e-300


class Surface(NamedTuple):
    """A surface through some points.

    Attributes
    ----------
    centres
        Places of the points in the unit box, shape (n, axes).
    weights
        ``a`` of the points, shape (n, columns).
    leans
        ``b`` of the points, shape (n, axes, columns).
    plane
        ``c_0`` and ``c``, shape (1 + axes, columns).
    left_out
        Error at each point of a surface through all others, shape (n, columns).
    """

    centres: Floats
    weights: Floats
    leans: Floats
    plane: Floats
    left_out: Floats

    def at(self, places: Floats) -> Floats:
        """Return the surface at places, shapes (m, axes) and (m, columns)."""
        apart = places[:, None] - self.centres[None]
        far = np.linalg.norm(apart, axis=-1)
        bent = np.einsum("mn,mnd,ndc->mc", 3.0 * far, apart, self.leans)
        return np.asarray(far**3 @ self.weights - bent + _tail(places) @ self.plane)


def fit(centres: Floats, values: Floats, slopes: Floats | None = None) -> Surface:
    """Lay a surface through points.

    Parameters
    ----------
    centres : places in the unit box, shape (n, axes), more than one plane's worth of them
    values : of some columns there, shape (n, columns)
    slopes : along the axes, shape (n, axes, columns); NaN where a point has none

    Returns
    -------
    The surface; its error at a point that is left out by Rippa's rule (Advances in Computational
    Mathematics 11, 1999) for all equations of a point.
    """
    count, axes = centres.shape
    known = np.zeros(count, dtype=bool)
    if slopes is not None:
        known |= np.isfinite(slopes).all(axis=(1, 2))
    inverse = np.linalg.inv(_matrix(centres, known))
    wanted = np.zeros((len(inverse), values.shape[1]))
    wanted[:count] = values
    edge = count + axes * int(known.sum())
    if slopes is not None:
        wanted[count:edge] = slopes[known].reshape(-1, values.shape[1])
    weights = inverse @ wanted
    bent = np.zeros((count, axes, values.shape[1]))
    bent[known] = weights[count:edge].reshape(-1, axes, values.shape[1])
    place = np.cumsum(known) - 1
    off = np.empty_like(values)
    for point in range(count):
        own = [point]
        if known[point]:
            own += range(count + axes * place[point], count + axes * (place[point] + 1))
        off[point] = np.linalg.solve(inverse[np.ix_(own, own)], weights[own])[0]
    return Surface(centres, weights[:count], bent, weights[edge:], off)


def _matrix(centres: Floats, known: Booleans) -> Floats:
    """Equations of the weights: values, slopes of the points that have them, the plane."""
    count, axes = centres.shape
    sloped = centres[known]
    rows = axes * len(sloped)
    apart = centres[:, None] - sloped[None]
    leaning = 3.0 * np.linalg.norm(apart, axis=-1)[..., None] * apart
    between = sloped[:, None] - sloped[None]
    far = np.linalg.norm(between, axis=-1)[..., None, None]
    outer = between[..., :, None] * between[..., None, :]
    bend = 3.0 * (far * np.eye(axes) + outer / np.maximum(far, TINY))
    flat = np.tile(np.eye(axes), (len(sloped), 1))
    plane = np.vstack([_tail(centres), np.hstack([np.zeros((rows, 1)), flat])])
    cubes = np.linalg.norm(centres[:, None] - centres[None], axis=-1) ** 3
    lean = leaning.reshape(count, rows)
    core = np.block([[cubes, -lean], [-lean.T, -bend.swapaxes(1, 2).reshape(rows, rows)]])
    size = plane.shape[1]
    return np.asarray(np.block([[core, plane], [plane.T, np.zeros((size, size))]]), dtype=float)


def _tail(places: Floats) -> Floats:
    """One and the place itself, shape (m, 1 + axes)."""
    return np.hstack([np.ones((len(places), 1)), places])
