"""Latent heat of the transformation under stress."""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.records import Alloy
from mdo.disciplines.tube.phases import stress_shift


def latent_heat_under_stress(operating_stress: Array, alloy: Alloy) -> Array:
    r"""Latent heat of heating under stress.

    .. math:: \Delta h\,\frac{T_0 + \sigma/C_A}{T_0}, \quad T_0 = \tfrac12 (M_s + A_f)

    Parameters
    ----------
    operating_stress
        Uniform shear stress :math:`\tau` [Pa], any shape; :math:`\sigma = \sqrt3\tau`.
    alloy
        Card.

    Returns
    -------
    Array
        Latent heat [J/kg].

    Notes
    -----
    The excess over the latent heat is the work that the stroke gives at that stress, so the work is
    in the heat balance and is not added again.

    Examples
    --------
    20 kJ/kg at 100 MPa, M_s 340, A_f 380 K, 7 MPa/K (hand: 20,000 x (1 + 24.7436/360)):

    >>> from types import SimpleNamespace
    >>> card = SimpleNamespace(martensite_start=340.0, austenite_finish=380.0, latent_heat=20e3,
    ...     austenite_slope=7e6, slope_factor=1.0)
    >>> float(latent_heat_under_stress(100e6, card))
    21374.6

    References
    ----------
    Derived from the Clausius-Clapeyron line; reference thermal-power-mass, section 2.1.
    """
    mean = (jnp.asarray(alloy.martensite_start) + alloy.austenite_finish) / 2.0
    shift = stress_shift(operating_stress, alloy.austenite_slope, alloy)
    return jnp.asarray(alloy.latent_heat) * (1.0 + shift / mean)
