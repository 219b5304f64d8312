"""Discipline entry `bounds`: what physics allows at best to each stroke, for the report."""

from __future__ import annotations

from functools import partial
from typing import NamedTuple

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.electric.assumptions import PowerAssumptions
from mdo.disciplines.records import Alloy, Choices, Legs, Requirements, Supply
from mdo.disciplines.tube import heat_limits, torsion, work_limits
from mdo.disciplines.tube.life import allowable_work_density
from mdo.disciplines.tube.travel import pick


class Bounds(NamedTuple):
    """Bounds of every stroke of one wing, and what they are made of; L legs, 2 sets.

    (L,): stroke_work against the resisting moment, stroke_net_work (signed by the motion, what
    assists counted negative), stroke_box (peak moment x travel), stroke_least_heat that the alloy
    must take [J]; stroke_least_time at all of the power granted [s]; least_alloy_by_life and
    least_alloy_by_strength of one wing [kg]; allowable_work_density by the life asked [J/m3];
    gross_efficiency_limit, carnot_limit [1]. (2,): active_mass [kg], least_temperature_span [K].
    (): work_ceiling [J/kg] at the allowable stress, full_strain [1] there, geometric_utilisation.
    """

    stroke_work: Array
    stroke_net_work: Array
    stroke_box: Array
    stroke_least_heat: Array
    stroke_least_time: Array
    least_alloy_by_life: Array
    least_alloy_by_strength: Array
    allowable_work_density: Array
    gross_efficiency_limit: Array
    carnot_limit: Array
    active_mass: Array
    least_temperature_span: Array
    work_ceiling: Array
    full_strain: Array
    geometric_utilisation: Array


def _lasting_work(folds: Array, alloy: Alloy) -> Array:
    """Work per volume that a number of folds allows, by law or as declared [J/m**3]."""
    by_law = allowable_work_density(folds, alloy)
    declared = jnp.asarray(alloy.declared_life_stress) * alloy.declared_life_strain
    return jnp.where(jnp.asarray(alloy.life_law) > 0.5, by_law, declared)


def _least_alloy(
    work: Array, efficiency: Array, matching: Array, specific_work: Array, factor: ArrayLike
) -> Array:
    """Least alloy of one wing for a work per mass and a factor on the work [kg]."""
    return work_limits.minimum_alloy_mass(
        work,
        specific_work=specific_work,
        safety_factor=factor,
        efficiency=efficiency,
        load_matching=jnp.where(matching > 0.0, matching, 1.0),
    )


def _least_heat(mass: Array, hot: Array, cold: Array, fraction: Array, alloy: Alloy) -> Array:
    """Heat that a mass of alloy takes of which a fraction is turned [J]."""
    turned = alloy._replace(latent_heat=alloy.latent_heat * fraction)
    return heat_limits.minimum_stroke_energy(
        mass, hot_temperature=hot, cold_temperature=cold, alloy=turned
    )


def _gross_limit(hot: Array, cold: Array, fraction: Array, alloy: Alloy) -> Array:
    """Bound of the gross work of a stroke over its heat [1].

    What turns less than half at its operating stress turns the rest as its load falls over the
    stroke (a load as cos(angle) to 90 deg): there the bound is that of the best fraction.
    """
    at = partial(
        heat_limits.gross_stroke_limit,
        hot_temperature=hot[..., None],
        cold_temperature=cold[..., None],
        alloy=alloy,
    )
    best = jnp.max(at(heated_fraction=jnp.linspace(0.0, 1.0, 201)), axis=-1)
    own = at(heated_fraction=fraction[..., None])[..., 0]
    return jnp.where(fraction < 0.5, best, own)


