"""Share of the lift of the flat wing that its folding panel carries, and the moment of it."""

from __future__ import annotations

import jax.numpy as jnp
import numpy as np
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.loads.lift_slope import TRANSONIC_START
from mdo.disciplines.loads.supersonic_slope import leading_edge_ratio, supersonic_edge_slope
from mdo.disciplines.loads.supersonic_span_load import (
    SpanLoad,
    panel_edge_load,
    supersonic_beta,
    supersonic_weight,
    swept_edge_gain,
)
from mdo.disciplines.records import Planform
from mdo.disciplines.smooth import cubic_step


def elliptic_span_load(fold_fraction: ArrayLike) -> SpanLoad:
    r"""Share of an elliptic loading carried outboard of the fold.

    .. math:: F_1 = (1-\eta^2)^{3/2}/3 - (\eta/2)(\arccos\eta - \eta\sqrt{1-\eta^2}), \quad
              F_0 = \tfrac12 (\arccos\eta - \eta\sqrt{1-\eta^2})

    Parameters
    ----------
    fold_fraction
        :math:`f = 1 - \eta` [1], panel span over semi-span, 0 to 1.

    Returns
    -------
    SpanLoad
        :math:`2 F_1/\pi` [1] and :math:`2 F_0/\pi` [1].

    Examples
    --------
    Fold at 60 % of the semi-span (hand: F_1 = 0.0364781):

    >>> float(elliptic_span_load(0.4).moment)
    0.0232227

    References
    ----------
    Derived.
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
        Moment/(L b/2) [1] and force/L [1].

    Notes
    -----
    +-10 % of lifting surfaces (AR 2.5 to 10, taper 0.3 to 1, sweep 0 to 45 deg); Schrenk alone is
    16 to 36 % high on unswept wings, the elliptic share 13 % low at 45 deg.

    Examples
    --------
    Halfway between, at 27.5 deg, the mean of both (hand: (0.0232227 + 0.03)/2):

    >>> from types import SimpleNamespace
    >>> wing = SimpleNamespace(quarter_chord_sweep=-jnp.radians(27.5), panel_span=0.4, span=2.0,
    ...     schrenk_moment_factor=0.03, schrenk_force_factor=0.1)
    >>> float(subsonic_span_load(wing).moment)
    0.0266113

    References
    ----------
    Schrenk 1940, TM 948; rule derived from lifting-surface results of this project.
    """
    start, end = np.radians(20.0), np.radians(35.0)
    blend = jnp.clip((jnp.abs(planform.quarter_chord_sweep) - start) / (end - start), 0.0, 1.0)
    elliptic = elliptic_span_load(fold_fraction(planform))
    return SpanLoad(
        moment=mix(blend, planform.schrenk_moment_factor, elliptic.moment),
        force=mix(blend, planform.schrenk_force_factor, elliptic.force),
    )


def fold_fraction(planform: Planform) -> Array:
    """Panel span over semi-span of the flat wing.

    Parameters
    ----------
    planform
        Wing and panel.

    Returns
    -------
    Array
        Fold fraction [1].

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> float(fold_fraction(SimpleNamespace(panel_span=0.4, span=2.0)))
    0.4

    References
    ----------
    Derived (definition).
    """
    return jnp.asarray(planform.panel_span) / (0.5 * jnp.asarray(planform.span))


def mix(weight: ArrayLike, one: ArrayLike, zero: ArrayLike) -> Array:
    """Blend of two values: the first where the weight is 1, the second where it is 0.

    Parameters
    ----------
    weight
        Weight [1], 0 to 1.
    one, zero
        Values at weight 1 and 0, of any unit.

    Returns
    -------
    Array
        Blend, in the unit of the values.

    Examples
    --------
    >>> float(mix(0.25, 8.0, 4.0))
    5.0

    References
    ----------
    Derived (linear).
    """
    return jnp.asarray(weight) * one + (1.0 - jnp.asarray(weight)) * zero


def flat_span_load(planform: Planform, mach: ArrayLike) -> SpanLoad:
    """Share of the lift carried by the flat panel at any Mach number.

    Parameters
    ----------
    planform
        Wing and panel.
    mach
        Mach number [1], any shape.

    Returns
    -------
    SpanLoad
        Moment/(L b/2) [1] and force/L [1], L the lift of both wings; shape of `mach`.

    Notes
    -----
    Below Mach 0.85 :func:`subsonic_span_load`; at Mach 1 and above elliptic (slender wings,
    subsonic leading edges), or :func:`panel_edge_load` times :func:`swept_edge_gain` by
    :func:`supersonic_weight`.

    References
    ----------
    The functions named; elliptic loading of slender wings: Jones 1946, TR 835 (from memory).
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
    sonic = cubic_step(mach, TRANSONIC_START, 1.0)
    weight = supersonic_weight(planform, mach)
    semi_span = 0.5 * jnp.asarray(planform.span)
    below = SpanLoad(*(mix(sonic, one, zero) for one, zero in zip(elliptic, low, strict=True)))
    return SpanLoad(
        moment=mix(weight, edge.moment * per_lift / semi_span, below.moment),
        force=mix(weight, edge.force * per_lift, below.force),
    )
