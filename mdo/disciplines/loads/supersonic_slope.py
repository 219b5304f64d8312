"""Lift-curve slope of a flat wing above Mach 1, by the condition of its leading edge.

Every function is elementwise. The slope is per radian of incidence, referred to the flat wing area.
"""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.smooth import cubic_step, hermite

_TRANSONIC_END_MIN = 1.15  # lowest Mach number of the supersonic formulas; judgement
_AGM_STEPS = 6  # doubles the digits at each step: 1e-12 relative for m >= 1e-4


def elliptic_integral_second_kind(complementary_modulus: ArrayLike) -> Array:
    r"""Complete elliptic integral of the second kind by the arithmetic-geometric mean.

    .. math:: E = \int_0^{\pi/2} \sqrt{1 - (1-m^2) \sin^2\theta}\, d\theta

    Parameters
    ----------
    complementary_modulus
        :math:`m = \sqrt{1-k^2}` [1], 1e-4 to 1 (clipped there: the value is 1 at 0).

    Returns
    -------
    Array
        :math:`E` [1], from 1 to pi/2.

    Examples
    --------
    Table 17.1 at k^2 = 0.75:

    >>> float(elliptic_integral_second_kind(0.5))
    1.21105603

    References
    ----------
    Abramowitz and Stegun 1964, Handbook of Mathematical Functions, 17.6 and table 17.1 (from
    memory).
    """
    geometric = jnp.clip(jnp.asarray(complementary_modulus, dtype=float), 1e-4, 1.0)
    arithmetic = jnp.ones_like(geometric)
    total = 0.5 * (1.0 - geometric**2)
    weight = 0.5
    for _ in range(_AGM_STEPS):
        weight *= 2.0
        total += weight * (0.5 * (arithmetic - geometric)) ** 2
        arithmetic, geometric = (0.5 * (arithmetic + geometric), jnp.sqrt(arithmetic * geometric))
    return 0.5 * jnp.pi / arithmetic * (1.0 - total)


def transonic_end(aspect_ratio: ArrayLike) -> Array:
    r"""Lowest Mach number of the supersonic formulas: the tip cones do not cross the other tip.

    .. math:: M_b = \max(1.15, \sqrt{1 + 1/A^2})

    Parameters
    ----------
    aspect_ratio
        :math:`A` [1].

    Returns
    -------
    Array
        Mach number [1].

    Examples
    --------
    >>> float(transonic_end(1.0)), float(transonic_end(4.0))
    (1.414214, 1.15)

    References
    ----------
    Derived (beta A = 1); 1.15 is judgement.
    """
    aspect = jnp.asarray(aspect_ratio)
    return jnp.maximum(_TRANSONIC_END_MIN, jnp.sqrt(1.0 + 1.0 / aspect**2))


def leading_edge_ratio(beta: ArrayLike, leading_edge_sweep: ArrayLike) -> Array:
    r"""Cotangent of the Mach angle over tangent of the sweep: above 1 the edge is supersonic.

    .. math:: m = \beta/\tan\Lambda_{LE}

    Parameters
    ----------
    beta
        :math:`\beta = \sqrt{M^2-1}` [1].
    leading_edge_sweep
        :math:`\Lambda_{LE}` [rad].

    Returns
    -------
    Array
        :math:`m` [1], at most 1e4, its value where unswept.

    Examples
    --------
    >>> float(leading_edge_ratio(1.0, jnp.pi / 4))
    1.000000

    References
    ----------
    Derived (normal Mach number of the edge).
    """
    tangent = jnp.maximum(jnp.abs(jnp.tan(leading_edge_sweep)), 1e-4)
    return jnp.minimum(jnp.asarray(beta) / tangent, 1e4)


