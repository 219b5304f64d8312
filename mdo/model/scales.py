"""Scales of requirements: how a value and its limit become a row of order one."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import jax.numpy as jnp
import numpy as np
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.tube.travel import DOWN, UP


def numbers(*parts: Any) -> Any:
    """JAX's numpy for its arrays, else numpy: plain numbers are not worth a compile."""
    return jnp if any(isinstance(part, Array) for part in parts) else np


def where(condition: Any, first: Any, second: Any) -> Any:
    """``where`` of whichever the arguments are of."""
    return numbers(condition, first, second).where(condition, first, second)


def of_driver(values: Any, pushes_up: Any) -> Any:
    """Value of the set that drives each leg, of values per set (2,) or per leg and set."""
    return where(pushes_up > 0.5, values[..., UP], values[..., DOWN])


class Scale(NamedTuple):
    """How a value and its limit become a row of order one.

    ``unit`` is what one unit of the row is, in words, for multipliers. ``row`` is the row of a
    value that may be *at most* its limit, >= 0 good, a function of ``value``, ``limit`` and names;
    a value that must be *at least* its limit has the row of the opposite sign.
    """

    unit: str
    row: Callable[..., Any]


def log_ratio(limit: ArrayLike, value: ArrayLike) -> Any:
    """``ln(limit/value)`` for positive quantities, guarded at 1e-12."""
    of = numbers(limit, value)
    return of.log(of.maximum(limit, 1e-12) / of.maximum(value, 1e-12))


def _buckling_row(value: Any, limit: Any, wall_ratio: Any, bundle_assumptions: Any) -> Any:
    """Logarithm of the ratio, relieved where the wall is too thick to buckle: 1 per tenth of it."""
    thick = bundle_assumptions.buckling_wall_ratio
    relief = jnp.maximum(wall_ratio - thick, 0.0) / (0.1 * thick)
    return log_ratio(limit, value) + relief**2


RELATIVE = Scale("100 % of the limit", lambda value, limit: 1.0 - value / limit)
LOGARITHM = Scale("factor e", log_ratio)
KELVIN = Scale("10 K", lambda value, limit: (limit - value) / 10.0)
STRAIN = Scale("0.01 of strain", lambda value, limit: (limit - value) / 0.01)
# Lives scatter by factors of ten, times do not: a factor of twelve on life is one unit of the row.
LIFE = Scale("factor e**2.5 of life", lambda value, limit: log_ratio(limit, value) / 2.5)
BUCKLING = Scale("factor e", _buckling_row)
THICKNESS = Scale(
    "wing thickness", lambda value, limit, planform: (limit - value) / planform.fold_thickness
)
NOMINAL_POWER = Scale(
    "nominal power",
    lambda value, limit, heater_power, pushes_up: (
        (limit - value) / jnp.maximum(of_driver(heater_power, pushes_up), 1e-12)
    ),
)
# Plus 1 N*m, so that a leg without load has a row too.
MEAN_MOMENT = Scale(
    "mean moment",
    lambda value, limit, required_moment: (
        (limit - value) / (jnp.mean(jnp.abs(required_moment), axis=-1, keepdims=True) + 1.0)
    ),
)
# There or not: 1 where it is, -1 where it is not, so that no rounding blurs the answer.
PRESENCE = Scale("100 % of the limit", lambda value, limit: 2.0 * (limit - value) - 1.0)
