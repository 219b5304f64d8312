"""Shape-memory alloy in shear: strains, phase temperatures and kinetics (uniform shear stress).

J2 equivalence maps the transformation part only: sigma = sqrt(3) tau, gamma_t = sqrt(3) eps_t; the
elastic part uses G = E/(2(1 + nu)) (Lagoudas (ed.), Shape Memory Alloys, 2008, from memory). The
card's factors f_H and f_C scale gamma_t and C/sqrt(3).

Two cards serve the examples: a made-up one (G_A 26, G_M 12 GPa, M_s 340, M_f 320, A_s 360, A_f
380 K, C 7 MPa/K, H_sat 0.03, k 0.01 per MPa) worked out by hand, and the wire of Brinson 1993.
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

    .. math:: \gamma_t = \sqrt3 f_H [H_{min} + (H_{sat}-H_{min})(1 - e^{-k(\sigma-\sigma_c)_+})],
        \quad \sigma = \sqrt3\tau

    Parameters
    ----------
    tau
        Shear stress :math:`\tau` [Pa], any shape; below zero the strain is that of :math:`H_{min}`.
    alloy
        Card with strain_min, strain_saturation, strain_rate_constant, strain_threshold_stress.

    Returns
    -------
    Array
        Engineering shear strain :math:`\gamma_t` [1].

    Notes
    -----
    The kink at the threshold stress is a parabola of half width 2 MPa; H(0) = H_min exactly.

    Examples
    --------
    The made-up card at 100 MPa (hand: sigma 173.2 MPa, H 0.024692):

    >>> from types import SimpleNamespace
    >>> card = SimpleNamespace(strain_min=0.0, strain_saturation=0.03, strain_rate_constant=1e-8,
    ...     strain_threshold_stress=0.0, strain_factor=1.0)
    >>> float(transformation_strain_cooling(100e6, card))
    0.0427684

    References
    ----------
    Lagoudas et al. 2012, Int. J. Plasticity 32-33, 155-183 (from memory).
    """
    sigma = ROOT3 * jnp.asarray(tau)
    over = threshold(sigma, alloy.strain_threshold_stress)
    rise = 1.0 - jnp.exp(-jnp.asarray(alloy.strain_rate_constant) * over)
    span = jnp.asarray(alloy.strain_saturation) - alloy.strain_min
    return ROOT3 * jnp.asarray(alloy.strain_factor) * (alloy.strain_min + span * rise)


def threshold(sigma: ArrayLike, threshold_stress: ArrayLike) -> Array:
    r"""Excess of a stress over a threshold, exact 2 MPa away from it and C1 between.

    .. math:: (\sigma - \sigma_c)_+

    Parameters
    ----------
    sigma
        Stress :math:`\sigma` [Pa], any shape.
    threshold_stress
        Threshold :math:`\sigma_c` [Pa], not negative.

    Returns
    -------
    Array
        Excess [Pa], not negative.

    Notes
    -----
    The parabola that replaces the kink lies within the stress axis: a threshold below 2 MPa is
    smoothed over its own height, so no strain forms without stress and a threshold of zero is the
    stress itself.

    Examples
    --------
    Far from the threshold, and at it (a quarter of the half width, by hand):

    >>> float(threshold(150e6, 100e6)) / 1e6, float(threshold(100e6, 100e6)) / 1e6
    (50.0, 0.5)

    References
    ----------
    Derived (quadratic blend with compact support).
    """
    width = jnp.minimum(THRESHOLD_WIDTH, jnp.asarray(threshold_stress)) + 1e-3
    return blended_max(jnp.asarray(sigma) - threshold_stress, 0.0, width)


