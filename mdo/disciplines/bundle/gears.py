"""Gears by solid-rotor volume: volume, face, pinions around a wheel.

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
