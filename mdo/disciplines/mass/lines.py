"""Lines of the mass roll-up: one pure function per line, basic mass without growth.

Every line is for ONE wing unless its docstring says aircraft; judgements are fields of
MassAssumptions.
"""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.bundle.gears import spline_length, wall_for_torsion
from mdo.disciplines.mass.assumptions import MassAssumptions
from mdo.disciplines.smooth import blended_max, smooth_step


def ring_area(outer_diameter: ArrayLike, inner_diameter: ArrayLike) -> Array:
    r"""Area of a ring.

    .. math:: \tfrac\pi4 (D^2 - d^2)

    Parameters
    ----------
    outer_diameter, inner_diameter
        D and d [m], any shape.

    Returns
    -------
    Array
        Area [m**2].

    Examples
    --------
    Hand: 20 pi mm2.

    >>> float(ring_area(0.012, 0.008)) * 1e6
    62.8319

    References
    ----------
    Derived.
    """
    return jnp.pi / 4.0 * (jnp.asarray(outer_diameter) ** 2 - jnp.asarray(inner_diameter) ** 2)


def tube_mass(
    *,
    density: ArrayLike,
    outer_diameter: ArrayLike,
    inner_diameter: ArrayLike,
    tube_length: ArrayLike,
    inactive_length: ArrayLike,
) -> Array:
    r"""Mass of one alloy tube with its grips.

    .. math:: m = \rho A (L + L_g)

    Parameters
    ----------
    density
        Density of the alloy :math:`\rho` [kg/m**3].
    outer_diameter, inner_diameter
        Diameters [m], any shape.
    tube_length
        Active length L [m].
    inactive_length
        Both grips and cold ends together :math:`L_g` [m].

    Returns
    -------
    Array
        Mass [kg].

    Examples
    --------
    12 over 8 mm, 300 mm at 6450 kg/m3 (hand: 0.12158 kg):

    >>> float(tube_mass(density=6450.0, outer_diameter=0.012, inner_diameter=0.008, tube_length=0.3,
    ...     inactive_length=0.0))
    0.12158

    References
    ----------
    Derived.
    """
    length = jnp.asarray(tube_length) + inactive_length
    return jnp.asarray(density) * ring_area(outer_diameter, inner_diameter) * length


