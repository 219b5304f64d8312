"""Heated tube in shear: modulus, strain and stress on the heating envelope, one uniform stress.

The made-up card of the examples is that of :mod:`mdo.disciplines.tube.sma`.
"""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.records import Alloy
from mdo.disciplines.tube.phases import ROOT3, martensite_fraction_heating
from mdo.disciplines.tube.root import bracketed_root

# Safeguarded Newton steps that reach round-off over all strains (checked in the tests): the strain
# has a flat stretch and a steep one, where some steps only halve the bracket.
HOT_STEPS = 26


def mixed_shear_modulus(fraction: ArrayLike, alloy: Alloy) -> Array:
    r"""Shear modulus at a martensite fraction (Reuss).

    .. math:: 1/G = (1-\xi)/G_A + \xi/G_M

    Parameters
    ----------
    fraction
        Martensite fraction :math:`\xi` [1], 0 to 1, any shape.
    alloy
        Card with both shear moduli.

    Returns
    -------
    Array
        Shear modulus [Pa].

    Examples
    --------
    Half of 26 and 12 GPa (hand: 2 x 26 x 12/38):

    >>> from types import SimpleNamespace
    >>> card = SimpleNamespace(austenite_shear_modulus=26e9, martensite_shear_modulus=12e9)
    >>> float(mixed_shear_modulus(0.5, card)) / 1e9
    16.42105

    References
    ----------
    Boyd and Lagoudas 1996, Int. J. Plasticity 12, 805-842 (from memory).
    """
    xi = jnp.asarray(fraction)
    return 1.0 / ((1.0 - xi) / alloy.austenite_shear_modulus + xi / alloy.martensite_shear_modulus)


def hot_strain(
    tau: ArrayLike, temperature: ArrayLike, locked_strain: ArrayLike, alloy: Alloy
) -> Array:
    r"""Shear strain of a tube heated to a temperature under a stress.

    .. math:: \gamma = \tau/G(\xi) + \gamma_s\,\xi

    Parameters
    ----------
    tau
        Shear stress :math:`\tau` [Pa], any shape.
    temperature
        Tube temperature [K], broadcasts.
    locked_strain
        Transformation shear strain locked in when the leg starts, :math:`\gamma_s` [1].
    alloy
        Card.

    Returns
    -------
    Array
        Total shear strain [1]; it increases with the stress.

    Notes
    -----
    The transformation strain still in the tube is the one locked in when the leg starts, times xi:
    a hotter, more loaded tube does not twist further under load.

    Examples
    --------
    The made-up card half transformed at 100 MPa (hand: 100/16421.05 + 0.0427684/2):

    >>> from types import SimpleNamespace
    >>> card = SimpleNamespace(austenite_start=360.0, austenite_finish=380.0, austenite_slope=7e6,
    ...     slope_factor=1.0, austenite_shear_modulus=26e9, martensite_shear_modulus=12e9)
    >>> float(hot_strain(100e6, 394.7436, 0.0427684, card))
    0.027474

    References
    ----------
    Liang and Rogers 1990, reverse transformation in proportion to xi (from memory).
    """
    # a set unwound past its zero: no shift by a stress below zero, so that the strain still rises
    xi = martensite_fraction_heating(temperature, jnp.maximum(tau, 0.0), alloy)
    return jnp.asarray(tau) / mixed_shear_modulus(xi, alloy) + locked_strain * xi


def hot_stress(
    gamma: ArrayLike, temperature: ArrayLike, locked_strain: ArrayLike, alloy: Alloy
) -> Array:
    """Shear stress that a heated tube exerts at a strain: the inverse of :func:`hot_strain`.

    Parameters
    ----------
    gamma
        Total shear strain (twist times r_w over length) [1], any shape.
    temperature
        Tube temperature [K], broadcasts.
    locked_strain
        Transformation shear strain locked in when the leg starts [1].
    alloy
        Card.

    Returns
    -------
    Array
        Shear stress [Pa].

    Notes
    -----
    Not capped: the caller compares with the allowable stress. Bracketed by ``G (gamma - gamma_s)``
    and ``G gamma``, G whichever modulus makes the bracket wider.

    Examples
    --------
    Back from the strain of the example above to 100 MPa:

    >>> from types import SimpleNamespace
    >>> card = SimpleNamespace(austenite_start=360.0, austenite_finish=380.0, austenite_slope=7e6,
    ...     slope_factor=1.0, austenite_shear_modulus=26e9, martensite_shear_modulus=12e9)
    >>> float(hot_stress(0.02747395, 394.7436, 0.0427684, card)) / 1e6
    100.0

    References
    ----------
    Derived (inverse of :func:`hot_strain`).
    """
    strain = jnp.asarray(gamma) + 0.0 * jnp.asarray(locked_strain) + 0.0 * jnp.asarray(temperature)
    locked = jnp.asarray(locked_strain) + 0.0 * strain
    stiff = jnp.maximum(alloy.austenite_shear_modulus, alloy.martensite_shear_modulus)

    def call(tau: Array) -> Array:
        return hot_strain(tau, temperature, locked, alloy)

    slope = jnp.asarray(alloy.austenite_slope) * alloy.slope_factor / ROOT3
    elastic = strain - locked
    bottom = jnp.minimum(alloy.martensite_shear_modulus * elastic, stiff * elastic)
    bottom = jnp.minimum(bottom, stiff * strain)
    top = jnp.maximum(stiff * strain, bottom)
    low = jnp.maximum(
        bottom, jnp.minimum(top, slope * (jnp.asarray(temperature) - alloy.austenite_finish))
    )
    high = jnp.minimum(
        top, jnp.maximum(bottom, slope * (jnp.asarray(temperature) - alloy.austenite_start))
    )
    return bracketed_root(call, strain, (low, high), (low + high) / 2, steps=HOT_STEPS, kinked=True)
