"""Discipline entry `hinge_moment`: what the actuator must overcome, and what aids it."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.atmosphere import STANDARD_GRAVITY
from mdo.disciplines.loads.assembly import RowLoads
from mdo.disciplines.loads.assumptions import AeroAssumptions
from mdo.disciplines.loads.panel_resistance import (
    PEAK_ACCELERATION,
    PEAK_RATE,
    bearing_friction_moment,
)
from mdo.disciplines.records import Legs, Planform, Requirements, Vehicle

_MIN_MOTION_TIME = 1.0  # s; a design that never transforms counts with it, no tube is faster


class HingeMoment(NamedTuple):
    """Moments of one panel [N*m], shape ``(legs, angles)``; ``rolling_moment`` ``(legs,)``.

    ``required_moment`` and ``overrun_moment`` count positive against the motion of the leg.
    ``rolling_moment`` is that of one panel at each end of the leg, about the roll axis.
    ``moment_band`` is the uncertainty of the moment, joined from its parts: what is required may be
    more by it, and an aiding load too.
    """

    required_moment: Array
    overrun_moment: Array
    moment_low: Array
    moment_high: Array
    lift_moment: Array
    friction_moment: Array
    inertia_moment: Array
    damping_moment: Array
    rolling_moment: Array
    moment_band: Array


def smooth_magnitude(low: Array, high: Array) -> Array:
    r"""Larger of two magnitudes, smooth; above the exact one by less than 1e-4 of it.

    .. math:: \tfrac12 (a + b + \sqrt{(a-b)^2 + \epsilon^2 (a^2 + b^2)}), \\
              a = |low|, \quad b = |high|

    Parameters
    ----------
    low, high
        Of any sign, any unit.

    Returns
    -------
    Array
        In the unit of both.

    Examples
    --------
    >>> round(float(smooth_magnitude(jnp.asarray(-5.0), jnp.asarray(3.0))), 3)
    5.0

    References
    ----------
    Derived.
    """
    a, b = jnp.abs(low), jnp.abs(high)
    return 0.5 * (a + b + jnp.sqrt((a - b) ** 2 + 1e-8 * (a**2 + b**2) + 1e-24))


def joined_band(*parts: Array) -> Array:
    r"""Band of a sum of parts whose errors are independent: root of the sum of their squares.

    .. math:: \delta = \sqrt{\sum_i (u_i M_i)^2}

    Parameters
    ----------
    parts
        Band of each part, any unit, the same of all.

    Returns
    -------
    Array
        In the unit of the parts.

    Examples
    --------
    >>> float(joined_band(jnp.asarray(3.0), jnp.asarray(-4.0)))
    5.0

    References
    ----------
    JCGM 100:2008 (guide to the expression of uncertainty in measurement), section 5.1.2.
    """
    return jnp.sqrt(sum(part**2 for part in parts) + 1e-24)


def _friction(
    normal: Array,
    chordwise_centre: Array,
    legs: Legs,
    planform: Planform,
    vehicle: Vehicle,
    aero: AeroAssumptions,
) -> Array:
    """Bearing friction and seal [N*m], a magnitude, shape ``(legs, angles)``."""
    offset = (chordwise_centre - aero.bearing_middle) * planform.panel_mean_chord
    weight = STANDARD_GRAVITY * vehicle.panel_mass * jnp.asarray(legs.load_factor)
    bearing = bearing_friction_moment(
        normal_force=normal,
        drag_force=aero.panel_drag_ratio * normal,
        weight_force=weight[:, None],
        centre_offset=offset[:, None],
        drag_arm=planform.panel_centroid,
        bearing_spacing=vehicle.bearing_spacing,
        bearing_radius=vehicle.bearing_radius,
        bearing_friction=vehicle.bearing_friction,
    )
    return bearing + vehicle.seal_moment


def hinge_moment(
    *,
    vehicle_mass: Array,
    motion_time: Array,
    rows: RowLoads,
    fold_angle: Array,
    legs: Legs,
    planform: Planform,
    vehicle: Vehicle,
    requirements: Requirements,
    aero: AeroAssumptions,
) -> HingeMoment:
    r"""Find required and overrunning moments of each leg over its angles, at limit load.

    .. math:: R = -s M_{worst} + \frac{5.7735 I |\Delta|}{T^2} + \frac{1.875 D |\Delta|}{T}
              + k_f (M_f + M_{seal} + M_{skin}) + M_{add}

    Parameters
    ----------
    vehicle_mass
        Mass of the aircraft [kg].
    motion_time
        :math:`T` [s], shape ``(legs,)``: a debit through inertia and damping, never a credit.
    rows
        Loads of the panel: :math:`D` is its damping, :math:`I` its moving inertia.
    fold_angle
        [rad], shape ``(legs, angles)``.
    legs, planform, vehicle, requirements, aero
        Records; ``requirements.friction_factor`` is :math:`k_f`, ``requirements.added_moment``
        :math:`M_{add}`: it resists every motion and holds back no aiding load.

    Returns
    -------
    HingeMoment
        :math:`s` is the direction of the leg. ``required_moment`` uses the end of the envelope
        that resists most, ``overrun_moment`` the end that helps most, the deceleration and no
        friction, damping or resisting skin; negative where the load aids. A leg without
        direction has to hold: both are then the larger magnitude of the envelope.

    Notes
    -----
    The skin counts with the friction factor where it resists and with 1 where it assists. The
    larger of two magnitudes is smooth, biased high by less than 1e-4.

    References
    ----------
    Derived; design page, 'Definitions that bind'; reference hinge-moment, section 1.6.
    """
    direction = jnp.asarray(legs.direction)[:, None]
    moving = jnp.abs(direction)
    share = jnp.asarray(legs.airborne) * legs.load_factor * legs.mass_fraction
    lift = (STANDARD_GRAVITY * vehicle_mass * share)[:, None]
    low = rows.lift_moment_arm * lift + rows.steady_moment_low
    high = rows.lift_moment_arm * lift + rows.steady_moment_high

    step = jnp.abs(jnp.asarray(legs.angle_to) - jnp.asarray(legs.angle_from))
    duration = jnp.maximum(motion_time, _MIN_MOTION_TIME)
    acceleration = moving * (PEAK_ACCELERATION * rows.moving_inertia * step / duration**2)[:, None]
    inertia = acceleration * jnp.ones_like(fold_angle)
    damping = moving * rows.damping_per_rate * (PEAK_RATE * step / duration)[:, None]
    normal = jnp.abs(rows.lift_normal_fraction * lift) + rows.steady_normal_force
    friction = moving * _friction(normal, rows.chordwise_centre, legs, planform, vehicle, aero)
    skin = direction * vehicle.skin_stiffness * (fold_angle - vehicle.skin_free_angle)
    skin_resisting, skin_assisting = jnp.maximum(skin, 0.0), jnp.minimum(skin, 0.0)

    upward = direction > 0.0
    worst, best = jnp.where(upward, -low, high), jnp.where(upward, -high, low)
    factored = requirements.friction_factor * (friction + skin_resisting)
    added = moving * requirements.added_moment
    drive = worst + inertia + damping + factored + skin_assisting + added
    overrun = best - inertia + skin_assisting
    held = smooth_magnitude(low, high)
    lift_moment = rows.lift_moment_arm * lift
    band = joined_band(
        *rows.load_uncertainty[:, None] * jnp.stack([lift_moment, rows.air_moment_half_width]),
        rows.incidence_uncertainty[:, None] * rows.panel_incidence_moment,
        rows.damping_uncertainty[:, None] * damping,
        rows.friction_uncertainty[:, None] * friction,
    )
    # a panel's force is normal to it at a distance s from the hinge: F (y_f cos(phi) + s)
    inboard = planform.fold_station * jnp.cos(fold_angle)
    roll = lift * (rows.lift_normal_fraction * inboard + rows.lift_moment_arm)
    return HingeMoment(
        required_moment=jnp.where(moving > 0.5, drive, held),
        overrun_moment=jnp.where(moving > 0.5, overrun, held),
        moment_low=low,
        moment_high=high,
        lift_moment=lift_moment,
        friction_moment=friction,
        inertia_moment=inertia,
        damping_moment=damping,
        rolling_moment=jnp.abs(roll[:, -1] - roll[:, 0]),
        moment_band=band,
    )
