"""What is steady in a stroke, at every level: heater at high line, hot bay, hold, blower."""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.hardware import BLEND
from mdo.disciplines.heat.heater_check import heater_check
from mdo.disciplines.heat.loss import stuck_on_asymptote
from mdo.disciplines.heat.stage import COUNT_LEAST, Stage, blown_speed
from mdo.disciplines.heat.strokes import StillLoss
from mdo.disciplines.heat.surroundings import adjacent_temperature, blower_power
from mdo.disciplines.records import Choices, Legs, Vehicle
from mdo.disciplines.smooth import blended_max


def driver_motion(values: Array, legs: Legs, choices: Choices) -> Array:
    """Entry of the set that pushes the way of the leg; of the other one where it is absent.

    Parameters
    ----------
    values
        Of each leg and set, any unit, shape (legs, 2).
    legs, choices
        Records: direction; set_present.

    Returns
    -------
    Array
        In the unit of the values, shape (legs,).

    Examples
    --------
    A leg upwards and one downwards, without a down set:

    >>> from types import SimpleNamespace
    >>> driver_motion(jnp.array([[1.0, 2.0], [3.0, 4.0]]), SimpleNamespace(direction=[1.0, -1.0]),
    ...     SimpleNamespace(set_present=[1.0, 0.0])).tolist()
    [1.0, 3.0]

    References
    ----------
    Derived (definition).
    """
    present = jnp.asarray(choices.set_present) > 0.5
    up, down = values[:, 0], values[:, 1]
    first_up = jnp.where(present[0], up, down)
    first_down = jnp.where(present[1], down, up)
    return jnp.where(jnp.asarray(legs.direction) > 0.0, first_up, first_down)


def _hold(stage: Stage, losses: StillLoss) -> dict[str, Array]:
    """Hold in the cold bay, and what is left of the power at the hot temperature."""
    bay, count, assumed = stage.bay, stage.tube_count, stage.assumed
    hot, holding = stage.phases.hot, stage.phases.holding
    present = (count > COUNT_LEAST) & (jnp.asarray(stage.choices.set_present) > 0.5)
    needed = (1.0 + assumed.loss_uncertainty) * losses.hot_cold * (hot - bay.cold)
    nominal = stage.power.nominal
    balance = (stage.power.low - needed) / jnp.where(nominal > 0.0, nominal, 1.0)
    return {
        "hold_power": count * losses.hold * blended_max(holding - bay.cold, 0.0, BLEND),
        "hold_temperature": holding,
        "loss_conductance_hot": count * losses.hot_cold,
        "power_balance": jnp.where(present, balance, 1.0),
    }


def _heater(stage: Stage) -> dict[str, Array]:
    """Heater and wall at high line, beside their limits; masses of one tube."""
    check = heater_check(
        power=stage.power.high,
        hot_temperature=stage.phases.hot,
        hardware=stage.hardware,
        pressure=jnp.min(stage.bay.pressure),
        alloy=stage.alloy,
        choices=stage.choices,
        assumed=stage.assumed,
    )
    overshoot = jnp.asarray(stage.assumed.control_overshoot)
    return {
        "heater_flux": check.flux,
        "heater_flux_limit": check.flux_limit,
        "sheath_temperature": check.temperature,
        "sheath_temperature_limit": check.temperature_limit,
        "wall_temperature_difference": check.wall_difference,
        "tube_temperature_max": stage.phases.hot + overshoot + jnp.max(check.wall_difference),
        "heater_mass_per_tube": stage.hardware.heater_mass,
        "insulation_mass_per_tube": stage.hardware.insulation_mass,
    }


def _bay(stage: Stage, losses: StillLoss, legs: Legs, vehicle: Vehicle) -> dict[str, Array]:
    """Surface and structure of the hot bay, a heater stuck on there, the blower."""
    tube, bay, assumed = stage.hardware, stage.bay, stage.assumed
    hot, pressure = bay.hot[:, 0], bay.pressure[:, 0]
    fan = blower_power(
        speed=blown_speed(legs, stage.choices),
        pressure=pressure,
        air_temperature=hot,
        diameter=tube.surface.diameter,
        tube_length=tube.length,
        tube_count=jnp.asarray(stage.choices.set_present) * stage.tube_count,
        assumed=assumed,
    )
    return {
        "surface_temperature_hot": losses.surface,
        "structure_temperature_hot": adjacent_temperature(
            surface_temperature=losses.surface,
            bay_temperature=hot,
            pressure=pressure,
            gap=jnp.asarray(vehicle.structure_gap),
            emissivity=jnp.asarray(stage.choices.emissivity),
            assumed=assumed,
        ),
        "stuck_on_temperature": stuck_on_asymptote(
            power=stage.power.high,
            air_temperature=bay.hot,
            pressure=bay.pressure,
            surface=tube.surface,
        ),
        "blower_power": fan,
        "blower_mass": assumed.blower_specific_mass * fan,
    }


def steady_heating(
    stage: Stage, losses: StillLoss, legs: Legs, vehicle: Vehicle
) -> dict[str, Array]:
    """What of a heating stroke is steady: hold, heater and wall at high line, hot bay, blower.

    Parameters
    ----------
    stage
        What a stroke is made of.
    losses
        Losses of one tube in still air [W/K].
    legs, vehicle
        Records.

    Returns
    -------
    dict
        Fields of :class:`mdo.disciplines.heat.record.Heating` by name, all but
        those in time [W], [K], [kg].

    References
    ----------
    Derived; reference thermal-power-mass, sections 2.5 to 2.13.
    """
    return _hold(stage, losses) | _heater(stage) | _bay(stage, losses, legs, vehicle)
