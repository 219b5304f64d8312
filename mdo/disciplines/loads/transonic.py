"""Cubics over the transonic range, where no theory of this tool holds."""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.smooth import hermite

TRANSONIC_RISE = 1.15  # cap of the sonic lift over the larger end value; judgement


def sonic_scale(low: Array, sonic: Array, high: Array) -> Array:
    """Factor on slender loads at Mach 1 that keeps their lift near that of the ends.

    Parameters
    ----------
    low, sonic, high
        Lifts at the start of the range, at Mach 1 and at its end, positive, any unit.

    Returns
    -------
    Array
        [1], 1 at most.

    Examples
    --------
    >>> float(sonic_scale(jnp.asarray(4.0), jnp.asarray(9.2), jnp.asarray(3.0)))
    0.5

    References
    ----------
    Reference hinge-moment, section 1.4; judgement.
    """
    return jnp.minimum(1.0, TRANSONIC_RISE * jnp.maximum(low, high) / sonic)


def transonic_cubics(
    mach: ArrayLike,
    *,
    start: tuple[ArrayLike, Array, Array],
    sonic: Array,
    end: tuple[ArrayLike, Array, Array],
) -> Array:
    """Two cubics that meet at Mach 1 with slope zero.

    Parameters
    ----------
    mach
        Mach number [1], between the ends.
    start, end
        Mach number [1], value of any unit and slope in Mach number there.
    sonic
        Value at Mach 1, in the unit of the others.

    Returns
    -------
    Array
        In the unit of the values.

    Examples
    --------
    >>> zero, one = jnp.zeros(()), jnp.ones(())
    >>> float(transonic_cubics(0.9, start=(0.8, zero, zero), sonic=one, end=(1.2, zero, zero)))
    0.5

    References
    ----------
    Reference hinge-moment, section 1.4; judgement.
    """
    mach = jnp.asarray(mach)
    low, low_value, low_slope = start
    high, high_value, high_slope = end
    rise, fall = (jnp.minimum(mach, 1.0) - low) / (1.0 - low), (jnp.maximum(mach, 1.0) - 1.0)
    fall = fall / (high - 1.0)
    return jnp.where(
        mach < 1.0,
        hermite(rise, low_value, low_slope * (1.0 - low), sonic, 0.0),
        hermite(fall, sonic, 0.0, high_value, high_slope * (high - 1.0)),
    )
