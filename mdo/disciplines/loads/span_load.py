"""Share of the lift of the flat wing that its folding panel carries, and the moment of it.

Reference: hinge-moment, sections 1.2, 1.4 and 1.5.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
import numpy as np
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.loads.lift_slope import (
    TRANSONIC_START,
    leading_edge_ratio,
    smooth_step,
    supersonic_edge_slope,
    transonic_end,
)
from mdo.disciplines.records import Planform


class SpanLoad(NamedTuple):
    """Flat wing: hinge moment/(L b/2) and panel normal force/L, L the lift of both wings."""

    moment: Array
    force: Array


# Quadrature on the unit interval for the part of a panel inside its tip cone
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)
_UNIT_NODES, _UNIT_WEIGHTS = 0.5 * (_NODES + 1.0), 0.5 * _WEIGHTS

_EDGE_START = 1.02  # Mach number from which the supersonic-edge form has weight
_MIN_BETA = 0.2  # reached below _EDGE_START, where the form has no weight; keeps 1/beta finite
MIN_SHARE = 0.01  # guard of quotients, reached only where the form has no weight


def elliptic_span_load(fold_fraction: ArrayLike) -> SpanLoad:
    r"""Share of an elliptic loading carried outboard of the fold.

    .. math:: F_1 = (1-\eta^2)^{3/2}/3 - (\eta/2)(\arccos\eta - \eta\sqrt{1-\eta^2}), \quad
              F_0 = \tfrac12 (\arccos\eta - \eta\sqrt{1-\eta^2})

    Parameters
    ----------
    fold_fraction
        :math:`f = 1 - \eta`, panel span over semi-span, 0 to 1.

    Returns
    -------
    SpanLoad
        :math:`2 F_1/\pi` and :math:`2 F_0/\pi`.

    Examples
    --------
    A fold fraction of 0.4 gives a moment of 0.0232227.

    References
    ----------
    Derived; reference hinge-moment, section 1.2.
    """
    eta = 1.0 - jnp.asarray(fold_fraction)
    root = jnp.sqrt(1.0 - eta**2)
    area = jnp.arccos(eta) - eta * root
    moment = root**3 / 3.0 - 0.5 * eta * area
    return SpanLoad(moment=2.0 / jnp.pi * moment, force=area / jnp.pi)


def subsonic_span_load(planform: Planform) -> SpanLoad:
    """Elliptic share up to 20 deg of quarter-chord sweep, Schrenk's from 35 deg, linear between.

    Parameters
    ----------
    planform
        Wing and panel.

    Returns
    -------
    SpanLoad
        Moment/(L b/2) and force/L.

    References
    ----------
    Reference hinge-moment, section 1.2 (rule fitted to lifting-surface results, +-10 %).
    """
    start, end = np.radians(20.0), np.radians(35.0)
    blend = jnp.clip((jnp.abs(planform.quarter_chord_sweep) - start) / (end - start), 0.0, 1.0)
    elliptic = elliptic_span_load(fold_fraction(planform))
    return SpanLoad(
        moment=mix(blend, planform.schrenk_moment_factor, elliptic.moment),
        force=mix(blend, planform.schrenk_force_factor, elliptic.force),
    )


def fold_fraction(planform: Planform) -> Array:
    """Panel span over semi-span of the flat wing."""
    return jnp.asarray(planform.panel_span) / (0.5 * jnp.asarray(planform.span))


def mix(weight: ArrayLike, one: ArrayLike, zero: ArrayLike) -> Array:
    """`one` where the weight is 1, `zero` where it is 0."""
    return jnp.asarray(weight) * one + (1.0 - jnp.asarray(weight)) * zero


def tip_cone_integrals(reach: ArrayLike) -> SpanLoad:
    r"""Integrals of the section load of an edge at supersonic speed.

    .. math:: I(e) = \tfrac{2}{\pi}(\arcsin\sqrt e + \sqrt{e(1-e)}), \quad
              \int_0^x I\,de, \quad \int_0^x I (x - e)\,de

    Parameters
    ----------
    reach
        :math:`x = \beta w/c`, panel span over the width of the tip Mach cone at the trailing edge.

    Returns
    -------
    SpanLoad
        ``force`` and ``moment`` integrals; beyond 1 they grow as :math:`x - 1/4` and
        :math:`x^2/2 - x/4 + 1/16`.

    References
    ----------
    Derived; reference hinge-moment, section 1.5.
    """
    reach = jnp.asarray(reach, dtype=float)
    inner = jnp.clip(reach, 1e-9, 1.0)[..., None]
    fraction = inner * _UNIT_NODES**2
    load = 2.0 / jnp.pi * (jnp.arcsin(jnp.sqrt(fraction)) + jnp.sqrt(fraction * (1.0 - fraction)))
    measure = 2.0 * inner * _UNIT_NODES * _UNIT_WEIGHTS * load
    inside = SpanLoad(
        force=jnp.sum(measure, axis=-1), moment=jnp.sum(measure * (inner - fraction), axis=-1)
    )
    outer = jnp.maximum(reach, 1.0)
    return SpanLoad(
        force=jnp.where(reach < 1.0, inside.force, outer - 0.25),
        moment=jnp.where(reach < 1.0, inside.moment, 0.5 * outer**2 - 0.25 * outer + 0.0625),
    )


def panel_edge_load(planform: Planform, beta: ArrayLike) -> SpanLoad:
    r"""Load of a flat outboard panel with supersonic edges, per :math:`q\,4\alpha/\beta`.

    .. math:: M = c\left[\frac{w^2}{2} - \frac{c}{\beta}\left(\frac w4 -
              \frac{c}{16\beta}\right)\right], \quad N = w c - \frac{c^2}{4\beta}

    Parameters
    ----------
    planform
        Panel; where it tapers, the two-dimensional part uses its area and centroid and the loss
        its tip chord (judgement; exact for rectangles).
    beta
        :math:`\sqrt{M^2-1}`, positive.

    Returns
    -------
    SpanLoad
        Moment [m**3] and force [m**2].

    References
    ----------
    Derived; reference hinge-moment, section 1.5.
    """
    beta = jnp.asarray(beta)
    mean, width = jnp.asarray(planform.panel_mean_chord), jnp.asarray(planform.panel_span)
    tip = jnp.maximum(2.0 * mean - planform.fold_chord, 1e-3 * mean)
    cone = tip / beta
    reach = width / cone
    integral = tip_cone_integrals(reach)
    area, centroid = jnp.asarray(planform.panel_area), jnp.asarray(planform.panel_centroid)
    moment = area * centroid - tip * cone**2 * (0.5 * reach**2 - integral.moment)
    force = area - tip * cone * (reach - integral.force)
    return SpanLoad(
        moment=jnp.maximum(moment, MIN_SHARE * area * centroid),
        force=jnp.maximum(force, MIN_SHARE * area),
    )


def supersonic_weight(planform: Planform, mach: ArrayLike) -> Array:
    """Weight of the supersonic-edge loading against the elliptic one, 0 to 1, smooth.

    It needs a supersonic leading edge (m from 1 to 1.4, judgement), tip cones that do not
    cross the other tip (beta A from 1 to 1.5) and a Mach number beyond the transonic range.
    """
    beta = supersonic_beta(mach)
    edge = smooth_step(leading_edge_ratio(beta, planform.leading_edge_sweep), 1.0, 1.4)
    aspect = smooth_step(beta * jnp.asarray(planform.aspect_ratio), 1.0, 1.5)
    return edge * aspect * smooth_step(mach, _EDGE_START, transonic_end(planform.aspect_ratio))


def swept_edge_gain(edge_ratio: ArrayLike) -> Array:
    r"""Load of an outboard panel behind a swept supersonic edge, over the unswept one.

    .. math:: g = \left(\frac{(1-m^{-2})^2 + 0.02}{1.02}\right)^{-1/4} \approx
              \frac{1}{\sqrt{1 - m^{-2}}}

    Parameters
    ----------
    edge_ratio
        :math:`m = \beta/\tan\Lambda`, used above 1.

    Returns
    -------
    Array
        1 for an unswept edge, 2.7 at :math:`m = 1`.

    Notes
    -----
    The exact gain of a two-dimensional swept edge grows without limit at :math:`m = 1`; the
    constant keeps it within 8 % of the exact conical delta, fold fraction 0.35, m from 1.2 up.

    References
    ----------
    Swept edge: reference hinge-moment, section 1.5 (derived). Conical delta: Stewart, from memory.
    """
    share = 1.0 - 1.0 / jnp.maximum(jnp.asarray(edge_ratio), 1.0) ** 2
    return ((share**2 + 0.02) / 1.02) ** -0.25


def supersonic_beta(mach: ArrayLike) -> Array:
    """Return sqrt(M^2 - 1), kept at 0.2 and above (there the supersonic form has no weight)."""
    return jnp.sqrt(jnp.maximum(jnp.asarray(mach) ** 2 - 1.0, _MIN_BETA**2))


def flat_span_load(planform: Planform, mach: ArrayLike) -> SpanLoad:
    """Share of the lift carried by the flat panel at any Mach number.

    Parameters
    ----------
    planform
        Wing and panel.
    mach
        Mach number, any shape.

    Returns
    -------
    SpanLoad
        Moment/(L b/2) and force/L, L the lift of both wings; shape of `mach`.

    Notes
    -----
    Below Mach 0.85 `subsonic_span_load`; at Mach 1 and above elliptic (slender wings, subsonic
    leading edges), or `panel_edge_load` times `swept_edge_gain` by `supersonic_weight`.

    References
    ----------
    Reference hinge-moment, sections 1.2, 1.4 and 1.5.
    """
    mach = jnp.asarray(mach)
    elliptic = elliptic_span_load(fold_fraction(planform))
    low = subsonic_span_load(planform)
    beta = supersonic_beta(mach)
    edge = panel_edge_load(planform, beta)
    slope = supersonic_edge_slope(
        beta=beta, aspect_ratio=planform.aspect_ratio, taper_ratio=planform.taper_ratio
    )
    gain = swept_edge_gain(leading_edge_ratio(beta, planform.leading_edge_sweep))
    per_lift = 4.0 * gain / (beta * slope * jnp.asarray(planform.reference_area))
    sonic = smooth_step(mach, TRANSONIC_START, 1.0)
    weight = supersonic_weight(planform, mach)
    semi_span = 0.5 * jnp.asarray(planform.span)
    below = SpanLoad(*(mix(sonic, one, zero) for one, zero in zip(elliptic, low, strict=True)))
    return SpanLoad(
        moment=mix(weight, edge.moment * per_lift / semi_span, below.moment),
        force=mix(weight, edge.force * per_lift, below.force),
    )
