"""Kinematics of offset tubes between two rigid plates that turn about the bundle axis.

A tube at radius R is not only twisted by the relative turn theta: its ends shift sideways by
delta = 2 R sin(theta/2), like a beam guided at both ends (derived).
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

# Shortening of a guided beam over delta^2/L: half the integral of (dv/dx)^2 of
# v = delta (3 x^2 - 2 x^3), which is 36/60 (derived).
GUIDED_SHORTENING = 0.6


class PlateMotion(NamedTuple):
    """Parasitic motion of one tube: end shift [m], strains [1], approach of the plates [m]."""

    end_shift: Array
    bending_strain: Array
    axial_strain: Array
    plate_approach: Array


def plate_motion(
    *,
    circle_radius: ArrayLike,
    relative_angle: ArrayLike,
    outer_diameter: ArrayLike,
    tube_length: ArrayLike,
) -> PlateMotion:
    r"""Parasitic motion of a tube at a radius between turning plates.

    .. math:: \delta = 2 R \sin(\theta/2), \quad \varepsilon_b = 3\,\delta\,OD/L^2, \quad
              \varepsilon_a = 0.6\,(\delta/L)^2

    Parameters
    ----------
    circle_radius
        R, radius of the tube axis from the bundle axis [m], not negative, any shape.
    relative_angle
        :math:`\theta`, turn of one plate against the other [rad].
    outer_diameter
        OD [m], above zero.
    tube_length
        L [m], above zero.

    Returns
    -------
    PlateMotion
        End shift [m], strains [1], approach of the plates [m]. The axial strain holds if the plates
        cannot approach, the approach ``0.6 delta^2/L`` if they float.

    Examples
    --------
    20 mm, 75 deg, OD 12, L 300 mm (hand: 24.35 mm, 0.974 % and 0.395 %):

    >>> motion = plate_motion(circle_radius=0.020, relative_angle=jnp.radians(75.0),
    ...     outer_diameter=0.012, tube_length=0.300)
    >>> float(motion.end_shift) * 1e3, float(motion.bending_strain) * 100
    (24.35, 0.974)
    >>> float(motion.axial_strain) * 100
    0.395

    References
    ----------
    Derived (guided beam).
    """
    length = jnp.asarray(tube_length)
    shift = 2.0 * jnp.asarray(circle_radius) * jnp.sin(jnp.asarray(relative_angle) / 2.0)
    approach = GUIDED_SHORTENING * shift**2 / length
    return PlateMotion(
        end_shift=shift,
        bending_strain=3.0 * shift * outer_diameter / length**2,
        axial_strain=approach / length,
        plate_approach=approach,
    )


def plate_strain_margin(
    motion: PlateMotion, *, shear_strain: ArrayLike, fraction: ArrayLike
) -> Array:
    r"""Margin of the parasitic strains, good where not negative.

    .. math:: 1 - \frac{|\varepsilon_b| + \varepsilon_a}{f\,\gamma/\sqrt3}

    Parameters
    ----------
    motion
        Result of :func:`plate_motion`.
    shear_strain
        :math:`\gamma`, design shear strain [1], above zero.
    fraction
        f, share of the design strain left to parasitic strains [1], above zero; 0.3 by judgement.

    Returns
    -------
    Array
        Margin [1].

    Examples
    --------
    Strains of 0.4 and 0.1 %, gamma sqrt(3) x 2 % (hand: 1 - 0.5/0.6):

    >>> motion = PlateMotion(end_shift=0.0, bending_strain=0.004, axial_strain=0.001,
    ...     plate_approach=0.0)
    >>> float(plate_strain_margin(motion, shear_strain=3.0**0.5 * 0.02, fraction=0.3))
    0.166667

    References
    ----------
    Derived; the fraction is judgement.
    """
    allowed = jnp.asarray(fraction) * shear_strain / 3.0**0.5
    used = jnp.abs(motion.bending_strain) + motion.axial_strain
    return jnp.asarray(1.0 - used / allowed)


def parasitic_torque(
    *,
    circle_radius: ArrayLike,
    relative_angle: ArrayLike,
    young_modulus: ArrayLike,
    second_moment: ArrayLike,
    tube_length: ArrayLike,
) -> Array:
    r"""Torque about the bundle axis that bends one tube.

    .. math:: \frac{12 E I \delta}{L^3}\,R\cos(\theta/2)

    Parameters
    ----------
    circle_radius
        R [m], not negative, any shape.
    relative_angle
        :math:`\theta` [rad].
    young_modulus
        E [Pa], above zero.
    second_moment
        I, second moment of area of the tube in bending [m**4], above zero.
    tube_length
        L [m], above zero.

    Returns
    -------
    Array
        Torque [N*m].

    Examples
    --------
    Tube of 10 over 8 mm radius, 30 mm off the axis, 0.5 m, 60 deg, 30 GPa (hand: 10.4 N*m):

    >>> float(parasitic_torque(circle_radius=0.030, relative_angle=jnp.pi / 3, young_modulus=30e9,
    ...     second_moment=9.273982e-9 / 2, tube_length=0.5))
    10.41

    References
    ----------
    Derived (derivative of the bending energy).
    """
    half = jnp.asarray(relative_angle) / 2.0
    arm = jnp.asarray(circle_radius)
    force = 12.0 * young_modulus * jnp.asarray(second_moment) * 2.0 * arm * jnp.sin(half)
    return jnp.asarray(force / jnp.asarray(tube_length) ** 3 * arm * jnp.cos(half))
