"""Closed forms along their ranges, where the six cases meet them at few places; one compile."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np

from mdo.disciplines import atmosphere, smooth
from mdo.disciplines.bundle import exposure, gear_sizing, gears, plated, strength, wing_room
from mdo.disciplines.electric import gauges, storage, wiring
from mdo.disciplines.heat import convection, energy_balance, heater, radiation
from mdo.disciplines.loads import fold_factors, lift_slope, span_load, wind
from mdo.disciplines.loads import supersonic_slope as edges
from mdo.disciplines.loads import supersonic_span_load as tips
from mdo.disciplines.loads.planform import planform_from_breakpoints
from mdo.disciplines.mass import conventional, growth, mechanism, structure, tubes
from mdo.disciplines.tube import heat_limits, hot, life, phases, sma, torsion, work_limits

from .kept import Fields
from .made_up import CASES, WINGS, made_up

MACH = np.array([0.0, 0.31, 0.62, 0.83, 0.88, 0.97, 1.04, 1.13, 1.29, 1.55, 1.87, 2.31, 2.9])
FOLD = np.array([-2.3, -1.57, -0.9, -0.2, 0.03, 0.4, 1.1, 1.57, 1.9])
STRESS = 1e6 * np.array([-210.0, -30.0, 0.0, 7.0, 41.0, 73.0, 111.0, 157.0, 190.0, 260.0, 430.0])
STRAIN = np.array([-0.02, -0.003, 0.0, 0.0007, 0.004, 0.013, 0.031, 0.062, 0.11])
SHARE = np.array([-0.2, 0.0, 0.07, 0.29, 0.51, 0.73, 0.97, 1.0, 1.3])
HEIGHT = np.array(
    [-900.0, 0.0, 3700.0, 11000.0, 15300.0, 23100.0, 39000.0, 49000.0, 63000.0, 77000.0]
)
POWER = np.array([0.0, 3.0, 140.0, 870.0, 5300.0, 41e3, 270e3])
AMPERES = np.array(
    [
        0.3,
        2.7,
        5.5,
        9.1,
        17.0,
        29.0,
        47.0,
        61.0,
        72.0,
        88.0,
        99.0,
        121.0,
        137.0,
        155.0,
        177.0,
        231.0,
        410.0,
    ]
)
RATINGS = np.array([350.0, 378.15, 391.0, 423.15, 451.0, 473.15, 530.0])
COUNT = np.array([0.6, 1.0, 1.7, 2.0, 3.4, 7.9, 23.0])
MOMENT = np.array([0.0, 3.7, 61.0, 940.0, 13e3])


def laws() -> Fields:
    """Results of the laws, by name."""
    given = {case: made_up(case).parameters for case in CASES}
    wings = {name: planform_from_breakpoints(**wing) for name, wing in WINGS.items()}
    found = {f"pressure {height:.0f}": atmosphere.standard_pressure(height) for height in HEIGHT}
    for case, parameters in given.items():
        found |= {f"{n}, {case}": v for n, v in _of_parameters(parameters).items()}
    for name, wing in wings.items():
        found |= {f"{n}, {name}": v for n, v in _of_wing(wing).items()}
    return _flat(found | _of_nothing())


def _flat(found: Fields) -> Fields:
    """Fields of records as fields of their own."""
    flat: dict[str, Any] = {}
    for name, value in found.items():
        parts = value._asdict() if hasattr(value, "_asdict") else None
        flat |= {name: value} if parts is None else {f"{name}: {k}": v for k, v in parts.items()}
    return flat


def _every_pair(law: Callable[..., Any]) -> Callable[..., Any]:
    """Law of two numbers at every pair of two lists."""
    return jax.vmap(jax.vmap(law, (None, 0)), (0, None))


@jax.jit
def _of_nothing() -> dict[str, Any]:
    """What takes plain numbers alone."""
    column = SHARE[:, None]
    x = jnp.asarray(SHARE)
    air = {"temperature": 233.0 + 300.0 * SHARE, "pressure": 1e5 - 7e4 * SHARE}
    rayleigh = 10.0 ** (-3.0 + 12.0 * SHARE)
    return {
        "softplus": smooth.softplus(x, 0.23), "blended_max": smooth.blended_max(column, x, 0.31),
        "blended_min": smooth.blended_min(column, x, 0.31), "smooth_step": smooth.smooth_step(x),
        "smooth_max": smooth.smooth_max(x * column, scale=0.2, axis=0, where=x * column > 0.1),
        "smooth_min": smooth.smooth_min(x * column, scale=0.2, axis=0),
        "cubic_step": smooth.cubic_step(x, 0.11, 0.83),
        "hermite": smooth.hermite(x, 0.7, -1.3, 2.1, 0.9),
        "atmosphere": atmosphere.standard_atmosphere(HEIGHT, 7.3),
        "recovery": atmosphere.recovery_temperature(231.0, MACH),
        "hull_view": exposure.hull_view_factor(0.9 + column, 0.31 + np.abs(SHARE)),
        "crowding": exposure.crowding(1.0 + SHARE),
        "lasting": gear_sizing.lasting_surface_factor(
            ratio=COUNT, surface_factor=9.1e6, bending=2.7e8, teeth=19.0, form_factor=0.32),
        "pinion": gear_sizing.pinion_for_face_ratio(
            MOMENT[:, None], ratio=COUNT, surface_factor=9.1e6, face_ratio=1.3),
        "collector": gears.collector_factor(COUNT[:, None], COUNT, 2.3),
        "per_lane": gears.pinions_per_lane(COUNT, 1.13),
        "lanes": gears.lanes_required(3.0 * COUNT[:5], ratio=COUNT[:5], spacing=1.13),
        "face": gears.face_width(MOMENT, pinion_diameter=0.021, ratio=2.7, surface_factor=9e6),
        "plate_motion": plated.plate_motion(
            circle_radius=0.043, relative_angle=FOLD, outer_diameter=0.013, tube_length=0.47),
        "lewis": strength.lewis_stress(tangential_force=MOMENT, face=0.02, module=0.0013,
                                       form_factor=0.31, pitch_speed=0.7),
        "spline": strength.spline_length(MOMENT, mean_diameter=0.021, tooth_height=0.0017,
                                         teeth=17.0, share=0.43, bearing_allowable=6.3e7),
        "wall": strength.wall_for_torsion(MOMENT, radius=0.037, shear_allowable=1.1e8),
        "four_digit": wing_room.four_digit_thickness(SHARE),
        "biconvex": wing_room.biconvex_thickness(SHARE),
        "end_thickness": [wing_room.end_thickness(SHARE, form) for form in (0.0, 1.0, 2.0)],
        "ampacity": _every_pair(gauges.ampacity_area)(AMPERES, RATINGS),
        "gauge": _every_pair(lambda current, rating: gauges.choose_gauge(
            current=current, loop_length=jnp.asarray(1.3), allowed_drop=jnp.asarray(3.1),
            temperature=jnp.asarray(371.0), rating=rating))(AMPERES, RATINGS),
        "conductor": wiring.conductor_area(
            current=jnp.asarray(AMPERES), loop_length=jnp.asarray(11.0),
            allowed_drop=jnp.asarray(1.7), temperature=jnp.asarray(371.0),
            rating=jnp.asarray(431.0), area_min=jnp.asarray(3.9e-7)),
        "converter": storage.converter_mass(power=POWER, small=0.0021, large=0.00057),
        "film": convection.air_film(**air),
        "crossflow": convection.crossflow_nusselt(10.0 ** (6.0 * SHARE), 0.6 + 0.2 * SHARE),
        "natural": convection.natural_nusselt(rayleigh, jnp.asarray(0.71)),
        "mixed": convection.mixed_nusselt(3.0 + column, jnp.asarray(2.0 + SHARE)),
        "coefficient": convection.film_coefficient(
            surface_temperature=jnp.asarray(431.0), air_temperature=air["temperature"],
            pressure=air["pressure"], diameter=jnp.asarray(0.017), speed=jnp.asarray(6.1),
            natural_factor=jnp.asarray(1.07), forced_factor=jnp.asarray(0.87)),
        "free_path": heater.mean_free_path(**air),
        "gap": heater.gap_conductance(**air, gap=6e-5, emissivity=0.47),
        "escape": radiation.effective_emissivity(SHARE[2:-1], SHARE[2:-1, None]),
        "radiative": radiation.radiative_coefficient(400.0 + 90.0 * SHARE, jnp.asarray(291.0)),
        "segment": energy_balance.segment_time(
            heat=jnp.asarray(7.3e3), conductance=jnp.asarray([1e-9, 1e-5, 0.3, 2.1])[:, None],
            span=jnp.asarray(71.0), reach=jnp.asarray([600.0, 190.0, 73.0, 31.0])),
        "plate_wind": wind.wind_moment_plate(
            fold_angle=FOLD, air_density=1.13, wind_speed=17.0, panel_area=0.61, wind_arm=0.37,
            panel_slope=2.9, wind_upflow=0.19, wind_plateau=1.43),
        "toe": fold_factors.toe_incidence(0.031, FOLD, 0.017),
        "axis": fold_factors.axis_incidence(0.043, FOLD),
        "elliptic": span_load.elliptic_span_load(SHARE[2:7]),
        "integral": edges.elliptic_integral_second_kind(SHARE[1:8]),
        "transonic_end": edges.transonic_end(1.0 + 2.0 * COUNT),
        "edge_ratio": edges.leading_edge_ratio(1.7 * SHARE[2:, None], SHARE),
        "tip_cone": tips.tip_cone_integrals(1.7 * SHARE), "gain": tips.swept_edge_gain(SHARE),
        "beta": tips.supersonic_beta(MACH),
        "matching": work_limits.load_matching_ratio(jnp.asarray(40.0 + 30.0 * FOLD**2), FOLD),
        "utilised": work_limits.geometric_utilisation(SHARE[1:7]),
        "buckling": torsion.buckling_stress(
            outer_radius=0.0071, wall=0.0071 * SHARE[2:8], length=np.array([[0.02], [0.4], [3.0]]),
            young_modulus=61e9, poisson_ratio=0.31),
        "section": torsion.section(0.0071, SHARE[2:8]),
    }  # fmt: skip


@jax.jit
def _of_wing(wing: Any) -> dict[str, Any]:
    """Loads in closed form along Mach number and fold angle."""
    mach, fold = MACH[:, None], jnp.asarray(FOLD)
    return {
        "slope": lift_slope.lift_slope(
            mach=MACH, aspect_ratio=wing.aspect_ratio, taper_ratio=wing.taper_ratio,
            leading_edge_sweep=wing.leading_edge_sweep, half_chord_sweep=wing.half_chord_sweep,
            section_lift_efficiency=0.93),
        "subsonic": span_load.subsonic_span_load(wing),
        "flat": span_load.flat_span_load(wing, mach),
        "factors": fold_factors.fold_factors(wing, mach, fold),
        "conical": fold_factors.conical_weight(wing, MACH),
        "weight": tips.supersonic_weight(wing, MACH),
    }  # fmt: skip


@jax.jit
def _of_parameters(known: Any) -> dict[str, Any]:
    """What follows from the alloy or from assumptions of mass, along stress, strain or size."""
    alloy, assumed, base = known["alloy"], known["mass_assumptions"], known["baseline"]
    stress, warm = jnp.asarray(STRESS), alloy.austenite_start + 31.0 * (SHARE - 0.3)
    ring = {"outer_diameter": 0.017, "inner_diameter": 0.011, "mass": assumed}
    return {
        "cooled": sma.transformation_strain_cooling(stress, alloy),
        "detwinned": sma.transformation_strain_detwinning(stress, alloy),
        "martensite_strain": [sma.martensite_strain(stress, alloy, part)
                              for part in (0.0, 0.4, 1.0)],
        "martensite_stress": [sma.martensite_stress(jnp.asarray(STRAIN), alloy, part)
                              for part in (0.0, 0.4, 1.0)],
        "modulus": hot.mixed_shear_modulus(SHARE, alloy),
        "hot_strain": hot.hot_strain(stress, warm[:, None], 0.021, alloy),
        "hot_stress": hot.hot_stress(jnp.asarray(STRAIN), warm[:, None], 0.021, alloy),
        "phases": phases.phase_temperatures(stress, alloy),
        "fraction": phases.martensite_fraction_heating(warm[:, None], stress, alloy),
        "cycles": life.cycles_to_failure(10.0 ** (4.0 + 3.0 * SHARE), alloy),
        "allowed": life.allowable_work_density(10.0 ** (1.0 + 5.0 * SHARE), alloy),
        "stroke_strain": work_limits.actuation_strain(stress, alloy),
        "ceiling": work_limits.work_ceiling(stress, alloy),
        "stroke_limit": heat_limits.gross_stroke_limit(
            hot_temperature=470.0, cold_temperature=311.0, heated_fraction=SHARE[1:8], alloy=alloy),
        "temperature_span": heat_limits.minimum_temperature_span(
            hot_stress=stress, cold_stress=1.7e7, alloy=alloy),
        "electronics": growth.electronics_growth(10.0 ** (-1.0 + 3.0 * SHARE), assumed),
        "lock": mechanism.lock_mass(MOMENT, local_thickness=0.061, mass=assumed),
        "spring": mechanism.spring_mass(MOMENT, assumed),
        "brake": mechanism.brake_mass(MOMENT, assumed),
        "spring_energy": mechanism.spring_energy(moment=MOMENT, rate=7.3, travel=1.9),
        "plate": structure.plate_mass(MOMENT, hub_radius=0.013, circle_radius=0.051,
                                      outer_diameter=0.017, mass=assumed),
        "housing_wall": structure.housing_wall(MOMENT, radius=0.047, length=0.61, windup=0.037,
                                               mass=assumed),
        "fitting": tubes.end_fitting_mass(0.1 * MOMENT, **ring),
        "support": tubes.mid_support_mass(0.031, length_to_diameter=9.0 * COUNT, mass=assumed),
        "geared": conventional.geared_hinge(peak_moment=MOMENT, travel=1.7, fold_time=71.0,
                                            baseline=base, assemblies=1.0),
        "hydraulic": conventional.hydraulic_hinge(peak_moment=MOMENT, travel=1.7, fold_time=71.0,
                                                  run_length=4.3, baseline=base),
    }  # fmt: skip
