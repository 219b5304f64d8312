r"""Gears by solid-rotor volume, tooth bending, splines and shafts in torsion.

A gear of face F and diameter d counts with its solid volume F d^2; the surface-load factor K fixes
the pinion of a mesh by F d^2 = (2 T / K)(1 + 1/m), and a gear of ratio m to it counts m^2 times as
much (Willis 1963, restated in gearbox notes). Mass = application density x sum of F d^2. Torques
are those of the pinion (the tube), K in Pa; everything here is for one stage of one wing.
"""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

RATIO_MIN = 1e-3  # guard of ratios in denominators; real stages are far above it


def offset_pair_factor(ratio: ArrayLike) -> Array:
    r"""Rotor volume of an offset pair over 2T/K [1]: ``1 + 1/m + m + m^2``.

    Parameters
    ----------
    ratio : m, wheel over pinion diameter (= tube twist over hinge angle) [1] > 0, any shape

    References
    ----------
    Willis 1963, restated in gearbox notes: m = 3 gives 13.333 (TM-21).
    """
    m = jnp.maximum(ratio, RATIO_MIN)
    return 1.0 + 1.0 / m + m + m**2


def idler_factor(ratio: ArrayLike, first_ratio: ArrayLike) -> Array:
    r"""Rotor volume of pinion, idler and wheel over 2T/K [1].

    ``1 + 1/m + m + m^2 + M0^2/m + M0^2`` (Willis 1963, restated in gearbox notes).

    Parameters
    ----------
    ratio : M0, wheel over pinion diameter [1] > 0, any shape
    first_ratio : m, idler over pinion diameter [1] > 0; best is :func:`best_idler_ratio`
    """
    m = jnp.maximum(first_ratio, RATIO_MIN)
    overall = jnp.asarray(ratio)
    return offset_pair_factor(m) + overall**2 / m + overall**2


def best_idler_ratio(ratio: ArrayLike) -> Array:
    r"""Idler over pinion diameter of least rotor volume [1], root of ``2 m^3 + m^2 = M0^2 + 1``.

    Closed form (Cardano with m = x - 1/6; the product of the two cube roots is 1/36, and the
    discriminant is positive for every M0).

    Parameters
    ----------
    ratio : M0, wheel over pinion diameter [1] >= 0, any shape
    """
    half = (jnp.asarray(ratio) ** 2 + 1.0) / 4.0 - 1.0 / 216.0
    root = jnp.sqrt(half**2 - 1.0 / 36.0**3)
    larger = jnp.cbrt(half + root)
    return larger + 1.0 / (36.0 * larger) - 1.0 / 6.0


def planetary_factor(ratio: ArrayLike, planets: ArrayLike) -> Array:
    r"""Rotor volume of a planetary stage over 2T/K, T = torque of the sun [1].

    ``(1/b)(1 + 1/m_s)(1 + b m_s^2 + 0.4 (M0 - 1)^2)``, ``m_s = (M0 - 2)/2``; derived, ring factor
    0.4 after Dudley and Willis from memory.

    Parameters
    ----------
    ratio : M0, sun over carrier speed [1] > 2 (held at 2.002 below), any shape
    planets : b, number of planets [1] > 0
    """
    overall = jnp.maximum(ratio, 2.0 + 2.0 * RATIO_MIN)
    b = jnp.asarray(planets)
    planet = (overall - 2.0) / 2.0
    return (1.0 + 1.0 / planet) * (1.0 + b * planet**2 + 0.4 * (overall - 1.0) ** 2) / b


def collector_factor(ratio: ArrayLike, pinions: ArrayLike, lanes: ArrayLike) -> Array:
    r"""Rotor volume of N tube pinions on the wheels of some gear lanes over 2T/K [1].

    ``(1 + 1/m)(N + lanes m^2)``, T = torque of one pinion; every lane has a wheel of its own.
    Derived in the reference (4.1 item 6); equal to the offset pair at N = lanes = 1.

    Parameters
    ----------
    ratio : m, wheel over pinion diameter [1] > 0, any shape
    pinions : N, pinions (tubes) in all lanes [1] >= 0
    lanes : number of gear lanes [1] >= 0 (continuous here)
    """
    m = jnp.maximum(ratio, RATIO_MIN)
    return (1.0 + 1.0 / m) * (jnp.asarray(pinions) + jnp.asarray(lanes) * m**2)


def rotor_volume(
    torque: ArrayLike, *, surface_factor: ArrayLike, volume_factor: ArrayLike
) -> Array:
    """Sum of F d^2 of a stage [m**3]: ``(2T/K) x factor``.

    Parameters
    ----------
    torque : T, torque of one pinion (or sun) [N*m] >= 0, any shape
    surface_factor : K [Pa] > 0
    volume_factor : one of the factors of this module [1]
    """
    return 2.0 * jnp.asarray(torque) / surface_factor * volume_factor


def face_width(
    torque: ArrayLike, *, pinion_diameter: ArrayLike, ratio: ArrayLike, surface_factor: ArrayLike
) -> Array:
    """Face width of a pinion [m]: ``F = (2T/K)(1 + 1/m)/d^2``.

    Parameters
    ----------
    torque : T, torque of one pinion [N*m] >= 0, any shape
    pinion_diameter : d [m] > 0
    ratio : m, wheel over pinion diameter [1] > 0
    surface_factor : K [Pa] > 0
    """
    m = jnp.maximum(ratio, RATIO_MIN)
    volume = rotor_volume(torque, surface_factor=surface_factor, volume_factor=1.0 + 1.0 / m)
    return volume / jnp.asarray(pinion_diameter) ** 2


