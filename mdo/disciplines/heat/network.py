"""Discipline entries `heating` and `cooling` at the fidelity `network`.

A tube is heater, wall cells and sleeve; beside it stand the tubes of the other set, around it the
bay with a capacity of its own and a conductance to the outside, whose temperature is that which the
study gives for the bay. Latent heat by enthalpy, implicit in time. What is steady (hold, heater at
high line, heater stuck on, structure) is that of :mod:`mdo.disciplines.heat.steady`.
"""

from __future__ import annotations

import jax
import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.assumptions import ThermalAssumptions
from mdo.disciplines.heat.hardware import tube_hardware
from mdo.disciplines.heat.network_answer import network_answer
from mdo.disciplines.heat.network_strokes import (
    TURNS,
    CoolingTube,
    cooling_lanes,
    figures_of,
    heating_lanes,
)
from mdo.disciplines.heat.network_tube import present_sets
from mdo.disciplines.heat.record import Cooling, Heating
from mdo.disciplines.heat.stage import (
    Phases,
    Stage,
    bay_of_legs,
    blown_speed,
    latent_heats,
    tube_power,
)
from mdo.disciplines.heat.steady import driver_motion, steady_heating
from mdo.disciplines.heat.strokes import still_losses
from mdo.disciplines.levels import HeatLevel
from mdo.disciplines.records import Alloy, Choices, Legs, Requirements, Supply, Vehicle


def _times(
    stage: Stage, exposure: Array, legs: Legs, requirements: Requirements
) -> dict[str, Array]:
    """Times and energies of heating, of the stroke in the cold bay; motion in the hot bay."""
    bay, power = stage.bay, stage.power
    cold = heating_lanes(stage, exposure, power.low, bay.cold[:, 0])
    warm = heating_lanes(stage, exposure, power.high, bay.hot[:, 0], mean=True)
    warm = warm._replace(wanted=jnp.broadcast_to(jnp.asarray([TURNS]), warm.wanted.shape))
    lanes = jax.tree.map(lambda *both: jnp.stack(both), cold, warm)  # one march for all
    figures, residual = figures_of(lanes, heats=True)
    time = figures[..., 0]
    return {
        "heat_time": jnp.asarray(requirements.dead_time) + time[0],
        "motion_time": driver_motion(time[1], legs, stage.choices),
        "heat_energy": stage.tube_count * power.low * time[0],
        "ledger_residual": residual[0],
    }


def network_heating(
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
    r"""Heating strokes of both sets in every leg, nodes in time.

    .. math:: \dot H_i = q_i - \sum_j G_{ij}(T_i - T_j),\quad H = C T + L\,a(T)

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
    bay, highest line, upper tolerance. The stroke ends where the last cell of the wall is hot. The
    hold, in the cold bay, needs the forward start Ms' at operating stress plus a margin.

    References
    ----------
    Reference thermal-power-mass, sections 2.2 to 2.13; :mod:`mdo.disciplines.heat.network_strokes`.
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
        **_times(stage, radiation_exposure, legs, requirements),
        **steady_heating(stage, losses, legs, vehicle),
    )


def network_cooling(
    *,
    tube_outer_radius: Array,
    wall_ratio: Array,
    tube_length: Array,
    tube_count: Array,
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
    r"""Cooling of both sets in the hot bay of every leg, nodes in time; all of the latent heat.

    .. math:: \dot H_i = -\sum_j G_{ij}(T_i - T_j),\quad H = C T + L\,a(T)

    Parameters
    ----------
    tube_outer_radius, tube_length, insulation_thickness
        Outer radius, heated length and sleeve of a tube [m].
    wall_ratio
        Wall over outer radius [1].
    tube_count
        Tubes of each set [1], shape (2,).
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
    From max(hot, Ms') until the last cell of the wall is at Mf'. All of the set starts at that
    temperature (the control has let the heater down), the bay at its hottest, the tubes of the
    other set as hot as this one. Forced air only where cooling is a blower, and only while cooling.
    Times of a bay hotter than Mf' are large and finite. What the hold gives to the bay is not in
    its peak.

    References
    ----------
    Reference thermal-power-mass, section 2; :mod:`mdo.disciplines.heat.network_strokes`.
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
    tube = CoolingTube(
        hardware=hardware,
        sets=present_sets(tube_count, choices),
        hot=hot_temperature,
        start=cooling_start,
        finish=cooling_finish,
        exposure=radiation_exposure,
    )
    lanes = cooling_lanes(tube, bay, blown_speed(legs, choices), alloy, choices, assumed)
    figures, _ = figures_of(lanes, heats=False)
    return Cooling(*jnp.moveaxis(figures, -1, 0))


LEVEL = HeatLevel(heating=network_heating, cooling=network_cooling, answer=network_answer)
