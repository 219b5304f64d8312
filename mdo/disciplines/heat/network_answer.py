"""Discipline entry `heat_answer` at the fidelity `network`: courses in time, ledger, stuck on."""

from __future__ import annotations

import jax.numpy as jnp
import numpy as np
from jax import Array

from mdo.disciplines.heat.answer_parts import air_numbers, stuck_on_answer
from mdo.disciplines.heat.assumptions import ThermalAssumptions
from mdo.disciplines.heat.hardware import tube_hardware
from mdo.disciplines.heat.network_strokes import (
    HEATING_RUNGS,
    CoolingTube,
    cooling_lanes,
    courses_of,
    heating_lanes,
)
from mdo.disciplines.heat.network_tube import present_sets
from mdo.disciplines.heat.record import HeatAnswer
from mdo.disciplines.heat.stage import (
    Phases,
    Stage,
    bay_of_legs,
    blown_speed,
    latent_heats,
    tube_power,
)
from mdo.disciplines.records import Alloy, Choices, Legs, Requirements, Supply, Vehicle


def network_answer(
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
    heated_fraction: Array,
    hold_temperature: Array,
    cooling_start: Array,
    cooling_finish: Array,
    stuck_on_temperature: Array,
    sheath_temperature: Array,
    sheath_temperature_limit: Array,
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
) -> HeatAnswer:
    """Courses, ledgers and failures of the strokes that the level `network` computes.

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
        Nominal power of each set of one wing [W], shape (2,).
    hot_temperature
        Temperature at which heating ends [K].
    heating_start, heating_finish, hold_temperature
        As', Af' and where the hold stands [K], shape (2,).
    heated_fraction
        Share of the martensite turned [1], shape (2,).
    cooling_start, cooling_finish
        Ms', Mf' at the smallest return stress [K], shape (2,).
    stuck_on_temperature
        Where a tube ends whose heater stays on [K], shape (legs, 2).
    sheath_temperature, sheath_temperature_limit
        Heater at high line [K], shape (2,), and what it bears [K].
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
    HeatAnswer
        Courses [s] and [K], heat [J], times and temperatures of a heater stuck on.

    References
    ----------
    :mod:`mdo.disciplines.heat.network_strokes`, :mod:`mdo.disciplines.heat.stuck_on`.
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
    phases = Phases(heating_start, heating_finish, hot_temperature, hold_temperature)
    latent = latent_heats(hardware, heated_fraction, operating_stress, alloy)
    stage = Stage(hardware, power, bay, phases, *latent, tube_count, alloy, choices, assumed)
    cooling = CoolingTube(
        hardware=hardware,
        sets=present_sets(tube_count, choices),
        hot=hot_temperature,
        start=cooling_start,
        finish=cooling_finish,
        exposure=radiation_exposure,
    )
    above = sheath_temperature - hot_temperature
    return HeatAnswer(
        **_heating(
            stage, radiation_exposure, fitting_mass_per_tube, jnp.asarray(requirements.dead_time)
        ),
        **_cooling_course(stage, cooling, legs),
        **stuck_on_answer(stage, stuck_on_temperature, sheath_temperature_limit - above, vehicle),
        stuck_on_heater_temperature=stuck_on_temperature + above,
        **air_numbers(stage, tube_outer_radius + insulation_thickness, legs),
    )


def _heating(stage: Stage, exposure: Array, fittings: Array, dead_time: Array) -> dict[str, Array]:
    """Course of heating from the cold bay, its stages, and where its heat goes."""
    cold = stage.bay.cold
    lanes = heating_lanes(stage, exposure, stage.power.low, cold[:, 0])
    course = courses_of(lanes, heats=True)
    time = course.time + dead_time
    # the command is at time zero, the heaters begin after the dead time
    begin = jnp.zeros_like(time[..., :1])
    is_wall = jnp.where(lanes.network.latent > 0.0, 1.0, 0.0)[..., :-2]
    stored = lanes.network.capacity[..., :-2] * (course.end - lanes.start)[..., :-2]
    walls = jnp.sum(lanes.network.capacity[..., :-2] * is_wall, axis=-1)
    cells = jnp.sum(stored * is_wall, axis=-1)
    mean = cells / walls
    tubes = stage.hardware.tube_mass * stage.alloy.specific_heat * mean
    soaked = stage.assumed.fitting_specific_heat * stage.assumed.fitting_soak_heating
    ends = fittings * soaked * mean
    sensible = jnp.sum(stored, axis=-1)
    given = stage.power.low * course.time[..., -1]
    work = stage.latent_loaded - stage.latent_free
    lost = given - sensible - stage.latent_loaded
    rest = sensible - tubes - ends
    parts = jnp.broadcast_arrays(tubes, rest, ends, stage.latent_free, work, lost)
    corners = np.cumsum([0, *(len(shares) for shares in HEATING_RUNGS)])
    return {
        "heating_course_time": jnp.concatenate([begin, time], axis=-1),
        "heating_course_temperature": jnp.concatenate(
            [course.ladder[..., :1], course.ladder], axis=-1
        ),
        "heating_stage_time": time[..., corners],
        "stroke_heat": stage.tube_count[:, None] * jnp.stack(parts, axis=-1),
        "stroke_heat_given": stage.tube_count * given,
    }


def _cooling_course(stage: Stage, tube: CoolingTube, legs: Legs) -> dict[str, Array]:
    """Course of the cooling of each set in each leg: to Ms', then to Mf'."""
    speed = blown_speed(legs, stage.choices)
    lanes = cooling_lanes(tube, stage.bay, speed, stage.alloy, stage.choices, stage.assumed)
    course = courses_of(lanes, heats=False)
    return {
        "cooling_course_time": course.time,
        "cooling_course_temperature": course.ladder,
    }
