"""Discipline entry `roles`: who drives each leg. Needs no design, only loads and choices."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.atmosphere import STANDARD_GRAVITY
from mdo.disciplines.records import Choices, Legs, Vehicle
from mdo.disciplines.tube.travel import pick

OPPOSED = 2  # Choices.configuration


class Roles(NamedTuple):
    """Who does what in each leg, 1 or 0, shape (legs,)."""

    pushes_up: Array
    heated: Array
    returned_by_load: Array
    driver_missing: Array


def roles(
    *,
    lift_moment_arm: Array,
    steady_moment_low: Array,
    steady_moment_high: Array,
    legs: Legs,
    vehicle: Vehicle,
    choices: Choices,
) -> Roles:
    """Driver of each leg: the heated set that pushes its way, or load and spring.

    Parameters
    ----------
    lift_moment_arm
        Hinge moment per newton of total lift [m], shape (legs, angles).
    steady_moment_low, steady_moment_high
        Envelope of the moments that do not scale with the lift [N*m], shape (legs, angles).
    legs, vehicle, choices
        Records.

    Returns
    -------
    Roles
        1 or 0 [1]. A hold is driven against the mean of its load envelope (at the mass without
        actuator); a hold whose set is absent has no driver; a motion whose set is absent is left to
        load or spring (one-set forms).

    Examples
    --------
    An up set alone, on deck: it drives the way up, the load returns it (definition):

    >>> from types import SimpleNamespace
    >>> legs = SimpleNamespace(moves=[1.0, 1.0], holds=[0.0, 0.0], direction=[1.0, -1.0],
    ...     airborne=[0.0, 0.0], load_factor=jnp.ones(2), mass_fraction=jnp.ones(2))
    >>> one_set = SimpleNamespace(set_present=jnp.array([1.0, 0.0]))
    >>> found = roles(lift_moment_arm=jnp.zeros((2, 3)), steady_moment_low=jnp.zeros((2, 3)),
    ...     steady_moment_high=jnp.zeros((2, 3)), legs=legs, choices=one_set,
    ...     vehicle=SimpleNamespace(mass_without_actuator=100.0))
    >>> [[float(leg) for leg in role] for role in found]
    [[1.0, 0.0], [1.0, 0.0], [0.0, 1.0], [0.0, 0.0]]

    References
    ----------
    Derived (definitions of the configurations).
    """
    moves = jnp.asarray(legs.moves) > 0.5
    holds = jnp.asarray(legs.holds) > 0.5
    share = jnp.asarray(legs.airborne) * legs.load_factor * legs.mass_fraction
    lift = (STANDARD_GRAVITY * vehicle.mass_without_actuator * share)[:, None]
    mean = jnp.mean(2.0 * lift_moment_arm * lift + steady_moment_low + steady_moment_high, axis=-1)
    pushes_up = jnp.where(holds, mean < 0.0, jnp.asarray(legs.direction) > 0.0)
    has_driver = pick(choices.set_present, pushes_up) > 0.5
    return Roles(
        pushes_up=pushes_up.astype(float),
        heated=((moves | holds) & has_driver).astype(float),
        returned_by_load=(moves & ~has_driver).astype(float),
        driver_missing=(holds & ~has_driver).astype(float),
    )
