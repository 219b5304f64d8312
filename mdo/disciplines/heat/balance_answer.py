"""Level `balance` of the heat, for the report: courses in time, ledger, heaters stuck on."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.answer_parts import air_numbers, stuck_on_answer
from mdo.disciplines.heat.assumptions import ThermalAssumptions
from mdo.disciplines.heat.energy_balance import REACH
from mdo.disciplines.heat.hardware import tube_hardware
from mdo.disciplines.heat.record import HeatAnswer
from mdo.disciplines.heat.stage import (
    Phases,
    Stage,
    bay_of_legs,
    blown_speed,
    latent_heats,
    stored_heat,
    tube_power,
)
from mdo.disciplines.heat.strokes import cooling_time, still_losses, warm_up
from mdo.disciplines.records import Alloy, Choices, Legs, Requirements, Supply, Vehicle

POINTS = 25  # of a course on each stretch of temperature


class Stretch(NamedTuple):
    """One stretch of a course: times [s] and temperatures [K] at its ends, and where it settles."""

    begins: Array
    ends: Array
    first: Array
    last: Array
    settles: Array


def stretch_course(stretch: Stretch) -> tuple[Array, Array]:
    """Course of temperature over time on one stretch, POINTS points.

    Parameters
    ----------
    stretch
        Times [s] and temperatures [K] at the ends, where it settles [K]; any shape.

    Returns
    -------
    tuple
        Times [s] and temperatures [K], a last axis of POINTS.

    Notes
    -----
    The exponential of the lumped balance towards ``settles``; straight where the end is not within
    reach of it, as in :func:`mdo.disciplines.heat.energy_balance.segment_time`.

    Examples
    --------
    From 0 to 100 K on the way to 200 K, halfway in time (hand: 200 (1 - 2^-0.5)):

    >>> ends = (jnp.asarray(value) for value in (0.0, 60.0, 0.0, 100.0, 200.0))
    >>> time, kelvin = stretch_course(Stretch(*ends))
    >>> float(time[12]), float(kelvin[12])
    (30.0, 58.58)

    References
    ----------
    Derived (lumped tube).
    """
    share = jnp.linspace(0.0, 1.0, POINTS)
    begins, ends, start, end, settles = (
        jnp.broadcast_to(part, stretch.ends.shape)[..., None] for part in stretch
    )
    first, last = start - settles, end - settles
    straight = (first * last <= 0.0) | (jnp.minimum(jnp.abs(first), jnp.abs(last)) < REACH)
    ratio = jnp.where(straight, 1.0, last / jnp.where(straight, 1.0, first))
    curved = settles + first * ratio**share
    temperature = jnp.where(straight, start + share * (end - start), curved)
    return begins + share * (ends - begins), temperature


def balance_answer(
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
    cool_time: Array,
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
    """Courses, ledgers and failures of the strokes that the level `balance` computes.

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
    cool_time
        Time of cooling [s], shape (legs, 2).
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
    :func:`mdo.disciplines.heat.strokes.warm_up`, :mod:`mdo.disciplines.heat.stuck_on`.
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
    above = sheath_temperature - hot_temperature
    return HeatAnswer(
        **_heating(stage, fitting_mass_per_tube, jnp.asarray(requirements.dead_time)),
        **_cooling_course(stage, cooling_start, cooling_finish, cool_time, legs),
        **stuck_on_answer(stage, stuck_on_temperature, sheath_temperature_limit - above, vehicle),
        stuck_on_heater_temperature=stuck_on_temperature + above,
        **air_numbers(stage, tube_outer_radius + insulation_thickness, legs),
    )


def _heating(stage: Stage, fittings: Array, dead_time: Array) -> dict[str, Array]:
    """Course of heating from the cold bay, its stages, and where its heat goes."""
    tube, cold, power = stage.hardware, stage.bay.cold, stage.power.low
    spans = stage.spans()
    losses = still_losses(spans, stage.phases.holding, stage.phases.hot, stage.bay, tube)
    warming = warm_up(
        spans=spans,
        heat=stored_heat(tube, spans, stage.latent_loaded),
        conductance=losses.stretches,
        power=power,
        cold=cold,
    )
    shape = jnp.broadcast_shapes(spans.sensible.shape, cold.shape)
    stages = [jnp.broadcast_to(dead_time + time, shape) for time in warming.times]
    begin = jnp.broadcast_to(cold, shape)
    stretches = map(
        Stretch,
        stages[:-1],
        stages[1:],
        warming.temperatures[:-1],
        warming.temperatures[1:],
        warming.settles,
    )
    courses = [stretch_course(stretch) for stretch in stretches]
    warmed = warming.temperatures[-1] - cold
    tubes = tube.tube_mass * stage.alloy.specific_heat * warmed
    soaked = stage.assumed.fitting_specific_heat * stage.assumed.fitting_soak_heating
    ends = fittings * soaked * warmed
    rest = tube.capacity_heating * warmed - tubes - ends
    work = stage.latent_loaded - stage.latent_free
    parts = jnp.broadcast_arrays(tubes, rest, ends, stage.latent_free, work, warming.lost)
    return {
        "heating_course_time": jnp.concatenate(
            [jnp.zeros((*shape, 1)), *(course[0] for course in courses)], axis=-1
        ),
        "heating_course_temperature": jnp.concatenate(
            [begin[..., None], *(course[1] for course in courses)], axis=-1
        ),
        "heating_stage_time": jnp.stack(stages, axis=-1),
        "stroke_heat": stage.tube_count[:, None] * jnp.stack(parts, axis=-1),
        "stroke_heat_given": stage.tube_count * power * warming.times[-1],
    }


def _cooling_course(
    stage: Stage, start: Array, finish: Array, cool_time: Array, legs: Legs
) -> dict[str, Array]:
    """Course of the cooling of each set in each leg: to Ms', then to Mf'."""
    bay, hot = stage.bay, stage.phases.hot
    sensible, _ = cooling_time(
        hardware=stage.hardware,
        latent=jnp.zeros(()),
        hot_temperature=hot,
        cooling_start=start,
        cooling_finish=start,
        bay=bay,
        speed=blown_speed(legs, stage.choices)[:, None],
    )
    zero = jnp.zeros_like(cool_time)
    first = stretch_course(Stretch(zero, sensible, jnp.maximum(hot, start), start, bay.hot))
    second = stretch_course(Stretch(sensible, cool_time, start, finish, bay.hot))
    return {
        "cooling_course_time": jnp.concatenate([first[0], second[0]], axis=-1),
        "cooling_course_temperature": jnp.concatenate([first[1], second[1]], axis=-1),
    }
