"""What every level of the heat answers alike: heaters stuck on, range of the correlations."""

from __future__ import annotations

from collections.abc import Callable

import jax
import jax.numpy as jnp
from jax import Array

from mdo.disciplines.atmosphere import STANDARD_GRAVITY
from mdo.disciplines.heat.convection import air_film
from mdo.disciplines.heat.hardware import TubeHardware
from mdo.disciplines.heat.loss import tube_loss
from mdo.disciplines.heat.stage import Bay, Stage, blown_speed
from mdo.disciplines.heat.surroundings import adjacent_temperature
from mdo.disciplines.records import Legs, Vehicle

STEPS = 200  # of the integral over the temperature: its error is below 1e-4 of the time
HALVINGS = 60  # of the bracket in temperature: to round-off


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
    :mod:`mdo.disciplines.heat.answer_parts`.
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


def runaway_time(
    temperature: Array, *, hot_temperature: Array, power: Array, hardware: TubeHardware, bay: Bay
) -> Array:
    r"""Time of a heated tube from its hot temperature to a higher one.

    .. math:: t = \int_{T_{hot}}^{T} \frac{C\,dT}{P - UA(T)\,(T - T_e)}

    Parameters
    ----------
    temperature
        Temperature T that is reached [K], shape (legs, sets).
    hot_temperature
        Temperature at the start [K].
    power
        Heater power P of one tube of each set [W], shape (sets,).
    hardware
        One tube of each set; nothing leaves by its ends.
    bay
        Bay of each leg; the hot one counts.

    Returns
    -------
    Array
        Time [s], shape (legs, sets); infinite where the loss reaches the power on the way, 0 below
        the hot temperature.

    References
    ----------
    Derived (lumped balance of one tube).
    """
    share = jnp.linspace(0.0, 1.0, STEPS + 1)[:, None, None]
    course = hot_temperature + share * (temperature - hot_temperature)
    spare = power - _loss(course, hardware, bay)[0] * (course - bay.hot)
    safe = jnp.where(spare > 0.0, spare, 1.0)
    slowness = jnp.broadcast_to(hardware.capacity_heating / safe, course.shape)
    time = jnp.trapezoid(slowness, course, axis=0)
    time = jnp.where(jnp.min(spare, axis=0) > 0.0, time, jnp.inf)
    return jnp.where(temperature > hot_temperature, time, 0.0)


def temperature_for_structure(
    structure: Callable[[Array], Array],
    limit: Array,
    *,
    low: Array,
    high: Array,
    hardware: TubeHardware,
    bay: Bay,
) -> Array:
    """Tube temperature at which the steady structure beside it reaches a limit.

    Parameters
    ----------
    structure
        Temperature of the structure [K] for that of the outer surface of the tubes [K].
    limit
        Temperature that the structure may reach [K].
    low, high
        Bracket of the tube temperature [K], shape (legs, sets).
    hardware, bay
        As in :func:`runaway_time`.

    Returns
    -------
    Array
        Upper end of the last bracket of a bisection [K], shape (legs, sets); infinite where even
        ``high`` leaves the structure below its limit.

    References
    ----------
    Derived (bisection of :func:`mdo.disciplines.heat.surroundings.adjacent_temperature`).
    """

    def over(temperature: Array) -> Array:
        return structure(_loss(temperature, hardware, bay)[1]) > limit

    def halve(_: int, ends: tuple[Array, Array]) -> tuple[Array, Array]:
        below, above = ends
        middle = (below + above) / 2.0
        beyond = over(middle)
        return jnp.where(beyond, below, middle), jnp.where(beyond, middle, above)

    below = jnp.broadcast_to(low, high.shape)
    found = jax.lax.fori_loop(0, HALVINGS, halve, (below, high))[1]
    return jnp.where(over(high), found, jnp.inf)


def _loss(temperature: Array, hardware: TubeHardware, bay: Bay) -> tuple[Array, Array]:
    """Loss [W/K] and outer surface [K] of a tube in the hot bay; nothing leaves by the ends."""
    surface = hardware.surface._replace(spacer_conductance=jnp.asarray(0.0))
    lost = tube_loss(
        tube_temperature=temperature,
        air_temperature=bay.hot,
        pressure=bay.pressure,
        speed=None,
        surface=surface,
    )
    return lost.conductance, lost.surface_temperature
