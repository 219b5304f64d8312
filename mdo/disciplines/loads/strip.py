"""Level `strip` of the hinge moment: panel aerodynamics from closed-form span loads."""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.levels import LoadsLevel
from mdo.disciplines.loads.assumptions import AeroAssumptions
from mdo.disciplines.loads.entries import loads_by
from mdo.disciplines.loads.fold_factors import fold_factors
from mdo.disciplines.loads.lift_slope import TRANSONIC_START, lift_slope
from mdo.disciplines.loads.panel_aerodynamics import SIDESLIP_ASPECT, PanelAerodynamics
from mdo.disciplines.loads.span_load import flat_span_load
from mdo.disciplines.loads.supersonic_slope import transonic_end
from mdo.disciplines.records import Planform, Vehicle
from mdo.disciplines.smooth import cubic_step
from mdo.disciplines.wiring import by_names


def wing_and_panel_slopes(
    planform: Planform, *, mach: ArrayLike, section_lift_efficiency: ArrayLike
) -> Array:
    """Slopes of the wing, of the panel in its own incidence, and of the panel in fold rate.

    Parameters
    ----------
    planform
        Wing and panel; the panel is taken as a wing of its own, swept and tapered as the wing.
    mach
        Mach number [1], any shape.
    section_lift_efficiency
        Section slope over 2 pi/B [1].

    Returns
    -------
    Array
        [1/rad], a leading axis of three before the shape of `mach`.

    References
    ----------
    :func:`mdo.disciplines.loads.lift_slope.lift_slope`; reference hinge-moment, section 6 (1.5
    times the panel's aspect ratio for a normal wash of the panel alone: lattice/this = 0.85 to
    1.01) and 3.1 (1 times it for fold rate).
    """
    mach = jnp.asarray(mach)
    own = jnp.asarray(planform.panel_aspect_ratio)
    aspect = jnp.stack([jnp.asarray(planform.aspect_ratio), SIDESLIP_ASPECT * own, own])
    return lift_slope(
        mach=mach,
        aspect_ratio=aspect.reshape(3, *(1,) * mach.ndim),
        taper_ratio=planform.taper_ratio,
        leading_edge_sweep=planform.leading_edge_sweep,
        half_chord_sweep=planform.half_chord_sweep,
        section_lift_efficiency=section_lift_efficiency,
    )


def flow_regime(
    planform: Planform, aero: AeroAssumptions, *, mach: ArrayLike, airborne: ArrayLike
) -> tuple[Array, Array, Array]:
    """Chordwise centre, relative uncertainty and transonic flag of each leg.

    Parameters
    ----------
    planform
        Its aspect ratio sets the end of the transonic range.
    aero
        Centres and uncertainties of each regime.
    mach, airborne
        Mach number, and 1 in flight [1], shape ``(legs,)``.

    Returns
    -------
    tuple of Array
        ``(chordwise_centre, load_uncertainty, transonic)`` [1], each ``(legs,)``; the uncertainty
        changes in steps: it is printed, not optimised.

    References
    ----------
    Reference hinge-moment, sections 1.2, 1.4, 1.6 and 3.6; judgement (uncertainties).
    """
    mach = jnp.asarray(mach)
    end = transonic_end(planform.aspect_ratio)
    transonic = (mach > TRANSONIC_START) & (mach < end)
    flight = jnp.where(
        mach < end, jnp.asarray(aero.uncertainty_subsonic), jnp.asarray(aero.uncertainty_supersonic)
    )
    flight = jnp.where(transonic, aero.uncertainty_transonic, flight)
    uncertainty = jnp.where(jnp.asarray(airborne) > 0.5, flight, aero.uncertainty_wind)
    shift = cubic_step(mach, TRANSONIC_START, end)
    centre = (1.0 - shift) * jnp.asarray(aero.chordwise_centre_subsonic)
    centre += shift * jnp.asarray(aero.chordwise_centre_supersonic)
    return centre, uncertainty, transonic.astype(float)


def strip_aerodynamics(
    planform: Planform,
    vehicle: Vehicle,
    aero: AeroAssumptions,
    *,
    mach: ArrayLike,
    airborne: ArrayLike,
    fold_angle: ArrayLike,
) -> PanelAerodynamics:
    r"""Panel aerodynamics from closed-form span loads and fold factors.

    .. math:: \frac{M}{L} = \frac b2 \frac{M_{h0}}{L b/2} \frac{K_M}{K_L}, \quad
              \frac{N}{L} = \frac{N_{o0}}{L} \frac{K_N}{K_L}

    Parameters
    ----------
    planform, vehicle, aero
        Wing and panel, section efficiency, assumptions.
    mach, airborne
        Mach number, and 1 in flight [1], shape ``(legs,)``.
    fold_angle
        [rad], shape ``(legs, angles)``.

    Returns
    -------
    PanelAerodynamics
        Per dynamic pressure [m**2] and [m**3]; see there.

    Notes
    -----
    A normal wash of the panel alone (sideslip, twist, toe) acts at the load centroid of the flat
    panel. Roll is taken strip-wise with the slope of the panel's own aspect ratio.

    References
    ----------
    :mod:`mdo.disciplines.loads.fold_factors`; reference hinge-moment, sections 1, 3.1 and 6.
    """
    mach = jnp.asarray(mach)
    column = mach[:, None]
    cosine, sine = jnp.cos(fold_angle), jnp.sin(fold_angle)
    flat = flat_span_load(planform, column)
    factors = fold_factors(planform, column, fold_angle)
    semi_span = 0.5 * jnp.asarray(planform.span)
    flat_arm, load_centroid = semi_span * flat.moment, semi_span * flat.moment / flat.force
    wing_slope, own, single = wing_and_panel_slopes(
        planform, mach=column, section_lift_efficiency=vehicle.section_lift_efficiency
    )
    area = jnp.asarray(planform.panel_area)
    lift = wing_slope * planform.reference_area
    force = own * area * jnp.ones_like(cosine)
    first = area * jnp.asarray(planform.panel_centroid)
    second = jnp.asarray(planform.panel_damping_integral)
    roll_arm = planform.fold_station * cosine + vehicle.hinge_height * sine
    # against the inboard wing, whose own incidence the trim at the given lift takes out
    twist = planform.panel_incidence - jnp.asarray(planform.inner_incidence) * cosine
    centre, uncertainty, transonic = flow_regime(planform, aero, mach=mach, airborne=airborne)
    return PanelAerodynamics(
        lift_moment_arm=flat_arm * factors.moment / factors.lift,
        lift_normal_fraction=flat.force * factors.force / factors.lift,
        incidence_moment=lift * flat_arm * factors.moment,
        incidence_force=lift * flat.force * factors.force,
        sideslip_moment=force * sine * load_centroid,
        sideslip_force=force * sine,
        panel_moment=force * load_centroid,
        panel_force=force,
        panel_lift=2.0 * force * cosine,
        twist_moment=force * load_centroid * twist,
        twist_force=force * twist,
        twist_lift=2.0 * force * twist * cosine,
        roll_moment=single * (roll_arm * first + second),
        rate_moment=single * second * jnp.ones_like(cosine),
        chordwise_centre=centre,
        load_uncertainty=uncertainty,
        incidence_uncertainty=jnp.ones_like(uncertainty) * aero.uncertainty_incidence,
        transonic=transonic,
    )


strip_loads = by_names(loads_by, strip_aerodynamics, name="strip_loads", module=__name__)
LEVEL = LoadsLevel(loads=strip_loads)
