"""Parameter records shared by the disciplines (immutable, SI units, usable as JAX pytrees).

Every field is an array or a scalar in float64, discrete choices included (as numbers), so that one
compiled chain serves every study of the same shape. Units and meanings of all fields are in
:mod:`mdo.quantities`. Per-leg arrays have shape ``(legs,)``.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

Scalar = Array | ArrayLike


class Alloy(NamedTuple):
    """Shape-memory alloy as every level needs it; temperatures at zero stress."""

    density: Scalar
    austenite_shear_modulus: Scalar
    martensite_shear_modulus: Scalar
    martensite_young_modulus: Scalar
    poisson_ratio: Scalar
    martensite_start: Scalar
    martensite_finish: Scalar
    austenite_start: Scalar
    austenite_finish: Scalar
    martensite_slope: Scalar
    austenite_slope: Scalar
    strain_min: Scalar
    strain_saturation: Scalar
    strain_rate_constant: Scalar
    strain_threshold_stress: Scalar
    detwinning_start_stress: Scalar
    detwinning_finish_stress: Scalar
    strain_factor: Scalar
    slope_factor: Scalar
    recoverable_strain: Scalar
    austenite_yield_stress: Scalar
    allowable_shear_stress: Scalar
    conductivity_martensite: Scalar
    conductivity_austenite: Scalar
    specific_heat: Scalar
    latent_heat: Scalar
    temperature_max: Scalar
    life_law: Scalar
    life_intercept: Scalar
    life_slope: Scalar
    declared_life_stress: Scalar
    declared_life_strain: Scalar
    declared_life_cycles: Scalar
    stroke_loss: Scalar
    residual_strain_rate: Scalar


class Planform(NamedTuple):
    """Geometry of the flat wing and of its folding panel (one panel), from the breakpoints.

    The last four are those of the breakpoints themselves, shape ``(breakpoints,)``; the tip is
    repeated so that most wings have the same number.
    """

    span: Scalar
    reference_area: Scalar
    aspect_ratio: Scalar
    taper_ratio: Scalar
    leading_edge_sweep: Scalar
    quarter_chord_sweep: Scalar
    half_chord_sweep: Scalar
    fold_station: Scalar
    panel_span: Scalar
    panel_area: Scalar
    panel_aspect_ratio: Scalar
    panel_centroid: Scalar
    panel_damping_integral: Scalar
    panel_apparent_inertia: Scalar
    fold_chord: Scalar
    fold_thickness: Scalar
    panel_mean_chord: Scalar
    schrenk_moment_factor: Scalar
    schrenk_force_factor: Scalar
    panel_incidence: Scalar
    inner_incidence: Scalar
    station: Scalar
    leading_edge: Scalar
    chord: Scalar
    twist: Scalar


class Vehicle(NamedTuple):
    """Vehicle and folding panel."""

    mass_without_actuator: Scalar
    panel_mass: Scalar
    panel_centre: Scalar
    panel_offset: Scalar
    panel_inertia: Scalar
    hinge_height: Scalar
    toe_angle: Scalar
    hinge_axis_pitch: Scalar
    section_lift_efficiency: Scalar
    skin_thickness: Scalar
    clearance: Scalar
    section_form: Scalar
    bearing_friction: Scalar
    bearing_radius: Scalar
    bearing_spacing: Scalar
    seal_moment: Scalar
    skin_stiffness: Scalar
    skin_free_angle: Scalar
    adjacent_temperature_limit: Scalar
    structure_gap: Scalar
    fuel_near_bay: Scalar


class Legs(NamedTuple):
    """One entry per leg: a motion (or a hold, a lock, a soak) with its flight state and limits.

    ``filler`` is 1 for an entry that only fills the arrays up to a size (:mod:`mdo.model.sizes`): a
    copy of the last leg that counts for nothing.
    """

    direction: Scalar
    angle_from: Scalar
    angle_to: Scalar
    moves: Scalar
    holds: Scalar
    locked: Scalar
    soak: Scalar
    filler: Scalar
    is_return: Scalar
    has_return: Scalar
    airborne: Scalar
    mach: Scalar
    altitude: Scalar
    temperature_offset: Scalar
    load_factor: Scalar
    side_load_factor: Scalar
    bank: Scalar
    deck_roll: Scalar
    pitch: Scalar
    sideslip: Scalar
    roll_rate: Scalar
    roll_acceleration: Scalar
    gust_speed: Scalar
    wind_speed: Scalar
    mass_fraction: Scalar
    bay_prescribed: Scalar
    bay_cold: Scalar
    bay_hot: Scalar
    soak_temperature: Scalar
    bay_soak_factor: Scalar
    structure_temperature: Scalar
    bay_air_speed: Scalar
    time_limit: Scalar
    other_cold: Scalar
    other_warmed: Scalar
    wound_cold: Scalar
    hold_time: Scalar
    cooling_limit: Scalar
    folds_per_life: Scalar
    safety_factor: Scalar
    torque_margin_required: Scalar
    outer_stress_factor: Scalar


def real_legs(legs: Legs, values: Array) -> Array:
    """Mask of what runs over legs: true where the leg is one of the study, not a filler.

    Parameters
    ----------
    legs
        Record: filler.
    values
        In any unit, shape (legs, ...).

    Returns
    -------
    Array
        True or false [1], shape of the values.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> real_legs(SimpleNamespace(filler=[0.0, 1.0]), jnp.ones((2, 1))).tolist()
    [[True], [False]]

    References
    ----------
    Derived.
    """
    real = jnp.asarray(legs.filler) < 0.5
    return jnp.broadcast_to(real.reshape(-1, *(1,) * (values.ndim - 1)), values.shape)


class Statics(NamedTuple):
    """Cases that nothing moves (locked, jammed, soaked): their states, each at one fold angle.

    A study without any holds one idle entry, so that shapes stay non-empty.
    """

    state: Legs


class Choices(NamedTuple):
    """Discrete choices as numbers, so that one compiled chain serves them all.

    ``assemblies`` is 2 for the wings of an aircraft, 1 on a bench.
    """

    configuration: Scalar
    drive_side: Scalar
    return_mode: Scalar
    topology: Scalar
    gear_lanes: Scalar
    heater: Scalar
    cooling: Scalar
    emissivity: Scalar
    brake: Scalar
    set_present: Scalar
    tubes_failed: Scalar
    assemblies: Scalar


class Supply(NamedTuple):
    """Electrical supply of the aircraft and the run to the hinge."""

    nominal_voltage: Scalar
    low_voltage_ratio: Scalar
    high_voltage_ratio: Scalar
    regulated: Scalar
    power_available: Scalar
    run_length: Scalar
    wire_temperature_rating: Scalar
    allowed_drop: Scalar
    battery: Scalar
    folds_per_sortie: Scalar


class Requirements(NamedTuple):
    """Requirements and factors that hold for the whole study."""

    torque_margin: Scalar
    warm_up_time: Scalar
    added_moment: Scalar
    friction_factor: Scalar
    overrun_factor: Scalar
    lot_tolerance: Scalar
    return_gate: Scalar
    self_start_gate: Scalar
    trim_fraction: Scalar
    dead_time: Scalar
    life_factor: Scalar
    length_to_diameter_max: Scalar
    envelope_height: Scalar
    envelope_length: Scalar
    windup_limit: Scalar


# What numbers and arrays stand for.
TOPOLOGIES = ("knuckle", "nested", "geared", "plated")  # Choices.topology

# Lines in the order of the arrays, and the growth class of each.
MASS_LINES: dict[str, str] = {
    "tubes, up set": "mechanisms",
    "tubes, down set": "mechanisms",
    "end fittings and supports": "mechanisms",
    "heaters": "thermal",
    "insulation": "thermal",
    "gears": "mechanisms",
    "plates": "structure",
    "housing": "structure",
    "bearings": "mechanisms",
    "return spring": "mechanisms",
    "lock": "mechanisms",
    "brake": "mechanisms",
    "sensors": "instrumentation",
    "cooling": "thermal",
    "fasteners, brackets, seals": "brackets",
    "harness": "harness",
    "controller": "electronics",
    "power conversion": "electronics",
    "battery or generator share": "battery",
}


WING_LINES = 15
LOCK, BRAKE, FASTENERS = 10, 11, 14  # places of the lines that close the loop

# Lines of the geared hinge in the order of their array, and the growth class of each, the same row
# as for the SMA actuator.
GEARED_LINES: dict[str, str] = {
    "gear and motor": "mechanisms",
    "brake": "mechanisms",
    "no-back": "mechanisms",
    "housing": "structure",
    "motor controller": "electronics",
    "source and wiring": "battery",
    "lock": "mechanisms",
    "sensors": "instrumentation",
    "fasteners, brackets, seals": "brackets",
}
