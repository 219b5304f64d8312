"""Smooth replacements of kinked functions, each with its bias stated.

Where an optimiser looks, a kink stalls it; where a number is reported, the exact form is used.
"""

from __future__ import annotations

import math
from typing import Any

import jax
import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

# series of sin(pi x/2)/x, for x to a half
SINE = tuple(
    (-1.0) ** k * (math.pi / 2.0) ** (2 * k + 1) / math.factorial(2 * k + 1) for k in range(8)
)


def softplus(x: ArrayLike, width: ArrayLike) -> Array:
    r"""Smooth ``max(x, 0)``.

    .. math:: w \ln(1 + e^{x/w})

    Parameters
    ----------
    x
        Value in any unit, any shape.
    width
        Smoothing width w, above zero, in the unit of x.

    Returns
    -------
    Array
        Smooth maximum in the unit of x; high by at most ``w ln 2``, at x = 0.

    Examples
    --------
    At zero the bias is w ln 2 (hand):

    >>> float(softplus(0.0, 2.0))
    1.386294

    References
    ----------
    Derived.
    """
    return jnp.asarray(width) * jax.nn.softplus(jnp.asarray(x) / width)


def blended_max(a: ArrayLike, b: ArrayLike, width: ArrayLike) -> Array:
    r"""Maximum that is exact where the two differ by the width or more, a parabola between (C1).

    .. math:: \frac{a+b}2 + \frac{(a-b)^2 + w^2}{4w}

    Parameters
    ----------
    a, b
        Values in any unit, any shape.
    width
        Smoothing width w, above zero, in the unit of a.

    Returns
    -------
    Array
        Maximum in the unit of a; high by at most ``w / 4``, at a = b.

    Notes
    -----
    Compact support: unlike a smooth maximum by square root it does not drift in a loop.

    Examples
    --------
    Equal values, and values further apart than the width (hand):

    >>> float(blended_max(1.0, 1.0, 0.4)), float(blended_max(1.0, 2.0, 0.4))
    (1.1, 2.0)

    References
    ----------
    Derived (quadratic blend).
    """
    difference = jnp.asarray(a) - b
    inside = jnp.abs(difference) < width
    safe = jnp.where(inside, difference, 0.0)
    blend = (jnp.asarray(a) + b) / 2 + (safe**2 + jnp.asarray(width) ** 2) / (4 * width)
    return jnp.where(inside, blend, jnp.maximum(a, b))


def blended_min(a: ArrayLike, b: ArrayLike, width: ArrayLike) -> Array:
    """Minimum that is exact where the two differ by the width or more; see :func:`blended_max`.

    Parameters
    ----------
    a, b
        Values in any unit, any shape.
    width
        Smoothing width w, above zero, in the unit of a.

    Returns
    -------
    Array
        Minimum in the unit of a; low by at most ``w / 4``, at a = b.

    Examples
    --------
    >>> float(blended_min(1.0, 1.0, 0.4)), float(blended_min(1.0, 2.0, 0.4))
    (0.9, 1.0)

    References
    ----------
    Derived from :func:`blended_max`.
    """
    return -blended_max(-jnp.asarray(a), -jnp.asarray(b), width)


def smooth_max(values: Array, *, scale: ArrayLike, axis: int, where: Array | None = None) -> Array:
    r"""Maximum over an axis by log-sum-exp with a bias below 1e-4 of a scale.

    .. math:: \frac1\rho\ln\sum e^{\rho x_i}, \quad \rho = \ln n/(10^{-4}\,s)

    Parameters
    ----------
    values
        Values in any unit; the axis is reduced.
    scale
        Magnitude s of the quantity, in the unit of the values.
    axis
        Axis to reduce.
    where
        Mask of the entries that count [1], in the shape of the values; the others never win and are
        not among the n.

    Returns
    -------
    Array
        Maximum in the unit of the values.

    Notes
    -----
    With n equal entries the result is high by ``ln(n) / rho = 1e-4 scale``; it never is low.

    Examples
    --------
    Three equal entries (hand: 2 + 1e-4 x 10):

    >>> float(smooth_max(jnp.array([2.0, 2.0, 2.0]), scale=10.0, axis=0))
    2.001

    References
    ----------
    Derived (log-sum-exp).
    """
    count = values.shape[axis] if where is None else jnp.sum(where, axis=axis, keepdims=True)
    rho = jnp.log(jnp.maximum(count, 2.0)) / (1e-4 * jnp.asarray(scale))
    masked = values if where is None else jnp.where(where, values, -1e30)
    top = jax.lax.stop_gradient(jnp.max(masked, axis=axis, keepdims=True))
    total = jnp.sum(jnp.exp(rho * (masked - top)), axis=axis, keepdims=True)
    return jnp.squeeze(top + jnp.log(total) / rho, axis)


