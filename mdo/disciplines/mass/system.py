"""Discipline entry `mass`: every line of the aircraft's fold actuation, with growth per line.

The lines of a wing are counted twice; controller, converters and battery are shared. Hinge, wing
structure and fairing are common to every concept and are not in it.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.bundle.assumptions import BundleAssumptions
from mdo.disciplines.bundle.transmission import GEARED
from mdo.disciplines.mass.assumptions import MassAssumptions
from mdo.disciplines.mass.growth import growth_rates
from mdo.disciplines.mass.mechanism import (
    brake_mass,
    fastener_mass,
    gear_mass,
    lock_mass,
    sensor_mass,
    spring_energy,
    spring_mass,
)
from mdo.disciplines.mass.structure import (
    bearing_mass,
    housing_mass,
    housing_wall,
    housing_windup,
    plate_mass,
)
from mdo.disciplines.mass.tubes import tube_mass
from mdo.disciplines.records import (
    BRAKE,
    FASTENERS,
    LOCK,
    MASS_LINES,
    WING_LINES,
    WINGS,
    Alloy,
    Choices,
    Legs,
    Planform,
    Requirements,
    Statics,
    Vehicle,
    real_legs,
)
from mdo.disciplines.smooth import blended_max, smooth_max, softplus
from mdo.disciplines.tube import torsion

PLATED = 3  # Choices.topology


class WingMass(NamedTuple):
    """Lines that the design alone gives: of one wing (15) and shared by the aircraft (4) [kg].

    Lock, brake and fasteners are zero here: they depend on the vehicle's mass (:func:`mass`);
    ``windup_ratio`` [1].
    """

    wing_lines: Array
    shared_lines: Array
    windup_ratio: Array


class Mass(NamedTuple):
    """Masses of the AIRCRAFT (both wings) [kg]; moment that the brake of one wing holds [N*m]."""

    mass_lines: Array
    mass_growth: Array
    system_mass: Array
    system_mass_basic: Array
    alloy_mass: Array
    closed_vehicle_mass: Array
    brake_moment: Array


def held_by_brake(
    overrun_moment: Array, legs: Legs, choices: Choices, requirements: Requirements
) -> Array:
    """Moment that the brake must hold at one hinge; 0 without a brake.

    Parameters
    ----------
    overrun_moment
        Least resisting moment [N*m], (legs, angles); negative where the load runs over.
    legs, choices, requirements
        Records: moves; brake; overrun_factor.

    Returns
    -------
    Array
        Moment [N*m].

    Notes
    -----
    The overrunning load of all moving legs with its factor; smooth maximum, never low.

    Examples
    --------
    Two legs, the second does not move (hand: 1.25 x 80; the smooth maximum is a little high):

    >>> from types import SimpleNamespace
    >>> held = held_by_brake(jnp.array([[-80.0, 20.0], [-500.0, -500.0]]),
    ...     SimpleNamespace(moves=[1.0, 0.0], filler=0.0), SimpleNamespace(brake=1.0),
    ...     SimpleNamespace(overrun_factor=1.25))
    >>> 100.0 <= float(held) < 100.1
    True

    References
    ----------
    Derived (definition of the brake's load).
    """
    moving = (jnp.asarray(legs.moves) > 0.5)[:, None]
    real = real_legs(legs, overrun_moment)
    scale = jnp.mean(jnp.abs(overrun_moment), where=real) + 1.0
    assisting = jnp.where(moving, -overrun_moment, -1e9).ravel()
    largest = smooth_max(assisting, scale=scale, axis=0, where=real.ravel())
    largest = softplus(largest, 0.01 * scale)
    return jnp.asarray(choices.brake) * requirements.overrun_factor * largest


def wing_mass(
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
    wire_mass: Array,
    controller_mass: Array,
    converter_mass: Array,
    battery_mass: Array,
    generator_mass: Array,
    choices: Choices,
    alloy: Alloy,
    requirements: Requirements,
    mass_assumptions: MassAssumptions,
    bundle_assumptions: BundleAssumptions,
) -> WingMass:
    """Lines of the roll-up that do not depend on the vehicle's mass.

    Tubes, gears and bundle are those of one wing; wire, controller, converter, battery and
    generator share those of the aircraft.

    Parameters
    ----------
    tube_outer_radius, tube_length
        Outer radius and active length of a tube [m].
    wall_ratio
        Wall over outer radius [1].
    tube_count
        Tubes of each set [1], shape (2,).
    operating_stress
        Uniform shear stress of each set [Pa], shape (2,).
    gear_ratio
        Tube twist over fold angle [1].
    spring_moment
        Moment of the return spring at the start of the travel [N*m].
    spring_rate
        Rate of the return spring [N*m/rad].
    travel_low, travel_high
        Ends of the travel [rad].
    gear_volume
        Solid-rotor volume of all gears [m**3].
    lanes
        Gear lanes [1].
    bundle_radius, bundle_height, bundle_width, bundle_length
        Size of the bundle [m].
    fitting_mass_per_tube, support_mass_per_tube, heater_mass_per_tube
        Fittings, mid support and heater of one tube of each set [kg], shape (2,).
    insulation_mass_per_tube
        Sleeve of one tube [kg].
    blower_mass
        Blower of one wing [kg].
    wire_mass, controller_mass, converter_mass, battery_mass, generator_mass
        Lines of the aircraft [kg].
    choices, alloy, requirements, mass_assumptions, bundle_assumptions
        Records.

    Returns
    -------
    WingMass
        Lines in the order of MASS_LINES [kg]; ``windup_ratio`` is the elastic twist of the housing
        at the operating torque over the tube twist of the travel [1].

    Notes
    -----
    The housing is the round tube of the torsional stiffness of the box around the bundle (4 A^2
    t/P).

    References
    ----------
    :mod:`mdo.disciplines.mass.mechanism`.
    """
    a = mass_assumptions
    section = torsion.section(tube_outer_radius, wall_ratio)
    diameter = 2.0 * section.outer_radius
    counts = jnp.asarray(choices.set_present) * tube_count
    total = jnp.sum(counts)
    ends = jnp.asarray(bundle_assumptions.grip_length_ratio)
    one_tube = tube_mass(
        density=alloy.density,
        outer_diameter=diameter,
        inner_diameter=2.0 * section.inner_radius,
        tube_length=tube_length,
        inactive_length=2.0 * diameter * (ends + bundle_assumptions.cold_end_length_ratio),
    )
    torques = counts * torsion.torque(operating_stress, section)
    reaction = blended_max(torques[0], torques[1], 0.02 * jnp.sum(torques) + 1e-9)
    geared = jnp.asarray(choices.topology) == GEARED
    plated = jnp.asarray(choices.topology) == PLATED
    plates = 2.0 * plate_mass(
        reaction,
        hub_radius=section.outer_radius,
        circle_radius=bundle_radius,
        outer_diameter=diameter,
        mass=a,
    )
    travel = travel_high - travel_low
    energy = spring_energy(
        moment=spring_moment + spring_rate * travel, rate=spring_rate, travel=travel
    )
    enclosed, girth = bundle_width * bundle_height, 2.0 * (bundle_width + bundle_height)
    radius = jnp.cbrt(2.0 * enclosed**2 / (jnp.pi * girth))
    wall = housing_wall(
        reaction,
        radius=radius,
        length=bundle_length,
        windup=requirements.windup_limit * gear_ratio * travel,
        mass=a,
    )
    windup = housing_windup(reaction, wall=wall, radius=radius, length=bundle_length, mass=a)
    hinge_bearings = 2.0 * lanes * bearing_mass(gear_ratio * diameter, a)
    sprung = jnp.asarray(choices.configuration) == 1
    nothing = jnp.zeros_like(total)
    lines = {
        "tubes, up set": counts[0] * one_tube,
        "tubes, down set": counts[1] * one_tube,
        "end fittings and supports": jnp.sum(
            counts * (fitting_mass_per_tube + support_mass_per_tube)
        ),
        "heaters": jnp.sum(counts * heater_mass_per_tube),
        "insulation": jnp.sum(counts * insulation_mass_per_tube),
        "gears": gear_mass(gear_volume, a),
        "plates": jnp.where(plated, plates, 0.0),
        "housing": housing_mass(wall, girth=girth, length=bundle_length, mass=a),
        "bearings": jnp.where(geared, hinge_bearings, 0.0),
        "return spring": jnp.where(sprung, spring_mass(energy, a), 0.0),
        "sensors": sensor_mass(total, a),
        "cooling": blower_mass + nothing,
    }
    wing = [lines.get(name, nothing) for name in list(MASS_LINES)[:WING_LINES]]
    shared = [wire_mass, controller_mass, converter_mass, battery_mass + generator_mass]
    return WingMass(
        wing_lines=jnp.stack(wing),
        shared_lines=jnp.stack(shared),
        windup_ratio=windup / (gear_ratio * travel),
    )


def mass(
    *,
    wing_lines: Array,
    shared_lines: Array,
    lock_moment: Array,
    overrun_moment: Array,
    planform: Planform,
    vehicle: Vehicle,
    choices: Choices,
    legs: Legs,
    statics: Statics,
    requirements: Requirements,
    mass_assumptions: MassAssumptions,
) -> Mass:
    r"""Complete the roll-up of the aircraft: lock, brake, fasteners, growth, both wings.

    .. math:: m = \sum_i (1 + g_i) m_i

    Parameters
    ----------
    wing_lines, shared_lines
        From :func:`wing_mass` [kg].
    lock_moment
        Ultimate moment of each static case [N*m], (cases,).
    overrun_moment
        Least resisting moment [N*m], (legs, angles).
    planform, vehicle, choices, legs, statics, requirements, mass_assumptions
        Records.

    Returns
    -------
    Mass
        Lines and growth in the order of MASS_LINES [kg]; ``closed_vehicle_mass`` closes the loop on
        the vehicle's mass [kg].

    References
    ----------
    :mod:`mdo.disciplines.mass.mechanism`, :mod:`mdo.disciplines.mass.growth`.
    """
    a = mass_assumptions
    real = real_legs(statics.state, lock_moment)
    scale = jnp.mean(jnp.abs(lock_moment), where=real) + 1.0
    largest = smooth_max(lock_moment, scale=scale, axis=0, where=real)
    locked = lock_mass(largest, local_thickness=planform.fold_thickness, mass=a)
    held = held_by_brake(overrun_moment, legs, choices, requirements)
    braked = brake_mass(held, a)
    wing = jnp.asarray(wing_lines).at[LOCK].set(locked).at[BRAKE].set(braked)
    wing = wing.at[FASTENERS].set(fastener_mass(jnp.sum(wing), a))
    lines = jnp.concatenate([WINGS * wing, shared_lines])
    growth = lines * growth_rates(MASS_LINES.values(), shared_lines[1] + shared_lines[2], a)
    system = jnp.sum(lines) + jnp.sum(growth)
    return Mass(
        mass_lines=lines,
        mass_growth=growth,
        system_mass=system,
        system_mass_basic=jnp.sum(lines),
        alloy_mass=lines[0] + lines[1],
        closed_vehicle_mass=jnp.asarray(vehicle.mass_without_actuator) + system,
        brake_moment=held,
    )
