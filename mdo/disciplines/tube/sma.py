"""Shape-memory alloy in shear: strains of martensite, cooled under load or detwinned.

J2 equivalence maps the transformation part only: sigma = sqrt(3) tau, gamma_t = sqrt(3) eps_t; the
elastic part uses G = E/(2(1 + nu)) (Lagoudas (ed.), Shape Memory Alloys, 2008, from memory). The
card's factor f_H scales gamma_t.

Two cards serve the examples: a made-up one (G_A 26, G_M 12 GPa, M_s 340, M_f 320, A_s 360, A_f
380 K, C 7 MPa/K, H_sat 0.03, k 0.01 per MPa) worked out by hand, and the wire of Brinson 1993.
"""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.records import Alloy
from mdo.disciplines.smooth import blended_max, smooth_step
from mdo.disciplines.tube.phases import ROOT3
from mdo.disciplines.tube.root import bracketed_root

THRESHOLD_WIDTH = 2e6  # [Pa] half width of the parabola at the threshold stress; judgement
# Safeguarded Newton steps that reach round-off over all strains (checked in the tests).
COLD_STEPS = 6


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
    turned = smooth_step((sigma - alloy.detwinning_start_stress) / width)
    span = jnp.asarray(alloy.strain_saturation) - alloy.strain_min
    return ROOT3 * jnp.asarray(alloy.strain_factor) * (alloy.strain_min + span * turned)


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
