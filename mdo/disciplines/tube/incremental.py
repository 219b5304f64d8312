r"""Wall of a tube marched along a path of temperature and load: what happened before counts.

The fraction of each point plays between two envelopes, forward ``xi_M`` and reverse ``xi_A``; the
strain of what transforms is laid down at the stress of that moment, ``d gamma_t = sqrt3 H_cool d
xi``, is given back in proportion, and cold martensite detwins for good. Minor loops are closed and
an idle step changes nothing. For verification: no derivative is carried through a march.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.records import Alloy
from mdo.disciplines.smooth import smooth_step
from mdo.disciplines.tube.hot import mixed_shear_modulus
from mdo.disciplines.tube.phases import ROOT3, martensite_fraction_heating, stress_shift
from mdo.disciplines.tube.radial_twist import Twisted, twist_under
from mdo.disciplines.tube.radial_wall import Wall, value_and_slope
from mdo.disciplines.tube.sma import transformation_strain_cooling, transformation_strain_detwinning

LOCAL_STEPS = 40  # of a point, most
ROUND_OFF = 1e-12  # share of the bracket by which Newton may step out of what is left of it


class State(NamedTuple):
    """Martensite fraction [1], transformation strain [1] and stress [Pa] of each point."""

    fraction: Array
    transformed: Array
    stress: Array


class March(NamedTuple):
    """Course of a march: temperature [K], strain at r_w [1] and mean stress [Pa] of N steps.

    ``states`` are those of the points after each step, (N, P) or (N, lanes, P); ``residual`` the
    largest miss of each step over 100 MPa or 0.01 of strain [1].
    """

    temperature: Array
    strain: Array
    mean_stress: Array
    states: State
    residual: Array


def austenite(wall: Wall) -> State:
    """State of a wall that was heated free of load.

    Parameters
    ----------
    wall
        Points.

    Returns
    -------
    State
        Fraction [1], transformation strain [1] and stress [Pa], all zero.

    References
    ----------
    Derived.
    """
    nothing = jnp.zeros(wall.ratio.shape)
    return State(nothing, nothing, nothing)


def next_point(
    stress: Array,
    temperature: ArrayLike,
    before: State,
    alloy: Alloy,
) -> State:
    r"""State of points that come to a stress and temperature from another state.

    .. math:: \xi = \min(\max(\xi_0, \xi_M), \xi_A), \quad
        \gamma_t = \gamma_0 + \sqrt3 H(\tau)\,(\xi - \xi_0) \text{ or } \gamma_0\,\xi/\xi_0

    Parameters
    ----------
    stress
        Stress [Pa], any shape.
    temperature
        Temperature [K], broadcasts.
    before
        State before the step.
    alloy
        Card.

    Returns
    -------
    State
        State after it.

    Notes
    -----
    Loaded along its strain, cold martensite detwins to at least ``xi sqrt3 H_detw``; loaded against
    it, to at most that of the cosine from full strain one way to full strain the other. Above M_s
    the stresses of detwinning rise with C_M. H_min is laid down the positive way; a stress against
    it does not raise M_s.

    Examples
    --------
    The made-up card cooled through half of its transformation at 100 MPa (hand: 0.0427684/2):

    >>> card = Alloy(**dict.fromkeys(Alloy._fields, 0.0) | {"martensite_start": 340.0,
    ...     "martensite_finish": 320.0, "austenite_start": 360.0, "austenite_finish": 380.0,
    ...     "martensite_slope": 7e6, "austenite_slope": 7e6, "slope_factor": 1.0,
    ...     "strain_factor": 1.0, "strain_saturation": 0.03, "strain_rate_constant": 1e-8,
    ...     "detwinning_start_stress": 1e9, "detwinning_finish_stress": 2e9})
    >>> none = State(jnp.zeros(()), jnp.zeros(()), jnp.zeros(()))
    >>> after = next_point(jnp.asarray(100e6), 354.7436, none, card)
    >>> float(after.fraction), float(after.transformed)
    (0.50000, 0.021384)

    References
    ----------
    Reference sma-tubes, section 1.2 (a) and the evolution of the transformation strain; derived
    from Liang and Rogers 1990 and Brinson 1993 (from memory).
    """
    size, least = jnp.abs(stress), transformation_strain_cooling(0.0, alloy)
    # what is trained one way is not helped by a stress the other way
    helped = jnp.where(jnp.asarray(alloy.strain_min) > 0.0, jnp.maximum(stress, 0.0), size)
    start = alloy.martensite_start + stress_shift(helped, alloy.martensite_slope, alloy)
    width = jnp.asarray(alloy.martensite_start) - alloy.martensite_finish
    forward = smooth_step((start - temperature) / width)
    along = jnp.where(before.transformed < 0, -stress, stress)
    reverse = martensite_fraction_heating(temperature, jnp.maximum(along, 0.0), alloy)
    xi = jnp.minimum(jnp.maximum(before.fraction, forward), reverse)
    oriented = jnp.sign(stress) * (transformation_strain_cooling(size, alloy) - least) + least
    some = jnp.where(before.fraction > 0, before.fraction, 1.0)
    laid = before.transformed + oriented * (xi - before.fraction)
    strain = jnp.where(xi > before.fraction, laid, before.transformed * xi / some)
    above = jnp.maximum(jnp.asarray(temperature) - alloy.martensite_start, 0.0)
    shift = above * alloy.martensite_slope * alloy.slope_factor / ROOT3
    detwinned = xi * transformation_strain_detwinning(jnp.maximum(size - shift, 0.0), alloy)
    full = xi * ROOT3 * alloy.strain_factor * alloy.strain_saturation
    strain = jnp.where(
        stress >= 0,
        jnp.maximum(strain, jnp.where(detwinned > xi * least, detwinned, strain)),
        jnp.minimum(strain, full - 2.0 * (detwinned - xi * least)),
    )
    return State(xi, strain, jnp.asarray(stress))


def next_strain(stress: Array, temperature: ArrayLike, before: State, alloy: Alloy) -> Array:
    r"""Strain of points that come to a stress and temperature from another state.

    .. math:: \gamma = \tau/G(\xi) + \gamma_t

    Parameters
    ----------
    stress
        Stress [Pa], any shape.
    temperature
        Temperature [K], broadcasts.
    before
        State before the step.
    alloy
        Card.

    Returns
    -------
    Array
        Strain [1]; it rises with the stress.

    References
    ----------
    Derived; see :func:`next_point`.
    """
    after = next_point(stress, temperature, before, alloy)
    return stress / mixed_shear_modulus(after.fraction, alloy) + after.transformed


def next_stress(
    strain: Array,
    temperature: ArrayLike,
    before: State,
    alloy: Alloy,
    start: Array | None = None,
) -> Array:
    """Stress of points that come to a strain and temperature: inverse of :func:`next_strain`.

    Parameters
    ----------
    strain
        Strain of each point [1], shape of the state.
    temperature
        Temperature [K], broadcasts.
    before
        State before the step.
    alloy
        Card.
    start
        Where Newton starts [Pa]; left out: the stress before.

    Returns
    -------
    Array
        Stress [Pa].

    Notes
    -----
    Bracketed by the elastic stress of all strain that the alloy has; Newton, halved where
    a step is not half of the one before.

    References
    ----------
    Derived.
    """
    full = ROOT3 * jnp.asarray(alloy.strain_factor) * alloy.strain_saturation
    stiff = jnp.maximum(alloy.austenite_shear_modulus, alloy.martensite_shear_modulus)
    bound = stiff * (jnp.abs(strain) + full + jnp.abs(before.transformed))

    def turn(at: tuple[Array, ...]) -> tuple[Array, ...]:
        count, low, high, stress, last, done = at
        value, slope = value_and_slope(
            lambda tau: next_strain(tau, temperature, before, alloy), stress
        )
        miss = strain - value
        low, high = jnp.where(miss > 0, stress, low), jnp.where(miss > 0, high, stress)
        step = miss / slope
        newton = stress + step
        there = jnp.abs(step) <= 1e-9 * bound
        # round-off must not throw out who is there
        inside = (newton >= low - ROUND_OFF * bound) & (newton <= high + ROUND_OFF * bound)
        keep = inside & ((2 * jnp.abs(step) <= last) | there)
        moved = jnp.where(done, stress, jnp.where(keep, newton, (low + high) / 2))
        return count + 1, low, high, moved, jnp.abs(moved - stress), done | (there & keep)

    first = jnp.clip((before.stress if start is None else start) + 0.0 * bound, -bound, bound)
    none = jnp.zeros(first.shape, dtype=bool)
    at: tuple[Array, ...] = (jnp.array(0), -bound, bound, first, 2 * bound, none)
    stress: Array = jax.lax.while_loop(
        lambda at: (at[0] < LOCAL_STEPS) & ~jnp.all(at[5]), turn, at
    )[3]
    return stress


def step_at(
    strain: ArrayLike, temperature: ArrayLike, before: State, wall: Wall, alloy: Alloy
) -> State:
    """State of a wall that is twisted to a strain at a temperature.

    Parameters
    ----------
    strain
        Strain at the effective radius of each lane [1], any shape.
    temperature
        Temperature of each lane [K], broadcasts.
    before
        State before the step, points last.
    wall, alloy
        Points; card.

    Returns
    -------
    State
        State after it.

    References
    ----------
    Derived; reference sma-tubes, section 1.2.
    """
    kelvin = jnp.asarray(temperature)[..., None]
    stress = next_stress(jnp.asarray(strain)[..., None] * wall.ratio, kelvin, before, alloy)
    return next_point(stress, kelvin, before, alloy)


def of_every_lane(state: State, lanes: tuple[int, ...]) -> State:
    """State of one wall, (P,), as that of many, (lanes, P); strains, fractions [1], stress [Pa].

    Parameters
    ----------
    state
        Of one wall, or of all already.
    lanes
        Shape of the lanes; counts [1].

    Returns
    -------
    State
        Units as they were [1], [Pa].

    References
    ----------
    Derived.
    """
    one, many, last = (jnp.broadcast_to(part, (*lanes, part.shape[-1])) for part in state)
    return State(one, many, last)


def march_under(stress: Array, temperature: Array, start: State, wall: Wall, alloy: Alloy) -> March:
    """March a wall along mean stresses and temperatures: the torque is given, the twist follows.

    Parameters
    ----------
    stress
        Mean stress of each step [Pa], shape (N,), or (N, lanes) of walls side by side.
    temperature
        Temperature of each step [K], broadcasts to that.
    start
        State before the first step, (P,) or (lanes, P).
    wall, alloy
        Points; card.

    Returns
    -------
    March
        Course [K], [1], [Pa].

    References
    ----------
    Derived; reference sma-tubes, section 1.2, check cases C12 and C16.
    """

    def law(tau: Array, given: Any) -> Array:
        return next_strain(tau, *given)

    def inverse(gamma: Array, given: Any) -> Array:
        return next_stress(gamma, *given)

    def step(before: State, at: tuple[Array, Array]) -> tuple[State, Any]:
        mean, kelvin = at
        got: Twisted = twist_under(mean, wall, (kelvin[..., None], before, alloy), law, inverse)
        after = next_point(got.stress, kelvin[..., None], before, alloy)
        return after, (kelvin, got.strain, mean, after, got.residual)

    courses = (jnp.asarray(stress), jnp.asarray(temperature))
    first = of_every_lane(start, courses[0].shape[1:])
    return March(*jax.lax.scan(step, first, courses)[1])
