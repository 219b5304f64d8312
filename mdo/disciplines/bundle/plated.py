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
