"""Level `balance` of the heat, for the report: courses in time, ledger, heaters stuck on."""

from __future__ import annotations

from typing import Any, NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.atmosphere import STANDARD_GRAVITY
from mdo.disciplines.heat.assumptions import ThermalAssumptions
from mdo.disciplines.heat.convection import air_film
from mdo.disciplines.heat.energy_balance import REACH, segment_loss, segment_time
from mdo.disciplines.heat.hardware import TubeHardware, heating_spans, tube_hardware
from mdo.disciplines.heat.heater import line_power_ratios
from mdo.disciplines.heat.latent import latent_heat_under_stress
from mdo.disciplines.heat.record import HeatAnswer
from mdo.disciplines.heat.strokes import Bay, cooling_time, still_losses
from mdo.disciplines.heat.stuck_on import runaway_time, temperature_for_structure
from mdo.disciplines.heat.surroundings import adjacent_temperature
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
    """Times [s] and temperatures [K] of a stretch, a last axis of POINTS.

    The exponential of the lumped balance towards ``settles``; straight where the end is not within
    reach of it, as in :func:`mdo.disciplines.heat.energy_balance.segment_time`.
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
    tube_outer_radius, tube_length, insulation_thickness : [m]; wall_ratio t/ro
    tube_count, operating_stress [Pa], heater_power [W] : per set, (2,)
    hot_temperature : [K]
    heating_start, heating_finish, hold_temperature : [K], (2,); heated_fraction [1], (2,)
    cooling_start, cooling_finish : Ms', Mf' at the smallest return stress [K], (2,)
    cool_time : [s], (legs, 2)
    stuck_on_temperature : [K], (legs, 2); sheath_temperature (2,), sheath_temperature_limit [K]
    fitting_mass_per_tube : [kg], (2,); radiation_exposure, convection_exposure [1]
    air_pressure [Pa], bay_cold_temperature, bay_hot_temperature [K] : (legs,)
    legs, alloy, vehicle, choices, supply, requirements, thermal_assumptions : records
    """
    assumed = thermal_assumptions
    count = jnp.where(tube_count > 0.0, tube_count, 1.0)
    low_line, high_line = line_power_ratios(supply)
    power_low = heater_power / count * low_line * (1.0 - assumed.heater_tolerance_low)
    power_high = heater_power / count * high_line * (1.0 + assumed.heater_tolerance_high)
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
    bay = Bay(*(v[:, None] for v in (bay_cold_temperature, bay_hot_temperature, air_pressure)))
    heating = _heating(
        hardware=hardware,
        bay=bay,
        power=power_low,
        dead_time=jnp.asarray(requirements.dead_time),
        phases=(heating_start, heating_finish, hot_temperature, hold_temperature),
        latent_free=hardware.tube_mass * jnp.asarray(alloy.latent_heat) * heated_fraction,
        latent_loaded=hardware.tube_mass
        * heated_fraction
        * latent_heat_under_stress(operating_stress, alloy),
    )
    fittings = fitting_mass_per_tube * assumed.fitting_specific_heat * assumed.fitting_soak_heating
    tubes = hardware.tube_mass * alloy.specific_heat * heating.warmed
    ends = fittings * heating.warmed
    rest = hardware.capacity_heating * heating.warmed - tubes - ends
    parts = jnp.stack(
        jnp.broadcast_arrays(tubes, rest, ends, heating.free, heating.work, heating.lost), axis=-1
    )
    cooled = _cooling_course(
        hardware=hardware,
        bay=bay,
        phases=(cooling_start, cooling_finish, hot_temperature),
        cool_time=cool_time,
        speed=_blown_speed(legs, choices)[:, None],
    )
    stuck = _stuck_on(
        hardware=hardware,
        bay=bay,
        power=power_high,
        hot_temperature=hot_temperature,
        ends_at=stuck_on_temperature,
        above=sheath_temperature - hot_temperature,
        limits=(
            jnp.asarray(alloy.temperature_max),
            sheath_temperature_limit,
            jnp.asarray(vehicle.adjacent_temperature_limit),
        ),
        beside=(vehicle, choices, assumed),
    )
    stored = hardware.tube_mass * alloy.specific_heat
    stored *= jnp.maximum(alloy.temperature_max - hot_temperature, 0.0)
    rayleigh, peclet = _air_numbers(
        film=(hot_temperature + bay_cold_temperature) / 2.0,
        excess=hot_temperature - bay_cold_temperature,
        pressure=air_pressure,
        diameter=2.0 * (tube_outer_radius + insulation_thickness),
        speed=_blown_speed(legs, choices),
    )
    return HeatAnswer(
        heating_course_time=heating.time,
        heating_course_temperature=heating.temperature,
        heating_stage_time=heating.stages,
        cooling_course_time=cooled[0],
        cooling_course_temperature=cooled[1],
        stroke_heat=tube_count[:, None] * parts,
        stroke_heat_given=tube_count * heating.given,
        stuck_on_structure_temperature=stuck[0],
        stuck_on_heater_temperature=stuck_on_temperature + sheath_temperature - hot_temperature,
        stuck_on_time=stuck[1],
        stuck_on_earliest=jnp.broadcast_to(
            stored / jnp.maximum(power_high, 1e-9), stuck_on_temperature.shape
        ),
        rayleigh_number=rayleigh,
        peclet_number=peclet,
    )


class _HeatingCourse(NamedTuple):
    """Heating of one tube of each set in each leg: course, stages, and the heat of its parts."""

    time: Array
    temperature: Array
    stages: Array
    warmed: Array
    free: Array
    work: Array
    lost: Array
    given: Array


