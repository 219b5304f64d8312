"""Loads of the mass of the folding panel: gravity, manoeuvre, roll.

All moments are hinge moments of the right panel, positive when they turn it up; fold angle positive
tip-up; roll and bank positive right wing down.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.atmosphere import STANDARD_GRAVITY
from mdo.disciplines.records import Legs, Planform, Vehicle


class Band(NamedTuple):
    """Lowest and highest value [N*m]."""

    low: Array
    high: Array


def panel_position(
    *, fold_angle: ArrayLike, panel_centre: ArrayLike, panel_offset: ArrayLike
) -> tuple[Array, Array]:
    r"""Centre of gravity of the folded panel from the fold axis.

    .. math:: y_c = s_c\cos\varphi - d_c\sin\varphi, \quad z_c = s_c\sin\varphi + d_c\cos\varphi

    Parameters
    ----------
    fold_angle
        :math:`\varphi` [rad].
    panel_centre
        :math:`s_c` along the panel [m].
    panel_offset
        :math:`d_c` normal to it [m].

    Returns
    -------
    tuple
        Right and up of the axis [m].

    Examples
    --------
    Upright (hand):

    >>> right, up = panel_position(fold_angle=jnp.pi / 2, panel_centre=0.5, panel_offset=0.1)
    >>> float(right), float(up)
    (-0.1, 0.5)

    References
    ----------
    Derived.
    """
    sine, cosine = jnp.sin(fold_angle), jnp.cos(fold_angle)
    along, normal = jnp.asarray(panel_centre), jnp.asarray(panel_offset)
    return along * cosine - normal * sine, along * sine + normal * cosine


def inertial_moment(
    *,
    fold_angle: ArrayLike,
    panel_mass: ArrayLike,
    panel_centre: ArrayLike,
    panel_offset: ArrayLike,
    load_factor: ArrayLike,
    side_load_factor: ArrayLike,
) -> Array:
    r"""Moment of gravity and translational acceleration in body axes.

    .. math:: M = -m g_0 (y_c n_z - z_c n_y)

    Parameters
    ----------
    fold_angle
        :math:`\varphi` [rad].
    panel_mass
        :math:`m` [kg].
    panel_centre, panel_offset
        Centre of gravity along the panel and normal to it [m].
    load_factor, side_load_factor
        :math:`n_z` up and :math:`n_y` right, specific force over :math:`g_0`; 1 and 0 at rest [1].

    Returns
    -------
    Array
        Hinge moment [N*m].

    Examples
    --------
    Pendulum of 10 kg at 0.5 m, level, 60 deg (hand: -10 x 9.80665 x 0.25):

    >>> float(inertial_moment(fold_angle=jnp.pi / 3, panel_mass=10.0, panel_centre=0.5,
    ...     panel_offset=0.0, load_factor=1.0, side_load_factor=0.0))
    -24.5166

    References
    ----------
    Derived.
    """
    right, up = panel_position(
        fold_angle=fold_angle, panel_centre=panel_centre, panel_offset=panel_offset
    )
    lever = right * jnp.asarray(load_factor) - up * jnp.asarray(side_load_factor)
    return -jnp.asarray(panel_mass) * STANDARD_GRAVITY * lever


def attitude_moment(
    *,
    fold_angle: ArrayLike,
    panel_mass: ArrayLike,
    panel_centre: ArrayLike,
    panel_offset: ArrayLike,
    bank: ArrayLike,
    deck_roll: ArrayLike,
    pitch: ArrayLike,
) -> Band:
    r"""Gravity moment at rest on a deck that is banked and rolls about that bank.

    .. math:: M = -m g_0 R \cos\Theta \cos(\varphi - \Phi + \delta), \quad
              R e^{i\delta} = s_c + i d_c

    Parameters
    ----------
    fold_angle
        :math:`\varphi` [rad]; :math:`|\varphi - \Phi + \delta| < \pi`.
    panel_mass
        :math:`m` [kg].
    panel_centre, panel_offset
        :math:`s_c > 0`, :math:`d_c` [m].
    bank, deck_roll
        :math:`\Phi` and the amplitude about it [rad]; every bank between is covered.
    pitch
        :math:`\Theta` [rad].

    Returns
    -------
    Band
        Lowest and highest moment [N*m].

    Examples
    --------
    The pendulum banked 60 deg right down, so that the panel is level (hand: -10 x 9.80665 x 0.5):

    >>> band = attitude_moment(fold_angle=jnp.pi / 3, panel_mass=10.0, panel_centre=0.5,
    ...     panel_offset=0.0, bank=jnp.pi / 3, deck_roll=0.0, pitch=0.0)
    >>> float(band.low), float(band.high)
    (-49.0333, -49.0333)

    References
    ----------
    Derived.
    """
    along, normal = jnp.asarray(panel_centre), jnp.asarray(panel_offset)
    weight = jnp.asarray(panel_mass) * STANDARD_GRAVITY * jnp.cos(pitch)
    size = weight * jnp.sqrt(along**2 + normal**2)
    angle = jnp.asarray(fold_angle) - bank + jnp.arctan2(normal, along)
    amplitude = jnp.abs(jnp.asarray(deck_roll))
    distance = jnp.abs(angle)
    nearest = jnp.maximum(distance - amplitude, 0.0)
    farthest = jnp.minimum(distance + amplitude, jnp.pi)
    return Band(low=-size * jnp.cos(nearest), high=-size * jnp.cos(farthest))


def roll_acceleration_inertia(
    *,
    fold_angle: ArrayLike,
    panel_mass: ArrayLike,
    panel_centre: ArrayLike,
    panel_offset: ArrayLike,
    panel_inertia: ArrayLike,
    fold_station: ArrayLike,
    hinge_height: ArrayLike,
) -> Array:
    """Hinge moment per roll acceleration of the aircraft.

    .. math:: m (y_c y_f + z_c z_f) + I_h

    Parameters
    ----------
    fold_angle
        Fold angle [rad].
    panel_mass
        :math:`m` [kg].
    panel_centre, panel_offset
        Centre of gravity along the panel and normal to it [m].
    panel_inertia
        Inertia about the fold axis :math:`I_h` [kg*m**2].
    fold_station, hinge_height
        Fold axis right of and above the roll axis, :math:`y_f, z_f` [m].

    Returns
    -------
    Array
        Inertia [kg*m**2], times the roll acceleration, right wing down positive.

    Examples
    --------
    Flat, 10 kg at 0.5 m, axis 2 m out (hand: 10 + 3):

    >>> float(roll_acceleration_inertia(fold_angle=0.0, panel_mass=10.0, panel_centre=0.5,
    ...     panel_offset=0.0, panel_inertia=3.0, fold_station=2.0, hinge_height=0.3))
    13.0

    References
    ----------
    Derived.
    """
    right, up = panel_position(
        fold_angle=fold_angle, panel_centre=panel_centre, panel_offset=panel_offset
    )
    arm = right * jnp.asarray(fold_station) + up * jnp.asarray(hinge_height)
    return jnp.asarray(panel_mass) * arm + jnp.asarray(panel_inertia)


def centrifugal_moment(
    *,
    fold_angle: ArrayLike,
    panel_mass: ArrayLike,
    panel_centre: ArrayLike,
    panel_offset: ArrayLike,
    fold_station: ArrayLike,
    hinge_height: ArrayLike,
    roll_rate: ArrayLike,
) -> Array:
    """Moment of the centrifugal force of a steady roll; it pulls the panel towards flat.

    .. math:: m p^2 (y_c z_f - z_c y_f)

    Parameters
    ----------
    fold_angle
        Fold angle [rad].
    panel_mass
        :math:`m` [kg].
    panel_centre, panel_offset
        Centre of gravity along the panel and normal to it [m].
    fold_station, hinge_height
        Fold axis right of and above the roll axis, :math:`y_f, z_f` [m].
    roll_rate
        :math:`p` [rad/s].

    Returns
    -------
    Array
        Hinge moment [N*m].

    Examples
    --------
    Upright, 10 kg at 0.5 m, axis 2 m out, 3 rad/s (hand: -10 x 9 x 0.5 x 2):

    >>> float(centrifugal_moment(fold_angle=jnp.pi / 2, panel_mass=10.0, panel_centre=0.5,
    ...     panel_offset=0.0, fold_station=2.0, hinge_height=0.0, roll_rate=3.0))
    -90.0

    References
    ----------
    Derived.
    """
    right, up = panel_position(
        fold_angle=fold_angle, panel_centre=panel_centre, panel_offset=panel_offset
    )
    arm = right * jnp.asarray(hinge_height) - up * jnp.asarray(fold_station)
    return jnp.asarray(panel_mass) * jnp.asarray(roll_rate) ** 2 * arm


def leg_column(value: ArrayLike) -> Array:
    """Column of an array over legs, against the fold angles.

    Parameters
    ----------
    value
        Of each leg, any unit, shape ``(legs,)``.

    Returns
    -------
    Array
        In the unit of the value, shape ``(legs, 1)``.

    References
    ----------
    Derived (definition).
    """
    return jnp.asarray(value)[:, None]


def inertial_envelope(legs: Legs, planform: Planform, vehicle: Vehicle, fold_angle: Array) -> Band:
    """Gravity, manoeuvre and roll of the panel's mass, lowest and highest.

    Parameters
    ----------
    legs, planform, vehicle
        Records.
    fold_angle
        [rad], shape ``(legs, angles)``.

    Returns
    -------
    Band
        [N*m], shape ``(legs, angles)``.

    Notes
    -----
    On deck the attitude (bank +- roll amplitude, pitch) times the load factor; airborne the load
    factors in body axes. Roll acceleration has either sign; roll rate is anything up to its
    amplitude.

    References
    ----------
    :func:`attitude_moment`, :func:`inertial_moment`; reference hinge-moment, section 1.6.
    """
    mass = (vehicle.panel_mass, vehicle.panel_centre, vehicle.panel_offset)
    names = ("panel_mass", "panel_centre", "panel_offset")
    body = dict(zip(names, mass, strict=True), fold_angle=fold_angle)
    factor, side = leg_column(legs.load_factor), leg_column(legs.side_load_factor)
    flight = inertial_moment(**body, load_factor=factor, side_load_factor=side)
    rest = attitude_moment(
        **body,
        bank=leg_column(legs.bank),
        deck_roll=leg_column(legs.deck_roll),
        pitch=leg_column(legs.pitch),
    )
    sway = inertial_moment(**body, load_factor=0.0, side_load_factor=side)
    airborne = leg_column(legs.airborne) > 0.5
    hinge = {"fold_station": planform.fold_station, "hinge_height": vehicle.hinge_height}
    roll = jnp.abs(
        leg_column(legs.roll_acceleration)
        * roll_acceleration_inertia(**body, **hinge, panel_inertia=vehicle.panel_inertia)
    )
    centrifugal = centrifugal_moment(**body, **hinge, roll_rate=leg_column(legs.roll_rate))
    low = jnp.where(airborne, flight, factor * rest.low + sway)
    high = jnp.where(airborne, flight, factor * rest.high + sway)
    return Band(
        low=low - roll + jnp.minimum(centrifugal, 0.0),
        high=high + roll + jnp.maximum(centrifugal, 0.0),
    )
