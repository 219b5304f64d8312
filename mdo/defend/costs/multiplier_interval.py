"""The range of a linear function of multipliers that are not unique, by a linear programme."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from scipy.optimize import linprog, nnls

from mdo.arrays import Floats

FLAT = 1e-12  # a row with slopes below this does not depend on the design
RANK = 1e-7  # singular values below this share of the largest: multipliers are not unique
SAME = 1e-6  # relative width of an interval that counts as a number
LP_OPTIONS = {"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10}


class Interval(NamedTuple):
    """Least and largest of a linear function of the multipliers, and where they are reached.

    Where an end is infinite, its place is the direction in which the multipliers grow.
    """

    low: float
    high: float
    at_low: Floats
    at_high: Floats


def multiplier_interval(columns: Floats, gradient: Floats, weights: Floats) -> Interval:
    """Range of ``weights @ multipliers`` over all multipliers >= 0 that are stationary.

    Stationary means as good as the best: ``columns @ multipliers`` equals the projection of the
    gradient on the cone of the columns, which differs from it by the residual of the optimum.

    Parameters
    ----------
    columns : slopes of the rows at their limit, shape (variables, rows)
    gradient : of the objective, shape (variables,)
    weights : of the multipliers, shape (rows,)

    Returns
    -------
    Ends that differ by less than 1e-6 of their size are one number; an end is infinite where the
    multipliers are unbounded.
    """
    sizes = np.linalg.norm(columns, axis=0)
    scale = max(float(np.linalg.norm(gradient)), 1e-30)
    sloped = sizes > FLAT
    lengths = np.where(sloped, sizes, 1.0)
    scaled = np.where(sloped, columns / lengths, 0.0)
    some, _ = nnls(scaled, gradient / scale) if columns.shape[1] else (np.zeros(0), 0.0)
    cost = weights / lengths
    value = float(cost @ some) * scale
    middle = some * scale / lengths
    singular = np.linalg.svd(scaled, compute_uv=False)
    full = columns.shape[1] <= singular.size and (
        singular.size == 0 or singular.min() > RANK * singular.max()
    )
    if full or not np.any(cost):
        return Interval(value, value, middle, middle)
    ends = [_end(scaled, some, sign * cost) for sign in (1.0, -1.0)]
    low, high = scale * ends[0][0], -scale * ends[1][0]
    if math.isfinite(high - low) and high - low <= SAME * max(abs(low), abs(high)):
        return Interval(value, value, middle, middle)
    at_low, at_high = (end[1] * scale / lengths for end in ends)
    return Interval(low, high, at_low, at_high)


def _end(columns: Floats, some: Floats, cost: Floats) -> tuple[float, Floats]:
    """Least ``cost @ v`` over ``v >= 0`` with ``columns @ v = columns @ some``, and its place."""
    size = float(np.abs(cost).max())
    ray = linprog(
        cost / size, A_eq=columns, b_eq=np.zeros(columns.shape[0]),
        A_ub=np.ones((1, some.size)), b_ub=[1.0], method="highs", options=LP_OPTIONS,
    )  # fmt: skip
    if ray.status == 0 and ray.fun < -SAME:
        return -math.inf, np.asarray(ray.x)
    end: Any = linprog(
        cost / size, A_eq=columns, b_eq=columns @ some, method="highs", options=LP_OPTIONS
    )
    if end.status != 0:  # ``some`` is one that serves, to the tolerance of the programme
        return float(cost @ some), some
    return float(cost @ end.x), np.asarray(end.x)
