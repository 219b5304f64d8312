"""What each model was checked against, read off the tests, and what is not modelled at all."""

from __future__ import annotations

from typing import NamedTuple

import pandas as pd

MEASURED_DATA = "measured data: none"


class Check(NamedTuple):
    """One model, what it was checked against, where that comes from, and the test that does it."""

    model: str
    checked_against: str
    source: str
    test: str


_MEMORY = "from memory"
_D = "tests/disciplines/"
_E = "tests/defend/"
CHECKS: tuple[Check, ...] = (
    Check(
        "Standard atmosphere, hot and cold days", "printed tables; an independent library",
        "U.S. Standard Atmosphere 1976; ICAO 7488 as in the library ambiance",
        f"{_D}test_atmosphere.py::test_standard_atmosphere_matches_the_tables",
    ),
    Check(
        "Recovery temperature", "hand value", "turbulent recovery factor, textbook",
        f"{_D}test_atmosphere.py::test_recovery_temperature_matches_case_a4",
    ),
    Check(
        "Wing and panel geometry", "worked trapezoid; fine quadrature of a cranked wing",
        "closed forms by hand", f"{_D}test_planform.py::test_trapezoid_matches_the_worked_example",
    ),
    Check(
        "Lift slope, subsonic",
        "textbook example",
        "Anderson, Aircraft Performance and Design, ex. 2.8",
        f"{_D}test_lift.py::test_helmbold_matches_the_textbook_example",
    ),
    Check(
        "Lift slope, supersonic and slender", "closed forms of linear theory",
        f"Stewart 1946; Anderson eq. 2.18c; Jones, NACA TR 835 ({_MEMORY})",
        f"{_D}test_lift.py::test_supersonic_delta_matches_case_e28",
    ),
    Check(
        "Span load and folded-wing factors, subsonic",
        "independent cross-flow solution; vortex-lattice figures, 3 % at constant lift",
        "slender-wing theory; lattice of this project's notes",
        f"{_D}test_fold_factors.py::test_trimmed_relief_matches_case_f34",
    ),
    Check(
        "Folded panel at supersonic speed", "conical series and tabulated cone integrals",
        "linear theory, derived for this project",
        f"{_D}test_fold_factors.py::test_folded_supersonic_panel_matches_case_e30",
    ),
    Check(
        "Gravity, roll, bank and inertia of the panel",
        "particle sum differenced twice in time; pendulum", "mechanics, tests of our own",
        f"{_D}test_panel_loads.py::test_inertia_matches_a_finite_difference_particle_sum",
    ),
    Check(
        "Wind on a parked panel", "wind rule and parked example", "figures of this project's notes",
        f"{_D}test_panel_loads.py::test_wind_rule_matches_case_a8",
    ),
    Check(
        "Required and overrunning moment", "hand values of direction, credit and debit",
        "definitions of this project",
        f"{_D}test_hinge_moment.py::test_worst_and_best_end_follow_the_direction",
    ),
    Check(
        "Transformation strain and kinetics", "published heating and detwinning points",
        "Brinson 1993 parameter set; a made-up reference alloy",
        f"{_D}test_sma.py::test_heating_under_100_mpa_follows_brinson",
    ),
    Check(
        "Cold torsion of a tube", "torsion curve of the same published set",
        "Brinson 1993 parameter set, integrated for this project",
        f"{_D}test_sma.py::test_cold_torsion_passes_through_the_points_of_c20",
    ),
    Check(
        "Tube under one uniform stress",
        "radially resolved tube of the reference alloy, within 1 %",
        "computed for this project",
        f"{_D}test_sma.py::test_tube_of_reference_alloy_turns_as_in_c13",
    ),
    Check(
        "Torsion of a tube, elastic and fully plastic", "textbook values",
        "Timoshenko, Strength of Materials",
        f"{_D}test_tube.py::test_uniform_stress_is_the_fully_plastic_torque_of_c2_and_c3",
    ),
    Check(
        "Torsional buckling", "worked values; torque at which a shaft buckles",
        "notes of this project; Greenhill",
        f"{_D}test_tube.py::test_torsional_buckling_is_that_of_c30",
    ),
    Check(
        "Life law", "design table of published cycles, within a factor 2.2 on life",
        "notes of this project",
        f"{_D}test_life.py::test_law_passes_within_its_stated_factor_of_the_design_table",
    ),
    Check(
        "Room in the wing section", "ordinates of a published section",
        f"Abbott and von Doenhoff, Theory of Wing Sections, appendix I ({_MEMORY})",
        f"{_D}test_slab.py::test_four_digit_form_has_the_published_ordinates",
    ),
    Check(
        "Demand and margin of the tube sets", "sums by hand; the exact margin against the rows",
        "tests of this project", f"{_D}test_actuator.py::test_pair_demands_what_a_sum_by_hand_says",
    ),
    Check(
        "Gears, splines and torsion", "worked cases",
        f"Willis 1963 as restated in gearbox notes; Shigley ({_MEMORY})",
        f"{_D}test_gears.py::test_planetary_of_tm21",
    ),
    Check(
        "Convection over a tube", "textbook examples; the library ht",
        f"Incropera ex. 7.4 and 9.4 ({_MEMORY}); Churchill and Bernstein",
        f"{_D}test_convection.py::test_crossflow_equals_ht",
    ),
    Check(
        "Radiation and view factors", "published problems; ray casting of the tests' own",
        "Incropera 13.63 and other printed problems",
        f"{_D}test_radiation.py::test_parallel_cylinders_match_tm09",
    ),
    Check(
        "Heating and cooling times", "numerical integration of the same balance over time",
        "scipy's integrator",
        f"{_D}test_thermal.py::test_heating_agrees_with_an_integration_over_time",
    ),
    Check(
        "Temperature across the wall", "radial grid of the tests' own", "finite volumes, 400 cells",
        f"{_D}test_energy_balance.py::test_wall_difference_agrees_with_a_radial_grid",
    ),
    Check(
        "Heater gap, winding and flux limit", "tabulated values", f"Jennings 1988 ({_MEMORY})",
        f"{_D}test_heater.py::test_gap_conductance_of_the_reference",
    ),
    Check(
        "Wire gauge, drop and ampacity", "worked lines of the circular", "AC 43.13-1B, table 11-9",
        f"{_D}test_wiring.py::test_drop_of_the_worked_lines",
    ),
    Check(
        "Battery, converter, generator",
        "worked cases by hand",
        "specific masses of this project's notes",
        f"{_D}test_storage.py::test_battery_of_the_worked_case_is_sized_by_energy",
    ),
    Check(
        "Mass lines and growth",
        "hand values line by line; growth example",
        "growth by maturity, worked example",
        f"{_D}test_mass_lines.py::test_growth_example_tm25",
    ),
    Check(
        "Physical limits", "published work density and a published deployment hinge",
        "Karaca et al. 2013, abstract; data sheet",
        f"{_D}test_limits.py::test_work_ceiling_of_nitihf_card_lies_near_the_published_one",
    ),
    Check(
        "Coupled model and its derivatives",
        "the same declaration run by OpenMDAO, at 50 random designs",
        "values 1e-9, total derivatives 1e-7",
        "tests/model/test_parity.py::test_openmdao_equals_the_chain_at_random_designs",
    ),
    Check(
        "Optimum", "OpenMDAO's own driver, mass within 1e-6", "SLSQP from another start",
        "tests/model/test_parity.py::test_openmdao_driver_finds_the_same_optimum",
    ),
    Check(
        "Costs of requirements", "optima found again a step up and a step down, 1e-3",
        "central differences at 48 requirement points of each vehicle",
        f"{_E}test_costs.py::test_costs_at_forty_requirement_points",
    ),
    Check(
        "Conflicts and relaxations", "bisection of the requirement, solved at each value",
        "feasibility alone, no multipliers",
        f"{_E}test_conflicts.py::test_the_relaxation_comes_back_to_the_boundary_of_a_bisection",
    ),
    Check(
        "Whole tubes and stock sizes", "plain loop over every count and stock tube",
        "brute force on the small vehicle",
        "tests/optimise/test_rounding.py::test_branching_equals_a_loop_over_tubes_and_a_whole_box",
    ),
    Check(
        "Intervals of the comparison", "other samples of the same inputs",
        "Monte Carlo of evaluated designs",
        f"{_E}test_intervals.py::test_sampled_ends_hold_their_share_of_other_samples",
    ),
    Check(
        "Break-even", "bisection of optima found anew", "masses of both concepts alone",
        f"{_E}test_break_even.py::test_it_turns_where_bisection_says",
    ),
)  # fmt: skip

