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
    lift_moment_arm : [m], steady_moment_low, steady_moment_high [N*m], (legs, angles)
    legs, vehicle, choices : records

    Returns
    -------
    Roles : a hold is driven against the mean of its load envelope (at the mass without actuator); a
        hold whose set is absent has no driver; a motion whose set is absent is left to load or
        spring (one-set forms)
    """
    moves = jnp.asarray(legs.moves) > 0.5
    holds = jnp.asarray(legs.holds) > 0.5
    share = jnp.asarray(legs.airborne) * legs.load_factor * legs.mass_fraction
    lift = (STANDARD_GRAVITY * vehicle.mass_without_actuator * share)[:, None]
    mean = jnp.mean(2.0 * lift_moment_arm * lift + steady_moment_low + steady_moment_high, axis=-1)
    pushes_up = jnp.where(holds, mean < 0.0, jnp.asarray(legs.direction) > 0.0)
    has_driver = pick(choices.set_present, pushes_up) > 0.5
    one_set = jnp.asarray(choices.configuration) != OPPOSED
    return Roles(
        pushes_up=pushes_up.astype(float),
        heated=((moves | holds) & has_driver).astype(float),
        returned_by_load=(moves & ~has_driver & one_set).astype(float),
        driver_missing=(holds & ~has_driver).astype(float),
    )
