"""Travel of the actuator and the twist of each set over the fold angle (pure kinematics)."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.records import Choices, Legs, Requirements

UP, DOWN = 0, 1


class Travel(NamedTuple):
    """Ends of the travel, trim included [rad]."""

    travel_low: Array
    travel_high: Array


def travel(*, legs: Legs, requirements: Requirements) -> Travel:
    """Union of all ranges moved by the actuator, plus a trim stroke at each end.

    Parameters
    ----------
    legs
        Record: angle_from, angle_to, moves and holds, shape (legs,).
    requirements
        Record: trim_fraction of the moved range, added at each end.

    Returns
    -------
    Travel
        Ends [rad].

    Examples
    --------
    Legs of 0 to 1.5 and 0 to -0.5 rad with 5 % trim (hand: 2 rad, 0.1 at each end):

    >>> from types import SimpleNamespace
    >>> moved = SimpleNamespace(angle_from=[0.0, 0.0], angle_to=[1.5, -0.5], moves=[1.0, 1.0],
    ...     holds=[0.0, 0.0])
    >>> [float(end) for end in travel(legs=moved, requirements=SimpleNamespace(trim_fraction=0.05))]
    [-0.6, 1.6]

    References
    ----------
    Derived (definition of the travel).
    """
    counts = (jnp.asarray(legs.moves) + jnp.asarray(legs.holds)) > 0.5
    first, last = jnp.asarray(legs.angle_from), jnp.asarray(legs.angle_to)
    low = jnp.min(jnp.where(counts, jnp.minimum(first, last), jnp.inf))
    high = jnp.max(jnp.where(counts, jnp.maximum(first, last), -jnp.inf))
    trim = requirements.trim_fraction * (high - low)
    return Travel(travel_low=low - trim, travel_high=high + trim)


def pick(values: ArrayLike, pushes_up: Array) -> Array:
    """Value of the set that pushes in the asked direction.

    Parameters
    ----------
    values
        One value per set, any unit, shape (2,).
    pushes_up
        True for the up set [1], shape (legs,) or (legs, 1).

    Returns
    -------
    Array
        Value of that set, unit of the values, shape of pushes_up.

    Examples
    --------
    >>> float(pick([2.0, 3.0], jnp.asarray(False)))
    3.0

    References
    ----------
    Derived.
    """
    pair = jnp.asarray(values)
    return jnp.where(pushes_up, pair[UP], pair[DOWN])


def set_twist(
    *,
    fold_angle: Array,
    pushes_up: Array,
    pre_twist: ArrayLike,
    gear_ratio: ArrayLike,
    travel_low: ArrayLike,
    travel_high: ArrayLike,
) -> Array:
    r"""Twist of a set from its load-free austenitic zero.

    .. math:: \theta = \theta_0 - n\,|\varphi - \varphi_{start}|

    Parameters
    ----------
    fold_angle
        Fold angle :math:`\varphi` [rad], shape (legs, angles).
    pushes_up
        Which set [1], shape (legs, 1).
    pre_twist
        Pre-twist of each set :math:`\theta_0` [rad], shape (2,).
    gear_ratio
        Tube twist over fold angle n [1].
    travel_low, travel_high
        Ends of the travel [rad].

    Returns
    -------
    Array
        Twist [rad], shape (legs, angles).

    Notes
    -----
    phi_start is the end of the travel at which the set starts to drive: the low end for the up set,
    the high end for the down set.

    Examples
    --------
    Hand: 2 - 1.5 x 0.5.

    >>> float(set_twist(fold_angle=jnp.asarray(0.5), pushes_up=jnp.asarray(True),
    ...     pre_twist=[2.0, 3.0], gear_ratio=1.5, travel_low=0.0, travel_high=1.0))
    1.25

    References
    ----------
    Derived (definition of the pre-twist).
    """
    moved = jnp.where(pushes_up, fold_angle - travel_low, travel_high - fold_angle)
    return pick(pre_twist, pushes_up) - gear_ratio * moved


def spring_moment_over_travel(
    *,
    fold_angle: Array,
    choices: Choices,
    spring_moment: ArrayLike,
    spring_rate: ArrayLike,
    travel_low: ArrayLike,
    travel_high: ArrayLike,
) -> Array:
    r"""Moment of the return spring, always against the driven side; zero without a spring.

    .. math:: M = M_0 + k\,|\varphi - \varphi_{start}|

    Parameters
    ----------
    fold_angle
        Fold angle :math:`\varphi` [rad], shape (legs, angles).
    choices
        Record: configuration (1 = spring_return), drive_side (+1 up, -1 down).
    spring_moment
        Moment :math:`M_0` at the start of the travel, at the hinge, one wing [N*m].
    spring_rate
        Rate :math:`k` at the hinge, one wing [N*m/rad].
    travel_low, travel_high
        Ends of the travel [rad].

    Returns
    -------
    Array
        Moment [N*m], shape (legs, angles).

    Examples
    --------
    Hand: 10 + 5 x 0.8 for an up drive from -0.3 to 0.5 rad.

    >>> from types import SimpleNamespace
    >>> sprung = SimpleNamespace(configuration=1.0, drive_side=1.0)
    >>> float(spring_moment_over_travel(fold_angle=jnp.asarray(0.5), choices=sprung,
    ...     spring_moment=10.0, spring_rate=5.0, travel_low=-0.3, travel_high=1.0))
    14.0

    References
    ----------
    Derived (linear spring).
    """
    upward = jnp.asarray(choices.drive_side) > 0
    wound = jnp.where(upward, fold_angle - travel_low, travel_high - fold_angle)
    present = jnp.asarray(choices.configuration) == 1
    return jnp.where(present, spring_moment + jnp.asarray(spring_rate) * wound, 0.0)
