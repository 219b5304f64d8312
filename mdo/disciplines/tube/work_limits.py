r"""Physical limits printed beside a design: work, mass, energy, efficiency and time.

Bounds from sma-tubes note, section 7. They hold for any design of the kind; a design that beats one
is a fault of the model, not a success.
"""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.records import Alloy
from mdo.disciplines.tube.sma import transformation_strain_cooling

TINY = 1e-30  # guard of denominators that vanish for an absent set


def actuation_strain(tau: ArrayLike, alloy: Alloy) -> Array:
    """Shear strain between cold and hot at one stress [1].

    ``gamma_act = tau (1/G_M - 1/G_A) + sqrt(3) H_cool(sqrt(3) tau)``.

    Parameters
    ----------
    tau : shear stress [Pa] >= 0, any shape
    alloy : card
    """
    stress = jnp.asarray(tau)
    compliance = 1.0 / jnp.asarray(alloy.martensite_shear_modulus) - 1.0 / jnp.asarray(
        alloy.austenite_shear_modulus
    )
    return stress * compliance + transformation_strain_cooling(stress, alloy)


def work_ceiling(tau: ArrayLike, alloy: Alloy) -> Array:
    """Gross work of one stroke per kilogram of active alloy at one stress [J/kg].

    ``tau gamma_act/rho``; net of nothing: the return stroke is not taken off.

    Parameters
    ----------
    tau : shear stress, uniform [Pa] >= 0, any shape; the allowable one gives the ceiling
    alloy : card
    """
    return jnp.asarray(tau) * actuation_strain(tau, alloy) / alloy.density


def geometric_utilisation(wall_ratio: ArrayLike) -> Array:
    """Work of a tube under uniform stress over outer stress x outer strain x volume [1].

    ``(2/3)(1 - beta^3)/(1 - beta^2)``, beta = 1 - t/r_o; written without the 0/0 at beta = 1.

    Parameters
    ----------
    wall_ratio : t/r_o [1], 0 to 1, any shape
    """
    beta = 1.0 - jnp.asarray(wall_ratio)
    return 2.0 / 3.0 * (1.0 + beta + beta**2) / (1.0 + beta)


def load_matching_ratio(moment: Array, angle: Array) -> Array:
    """Work against the load over peak moment x travel [1], at most 1 (trapezoid rule).

    Parameters
    ----------
    moment : resisting moment along the travel [N*m], shape (..., A); where the load assists the
        work counts negative
    angle : fold angle [rad], shape (..., A), monotone
    """
    work = jnp.abs(jnp.trapezoid(moment, angle, axis=-1))
    travel = jnp.abs(angle[..., -1] - angle[..., 0])
    box = jnp.max(jnp.abs(moment), axis=-1) * travel
    return work / jnp.maximum(box, TINY)


def minimum_alloy_mass(
    work: ArrayLike,
    *,
    specific_work: ArrayLike,
    safety_factor: ArrayLike = 1.0,
    efficiency: ArrayLike = 1.0,
    load_matching: ArrayLike = 1.0,
) -> Array:
    r"""Least mass of active alloy that can do a work [kg].

    ``m = W FS/(w eta x ratio)``: a tube of constant torque is sized at the peak, so the work
    integral over the load-matching ratio is peak moment x travel. Ratio 1 is the bound of an ideal
    variable ratio.

    Parameters
    ----------
    work : W, integral of the moment over the fold [J] >= 0, any shape
    specific_work : w, allowed work per kilogram at the life asked for [J/kg] > 0
    safety_factor : FS [1]
    efficiency : product of geometric utilisation, joint, sharing and gear efficiencies [1] > 0
    load_matching : result of :func:`load_matching_ratio` [1] > 0
    """
    return (
        jnp.asarray(work)
        * safety_factor
        / (jnp.asarray(specific_work) * efficiency * jnp.asarray(load_matching))
    )


def minimum_stroke_energy(
    mass: ArrayLike, *, hot_temperature: ArrayLike, cold_temperature: ArrayLike, alloy: Alloy
) -> Array:
    """Heat that a mass of alloy takes in one stroke without any loss [J]: ``m (c dT + dh)``.

    Parameters
    ----------
    mass : [kg] >= 0, any shape
    hot_temperature, cold_temperature : [K]; on a cold start the cold one is that of the air
    alloy : card
    """
    rise = jnp.asarray(hot_temperature) - cold_temperature
    return jnp.asarray(mass) * (alloy.specific_heat * rise + alloy.latent_heat)


def minimum_fold_time(energy: ArrayLike, *, power: ArrayLike, dead_time: ArrayLike = 0.0) -> Array:
    """Least time to heat [s]: stroke energy without loss over the power, plus the dead time.

    Parameters
    ----------
    energy : [J] >= 0, any shape
    power : heater power [W] > 0
    dead_time : [s]
    """
    return jnp.asarray(energy) / jnp.maximum(power, TINY) + dead_time


def carnot_efficiency(hot_temperature: ArrayLike, cold_temperature: ArrayLike) -> Array:
    """Bound of the net work of a cycle over its heat [1]: ``1 - T_c/T_h``, kelvin."""
    return 1.0 - jnp.asarray(cold_temperature) / jnp.asarray(hot_temperature)


def gross_stroke_limit(
    *,
    hot_temperature: ArrayLike,
    cold_temperature: ArrayLike,
    heated_fraction: ArrayLike,
    alloy: Alloy,
) -> Array:
    r"""Clausius-Clapeyron bound of gross stroke work over heat, for what was transformed [1].

    ``f sigma H_sat/(rho (f dh + c dT))``, where sigma is the stress at which the fraction f has
    turned at the hot temperature: ``sigma = C_A (T_hot - As - (Af - As) arccos(1 - 2f)/pi)``
    (cosine kinetics), at f = 1 the note's ``C_A (T_hot - Af)``. The gross stroke is not bounded by
    Carnot: the load gives its work back on cooling. The card's factors f_C and f_H multiply it.

    Parameters
    ----------
    hot_temperature, cold_temperature : [K], any shape
    heated_fraction : f, share of the martensite turned at the hot temperature [1], 0 to 1
    alloy : card; where the hot temperature is too low for f the bound is zero

    Notes
    -----
    f = 1 alone is no bound: the kinetics are flat at f = 1, so a tube stressed a little more turns
    almost as much and does more work. The elastic part of the stroke is not in it.
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
    """Least difference of hot and cold temperature for a full stroke [K].

    ``(Af + sqrt3 tau_h/C_A) - (Mf + sqrt3 tau_c/C_M)``.

    Parameters
    ----------
    hot_stress, cold_stress : shear stress when hot and while cooling [Pa] >= 0, any shape
    alloy : card; the slopes carry the factor f_C
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
