"""Discipline entries `heating` and `cooling`: tubes of one wing, fidelity `balance`.

Two stages, because the motion time of heating sets inertia and damping before the loads are known,
and the stress under which a set cools is known only after them. Each set is one lumped body with
constant loss per stretch of temperature, in closed form. Powers and energies are those of ONE wing;
:mod:`mdo.disciplines.electric.power` makes the aircraft of them.
"""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.assumptions import ThermalAssumptions
from mdo.disciplines.heat.balance_answer import balance_answer
from mdo.disciplines.heat.hardware import BLEND, tube_hardware
from mdo.disciplines.heat.heater_check import heater_check
from mdo.disciplines.heat.loss import stuck_on_asymptote
from mdo.disciplines.heat.record import Cooling, Heating
from mdo.disciplines.heat.stage import (
    COUNT_LEAST,
    Phases,
    Stage,
    bay_of_legs,
    blown_speed,
    latent_heats,
    stored_heat,
    tube_power,
)
from mdo.disciplines.heat.strokes import StillLoss, cooling_time, heat_strokes, still_losses
from mdo.disciplines.heat.surroundings import adjacent_temperature, blower_power
from mdo.disciplines.levels import HeatLevel
from mdo.disciplines.records import Alloy, Choices, Legs, Requirements, Supply, Vehicle
from mdo.disciplines.smooth import blended_max


def _driver_motion(values: Array, legs: Legs, choices: Choices) -> Array:
    """Entry of the set that pushes the way of the leg; of the other one where it is absent."""
    present = jnp.asarray(choices.set_present) > 0.5
    up, down = values[:, 0], values[:, 1]
    first_up = jnp.where(present[0], up, down)
    first_down = jnp.where(present[1], down, up)
    return jnp.where(jnp.asarray(legs.direction) > 0.0, first_up, first_down)


