"""Hinge-moment envelope of legs and static cases, assembled from the panel aerodynamics of a level.

Whatever computes the panel aerodynamics (closed forms, a lattice, a table of the user's) ends here.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.loads.assumptions import AeroAssumptions
from mdo.disciplines.loads.fold_factors import axis_incidence, toe_incidence
from mdo.disciplines.loads.lift_slope import subsonic_lift_slope
from mdo.disciplines.loads.panel_aerodynamics import SIDESLIP_ASPECT, PanelAerodynamics
from mdo.disciplines.loads.panel_inertia import inertial_envelope, leg_column
from mdo.disciplines.loads.panel_resistance import damping_per_rate
from mdo.disciplines.loads.wind import wind_moment_plate, wind_moment_rule
from mdo.disciplines.records import Legs, Planform, Vehicle
from mdo.disciplines.wiring import gathered


@gathered
class RowLoads(NamedTuple):
    """Loads of the right panel.

    Attributes
    ----------
    lift_moment_arm
        Hinge moment per newton of total lift [m], shape ``(rows, angles)``.
    lift_normal_fraction
        Panel force per newton of total lift [1].
    steady_moment_low, steady_moment_high
        Envelope of all moments that do not scale with the lift [N*m]: the mass, the incidence of
        the panel, and half the width of what air does with either sign.
    mass_moment_low, mass_moment_high
        Gravity, manoeuvre and roll in it [N*m].
    panel_incidence_moment
        Twist, toe and thickness in it [N*m].
    air_moment_half_width
        Gust, sideslip, roll and wind in it [N*m].
    steady_normal_force
        Panel force that does not scale with the lift [N].
    damping_per_rate
        Moment per rate of the fold [N*m*s/rad].
    moving_inertia
        With that of the air [kg*m**2], shape ``(rows,)`` as all that follow.
    chordwise_centre
        Of the force, fraction of the chord [1].
    load_uncertainty, incidence_uncertainty, damping_uncertainty, friction_uncertainty
        Relative to the part that each is named after [1]; the first is that of lift, gust, roll and
        wind.
    transonic
        1 where the flow is [1].
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


class _Aero(NamedTuple):
    """Aerodynamic moment without lift [N*m]: its steady part and its half width; and force [N]."""

    steady: Array
    half_width: Array
    force: Array


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
    speed = leg_column(legs.wind_speed) * (1.0 - leg_column(legs.airborne))
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
    gust = flow * aero.gust_factor * leg_column(legs.gust_speed)
    round_the_clock = jnp.sqrt(panel.incidence_moment**2 + panel.sideslip_moment**2)
    slip = pressure * leg_column(legs.sideslip)
    roll = flow * leg_column(legs.roll_rate) * panel.roll_moment
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
    air_density
        [kg/m**3], shape ``(legs,)``.
    true_airspeed
        [m/s], shape ``(legs,)``.
    fold_angle
        [rad], shape ``(legs, angles)``.

    Returns
    -------
    RowLoads
        Moments [N*m], shape ``(legs, angles)``, and what has one number a leg, ``(legs,)``.

    Notes
    -----
    Twist, toe and thickness act at the given lift: the wing incidence gives back what they lift.
    Gust (round the clock, full on the panel), sideslip, roll rate and wind are added worst on
    worst. Friction of the hinge is left to `hinge_moment`.

    References
    ----------
    :mod:`mdo.disciplines.loads.wind`, :mod:`mdo.disciplines.loads.panel_inertia`; reference
    hinge-moment, sections 1.6, 1.7, 3.1, 3.4 and 5.
    """
    density, speed = leg_column(air_density), leg_column(true_airspeed)
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
