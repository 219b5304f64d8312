"""Room for the bundle in the wing section at the fold.

The bundle lies lengthwise (chordwise). Its room is the chord over which the section is high enough:
for a bundle of a given length the ends are placed where the section is equally high, and the height
there, less skins and clearances, is what the bundle may use.
"""

from __future__ import annotations

import jax
import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

FOUR_DIGIT_MAX_STATION = 0.30  # chord fraction of the largest thickness, NACA Report 460
NEWTON_STEPS = 9


def four_digit_thickness(station: ArrayLike) -> Array:
    """Thickness over maximum thickness of the NACA four-digit form at a chord fraction.

    ``10 (0.2969 sqrt(x) - 0.1260 x - 0.3516 x^2 + 0.2843 x^3 - 0.1015 x^4)`` (Jacobs, Ward &
    Pinkerton, NACA Report 460, 1933; from memory).
    """
    x = jnp.clip(jnp.asarray(station), 1e-6, 1.0)
    return 10.0 * (
        0.2969 * jnp.sqrt(x) + x * (-0.1260 + x * (-0.3516 + x * (0.2843 - 0.1015 * x)))
    )


def biconvex_thickness(station: ArrayLike) -> Array:
    """Thickness over maximum thickness of a parabolic-arc section: ``4 x (1 - x)``."""
    x = jnp.asarray(station)
    return 4.0 * x * (1.0 - x)


def end_thickness(length_fraction: ArrayLike, section_form: ArrayLike) -> Array:
    """Thickness over maximum thickness at both ends of the best placed bundle of a given length.

    Parameters
    ----------
    length_fraction : bundle length over the chord; beyond 0.97 continued linearly to below zero
    section_form : 0 four-digit, 1 biconvex

    Notes
    -----
    Four-digit: the front end x1 solves ``t(x1) = t(x1 + l)``; safeguarded Newton without derivative
    and one last differentiable step. At the solution the height does not depend on x1 to first
    order only for equal slopes, so the step is kept in the derivative.
    """
    asked = jnp.asarray(length_fraction)
    length = jnp.clip(asked, 1e-3, 0.97)

    def difference(front: Array, span: Array) -> Array:
        return four_digit_thickness(front) - four_digit_thickness(front + span)

    stop = jax.lax.stop_gradient
    fixed = stop(length)
    low = jnp.maximum(FOUR_DIGIT_MAX_STATION - fixed, 0.0)
    high = jnp.minimum(FOUR_DIGIT_MAX_STATION, 1.0 - fixed)
    front = jnp.clip(FOUR_DIGIT_MAX_STATION - 0.35 * fixed, low, high)
    for _ in range(NEWTON_STEPS):
        value, slope = jax.jvp(
            lambda x: difference(x, fixed), (front,), (jnp.ones_like(front),)
        )
        low = jnp.where(value < 0.0, front, low)
        high = jnp.where(value < 0.0, high, front)
        newton = front - value / jnp.where(slope > 1e-9, slope, 1e-9)
        inside = (newton >= low) & (newton <= high)
        front = stop(jnp.where(inside, newton, (low + high) / 2))
    value, slope = jax.jvp(lambda x: difference(x, fixed), (front,), (jnp.ones_like(front),))
    front = front - difference(front, length) / stop(jnp.where(slope > 1e-9, slope, 1e-9))
    four_digit = (four_digit_thickness(front) + four_digit_thickness(front + length)) / 2
    height = jnp.where(jnp.asarray(section_form) > 0.5, 1.0 - length**2, four_digit)
    return height - 4.0 * (asked - length)


def usable_height(
    *,
    bundle_length: ArrayLike,
    fold_chord: ArrayLike,
    fold_thickness: ArrayLike,
    section_form: ArrayLike,
    skin_thickness: ArrayLike,
    clearance: ArrayLike,
) -> Array:
    """Height that a bundle of a given length may have at the fold [m].

    Local thickness at the bundle ends less two skins and two clearances; negative where there is no
    room at all.
    """
    ratio = end_thickness(jnp.asarray(bundle_length) / fold_chord, section_form)
    return jnp.asarray(fold_thickness) * ratio - 2.0 * (
        jnp.asarray(skin_thickness) + clearance
    )
