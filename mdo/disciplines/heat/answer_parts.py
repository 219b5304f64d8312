"""What every level of the heat answers alike: heaters stuck on, range of the correlations."""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.atmosphere import STANDARD_GRAVITY
from mdo.disciplines.heat.convection import air_film
from mdo.disciplines.heat.stage import Stage, blown_speed
from mdo.disciplines.heat.stuck_on import runaway_time, temperature_for_structure
from mdo.disciplines.heat.surroundings import adjacent_temperature
from mdo.disciplines.records import Legs, Vehicle


def stuck_on_answer(
    stage: Stage, ends_at: Array, heater_limit: Array, vehicle: Vehicle
) -> dict[str, Array]:
    """Structure beside a tube that runs away [K], and times to the limits [s].

    Parameters
    ----------
    stage
        What a stroke is made of.
    ends_at
        Where a tube ends whose heater stays on [K], shape (legs, 2).
    heater_limit
        Temperature of the tube at which its heater is at its limit [K], shape (2,).
    vehicle
        Record.

    Returns
    -------
    dict
        Fields of :class:`mdo.disciplines.heat.record.HeatAnswer` by name [K], [s], [1].

    Notes
    -----
    The heater is above its tube by the difference at the hot temperature, the structure is steady:
    both on the safe side.

    References
    ----------
    :mod:`mdo.disciplines.heat.stuck_on`.
    """
    hot, bay, alloy = stage.phases.hot, stage.bay, stage.alloy

    def structure(surface: Array) -> Array:
        return adjacent_temperature(
            surface_temperature=surface,
            bay_temperature=bay.hot,
            pressure=bay.pressure,
            gap=jnp.asarray(vehicle.structure_gap),
            emissivity=jnp.asarray(stage.choices.emissivity),
            assumed=stage.assumed,
        )

    reached = temperature_for_structure(
        structure,
        jnp.asarray(vehicle.adjacent_temperature_limit),
        low=hot,
        high=ends_at,
        hardware=stage.hardware,
        bay=bay,
    )
    never = jnp.isinf(reached)

    def time_to(temperature: Array) -> Array:
        return runaway_time(
            jnp.broadcast_to(temperature, ends_at.shape),
            hot_temperature=hot,
            power=stage.power.high,
            hardware=stage.hardware,
            bay=bay,
        )

    to_structure = jnp.where(never, jnp.inf, time_to(jnp.where(never, hot, reached)))
    times = [time_to(jnp.asarray(alloy.temperature_max)), time_to(heater_limit), to_structure]
    stored = stage.hardware.tube_mass * alloy.specific_heat
    stored *= jnp.maximum(alloy.temperature_max - hot, 0.0)
    earliest = stored / jnp.maximum(stage.power.high, 1e-9)
    return {
        "stuck_on_structure_temperature": structure(ends_at),
        "stuck_on_time": jnp.stack(times, axis=-1),
        "stuck_on_earliest": jnp.broadcast_to(earliest, ends_at.shape),
    }


def air_numbers(stage: Stage, radius: Array, legs: Legs) -> dict[str, Array]:
    """Rayleigh number, and Reynolds times Prandtl number of blown air, of a tube in each leg.

    Parameters
    ----------
    stage
        What a stroke is made of.
    radius
        Of a tube with its sleeve [m].
    legs
        Record.

    Returns
    -------
    dict
        Fields of :class:`mdo.disciplines.heat.record.HeatAnswer` by name [K], [s], [1].

    References
    ----------
    Derived (definitions of both numbers).
    """
    hot, cold, diameter = stage.phases.hot, stage.bay.cold[:, 0], 2.0 * radius
    film = (hot + cold) / 2.0
    speed = blown_speed(legs, stage.choices)
    air = air_film(film, stage.bay.pressure[:, 0])
    kinematic = air.viscosity / air.density
    buoyant = STANDARD_GRAVITY * (hot - cold) * diameter**3 * air.prandtl
    peclet = speed * diameter / kinematic * air.prandtl
    return {
        "rayleigh_number": buoyant / (film * kinematic**2),
        "peclet_number": jnp.where(speed > 0.0, peclet, jnp.inf),
    }
