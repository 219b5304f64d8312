"""How folding changes the loads of the wing, at any Mach number.

Factors are ratios of the folded to the flat wing at the same incidence: `moment` (hinge moment of
the panel), `force` (normal force of the panel), `inboard` (lift of the inner wing), `lift` (total).
At a given lift the relief is the ratio `moment`/`lift`, close to 1: never cos(phi) alone.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
import numpy as np
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.loads.lift_slope import TRANSONIC_START
from mdo.disciplines.loads.span_load import flat_span_load, fold_fraction, mix
from mdo.disciplines.loads.supersonic_slope import leading_edge_ratio, supersonic_edge_slope
from mdo.disciplines.loads.supersonic_span_load import (
    MIN_SHARE,
    panel_edge_load,
    supersonic_beta,
    supersonic_weight,
)
from mdo.disciplines.records import Planform
from mdo.disciplines.smooth import cubic_step


class FoldFactors(NamedTuple):
    """Ratios folded to flat at the same incidence [1]."""

    moment: Array
    force: Array
    inboard: Array
    lift: Array


# Slender (M = 1) factors at 90 deg over the fold fraction: exact cross-flow solution of the folded
# trace (derived); a second, independent one returns the same moment and force.
_SLENDER_FRACTION = np.array([0.15, 0.20, 0.30, 0.40, 0.50, 0.60])
_SLENDER_MOMENT = np.array([0.710, 0.686, 0.6365, 0.5865, 0.537, 0.487])
_SLENDER_FORCE = np.array([0.735, 0.713, 0.669, 0.624, 0.578, 0.5335])
_SLENDER_INBOARD = np.array([0.926, 0.9076, 0.8726, 0.8376, 0.8006, 0.7603])

# Conical solution over the fold angle, divided by 1 - cos(phi), every 5 deg from 0 to 115 (the
# first column at 1 deg): conical series of the wedge sectors, 20,000 terms, 200 Gauss points.
_CONE_ANGLE = np.radians(np.arange(0.0, 116.0, 5.0))
# fmt: off
_CONE_FORCE = np.array([
    0.530520, 0.530616, 0.530917, 0.531421, 0.532136, 0.533071, 0.534236, 0.535648, 0.537325,
    0.539291, 0.541573, 0.544206, 0.547231, 0.550699, 0.554670, 0.559218, 0.564435, 0.570433,
    0.577350, 0.581850, 0.581552, 0.577609, 0.570725, 0.561265])
_CONE_MOMENT = np.array([
    0.226325, 0.226419, 0.226716, 0.227215, 0.227924, 0.228855, 0.230022, 0.231445, 0.233148,
    0.235162, 0.237524, 0.240281, 0.243490, 0.247222, 0.251566, 0.256633, 0.262563, 0.269534,
    0.277778, 0.284073, 0.286135, 0.285156, 0.281851, 0.276587])
_CONE_INBOARD = np.array([
    -0.106111, -0.106302, -0.106901, -0.107906, -0.109326, -0.111175, -0.113473, -0.116242,
    -0.119513, -0.123319, -0.127705, -0.132721, -0.138429, -0.144900, -0.152221, -0.160498,
    -0.169855, -0.180444, -0.192450, -0.205796, -0.219402, -0.232302, -0.243814, -0.253412])
# fmt: on


def right_angle_factors(planform: Planform, mach: ArrayLike) -> FoldFactors:
    r"""Fold factors at 90 deg: regression up to Mach 0.85, slender table from Mach 1.

    .. math:: K_{M90} = \frac{0.952 - 0.717 f}{1 + 0.307 B A_o + 0.039 B A}, \quad
              K_{N90} = \frac{0.955 - 0.679 f}{1 + 0.187 B A_o + 0.034 B A}, \quad
              K_{in90} = 1.018 - 0.391 f

    Parameters
    ----------
    planform
        Wing and panel (:math:`f` fold fraction, :math:`A_o` panel aspect ratio).
    mach
        Mach number [1], any; :math:`B = \sqrt{1-M^2}`.

    Returns
    -------
    FoldFactors
        Moment, force and inboard factors [1]; ``lift`` is the inboard factor, unused here.

    Notes
    -----
    Rms error of the regression 0.027, 0.025 and 0.021, at most 0.07. Above Mach 1 the slender
    values are a stand-in, +-15 %.

    Examples
    --------
    Rectangle of aspect ratio 4, fold fraction 0.4, so A_o = 0.8 (hand: 0.6652/1.4016; a converged
    vortex lattice gives 0.463):

    >>> from types import SimpleNamespace
    >>> wing = SimpleNamespace(panel_span=0.8, span=4.0, panel_aspect_ratio=0.8, aspect_ratio=4.0)
    >>> float(right_angle_factors(wing, 0.0).moment)
    0.4746

    References
    ----------
    Derived: fit of 282 vortex-lattice planforms, slender cross-flow solution, both of this project.
    """
    fraction = fold_fraction(planform)
    mach = jnp.asarray(mach)
    root = jnp.sqrt(1.0 - jnp.clip(mach, 0.0, TRANSONIC_START) ** 2)
    panel, wing = root * planform.panel_aspect_ratio, root * planform.aspect_ratio
    sonic = cubic_step(mach, TRANSONIC_START, 1.0)
    moment = (0.952 - 0.717 * fraction) / (1.0 + 0.307 * panel + 0.039 * wing)
    force = (0.955 - 0.679 * fraction) / (1.0 + 0.187 * panel + 0.034 * wing)
    inboard = 1.018 - 0.391 * fraction
    inboard = mix(sonic, jnp.interp(fraction, _SLENDER_FRACTION, _SLENDER_INBOARD), inboard)
    return FoldFactors(
        moment=mix(sonic, jnp.interp(fraction, _SLENDER_FRACTION, _SLENDER_MOMENT), moment),
        force=mix(sonic, jnp.interp(fraction, _SLENDER_FRACTION, _SLENDER_FORCE), force),
        inboard=inboard,
        lift=inboard,
    )


def conical_factors(planform: Planform, mach: ArrayLike, fold_angle: ArrayLike) -> FoldFactors:
    r"""Fold factors of a supersonic panel with an unswept leading edge, exact conical solution.

    .. math:: K_M = \cos\varphi + \frac{c^3 m_1}{3\beta^2 M_0}, \quad
              K_N = \cos\varphi + \frac{c^2 n_0}{2\beta N_0}

    Parameters
    ----------
    planform
        Wing and panel; :math:`c` is the chord at the fold.
    mach
        Mach number above 1 [1], broadcast against the angles.
    fold_angle
        :math:`\varphi` [rad], up to about 110 deg either way.

    Returns
    -------
    FoldFactors
        Moment, force, inboard and lift factors [1].

    Notes
    -----
    Valid where the fold cone and the tip cone do not overlap, :math:`\beta w/c \ge 2`. The loss of
    the inboard side of the same cone follows from the same series (derived).

    Examples
    --------
    Rectangle at Mach sqrt(2), chord 1, panel 2.2 m, 90 deg, where m_1 = 5/18 and n_0 = 1/sqrt(3)
    (hand: 5/54/1.9325 and 1/(2 sqrt(3))/1.95):

    >>> from types import SimpleNamespace
    >>> wing = SimpleNamespace(panel_mean_chord=1.0, panel_span=2.2, fold_chord=1.0, panel_area=2.2,
    ...     panel_centroid=1.1, aspect_ratio=8.4, taper_ratio=1.0, reference_area=8.4)
    >>> right = conical_factors(wing, 2.0**0.5, jnp.pi / 2)
    >>> float(right.moment), float(right.force)
    (0.04791, 0.14804)

    References
    ----------
    Derived: conical solution with the transformation of Tschaplygin (from memory).
    """
    beta = supersonic_beta(mach)
    cosine = jnp.cos(fold_angle)
    angle, relief = jnp.abs(jnp.asarray(fold_angle)), 1.0 - cosine
    force_gain = relief * jnp.interp(angle, _CONE_ANGLE, _CONE_FORCE)
    moment_gain = relief * jnp.interp(angle, _CONE_ANGLE, _CONE_MOMENT)
    inboard_gain = relief * jnp.interp(angle, _CONE_ANGLE, _CONE_INBOARD)
    chord = jnp.asarray(planform.fold_chord)
    flat = panel_edge_load(planform, beta)
    slope = supersonic_edge_slope(
        beta=beta, aspect_ratio=planform.aspect_ratio, taper_ratio=planform.taper_ratio
    )
    half_wing = 0.5 * slope * beta / 4.0 * planform.reference_area
    inner = jnp.maximum(half_wing - flat.force, MIN_SHARE * half_wing)
    moment = cosine + chord**3 * moment_gain / (3.0 * beta**2 * flat.moment)
    force = cosine + chord**2 * force_gain / (2.0 * beta * flat.force)
    inboard = 1.0 + chord**2 * inboard_gain / (2.0 * beta * inner)
    lift = (inner * inboard + flat.force * force * cosine) / half_wing
    return FoldFactors(moment=moment, force=force, inboard=inboard, lift=lift)


def conical_weight(planform: Planform, mach: ArrayLike) -> Array:
    """Weight of the conical solution: beta w/c from 1.6 to 2 and a nearly unswept leading edge.

    Parameters
    ----------
    planform
        Wing and panel.
    mach
        Mach number [1], any shape.

    Returns
    -------
    Array
        Weight [1], never above :func:`supersonic_weight`.

    Notes
    -----
    The leading edge counts as unswept up to tan(sweep) = 0.2 beta and not from 0.5 beta on.

    Examples
    --------
    Unswept at Mach 2, panel of two chords: beta w/c = 3.46.

    >>> from types import SimpleNamespace
    >>> wing = SimpleNamespace(panel_span=2.0, fold_chord=1.0, leading_edge_sweep=0.0,
    ...     aspect_ratio=8.0)
    >>> float(conical_weight(wing, 2.0))
    1.0

    References
    ----------
    Judgement.
    """
    beta = supersonic_beta(mach)
    reach = beta * jnp.asarray(planform.panel_span) / jnp.asarray(planform.fold_chord)
    unswept = cubic_step(leading_edge_ratio(beta, planform.leading_edge_sweep), 2.0, 5.0)
    return cubic_step(reach, 1.6, 2.0) * unswept * supersonic_weight(planform, mach)


def fold_factors(planform: Planform, mach: ArrayLike, fold_angle: ArrayLike) -> FoldFactors:
    r"""Fold factors at a fold angle, any Mach number.

    .. math:: K(\varphi) = 1 - (1 - K_{90})(1 - \cos\varphi), \quad
              K_L = (1-\sigma) K_{in} + \sigma K_N \cos\varphi, \quad \sigma = 2 N_{o0}/L

    Parameters
    ----------
    planform
        Wing and panel.
    mach
        Mach number [1], broadcast against the angles.
    fold_angle
        :math:`\varphi` [rad], within about 110 deg either way; even.

    Returns
    -------
    FoldFactors
        Moment, force, inboard and lift factors [1].

    Notes
    -----
    The law in the fold angle is within 0.015 (moment), 0.020 (force) and 0.036 (inboard) of 282
    vortex-lattice planforms at five angles up to 110 deg.

    References
    ----------
    Derived: :func:`right_angle_factors`, :func:`conical_factors`, :func:`flat_span_load`.
    """
    cosine = jnp.cos(fold_angle)
    right = right_angle_factors(planform, mach)
    moment, force, inboard = (
        1.0 - (1.0 - value) * (1.0 - cosine) for value in (right.moment, right.force, right.inboard)
    )
    share = 2.0 * flat_span_load(planform, mach).force
    lift = (1.0 - share) * inboard + share * force * cosine
    cone = conical_factors(planform, mach, fold_angle)
    weight = conical_weight(planform, mach)
    law = FoldFactors(moment=moment, force=force, inboard=inboard, lift=lift)
    return FoldFactors(*(mix(weight, one, zero) for one, zero in zip(cone, law, strict=True)))


def toe_incidence(toe_angle: ArrayLike, fold_angle: ArrayLike, incidence: ArrayLike = 0.0) -> Array:
    r"""Incidence of the folded panel whose axis is toed, at a given incidence of the wing.

    .. math:: \sin\alpha_n = \hat V\cdot n(\varphi), \quad
              n = n_0\cos\varphi + (a\times n_0)\sin\varphi

    Parameters
    ----------
    toe_angle
        :math:`\tau` [rad], aft end of the axis outboard positive.
    fold_angle
        :math:`\varphi` [rad].
    incidence
        Incidence of the wing [rad], no sideslip.

    Returns
    -------
    Array
        :math:`\alpha_n` [rad].

    Examples
    --------
    10 deg of toe, 30 deg of fold (hand: asin(0.173648/2) = 4.98 deg):

    >>> float(jnp.degrees(toe_incidence(jnp.radians(10.0), jnp.radians(30.0))))
    4.98

    References
    ----------
    Derived.
    """
    alpha, sine = jnp.asarray(incidence), jnp.sin(fold_angle)
    across = jnp.cos(alpha) * jnp.sin(toe_angle) * sine
    return jnp.arcsin(across + jnp.sin(alpha) * jnp.cos(fold_angle))
