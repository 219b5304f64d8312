"""A wall marched along twists under a torque: the temperature that does it follows."""

from __future__ import annotations

from typing import Any

import jax
import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.records import Alloy
from mdo.disciplines.tube.incremental import March, State, next_strain, next_stress, step_at
from mdo.disciplines.tube.radial_wall import Wall, mean_stress

TURNS = 90  # of a temperature, most; the bracket is halved every third turn
NEAR, CLOSE = 50.0, 1e-8  # [Pa], [K]: where they end


def march_driven(
    strain: Array,
    stress: Array,
    start: State,
    wall: Wall,
    alloy: Alloy,
    temperature_range: tuple[ArrayLike, ArrayLike],
) -> March:
    """March a wall along twists under the torque of each: the temperature that does it follows.

    Parameters
    ----------
    strain
        Strain at the effective radius of each step [1], shape (N,).
    stress
        Mean stress of each step [Pa], shape (N,).
    start
        State before the first step, (P,).
    wall, alloy
        Points; card.
    temperature_range
        Lowest and highest temperature [K]; a step that no temperature between them satisfies ends
        at the one that comes nearest, and its residual says so.

    Returns
    -------
    March
        Course [K], [1], [Pa], with the mean stress that was reached.

    Notes
    -----
    At a given twist the mean stress rises with the temperature, heating or cooling.

    References
    ----------
    Derived.
    """
    low, high = (jnp.asarray(end, float) for end in temperature_range)

    def step(before: tuple[State, Array], at: tuple[Array, Array]) -> tuple[Any, Any]:
        gamma, wanted = at
        kelvin = _temperature_under(wanted, gamma * wall.ratio, before, wall, alloy, low, high)
        after = step_at(gamma, kelvin, before[0], wall, alloy)
        reached = mean_stress(after.stress, wall)
        return (after, kelvin), (kelvin, gamma, reached, after, jnp.abs(reached - wanted) / 100e6)

    courses = (jnp.asarray(strain), jnp.asarray(stress))
    return March(*jax.lax.scan(step, (start, low), courses)[1])


def _temperature_under(
    wanted: Array,
    gamma: Array,
    before: tuple[State, Array],
    wall: Wall,
    alloy: Alloy,
    low: Array,
    high: Array,
) -> Array:
    """Temperature at which a twisted wall carries a mean stress: bracketed Newton."""
    state, guess = before

    def turn(at: tuple[Array, ...]) -> tuple[Array, ...]:
        count, below, above, kelvin, _ = at
        stress = next_stress(gamma, kelvin, state, alloy)

        def law(tau: Array, temperature: Array) -> Array:
            return next_strain(tau, temperature, state, alloy)

        one, none = jnp.ones_like(stress), jnp.zeros_like(stress)
        _, by_stress = jax.jvp(law, (stress, kelvin + none), (one, none))
        _, by_temperature = jax.jvp(law, (stress, kelvin + none), (none, one))
        slope = mean_stress(-by_temperature / by_stress, wall)
        miss = wanted - mean_stress(stress, wall)
        below, above = jnp.where(miss > 0, kelvin, below), jnp.where(miss > 0, above, kelvin)
        newton = kelvin + miss / jnp.where(slope > 0, slope, 1.0)
        keep = (slope > 0) & (newton > below) & (newton < above) & (count % 3 != 2)
        there = (jnp.abs(miss) < NEAR) | (above - below < CLOSE)
        moved = jnp.where(keep, newton, (below + above) / 2)
        return count + 1, below, above, jnp.where(there, kelvin, moved), there

    def reached(kelvin: Array) -> Array:
        return mean_stress(next_stress(gamma, kelvin, state, alloy), wall)

    # out of reach: cold the wall has more than is asked, or hot it has less
    cold, hot = reached(low) >= wanted, reached(high) <= wanted
    guess = jnp.where(cold, low, jnp.where(hot, high, guess))
    first: tuple[Array, ...] = (jnp.array(0), low, high, guess, cold | hot)
    kelvin: Array = jax.lax.while_loop(lambda at: (at[0] < TURNS) & ~at[4], turn, first)[3]
    return kelvin
