"""Physical limits of one stroke in heat: energy, time, efficiency and temperature difference.

They hold for any design of the kind; a design that beats one is a fault of the model, not a
success.
"""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.records import Alloy
from mdo.disciplines.tube.work_limits import TINY


def minimum_stroke_energy(
    mass: ArrayLike, *, hot_temperature: ArrayLike, cold_temperature: ArrayLike, alloy: Alloy
) -> Array:
    r"""Heat that a mass of alloy takes in one stroke without any loss.

    .. math:: Q = m (c\,\Delta T + \Delta h)

    Parameters
    ----------
    mass
        Mass of alloy [kg], not negative, any shape.
    hot_temperature, cold_temperature
        Ends of the stroke [K]; on a cold start the cold one is that of the air.
    alloy
        Card with specific_heat c and latent_heat.

    Returns
    -------
    Array
        Heat [J].

    Examples
    --------
    0.3647389 kg from 293 to 410 K (hand: 20,057 J sensible, 7,294.8 J latent):

    >>> from types import SimpleNamespace
    >>> card = SimpleNamespace(specific_heat=470.0, latent_heat=20e3)
    >>> float(minimum_stroke_energy(0.3647389, hot_temperature=410.0, cold_temperature=293.0,
    ...     alloy=card))
    27351.8

    References
    ----------
    Derived (energy balance).
    """
    rise = jnp.asarray(hot_temperature) - cold_temperature
    return jnp.asarray(mass) * (alloy.specific_heat * rise + alloy.latent_heat)


def minimum_fold_time(energy: ArrayLike, *, power: ArrayLike, dead_time: ArrayLike = 0.0) -> Array:
    """Least time to heat: stroke energy without loss over the power, plus the dead time.

    .. math:: t = Q/P + t_d

    Parameters
    ----------
    energy
        Heat of the stroke Q [J], not negative, any shape.
    power
        Heater power P [W], above zero.
    dead_time
        Dead time [s].

    Returns
    -------
    Array
        Time [s].

    Examples
    --------
    >>> float(minimum_fold_time(27351.8, power=500.0))
    54.70

    References
    ----------
    Derived (energy balance).
    """
    return jnp.asarray(energy) / jnp.maximum(power, TINY) + dead_time


def carnot_efficiency(hot_temperature: ArrayLike, cold_temperature: ArrayLike) -> Array:
    r"""Bound of the net work of a cycle over its heat.

    .. math:: \eta = 1 - T_c/T_h

    Parameters
    ----------
    hot_temperature, cold_temperature
        Temperatures [K], any shape.

    Returns
    -------
    Array
        Efficiency [1].

    Examples
    --------
    >>> float(carnot_efficiency(410.0, 293.0))
    0.285

    References
    ----------
    Carnot 1824; any text on thermodynamics.
    """
    return 1.0 - jnp.asarray(cold_temperature) / jnp.asarray(hot_temperature)


def gross_stroke_limit(
    *,
    hot_temperature: ArrayLike,
    cold_temperature: ArrayLike,
    heated_fraction: ArrayLike,
    alloy: Alloy,
) -> Array:
    r"""Clausius-Clapeyron bound of gross stroke work over heat, for what was transformed.

    .. math:: \eta = \frac{f\,\sigma H_{sat}}{\rho(f\,\Delta h + c\,\Delta T)}, \quad
              \sigma = C_A\left(T_h - A_s - (A_f-A_s)\frac{\arccos(1-2f)}{\pi}\right)

    Parameters
    ----------
    hot_temperature, cold_temperature
        Ends of the stroke [K], any shape.
    heated_fraction
        Share f of the martensite turned at the hot temperature [1], 0 to 1.
    alloy
        Card; where the hot temperature is too low for f the bound is zero.

    Returns
    -------
    Array
        Efficiency [1].

    Notes
    -----
    sigma is the stress at which the fraction f has turned at the hot temperature (cosine kinetics);
    at f = 1 it is ``C_A (T_hot - Af)``. The gross stroke is not bounded by Carnot: the load gives
    its work back on cooling. The card's factors f_C and f_H multiply it. f = 1 alone is no bound:
    the kinetics are flat at f = 1, so a tube stressed a little more turns almost as much and does
    more work. The elastic part of the stroke is not in it.

    Examples
    --------
    The made-up card between 430 and 300 K (hand: 350e6 x 0.03/(6450 x 81,100)):

    >>> from types import SimpleNamespace
    >>> card = SimpleNamespace(austenite_start=360.0, austenite_finish=380.0, austenite_slope=7e6,
    ...     slope_factor=1.0, strain_factor=1.0, strain_saturation=0.03, density=6450.0,
    ...     specific_heat=470.0, latent_heat=20e3)
    >>> float(gross_stroke_limit(hot_temperature=430.0, cold_temperature=300.0, heated_fraction=1.0,
    ...     alloy=card))
    0.020073

    References
    ----------
    Derived from the Clausius-Clapeyron line and the kinetics of Liang and Rogers 1990 (from
    memory).
    """
    fraction = jnp.clip(jnp.asarray(heated_fraction), 1e-12, 1.0 - 1e-12)
    hot = jnp.asarray(hot_temperature)
    width = jnp.asarray(alloy.austenite_finish) - alloy.austenite_start
    unloaded = alloy.austenite_start + width * jnp.arccos(1.0 - 2.0 * fraction) / jnp.pi
    sigma = alloy.slope_factor * alloy.austenite_slope * jnp.maximum(hot - unloaded, 0.0)
    work = fraction * sigma * alloy.strain_factor * alloy.strain_saturation
    heat = alloy.specific_heat * (hot - cold_temperature) + fraction * alloy.latent_heat
    return work / (jnp.asarray(alloy.density) * jnp.maximum(heat, TINY))


def minimum_temperature_span(
    *, hot_stress: ArrayLike, cold_stress: ArrayLike, alloy: Alloy
) -> Array:
    r"""Least difference of hot and cold temperature for a full stroke.

    .. math:: \Delta T = (A_f + \sqrt3\tau_h/C_A) - (M_f + \sqrt3\tau_c/C_M)

    Parameters
    ----------
    hot_stress, cold_stress
        Shear stress when hot and while cooling [Pa], not negative, any shape.
    alloy
        Card; the slopes carry the factor f_C.

    Returns
    -------
    Array
        Difference [K].

    Examples
    --------
    The made-up card, 100 MPa hot and 50 MPa cold (hand: 60 + 24.7436/2):

    >>> from types import SimpleNamespace
    >>> card = SimpleNamespace(austenite_finish=380.0, martensite_finish=320.0, austenite_slope=7e6,
    ...     martensite_slope=7e6, slope_factor=1.0)
    >>> float(minimum_temperature_span(hot_stress=100e6, cold_stress=50e6, alloy=card))
    72.3718

    References
    ----------
    Derived from the Clausius-Clapeyron lines.
    """
    root3 = 3.0**0.5
    factor = jnp.asarray(alloy.slope_factor)
    hot = alloy.austenite_finish + root3 * jnp.asarray(hot_stress) / (
        factor * alloy.austenite_slope
    )
    cold = alloy.martensite_finish + root3 * jnp.asarray(cold_stress) / (
        factor * alloy.martensite_slope
    )
    return jnp.asarray(hot - cold)
