"""Room for the bundle in the wing section at the fold.

The bundle lies lengthwise (chordwise). Its room is the chord over which the section is high enough:
for a bundle of a given length the ends are placed where the section is equally high, and the height
there, less skins and clearances, is what the bundle may use.
"""

from __future__ import annotations

import math
from typing import TypeVar

import jax.numpy as jnp
import numpy as np
from jax import Array
from jax.typing import ArrayLike
from numpy.polynomial import chebyshev
from scipy.optimize import brentq

LONGEST = 0.95  # [chord fraction] up to here the room is fitted; beyond it falls linearly
FIT_DEGREE = 15
Number = TypeVar("Number", float, Array)


def _smooth_part(x: Number) -> Number:
    """Polynomial part of the four-digit form, for a number or an array."""
    return x * (-0.1260 + x * (-0.3516 + x * (0.2843 - 0.1015 * x)))


def four_digit_thickness(station: ArrayLike) -> Array:
    r"""Thickness over maximum thickness of the four-digit form at a chord fraction.

    .. math:: 10 (0.2969\sqrt x - 0.1260 x - 0.3516 x^2 + 0.2843 x^3 - 0.1015 x^4)

    Parameters
    ----------
    station
        x over the chord [1], 0 to 1, any shape.

    Returns
    -------
    Array
        Thickness ratio [1].

    Examples
    --------
    Ordinates of the 0012 printed at 30 and 50 % chord: 6.002 and 5.294 % of the chord.

    >>> [6.0 * float(value) for value in four_digit_thickness(jnp.array([0.3, 0.5]))]
    [6.002, 5.294]

    References
    ----------
    Jacobs, Ward and Pinkerton 1933, report 460 (from memory).
    """
    x = jnp.clip(jnp.asarray(station), 1e-6, 1.0)
    return 10.0 * (0.2969 * jnp.sqrt(x) + _smooth_part(x))


def biconvex_thickness(station: ArrayLike) -> Array:
    """Thickness over maximum thickness of a parabolic-arc section.

    .. math:: 4 x (1 - x)

    Parameters
    ----------
    station
        x over the chord [1], 0 to 1, any shape.

    Returns
    -------
    Array
        Thickness ratio [1].

    Examples
    --------
    >>> float(biconvex_thickness(0.25))
    0.75

    References
    ----------
    Derived (parabola).
    """
    x = jnp.asarray(station)
    return 4.0 * x * (1.0 - x)


def _best_placed_height(length: float) -> float:
    """Four-digit thickness where a chordwise stretch of a given length sees it at both ends."""

    def thickness(x: float) -> float:
        return 10.0 * (0.2969 * math.sqrt(x) + _smooth_part(x))

    if length < 2e-3:  # flat there to 1e-6
        return thickness(0.2998)
    low, high = max(0.2998 - length, 0.0), min(0.2998, 1.0 - length)
    front = brentq(lambda x: thickness(x) - thickness(x + length), low, high, xtol=1e-14)
    return float(thickness(front))


def _fit() -> np.ndarray:
    """Chebyshev coefficients of the best placed height over the length, on [0, LONGEST]."""
    nodes = LONGEST / 2 * (1 + np.cos(np.pi * (np.arange(200) + 0.5) / 200))
    heights = [_best_placed_height(float(node)) for node in nodes]
    return np.asarray(
        chebyshev.cheb2poly(chebyshev.chebfit(2 * nodes / LONGEST - 1, heights, FIT_DEGREE))
    )


_COEFFICIENTS = _fit()


def end_thickness(length_fraction: ArrayLike, section_form: ArrayLike) -> Array:
    """Thickness over maximum thickness at both ends of the best placed bundle of a given length.

    Parameters
    ----------
    length_fraction
        Bundle length over the chord [1]; beyond 0.95 continued linearly to below zero.
    section_form
        0 four-digit, 1 biconvex, 2 the box of a bench, equally high everywhere [1].

    Returns
    -------
    Array
        Thickness ratio [1].

    Notes
    -----
    Four-digit: the front end x1 solves ``t(x1) = t(x1 + l)``; the height there is a smooth function
    of l alone, kept as a polynomial fitted when the module loads (error under 1e-5 of the
    thickness).

    Examples
    --------
    Half a chord in a biconvex section, from 25 to 75 % (hand: 4 x 0.25 x 0.75):

    >>> float(end_thickness(0.5, 1.0))
    0.75

    References
    ----------
    Derived from :func:`four_digit_thickness` and :func:`biconvex_thickness`.
    """
    asked = jnp.asarray(length_fraction)
    length = jnp.clip(asked, 0.0, LONGEST)
    x = 2.0 * length / LONGEST - 1.0
    four_digit = jnp.polyval(jnp.asarray(_COEFFICIENTS[::-1]), x)
    form = jnp.asarray(section_form)
    height = jnp.where(form > 0.5, 1.0 - length**2, four_digit) - 4.0 * (asked - length)
    return jnp.where(form > 1.5, 1.0, height)


def usable_height(
    *,
    bundle_length: ArrayLike,
    fold_chord: ArrayLike,
    fold_thickness: ArrayLike,
    section_form: ArrayLike,
    skin_thickness: ArrayLike,
    clearance: ArrayLike,
) -> Array:
    r"""Height that a bundle of a given length may have at the fold.

    .. math:: h = t_{fold}\,\hat t(l/c) - 2 (t_{skin} + s)

    Parameters
    ----------
    bundle_length, fold_chord, fold_thickness
        Length of the bundle, chord and thickness of the section at the fold [m].
    section_form
        0 four-digit, 1 biconvex, 2 box [1].
    skin_thickness, clearance
        Skin and gap at either side [m].

    Returns
    -------
    Array
        Height [m], negative where there is no room at all.

    Examples
    --------
    Half of a chord of 1 m, 0.1 m thick, biconvex (hand: 0.075 - 0.010):

    >>> float(usable_height(bundle_length=0.5, fold_chord=1.0, fold_thickness=0.1, section_form=1.0,
    ...     skin_thickness=0.002, clearance=0.003))
    0.065

    References
    ----------
    Derived from :func:`end_thickness`.
    """
    ratio = end_thickness(jnp.asarray(bundle_length) / fold_chord, section_form)
    return jnp.asarray(fold_thickness) * ratio - 2.0 * (jnp.asarray(skin_thickness) + clearance)
