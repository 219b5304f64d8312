"""Smooth replacements of kinked functions, each with its bias stated.

Where an optimiser looks, a kink stalls it; where a number is reported, the exact form is used.
"""

from __future__ import annotations

import jax
import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike


def softplus(x: ArrayLike, width: ArrayLike) -> Array:
    """Smooth ``max(x, 0)``: ``w ln(1 + exp(x/w))``, bias at most ``w ln 2`` at x = 0.

    Parameters
    ----------
    x : array, any shape
    width : smoothing width w > 0, in the unit of x
    """
    return jnp.asarray(width) * jax.nn.softplus(jnp.asarray(x) / width)


def blended_max(a: ArrayLike, b: ArrayLike, width: ArrayLike) -> Array:
    """Maximum that is exact where ``|a - b| >= width`` and a parabola between (C1).

    The bias is at most ``width / 4``, at a = b. Compact support: unlike a smooth maximum by square
    root it does not drift (sma-tubes note 1.2, item 5; Quadratic blending, derived).
    """
    difference = jnp.asarray(a) - b
    inside = jnp.abs(difference) < width
    safe = jnp.where(inside, difference, 0.0)
    blend = (jnp.asarray(a) + b) / 2 + (safe**2 + jnp.asarray(width) ** 2) / (4 * width)
    return jnp.where(inside, blend, jnp.maximum(a, b))


def blended_min(a: ArrayLike, b: ArrayLike, width: ArrayLike) -> Array:
    """Minimum that is exact where ``|a - b| >= width``; see :func:`blended_max`."""
    return -blended_max(-jnp.asarray(a), -jnp.asarray(b), width)


def smooth_max(values: Array, *, scale: ArrayLike, axis: int, where: Array | None = None) -> Array:
    """Maximum over an axis by log-sum-exp with a bias below 1e-4 of ``scale``.

    Parameters
    ----------
    values : array; the axis is reduced
    scale : magnitude of the quantity; the sharpness is ``ln(n) / (1e-4 scale)``
    axis : axis to reduce
    where : mask of the entries that count (the others never win)

    Notes
    -----
    With n equal entries the result is high by ``ln(n) / rho = 1e-4 scale``; it never is low.
    """
    count = max(values.shape[axis], 2)
    rho = jnp.log(float(count)) / (1e-4 * jnp.asarray(scale))
    masked = values if where is None else jnp.where(where, values, -1e30)
    top = jax.lax.stop_gradient(jnp.max(masked, axis=axis, keepdims=True))
    total = jnp.sum(jnp.exp(rho * (masked - top)), axis=axis)
    return jnp.squeeze(top, axis) + jnp.log(total) / rho


def smooth_min(values: Array, *, scale: ArrayLike, axis: int, where: Array | None = None) -> Array:
    """Minimum over an axis, never high, low by at most 1e-4 of ``scale``."""
    return -smooth_max(-values, scale=scale, axis=axis, where=where)


def smooth_step(x: ArrayLike) -> Array:
    """Cosine step: 0 for x <= 0, 1 for x >= 1, ``(1 - cos(pi x))/2`` between (C1)."""
    clipped = jnp.clip(jnp.asarray(x), 0.0, 1.0)
    return (1.0 - jnp.cos(jnp.pi * clipped)) / 2.0
