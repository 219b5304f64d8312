"""A set of an opposed pair marched through its two legs: wound while it cools, then driving."""

from __future__ import annotations

from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.records import Alloy
from mdo.disciplines.tube.incremental import March, State, austenite, step_at
from mdo.disciplines.tube.radial_wall import Wall, mean_stress

HALVINGS = 40  # of a temperature: 300 K to 1e-9 K


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
    At a given twist the mean stress rises with the temperature, heating or cooling: bisection.

    References
    ----------
    Derived.
    """

    def step(before: State, at: tuple[Array, Array]) -> tuple[State, Any]:
        gamma, wanted = at

        def halve(_: int, ends: tuple[Array, Array]) -> tuple[Array, Array]:
            middle = (ends[0] + ends[1]) / 2
            short = mean_stress(step_at(gamma, middle, before, wall, alloy).stress, wall) < wanted
            return jnp.where(short, middle, ends[0]), jnp.where(short, ends[1], middle)

        first = (jnp.asarray(temperature_range[0], float), jnp.asarray(temperature_range[1], float))
        low, high = jax.lax.fori_loop(0, HALVINGS, halve, first)
        kelvin = (low + high) / 2
        after = step_at(gamma, kelvin, before, wall, alloy)
        reached = mean_stress(after.stress, wall)
        return after, (kelvin, gamma, reached, after, jnp.abs(reached - wanted) / 100e6)

    return March(*jax.lax.scan(step, start, (jnp.asarray(strain), jnp.asarray(stress)))[1])


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
