"""Torsion of one tube under a uniform shear stress, and the limits of its wall.

The radius r_w makes torque times twist equal stress times strain times volume exactly:
``A = pi (ro^2 - ri^2)``, ``r_w = (2/3)(ro^3 - ri^3)/(ro^2 - ri^2)``, ``T = tau A r_w``,
``theta = gamma L / r_w`` (fully plastic torsion, Timoshenko, Strength of Materials, from memory;
the work-consistent radius is derived). The tube of the examples has radii of 10 and 8 mm.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

# Outer-fibre stress over the elastic outer-fibre stress of the same torque, until the radially
# resolved, path-dependent level replaces it (binding definition of the design page).
OUTER_STRESS_FACTOR = 1.4


class Section(NamedTuple):
    """Section of a tube: radii [m], area [m**2], polar moment [m**4], effective radius [m]."""

    outer_radius: Array
    inner_radius: Array
    area: Array
    polar_moment: Array
    effective_radius: Array


def section(outer_radius: ArrayLike, wall_ratio: ArrayLike) -> Section:
    r"""Cross section from the outer radius and the wall ratio.

    .. math:: A = \pi(r_o^2-r_i^2), \quad J = \tfrac\pi2(r_o^4-r_i^4), \quad
              r_w = \tfrac23\frac{r_o^3-r_i^3}{r_o^2-r_i^2}

    Parameters
    ----------
    outer_radius
        Outer radius :math:`r_o` [m], above zero, any shape.
    wall_ratio
        Wall over outer radius [1], above 0 and at most 1.

    Returns
    -------
    Section
        Radii and effective radius [m], area [m**2], polar moment [m**4].

    Examples
    --------
    >>> tube = section(0.010, 0.2)
    >>> float(tube.polar_moment) * 1e9, float(tube.effective_radius) * 1e3
    (9.273982, 9.037037)

    References
    ----------
    Timoshenko, Strength of Materials (from memory); r_w derived from equal work.
    """
    ro = jnp.asarray(outer_radius)
    ri = ro * (1.0 - jnp.asarray(wall_ratio))
    return Section(
        outer_radius=ro,
        inner_radius=ri,
        area=jnp.pi * (ro**2 - ri**2),
        polar_moment=jnp.pi / 2 * (ro**4 - ri**4),
        effective_radius=(2.0 / 3.0) * (ro**2 + ro * ri + ri**2) / (ro + ri),
    )


def torque(tau: ArrayLike, tube: Section) -> Array:
    r"""Torque of a tube under a uniform shear stress.

    .. math:: T = \tau A r_w

    Parameters
    ----------
    tau
        Uniform shear stress :math:`\tau` [Pa], any shape.
    tube
        Cross section.

    Returns
    -------
    Array
        Torque [N*m].

    Examples
    --------
    Hand: 50 N*m take 50/(1.130973e-4 x 9.037037e-3) = 48.92058 MPa.

    >>> float(torque(48.92058e6, section(0.010, 0.2)))
    50.0000

    References
    ----------
    Fully plastic torsion, Timoshenko, Strength of Materials (from memory).
    """
    return jnp.asarray(tau) * tube.area * tube.effective_radius


def outer_stress(tau: ArrayLike, tube: Section) -> Array:
    r"""Outer-fibre shear stress at the torque of a uniform stress.

    .. math:: \tau_o = 1.4\,T r_o/J

    Parameters
    ----------
    tau
        Uniform shear stress :math:`\tau` [Pa], any shape; T is its torque.
    tube
        Cross section.

    Returns
    -------
    Array
        Outer-fibre shear stress [Pa].

    Notes
    -----
    The factor 1.4 covers the stress field that a path leaves in the wall; judgement until a level
    that follows the path replaces it.

    Examples
    --------
    Elastic 90.7571 MPa at 84.16799 N*m (hand: 10 deg over 0.5 m at 26 GPa), times 1.4:

    >>> tube = section(0.010, 0.2)
    >>> float(outer_stress(48.92058e6 * 84.16799 / 50.0, tube)) / 1e6
    127.060

    References
    ----------
    Elastic torsion, Timoshenko, Strength of Materials (from memory); the factor is judgement.
    """
    return OUTER_STRESS_FACTOR * torque(tau, tube) * tube.outer_radius / tube.polar_moment


def buckling_stress(
    *,
    outer_radius: ArrayLike,
    wall: ArrayLike,
    length: ArrayLike,
    young_modulus: ArrayLike,
    poisson_ratio: ArrayLike,
) -> Array:
    r"""Critical shear stress of a tube in torsion: the larger of two forms, moderate and long.

    .. math:: Z = \frac{L^2\sqrt{1-\nu^2}}{r t}, \quad
              \tau_m = 0.85\frac{\pi^2E}{12(1-\nu^2)}\left(\frac tL\right)^2 Z^{3/4}, \quad
              \tau_l = \frac{E (t/r)^{3/2}}{3\sqrt2(1-\nu^2)^{3/4}}

    Parameters
    ----------
    outer_radius, wall, length
        Radius r, wall t and length L of the tube [m], above zero.
    young_modulus
        Tangent modulus E of the state that buckles [Pa].
    poisson_ratio
        Poisson ratio :math:`\nu` [1].

    Returns
    -------
    Array
        Critical shear stress [Pa]; no knock-down inside.

    Examples
    --------
    E 30 GPa, nu 0.33, r 10, t 0.5, L 500 mm (hand: 75.37 and 86.20 MPa):

    >>> stress = buckling_stress(outer_radius=0.010, wall=0.0005, length=0.5, young_modulus=30e9,
    ...     poisson_ratio=0.33)
    >>> float(stress) / 1e6
    86.20

    References
    ----------
    Donnell 1933, report 479; report series TN 3783 and SP-8007 exist (formulas from memory).
    """
    r, t, span = jnp.asarray(outer_radius), jnp.asarray(wall), jnp.asarray(length)
    plate = 1.0 - jnp.asarray(poisson_ratio) ** 2
    z = span**2 * jnp.sqrt(plate) / (r * t)
    moderate = 0.85 * jnp.pi**2 * young_modulus / (12 * plate) * (t / span) ** 2 * z**0.75
    long = young_modulus * (t / r) ** 1.5 / (3 * jnp.sqrt(2.0) * plate**0.75)
    return jnp.maximum(moderate, long)