def end_fitting_mass(
    tube_torque: ArrayLike,
    *,
    outer_diameter: ArrayLike,
    inner_diameter: ArrayLike,
    mass: MassAssumptions,
) -> Array:
    r"""Mass of one splined end fitting of one tube.

    .. math:: m = 1.3\,\rho_f\tfrac\pi4\left((1.5\,OD)^2 - ID^2\right) L_s

    Parameters
    ----------
    tube_torque
        Greatest torque of one tube [N*m], not negative, any shape.
    outer_diameter, inner_diameter
        Diameters of the tube [m].
    mass
        Assumptions: the factors 1.3 and 1.5, density, bearing of the spline.

    Returns
    -------
    Array
        Mass [kg].

    Notes
    -----
    The length L_s follows from the bearing pressure of the spline,
    :func:`mdo.disciplines.bundle.gears.spline_length`.

    Examples
    --------
    Spline of 20 mm by 100 N*m, solid tube, 4430 kg/m3 (hand: 1.3 x 4430 x 706.858e-6 x 0.017857):

    >>> from types import SimpleNamespace
    >>> plain = SimpleNamespace(spline_height_ratio=0.05, spline_teeth=16.0, spline_share=0.5,
    ...     spline_bearing_allowable=70e6, fitting_outer_ratio=1.5, fitting_factor=1.3,
    ...     fitting_density=4430.0)
    >>> float(end_fitting_mass(100.0, outer_diameter=0.020, inner_diameter=0.0, mass=plain))
    0.072693

    References
    ----------
    Derived; the factors are judgement.
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
    r"""Mass of the support at mid-span of one slender tube.

    .. math:: m = k\,m_f\,S\left(\frac{L/OD - 0.95\,l}{0.1\,l}\right)

    Parameters
    ----------
    fitting_mass
        Mass of one end fitting :math:`m_f` [kg], any shape.
    length_to_diameter
        L/OD of the tube [1].
    mass
        Assumptions: share k, slenderness limit l.

    Returns
    -------
    Array
        Mass [kg].

    Notes
    -----
    A smooth step over a tenth of the slenderness limit brings it in.

    Examples
    --------
    At the limit half of it stands (hand: 0.1 x 0.5/2):

    >>> from types import SimpleNamespace
    >>> plain = SimpleNamespace(support_slenderness=60.0, support_share=0.5)
    >>> float(mid_support_mass(0.1, length_to_diameter=60.0, mass=plain))
    0.025

    References
    ----------
    Judgement, no source.
    """
    limit = jnp.asarray(mass.support_slenderness)
    step = smooth_step((jnp.asarray(length_to_diameter) - 0.95 * limit) / (0.1 * limit))
    return jnp.asarray(fitting_mass) * mass.support_share * step


def gear_mass(rotor_volume: ArrayLike, mass: MassAssumptions) -> Array:
    r"""Mass of a gear stage, its bearings and case included.

    .. math:: m = c_{app}\sum F d^2

    Parameters
    ----------
    rotor_volume
        Solid-rotor volume of the stage [m**3], any shape.
    mass
        Assumptions: application density.

    Returns
    -------
    Array
        Mass [kg].

    Examples
    --------
    44.44 in3 at 0.25 lb/in3 (6920 kg/m3): 11.1 lb.

    >>> from types import SimpleNamespace
    >>> float(gear_mass(44.444 * 0.0254**3, SimpleNamespace(gear_application_density=6920.0)))
    5.04

    References
    ----------
    Willis 1963, restated in gearbox notes (0.25 lb/in3 in aircraft).
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
    r"""Mass of one end plate of a plated bundle.

    .. math:: m = \rho\,t\,\pi R_p^2 f

    Parameters
    ----------
    moment
        Torque that the plate carries [N*m], not negative, any shape.
    hub_radius
        Radius at which the plate is sheared off its hub [m], above zero.
    circle_radius
        Radius of the tube axes [m].
    outer_diameter
        Outer diameter of the tubes [m].
    mass
        Assumptions.

    Returns
    -------
    Array
        Mass [kg].

    Notes
    -----
    Thickness t by shear at the hub (at least 2 mm, blended over 0.2 mm), radius R_p out to the edge
    distance of two diameters beyond the tube axes, half solid.

    Examples
    --------
    A plate of least thickness (hand: 2800 x 0.002 x pi x 0.1^2 x 0.5):

    >>> from types import SimpleNamespace
    >>> plain = SimpleNamespace(structure_shear_allowable=1e8, plate_thickness_min=0.002,
    ...     plate_edge_ratio=2.0, structure_density=2800.0, plate_fill=0.5)
    >>> float(plate_mass(1.0, hub_radius=0.02, circle_radius=0.06, outer_diameter=0.02, mass=plain))
    0.087965

    References
    ----------
    Derived (shear of an annulus); least thickness, edge and fill are judgement.
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
    r"""Wall of the housing in torsion: strength, stiffness, at least 1.2 mm.

    .. math:: \max\left(\frac{T}{2\pi R^2\tau}, \frac{T L}{2\pi R^3 G\psi}, t_{min}\right)

    Parameters
    ----------
    moment
        Torque T that the housing carries [N*m], not negative, any shape.
    radius
        Radius R of the round tube of equal torsional stiffness [m], above zero.
    length
        Length L [m].
    windup
        Elastic twist allowed :math:`\psi` [rad], above zero.
    mass
        Assumptions.

    Returns
    -------
    Array
        Wall [m].

    Notes
    -----
    The larger of each two is blended over a tenth of the least wall.

    Examples
    --------
    Stiffness decides (hand: 1000 x 1/(2 pi x 1.25e-4 x 26e9 x 0.01) = 4.897 mm):

    >>> from types import SimpleNamespace
    >>> plain = SimpleNamespace(structure_shear_allowable=1e8, structure_shear_modulus=26e9,
    ...     housing_thickness_min=0.0012)
    >>> float(housing_wall(1000.0, radius=0.05, length=1.0, windup=0.01, mass=plain)) * 1e3
    4.897

    References
    ----------
    Bredt 1896 (from memory); the least wall is judgement.
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
    r"""Mass of the housing.

    .. math:: m = 1.4 \times 1.25\,\rho\,g\,t\,L

    Parameters
    ----------
    wall
        t [m], any shape.
    girth
        Around the bundle g [m].
    length
        L [m].
    mass
        Assumptions: density, the factors of fittings and flanges.

    Returns
    -------
    Array
        Mass [kg].

    Examples
    --------
    Hand: 2800 x 0.4 x 0.002 x 0.5 x 1.75.

    >>> from types import SimpleNamespace
    >>> plain = SimpleNamespace(structure_density=2800.0, housing_fitting_factor=1.4,
    ...     housing_flange_factor=1.25)
    >>> float(housing_mass(0.002, girth=0.4, length=0.5, mass=plain))
    1.96

    References
    ----------
    Derived; the factors are judgement.
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
    r"""Elastic twist of the housing under a moment (thin tube).

    .. math:: \psi = T L/(2\pi R^3 t\,G)

    Parameters
    ----------
    moment
        Torque T [N*m], any shape.
    wall
        t [m].
    radius, length
        R and L [m].
    mass
        Assumptions: shear modulus G.

    Returns
    -------
    Array
        Twist [rad].

    Examples
    --------
    The wall above gives back its 0.01 rad:

    >>> from types import SimpleNamespace
    >>> float(housing_windup(1000.0, wall=0.0048971, radius=0.05, length=1.0,
    ...     mass=SimpleNamespace(structure_shear_modulus=26e9)))
    0.0100

    References
    ----------
    Bredt 1896 (from memory).
    """
    stiffness = mass.structure_shear_modulus * 2.0 * jnp.pi * jnp.asarray(radius) ** 3 * wall
    return jnp.asarray(moment) * length / stiffness


def bearing_mass(mean_diameter: ArrayLike, mass: MassAssumptions) -> Array:
    r"""Mass of one thin-section bearing.

    .. math:: m = 0.6\,\rho\,\pi D_m b^2

    Parameters
    ----------
    mean_diameter
        :math:`D_m` [m], not negative, any shape.
    mass
        Assumptions; the width b is a ratio of D_m.

    Returns
    -------
    Array
        Mass [kg].

    Examples
    --------
    100 mm, section of 10 mm, steel (hand: 0.6 x 7850 x pi x 1e-5):

    >>> from types import SimpleNamespace
    >>> steel = SimpleNamespace(bearing_section_ratio=0.1, bearing_form=0.6, bearing_density=7850.0)
    >>> float(bearing_mass(0.1, steel))
    0.147969

    References
    ----------
    Derived (ring); the form 0.6 is judgement.
    """
    section = mass.bearing_section_ratio * jnp.asarray(mean_diameter)
    density = jnp.asarray(mass.bearing_form) * mass.bearing_density
    return density * jnp.pi * mean_diameter * section**2


def lock_mass(
    ultimate_moment: ArrayLike, *, local_thickness: ArrayLike, mass: MassAssumptions
) -> Array:
    r"""Mass of the positive lock of one hinge, actuator and baseline alike.

    .. math:: m = m_0 + k\,\rho\,A\,s\,d, \quad A = F/(n\tau), \quad F = M/(r\,t)

    Parameters
    ----------
    ultimate_moment
        Ultimate hinge moment that is locked M [N*m], any shape; the sign is ignored.
    local_thickness
        Wing thickness at the fold t [m], above zero.
    mass
        Assumptions.

    Returns
    -------
    Array
        Mass [kg].

    Notes
    -----
    Pin length a multiple s of its diameter d, mechanism a multiple k of the pin, plus a fixed part;
    so it rises with M to the power 1.5.

    Examples
    --------
    3000 N*m on 0.1 m, arm 0.6 of it, two planes at 250 MPa: pin of 100 mm2, 11.284 mm (hand):

    >>> from types import SimpleNamespace
    >>> plain = SimpleNamespace(lock_arm_ratio=0.6, lock_pin_planes=2.0, lock_factor=4.0,
    ...     lock_pin_shear_allowable=250e6, lock_pin_density=7850.0, lock_pin_slenderness=3.0,
    ...     lock_mass_fixed=0.1)
    >>> float(lock_mass(3000.0, local_thickness=0.1, mass=plain))
    0.2063

    References
    ----------
    Derived (pin in shear); the factors are judgement.
    """
    force = jnp.abs(ultimate_moment) / (mass.lock_arm_ratio * jnp.asarray(local_thickness))
    area = force / (jnp.asarray(mass.lock_pin_planes) * mass.lock_pin_shear_allowable)
    # a tiny area keeps the gradient of the root finite at zero moment
    diameter = jnp.sqrt(4.0 / jnp.pi * (area + 1e-12))
    pin = mass.lock_pin_density * area * mass.lock_pin_slenderness * diameter
    return jnp.asarray(mass.lock_mass_fixed + mass.lock_factor * pin)


def brake_mass(hold_moment: ArrayLike, mass: MassAssumptions) -> Array:
    r"""Mass of a power-off brake on the low-torque side.

    .. math:: m = |M|/(n_b\,TD_b)

    Parameters
    ----------
    hold_moment
        Moment held at the hinge M [N*m], any shape; the sign is ignored.
    mass
        Assumptions: speed ratio n_b, torque density TD_b.

    Returns
    -------
    Array
        Mass [kg].

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> plain = SimpleNamespace(brake_speed_ratio=50.0, brake_torque_density=4.0)
    >>> float(brake_mass(-400.0, plain))
    2.0

    References
    ----------
    Judgement, no source.
    """
    return jnp.abs(hold_moment) / (jnp.asarray(mass.brake_speed_ratio) * mass.brake_torque_density)


def sensor_mass(tube_count: ArrayLike, mass: MassAssumptions) -> Array:
    """Mass of the sensors of one hinge: angle, end switches, temperatures.

    Parameters
    ----------
    tube_count
        Tubes of one wing [1], not negative, any shape.
    mass
        Assumptions.

    Returns
    -------
    Array
        Mass [kg].

    Examples
    --------
    Two resolvers of 0.1, four switches of 0.03, two thermocouples of 5 g on each of 10 tubes
    (hand):

    >>> from types import SimpleNamespace
    >>> plain = SimpleNamespace(resolver_count=2.0, resolver_mass=0.1, switch_count=4.0,
    ...     switch_mass=0.03, thermocouples_per_tube=2.0, thermocouple_mass=0.005)
    >>> float(sensor_mass(10.0, plain))
    0.42

    References
    ----------
    Judgement (masses of parts), no source.
    """
    hinge = mass.resolver_count * jnp.asarray(mass.resolver_mass) + (
        mass.switch_count * jnp.asarray(mass.switch_mass)
    )
    per_tube = jnp.asarray(mass.thermocouples_per_tube) * mass.thermocouple_mass
    return jnp.asarray(hinge + per_tube * jnp.asarray(tube_count))


def spring_energy(*, moment: ArrayLike, rate: ArrayLike, travel: ArrayLike) -> Array:
    """Elastic energy of a linear spring at its greatest moment.

    .. math:: U = M_{max}^2/(2k)

    Parameters
    ----------
    moment
        Greatest moment at the hinge over the travel [N*m], any shape.
    rate
        k at the hinge [N*m/rad], not negative; held above |M|/(10 travel): a flatter spring is not
        stored in less than ten travels of wind-up.
    travel
        Travel [rad], above zero.

    Returns
    -------
    Array
        Energy [J].

    Examples
    --------
    Hand: 20^2/(2 x 10), and a flat spring at the least rate, 20^2/(2 x 2):

    >>> float(spring_energy(moment=20.0, rate=10.0, travel=1.0))
    20.0
    >>> float(spring_energy(moment=20.0, rate=0.0, travel=1.0))
    100.0

    References
    ----------
    Derived; ten travels are judgement.
    """
    greatest = jnp.asarray(moment)
    least = jnp.abs(greatest) / (10.0 * jnp.maximum(jnp.asarray(travel), 1e-6))
    stiffness = blended_max(rate, least, 0.1 * least + 1e-9)
    return greatest**2 / (2.0 * stiffness)


def spring_mass(energy: ArrayLike, mass: MassAssumptions) -> Array:
    r"""Mass of a torsion spring by its elastic energy.

    .. math:: m = 1.5\,\rho\,\frac{4 G U}{\tau^2}

    Parameters
    ----------
    energy
        U, elastic energy at the greatest moment [J], not negative, any shape.
    mass
        Assumptions.

    Returns
    -------
    Array
        Mass [kg].

    Notes
    -----
    A solid round bar in torsion holds ``tau^2/(4G)`` per volume.

    Examples
    --------
    100 J in steel at 600 MPa (hand: 1.5 x 7850 x 4 x 79e9 x 100/3.6e17):

    >>> from types import SimpleNamespace
    >>> steel = SimpleNamespace(spring_shear_allowable=600e6, spring_shear_modulus=79e9,
    ...     spring_density=7850.0, spring_factor=1.5)
    >>> float(spring_mass(100.0, steel))
    1.03358

    References
    ----------
    Timoshenko, Strength of Materials (from memory); the factor 1.5 is judgement.
    """
    per_volume = jnp.asarray(mass.spring_shear_allowable) ** 2 / (4.0 * mass.spring_shear_modulus)
    density = jnp.asarray(mass.spring_factor) * mass.spring_density
    return density * jnp.asarray(energy) / per_volume


def fastener_mass(lines: ArrayLike, mass: MassAssumptions) -> Array:
    """Mass of fasteners, brackets and seals: 5 % of the lines that they hold.

    Parameters
    ----------
    lines
        Mass of those lines [kg], any shape.
    mass
        Assumptions.

    Returns
    -------
    Array
        Mass [kg].

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> float(fastener_mass(20.0, SimpleNamespace(fastener_fraction=0.05)))
    1.0

    References
    ----------
    Judgement, no source.
    """
    return jnp.asarray(mass.fastener_fraction * jnp.asarray(lines))
