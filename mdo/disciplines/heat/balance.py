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
from mdo.disciplines.heat.hardware import tube_hardware
from mdo.disciplines.heat.record import Cooling, Heating
from mdo.disciplines.heat.stage import (
    Phases,
    Stage,
    bay_of_legs,
    blown_speed,
    latent_heats,
    stored_heat,
    tube_power,
)
from mdo.disciplines.heat.steady import driver_motion, steady_heating
from mdo.disciplines.heat.strokes import StillLoss, cooling_time, heat_strokes, still_losses
from mdo.disciplines.levels import HeatLevel
from mdo.disciplines.records import Alloy, Choices, Legs, Requirements, Supply, Vehicle


def _strokes(
    stage: Stage, losses: StillLoss, legs: Legs, requirements: Requirements
) -> dict[str, Array]:
    """Times and energies of heating."""
    spans = stage.spans()
    strokes = heat_strokes(
        heat=stored_heat(stage.hardware, spans, stage.latent_loaded),
        spans=spans,
        loss=losses,
        power=stage.power,
        bay=stage.bay,
    )
    return {
        "heat_time": jnp.asarray(requirements.dead_time) + strokes.time,
        "motion_time": driver_motion(strokes.motion_time, legs, stage.choices),
        "heat_energy": stage.tube_count * strokes.energy,
        "ledger_residual": strokes.ledger_residual,
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
        **steady_heating(stage, losses, legs, vehicle),
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
        Times of cooling [s] and hottest bay on the way [K], shape (legs, 2).

    Notes
    -----
    From max(hot, Ms') to Ms', then to Mf'. Forced air only where cooling is a blower, and only
    while cooling. Times of a bay hotter than Mf' are large, finite and grow smoothly.
    The bay is as large as the outside: its temperature is given and stays.

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
    warm, time = cooling_time(
        hardware=hardware,
        latent=hardware.tube_mass * jnp.asarray(alloy.latent_heat),
        hot_temperature=hot_temperature,
        cooling_start=cooling_start,
        cooling_finish=cooling_finish,
        bay=bay,
        speed=blown_speed(legs, choices)[:, None],
    )
    return Cooling(
        cool_time=time,
        warm_cooling_time=warm,
        bay_peak_temperature=jnp.broadcast_to(bay.hot, time.shape),
    )


LEVEL = HeatLevel(heating=balance_heating, cooling=balance_cooling, answer=balance_answer)