def supersonic_edge_slope(
    *, beta: ArrayLike, aspect_ratio: ArrayLike, taper_ratio: ArrayLike
) -> Array:
    r"""Slope of a wing with supersonic edges: Ackeret's value less the loss in the two tip cones.

    .. math:: C_{L\alpha} = \frac{4}{\beta}\left(1 - \frac{A_{tip}}{2S}\right), \quad
              \frac{A_{tip}}{S} = \frac{1}{A\beta}\left(\frac{2\lambda}{1+\lambda}\right)^2

    Parameters
    ----------
    beta
        :math:`\beta = \sqrt{M^2-1}` [1], positive.
    aspect_ratio
        :math:`A` [1].
    taper_ratio
        :math:`\lambda` [1], tip chord over root chord.

    Returns
    -------
    Array
        :math:`C_{L\alpha}` [1/rad].

    Notes
    -----
    Exact for rectangles with :math:`A\beta \ge 1`. Tapered tips: the cone is taken as a triangle
    with an unswept trailing edge (judgement). Below :math:`A\beta = 1` a cubic in :math:`A\beta`
    joins the slender value :math:`\pi A/2` with equal slope.

    Examples
    --------
    Rectangles at Mach sqrt(2) (equation 2.18c: 4 - 2/A):

    >>> slope = supersonic_edge_slope(beta=1.0, aspect_ratio=jnp.array([2.0, 4.0]), taper_ratio=1.0)
    >>> [float(value) for value in slope]
    [3.0, 3.5]

    References
    ----------
    Anderson, Aircraft Performance and Design, 1999, equation 2.18c (rectangle); the rest derived.
    """
    beta, aspect = jnp.asarray(beta), jnp.asarray(aspect_ratio)
    taper = jnp.asarray(taper_ratio)
    tip = (2.0 * taper / (1.0 + taper)) ** 2
    group = aspect * beta
    outer = jnp.maximum(group, 0.99)  # beyond the joint: no tie of gradients there
    above = 4.0 / outer * (1.0 - tip / (2.0 * outer))
    inner = jnp.minimum(group, 1.01)
    end_value, end_slope, start_value = 4.0 - 2.0 * tip, 4.0 * (tip - 1.0), 0.5 * jnp.pi
    below = hermite(inner, start_value, 0.0, end_value, end_slope)
    return aspect * jnp.where(group >= 1.0, above, below)


def subsonic_edge_slope(
    *, beta: ArrayLike, aspect_ratio: ArrayLike, leading_edge_sweep: ArrayLike
) -> Array:
    r"""Supersonic slope of a delta-like wing whose leading edge is swept behind the Mach cone.

    .. math:: C_{L\alpha} = \frac{\pi A}{2 E(k)}, \quad k^2 = 1 - m^2, \quad
              m = \beta/\tan\Lambda_{LE}

    Parameters
    ----------
    beta
        :math:`\beta = \sqrt{M^2-1}` [1].
    aspect_ratio
        :math:`A` [1]; the aspect ratio of the delta with that leading edge, :math:`4/\tan\Lambda`,
        is an upper limit.
    leading_edge_sweep
        :math:`\Lambda_{LE}` [rad].

    Returns
    -------
    Array
        :math:`C_{L\alpha}` [1/rad]; for :math:`m > 1` divided by :math:`m` (a delta: 4/beta).

    Examples
    --------
    Delta of m = 0.5 at beta 1 (hand: pi/E(0.75) with 1.211056 of the table):

    >>> float(subsonic_edge_slope(beta=1.0, aspect_ratio=2.0, leading_edge_sweep=jnp.arctan(2.0)))
    2.5941

    References
    ----------
    Stewart 1946 (from memory); slender limit Jones 1946, TR 835 (from memory).
    """
    edge = leading_edge_ratio(beta, leading_edge_sweep)
    tangent = jnp.maximum(jnp.abs(jnp.tan(leading_edge_sweep)), 1e-4)
    aspect = jnp.minimum(jnp.asarray(aspect_ratio), 4.0 / tangent)
    integral = elliptic_integral_second_kind(edge)
    return 0.5 * jnp.pi * aspect / integral / jnp.maximum(edge, 1.0)


def supersonic_lift_slope(
    *,
    mach: ArrayLike,
    aspect_ratio: ArrayLike,
    taper_ratio: ArrayLike,
    leading_edge_sweep: ArrayLike,
) -> Array:
    """Slope above Mach 1, by the condition of the leading edge; smooth change from m = 1 to 1.2.

    Parameters
    ----------
    mach
        Mach number [1], above 1.
    aspect_ratio
        Aspect ratio of the flat wing [1].
    taper_ratio
        Tip chord over root chord [1].
    leading_edge_sweep
        Sweep of the leading edge [rad].

    Returns
    -------
    Array
        Slope [1/rad].

    Examples
    --------
    Rectangle of aspect ratio 2 at Mach sqrt(2):

    >>> float(supersonic_lift_slope(mach=2.0**0.5, aspect_ratio=2.0, taper_ratio=1.0,
    ...     leading_edge_sweep=0.0))
    3.0

    References
    ----------
    :func:`supersonic_edge_slope`, :func:`subsonic_edge_slope`; the change between them is
    judgement.
    """
    beta = jnp.sqrt(jnp.maximum(jnp.asarray(mach) ** 2 - 1.0, 1e-8))
    weight = cubic_step(leading_edge_ratio(beta, leading_edge_sweep), 1.0, 1.2)
    outer = supersonic_edge_slope(beta=beta, aspect_ratio=aspect_ratio, taper_ratio=taper_ratio)
    inner = subsonic_edge_slope(
        beta=beta, aspect_ratio=aspect_ratio, leading_edge_sweep=leading_edge_sweep
    )
    return weight * outer + (1.0 - weight) * inner
