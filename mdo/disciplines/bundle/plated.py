r"""Kinematics of offset tubes between two rigid plates that turn about the bundle axis.

A tube at radius R is not only twisted by the relative turn theta: its ends shift sideways by
delta = 2 R sin(theta/2), like a beam guided at both ends. Derived in the reference (4.1 item 5).
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

    ``delta = 2 R sin(theta/2)``, ``eps_b = 3 delta OD/L^2``, ``eps_a = 0.6 (delta/L)^2`` (strain if
    the plates cannot approach), approach ``0.6 delta^2/L`` if they float.

    Parameters
    ----------
    circle_radius : R, radius of the tube axis from the bundle axis [m] >= 0, any shape
    relative_angle : theta, turn of one plate against the other [rad]
    outer_diameter : OD [m] > 0
    tube_length : L [m] > 0
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
    """Margin of the parasitic strains [1], good where >= 0.

    ``1 - (|eps_b| + eps_a)/(fraction gamma/sqrt(3))``, fraction 0.3 by judgement.

    Parameters
    ----------
    motion : result of :func:`plate_motion`
    shear_strain : gamma, design shear strain [1] > 0
    fraction : share of the design strain left to parasitic strains [1] > 0
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
    """Torque about the bundle axis that bends one tube [N*m].

    ``12 E I delta/L^3 x R cos(theta/2)``, the derivative of the bending energy (derived; C32).

    Parameters
    ----------
    circle_radius : R [m] >= 0, any shape
    relative_angle : theta [rad]
    young_modulus : E [Pa] > 0
    second_moment : I, second moment of area of the tube in bending [m**4] > 0
    tube_length : L [m] > 0
    """
    half = jnp.asarray(relative_angle) / 2.0
    arm = jnp.asarray(circle_radius)
    force = 12.0 * young_modulus * jnp.asarray(second_moment) * 2.0 * arm * jnp.sin(half)
    return jnp.asarray(force / jnp.asarray(tube_length) ** 3 * arm * jnp.cos(half))
