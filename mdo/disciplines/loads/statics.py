"""Discipline entries for cases that nothing moves: locked holds, jams, loss of heat, soaks.

Each is a state at one fold angle. The lock carries it at ultimate load; the gates look at its
temperatures.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.atmosphere import STANDARD_GRAVITY
from mdo.disciplines.environment import environment
from mdo.disciplines.loads.hinge_moment import smooth_magnitude
from mdo.disciplines.records import Statics


class StaticEnvironment(NamedTuple):
    """Hottest bay of each static case [K], shape (cases,)."""

    static_bay_hot: Array


def static_environment(*, statics: Statics) -> StaticEnvironment:
    """Hottest bay of each static case; see :func:`environment`."""
    return StaticEnvironment(environment(legs=statics.state).bay_hot_temperature)


class Lock(NamedTuple):
    """Moment that the lock of one wing carries in each static case [N*m], shape (cases,)."""

    static_held_moment: Array
    lock_moment: Array


def lock(
    *,
    vehicle_mass: Array,
    static_lift_arm: Array,
    static_moment_low: Array,
    static_moment_high: Array,
    statics: Statics,
) -> Lock:
    """Held moment at limit load and lock moment at ultimate load, one wing.

    Parameters
    ----------
    vehicle_mass : of the aircraft [kg]
    static_lift_arm [m], static_moment_low, static_moment_high [N*m] : (cases,)
    statics : states; ``locked`` marks those that the lock carries, ``safety_factor`` ultimate over
        limit

    Returns
    -------
    Lock : ``static_held_moment`` the larger magnitude of the envelope at limit load;
        ``lock_moment`` that times the safety factor, 0 where nothing is locked
    """
    legs = statics.state
    share = jnp.asarray(legs.airborne) * legs.load_factor * legs.mass_fraction
    lift = STANDARD_GRAVITY * vehicle_mass * share
    held = smooth_magnitude(
        static_lift_arm * lift + static_moment_low, static_lift_arm * lift + static_moment_high
    )
    return Lock(
        static_held_moment=held,
        lock_moment=jnp.asarray(legs.locked) * legs.safety_factor * held,
    )
