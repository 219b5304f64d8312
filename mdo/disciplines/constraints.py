"""Constraint rows: every requirement and limit, normalised to order one, positive is good.

Temperatures are divided by 10 K, times by the logarithm of the ratio, strains by 0.01. Every leg
and angle has its own rows; which rows count in a study is decided in :mod:`mdo.model.rows`.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.bundle.assumptions import BundleAssumptions
from mdo.disciplines.records import (
    Alloy,
    Choices,
    Legs,
    Planform,
    Requirements,
    Supply,
    Vehicle,
)
from mdo.disciplines.tube import torsion
from mdo.disciplines.tube.roles import OPPOSED
from mdo.disciplines.tube.sma import ROOT3
from mdo.disciplines.tube.travel import DOWN, UP, pick

KELVIN = 10.0  # [K] scale of temperature rows
STRAIN = 0.01  # scale of strain rows


class Rows(NamedTuple):
    """Constraint rows; the shape of each is in :mod:`mdo.model.rows`."""

    drive_stress: Array
    drive_strain: Array
    failed_stress_row: Array
    failed_strain_row: Array
    load_return: Array
    overrun: Array
    fold_time_row: Array
    return_time_row: Array
    return_heat_row: Array
    power_reserve: Array
    return_temperature: Array
    self_start: Array
    driver: Array
    structure_temperature_row: Array
    declared_stress: Array
    declared_strain: Array
    strength: Array
    recoverable: Array
    life: Array
    heater_watt_density: Array
    heater_sheath: Array
    buckling: Array
    alloy_temperature: Array
    bus_power: Array
    slenderness: Array
    stubbiness: Array
    wall: Array
    bore: Array
    bundle_room: Array
    bundle_chord: Array
    envelope_height_row: Array
    envelope_length_row: Array
    plated_gate: Array
    nested_gate: Array
    static_self_start: Array


def log_ratio(limit: ArrayLike, value: ArrayLike) -> Array:
    """``ln(limit/value)`` for positive quantities, guarded at 1e-12."""
    return jnp.log(jnp.maximum(limit, 1e-12) / jnp.maximum(value, 1e-12))


def by_leg(values: Array, pushes_up: Array) -> Array:
    """Column of a (legs, sets) array that belongs to the set asked for in each leg."""
    return jnp.where(pushes_up, values[:, UP], values[:, DOWN])


class TorqueRows(NamedTuple):
    """Rows on stress and strain of every leg and angle."""

    drive_stress: Array
    drive_strain: Array
    failed_stress_row: Array
    failed_strain_row: Array
    load_return: Array
    overrun: Array


def torque_rows(
    *,
    up: Array,
    operating_stress: Array,
    stress_cap: Array,
    tube_strain: Array,
    required_stress: Array,
    required_strain: Array,
    failed_stress: Array,
    failed_strain: Array,
    return_strain: Array,
    return_needed_strain: Array,
    holding_moment: Array,
    overrun_moment: Array,
    required_moment: Array,
    overrun_factor: ArrayLike,
) -> TorqueRows:
    """Rows of shape (legs, angles): stress and strain against what the tube has.

    ``overrun`` compares the moment that holds without heat with the factored overrunning load, per
    unit of the mean required moment.
    """
    scale = jnp.mean(jnp.abs(required_moment), axis=-1, keepdims=True) + 1.0
    return TorqueRows(
        drive_stress=1.0 - required_stress / pick(operating_stress, up[:, None]),
        drive_strain=(tube_strain - required_strain) / STRAIN,
        failed_stress_row=1.0 - failed_stress / stress_cap,
        failed_strain_row=(tube_strain - failed_strain) / STRAIN,
        load_return=(return_strain - return_needed_strain) / STRAIN,
        overrun=(holding_moment + overrun_factor * overrun_moment) / scale,
    )


def self_start_row(hottest: Array, alloy: Alloy, requirements: Requirements) -> Array:
    """Self-start gate: ``As - lot tolerance - gate`` above the hottest bay, per 10 K."""
    gate = jnp.asarray(requirements.lot_tolerance) + requirements.self_start_gate
    return (jnp.asarray(alloy.austenite_start) - gate - hottest) / KELVIN


class LegRows(NamedTuple):
    """Rows of shape (legs,)."""

    fold_time_row: Array
    return_time_row: Array
    return_heat_row: Array
    power_reserve: Array
    return_temperature: Array
    self_start: Array
    driver: Array


def leg_rows(
    *,
    up: Array,
    driver_missing: Array,
    heat_time: Array,
    cool_time: Array,
    power_balance: Array,
    cooling_finish: Array,
    bay_hot_temperature: Array,
    legs: Legs,
    choices: Choices,
    requirements: Requirements,
    alloy: Alloy,
) -> LegRows:
    """Times, power reserve and temperature gates of each leg.

    The set that must cool in a return leg is the one that opposes its motion: the set that drove
    the fold. In the re-twist mode the other set starts when it is cold, so the times add; cooled
    under load, both must be ready within the limit.
    """
    heat = by_leg(heat_time, up)
    cooled_up = ~up
    cool = by_leg(cool_time, cooled_up)
    opposed = jnp.asarray(choices.configuration) == OPPOSED
    adds = opposed & (jnp.asarray(choices.return_mode) > 0.5)
    finish = pick(cooling_finish, cooled_up)
    gate = requirements.lot_tolerance + requirements.return_gate
    return LegRows(
        fold_time_row=log_ratio(legs.time_limit, heat),
        return_time_row=log_ratio(legs.time_limit, cool + jnp.where(adds, heat, 0.0)),
        return_heat_row=log_ratio(legs.time_limit, heat),
        power_reserve=by_leg(power_balance, up),
        return_temperature=(finish - gate - bay_hot_temperature) / KELVIN,
        self_start=self_start_row(bay_hot_temperature, alloy, requirements),
        driver=1.0 - 2.0 * driver_missing,
    )


class BundleRows(NamedTuple):
    """Scalar rows on geometry and room."""

    slenderness: Array
    stubbiness: Array
    wall: Array
    bore: Array
    bundle_room: Array
    bundle_chord: Array
    envelope_height_row: Array
    envelope_length_row: Array
    plated_gate: Array
    nested_gate: Array


def bundle_rows(
    *,
    section: torsion.Section,
    tube_length: Array,
    bundle_length: Array,
    bundle_height: Array,
    height_available: Array,
    parasitic_strain_ratio: Array,
    nested_bore_radius: Array,
    planform: Planform,
    requirements: Requirements,
    bundle_assumptions: BundleAssumptions,
) -> BundleRows:
    """What can be made and what fits: lengths over diameters, wall, bore, slab, envelope, gates."""
    a = bundle_assumptions
    slender = tube_length / (2.0 * section.outer_radius)
    return BundleRows(
        slenderness=log_ratio(requirements.length_to_diameter_max, slender),
        stubbiness=log_ratio(slender, a.length_to_diameter_min),
        wall=log_ratio(section.outer_radius - section.inner_radius, a.wall_min),
        bore=log_ratio(section.inner_radius, a.bore_radius_min),
        bundle_room=(height_available - bundle_height) / planform.fold_thickness,
        bundle_chord=1.0 - bundle_length / (a.bundle_chord_fraction_max * planform.fold_chord),
        envelope_height_row=1.0 - bundle_height / requirements.envelope_height,
        envelope_length_row=1.0 - bundle_length / requirements.envelope_length,
        plated_gate=1.0 - parasitic_strain_ratio,
        nested_gate=log_ratio(nested_bore_radius, a.bore_radius_min),
    )


def constraints(
    *,
    tube_outer_radius: Array,
    wall_ratio: Array,
    tube_length: Array,
    operating_stress: Array,
    pushes_up: Array,
    driver_missing: Array,
    tube_strain: Array,
    required_moment: Array,
    overrun_moment: Array,
    required_stress: Array,
    required_strain: Array,
    failed_stress: Array,
    failed_strain: Array,
    return_strain: Array,
    return_needed_strain: Array,
    holding_moment: Array,
    outer_stress_operating: Array,
    outer_strain_max: Array,
    stroke_strain: Array,
    leg_outer_stress: Array,
    life_use: Array,
    heat_time: Array,
    cool_time: Array,
    power_balance: Array,
    cooling_finish: Array,
    bay_hot_temperature: Array,
    structure_temperature_hot: Array,
    heater_flux: Array,
    heater_flux_limit: Array,
    sheath_temperature: Array,
    sheath_temperature_limit: Array,
    tube_temperature_max: Array,
    peak_power: Array,
    buckling_stress: Array,
    bundle_length: Array,
    bundle_height: Array,
    height_available: Array,
    parasitic_strain_ratio: Array,
    nested_bore_radius: Array,
    static_bay_hot: Array,
    legs: Legs,
    planform: Planform,
    vehicle: Vehicle,
    choices: Choices,
    supply: Supply,
    requirements: Requirements,
    alloy: Alloy,
    bundle_assumptions: BundleAssumptions,
) -> Rows:
    """All constraint rows of one design (>= 0 is good); names as in :mod:`mdo.model.rows`.

    Arguments are outputs of the other disciplines under their own names, see
    :mod:`mdo.quantities`.
    """
    section = torsion.section(tube_outer_radius, wall_ratio)
    up = pushes_up > 0.5
    a = bundle_assumptions
    relief = jnp.maximum(wall_ratio - a.buckling_wall_ratio, 0.0) / (0.1 * a.buckling_wall_ratio)
    torque = torque_rows(
        up=up,
        operating_stress=operating_stress,
        stress_cap=jnp.asarray(alloy.allowable_shear_stress) / torsion.outer_stress(1.0, section),
        tube_strain=tube_strain,
        required_stress=required_stress,
        required_strain=required_strain,
        failed_stress=failed_stress,
        failed_strain=failed_strain,
        return_strain=return_strain,
        return_needed_strain=return_needed_strain,
        holding_moment=holding_moment,
        overrun_moment=overrun_moment,
        required_moment=required_moment,
        overrun_factor=requirements.overrun_factor,
    )
    leg = leg_rows(
        up=up,
        driver_missing=driver_missing,
        heat_time=heat_time,
        cool_time=cool_time,
        power_balance=power_balance,
        cooling_finish=cooling_finish,
        bay_hot_temperature=bay_hot_temperature,
        legs=legs,
        choices=choices,
        requirements=requirements,
        alloy=alloy,
    )
    geometry = bundle_rows(
        section=section,
        tube_length=tube_length,
        bundle_length=bundle_length,
        bundle_height=bundle_height,
        height_available=height_available,
        parasitic_strain_ratio=parasitic_strain_ratio,
        nested_bore_radius=nested_bore_radius,
        planform=planform,
        requirements=requirements,
        bundle_assumptions=bundle_assumptions,
    )
    return Rows(
        **torque._asdict(),
        **leg._asdict(),
        **geometry._asdict(),
        structure_temperature_row=(
            jnp.asarray(vehicle.adjacent_temperature_limit) - structure_temperature_hot
        )
        / KELVIN,
        declared_stress=1.0 - leg_outer_stress / alloy.declared_life_stress,
        declared_strain=1.0 - stroke_strain / alloy.declared_life_strain,
        strength=1.0 - outer_stress_operating / alloy.allowable_shear_stress,
        recoverable=1.0 - outer_strain_max / (ROOT3 * alloy.recoverable_strain),
        life=-jnp.log(jnp.maximum(life_use, 1e-12)) / 2.5,
        heater_watt_density=1.0 - heater_flux / heater_flux_limit,
        heater_sheath=(sheath_temperature_limit - sheath_temperature) / KELVIN,
        buckling=log_ratio(buckling_stress, operating_stress) + relief**2,
        alloy_temperature=(jnp.asarray(alloy.temperature_max) - tube_temperature_max) / KELVIN,
        bus_power=log_ratio(supply.power_available, peak_power),
        static_self_start=self_start_row(static_bay_hot, alloy, requirements),
    )