def _strokes(
    stage: Stage, losses: StillLoss, legs: Legs, requirements: Requirements
) -> dict[str, Array]:
    """Times, energies and powers of heating and holding."""
    tube, bay, count, assumed = stage.hardware, stage.bay, stage.tube_count, stage.assumed
    hot, holding = stage.phases.hot, stage.phases.holding
    spans = stage.spans()
    strokes = heat_strokes(
        heat=stored_heat(tube, spans, stage.latent_loaded),
        spans=spans,
        loss=losses,
        power=stage.power,
        bay=bay,
    )
    present = (count > COUNT_LEAST) & (jnp.asarray(stage.choices.set_present) > 0.5)
    needed = (1.0 + assumed.loss_uncertainty) * losses.hot_cold * (hot - bay.cold)
    nominal = stage.power.nominal
    balance = (stage.power.low - needed) / jnp.where(nominal > 0.0, nominal, 1.0)
    return {
        "heat_time": jnp.asarray(requirements.dead_time) + strokes.time,
        "motion_time": _driver_motion(strokes.motion_time, legs, stage.choices),
        "heat_energy": count * strokes.energy,
        "hold_power": count * losses.hold * blended_max(holding - bay.cold, 0.0, BLEND),
        "hold_temperature": holding,
        "loss_conductance_hot": count * losses.hot_cold,
        "power_balance": jnp.where(present, balance, 1.0),
        "ledger_residual": strokes.ledger_residual,
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


def balance_heating(
    *,
    tube_outer_radius: Array,
    wall_ratio: Array,
    tube_length: Array,
    tube_count: Array,
    operating_stress: Array,
    heater_power: Array,
    hot_temperature: Array,
    insulation_thickness: Array,
    heating_start: Array,
    heating_finish: Array,
    holding_start: Array,
    heated_fraction: Array,
    fitting_mass_per_tube: Array,
    radiation_exposure: Array,
    convection_exposure: Array,
    air_pressure: Array,
    bay_cold_temperature: Array,
    bay_hot_temperature: Array,
    legs: Legs,
    alloy: Alloy,
    vehicle: Vehicle,
    choices: Choices,
    supply: Supply,
    requirements: Requirements,
    thermal_assumptions: ThermalAssumptions,
) -> Heating:
    r"""Heating strokes of both sets in every leg, closed form.

    .. math:: t_{heat} = t_{dead} + \sum_{3} \frac{Q_i}{UA_i\Delta T_i}
        \ln\frac{P-UA_i\theta_{i1}}{P-UA_i\theta_{i2}}

    Parameters
    ----------
    tube_outer_radius, tube_length, insulation_thickness
        Outer radius, heated length and sleeve of a tube [m].
    wall_ratio
        Wall over outer radius [1].
    tube_count
        Tubes of each set [1], shape (2,).
    operating_stress
        Uniform shear stress of each set [Pa], shape (2,).
    heater_power
        Nominal electrical power of each set of one wing [W], shape (2,).
    hot_temperature
        Temperature at which heating ends [K].
    heating_start, heating_finish, holding_start
        As', Af', Ms' at the operating stress [K], shape (2,).
    heated_fraction
        Share of the martensite turned at the hot temperature [1], shape (2,).
    fitting_mass_per_tube
        Both end fittings of a tube [kg], shape (2,).
    radiation_exposure, convection_exposure
        View factor to the bay, free convection over that of one tube alone [1].
    air_pressure
        Air pressure in the bay [Pa], shape (legs,).
    bay_cold_temperature, bay_hot_temperature
        Coldest and hottest bay [K], shape (legs,).
    legs, alloy, vehicle, choices, supply, requirements, thermal_assumptions
        Records.

    Returns
    -------
    Heating
        Times [s], energies [J], powers [W], temperatures [K] and masses [kg] of one wing.

    Notes
    -----
    Heating: cold bay, lowest line, lower tolerance, dead time. Motion: As' to min(Af', hot), hot
    bay, highest line, upper tolerance. Film coefficients at the mean temperature of each stretch.
    The hold needs the forward start Ms' at operating stress plus a margin.

    References
    ----------
    Derived (lumped tube); reference sma-tubes, section 4, and thermal-power-mass, sections 2.1 and
    2.5 to 2.13.
    """
    assumed = thermal_assumptions
    power = tube_power(heater_power, tube_count, supply, assumed)
    hardware = tube_hardware(
        tube_outer_radius=tube_outer_radius,
        wall_ratio=wall_ratio,
        tube_length=tube_length,
        insulation_thickness=insulation_thickness,
        fitting_mass_per_tube=fitting_mass_per_tube,
        radiation_exposure=radiation_exposure,
        convection_exposure=convection_exposure,
        alloy=alloy,
        choices=choices,
        assumed=assumed,
    )
    bay = bay_of_legs(bay_cold_temperature, bay_hot_temperature, air_pressure)
    holding = holding_start + assumed.hold_temperature_margin
    phases = Phases(heating_start, heating_finish, hot_temperature, holding)
    latent = latent_heats(hardware, heated_fraction, operating_stress, alloy)
    stage = Stage(hardware, power, bay, phases, *latent, tube_count, alloy, choices, assumed)
    losses = still_losses(stage.spans(), holding, hot_temperature, bay, hardware)
    return Heating(
        **_strokes(stage, losses, legs, requirements),
        **_heater(stage),
        **_bay(stage, losses, legs, vehicle),
    )


def balance_cooling(
    *,
    tube_outer_radius: Array,
    wall_ratio: Array,
    tube_length: Array,
    hot_temperature: Array,
    insulation_thickness: Array,
    cooling_start: Array,
    cooling_finish: Array,
    fitting_mass_per_tube: Array,
    radiation_exposure: Array,
    convection_exposure: Array,
    air_pressure: Array,
    bay_hot_temperature: Array,
    legs: Legs,
    alloy: Alloy,
    choices: Choices,
    thermal_assumptions: ThermalAssumptions,
) -> Cooling:
    r"""Cooling of both sets in the hot bay of every leg, closed form; all of the latent heat.

    .. math:: t_{cool} = \sum_{2} \frac{Q_i}{UA_i\Delta T_i}\ln\frac{\theta_{i1}}{\theta_{i2}}

    Parameters
    ----------
    tube_outer_radius, tube_length, insulation_thickness
        Outer radius, heated length and sleeve of a tube [m].
    wall_ratio
        Wall over outer radius [1].
    hot_temperature
        Temperature at which cooling starts [K].
    cooling_start, cooling_finish
        Ms', Mf' at the smallest return stress [K], shape (2,).
    fitting_mass_per_tube
        Both end fittings of a tube [kg], shape (2,).
    radiation_exposure, convection_exposure
        View factor to the bay, free convection over that of one tube alone [1].
    air_pressure
        Air pressure in the bay [Pa], shape (legs,).
    bay_hot_temperature
        Hottest bay [K], shape (legs,).
    legs, alloy, choices, thermal_assumptions
        Records.

    Returns
    -------
    Cooling
        Time of cooling [s], shape (legs, 2).

    Notes
    -----
    From max(hot, Ms') to Ms', then to Mf'. Forced air only where cooling is a blower, and only
    while cooling. Times of a bay hotter than Mf' are large, finite and grow smoothly.

    References
    ----------
    Derived (lumped tube); reference thermal-power-mass, section 2.
    """
    assumed = thermal_assumptions
    hardware = tube_hardware(
        tube_outer_radius=tube_outer_radius,
        wall_ratio=wall_ratio,
        tube_length=tube_length,
        insulation_thickness=insulation_thickness,
        fitting_mass_per_tube=fitting_mass_per_tube,
        radiation_exposure=radiation_exposure,
        convection_exposure=convection_exposure,
        alloy=alloy,
        choices=choices,
        assumed=assumed,
    )
    bay = bay_of_legs(bay_hot_temperature, bay_hot_temperature, air_pressure)
    time = cooling_time(
        hardware=hardware,
        latent=hardware.tube_mass * jnp.asarray(alloy.latent_heat),
        hot_temperature=hot_temperature,
        cooling_start=cooling_start,
        cooling_finish=cooling_finish,
        bay=bay,
        speed=blown_speed(legs, choices)[:, None],
    )
    return Cooling(cool_time=time)


LEVEL = HeatLevel(heating=balance_heating, cooling=balance_cooling, answer=balance_answer)
