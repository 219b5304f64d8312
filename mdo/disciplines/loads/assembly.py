"""Hinge-moment envelope of legs and static cases, assembled from the panel aerodynamics of a level.

Whatever computes the panel aerodynamics (closed forms, a lattice, a table of the user's) ends here.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import jax
import jax.numpy as jnp
from jax import Array

from mdo.disciplines.environment import environment
from mdo.disciplines.loads.assumptions import AeroAssumptions
from mdo.disciplines.loads.fold_factors import axis_incidence, toe_incidence
from mdo.disciplines.loads.lift_slope import subsonic_lift_slope
from mdo.disciplines.loads.panel_aerodynamics import SIDESLIP_ASPECT, PanelAerodynamics
from mdo.disciplines.loads.panel_inertia import (
    Band,
    attitude_moment,
    centrifugal_moment,
    inertial_moment,
    roll_acceleration_inertia,
)
from mdo.disciplines.loads.panel_resistance import damping_per_rate
from mdo.disciplines.loads.wind import wind_moment_plate, wind_moment_rule
from mdo.disciplines.records import Legs, Planform, Statics, Vehicle


class RowLoads(NamedTuple):
    """Loads of the right panel; shape ``(rows, angles)``, the last eight ``(rows,)``.

    ``lift_moment_arm`` and ``lift_normal_fraction`` multiply the total lift of both wings; the
    steady moments hold everything else, for the lower and the upper end of the envelope: the mass
    (gravity, manoeuvre, roll), the incidence of the panel (twist, toe, thickness) and half the
    width of what air does with either sign (gust, sideslip, roll, wind). Uncertainties are relative
    to the part that each is named after; ``load_uncertainty`` is that of lift, gust, roll and wind.
    """

    lift_moment_arm: Array
    lift_normal_fraction: Array
    steady_moment_low: Array
    steady_moment_high: Array
    mass_moment_low: Array
    mass_moment_high: Array
    panel_incidence_moment: Array
    air_moment_half_width: Array
    steady_normal_force: Array
    damping_per_rate: Array
    moving_inertia: Array
    chordwise_centre: Array
    load_uncertainty: Array
    incidence_uncertainty: Array
    damping_uncertainty: Array
    friction_uncertainty: Array
    transonic: Array


class Loads(NamedTuple):
    """Loads of the legs as :class:`RowLoads` has them, then those of the static cases (cases,)."""

    lift_moment_arm: Array
    lift_normal_fraction: Array
    steady_moment_low: Array
    steady_moment_high: Array
    mass_moment_low: Array
    mass_moment_high: Array
    panel_incidence_moment: Array
    air_moment_half_width: Array
    steady_normal_force: Array
    damping_per_rate: Array
    moving_inertia: Array
    chordwise_centre: Array
    load_uncertainty: Array
    incidence_uncertainty: Array
    damping_uncertainty: Array
    friction_uncertainty: Array
    transonic: Array
    static_lift_arm: Array
    static_moment_low: Array
    static_moment_high: Array
    static_mass_moment_low: Array
    static_mass_moment_high: Array


class _Aero(NamedTuple):
    """Aerodynamic moment without lift [N*m]: its steady part and its half width; and force [N]."""

    steady: Array
    half_width: Array
    force: Array


def _column(value: object) -> Array:
    """Per-leg array as a column against the fold angles."""
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
    Reference hinge-moment, section 1.6.
    """
    mass = (vehicle.panel_mass, vehicle.panel_centre, vehicle.panel_offset)
    names = ("panel_mass", "panel_centre", "panel_offset")
    body = dict(zip(names, mass, strict=True), fold_angle=fold_angle)
    factor, side = _column(legs.load_factor), _column(legs.side_load_factor)
    flight = inertial_moment(**body, load_factor=factor, side_load_factor=side)
    rest = attitude_moment(
        **body,
        bank=_column(legs.bank),
        deck_roll=_column(legs.deck_roll),
        pitch=_column(legs.pitch),
    )
    sway = inertial_moment(**body, load_factor=0.0, side_load_factor=side)
    airborne = _column(legs.airborne) > 0.5
    hinge = {"fold_station": planform.fold_station, "hinge_height": vehicle.hinge_height}
    roll = jnp.abs(
        _column(legs.roll_acceleration)
        * roll_acceleration_inertia(**body, **hinge, panel_inertia=vehicle.panel_inertia)
    )
    centrifugal = centrifugal_moment(**body, **hinge, roll_rate=_column(legs.roll_rate))
    low = jnp.where(airborne, flight, factor * rest.low + sway)
    high = jnp.where(airborne, flight, factor * rest.high + sway)
    return Band(
        low=low - roll + jnp.minimum(centrifugal, 0.0),
        high=high + roll + jnp.maximum(centrifugal, 0.0),
    )


