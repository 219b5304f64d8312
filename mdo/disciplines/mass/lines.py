"""Lines of the mass roll-up: one pure function per line, basic mass without growth.

Every line is for ONE wing unless its docstring says aircraft. Sources: thermal-power-mass note,
section 4.1 (item numbers given); its judgements are fields of MassAssumptions.
"""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.bundle.gears import spline_length, wall_for_torsion
from mdo.disciplines.mass.assumptions import MassAssumptions
from mdo.disciplines.smooth import blended_max, smooth_step


def ring_area(outer_diameter: ArrayLike, inner_diameter: ArrayLike) -> Array:
    """Area of a ring [m**2] from its diameters [m]."""
    return jnp.pi / 4.0 * (jnp.asarray(outer_diameter) ** 2 - jnp.asarray(inner_diameter) ** 2)


def tube_mass(
    *,
    density: ArrayLike,
    outer_diameter: ArrayLike,
    inner_diameter: ArrayLike,
    tube_length: ArrayLike,
    inactive_length: ArrayLike,
) -> Array:
    """Mass of one alloy tube with its grips [kg] (item 1): ``rho A (L + L_inactive)``.

    Parameters
    ----------
    density : of the alloy [kg/m**3]
    outer_diameter, inner_diameter : [m], any shape
    tube_length : active length [m]
    inactive_length : both grips and cold ends together [m]
    """
    length = jnp.asarray(tube_length) + inactive_length
    return jnp.asarray(density) * ring_area(outer_diameter, inner_diameter) * length


def energy_mass_bound(
    *,
    moment: ArrayLike,
    travel: ArrayLike,
    stress: ArrayLike,
    strain: ArrayLike,
    density: ArrayLike,
) -> Array:
    """Least tube mass by energy [kg] (item 1): ``rho T theta/(tau gamma)``, thin wall.

    Parameters
    ----------
    moment : peak hinge moment [N*m], any shape
    travel : fold angle moved [rad]
    stress, strain : shear stress [Pa] and actuation shear strain [1], both > 0
    density : of the alloy [kg/m**3]
    """
    work = jnp.asarray(moment) * travel
    return work * density / (jnp.asarray(stress) * strain)


def end_fitting_mass(
    tube_torque: ArrayLike,
    *,
    outer_diameter: ArrayLike,
    inner_diameter: ArrayLike,
    mass: MassAssumptions,
) -> Array:
    """Mass of one splined end fitting of one tube [kg] (item 2).

    ``1.3 rho_f (pi/4)((1.5 OD)^2 - ID^2) L_s``, L_s by spline bearing.

    Parameters
    ----------
    tube_torque : greatest torque of one tube [N*m] >= 0, any shape
    outer_diameter, inner_diameter : of the tube [m]
    mass : assumptions
    """
    outer = jnp.asarray(outer_diameter)
    length = spline_length(
        tube_torque,
        mean_diameter=outer,
        tooth_height=mass.spline_height_ratio * outer,
        teeth=mass.spline_teeth,
        share=mass.spline_share,
        bearing_allowable=mass.spline_bearing_allowable,
    )
    area = ring_area(mass.fitting_outer_ratio * outer, inner_diameter)
    return jnp.asarray(mass.fitting_factor * mass.fitting_density * area * length)


def mid_support_mass(
    fitting_mass: ArrayLike, *, length_to_diameter: ArrayLike, mass: MassAssumptions
) -> Array:
    """Mass of the support at mid-span of one slender tube [kg] (item 2).

    A share of one end fitting, brought in by a smooth step over a tenth of the slenderness limit.

    Parameters
    ----------
    fitting_mass : of one end fitting [kg], any shape
    length_to_diameter : L/OD of the tube [1]
    mass : assumptions
    """
    limit = jnp.asarray(mass.support_slenderness)
    step = smooth_step((jnp.asarray(length_to_diameter) - 0.95 * limit) / (0.1 * limit))
    return jnp.asarray(fitting_mass) * mass.support_share * step


def gear_mass(rotor_volume: ArrayLike, mass: MassAssumptions) -> Array:
    """Mass of a gear stage, its bearings and case included [kg] (item 6): ``c_app sum(F d^2)``.

    Parameters
    ----------
    rotor_volume : solid-rotor volume of the stage [m**3], any shape
    mass : assumptions
    """
    return jnp.asarray(rotor_volume) * mass.gear_application_density


