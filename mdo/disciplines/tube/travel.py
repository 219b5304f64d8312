"""Travel of the actuator and the twist of each set over the fold angle (pure kinematics)."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.records import Choices, Legs, Requirements

UP, DOWN = 0, 1


class Travel(NamedTuple):
    """Ends of the travel, trim included [rad]."""

    travel_low: Array
    travel_high: Array


def travel(*, legs: Legs, requirements: Requirements) -> Travel:
    """Union of all ranges moved by the actuator, plus a trim stroke at each end.

    Parameters
    ----------
    legs : angle_from, angle_to [rad], moves and holds (0/1), shape (legs,)
    requirements : trim_fraction of the moved range, added at each end
    """
    counts = (jnp.asarray(legs.moves) + jnp.asarray(legs.holds)) > 0.5
    first, last = jnp.asarray(legs.angle_from), jnp.asarray(legs.angle_to)
    low = jnp.min(jnp.where(counts, jnp.minimum(first, last), jnp.inf))
    high = jnp.max(jnp.where(counts, jnp.maximum(first, last), -jnp.inf))
    trim = requirements.trim_fraction * (high - low)
    return Travel(travel_low=low - trim, travel_high=high + trim)


def pick(values: ArrayLike, pushes_up: Array) -> Array:
    """Value of the set that pushes in the asked direction.

    Parameters
    ----------
    values : per set, shape (2,)
    pushes_up : true for the up set, shape (legs,) or (legs, 1)
    """
    pair = jnp.asarray(values)
    return jnp.where(pushes_up, pair[UP], pair[DOWN])


def set_twist(
    *,
    fold_angle: Array,
    pushes_up: Array,
    pre_twist: ArrayLike,
    gear_ratio: ArrayLike,
    travel_low: ArrayLike,
    travel_high: ArrayLike,
) -> Array:
    """Twist of a set from its load-free austenitic zero [rad].

    ``pre_twist - n |phi - phi_start|`` with phi_start the end of the travel at which the set starts
    to drive: the low end for the up set, the high end for the down set.

    Parameters
    ----------
    fold_angle : phi [rad], shape (legs, angles)
    pushes_up : which set, shape (legs, 1)
    pre_twist : per set [rad], shape (2,)
    gear_ratio : n, tube twist over fold angle
    travel_low, travel_high : [rad]
    """
    moved = jnp.where(pushes_up, fold_angle - travel_low, travel_high - fold_angle)
    return pick(pre_twist, pushes_up) - gear_ratio * moved


def spring_moment_over_travel(
    *,
    fold_angle: Array,
    choices: Choices,
    spring_moment: ArrayLike,
    spring_rate: ArrayLike,
    travel_low: ArrayLike,
    travel_high: ArrayLike,
) -> Array:
    """Moment of the return spring [N*m], always against the driven side; zero without a spring.

    ``M = M_0 + k |phi - phi_start|``.

    Parameters
    ----------
    fold_angle : [rad], shape (legs, angles)
    choices : configuration (1 = spring_return), drive_side (+1 up, -1 down)
    spring_moment, spring_rate : M_0 [N*m], k [N*m/rad], at the hinge, one wing
    travel_low, travel_high : [rad]
    """
    upward = jnp.asarray(choices.drive_side) > 0
    wound = jnp.where(upward, fold_angle - travel_low, travel_high - fold_angle)
    present = jnp.asarray(choices.configuration) == 1
    return jnp.where(present, spring_moment + jnp.asarray(spring_rate) * wound, 0.0)