# Assembled from checked parts, but not compared as a whole with anything outside the project.
UNCHECKED = (
    "Opposed sets as a whole: cold against hot set, sharing between tubes, a failed tube dragged",
    "Packing of tubes and gears in the wing beyond sums by hand, mass of a whole bundle",
    "Outer-fibre stress 1.4 T r_o/J of a transforming tube, and life under mixed cases",
    "Adjacent structure temperature in a real bay",
)

NOT_MODELLED = (
    "Stress, temperature and martensite across the wall and along the tube: one state per tube.",
    "The other set of a pair when a motion starts: every leg is taken in the declared mode.",
    "A set of a pair that has long been cold: warm it first, or detwin it against more stress.",
    "Heat between the two sets of a bundle: a cooling set sees the bay, not its hot neighbours.",
    "Tension-compression asymmetry, texture and localisation (factors of the card are 1).",
    "A limit on the stress of the cold set that is wound; a torque limiter against a jam.",
    "Partial cycles and minor loops of the alloy, and life credit for partial transformation.",
    "Drift of strain and transformation temperatures with cycling; training.",
    "Fold factors of a panel method: they are a regression, the slender ones above Mach 1.",
    "Stall, body upwash and tail trim; gust, sideslip and wind are added worst on worst.",
    "Axial growth of tubes and backlash of gears beyond the efficiency of the joints.",
    "Energy of a hold in the sortie: no leg says how long it holds.",
    "Control: the motion is a smooth fold over the motion time, not a simulated controller.",
    "Flexibility of wing and panel, flutter, flight mechanics with folded or unequal panels.",
    "Hinge, wing structure around it and fairing: common to every concept, not in the mass.",
    "Fatigue of gears, fittings, lock and brake; corrosion; electromagnetic effects; cost.",
    "Rounding, without the analysis 'defence': counts, wall and gauge are not optimised again.",
)


def validation_table() -> pd.DataFrame:
    """Table of models and what they were checked against; the last line is about measured data."""
    rows: list[Check] = list(CHECKS)
    rows += [Check(model, "nothing outside this project", "", "") for model in UNCHECKED]
    rows.append(Check("All of it", MEASURED_DATA, "", ""))
    return pd.DataFrame(rows, columns=list(Check._fields))