def transformation_strain_detwinning(tau: ArrayLike, alloy: Alloy) -> Array:
    r"""Engineering shear strain of cold, self-accommodated martensite that is loaded.

    .. math:: \gamma_t = \sqrt3 f_H [H_{min} + (H_{sat}-H_{min})\,
              S((\sigma-\sigma_s)/(\sigma_f-\sigma_s))], \quad S(x) = (1 - \cos\pi x)/2

    Parameters
    ----------
    tau
        Shear stress :math:`\tau` [Pa], any shape; :math:`\sigma = \sqrt3\tau`.
    alloy
        Card with detwinning_start_stress, detwinning_finish_stress and the strains.

    Returns
    -------
    Array
        Engineering shear strain [1]: that of H_min below sigma_s, that of H_sat above sigma_f.

    Notes
    -----
    Holds below Ms; the stresses of start and finish are those of tension.

    Examples
    --------
    Wire of Brinson 1993 (sigma_s 100, sigma_f 170 MPa, H 0.067): half of the strain at 135 MPa.

    >>> from types import SimpleNamespace
    >>> wire = SimpleNamespace(strain_min=0.0, strain_saturation=0.067, strain_factor=1.0,
    ...     detwinning_start_stress=100e6, detwinning_finish_stress=170e6)
    >>> float(transformation_strain_detwinning(135e6 / ROOT3, wire))
    0.0580237

    References
    ----------
    Brinson 1993, J. Intell. Mater. Syst. Struct. 4, 229 (from memory).
    """
    sigma = ROOT3 * jnp.asarray(tau)
    width = jnp.asarray(alloy.detwinning_finish_stress) - alloy.detwinning_start_stress
    step = smooth_step((sigma - alloy.detwinning_start_stress) / width)
    span = jnp.asarray(alloy.strain_saturation) - alloy.strain_min
    return ROOT3 * jnp.asarray(alloy.strain_factor) * (alloy.strain_min + span * step)


def martensite_strain(tau: ArrayLike, alloy: Alloy, retwist: ArrayLike) -> Array:
    r"""Total shear strain of the cold tube.

    .. math:: \gamma = \tau/G_M + \gamma_t(\tau)

    Parameters
    ----------
    tau
        Shear stress :math:`\tau` [Pa], any shape.
    alloy
        Card.
    retwist
        0 cooled under load (H_cool), 1 cooled free and then re-twisted (H_detw) [1].

    Returns
    -------
    Array
        Engineering shear strain :math:`\gamma` [1].

    Examples
    --------
    Wire of Brinson 1993, twinned martensite loaded at 5 degC, G_M 26.3 GPa/2.66 (hand: the point at
    sigma 135 MPa is 0.0078831 + 0.0580237):

    >>> from types import SimpleNamespace
    >>> wire = SimpleNamespace(strain_min=0.0, strain_saturation=0.067, strain_factor=1.0,
    ...     strain_rate_constant=1e-8, strain_threshold_stress=0.0,
    ...     detwinning_start_stress=100e6, detwinning_finish_stress=170e6,
    ...     martensite_shear_modulus=9.887218e9)
    >>> float(martensite_strain(135e6 / ROOT3, wire, retwist=1.0))
    0.065907

    References
    ----------
    Lagoudas et al. 2012, Int. J. Plasticity 32-33, 155-183, additive strain (from memory).
    """
    transformed = jnp.where(
        jnp.asarray(retwist) > 0.5,
        transformation_strain_detwinning(tau, alloy),
        transformation_strain_cooling(tau, alloy),
    )
    return jnp.asarray(tau) / alloy.martensite_shear_modulus + transformed


