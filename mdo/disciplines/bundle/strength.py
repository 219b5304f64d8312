"""Strength of what carries torque: teeth in bending, splines, thin walls in torsion."""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike


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
