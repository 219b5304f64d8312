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
from mdo.disciplines.heat.hardware import BLEND, TubeHardware, heating_spans, tube_hardware
from mdo.disciplines.heat.heater import line_power_ratios
from mdo.disciplines.heat.heater_check import heater_check
from mdo.disciplines.heat.latent import latent_heat_under_stress
from mdo.disciplines.heat.loss import stuck_on_asymptote
from mdo.disciplines.heat.record import Cooling, Heating
from mdo.disciplines.heat.strokes import Bay, TubePower, cooling_time, heat_strokes, still_losses
from mdo.disciplines.heat.surroundings import adjacent_temperature, blower_power
from mdo.disciplines.levels import HeatLevel
from mdo.disciplines.records import Alloy, Choices, Legs, Requirements, Supply, Vehicle
from mdo.disciplines.smooth import blended_max

COUNT_LEAST = 1e-3  # below this a set is absent and its times are those of one tube


def _bay(cold: Array, hot: Array, pressure: Array) -> Bay:
    return Bay(cold[:, None], hot[:, None], pressure[:, None])


def _driver_motion(values: Array, legs: Legs, choices: Choices) -> Array:
    """Entry of the set that pushes the way of the leg; of the other one where it is absent."""
    present = jnp.asarray(choices.set_present) > 0.5
    up, down = values[:, 0], values[:, 1]
    first_up = jnp.where(present[0], up, down)
    first_down = jnp.where(present[1], down, up)
    return jnp.where(jnp.asarray(legs.direction) > 0.0, first_up, first_down)


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
    tube_outer_radius, tube_length, insulation_thickness : [m]; wall_ratio t/ro
    tube_count, heater_power, operating_stress : per set, shape (2,); power [W] electrical, nominal,
        of the whole set of one wing; stress [Pa]
    hot_temperature : [K]
    heating_start, heating_finish, holding_start : As', Af', Ms' at operating stress [K], (2,)
    heated_fraction : share of martensite transformed at the hot temperature, (2,)
    fitting_mass_per_tube : both ends [kg], (2,)
    radiation_exposure, convection_exposure : view of the bay and convection factor of a tube
    air_pressure [Pa], bay_cold_temperature, bay_hot_temperature [K] : (legs,)
    legs, alloy, vehicle, choices, supply, requirements, thermal_assumptions : records

    Notes
    -----
    Heating: cold bay, lowest line, lower tolerance, dead time. Motion: As' to min(Af', hot), hot
    bay, highest line, upper tolerance. Film coefficients at the mean temperature of each stretch.
    The hold needs the forward start Ms' at operating stress plus a margin (sma-tubes, section 4).
    Reference thermal-power-mass, sections 2.1 and 2.5 to 2.13.
    """
    assumed = thermal_assumptions
    count = jnp.where(tube_count > COUNT_LEAST, tube_count, 1.0)
    present = (tube_count > COUNT_LEAST) & (jnp.asarray(choices.set_present) > 0.5)
    low_line, high_line = line_power_ratios(supply)
    nominal = heater_power / count
    power = TubePower(
        low=nominal * low_line * (1.0 - assumed.heater_tolerance_low),
        high=nominal * high_line * (1.0 + assumed.heater_tolerance_high),
    )
    hardware: TubeHardware = tube_hardware(
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
    bay = _bay(bay_cold_temperature, bay_hot_temperature, air_pressure)
    spans = heating_spans(
        start=bay.cold,
        heating_start=heating_start,
        heating_finish=heating_finish,
        hot_temperature=hot_temperature,
    )
    holding = holding_start + assumed.hold_temperature_margin
    state = still_losses(spans, holding, hot_temperature, bay, hardware)
    latent = hardware.tube_mass * latent_heat_under_stress(operating_stress, alloy)
    capacity = hardware.capacity_heating
    strokes = heat_strokes(
        heat=(
            capacity * spans.sensible,
            capacity * spans.transformation + latent * heated_fraction,
            capacity * spans.finish,
        ),
        spans=(spans.sensible, spans.transformation, spans.finish),
        conductance=state.stretches,
        motion_conductance=state.motion,
        power=power,
        bay=bay,
    )
    check = heater_check(
        power=power.high,
        hot_temperature=hot_temperature,
        tube_outer_radius=tube_outer_radius,
        wall_ratio=wall_ratio,
        tube_length=tube_length,
        heater_radius=hardware.heater_radius,
        pressure=jnp.min(air_pressure),
        alloy=alloy,
        choices=choices,
        assumed=assumed,
    )
    needed = (1.0 + assumed.loss_uncertainty) * state.hot_cold * (hot_temperature - bay.cold)
    balance = (power.low - needed) / jnp.where(nominal > 0.0, nominal, 1.0)
    hold = state.hold * blended_max(holding - bay.cold, 0.0, BLEND)
    blown = jnp.asarray(choices.cooling) > 0.5
    fan = blower_power(
        speed=jnp.where(blown, jnp.asarray(legs.bay_air_speed), 0.0),
        pressure=air_pressure,
        air_temperature=bay_hot_temperature,
        diameter=hardware.surface.diameter,
        tube_length=tube_length,
        tube_count=jnp.asarray(choices.set_present) * tube_count,
        assumed=assumed,
    )
    return Heating(
        heat_time=jnp.asarray(requirements.dead_time) + strokes.time,
        motion_time=_driver_motion(strokes.motion_time, legs, choices),
        heat_energy=tube_count * strokes.energy,
        hold_power=tube_count * hold,
        hold_temperature=holding,
        loss_conductance_hot=tube_count * state.hot_cold,
        power_balance=jnp.where(present, balance, 1.0),
        heater_flux=check.flux,
        heater_flux_limit=check.flux_limit,
        sheath_temperature=check.temperature,
        sheath_temperature_limit=check.temperature_limit,
        wall_temperature_difference=check.wall_difference,
        tube_temperature_max=hot_temperature
        + assumed.control_overshoot
        + jnp.max(check.wall_difference),
        surface_temperature_hot=state.surface,
        structure_temperature_hot=adjacent_temperature(
            surface_temperature=state.surface,
            bay_temperature=bay_hot_temperature,
            pressure=air_pressure,
            gap=jnp.asarray(vehicle.structure_gap),
            emissivity=jnp.asarray(choices.emissivity),
            assumed=assumed,
        ),
        stuck_on_temperature=stuck_on_asymptote(
            power=power.high,
            air_temperature=bay.hot,
            pressure=bay.pressure,
            surface=hardware.surface,
        ),
        heater_mass_per_tube=hardware.heater_mass,
        insulation_mass_per_tube=hardware.insulation_mass,
        ledger_residual=strokes.ledger_residual,
        blower_power=fan,
        blower_mass=assumed.blower_specific_mass * fan,
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
    cooling_start, cooling_finish : Ms', Mf' at the smallest return stress [K], (2,)
    others : as :func:`balance_heating`

    Notes
    -----
    From max(hot, Ms') to Ms', then to Mf'. Forced air only where cooling is a blower, and only
    while cooling. Times of a bay hotter than Mf' are large, finite and grow smoothly.
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
    bay = _bay(bay_hot_temperature, bay_hot_temperature, air_pressure)
    blown = jnp.asarray(choices.cooling) > 0.5
    speed = jnp.where(blown, jnp.asarray(legs.bay_air_speed), 0.0)
    time = cooling_time(
        hardware=hardware,
        latent=hardware.tube_mass * jnp.asarray(alloy.latent_heat),
        hot_temperature=hot_temperature,
        cooling_start=cooling_start,
        cooling_finish=cooling_finish,
        bay=bay,
        speed=speed[:, None],
    )
    return Cooling(
        cool_time=time,
    )


LEVEL = HeatLevel(heating=balance_heating, cooling=balance_cooling, answer=balance_answer)
