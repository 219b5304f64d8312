"""Pinions that last: what flanks and teeth may bear, and how slim a pinion may be."""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.bundle.gears import RATIO_MIN, rotor_volume
from mdo.disciplines.smooth import blended_min


def lasting_surface_factor(
    *,
    ratio: ArrayLike,
    surface_factor: ArrayLike,
    bending: ArrayLike,
    teeth: ArrayLike,
    form_factor: ArrayLike,
) -> Array:
    r"""Surface-load factor that neither wears the flanks nor breaks the teeth, smooth.

    .. math:: K' = \min\left(K, \frac{\sigma Y}{z} (1 + 1/m)\right)

    Parameters
    ----------
    ratio
        m, wheel over pinion diameter [1], above zero, any shape.
    surface_factor
        K of the flanks [Pa].
    bending
        :math:`\sigma`, root bending stress that the teeth bear [Pa].
    teeth, form_factor
        z of the pinion and Lewis Y [1].

    Returns
    -------
    Array
        K' [Pa]: a pinion sized by it has :func:`pinion_bending_stress` of at most
        :math:`\sigma`, as the two formulas together give; blended over 2 % of K.

    Examples
    --------
    18 teeth at ratio 3 (hand: 300 x 0.309/18 x 4/3 = 6.867 MPa, below 10):

    >>> float(lasting_surface_factor(ratio=3.0, surface_factor=10e6, bending=300e6, teeth=18.0,
    ...     form_factor=0.309)) / 1e6
    6.8667

    References
    ----------
    Willis 1963, restated in gearbox notes; Lewis, Shigley, Mechanical Engineering Design (from
    memory).
    """
    m = jnp.maximum(ratio, RATIO_MIN)
    teeth_bear = jnp.asarray(bending) * form_factor / teeth * (1.0 + 1.0 / m)
    return blended_min(jnp.asarray(surface_factor), teeth_bear, 0.02 * jnp.asarray(surface_factor))


def pinion_for_face_ratio(
    torque: ArrayLike, *, ratio: ArrayLike, surface_factor: ArrayLike, face_ratio: ArrayLike
) -> Array:
    r"""Pitch diameter of a pinion whose face is a given share of it.

    .. math:: d = \left(\frac{2T}{K}\,\frac{1 + 1/m}{F/d}\right)^{1/3}

    Parameters
    ----------
    torque
        T, torque of one pinion [N*m], not negative, any shape.
    ratio
        m, wheel over pinion diameter [1], above zero.
    surface_factor
        K [Pa], above zero.
    face_ratio
        F/d [1], above zero.

    Returns
    -------
    Array
        d [m].

    Examples
    --------
    The pinion above, 4.444 in3, face as long as it is wide (hand: cube root):

    >>> d = pinion_for_face_ratio(1000 * 0.112984829, ratio=3.0, surface_factor=600 * 6894.757,
    ...     face_ratio=1.0)
    >>> float(d) / 0.0254
    1.6441

    References
    ----------
    Willis 1963, restated in gearbox notes.
    """
    m = jnp.maximum(ratio, RATIO_MIN)
    volume = rotor_volume(torque, surface_factor=surface_factor, volume_factor=1.0 + 1.0 / m)
    return jnp.cbrt(jnp.maximum(volume / face_ratio, 1e-12))
