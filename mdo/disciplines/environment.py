"""Discipline entry `environment`: air, speed and bay temperatures of each leg."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.atmosphere import recovery_temperature, standard_atmosphere
from mdo.disciplines.records import Legs


class Environment(NamedTuple):
    """State of the air and of the bay, one entry per leg, shape (legs,)."""

    air_temperature: Array
    air_pressure: Array
    air_density: Array
    speed_of_sound: Array
    true_airspeed: Array
    dynamic_pressure: Array
    recovery_temperature: Array
    bay_cold_temperature: Array
    bay_hot_temperature: Array


def environment(*, legs: Legs) -> Environment:
    """Air, speed and bay temperatures of each leg.

    .. math:: T_{bay} = f T_r + (1-f) T_{structure}

    Parameters
    ----------
    legs
        Flight state of each leg; ``bay_prescribed`` chooses between the given bay temperatures and
        the rule above with :math:`f` = ``bay_soak_factor``.

    Returns
    -------
    Environment
        Temperatures [K], pressures [Pa], density [kg/m**3], speeds [m/s], shape (legs,).

    Notes
    -----
    The recovery temperature is the turbulent one. On a soak leg the hot bay is the soak
    temperature. Without prescribed values the cold and the hot bay are equal.

    References
    ----------
    :func:`mdo.disciplines.atmosphere.standard_atmosphere`,
    :func:`mdo.disciplines.atmosphere.recovery_temperature`; the bay between the two is judgement.
    """
    mach = jnp.asarray(legs.mach)
    air = standard_atmosphere(legs.altitude, legs.temperature_offset)
    wall = recovery_temperature(air.temperature, mach)
    factor = jnp.asarray(legs.bay_soak_factor)
    soaked = factor * wall + (1.0 - factor) * jnp.asarray(legs.structure_temperature)
    prescribed = jnp.asarray(legs.bay_prescribed) > 0.5
    hot = jnp.where(prescribed, legs.bay_hot, soaked)
    speed = mach * air.speed_of_sound
    return Environment(
        air_temperature=air.temperature,
        air_pressure=air.pressure,
        air_density=air.density,
        speed_of_sound=air.speed_of_sound,
        true_airspeed=speed,
        dynamic_pressure=0.5 * air.density * speed**2,
        recovery_temperature=wall,
        bay_cold_temperature=jnp.where(prescribed, legs.bay_cold, soaked),
        bay_hot_temperature=jnp.where(jnp.asarray(legs.soak) > 0.5, legs.soak_temperature, hot),
    )
