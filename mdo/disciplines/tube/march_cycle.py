"""A set of an opposed pair marched through its two legs: wound while it cools, then driving."""

from __future__ import annotations

from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.records import Alloy
from mdo.disciplines.tube.incremental import (
    March,
    State,
    austenite,
    next_strain,
    next_stress,
    step_at,
)
from mdo.disciplines.tube.radial_wall import Wall, mean_stress

TURNS = 90  # of a temperature, most; the bracket is halved every third turn
NEAR, CLOSE = 10.0, 1e-8  # [Pa], [K]: where they end


class Cycle(NamedTuple):
    """Marches of a set: wound by the other while it cools, and then driving."""

    wound: March
    driving: March


def march_at(strain: Array, temperature: Array, start: State, wall: Wall, alloy: Alloy) -> March:
    """March a wall along twists and temperatures: both are given, the torque follows.

    Parameters
    ----------
    strain
        Strain at the effective radius of each step [1], shape (N,).
    temperature
        Temperature of each step [K], shape (N,).
    start
        State before the first step, (P,).
    wall, alloy
        Points; card.

    Returns
    -------
    March
        Course [K], [1], [Pa].

    References
    ----------
    Derived; reference sma-tubes, section 1.2.
    """

    def step(before: State, at: tuple[Array, Array]) -> tuple[State, Any]:
        gamma, kelvin = at
        after = step_at(gamma, kelvin, before, wall, alloy)
        return after, (kelvin, gamma, mean_stress(after.stress, wall), after, jnp.zeros(()))

    return March(*jax.lax.scan(step, start, (jnp.asarray(strain), jnp.asarray(temperature)))[1])


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
    first = (jnp.array(0), low, high, guess, cold | hot)
    kelvin: Array = jax.lax.while_loop(lambda at: (at[0] < TURNS) & ~at[4], turn, first)[3]
    return kelvin


def march_cycle(
    wound_strain: Array,
    wound_temperature: Array,
    driving_strain: Array,
    driving_stress: Array,
    wall: Wall,
    alloy: Alloy,
    temperature_range: tuple[ArrayLike, ArrayLike],
) -> Cycle:
    """March a set through the two legs of a case: wound from hot to cold, then driving till hot.

    Parameters
    ----------
    wound_strain, driving_strain
        Strain at r_w of each step, the first rising, the second falling [1], shape (N,).
    wound_temperature
        Temperature of each step while it is wound [K], shape (N,).
    driving_stress
        Mean stress against which it drives [Pa], shape (N,).
    wall, alloy
        Points; card.
    temperature_range
        Cold and hottest temperature [K]; between the legs the set is cold.

    Returns
    -------
    Cycle
        Both marches [K], [1], [Pa].

    Notes
    -----
    The set starts as austenite. How it cools while it is wound decides what it resists: martensite
    that forms before the twist must be detwinned by it, which takes several times the stress of
    martensite that forms as the twist goes on.

    References
    ----------
    Derived.
    """
    wound = march_at(wound_strain, wound_temperature, austenite(wall), wall, alloy)
    left = jax.tree.map(lambda values: values[-1], wound.states)
    cold = step_at(driving_strain[0], temperature_range[0], left, wall, alloy)
    driving = march_driven(driving_strain, driving_stress, cold, wall, alloy, temperature_range)
    return Cycle(wound, driving)
