"""Gears by solid-rotor volume, tooth bending, splines and shafts in torsion.

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


def collector_factor(ratio: ArrayLike, pinions: ArrayLike, lanes: ArrayLike) -> Array:
    r"""Rotor volume of N tube pinions on the wheels of some gear lanes over 2T/K.

    .. math:: (1 + 1/m)(N + n\,m^2)

    Parameters
    ----------
    ratio
        m, wheel over pinion diameter [1], above zero, any shape.
    pinions
        N, pinions (tubes) in all lanes [1], not negative.
    lanes
        n, gear lanes, each with a wheel of its own [1], not negative (continuous here).

    Returns
    -------
    Array
        Factor [1]; T is the torque of one pinion.

    Examples
    --------
    One pinion is the offset pair; 12 on two wheels of 3:1 (hand: 4/3 x 30):

    >>> float(collector_factor(3.0, 1.0, 1.0)), float(collector_factor(3.0, 12.0, 2.0))
    (13.333333, 40.0)

    References
    ----------
    Derived from Willis 1963 (restated in gearbox notes).
    """
    m = jnp.maximum(ratio, RATIO_MIN)
    return (1.0 + 1.0 / m) * (jnp.asarray(pinions) + jnp.asarray(lanes) * m**2)


def rotor_volume(
    torque: ArrayLike, *, surface_factor: ArrayLike, volume_factor: ArrayLike
) -> Array:
    r"""Sum of F d^2 of a stage.

    .. math:: \sum F d^2 = \frac{2T}{K} \times \text{factor}

    Parameters
    ----------
    torque
        T, torque of one pinion (or sun) [N*m], not negative, any shape.
    surface_factor
        K [Pa], above zero.
    volume_factor
        Volume of all gears of the stage over that of 2T/K, :func:`collector_factor` [1].

    Returns
    -------
    Array
        Volume [m**3].

    Examples
    --------
    1000 lbf*in at 600 psi, 3:1: 44.44 in3 (hand: 3.3333 x 13.3333).

    >>> volume = rotor_volume(1000 * 0.112984829, surface_factor=600 * 6894.757,
    ...     volume_factor=collector_factor(3.0, 1.0, 1.0))
    >>> float(volume) / 0.0254**3
    44.444

    References
    ----------
    Willis 1963, restated in gearbox notes.
    """
    return 2.0 * jnp.asarray(torque) / surface_factor * volume_factor


def face_width(
    torque: ArrayLike, *, pinion_diameter: ArrayLike, ratio: ArrayLike, surface_factor: ArrayLike
) -> Array:
    r"""Face width of a pinion.

    .. math:: F = \frac{2T}{K}\,\frac{1 + 1/m}{d^2}

    Parameters
    ----------
    torque
        T, torque of one pinion [N*m], not negative, any shape.
    pinion_diameter
        d [m], above zero.
    ratio
        m, wheel over pinion diameter [1], above zero.
    surface_factor
        K [Pa], above zero.

    Returns
    -------
    Array
        Face width [m].

    Examples
    --------
    The pinion above, 2 in across: 4.444 in3/4 in2.

    >>> width = face_width(1000 * 0.112984829, pinion_diameter=0.0508, ratio=3.0,
    ...     surface_factor=600 * 6894.757)
    >>> float(width) / 0.0254
    1.1111

    References
    ----------
    Willis 1963, restated in gearbox notes.
    """
    m = jnp.maximum(ratio, RATIO_MIN)
    volume = rotor_volume(torque, surface_factor=surface_factor, volume_factor=1.0 + 1.0 / m)
    return volume / jnp.asarray(pinion_diameter) ** 2


def pinions_per_lane(ratio: ArrayLike, spacing: ArrayLike) -> Array:
    r"""Pinions that fit around one wheel.

    .. math:: \pi (1 + m)/s

    Parameters
    ----------
    ratio
        m, wheel over pinion diameter [1], above zero, any shape.
    spacing
        s, distance of neighbouring pinion axes over the pinion diameter [1], 1.1 by default.

    Returns
    -------
    Array
        Pinions [1], continuous.

    Examples
    --------
    Hand: 4 pi/1.1.

    >>> float(pinions_per_lane(3.0, 1.1))
    11.424

    References
    ----------
    Derived (kinematics).
    """
    return jnp.pi * (1.0 + jnp.asarray(ratio)) / spacing


def lanes_required(pinions: ArrayLike, *, ratio: ArrayLike, spacing: ArrayLike) -> Array:
    r"""Gear lanes that a number of pinions needs, continuous (an integer needs rounding up).

    .. math:: N s/(\pi (1 + m))

    Parameters
    ----------
    pinions
        N [1], any shape.
    ratio
        m, wheel over pinion diameter [1], above zero.
    spacing
        s, distance of neighbouring pinion axes over the pinion diameter [1].

    Returns
    -------
    Array
        Lanes [1].

    Examples
    --------
    >>> float(lanes_required(12.0, ratio=3.0, spacing=1.1))
    1.05042

    References
    ----------
    Derived from :func:`pinions_per_lane`.
    """
    return jnp.asarray(pinions) / pinions_per_lane(ratio, spacing)


def lewis_stress(
    *,
    tangential_force: ArrayLike,
    face: ArrayLike,
    module: ArrayLike,
    form_factor: ArrayLike,
    pitch_speed: ArrayLike,
) -> Array:
    r"""Root bending stress of a spur tooth.

    .. math:: \sigma = K_v W_t/(F m Y), \quad K_v = (6.1 + V)/6.1

    Parameters
    ----------
    tangential_force
        :math:`W_t` [N], any shape.
    face
        F, face width [m], above zero.
    module
        m, pitch diameter over teeth [m], above zero.
    form_factor
        Lewis Y [1], above zero, 0.309 for 18 teeth at 20 degrees.
    pitch_speed
        V, pitch-line speed [m/s], not negative; K_v is that of cut teeth.

    Returns
    -------
    Array
        Stress [Pa].

    Examples
    --------
    Pinion of module 1.25 mm, 18 teeth, face 12 mm, 0.5 kW at 1800 rpm (hand: 2.121 m/s, 235.8 N,
    68.6 MPa):

    >>> float(lewis_stress(tangential_force=235.785, face=0.012, module=0.00125, form_factor=0.309,
    ...     pitch_speed=2.12058)) / 1e6
    68.55

    References
    ----------
    Lewis with Barth's speed factor; Shigley, Mechanical Engineering Design (from memory).
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
    r"""Root bending stress of a slow pinion, pitch speed zero (see :func:`lewis_stress`).

    .. math:: \sigma = \frac{2T z}{d^2 F Y}

    Parameters
    ----------
    torque
        T, torque of one pinion [N*m], any shape.
    pinion_diameter
        d [m], above zero.
    face
        F [m], above zero.
    teeth
        z [1], above zero.
    form_factor
        Lewis Y [1], above zero.

    Returns
    -------
    Array
        Stress [Pa].

    Examples
    --------
    Hand: 2 x 10 x 18/(0.0225^2 x 0.012 x 0.309).

    >>> float(pinion_bending_stress(10.0, pinion_diameter=0.0225, face=0.012, teeth=18.0,
    ...     form_factor=0.309)) / 1e6
    191.78

    References
    ----------
    Lewis; Shigley, Mechanical Engineering Design (from memory).
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
    r"""Length of a spline by bearing pressure.

    .. math:: T = p\,n\,h\,L\,\tfrac d2\,k

    Parameters
    ----------
    torque
        T, torque of one tube [N*m], not negative, any shape.
    mean_diameter
        d [m], above zero.
    tooth_height
        h, height in contact [m], above zero.
    teeth
        n [1], above zero.
    share
        k, share of the teeth that carry [1], above zero.
    bearing_allowable
        p [Pa], above zero.

    Returns
    -------
    Array
        Length L [m].

    Examples
    --------
    Hand: 100/(70e6 x 16 x 0.001 x 0.5 x 0.01).

    >>> float(spline_length(100.0, mean_diameter=0.02, tooth_height=0.001, teeth=16.0, share=0.5,
    ...     bearing_allowable=70e6)) * 1e3
    17.857

    References
    ----------
    Derived; practice of Shigley, Mechanical Engineering Design (from memory).
    """
    per_length = jnp.asarray(bearing_allowable) * teeth * tooth_height * share * mean_diameter / 2.0
    return jnp.asarray(torque) / per_length


def wall_for_torsion(torque: ArrayLike, *, radius: ArrayLike, shear_allowable: ArrayLike) -> Array:
    r"""Wall of a thin round tube, or of a disc sheared at a hub radius.

    .. math:: t = T/(2\pi R^2\tau)

    Parameters
    ----------
    torque
        T [N*m], not negative, any shape.
    radius
        R [m], above zero.
    shear_allowable
        :math:`\tau` [Pa], above zero.

    Returns
    -------
    Array
        Wall [m].

    Examples
    --------
    Hand: 1000/(2 pi x 0.0025 x 1e8).

    >>> float(wall_for_torsion(1000.0, radius=0.05, shear_allowable=1e8)) * 1e3
    0.63662

    References
    ----------
    Bredt 1896 (from memory).
    """
    return jnp.asarray(torque) / (2.0 * jnp.pi * jnp.asarray(radius) ** 2 * shear_allowable)
