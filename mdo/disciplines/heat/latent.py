"""Latent heat of the transformation under stress."""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.records import Alloy
from mdo.disciplines.tube.phases import stress_shift


def latent_heat_under_stress(operating_stress: Array, alloy: Alloy) -> Array:
    """Latent heat of heating under stress [J/kg]: ``dH (T0 + sigma/C_A)/T0``, T0 = (Ms + Af)/2.

    The excess over dH is the work that the stroke gives at that stress (Clausius-Clapeyron), so the
    work is in the heat balance and is not added again. Reference thermal-power-mass 2.1.

    Parameters
    ----------
    operating_stress : uniform shear stress [Pa], any shape
    alloy : card
    """
    mean = (jnp.asarray(alloy.martensite_start) + alloy.austenite_finish) / 2.0
    shift = stress_shift(operating_stress, alloy.austenite_slope, alloy)
    return jnp.asarray(alloy.latent_heat) * (1.0 + shift / mean)