def martensite_stress(gamma: ArrayLike, alloy: Alloy, retwist: ArrayLike) -> Array:
    """Shear stress of the cold tube at a given strain: the inverse of :func:`martensite_strain`.

    Parameters
    ----------
    gamma
        Total engineering shear strain [1], any shape; below gamma_t(0) the root is negative.
    alloy
        Card.
    retwist
        0 cooled under load (H_cool), 1 cooled free and then re-twisted (H_detw) [1].

    Returns
    -------
    Array
        Shear stress [Pa].

    Notes
    -----
    The strain rises strictly with the stress and lies between ``tau/G_M + gamma_t(0)`` and
    ``tau/G_M + gamma_t(inf)``, which brackets the root; safeguarded Newton on the bracket, then one
    differentiable Newton step, which gives the implicit-function derivative exactly.

    Examples
    --------
    Back from the strain of the example above to 135 MPa/sqrt(3):

    >>> from types import SimpleNamespace
    >>> wire = SimpleNamespace(strain_min=0.0, strain_saturation=0.067, strain_factor=1.0,
    ...     strain_rate_constant=1e-8, strain_threshold_stress=0.0,
    ...     detwinning_start_stress=100e6, detwinning_finish_stress=170e6,
    ...     martensite_shear_modulus=9.887218e9)
    >>> float(martensite_stress(0.0659068, wire, retwist=1.0)) / 1e6
    77.942

    References
    ----------
    Derived (inverse of :func:`martensite_strain`).
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

    Parameters
    ----------
    function
        Increasing elementwise function of one array.
    target
        Wanted value, any shape, in the unit of the function's result.
    bracket, start
        Lower and upper bound, first point, in the unit of x; broadcast to target.
    steps
        Number of Newton steps.
    kinked
        Halve the bracket every third turn until convergence; Newton alone can swing between the two
        sides of a kink for ever.

    Returns
    -------
    Array
        Root, in the unit of x, shape of target.

    Notes
    -----
    Newton steps that leave the bracket are replaced by its middle. The iterations carry no
    derivative; one last Newton step on the converged point does, so the derivative is that of the
    implicit function theorem.

    Examples
    --------
    Cube root of two, 1.259921:

    >>> bracket = (jnp.asarray(0.0), jnp.asarray(2.0))
    >>> two = jnp.asarray(2.0)
    >>> float(bracketed_root(lambda x: x**3, two, bracket, two, steps=20, kinked=False))
    1.259921

    References
    ----------
    Derived (safeguarded Newton; implicit function theorem).
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
    """Transformation temperatures under stress [K]: start and finish of either phase, any shape."""

    martensite_start: Array
    martensite_finish: Array
    austenite_start: Array
    austenite_finish: Array


def stress_shift(tau: ArrayLike, slope: ArrayLike, alloy: Alloy) -> Array:
    r"""Shift of a transformation temperature by a shear stress.

    .. math:: \Delta T = \sqrt3\,\tau/(f_C C)

    Parameters
    ----------
    tau
        Shear stress :math:`\tau` [Pa], any shape.
    slope
        Tensile stress per kelvin :math:`C` [Pa/K], above zero.
    alloy
        Card with slope_factor :math:`f_C`.

    Returns
    -------
    Array
        Shift [K], towards hot for a positive stress.

    Examples
    --------
    100 MPa at 7 MPa/K (hand: 173.205/7):

    >>> from types import SimpleNamespace
    >>> float(stress_shift(100e6, 7e6, SimpleNamespace(slope_factor=1.0)))
    24.7436

    References
    ----------
    Clausius-Clapeyron line of any text on shape-memory alloys (from memory); J2 mapping as above.
    """
    return ROOT3 * jnp.asarray(tau) / (jnp.asarray(slope) * alloy.slope_factor)


def phase_temperatures(tau: ArrayLike, alloy: Alloy) -> PhaseTemperatures:
    r"""Transformation temperatures at a shear stress (Clausius-Clapeyron lines).

    .. math:: M_s' = M_s + \sigma/C_M, \quad M_f' = M_f + \sigma/C_M, \quad
              A_s' = A_s + \sigma/C_A, \quad A_f' = A_f + \sigma/C_A

    Parameters
    ----------
    tau
        Shear stress [Pa], any shape; :math:`\sigma = \sqrt3\tau/f_C`.
    alloy
        Card with zero-stress temperatures and slopes.

    Returns
    -------
    PhaseTemperatures
        Four temperatures [K], shape of tau.

    Examples
    --------
    The made-up card at 100 MPa (hand: 24.744 K up):

    >>> from types import SimpleNamespace
    >>> card = SimpleNamespace(martensite_start=340.0, martensite_finish=320.0,
    ...     austenite_start=360.0, austenite_finish=380.0, martensite_slope=7e6,
    ...     austenite_slope=7e6, slope_factor=1.0)
    >>> [float(value) for value in phase_temperatures(100e6, card)]
    [364.744, 344.744, 384.744, 404.744]

    References
    ----------
    Any text on shape-memory alloys (from memory).
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
    r"""Martensite fraction on the heating envelope (full loop, cosine kinetics).

    .. math:: \xi = S\left(\frac{A_f' - T}{A_f - A_s}\right), \quad S(x) = (1 - \cos\pi x)/2

    Parameters
    ----------
    temperature
        Tube temperature :math:`T` [K], any shape.
    tau
        Shear stress [Pa], broadcasts.
    alloy
        Card.

    Returns
    -------
    Array
        Martensite fraction :math:`\xi` [1], 1 below As', 0 above Af'.

    Examples
    --------
    The made-up card under 100 MPa, 390 K and halfway (hand: 0.83903, 0.5):

    >>> from types import SimpleNamespace
    >>> card = SimpleNamespace(austenite_start=360.0, austenite_finish=380.0, austenite_slope=7e6,
    ...     slope_factor=1.0)
    >>> kelvin = jnp.array([390.0, 394.7436])
    >>> [float(xi) for xi in martensite_fraction_heating(kelvin, 100e6, card)]
    [0.83903, 0.50000]

    References
    ----------
    Heating branch of Liang and Rogers 1990, J. Intell. Mater. Syst. Struct. 1, 207, for xi_0 = 1
    (from memory).
    """
    finish = alloy.austenite_finish + stress_shift(tau, alloy.austenite_slope, alloy)
    width = jnp.asarray(alloy.austenite_finish) - alloy.austenite_start
    return smooth_step((finish - temperature) / width)


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
