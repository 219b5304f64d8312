"""Load of a flat outboard panel at supersonic speed, by the conical field of its tip."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
import numpy as np
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.loads.supersonic_slope import leading_edge_ratio, transonic_end
from mdo.disciplines.records import Planform
from mdo.disciplines.smooth import cubic_step


class SpanLoad(NamedTuple):
    """Flat wing: hinge moment/(L b/2) [1] and panel normal force/L [1], L the lift of both wings.

    Where a function says so the two have units: moment [m**3] and force [m**2] per ``q 4
    alpha/beta``.
    """

    moment: Array
    force: Array


# Quadrature on the unit interval for the part of a panel inside its tip cone
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)
_UNIT_NODES, _UNIT_WEIGHTS = 0.5 * (_NODES + 1.0), 0.5 * _WEIGHTS
_EDGE_START = 1.02  # Mach number from which the supersonic-edge form has weight
_MIN_BETA = 0.2  # reached below _EDGE_START, where the form has no weight; keeps 1/beta finite
MIN_SHARE = 0.01  # guard of quotients, reached only where the form has no weight


def tip_cone_integrals(reach: ArrayLike) -> SpanLoad:
    r"""Integrals of the section load of an edge at supersonic speed.

    .. math:: I(e) = \tfrac{2}{\pi}(\arcsin\sqrt e + \sqrt{e(1-e)}), \quad
              \int_0^x I\,de, \quad \int_0^x I (x - e)\,de

    Parameters
    ----------
    reach
        :math:`x = \beta w/c` [1], panel span over the width of the tip Mach cone at the trailing
        edge.

    Returns
    -------
    SpanLoad
        ``force`` and ``moment`` integrals [1]; beyond 1 they grow as :math:`x - 1/4` and
        :math:`x^2/2 - x/4 + 1/16`.

    Examples
    --------
    At the edge of the cone (hand: 3/4 and 3/4 - 7/16):

    >>> whole = tip_cone_integrals(1.0)
    >>> float(whole.force), float(whole.moment)
    (0.75, 0.3125)

    References
    ----------
    Derived from the conical field of a rectangular tip.
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
        Panel; where it tapers, the two-dimensional part uses its area and centroid and the loss its
        tip chord (judgement; exact for rectangles).
    beta
        :math:`\sqrt{M^2-1}` [1], positive.

    Returns
    -------
    SpanLoad
        Moment [m**3] and force [m**2].

    Examples
    --------
    Rectangle of chord 1 and span 2.2 m at beta 1 (hand: 2.42 - 0.55 + 0.0625 and 2.2 - 0.25):

    >>> from types import SimpleNamespace
    >>> panel = SimpleNamespace(panel_mean_chord=1.0, panel_span=2.2, fold_chord=1.0,
    ...     panel_area=2.2, panel_centroid=1.1)
    >>> load = panel_edge_load(panel, 1.0)
    >>> float(load.moment), float(load.force)
    (1.9325, 1.95)

    References
    ----------
    Derived from the conical field of a rectangular tip.
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
    """Weight of the supersonic-edge loading against the elliptic one, smooth.

    Parameters
    ----------
    planform
        Wing and panel.
    mach
        Mach number [1], any shape.

    Returns
    -------
    Array
        Weight [1], 0 to 1.

    Notes
    -----
    It needs a supersonic leading edge (m from 1 to 1.4, judgement), tip cones that do not cross the
    other tip (beta A from 1 to 1.5) and a Mach number beyond the transonic range.

    Examples
    --------
    An unswept wing of aspect ratio 4 at Mach 2, and at Mach 1:

    >>> from types import SimpleNamespace
    >>> wing = SimpleNamespace(leading_edge_sweep=0.0, aspect_ratio=4.0)
    >>> float(supersonic_weight(wing, 2.0)), float(supersonic_weight(wing, 1.0))
    (1.0, 0.0)

    References
    ----------
    Judgement.
    """
    beta = supersonic_beta(mach)
    edge = cubic_step(leading_edge_ratio(beta, planform.leading_edge_sweep), 1.0, 1.4)
    aspect = cubic_step(beta * jnp.asarray(planform.aspect_ratio), 1.0, 1.5)
    return edge * aspect * cubic_step(mach, _EDGE_START, transonic_end(planform.aspect_ratio))


def swept_edge_gain(edge_ratio: ArrayLike) -> Array:
    r"""Load of an outboard panel behind a swept supersonic edge, over the unswept one.

    .. math:: g = \left(\frac{(1-m^{-2})^2 + 0.02}{1.02}\right)^{-1/4} \approx
              \frac{1}{\sqrt{1 - m^{-2}}}

    Parameters
    ----------
    edge_ratio
        :math:`m = \beta/\tan\Lambda` [1], used above 1.

    Returns
    -------
    Array
        Gain [1]: 1 for an unswept edge, 2.7 at :math:`m = 1`.

    Notes
    -----
    The exact gain of a two-dimensional swept edge grows without limit at :math:`m = 1`; the
    constant keeps it within 8 % of the exact conical delta, fold fraction 0.35, m from 1.2 up.

    Examples
    --------
    At m = 1 (hand: 51^(1/4)):

    >>> float(swept_edge_gain(1.0))
    2.67235

    References
    ----------
    Swept edge derived; the constant fitted to the conical delta of Stewart 1946 (from memory).
    """
    share = 1.0 - 1.0 / jnp.maximum(jnp.asarray(edge_ratio), 1.0) ** 2
    return ((share**2 + 0.02) / 1.02) ** -0.25


def supersonic_beta(mach: ArrayLike) -> Array:
    r"""Prandtl factor at supersonic speed, kept at 0.2 and above.

    .. math:: \beta = \sqrt{M^2 - 1}

    Parameters
    ----------
    mach
        Mach number [1], any shape.

    Returns
    -------
    Array
        :math:`\beta` [1]; below 0.2 the supersonic form has no weight.

    Examples
    --------
    >>> float(supersonic_beta(1.25))
    0.75

    References
    ----------
    Ackeret 1925 (from memory).
    """
    return jnp.sqrt(jnp.maximum(jnp.asarray(mach) ** 2 - 1.0, _MIN_BETA**2))
