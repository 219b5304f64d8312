"""A wall marched along twists under a torque: the temperature that does it follows."""

from __future__ import annotations

from typing import Any

import jax
import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.records import Alloy
from mdo.disciplines.tube.incremental import (
    March,
    State,
    next_point,
    next_strain,
    next_stress,
    of_every_lane,
)
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
        Strain at the effective radius of each step [1], shape (N,), or (N, lanes) of walls side by
        side.
    stress
        Mean stress of each step [Pa], shape of the strain.
    start
        State before the first step, (P,) or (lanes, P).
    wall, alloy
        Points; card.
    temperature_range
        Lowest and highest temperature of each lane [K]; a step that no temperature between them
        satisfies ends at the one that comes nearest, and its residual says so.

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
    courses = (jnp.asarray(strain), jnp.asarray(stress))
    lanes = courses[0].shape[1:]
    low, high = (jnp.broadcast_to(jnp.asarray(end, float), lanes) for end in temperature_range)

    def step(before: tuple[State, Array], at: tuple[Array, Array]) -> tuple[Any, Any]:
        gamma, wanted = at
        twisted = gamma[..., None] * wall.ratio
        kelvin, tau = _temperature_under(wanted, twisted, before, wall, alloy, low, high)
        after = next_point(tau, kelvin[..., None], before[0], alloy)
        reached = mean_stress(tau, wall)
        return (after, kelvin), (kelvin, gamma, reached, after, jnp.abs(reached - wanted) / 100e6)

    return March(*jax.lax.scan(step, (of_every_lane(start, lanes), low), courses)[1])


def _temperature_under(
    wanted: Array,
    gamma: Array,
    before: tuple[State, Array],
    wall: Wall,
    alloy: Alloy,
    low: Array,
    high: Array,
) -> tuple[Array, Array]:
    """Temperature at which twisted walls carry a mean stress, and their stress: bracketed Newton.

    The walls are lanes side by side: one that is there stays while others go on.
    """
    state, guess = before

    def turn(at: tuple[Array, ...]) -> tuple[Array, ...]:
        count, below, above, kelvin, stress, done = at
        stress = next_stress(gamma, kelvin[..., None], state, alloy, start=stress)

        def law(tau: Array, temperature: Array) -> Array:
            return next_strain(tau, temperature, state, alloy)

        one, none = jnp.ones_like(stress), jnp.zeros_like(stress)
        _, push = jax.linearize(law, stress, kelvin[..., None] + none)
        slope = mean_stress(-push(none, one) / push(one, none), wall)
        miss = wanted - mean_stress(stress, wall)
        below, above = jnp.where(miss > 0, kelvin, below), jnp.where(miss > 0, above, kelvin)
        newton = kelvin + miss / jnp.where(slope > 0, slope, 1.0)
        keep = (slope > 0) & (newton > below) & (newton < above) & (count % 3 != 2)
        done = done | (jnp.abs(miss) < NEAR) | (above - below < CLOSE)
        moved = jnp.where(keep, newton, (below + above) / 2)
        return count + 1, below, above, jnp.where(done, kelvin, moved), stress, done

    # out of reach: cold the wall has more than is asked, or hot it has less
    ends = next_stress(jnp.stack([gamma] * 2), jnp.stack([low, high])[..., None], state, alloy)
    cold, hot = mean_stress(ends[0], wall) >= wanted, mean_stress(ends[1], wall) <= wanted
    guess = jnp.where(cold, low, jnp.where(hot, high, guess))
    stress = jnp.where(cold[..., None], ends[0], jnp.where(hot[..., None], ends[1], state.stress))
    first: tuple[Array, ...] = (jnp.array(0), low, high, guess, stress, cold | hot)
    found = jax.lax.while_loop(lambda at: (at[0] < TURNS) & ~jnp.all(at[5]), turn, first)
    return found[3], found[4]