def _wind(
    legs: Legs,
    planform: Planform,
    vehicle: Vehicle,
    aero: AeroAssumptions,
    *,
    density: Array,
    fold_angle: Array,
) -> Array:
    """Hinge moment of the wind on deck, either sign [N*m]: rule or plate; zero airborne."""
    speed = _column(legs.wind_speed) * (1.0 - _column(legs.airborne))
    rule = wind_moment_rule(
        air_density=density,
        wind_speed=speed,
        panel_area=planform.panel_area,
        panel_centroid=planform.panel_centroid,
        wind_factor=aero.wind_factor,
    )
    slope = subsonic_lift_slope(
        mach=0.0,
        aspect_ratio=SIDESLIP_ASPECT * jnp.asarray(planform.panel_aspect_ratio),
        half_chord_sweep=planform.half_chord_sweep,
        section_lift_efficiency=vehicle.section_lift_efficiency,
    )
    plate = wind_moment_plate(
        fold_angle=fold_angle,
        air_density=density,
        wind_speed=speed,
        panel_area=planform.panel_area,
        wind_arm=jnp.asarray(aero.wind_arm_factor) * planform.panel_centroid,
        panel_slope=slope,
        wind_upflow=aero.wind_upflow,
        wind_plateau=aero.wind_plateau,
    )
    return jnp.where(jnp.asarray(aero.wind_model) > 0.5, plate, rule)


def _aerodynamic(
    panel: PanelAerodynamics,
    legs: Legs,
    planform: Planform,
    vehicle: Vehicle,
    aero: AeroAssumptions,
    *,
    density: Array,
    speed: Array,
    fold_angle: Array,
) -> _Aero:
    """Aerodynamic moments that do not scale with lift."""
    pressure, flow = 0.5 * density * speed**2, 0.5 * density * speed
    turned = toe_incidence(vehicle.toe_angle, fold_angle) + axis_incidence(
        vehicle.hinge_axis_pitch, fold_angle
    )
    own_force = pressure * (panel.twist_force + panel.panel_force * turned)
    own_lift = pressure * (panel.twist_lift + panel.panel_lift * turned)
    own_moment = pressure * (panel.twist_moment + panel.panel_moment * turned)
    trimmed = own_moment - own_lift * panel.lift_moment_arm
    volume = planform.panel_area * jnp.asarray(planform.panel_span)
    thickness = aero.thickness_moment_coefficient * pressure * volume * jnp.sin(fold_angle)
    gust = flow * aero.gust_factor * _column(legs.gust_speed)
    round_the_clock = jnp.sqrt(panel.incidence_moment**2 + panel.sideslip_moment**2)
    slip = pressure * _column(legs.sideslip)
    roll = flow * _column(legs.roll_rate) * panel.roll_moment
    wind = _wind(legs, planform, vehicle, aero, density=density, fold_angle=fold_angle)
    half = gust * round_the_clock + jnp.abs(slip * panel.sideslip_moment) + jnp.abs(roll) + wind
    force = (
        jnp.abs(own_force)
        + gust * jnp.sqrt(panel.incidence_force**2 + panel.sideslip_force**2)
        + jnp.abs(slip * panel.sideslip_force)
        + (jnp.abs(roll) + wind) / planform.panel_centroid
    )
    return _Aero(steady=trimmed + thickness, half_width=half, force=force)