def plate_mass(
    moment: ArrayLike,
    *,
    hub_radius: ArrayLike,
    circle_radius: ArrayLike,
    outer_diameter: ArrayLike,
    mass: MassAssumptions,
) -> Array:
    """Mass of one end plate of a plated bundle [kg] (item 5).

    Thickness by shear at the hub (at least 2 mm, blended over 0.2 mm), radius out to the edge
    distance of two diameters beyond the tube axes, half solid.

    Parameters
    ----------
    moment : torque that the plate carries [N*m] >= 0, any shape
    hub_radius : radius at which the plate is sheared off its hub [m] > 0
    circle_radius : radius of the tube axes [m]
    outer_diameter : of the tubes [m]
    mass : assumptions
    """
    shear = wall_for_torsion(
        moment, radius=hub_radius, shear_allowable=mass.structure_shear_allowable
    )
    floor = jnp.asarray(mass.plate_thickness_min)
    thickness = blended_max(shear, floor, 0.1 * floor)
    radius = jnp.asarray(circle_radius) + mass.plate_edge_ratio * jnp.asarray(outer_diameter)
    return jnp.asarray(mass.structure_density * thickness * jnp.pi * radius**2 * mass.plate_fill)


def housing_wall(
    moment: ArrayLike,
    *,
    radius: ArrayLike,
    length: ArrayLike,
    windup: ArrayLike,
    mass: MassAssumptions,
) -> Array:
    """Wall of the housing in torsion [m] (item 7): strength, stiffness, at least 1.2 mm.

    ``T/(2 pi R^2 tau)``, ``T L/(2 pi R^3 G psi)`` and the least wall; the larger of each two is
    blended over a tenth of the least wall.

    Parameters
    ----------
    moment : torque that the housing carries [N*m] >= 0, any shape
    radius : radius of the round tube of equal torsional stiffness [m] > 0
    length : [m]
    windup : psi, elastic twist allowed [rad] > 0
    mass : assumptions
    """
    strength = wall_for_torsion(
        moment, radius=radius, shear_allowable=mass.structure_shear_allowable
    )
    stiffness = (
        jnp.asarray(moment)
        * length
        / (mass.structure_shear_modulus * 2.0 * jnp.pi * jnp.asarray(radius) ** 3 * windup)
    )
    floor = jnp.asarray(mass.housing_thickness_min)
    blend = 0.1 * floor
    return blended_max(blended_max(strength, stiffness, blend), floor, blend)


def housing_mass(
    wall: ArrayLike, *, girth: ArrayLike, length: ArrayLike, mass: MassAssumptions
) -> Array:
    """Mass of the housing [kg] (item 7): ``rho girth t L x 1.4 x 1.25`` (fittings, flanges).

    Parameters
    ----------
    wall : t [m], any shape
    girth : around the bundle [m]
    length : [m]
    mass : assumptions
    """
    shell = jnp.asarray(mass.structure_density) * girth * wall * length
    return shell * mass.housing_fitting_factor * mass.housing_flange_factor


def housing_windup(
    moment: ArrayLike,
    *,
    wall: ArrayLike,
    radius: ArrayLike,
    length: ArrayLike,
    mass: MassAssumptions,
) -> Array:
    """Elastic twist of the housing under a moment [rad]: ``T L/(G 2 pi R^3 t)`` (thin tube).

    Parameters
    ----------
    moment, radius, length, mass : as for :func:`housing_wall`
    wall : t [m]
    """
    stiffness = mass.structure_shear_modulus * 2.0 * jnp.pi * jnp.asarray(radius) ** 3 * wall
    return jnp.asarray(moment) * length / stiffness


def bearing_mass(mean_diameter: ArrayLike, mass: MassAssumptions) -> Array:
    """Mass of one thin-section bearing [kg] (item 8): ``0.6 rho pi D_m b^2``.

    Parameters
    ----------
    mean_diameter : D_m [m] >= 0, any shape
    mass : assumptions; b is a ratio of D_m
    """
    section = mass.bearing_section_ratio * jnp.asarray(mean_diameter)
    density = jnp.asarray(mass.bearing_form) * mass.bearing_density
    return density * jnp.pi * mean_diameter * section**2


