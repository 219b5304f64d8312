"""Shape-memory alloy in shear: strains, phase temperatures and kinetics (uniform shear stress).

J2 equivalence maps the transformation part only: sigma = sqrt(3) tau, gamma_t = sqrt(3) eps_t; the
elastic part uses G = E/(2(1 + nu)) (Lagoudas (ed.), Shape Memory Alloys, Springer 2008, from
memory). The card's factors f_H and f_C scale gamma_t and C/sqrt(3).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import jax
import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.records import Alloy
from mdo.disciplines.smooth import blended_max, smooth_step

ROOT3 = 3.0**0.5
THRESHOLD_WIDTH = 2e6  # [Pa] half width of the parabola at the threshold stress; judgement
# Safeguarded Newton steps that reach round-off over all strains (checked in the tests); the hot
# strain has a flat stretch and a steep one, where some steps only halve the bracket.
COLD_STEPS = 6
HOT_STEPS = 26


def transformation_strain_cooling(tau: ArrayLike, alloy: Alloy) -> Array:
    r"""Engineering shear strain of martensite formed by cooling under a shear stress.

    .. math:: \gamma_t = \sqrt3 f_H [H_{min} + (H_{sat}-H_{min})(1 - e^{-k(\sigma-\sigma_c)_+})]

    with ``sigma = sqrt(3) tau``.

    The kink at sigma_crit is a parabola of half width 2 MPa; H(0) = H_min exactly. Stresses below
    zero give H_min. Source: Lagoudas et al., Int. J. Plasticity 32-33 (2012)
    155-183, from memory.

    Parameters
    ----------
    tau : shear stress [Pa], any shape
    alloy : card with strain_min, strain_saturation, strain_rate_constant, strain_threshold_stress
    """
    sigma = ROOT3 * jnp.asarray(tau)
    over = threshold(sigma, alloy.strain_threshold_stress)
    rise = 1.0 - jnp.exp(-jnp.asarray(alloy.strain_rate_constant) * over)
    span = jnp.asarray(alloy.strain_saturation) - alloy.strain_min
    return ROOT3 * jnp.asarray(alloy.strain_factor) * (alloy.strain_min + span * rise)


def threshold(sigma: ArrayLike, threshold_stress: ArrayLike) -> Array:
    """Excess of a stress over a threshold [Pa], exact 2 MPa away from it and C1 between.

    The parabola that replaces the kink lies within the stress axis: a threshold below 2 MPa is
    smoothed over its own height, so no strain forms without stress and a threshold of zero is the
    stress itself.
    """
    width = jnp.minimum(THRESHOLD_WIDTH, jnp.asarray(threshold_stress)) + 1e-3
    return blended_max(jnp.asarray(sigma) - threshold_stress, 0.0, width)


def transformation_strain_detwinning(tau: ArrayLike, alloy: Alloy) -> Array:
    r"""Engineering shear strain of cold, self-accommodated martensite that is loaded.

    .. math:: \gamma_t = \sqrt3 f_H [H_{min} + (H_{sat}-H_{min})\,
              S((\sigma-\sigma_s)/(\sigma_f-\sigma_s))]

    with the cosine step S of Brinson, J. Intell. Mater. Syst. Struct. 4 (1993) 229 (from memory;
    there between sigma_s and sigma_f below Ms).

    Parameters
    ----------
    tau : shear stress [Pa], any shape
    alloy : card with detwinning_start_stress, detwinning_finish_stress
    """
    sigma = ROOT3 * jnp.asarray(tau)
    width = jnp.asarray(alloy.detwinning_finish_stress) - alloy.detwinning_start_stress
    step = smooth_step((sigma - alloy.detwinning_start_stress) / width)
    span = jnp.asarray(alloy.strain_saturation) - alloy.strain_min
    return ROOT3 * jnp.asarray(alloy.strain_factor) * (alloy.strain_min + span * step)


def martensite_strain(tau: ArrayLike, alloy: Alloy, retwist: ArrayLike) -> Array:
    r"""Total shear strain of the cold tube: ``tau/G_M + gamma_t(tau)``.

    Parameters
    ----------
    tau : shear stress [Pa]
    alloy : card
    retwist : 0 cooled under load (H_cool), 1 cooled free and then re-twisted (H_detw)
    """
    transformed = jnp.where(
        jnp.asarray(retwist) > 0.5,
        transformation_strain_detwinning(tau, alloy),
        transformation_strain_cooling(tau, alloy),
    )
    return jnp.asarray(tau) / alloy.martensite_shear_modulus + transformed


def martensite_stress(gamma: ArrayLike, alloy: Alloy, retwist: ArrayLike) -> Array:
    r"""Shear stress of the cold tube at a given strain: the inverse of :func:`martensite_strain`.

    The strain rises strictly with the stress and lies between ``tau/G_M + gamma_t(0)`` and
    ``tau/G_M + gamma_t(inf)``, which brackets the root; safeguarded Newton on the bracket, then one
    differentiable Newton step, which gives the implicit-function derivative exactly.

    Parameters
    ----------
    gamma : total engineering shear strain, any shape; below gamma_t(0) the root is negative
    alloy : card
    retwist : 0 H_cool, 1 H_detw
    """
    target = jnp.asarray(gamma)
    modulus = jnp.asarray(alloy.martensite_shear_modulus)
    full = ROOT3 * jnp.asarray(alloy.strain_factor) * alloy.strain_saturation
    none = ROOT3 * jnp.asarray(alloy.strain_factor) * alloy.strain_min

    def strain(tau: Array) -> Array:
        return martensite_strain(tau, alloy, retwist)

    top = modulus * (target - none)
    bottom = jnp.maximum(modulus * (target - full), jnp.minimum(top, 0.0))
    # cooled under load: strain rises at most with the initial slope, which bounds the stress below
    steepest = 1.0 / modulus + (full - none) * ROOT3 * jnp.asarray(alloy.strain_rate_constant)
    onset = jnp.asarray(alloy.strain_threshold_stress) / ROOT3
    rise = jnp.maximum(target - none - onset / modulus, 0.0) / steepest
    cooled_low = jnp.maximum(bottom, jnp.minimum(top, onset) + rise - THRESHOLD_WIDTH)
    start = jnp.asarray(alloy.detwinning_start_stress) / ROOT3
    finish = jnp.asarray(alloy.detwinning_finish_stress) / ROOT3
    wound = jnp.asarray(retwist) > 0.5
    low = jnp.where(wound, jnp.maximum(bottom, jnp.minimum(top, start)), cooled_low)
    high = jnp.where(wound, jnp.minimum(top, jnp.maximum(bottom, finish)), top)
    first = jnp.where(wound, (low + high) / 2, low)
    return bracketed_root(strain, target, (low, high), first, steps=COLD_STEPS, kinked=False)


def bracketed_root(
    function: Callable[[Array], Array],
    target: Array,
    bracket: tuple[Array, Array],
    start: Array,
    *,
    steps: int,
    kinked: bool,
) -> Array:
    """Root of ``function(x) = target`` for an increasing elementwise function, with derivatives.

    Newton steps that leave the bracket are replaced by its middle. The iterations carry no
    derivative; one last Newton step on the converged point does, so the derivative is that of the
    implicit function theorem.

    Parameters
    ----------
    function : increasing elementwise function of one array
    target : wanted value, any shape
    bracket, start : lower and upper bound, first point; broadcast to target
    steps : number of Newton steps
    kinked : halve the bracket every third turn until convergence; Newton alone can swing between
        the two sides of a kink for ever
    """
    stop = jax.lax.stop_gradient
    wanted = stop(target)

    def step(turn: int, state: tuple[Array, Array, Array]) -> tuple[Array, Array, Array]:
        bottom, top, point = state
        value, slope = jax.jvp(function, (point,), (jnp.ones_like(point),))
        bottom = jnp.where(value < wanted, point, bottom)
        top = jnp.where(value < wanted, top, point)
        newton = point - (value - wanted) / slope
        size = jnp.abs(bottom) + jnp.abs(top)
        # round-off must not undo a converged point
        inside = (newton >= bottom - 1e-12 * size) & (newton <= top + 1e-12 * size)
        there = jnp.abs(newton - point) <= 1e-9 * size
        halves = (turn % 3 == 2) & kinked
        keep = inside & (there | ~jnp.asarray(halves))
        return bottom, top, jnp.where(keep, newton, (bottom + top) / 2)

    shaped = tuple(jnp.broadcast_to(stop(one), wanted.shape) for one in (*bracket, start))
    point = stop(jax.lax.fori_loop(0, steps, step, shaped)[2])
    value, slope = jax.jvp(function, (point,), (jnp.ones_like(point),))
    result: Array = point - (value - target) / stop(slope)
    return result


class PhaseTemperatures(NamedTuple):
    """Transformation temperatures under stress [K]."""

    martensite_start: Array
    martensite_finish: Array
    austenite_start: Array
    austenite_finish: Array


def stress_shift(tau: ArrayLike, slope: ArrayLike, alloy: Alloy) -> Array:
    """Shift of a transformation temperature by a shear stress [K]: ``sqrt(3) tau/(f_C C)``."""
    return ROOT3 * jnp.asarray(tau) / (jnp.asarray(slope) * alloy.slope_factor)


def phase_temperatures(tau: ArrayLike, alloy: Alloy) -> PhaseTemperatures:
    """Transformation temperatures at a shear stress (Clausius-Clapeyron lines).

    ``Ms' = Ms + sigma/C_M, Mf' = Mf + sigma/C_M, As' = As + sigma/C_A, Af' = Af + sigma/C_A``.
    Source: any text on shape-memory alloys, from memory.

    Parameters
    ----------
    tau : shear stress [Pa], any shape
    alloy : card with zero-stress temperatures [K] and slopes [Pa/K]
    """
    martensite = stress_shift(tau, alloy.martensite_slope, alloy)
    austenite = stress_shift(tau, alloy.austenite_slope, alloy)
    return PhaseTemperatures(
        martensite_start=jnp.asarray(alloy.martensite_start) + martensite,
        martensite_finish=jnp.asarray(alloy.martensite_finish) + martensite,
        austenite_start=jnp.asarray(alloy.austenite_start) + austenite,
        austenite_finish=jnp.asarray(alloy.austenite_finish) + austenite,
    )


def martensite_fraction_heating(temperature: ArrayLike, tau: ArrayLike, alloy: Alloy) -> Array:
    """Martensite fraction on the heating envelope (full loop, cosine kinetics).

    ``xi = S((Af' - T)/(Af - As))`` with the cosine step S; equals the heating branch of Liang and
    Rogers, J. Intell. Mater. Syst. Struct. 1 (1990) 207 (from memory), for xi_0 = 1.

    Parameters
    ----------
    temperature : tube temperature [K]
    tau : shear stress [Pa]
    alloy : card
    """
    finish = alloy.austenite_finish + stress_shift(tau, alloy.austenite_slope, alloy)
    width = jnp.asarray(alloy.austenite_finish) - alloy.austenite_start
    return smooth_step((finish - temperature) / width)


def mixed_shear_modulus(fraction: ArrayLike, alloy: Alloy) -> Array:
    """Shear modulus at a martensite fraction: ``1/G = (1 - xi)/G_A + xi/G_M`` (Reuss).

    Source: Boyd & Lagoudas, Int. J. Plasticity 12 (1996) 805-842, from memory.
    """
    xi = jnp.asarray(fraction)
    return 1.0 / ((1.0 - xi) / alloy.austenite_shear_modulus + xi / alloy.martensite_shear_modulus)


def hot_strain(
    tau: ArrayLike, temperature: ArrayLike, locked_strain: ArrayLike, alloy: Alloy
) -> Array:
    """Shear strain of a tube heated to a temperature under a stress: ``tau/G(xi) + gamma_s xi``.

    The transformation strain still in the tube is the one locked in when the leg starts, times xi:
    a hotter, more loaded tube does not twist further under load. Increases with the stress.

    Parameters
    ----------
    tau : shear stress [Pa]
    temperature : tube temperature [K]
    locked_strain : gamma_s, transformation shear strain locked in at the start of the leg
    alloy : card
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
    gamma : total shear strain (twist times r_w over length)
    temperature : tube temperature [K]
    locked_strain : gamma_s
    alloy : card

    Notes
    -----
    Not capped: the caller compares with the allowable stress. Bracketed by ``G (gamma - gamma_s)``
    and ``G gamma``, G whichever modulus makes the bracket wider.
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