def smooth_min(values: Array, *, scale: ArrayLike, axis: int, where: Array | None = None) -> Array:
    """Minimum over an axis, never high, low by at most 1e-4 of a scale.

    Parameters
    ----------
    values
        Values in any unit; the axis is reduced.
    scale
        Magnitude of the quantity, in the unit of the values.
    axis
        Axis to reduce.
    where
        Mask of the entries that count [1], as in :func:`smooth_max`.

    Returns
    -------
    Array
        Minimum in the unit of the values.

    Examples
    --------
    >>> float(smooth_min(jnp.array([2.0, 2.0, 2.0]), scale=10.0, axis=0))
    1.999

    References
    ----------
    Derived from :func:`smooth_max`.
    """
    return -smooth_max(-values, scale=scale, axis=axis, where=where)


def smooth_step(x: ArrayLike) -> Array:
    r"""Cosine step from 0 to 1 (C1), by the series of the sine.

    .. math:: S = (1 - \cos\pi x)/2 = \sin^2(\pi x/2), \quad x \text{ within 0 and 1}

    Parameters
    ----------
    x
        Place [1], any shape.

    Returns
    -------
    Array
        Step [1], to the last bit, exact at both ends.

    Notes
    -----
    A cosine of the library takes four times as long on a processor.

    Examples
    --------
    A third of the way (hand: (1 - 1/2)/2):

    >>> float(smooth_step(1.0 / 3.0))
    0.25

    References
    ----------
    Derived (series of the sine).
    """
    step: Array = _step_and_slope(jnp.asarray(x, float))[0]
    return step


@jax.custom_jvp
def _step_and_slope(x: Array) -> tuple[Array, Array]:
    """Cosine step and its slope [1], of one series."""
    nearest = jnp.maximum(jnp.minimum(x, 1.0 - x), 0.0)
    square, ratio = nearest * nearest, jnp.asarray(SINE[-1])
    for share in SINE[-2::-1]:
        ratio = share + square * ratio
    sine = nearest * ratio
    part = sine * sine
    rest = 1.0 - part
    return jax.lax.select(x > 0.5, rest, part), jnp.pi * sine * jnp.sqrt(rest)


@_step_and_slope.defjvp
def _along(given: tuple[Array], along: tuple[Array]) -> tuple[Any, Any]:
    """The slope follows from its step again: pi^2 cos(pi x)/2, and nothing outside."""
    step, slope = _step_and_slope(*given)
    curve = jnp.sign(slope) * (jnp.pi**2 / 2.0 - jnp.pi**2 * step)
    return (step, slope), (slope * along[0], curve * along[0])


def cubic_step(value: ArrayLike, start: ArrayLike, end: ArrayLike) -> Array:
    r"""Cubic step from 0 to 1, continuous with its slope.

    .. math:: 3t^2-2t^3, \quad t = \frac{x - x_0}{x_1 - x_0} \text{ within 0 and 1}

    Parameters
    ----------
    value
        x, any unit, any shape.
    start, end
        x_0 and x_1, in the unit of x.

    Returns
    -------
    Array
        Step [1].

    Examples
    --------
    A quarter of the way (hand: 3/16 - 2/64):

    >>> float(cubic_step(0.25, 0.0, 1.0))
    0.15625

    References
    ----------
    Derived (Hermite cubic).
    """
    start = jnp.asarray(start)
    ratio = jnp.clip((jnp.asarray(value) - start) / (jnp.asarray(end) - start), 0.0, 1.0)
    return ratio**2 * (3.0 - 2.0 * ratio)


def hermite(
    fraction: ArrayLike,
    start_value: ArrayLike,
    start_slope: ArrayLike,
    end_value: ArrayLike,
    end_slope: ArrayLike,
) -> Array:
    """Cubic with given values and slopes at 0 and 1.

    Parameters
    ----------
    fraction
        Place t [1], 0 to 1, any shape.
    start_value, end_value
        Values at 0 and 1, in any unit.
    start_slope, end_slope
        Slopes there, per unit of t, in the unit of the values.

    Returns
    -------
    Array
        Value at t, in the unit of the values.

    Examples
    --------
    Halfway from 0 to 1 with slopes 1 and 0 (hand: 1/8 + 1/2):

    >>> float(hermite(0.5, 0.0, 1.0, 1.0, 0.0))
    0.625

    References
    ----------
    Derived (Hermite cubic).
    """
    t = jnp.asarray(fraction)
    return (
        (1.0 + 2.0 * t) * (1.0 - t) ** 2 * start_value
        + t * (1.0 - t) ** 2 * start_slope
        + t**2 * (3.0 - 2.0 * t) * end_value
        + t**2 * (t - 1.0) * end_slope
    )