def _heating(
    *,
    hardware: TubeHardware,
    bay: Bay,
    power: Array,
    dead_time: Array,
    phases: tuple[Array, Array, Array, Array],
    latent_free: Array,
    latent_loaded: Array,
) -> _HeatingCourse:
    """Three stretches of heating from the cold bay, one after the other."""
    start, finish, hot, holding = phases
    spans = heating_spans(
        start=bay.cold, heating_start=start, heating_finish=finish, hot_temperature=hot
    )
    losses = still_losses(spans, holding, hot, bay, hardware)
    capacity = hardware.capacity_heating
    shape = jnp.broadcast_shapes(spans.sensible.shape, bay.cold.shape)
    time, temperature = jnp.broadcast_to(dead_time, shape), jnp.broadcast_to(bay.cold, shape)
    times, temperatures = [jnp.zeros((*shape, 1))], [temperature[..., None]]
    stages, lost, nothing = [time], jnp.zeros(shape), jnp.zeros(())
    for span, conductance, latent in zip(
        spans, losses.stretches, (nothing, latent_loaded, nothing), strict=True
    ):
        heat = capacity * span + latent
        last = temperature + span
        took = segment_time(
            heat=heat,
            conductance=conductance,
            span=span,
            reach=power / conductance - (last - bay.cold),
        )
        lost += segment_loss(
            time=took,
            heat=heat,
            conductance=conductance,
            span=span,
            excess=temperature - bay.cold,
            power=power,
        )
        settles = bay.cold + power / conductance
        course = stretch_course(Stretch(time, time + took, temperature, last, settles))
        times.append(course[0])
        temperatures.append(course[1])
        time, temperature = time + took, last
        stages.append(time)
    return _HeatingCourse(
        time=jnp.concatenate(times, axis=-1),
        temperature=jnp.concatenate(temperatures, axis=-1),
        stages=jnp.stack(stages, axis=-1),
        warmed=temperature - bay.cold,
        free=latent_free,
        work=latent_loaded - latent_free,
        lost=lost,
        given=power * (time - dead_time),
    )


def _cooling_course(
    *,
    hardware: TubeHardware,
    bay: Bay,
    phases: tuple[Array, Array, Array],
    cool_time: Array,
    speed: Array,
) -> tuple[Array, Array]:
    """Course of the cooling of each set in each leg: to Ms', then to Mf'."""
    start, finish, hot = phases
    sensible = cooling_time(
        hardware=hardware,
        latent=jnp.zeros(()),
        hot_temperature=hot,
        cooling_start=start,
        cooling_finish=start,
        bay=bay,
        speed=speed,
    )
    zero = jnp.zeros_like(cool_time)
    first = stretch_course(Stretch(zero, sensible, jnp.maximum(hot, start), start, bay.hot))
    second = stretch_course(Stretch(sensible, cool_time, start, finish, bay.hot))
    return (
        jnp.concatenate([first[0], second[0]], axis=-1),
        jnp.concatenate([first[1], second[1]], axis=-1),
    )


def _stuck_on(
    *,
    hardware: TubeHardware,
    bay: Bay,
    power: Array,
    hot_temperature: Array,
    ends_at: Array,
    above: Array,
    limits: tuple[Array, Array, Array],
    beside: tuple[Vehicle, Choices, ThermalAssumptions],
) -> tuple[Array, Array]:
    """Structure beside a tube that runs away [K], and times to the limits [s].

    The heater is above its tube by the difference at the hot temperature, the structure is steady:
    both on the safe side.
    """
    vehicle, choices, assumed = beside

    def structure(surface: Array) -> Array:
        return adjacent_temperature(
            surface_temperature=surface,
            bay_temperature=bay.hot,
            pressure=bay.pressure,
            gap=jnp.asarray(vehicle.structure_gap),
            emissivity=jnp.asarray(choices.emissivity),
            assumed=assumed,
        )

    alloy, heater, adjacent = limits
    reached = temperature_for_structure(
        structure, adjacent, low=hot_temperature, high=ends_at, hardware=hardware, bay=bay
    )
    never = jnp.isinf(reached)
    known: dict[str, Any] = {
        "hot_temperature": hot_temperature,
        "power": power,
        "hardware": hardware,
        "bay": bay,
    }
    to_structure = runaway_time(jnp.where(never, hot_temperature, reached), **known)
    times = [
        runaway_time(jnp.broadcast_to(alloy, ends_at.shape), **known),
        runaway_time(jnp.broadcast_to(heater - above, ends_at.shape), **known),
        jnp.where(never, jnp.inf, to_structure),
    ]
    return structure(ends_at), jnp.stack(times, axis=-1)


def _blown_speed(legs: Legs, choices: Choices) -> Array:
    """Speed of the air that a blower drives over the tubes in each leg [m/s]."""
    return jnp.where(jnp.asarray(choices.cooling) > 0.5, jnp.asarray(legs.bay_air_speed), 0.0)


def _air_numbers(
    *, film: Array, excess: Array, pressure: Array, diameter: Array, speed: Array
) -> tuple[Array, Array]:
    """Rayleigh number, and Reynolds times Prandtl number of blown air, of a tube in each leg."""
    air = air_film(film, pressure)
    kinematic = air.viscosity / air.density
    rayleigh = STANDARD_GRAVITY * excess * diameter**3 * air.prandtl / (film * kinematic**2)
    peclet = speed * diameter / kinematic * air.prandtl
    return rayleigh, jnp.where(speed > 0.0, peclet, jnp.inf)