def bounds(
    *,
    tube_outer_radius: Array,
    wall_ratio: Array,
    tube_length: Array,
    tube_count: Array,
    operating_stress: Array,
    hot_temperature: Array,
    fold_angle: Array,
    required_moment: Array,
    pushes_up: Array,
    heated_fraction: Array,
    smallest_return_stress: Array,
    bay_cold_temperature: Array,
    transmission_efficiency: Array,
    alloy_mass: Array,
    legs: Legs,
    alloy: Alloy,
    choices: Choices,
    supply: Supply,
    requirements: Requirements,
    power_assumptions: PowerAssumptions,
) -> Bounds:
    """Find what no design of the kind can pass; see :mod:`mdo.disciplines.tube.work_limits`.

    Parameters
    ----------
    tube_outer_radius, tube_length
        Outer radius and active length of a tube [m].
    wall_ratio
        Wall over outer radius [1].
    tube_count
        Tubes of each set [1], shape (2,).
    operating_stress
        Mean stress of each set [Pa], shape (2,).
    hot_temperature
        Temperature at the end of heating [K].
    fold_angle
        Fold angle [rad], shape (legs, angles).
    required_moment
        R at limit load [N*m], shape (legs, angles).
    pushes_up
        1 where the up set drives [1], shape (legs,).
    heated_fraction
        Austenite of each set when hot [1], shape (2,).
    smallest_return_stress
        Of each set [Pa], shape (2,).
    bay_cold_temperature
        Coldest bay of each leg [K], shape (legs,).
    transmission_efficiency
        Tube torque to hinge moment [1].
    alloy_mass
        Of the aircraft, ends included [kg].
    legs, alloy, choices, supply, requirements, power_assumptions
        Records.

    Returns
    -------
    Bounds
        Works and heats [J], times [s], masses [kg], temperatures [K], ratios [1].

    Notes
    -----
    The least alloy is that of peak moment x travel (a tube of fixed ratio is sized at the peak):
    unfactored over what the life allows, or with the torque margin over what the strength allows.

    References
    ----------
    :mod:`mdo.disciplines.tube.work_limits`, :mod:`mdo.disciplines.tube.heat_limits`.
    """
    section = torsion.section(tube_outer_radius, wall_ratio)
    wings, up = jnp.asarray(choices.assemblies), pushes_up > 0.5
    moved = fold_angle[:, -1] - fold_angle[:, 0]
    active = section.area * tube_length * alloy.density * choices.set_present * tube_count
    resisting = jnp.maximum(required_moment, 0.0)
    work = jnp.abs(jnp.trapezoid(resisting, fold_angle, axis=-1))
    box = jnp.max(resisting, axis=-1) * jnp.abs(moved)
    fraction = pick(heated_fraction, up)
    heat = _least_heat(pick(active, up), hot_temperature, bay_cold_temperature, fraction, alloy)
    granted = jnp.asarray(supply.power_available) * power_assumptions.converter_efficiency
    lasting = _lasting_work(jnp.asarray(legs.folds_per_life) * requirements.life_factor, alloy)
    ceiling = work_limits.work_ceiling(alloy.allowable_shear_stress, alloy)
    utilisation = work_limits.geometric_utilisation(wall_ratio)
    efficiency = utilisation * (wings * jnp.sum(active) / alloy_mass) * transmission_efficiency
    matching = work_limits.load_matching_ratio(resisting, fold_angle)
    least = partial(_least_alloy, work, efficiency, matching)
    return Bounds(
        stroke_work=work,
        stroke_net_work=jnp.sign(moved) * jnp.trapezoid(required_moment, fold_angle, axis=-1),
        stroke_box=box,
        stroke_least_heat=heat,
        stroke_least_time=heat_limits.minimum_fold_time(
            wings * heat, power=granted, dead_time=requirements.dead_time
        ),
        least_alloy_by_life=least(lasting / alloy.density, 1.0),
        least_alloy_by_strength=least(ceiling, 1.0 + jnp.asarray(legs.torque_margin_required)),
        allowable_work_density=lasting,
        gross_efficiency_limit=_gross_limit(hot_temperature, bay_cold_temperature, fraction, alloy),
        carnot_limit=heat_limits.carnot_efficiency(hot_temperature, bay_cold_temperature),
        active_mass=active,
        least_temperature_span=heat_limits.minimum_temperature_span(
            hot_stress=operating_stress, cold_stress=smallest_return_stress, alloy=alloy
        ),
        work_ceiling=ceiling,
        full_strain=work_limits.actuation_strain(alloy.allowable_shear_stress, alloy),
        geometric_utilisation=utilisation,
    )
