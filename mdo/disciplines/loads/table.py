"""Level `table` of the hinge moment: the user's own aerodynamic moments, mass loads added."""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.levels import LoadsLevel
from mdo.disciplines.loads.entries import LoadCase, Loads, loads_by
from mdo.disciplines.loads.strip import strip_aerodynamics
from mdo.disciplines.wiring import by_names


def loads_of_table(
    *,
    case: LoadCase,
    table_moment_low: Array,
    table_moment_high: Array,
    static_table_low: Array,
    static_table_high: Array,
) -> Loads:
    """Loads with the user's aerodynamic hinge moments, lift included; mass loads are added.

    Parameters
    ----------
    case
        As of the level `strip`: it still gives bearing forces, damping and the moments of the mass.
    table_moment_low, table_moment_high
        Least and greatest aerodynamic hinge moment of each leg and angle [N*m], limit load, shape
        ``(legs, angles)``. They do not follow the vehicle's mass.
    static_table_low, static_table_high
        The same of each static case at its angle [N*m], shape ``(cases,)``.

    Returns
    -------
    Loads
        Moments [N*m]; no arm of the lift: all of the air counts as incidence and half width.

    References
    ----------
    :func:`mdo.disciplines.loads.entries.loads_by`; the moments are the user's own.
    """
    strip = loads_by(strip_aerodynamics, case=case)
    scale = jnp.asarray(case.aero.moment_scale)
    air_low, air_high = scale * table_moment_low, scale * table_moment_high
    uncertainty = jnp.zeros_like(strip.legs.load_uncertainty) + case.aero.uncertainty_table
    legs = strip.legs._replace(
        lift_moment_arm=jnp.zeros_like(strip.legs.lift_moment_arm),
        steady_moment_low=strip.legs.mass_moment_low + air_low,
        steady_moment_high=strip.legs.mass_moment_high + air_high,
        panel_incidence_moment=(air_low + air_high) / 2.0,
        air_moment_half_width=(air_high - air_low) / 2.0,
        load_uncertainty=uncertainty,
        incidence_uncertainty=uncertainty,
    )
    return strip._replace(
        legs=legs,
        static_lift_arm=jnp.zeros_like(strip.static_lift_arm),
        static_moment_low=strip.static_mass_moment_low + scale * static_table_low,
        static_moment_high=strip.static_mass_moment_high + scale * static_table_high,
    )


table_loads = by_names(loads_of_table, name="table_loads")
LEVEL = LoadsLevel(loads=table_loads)
