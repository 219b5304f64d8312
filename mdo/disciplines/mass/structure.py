"""Lines of the mass roll-up: plates, housing and bearings that carry the moment.

Every line is for one wing, basic mass without growth; judgements are fields of MassAssumptions.
"""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.bundle.strength import wall_for_torsion
from mdo.disciplines.mass.assumptions import MassAssumptions
from mdo.disciplines.smooth import blended_max


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
