"""Discipline entry `mass`: every line of the aircraft's fold actuation, with growth per line.

The lines of a wing are counted twice, those of the one assembly on a bench once; controller,
converters and battery are shared. Hinge, wing structure and fairing are common to every concept and
are not in it.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.bundle.assumptions import BundleAssumptions
from mdo.disciplines.bundle.transmission import GEARED
from mdo.disciplines.mass.assumptions import MassAssumptions
from mdo.disciplines.mass.growth import growth_rates
from mdo.disciplines.mass.mechanism import (
    brake_mass,
    fastener_mass,
    gear_mass,
    held_by_brake,
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
    Alloy,
    Choices,
    Legs,
    Planform,
    Requirements,
    Statics,
    Vehicle,
    real_legs,
)
from mdo.disciplines.smooth import blended_max, smooth_max
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


def _tube_mass(
    section: torsion.Section, length: Array, alloy: Alloy, bundle: BundleAssumptions
) -> Array:
    """Mass of one tube with its grips and cold ends [kg]."""
    diameter = 2.0 * section.outer_radius
    ends = jnp.asarray(bundle.grip_length_ratio) + bundle.cold_end_length_ratio
    return tube_mass(
        density=alloy.density,
        outer_diameter=diameter,
        inner_diameter=2.0 * section.inner_radius,
        tube_length=length,
        inactive_length=2.0 * diameter * ends,
    )


def _tube_lines(
    counts: Array, tube: Array, fitted: Array, heater: Array, insulation: Array
) -> dict[str, Array]:
    """Lines of the tubes of both sets and of what is on each [kg]."""
    return {
        "tubes, up set": counts[0] * tube,
        "tubes, down set": counts[1] * tube,
        "end fittings and supports": jnp.sum(counts * fitted),
        "heaters": jnp.sum(counts * heater),
        "insulation": jnp.sum(counts * insulation),
    }


def _in_order(lines: dict[str, Array]) -> Array:
    """Lines of a wing in the order of MASS_LINES; zero where not named [kg]."""
    named = [jnp.asarray(lines.get(name, 0.0)) for name in list(MASS_LINES)[:WING_LINES]]
    return jnp.stack(jnp.broadcast_arrays(*named))


def _plates(
    reaction: Array, section: torsion.Section, radius: Array, choices: Choices, a: MassAssumptions
) -> Array:
    """Mass of both plates of a plated bundle [kg]."""
    plate = plate_mass(
        reaction,
        hub_radius=section.outer_radius,
        circle_radius=radius,
        outer_diameter=2.0 * section.outer_radius,
        mass=a,
    )
    return jnp.where(jnp.asarray(choices.topology) == PLATED, 2.0 * plate, 0.0)


def _bearings(lanes: Array, wheel: Array, choices: Choices, a: MassAssumptions) -> Array:
    """Mass of the bearings of the wheels on the hinge line, two of each lane [kg]."""
    bearings = 2.0 * lanes * bearing_mass(wheel, a)
    return jnp.where(jnp.asarray(choices.topology) == GEARED, bearings, 0.0)


def _spring(
    moment: Array, rate: Array, travel: Array, choices: Choices, a: MassAssumptions
) -> Array:
    """Mass of the return spring by its energy at the end of the travel [kg]."""
    energy = spring_energy(moment=moment + rate * travel, rate=rate, travel=travel)
    return jnp.where(jnp.asarray(choices.configuration) == 1, spring_mass(energy, a), 0.0)


class _Housing(NamedTuple):
    """Housing around the bundle: mass [kg], elastic twist at the operating torque [rad]."""

    mass: Array
    windup: Array


def _housing(
    reaction: Array, size: tuple[Array, Array, Array], allowed: ArrayLike, a: MassAssumptions
) -> _Housing:
    """Housing for a torque, of length, width and height [m], within a windup [rad]."""
    length, width, height = size
    girth = 2.0 * (width + height)
    radius = jnp.cbrt(2.0 * (width * height) ** 2 / (jnp.pi * girth))
    wall = housing_wall(reaction, radius=radius, length=length, windup=allowed, mass=a)
    return _Housing(
        mass=housing_mass(wall, girth=girth, length=length, mass=a),
        windup=housing_windup(reaction, wall=wall, radius=radius, length=length, mass=a),
    )


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
    counts = jnp.asarray(choices.set_present) * tube_count
    tube = _tube_mass(section, tube_length, alloy, bundle_assumptions)
    torques = counts * torsion.torque(operating_stress, section)
    reaction = blended_max(torques[0], torques[1], 0.02 * jnp.sum(torques) + 1e-9)
    travel = travel_high - travel_low
    twist = gear_ratio * travel
    size = (bundle_length, bundle_width, bundle_height)
    housing = _housing(reaction, size, requirements.windup_limit * twist, a)
    fitted = fitting_mass_per_tube + support_mass_per_tube
    lines = _tube_lines(counts, tube, fitted, heater_mass_per_tube, insulation_mass_per_tube) | {
        "gears": gear_mass(gear_volume, a),
        "plates": _plates(reaction, section, bundle_radius, choices, a),
        "housing": housing.mass,
        "bearings": _bearings(lanes, 2.0 * gear_ratio * section.outer_radius, choices, a),
        "return spring": _spring(spring_moment, spring_rate, travel, choices, a),
        "sensors": sensor_mass(jnp.sum(counts), a),
        "cooling": blower_mass,
    }
    source = battery_mass + generator_mass
    return WingMass(
        wing_lines=_in_order(lines),
        shared_lines=jnp.stack([wire_mass, controller_mass, converter_mass, source]),
        windup_ratio=housing.windup / twist,
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
    lines = jnp.concatenate([jnp.asarray(choices.assemblies) * wing, shared_lines])
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
