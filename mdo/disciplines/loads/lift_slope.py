"""Lift-curve slope of a flat wing at any Mach number, in closed form.

Every function is elementwise. The slope is per radian of incidence, referred to the flat wing area.
"""

from __future__ import annotations

import jax
import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.loads.supersonic_slope import supersonic_lift_slope, transonic_end
from mdo.disciplines.loads.transonic import TRANSONIC_RISE, transonic_cubics

TRANSONIC_START = 0.85  # upper Mach number of the subsonic formula; judgement


def subsonic_lift_slope(
    *,
    mach: ArrayLike,
    aspect_ratio: ArrayLike,
    half_chord_sweep: ArrayLike,
    section_lift_efficiency: ArrayLike,
) -> Array:
    r"""Slope of a swept tapered wing below the critical Mach number.

    .. math:: C_{L\alpha} = \frac{2\pi A}
              {2 + \sqrt{4 + (A B/\kappa)^2 (1 + \tan^2\Lambda_{c/2}/B^2)}}, \quad B^2 = 1 - M^2

    Parameters
    ----------
    mach
        :math:`M` [1], 0 to 0.85 (clipped there).
    aspect_ratio
        :math:`A` [1].
    half_chord_sweep
        :math:`\Lambda_{c/2}` [rad].
    section_lift_efficiency
        :math:`\kappa` [1], section slope over :math:`2\pi/B`; 0.95 is usual.

    Returns
    -------
    Array
        :math:`C_{L\alpha}` [1/rad].

    Notes
    -----
    With kappa 1 it is 6 to 8 % above converged lifting surfaces for rectangles of A 4 to 6.

    Examples
    --------
    A 5, 45 deg, incompressible (hand: 10 pi/(2 + sqrt(54))):

    >>> float(subsonic_lift_slope(mach=0.0, aspect_ratio=5.0, half_chord_sweep=jnp.pi / 4,
    ...     section_lift_efficiency=1.0))
    3.3605

    References
    ----------
    Polhamus; the handbook form of the DATCOM (from memory).
    """
    beta_squared = 1.0 - jnp.clip(jnp.asarray(mach), 0.0, TRANSONIC_START) ** 2
    aspect = jnp.asarray(aspect_ratio)
    group = (aspect / jnp.asarray(section_lift_efficiency)) ** 2
    root = jnp.sqrt(4.0 + group * (beta_squared + jnp.tan(half_chord_sweep) ** 2))
    return 2.0 * jnp.pi * aspect / (2.0 + root)


def lift_slope(
    *,
    mach: ArrayLike,
    aspect_ratio: ArrayLike,
    taper_ratio: ArrayLike,
    leading_edge_sweep: ArrayLike,
    half_chord_sweep: ArrayLike,
    section_lift_efficiency: ArrayLike,
) -> Array:
    r"""Slope at any Mach number, continuous with its derivative in Mach number.

    Parameters
    ----------
    mach
        Mach number [1], 0 to about 3.
    aspect_ratio
        Aspect ratio of the flat wing [1].
    taper_ratio
        Tip chord over root chord [1].
    leading_edge_sweep, half_chord_sweep
        Sweeps [rad].
    section_lift_efficiency
        Section slope over :math:`2\pi/B` [1].

    Returns
    -------
    Array
        Slope [1/rad].

    Notes
    -----
    Between Mach 0.85 and :func:`transonic_end` two cubics join the end formulas, with their slopes,
    to ``min(pi A/2, 1.15 x larger end value)`` at Mach 1, slope zero there: no theory, +-25 %. The
    blend keeps both end slopes; clipping it to monotone would break them. It overshoots its three
    values by up to 7 % (A = 4).

    Examples
    --------
    Mach 1 and aspect ratio 1: the slender value pi/2.

    >>> float(lift_slope(mach=1.0, aspect_ratio=1.0, taper_ratio=1.0, leading_edge_sweep=0.0,
    ...     half_chord_sweep=0.0, section_lift_efficiency=0.95))
    1.570796

    References
    ----------
    Ends: the functions of this module; Mach 1: Jones 1946, TR 835 (from memory); blend: judgement.
    """

    def subsonic(value: Array) -> Array:
        return subsonic_lift_slope(
            mach=value,
            aspect_ratio=aspect_ratio,
            half_chord_sweep=half_chord_sweep,
            section_lift_efficiency=section_lift_efficiency,
        )

    def supersonic(value: Array) -> Array:
        return supersonic_lift_slope(
            mach=value,
            aspect_ratio=aspect_ratio,
            taper_ratio=taper_ratio,
            leading_edge_sweep=leading_edge_sweep,
        )

    aspect = jnp.asarray(aspect_ratio, dtype=float)
    mach = jnp.asarray(mach, dtype=float) + jnp.zeros_like(aspect)
    low = jnp.full_like(mach, TRANSONIC_START * (1.0 - 1e-12))  # inside the clip of the formula
    high = transonic_end(aspect) + jnp.zeros_like(mach)
    unit = jnp.ones_like(mach)
    low_value, low_slope = jax.jvp(subsonic, (low,), (unit,))
    high_value, high_slope = jax.jvp(supersonic, (high,), (unit,))
    sonic = jnp.minimum(0.5 * jnp.pi * aspect, TRANSONIC_RISE * jnp.maximum(low_value, high_value))
    start, end = (low, low_value, low_slope), (high, high_value, high_slope)
    blended = transonic_cubics(mach, start=start, sonic=sonic, end=end)
    outside = jnp.where(
        mach < 1.0, subsonic(jnp.minimum(mach, low)), supersonic(jnp.maximum(mach, high))
    )
    return jnp.where((mach > low) & (mach < high), blended, outside)
