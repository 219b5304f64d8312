"""Root of an increasing function in a bracket, with the derivative of the implicit function."""

from __future__ import annotations

from collections.abc import Callable

import jax
import jax.numpy as jnp
from jax import Array


def bracketed_root(
    function: Callable[[Array], Array],
    target: Array,
    bracket: tuple[Array, Array],
    start: Array,
    *,
    steps: int,
    kinked: bool,
) -> Array:
    """Root of ``function(x) = target`` for an increasing elementwise function, with derivatives.

    Parameters
    ----------
    function
        Increasing elementwise function of one array.
    target
        Wanted value, any shape, in the unit of the function's result.
    bracket, start
        Lower and upper bound, first point, in the unit of x; broadcast to target.
    steps
        Number of Newton steps.
    kinked
        Halve the bracket every third turn until convergence; Newton alone can swing between the two
        sides of a kink for ever.

    Returns
    -------
    Array
        Root, in the unit of x, shape of target.

    Notes
    -----
    Newton steps that leave the bracket are replaced by its middle. The iterations carry no
    derivative; one last Newton step on the converged point does, so the derivative is that of the
    implicit function theorem.

    Examples
    --------
    Cube root of two, 1.259921:

    >>> bracket = (jnp.asarray(0.0), jnp.asarray(2.0))
    >>> two = jnp.asarray(2.0)
    >>> float(bracketed_root(lambda x: x**3, two, bracket, two, steps=20, kinked=False))
    1.259921

    References
    ----------
    Derived (safeguarded Newton; implicit function theorem).
    """
    stop = jax.lax.stop_gradient
    wanted = stop(target)

    def step(turn: int, state: tuple[Array, Array, Array]) -> tuple[Array, Array, Array]:
        bottom, top, point = state
        value, slope = jax.jvp(function, (point,), (jnp.ones_like(point),))
        bottom = jnp.where(value < wanted, point, bottom)
        top = jnp.where(value < wanted, top, point)
        newton = point - (value - wanted) / slope
        size = jnp.abs(bottom) + jnp.abs(top)
        # round-off must not undo a converged point
        inside = (newton >= bottom - 1e-12 * size) & (newton <= top + 1e-12 * size)
        there = jnp.abs(newton - point) <= 1e-9 * size
        halves = (turn % 3 == 2) & kinked
        keep = inside & (there | ~jnp.asarray(halves))
        return bottom, top, jnp.where(keep, newton, (bottom + top) / 2)

    shaped = tuple(jnp.broadcast_to(stop(one), wanted.shape) for one in (*bracket, start))
    point = stop(jax.lax.fori_loop(0, steps, step, shaped)[2])
    value, slope = jax.jvp(function, (point,), (jnp.ones_like(point),))
    result: Array = point - (value - target) / stop(slope)
    return result