def pinions_per_lane(ratio: ArrayLike, spacing: ArrayLike) -> Array:
    """Pinions that fit around one wheel [1]: ``pi (1 + m)/spacing`` (derived kinematics).

    Parameters
    ----------
    ratio : m, wheel over pinion diameter [1] > 0, any shape
    spacing : distance of neighbouring pinion axes over the pinion diameter [1], 1.1 by default
    """
    return jnp.pi * (1.0 + jnp.asarray(ratio)) / spacing


def lanes_required(pinions: ArrayLike, *, ratio: ArrayLike, spacing: ArrayLike) -> Array:
    """Gear lanes that a number of pinions needs [1], continuous (an integer needs rounding up)."""
    return jnp.asarray(pinions) / pinions_per_lane(ratio, spacing)


def collector_height(ratio: ArrayLike, outer_diameter: ArrayLike) -> Array:
    """Height of a wheel with a pinion on either side [m]: ``(m + 2) OD``, pinion as big as tube."""
    return (jnp.asarray(ratio) + 2.0) * outer_diameter


def lewis_stress(
    *,
    tangential_force: ArrayLike,
    face: ArrayLike,
    module: ArrayLike,
    form_factor: ArrayLike,
    pitch_speed: ArrayLike,
) -> Array:
    r"""Root bending stress of a spur tooth [Pa]: ``sigma = K_v W_t/(F m Y)``.

    ``K_v = (6.1 + V)/6.1`` for cut teeth (Lewis with Barth's speed factor; Shigley, from memory).

    Parameters
    ----------
    tangential_force : W_t [N], any shape
    face : F, face width [m] > 0
    module : m, pitch diameter over teeth [m] > 0
    form_factor : Lewis Y [1] > 0, 0.309 for 18 teeth at 20 degrees
    pitch_speed : V, pitch-line speed [m/s] >= 0
    """
    speed_factor = (6.1 + jnp.asarray(pitch_speed)) / 6.1
    return speed_factor * tangential_force / (jnp.asarray(face) * module * form_factor)


def pinion_bending_stress(
    torque: ArrayLike,
    *,
    pinion_diameter: ArrayLike,
    face: ArrayLike,
    teeth: ArrayLike,
    form_factor: ArrayLike,
) -> Array:
    """Root bending stress of a slow pinion [Pa], pitch speed zero (see :func:`lewis_stress`).

    Parameters
    ----------
    torque : T, torque of one pinion [N*m], any shape
    pinion_diameter : d [m] > 0
    face : F [m] > 0
    teeth : z [1] > 0
    form_factor : Lewis Y [1] > 0
    """
    diameter = jnp.asarray(pinion_diameter)
    return lewis_stress(
        tangential_force=2.0 * jnp.asarray(torque) / diameter,
        face=face,
        module=diameter / teeth,
        form_factor=form_factor,
        pitch_speed=0.0,
    )


def spline_length(
    torque: ArrayLike,
    *,
    mean_diameter: ArrayLike,
    tooth_height: ArrayLike,
    teeth: ArrayLike,
    share: ArrayLike,
    bearing_allowable: ArrayLike,
) -> Array:
    """Length of a spline by bearing pressure [m]: ``T = p n h L (d/2) k``.

    Parameters
    ----------
    torque : T, torque of one tube [N*m] >= 0, any shape
    mean_diameter : d [m] > 0
    tooth_height : h, height in contact [m] > 0
    teeth : n [1] > 0
    share : k, share of the teeth that carry [1] > 0
    bearing_allowable : p [Pa] > 0
    """
    per_length = jnp.asarray(bearing_allowable) * teeth * tooth_height * share * mean_diameter / 2.0
    return jnp.asarray(torque) / per_length


def torsion_stress(
    torque: ArrayLike, *, outer_diameter: ArrayLike, inner_diameter: ArrayLike
) -> Array:
    """Elastic outer-fibre shear stress of a round shaft or tube [Pa]: ``T r/J``.

    Parameters
    ----------
    torque : T [N*m], any shape
    outer_diameter : [m] > 0
    inner_diameter : [m], 0 for a solid shaft, below the outer diameter
    """
    outer = jnp.asarray(outer_diameter)
    polar = jnp.pi / 32.0 * (outer**4 - jnp.asarray(inner_diameter) ** 4)
    return jnp.asarray(torque) * outer / 2.0 / polar


def wall_for_torsion(torque: ArrayLike, *, radius: ArrayLike, shear_allowable: ArrayLike) -> Array:
    """Wall of a thin round tube, or of a disc sheared at a hub radius [m]: ``T/(2 pi R^2 tau)``.

    Parameters
    ----------
    torque : T [N*m] >= 0, any shape
    radius : R [m] > 0
    shear_allowable : tau [Pa] > 0
    """
    return jnp.asarray(torque) / (2.0 * jnp.pi * jnp.asarray(radius) ** 2 * shear_allowable)