def lock_mass(
    ultimate_moment: ArrayLike, *, local_thickness: ArrayLike, mass: MassAssumptions
) -> Array:
    """Mass of the positive lock of one hinge [kg] (item 10), actuator and baseline alike.

    Pin area ``F/(n tau)`` with ``F = M/arm``, pin length a multiple of its diameter, mechanism a
    multiple of the pin, plus a fixed part; so it rises with M to the power 1.5.

    Parameters
    ----------
    ultimate_moment : ultimate hinge moment that is locked [N*m], any shape; sign is ignored
    local_thickness : wing thickness at the fold [m] > 0
    mass : assumptions
    """
    force = jnp.abs(ultimate_moment) / (mass.lock_arm_ratio * jnp.asarray(local_thickness))
    area = force / (jnp.asarray(mass.lock_pin_planes) * mass.lock_pin_shear_allowable)
    # a tiny area keeps the gradient of the root finite at zero moment
    diameter = jnp.sqrt(4.0 / jnp.pi * (area + 1e-12))
    pin = mass.lock_pin_density * area * mass.lock_pin_slenderness * diameter
    return jnp.asarray(mass.lock_mass_fixed + mass.lock_factor * pin)


def brake_mass(hold_moment: ArrayLike, mass: MassAssumptions) -> Array:
    """Mass of a power-off brake on the low-torque side [kg] (item 10): ``|M|/(n_b TD_b)``.

    Parameters
    ----------
    hold_moment : moment held at the hinge [N*m], any shape; sign is ignored
    mass : assumptions
    """
    return jnp.abs(hold_moment) / (jnp.asarray(mass.brake_speed_ratio) * mass.brake_torque_density)


def sensor_mass(tube_count: ArrayLike, mass: MassAssumptions) -> Array:
    """Mass of the sensors of one hinge [kg] (item 11): angle, end switches, temperatures.

    Parameters
    ----------
    tube_count : tubes of one wing [1] >= 0, any shape
    mass : assumptions
    """
    hinge = mass.resolver_count * jnp.asarray(mass.resolver_mass) + (
        mass.switch_count * jnp.asarray(mass.switch_mass)
    )
    per_tube = jnp.asarray(mass.thermocouples_per_tube) * mass.thermocouple_mass
    return jnp.asarray(hinge + per_tube * jnp.asarray(tube_count))


def spring_energy(*, moment: ArrayLike, rate: ArrayLike, travel: ArrayLike) -> Array:
    """Elastic energy of a linear spring at its greatest moment [J]: ``M_max^2/(2k)``.

    Parameters
    ----------
    moment : M_max, greatest moment at the hinge over the travel [N*m], any shape
    rate : k at the hinge [N*m/rad] >= 0; held above |M|/(10 travel): a flatter spring is not stored
        in less than ten travels of wind-up
    travel : [rad] > 0
    """
    greatest = jnp.asarray(moment)
    least = jnp.abs(greatest) / (10.0 * jnp.maximum(jnp.asarray(travel), 1e-6))
    stiffness = blended_max(rate, least, 0.1 * least + 1e-9)
    return greatest**2 / (2.0 * stiffness)


def spring_mass(energy: ArrayLike, mass: MassAssumptions) -> Array:
    r"""Mass of a torsion spring by its elastic energy [kg]: ``1.5 rho x 4 G U/tau^2``.

    A solid round bar in torsion holds ``tau^2/(4G)`` per volume (Timoshenko, Strength of Materials,
    from memory).

    Parameters
    ----------
    energy : U, elastic energy at the greatest moment [J] >= 0, any shape
    mass : assumptions
    """
    per_volume = jnp.asarray(mass.spring_shear_allowable) ** 2 / (4.0 * mass.spring_shear_modulus)
    density = jnp.asarray(mass.spring_factor) * mass.spring_density
    return density * jnp.asarray(energy) / per_volume


def fastener_mass(lines: ArrayLike, mass: MassAssumptions) -> Array:
    """Mass of fasteners, brackets and seals [kg] (item 16): 5 % of the lines that they hold."""
    return jnp.asarray(mass.fastener_fraction * jnp.asarray(lines))
