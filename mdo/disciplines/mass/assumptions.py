"""Assumptions of the mass roll-up: gears, fittings, housing, lock, sensors, spring, growth."""

from __future__ import annotations

from typing import NamedTuple

from mdo.disciplines.records import Scalar


class MassAssumptions(NamedTuple):
    """Assumptions of the mass lines; units and meanings stand in :mod:`mdo.quantities`."""

    fitting_density: Scalar
    fitting_outer_ratio: Scalar
    fitting_factor: Scalar
    spline_bearing_allowable: Scalar
    spline_share: Scalar
    spline_teeth: Scalar
    spline_height_ratio: Scalar
    support_slenderness: Scalar
    support_share: Scalar
    gear_application_density: Scalar
    structure_density: Scalar
    structure_shear_allowable: Scalar
    structure_shear_modulus: Scalar
    plate_thickness_min: Scalar
    plate_fill: Scalar
    plate_edge_ratio: Scalar
    housing_thickness_min: Scalar
    housing_fitting_factor: Scalar
    housing_flange_factor: Scalar
    bearing_density: Scalar
    bearing_form: Scalar
    bearing_section_ratio: Scalar
    lock_mass_fixed: Scalar
    lock_pin_density: Scalar
    lock_pin_shear_allowable: Scalar
    lock_pin_planes: Scalar
    lock_pin_slenderness: Scalar
    lock_factor: Scalar
    lock_arm_ratio: Scalar
    brake_torque_density: Scalar
    brake_speed_ratio: Scalar
    resolver_mass: Scalar
    resolver_count: Scalar
    thermocouple_mass: Scalar
    thermocouples_per_tube: Scalar
    switch_mass: Scalar
    switch_count: Scalar
    fastener_fraction: Scalar
    spring_shear_allowable: Scalar
    spring_shear_modulus: Scalar
    spring_density: Scalar
    spring_factor: Scalar
    growth_structure: Scalar
    growth_brackets: Scalar
    growth_battery: Scalar
    growth_thermal: Scalar
    growth_mechanisms: Scalar
    growth_harness: Scalar
    growth_instrumentation: Scalar
    growth_electronics_small: Scalar
    growth_electronics_medium: Scalar
    growth_electronics_large: Scalar
