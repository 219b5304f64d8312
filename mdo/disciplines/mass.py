"""Discipline entry `mass`: every line of the aircraft's fold actuation, with growth per line.

The lines of a wing are counted twice; controller, converters and battery are shared. Hinge, wing
structure and fairing are common to every concept and are not in it.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines import tube
from mdo.disciplines.assumptions_bundle import BundleAssumptions
from mdo.disciplines.assumptions_mass import MassAssumptions
from mdo.disciplines.bundle import GEARED
from mdo.disciplines.growth import MassClasses, electronics_growth
from mdo.disciplines.mass_lines import (
    bearing_mass,
    brake_mass,
    fastener_mass,
    gear_mass,
    housing_mass,
    housing_wall,
    housing_windup,
    lock_mass,
    plate_mass,
    sensor_mass,
    spring_energy,
    spring_mass,
    tube_mass,
)
from mdo.disciplines.records import Alloy, Choices, Legs, Planform, Requirements, Vehicle
from mdo.disciplines.smooth import blended_max, smooth_max, softplus

PLATED = 3  # Choices.topology
WINGS = 2.0

# Lines in the order of the arrays, and the growth class of each.
MASS_LINES: dict[str, str] = {
    "tubes, up set": "mechanisms",
    "tubes, down set": "mechanisms",
    "end fittings and supports": "mechanisms",
    "heaters": "thermal",
    "insulation": "thermal",
    "gears": "mechanisms",
    "plates": "structure",
    "housing": "structure",
    "bearings": "mechanisms",
    "return spring": "mechanisms",
    "lock": "mechanisms",
    "brake": "mechanisms",
    "sensors": "instrumentation",
    "cooling": "thermal",
    "fasteners, brackets, seals": "brackets",
    "harness": "harness",
    "controller": "electronics",
    "power conversion": "electronics",
    "battery or generator share": "battery",
}


class Mass(NamedTuple):
    """Masses of the AIRCRAFT (both wings) [kg]; wind-up of one wing."""

    mass_lines: Array
    mass_growth: Array
    system_mass: Array
    system_mass_basic: Array
    alloy_mass: Array
    closed_vehicle_mass: Array
    windup_ratio: Array


class WingLines(NamedTuple):
    """Basic masses of one wing [kg], in the order of the first fifteen of MASS_LINES."""

    tubes_up: Array
    tubes_down: Array
    fittings: Array
    heaters: Array
    insulation: Array
    gears: Array
    plates: Array
    housing: Array
    bearings: Array
    spring: Array
    lock: Array
    brake: Array
    sensors: Array
    cooling: Array
    fasteners: Array


def held_by_brake(
    overrun_moment: Array, legs: Legs, choices: Choices, requirements: Requirements
) -> Array:
    """Moment that the brake must hold at one hinge [N*m]; 0 without a brake.

    The overrunning load of all moving legs with its factor; smooth maximum, never low.
    """
    moving = (jnp.asarray(legs.moves) > 0.5)[:, None]
    scale = jnp.mean(jnp.abs(overrun_moment)) + 1.0
    assisting = jnp.where(moving, -overrun_moment, -1e9).ravel()
    largest = softplus(smooth_max(assisting, scale=scale, axis=0), 0.01 * scale)
    return jnp.asarray(choices.brake) * requirements.overrun_factor * largest


def growth_rates(electronics: Array, a: MassAssumptions) -> list[Array]:
    """Growth fraction of every line, by its class."""
    rates = {
        name: jnp.asarray(getattr(a, f"growth_{name}"))
        for name in MassClasses._fields
        if name != "electronics"
    }
    rates["electronics"] = electronics_growth(electronics, a)
    return [rates[name] for name in MASS_LINES.values()]


def mass(
    *,
    tube_outer_radius: Array,
    wall_ratio: Array,
    tube_length: Array,
    tube_count: Array,
    operating_stress: Array,
    gear_ratio: Array,
    spring_moment: Array,
    spring_rate: Array,
    travel_low: Array,
    travel_high: Array,
    gear_volume: Array,
    lanes: Array,
    bundle_radius: Array,
    bundle_height: Array,
    bundle_width: Array,
    bundle_length: Array,
    fitting_mass_per_tube: Array,
    support_mass_per_tube: Array,
    heater_mass_per_tube: Array,
    insulation_mass_per_tube: Array,
    blower_mass: Array,
    lock_moment: Array,
    overrun_moment: Array,
    wire_mass: Array,
    controller_mass: Array,
    converter_mass: Array,
    battery_mass: Array,
    generator_mass: Array,
    planform: Planform,
    vehicle: Vehicle,
    choices: Choices,
    legs: Legs,
    alloy: Alloy,
    requirements: Requirements,
    mass_assumptions: MassAssumptions,
    bundle_assumptions: BundleAssumptions,
) -> Mass:
    """Roll up the mass of the aircraft's fold actuation.

    Arguments are outputs of the other disciplines under their own names (:mod:`mdo.quantities`);
    tubes, gears, lock and bundle are those of one wing; wire, controller, converter, battery and
    generator share those of the aircraft.

    Returns
    -------
    Mass : lines and growth in the order of MASS_LINES [kg]; ``closed_vehicle_mass`` closes the loop
        on the vehicle's mass; ``windup_ratio`` is the elastic twist of the housing at the operating
        torque over the tube twist of the travel. The housing is the round tube of the torsional
        stiffness of the box around the bundle (4 A^2 t/P)
    """
    a = mass_assumptions
    section = tube.section(tube_outer_radius, wall_ratio)
    diameter = 2.0 * section.outer_radius
    counts = jnp.asarray(choices.set_present) * tube_count
    total = jnp.sum(counts)
    inactive = (
        2.0
        * diameter
        * (
            jnp.asarray(bundle_assumptions.grip_length_ratio)
            + bundle_assumptions.cold_end_length_ratio
        )
    )
    one_tube = tube_mass(
        density=alloy.density,
        outer_diameter=diameter,
        inner_diameter=2.0 * section.inner_radius,
        tube_length=tube_length,
        inactive_length=inactive,
    )
    torques = counts * tube.torque(operating_stress, section)
    reaction = blended_max(torques[0], torques[1], 0.02 * jnp.sum(torques) + 1e-9)
    geared = jnp.asarray(choices.topology) == GEARED
    plated = jnp.asarray(choices.topology) == PLATED
    gears = gear_mass(gear_volume, a)
    plates = 2.0 * plate_mass(
        reaction,
        hub_radius=section.outer_radius,
        circle_radius=bundle_radius,
        outer_diameter=diameter,
        mass=a,
    )
    hinge_bearings = 2.0 * lanes * bearing_mass(gear_ratio * diameter, a)
    sprung = jnp.asarray(choices.configuration) == 1
    energy = spring_energy(
        moment=spring_moment + spring_rate * (travel_high - travel_low),
        rate=spring_rate,
        travel=travel_high - travel_low,
    )
    enclosed, girth = bundle_width * bundle_height, 2.0 * (bundle_width + bundle_height)
    twist = gear_ratio * (travel_high - travel_low)
    radius = jnp.cbrt(2.0 * enclosed**2 / (jnp.pi * girth))
    wall = housing_wall(
        reaction,
        radius=radius,
        length=bundle_length,
        windup=requirements.windup_limit * twist,
        mass=a,
    )
    windup = housing_windup(reaction, wall=wall, radius=radius, length=bundle_length, mass=a)
    lock_scale = jnp.mean(jnp.abs(lock_moment)) + 1.0
    held = {
        "tubes_up": counts[0] * one_tube,
        "tubes_down": counts[1] * one_tube,
        "fittings": jnp.sum(counts * (fitting_mass_per_tube + support_mass_per_tube)),
        "heaters": jnp.sum(counts * heater_mass_per_tube),
        "insulation": jnp.sum(counts * insulation_mass_per_tube),
        "gears": gears,
        "plates": jnp.where(plated, plates, 0.0),
        "housing": housing_mass(wall, girth=girth, length=bundle_length, mass=a),
        "bearings": jnp.where(geared, hinge_bearings, 0.0),
        "spring": jnp.where(sprung, spring_mass(energy, a), 0.0),
        "lock": lock_mass(
            smooth_max(lock_moment, scale=lock_scale, axis=0),
            local_thickness=planform.fold_thickness,
            mass=a,
        ),
        "brake": brake_mass(held_by_brake(overrun_moment, legs, choices, requirements), a),
        "sensors": sensor_mass(total, a),
        "cooling": blower_mass + 0.0 * total,
    }
    wing = WingLines(**held, fasteners=fastener_mass(sum(held.values()), a))
    shared = [wire_mass, controller_mass, converter_mass, battery_mass + generator_mass]
    lines = jnp.stack([*(WINGS * line for line in wing), *shared])
    growth = lines * jnp.stack(growth_rates(controller_mass + converter_mass, a))
    system = jnp.sum(lines) + jnp.sum(growth)
    return Mass(
        mass_lines=lines,
        mass_growth=growth,
        system_mass=system,
        system_mass_basic=jnp.sum(lines),
        alloy_mass=WINGS * (wing.tubes_up + wing.tubes_down),
        closed_vehicle_mass=jnp.asarray(vehicle.mass_without_actuator) + system,
        windup_ratio=windup / twist,
    )
