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
    """Hottest bay of each static case.

    Parameters
    ----------
    statics
        States of the cases.

    Returns
    -------
    StaticEnvironment
        [K].

    References
    ----------
    :func:`mdo.disciplines.environment.environment`.
    """
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
    vehicle_mass
        Of the aircraft [kg].
    static_lift_arm
        Hinge moment per newton of total lift [m], shape (cases,).
    static_moment_low, static_moment_high
        Envelope of the moments that do not scale with the lift [N*m], shape (cases,).
    statics
        States; ``locked`` marks those that the lock carries, ``safety_factor`` ultimate over limit.

    Returns
    -------
    Lock
        ``static_held_moment`` the larger magnitude of the envelope at limit load; ``lock_moment``
        that times the safety factor, 0 where nothing is locked [N*m].

    Examples
    --------
    On deck between -200 and 300 N*m, locked at 1.5 times the limit load (hand):

    >>> from types import SimpleNamespace
    >>> state = SimpleNamespace(airborne=jnp.zeros(1), load_factor=jnp.ones(1),
    ...     mass_fraction=jnp.ones(1), locked=jnp.ones(1), safety_factor=jnp.array([1.5]))
    >>> found = lock(vehicle_mass=1000.0, static_lift_arm=jnp.zeros(1),
    ...     static_moment_low=jnp.array([-200.0]), static_moment_high=jnp.array([300.0]),
    ...     statics=SimpleNamespace(state=state))
    >>> float(found.static_held_moment[0]), float(found.lock_moment[0])
    (300, 450)

    References
    ----------
    14 CFR 25.303 (from memory): limit load times the factor of safety is the ultimate load.
    """
    legs = statics.state
    share = jnp.asarray(legs.airborne) * legs.load_factor * legs.mass_fraction
    lift = STANDARD_GRAVITY * vehicle_mass * share
    held = smooth_magnitude(
        static_lift_arm * lift + static_moment_low, static_lift_arm * lift + static_moment_high
    )
    return Lock(
        static_held_moment=held, lock_moment=jnp.asarray(legs.locked) * legs.safety_factor * held
    )