def assemble_rows(
    panel: PanelAerodynamics,
    legs: Legs,
    planform: Planform,
    vehicle: Vehicle,
    aero: AeroAssumptions,
    *,
    air_density: Array,
    true_airspeed: Array,
    fold_angle: Array,
) -> RowLoads:
    """Assemble the loads of each leg from panel aerodynamics, whatever computed them.

    Parameters
    ----------
    panel
        Panel aerodynamics of each leg and angle.
    legs, planform, vehicle, aero
        Records.
    air_density, true_airspeed
        [kg/m**3], [m/s], shape ``(legs,)``.
    fold_angle
        [rad], shape ``(legs, angles)``.

    Returns
    -------
    RowLoads
        Shape ``(legs, angles)`` and ``(legs,)``.

    Notes
    -----
    Twist, toe and thickness act at the given lift: the wing incidence gives back what they lift.
    Gust (round the clock, full on the panel), sideslip, roll rate and wind are added worst on
    worst. Friction of the hinge is left to `hinge_moment`.

    References
    ----------
    Reference hinge-moment, sections 1.6, 1.7, 3.1, 3.4 and 5.
    """
    density, speed = _column(air_density), _column(true_airspeed)
    air = _aerodynamic(
        panel, legs, planform, vehicle, aero, density=density, speed=speed, fold_angle=fold_angle
    )
    mass = inertial_envelope(legs, planform, vehicle, fold_angle)
    scale = jnp.asarray(aero.moment_scale)
    legwise = jnp.ones_like(panel.load_uncertainty)
    apparent = jnp.asarray(air_density) * jnp.asarray(planform.panel_apparent_inertia)
    return RowLoads(
        lift_moment_arm=scale * panel.lift_moment_arm,
        lift_normal_fraction=panel.lift_normal_fraction,
        steady_moment_low=mass.low + scale * (air.steady - air.half_width),
        steady_moment_high=mass.high + scale * (air.steady + air.half_width),
        mass_moment_low=mass.low,
        mass_moment_high=mass.high,
        panel_incidence_moment=scale * air.steady,
        air_moment_half_width=scale * air.half_width,
        steady_normal_force=air.force,
        damping_per_rate=damping_per_rate(
            air_density=density,
            true_airspeed=speed,
            panel_slope=panel.rate_moment / planform.panel_damping_integral,
            panel_damping_integral=planform.panel_damping_integral,
        ),
        moving_inertia=jnp.asarray(vehicle.panel_inertia) + apparent,
        chordwise_centre=panel.chordwise_centre,
        load_uncertainty=panel.load_uncertainty,
        incidence_uncertainty=panel.incidence_uncertainty,
        damping_uncertainty=legwise * aero.uncertainty_damping,
        friction_uncertainty=legwise * aero.uncertainty_friction,
        transonic=panel.transonic,
    )


def rows_together(legs: Legs, statics: Statics, fold_angle: Array) -> tuple[Legs, Array]:
    """Legs and static cases as one set of rows; a static case repeats its one angle.

    Parameters
    ----------
    legs, statics
        Records, shapes ``(legs,)`` and ``(cases,)``.
    fold_angle
        Of the legs [rad], shape ``(legs, angles)``.

    Returns
    -------
    tuple
        Their states, shape ``(rows,)``, and angles [rad], shape ``(rows, angles)``.
    """
    rows = jax.tree.map(
        lambda a, b: jnp.concatenate([jnp.asarray(a), jnp.asarray(b)]), legs, statics.state
    )
    held = jnp.asarray(statics.state.angle_from)[:, None]
    columns = jnp.broadcast_to(held, (held.shape[0], fold_angle.shape[1]))
    return rows, jnp.concatenate([fold_angle, columns])


def rows_apart(rows: RowLoads, leg_count: int) -> Loads:
    """Loads of all rows split into those of the legs and of the static cases (moments [N*m])."""
    return Loads(
        **{name: value[:leg_count] for name, value in rows._asdict().items()},
        static_lift_arm=rows.lift_moment_arm[leg_count:, 0],
        static_moment_low=rows.steady_moment_low[leg_count:, 0],
        static_moment_high=rows.steady_moment_high[leg_count:, 0],
        static_mass_moment_low=rows.mass_moment_low[leg_count:, 0],
        static_mass_moment_high=rows.mass_moment_high[leg_count:, 0],
    )


def loads_by(
    aerodynamics: Callable[..., PanelAerodynamics],
    *,
    legs: Legs,
    statics: Statics,
    planform: Planform,
    vehicle: Vehicle,
    aero: AeroAssumptions,
    fold_angle: Array,
) -> Loads:
    """Loads of legs and static cases from the panel aerodynamics of a level [N*m], [m], [N].

    Parameters
    ----------
    aerodynamics
        Function of a level that gives the panel aerodynamics of rows.
    legs, statics, planform, vehicle, aero
        Records.
    fold_angle
        Of the legs [rad], shape ``(legs, angles)``.
    """
    rows, angles = rows_together(legs, statics, fold_angle)
    air = environment(legs=rows)
    panel = aerodynamics(
        planform, vehicle, aero, mach=rows.mach, airborne=rows.airborne, fold_angle=angles
    )
    loads = assemble_rows(
        panel,
        rows,
        planform,
        vehicle,
        aero,
        air_density=air.air_density,
        true_airspeed=air.true_airspeed,
        fold_angle=angles,
    )
    return rows_apart(loads, fold_angle.shape[0])
