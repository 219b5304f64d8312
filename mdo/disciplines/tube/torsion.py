"""Torsion of one tube under a uniform shear stress, and the limits of its wall.

The radius r_w makes torque times twist equal stress times strain times volume exactly:
``A = pi (ro^2 - ri^2)``, ``r_w = (2/3)(ro^3 - ri^3)/(ro^2 - ri^2)``, ``T = tau A r_w``,
``theta = gamma L / r_w`` (fully plastic torsion, Timoshenko, Strength of Materials, from memory;
the work-consistent radius is derived).
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
    """Cross section of a tube: radii [m], area [m2], polar moment [m4], effective radius [m]."""

    outer_radius: Array
    inner_radius: Array
    area: Array
    polar_moment: Array
    effective_radius: Array


def section(outer_radius: ArrayLike, wall_ratio: ArrayLike) -> Section:
    """Cross section from the outer radius and the wall ratio t/ro.

    Parameters
    ----------
    outer_radius : [m] > 0
    wall_ratio : wall over outer radius, 0 < t/ro <= 1
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
    """Torque of a tube under a uniform shear stress [N*m]: ``T = tau A r_w``."""
    return jnp.asarray(tau) * tube.area * tube.effective_radius


def outer_stress(tau: ArrayLike, tube: Section) -> Array:
    """Outer-fibre shear stress [Pa]: ``1.4 T ro / J`` at the torque of a uniform stress tau."""
    return OUTER_STRESS_FACTOR * torque(tau, tube) * tube.outer_radius / tube.polar_moment


def utilisation(inner_over_outer: ArrayLike, *, elastic: bool) -> Array:
    """Work per volume over ``tau_o gamma_o``: ``(2/3)(1-b^3)/(1-b^2)``, elastic ``(1+b^2)/2``.

    Parameters
    ----------
    inner_over_outer : b = ri/ro, 0 <= b < 1
    elastic : stress proportional to the radius instead of uniform
    """
    b = jnp.asarray(inner_over_outer)
    return (1 + b**2) / 2 if elastic else (2.0 / 3.0) * (1 + b + b**2) / (1 + b)


def buckling_stress(
    *,
    outer_radius: ArrayLike,
    wall: ArrayLike,
    length: ArrayLike,
    young_modulus: ArrayLike,
    poisson_ratio: ArrayLike,
) -> Array:
    """Critical shear stress of a tube in torsion [Pa]: the larger of moderate-length and long form.

    ``Z = L^2 sqrt(1-nu^2)/(r t)``; moderate ``0.85 pi^2 E/(12(1-nu^2)) (t/L)^2 Z^0.75``, long
    ``E (t/r)^1.5/(3 sqrt2 (1-nu^2)^0.75)`` (Donnell; NACA TN 3783 and SP-8007 exist, formulas from
    memory). No knock-down inside; r is the radius given.

    Parameters
    ----------
    outer_radius, wall, length : [m]
    young_modulus : [Pa], the tangent modulus of the state that buckles
    poisson_ratio : nu
    """
    r, t, span = jnp.asarray(outer_radius), jnp.asarray(wall), jnp.asarray(length)
    plate = 1.0 - jnp.asarray(poisson_ratio) ** 2
    z = span**2 * jnp.sqrt(plate) / (r * t)
    moderate = 0.85 * jnp.pi**2 * young_modulus / (12 * plate) * (t / span) ** 2 * z**0.75
    long = young_modulus * (t / r) ** 1.5 / (3 * jnp.sqrt(2.0) * plate**0.75)
    return jnp.maximum(moderate, long)


def shaft_buckling_torque(tube: Section, young_modulus: ArrayLike, length: ArrayLike) -> Array:
    """Torque at which a slender shaft buckles into a helix [N*m]: ``2 pi E I / L``.

    Source: Greenhill, from memory. I = J/2.
    """
    return jnp.pi * jnp.asarray(young_modulus) * tube.polar_moment / length
