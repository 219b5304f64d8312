"""Twist of a wall under a torque: bracketed, with its residual and implicit derivatives.

The tube of the examples has radii of 10 and 8 mm, the card is the made-up one of
:mod:`mdo.disciplines.tube.sma`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.records import Alloy
from mdo.disciplines.tube import hot, sma
from mdo.disciplines.tube.radial_wall import (
    Wall,
    hot_guess,
    hot_newton,
    mean_stress,
    value_and_slope,
)

STRESS_SCALE, STRAIN_SCALE = 100e6, 0.01  # [Pa], [1]: what residuals are measured by
TURNS = 60  # of a twist, most; a bracket alone closes in 40
CLOSE = 1e-6  # [1] strain: a step below it ends the turns
POLISH = 3  # steps of the whole wall at once that follow, to round-off
GUESS_STEPS = 2  # within 1e-6 of strain: enough while the twist is sought

Law = Callable[[Array, Any], Array]
Turn = tuple[Array, Array, Array, Array, Array, Array]


class Twisted(NamedTuple):
    """A wall under a mean stress: strain at r_w [1], stress of the points [Pa] (last axis).

    ``residual`` is the largest miss of mean stress over 100 MPa and of strain over 0.01 [1].
    """

    strain: Array
    stress: Array
    residual: Array


def twist_under(stress: ArrayLike, wall: Wall, given: Any, law: Law, inverse: Law) -> Twisted:
    r"""Strain of a wall under a mean stress, with the stress of its points.

    .. math:: \sum_p w_p\,\tau(\gamma\,r_p/r_w) = T/(A r_w)

    Parameters
    ----------
    stress
        Mean stress :math:`T/(A r_w)` [Pa], any shape.
    wall
        Points.
    given
        What law and inverse depend on beside their argument, in any unit; any tree of arrays.
    law
        Strain of a point at a stress, ``law(stress, given)``, rising with the stress.
    inverse
        Stress of a point at a strain, ``inverse(strain, given)``, to 1e-6 of strain or better.

    Returns
    -------
    Twisted
        Strain [1], stress of the points [Pa], residual [1].

    Notes
    -----
    The strains at which one point or another carries the mean stress bracket the root. Newton on
    the strain, halved where a step leaves the bracket or is not half of the one before; then three
    steps of all points at once. One more such step carries the derivatives.

    Examples
    --------
    An elastic wall (textbook: 84.16799 N*m twist radii of 10 and 8 mm by 10 deg over 0.5 m at 26
    GPa, 3.4907e-3 at the outer fibre):

    >>> from mdo.disciplines.tube.radial_wall import wall_points
    >>> tube = wall_points(0.2)
    >>> twisted = twist_under(82.3511e6, tube, 26e9, lambda tau, g: tau / g, lambda y, g: y * g)
    >>> float(twisted.strain * tube.ratio[-1]) * 1e3
    3.4907

    References
    ----------
    Derived (bracketed Newton, implicit function theorem); reference sma-tubes, section 1.2.
    """
    stop = jax.lax.stop_gradient
    wanted, points, fixed = stop((jnp.asarray(stress, dtype=float), wall, given))

    def local(tau: Array) -> Array:
        return law(tau, fixed)

    def turn(state: Turn) -> Turn:
        count, low, high, strain, last, _ = state
        away = last > CLOSE  # who is there stays: halving would throw it out again
        tau = inverse(strain[..., None] * points.ratio, fixed)
        _, slope = value_and_slope(local, tau)
        miss = mean_stress(tau, points) - wanted
        low, high = jnp.where(miss < 0, strain, low), jnp.where(miss < 0, high, strain)
        step = -miss / mean_stress(points.ratio / slope, points)
        newton = strain + step
        keep = (newton >= low) & (newton <= high) & (2 * jnp.abs(step) <= last)
        turned = jnp.where(away, jnp.where(keep, newton, (low + high) / 2), strain)
        return count + 1, low, high, turned, jnp.where(away, jnp.abs(turned - strain), last), tau

    def goes_on(state: Turn) -> Array:
        return (state[0] < TURNS) & jnp.any(state[4] > CLOSE)

    ends = local(wanted[..., None] + 0.0 * points.ratio) / points.ratio
    low, high = jnp.min(ends, axis=-1), jnp.max(ends, axis=-1)
    guess = mean_stress(ends, points)
    first = (jnp.array(0), low, high, guess, high - low + 2 * CLOSE, ends)
    _, _, _, strain, _, tau = jax.lax.while_loop(goes_on, turn, first)

    def joint_step(tau: Array, strain: Array, at: Any) -> tuple[Array, Array, Array, Array]:
        """All points and the twist at once, and what they missed before."""
        mean, wall, given = at
        _, slope = value_and_slope(local, tau)
        short = strain[..., None] * wall.ratio - law(tau, given)
        miss = mean - mean_stress(tau, wall)
        rest = miss - mean_stress(short / slope, points)
        moved = strain + rest / mean_stress(points.ratio / slope, points)
        tau = tau + (moved[..., None] * wall.ratio - law(tau, given)) / slope
        return tau, moved, miss, short

    def polished(_: int, at: tuple[Array, Array]) -> tuple[Array, Array]:
        moved = joint_step(*at, (wanted, points, fixed))
        return moved[0], moved[1]

    tau, strain = jax.lax.fori_loop(0, POLISH, polished, (tau, strain))
    live = (jnp.asarray(stress, dtype=float), wall, given)
    tau, strain, miss, short = joint_step(stop(tau), stop(strain), live)
    worst = jnp.maximum(
        jnp.max(jnp.abs(short), axis=-1) / STRAIN_SCALE, jnp.abs(miss) / STRESS_SCALE
    )
    return Twisted(strain, tau, stop(worst))


def hot_twist_under(
    stress: ArrayLike, temperature: ArrayLike, locked: Array, wall: Wall, alloy: Alloy
) -> Twisted:
    """Strain of a hot wall under a mean stress: the inverse of its stress at a strain.

    Parameters
    ----------
    stress
        Mean stress :math:`T/(A r_w)` [Pa], any shape.
    temperature
        Temperature of the wall [K], a scalar.
    locked
        Transformation strain locked in at each point [1], points last.
    wall, alloy
        Points; card.

    Returns
    -------
    Twisted
        Strain at r_w [1], stress of the points [Pa], residual [1].

    Examples
    --------
    50 N*m on hot radii of 10 and 8 mm over 0.5 m (hand: elastic, 5.9405 deg):

    >>> card = Alloy(**dict.fromkeys(Alloy._fields, 0.0) | {"austenite_start": 360.0,
    ...     "austenite_finish": 380.0, "austenite_slope": 7e6, "slope_factor": 1.0,
    ...     "austenite_shear_modulus": 26e9, "martensite_shear_modulus": 12e9})
    >>> from mdo.disciplines.tube.radial_wall import wall_points
    >>> tube = wall_points(0.2)
    >>> hot = hot_twist_under(48.92058e6, 430.0, 0.0 * tube.ratio, tube, card)
    >>> float(jnp.degrees(hot.strain * 0.5 / 9.037037e-3))
    5.9405

    References
    ----------
    Derived; reference sma-tubes, section 1.2.
    """

    def law(tau: Array, given: Any) -> Array:
        return hot.hot_strain(tau, *given)

    def inverse(gamma: Array, given: Any) -> Array:
        temperature, locked, alloy = given
        guess = hot_guess(gamma, temperature, locked + 0.0 * gamma, alloy)
        return hot_newton(gamma, lambda tau: law(tau, given), guess, GUESS_STEPS)

    return twist_under(stress, wall, (temperature, locked, alloy), law, inverse)


def cold_twist_under(stress: ArrayLike, wall: Wall, alloy: Alloy) -> Twisted:
    """Strain of a wall that cooled under a mean stress (H_cool), total form.

    Parameters
    ----------
    stress
        Mean stress :math:`T/(A r_w)` [Pa], any shape.
    wall, alloy
        Points; card.

    Returns
    -------
    Twisted
        Strain at r_w [1], stress of the points [Pa], residual [1].

    Examples
    --------
    100 N*m on radii of 10 and 8 mm over 0.5 m, cooled below M_f (independent script: 158.936 deg,
    120.098 MPa at the outer fibre):

    >>> card = Alloy(**dict.fromkeys(Alloy._fields, 0.0) | {"strain_saturation": 0.03,
    ...     "strain_rate_constant": 1e-8, "strain_factor": 1.0, "martensite_shear_modulus": 12e9,
    ...     "detwinning_start_stress": 100e6, "detwinning_finish_stress": 200e6})
    >>> from mdo.disciplines.tube.radial_wall import wall_points
    >>> cold = cold_twist_under(97.84115e6, wall_points(0.2), card)
    >>> float(jnp.degrees(cold.strain * 0.5 / 9.037037e-3)), float(cold.stress[-1]) / 1e6
    (158.936, 120.098)

    References
    ----------
    Derived; reference sma-tubes, sections 1.1 and 1.2, check case C12.
    """
    return twist_under(
        stress,
        wall,
        alloy,
        lambda tau, card: sma.martensite_strain(tau, card, 0.0),
        lambda gamma, card: sma.martensite_stress(gamma, card, 0.0),
    )
