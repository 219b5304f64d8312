"""Made-up inputs of the kept numbers: nothing at 0, at 1 or at a default that would hide a term.

A number is placed in its range by a hash of its name, so that a new field moves no other.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from mdo.alloys import load_card
from mdo.disciplines import records
from mdo.disciplines.bundle.assumptions import BundleAssumptions
from mdo.disciplines.electric.assumptions import PowerAssumptions
from mdo.disciplines.heat.assumptions import ThermalAssumptions
from mdo.disciplines.loads.assumptions import AeroAssumptions
from mdo.disciplines.loads.planform import planform_from_breakpoints
from mdo.disciplines.mass.assumptions import MassAssumptions
from mdo.disciplines.mass.conventional_assumptions import BaselineAssumptions
from mdo.study.read_sections import read_assumptions
from mdo.study.reader import Reader

ANGLES = 11
LOAD_RETURN, SPRING_RETURN, OPPOSED = 0.0, 1.0, 2.0
KNUCKLE, NESTED, GEARED, PLATED = 0.0, 1.0, 2.0, 3.0
WRAP, CARTRIDGE = 0.0, 1.0

WINGS: dict[str, dict[str, Any]] = {
    # cranked, swept back some 20 deg, washed out; its leading edge is supersonic at Mach 1.4
    "cranked": {
        "station": [0.0, 0.9, 2.3, 3.1], "leading_edge": [0.0, 0.41, 0.87, 1.23],
        "chord": [1.7, 1.31, 0.83, 0.52], "twist": [0.013, -0.011, -0.037, -0.052],
        "thickness_ratio": [0.145, 0.132, 0.117, 0.104], "fold_station": 1.93,
    },
    # highly swept: its leading edge stays behind the Mach cone up to Mach 1.9
    "slender": {
        "station": [0.0, 2.6], "leading_edge": [0.0, 3.7], "chord": [4.3, 0.46],
        "twist": [0.021, -0.043], "thickness_ratio": [0.071, 0.062], "fold_station": 1.57,
    },
    # swept forward a little, hardly tapered, thick
    "small": {
        "station": [0.0, 0.7, 1.6], "leading_edge": [0.0, -0.021, -0.067],
        "chord": [0.39, 0.37, 0.31], "twist": [0.0, -0.03, -0.07],
        "thickness_ratio": [0.19, 0.182, 0.171], "fold_station": 1.23,
    },
}  # fmt: skip
# Least and greatest of every number of a record, of a vehicle of some 1,000 kg.
VEHICLE = {
    "mass_without_actuator": (800, 1300), "panel_mass": (7, 12), "panel_centre": (0.3, 0.5),
    "panel_offset": (0.01, 0.03), "panel_inertia": (1.1, 2.3), "hinge_height": (0.05, 0.09),
    "toe_angle": (0.01, 0.04), "hinge_axis_pitch": (0.02, 0.06),
    "section_lift_efficiency": (0.9, 0.97), "skin_thickness": (0.0011, 0.0017),
    "clearance": (0.0021, 0.0034), "bearing_friction": (0.011, 0.019),
    "bearing_radius": (0.013, 0.019), "bearing_spacing": (0.21, 0.33), "seal_moment": (0.7, 1.9),
    "skin_stiffness": (1.2, 3.4), "skin_free_angle": (0.1, 0.3),
    "adjacent_temperature_limit": (400, 440), "structure_gap": (0.004, 0.009),
}  # fmt: skip
SUPPLY = {
    "low_voltage_ratio": (0.77, 0.83), "high_voltage_ratio": (1.05, 1.15),
    "run_length": (3.1, 5.7), "wire_temperature_rating": (423, 533), "folds_per_sortie": (2.3, 3.7),
}  # fmt: skip
REQUIREMENTS = {
    "torque_margin": (0.2, 0.3), "warm_up_time": (700, 1900), "added_moment": (3, 9),
    "friction_factor": (1.15, 1.35), "overrun_factor": (1.2, 1.4), "lot_tolerance": (7, 12),
    "return_gate": (8, 13), "self_start_gate": (12, 17), "trim_fraction": (0.03, 0.07),
    "dead_time": (0.7, 1.9), "life_factor": (3, 7), "length_to_diameter_max": (27, 43),
    "envelope_height": (0.05, 0.08), "envelope_length": (0.6, 1.1), "windup_limit": (0.04, 0.07),
}  # fmt: skip
LEG = {
    "temperature_offset": (-17, 23), "load_factor": (-0.7, 2.9), "side_load_factor": (-0.3, 0.4),
    "bank": (-0.4, 0.3), "deck_roll": (0.04, 0.13), "pitch": (-0.07, 0.16),
    "sideslip": (0.02, 0.09), "roll_rate": (0.3, 1.7), "roll_acceleration": (0.9, 4.1),
    "gust_speed": (2, 9), "wind_speed": (6, 21), "mass_fraction": (0.7, 1.1),
    "bay_cold": (233, 281), "bay_hot": (301, 339), "soak_temperature": (341, 355),
    "bay_soak_factor": (0.3, 0.8), "structure_temperature": (261, 313), "bay_air_speed": (3, 11),
    "time_limit": (40, 190), "cooling_limit": (300, 1100), "folds_per_life": (30, 700),
    "safety_factor": (1.3, 1.8), "torque_margin_required": (0.15, 0.35),
    "outer_stress_factor": (1.1, 1.6), "altitude": (150, 14000),
}  # fmt: skip
FROM = np.array([-0.07, 1.49, 0.11, 1.83, 0.37, 0.61, -0.43, 0.05, -1.13, -0.29, 0.31])
TO = np.array([1.49, -0.07, 1.83, 0.11, 0.37, -0.43, 0.61, -1.13, 0.05, -0.29, 0.83])
HOLDS = [0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0]
FLAGS = {
    "holds": HOLDS, "moves": [1 - flag for flag in HOLDS],
    "is_return": [0, 1, 0, 1, 0, 0, 1, 0, 1, 0, 0], "has_return": [1, 1, 1, 1, 0, 1, 1, 1, 1, 0, 0],
    "other_cold": [1, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0],
    "other_warmed": [0, 1, 1, 0, 0, 1, 0, 0, 1, 0, 0],
    "wound_cold": [0, 1, 1, 0, 0, 1, 0, 1, 0, 0, 0],
    "bay_prescribed": [1, 1, 0, 0, 1, 1, 1, 0, 1, 0, 1],
}  # fmt: skip
HELD_BETWEEN = [0, 340, 0, 23, 0, 0, 130, 0, 7, 0, 0]  # [s] hot set held before its return
STATIC_AT = np.array([0.0, 1.71, 0.13, 0.57, -0.37, -1.07, 1.23])
STATIC_FLAGS = {
    "soak": [1, 0, 0, 0, 0, 0, 0], "locked": [0, 1, 1, 1, 1, 1, 1],
    "bay_prescribed": [1, 1, 0, 1, 1, 0, 1],
}  # fmt: skip
STATIC_MACH = [0.0, 0.0, 0.31, 0.93, 1.47, 0.62, 1.93]
# Assumptions that are nought or a flag by default; the others are their defaults, some % off.
GIVEN = {"thickness_moment_coefficient": 0.013}
FLAGGED = ("wind_model",)


class MadeUp(NamedTuple):
    """Parameters of the model and a design, made up."""

    parameters: Mapping[str, Any]
    design: Mapping[str, Any]
    cases: tuple[str, ...]
    """Case of each leg: a return is of that of its fold."""


def share(*name: object) -> float:
    """Number between 0 and 1 that follows from a name alone."""
    return zlib.crc32(" ".join(map(str, name)).encode()) / 2**32


def within(ranges: Mapping[str, tuple[float, float]], case: str) -> dict[str, float]:
    """A number in each of some ranges."""
    return {name: low + (high - low) * share(name, case) for name, (low, high) in ranges.items()}


def off_default(record: Any, group: str, case: str, **given: float) -> Any:
    """Record of assumptions, each within 9 % of its default, none at it."""
    defaults = read_assumptions(Reader("defaults"), {})[group]
    values: dict[str, float] = {}
    for name in record._fields:
        away = (0.04 + 0.05 * share(name, case)) * (1 if share(case, name) > 0.5 else -1)
        values[name] = defaults[name] if name in FLAGGED else defaults[name] * (1.0 + away)
    return record(**values | {k: v for k, v in (GIVEN | given).items() if k in values})


def legs_of(case: str, count: int, mach: list[float], **own: Any) -> records.Legs:
    """Legs (or static cases) with every number somewhere in its range."""
    still = dict.fromkeys(records.Legs._fields, np.zeros(count))
    spread = {
        name: np.array([low + (high - low) * share(name, case, at) for at in range(count)])
        for name, (low, high) in LEG.items()
    }
    flight = {"mach": np.array(mach), "airborne": (np.array(mach) > 0).astype(float)}
    return records.Legs(
        **still | spread | flight | {k: np.asarray(v, dtype=float) for k, v in own.items()}
    )


# What the six cases of the chain differ in; DESIGN and the records above are what they share.
CASES: dict[str, dict[str, Any]] = {
    "opposed, geared": {
        "wing": "cranked",
        "alloy": "nitihf20_set1",
        "mach": [0.0, 0.0, 0.22, 0.22, 0.31, 0.17, 0.17, 0.29, 0.26, 0.0, 0.57],
        "loads": "lattice",
        "choices": {"topology": GEARED, "gear_lanes": 2.0, "heater": CARTRIDGE, "brake": 1.0},
        "design": {
            "tube_count": [23.7, 37.9],
            "operating_stress": [0.97e8, 1.07e8],
            "heater_power": [5300.0, 7100.0],
        },
    },
    "opposed, plated, re-twisted": {
        "wing": "slender",
        "alloy": "nitihf20_set2",
        "mach": [0.0, 0.0, 0.91, 1.07, 1.31, 1.13, 1.69, 2.07, 0.97, 0.71, 0.83],
        "choices": {"topology": PLATED, "return_mode": 1.0, "heater": WRAP, "cooling": 1.0},
        "design": {"tube_count": [13.7, 17.3], "operating_stress": [0.83e8, 0.91e8]},
        "supply": {"battery": 0.0, "regulated": 1.0},
    },
    "load returns, knuckle, up": {
        "wing": "cranked",
        "alloy": "niti_actuator",
        "mach": [0.0, 0.0, 0.0, 0.93, 1.21, 0.61, 1.43, 0.37, 1.87, 0.0, 0.0],
        "choices": {
            "topology": KNUCKLE,
            "configuration": LOAD_RETURN,
            "set_present": [1.0, 0.0],
            "heater": CARTRIDGE,
            "tubes_failed": 1.0,
            "brake": 1.0,
        },
        "design": {
            "hot_temperature": 373.0,
            "pre_twist": [2.1, 1.7],
            "tube_length": 0.91,
            "tube_outer_radius": 0.0061,
            "tube_count": [7.7, 6.1],
        },
        "loads": "table",
        "aero": {"wind_model": 1.0},
    },
    "spring returns, nested, down": {
        "wing": "small",
        "alloy": "ref1",
        "mach": [0.0, 0.0, 0.0, 0.13, 0.0, 0.17, 0.21, 0.19, 0.0, 0.11, 0.16],
        "vehicle": {
            "mass_without_actuator": 47.0,
            "panel_mass": 0.61,
            "panel_centre": 0.17,
            "panel_inertia": 0.023,
            "fuel_near_bay": 1.0,
            "section_form": 1.0,
        },
        "choices": {
            "topology": NESTED,
            "configuration": SPRING_RETURN,
            "drive_side": -1.0,
            "set_present": [0.0, 1.0],
            "heater": WRAP,
            "cooling": 1.0,
            "brake": 1.0,
            "assemblies": 1.0,
        },
        "design": {
            "tube_outer_radius": 0.0047,
            "tube_length": 0.29,
            "tube_count": [2.3, 3.1],
            "heater_power": [190.0, 230.0],
            "spring_moment": 7.3,
            "spring_rate": 2.7,
            "operating_stress": [0.71e8, 0.79e8],
            "hot_temperature": 433.0,
        },
        "supply": {"power_available": 870.0},
    },
    "opposed, geared, large": {
        "wing": "slender",
        "alloy": "nitihf20_set1",
        "mach": [0.0, 0.0, 0.61, 0.84, 1.02, 1.53, 1.77, 0.88, 2.21, 0.0, 1.97],
        "vehicle": {
            "mass_without_actuator": 9700.0,
            "panel_mass": 87.0,
            "panel_inertia": 21.0,
            "panel_centre": 0.61,
            "section_form": 2.0,
        },
        "choices": {"topology": GEARED, "gear_lanes": 3.0, "heater": WRAP, "brake": 1.0},
        "design": {
            "tube_outer_radius": 0.0131,
            "wall_ratio": 0.43,
            "tube_length": 0.93,
            "tube_count": [21.3, 27.9],
            "gear_ratio": 2.3,
            "pre_twist": [5.7, 5.1],
            "heater_power": [9.3e3, 12.1e3],
            "operating_stress": [1.9e8, 2.3e8],
        },
        "supply": {"battery": 0.0, "nominal_voltage": 270.0, "power_available": 31e3},
        "aero": {"wind_model": 1.0},
    },
    "opposed, knuckle, weak": {  # too cold, too short, too much wound: what fails, and caps
        "wing": "small",
        "alloy": "niti_actuator",
        "mach": [0.0, 0.0, 0.12, 0.0, 0.0, 0.17, 0.21, 0.19, 0.14, 0.11, 0.0],
        "vehicle": {
            "mass_without_actuator": 47.0,
            "panel_mass": 0.61,
            "panel_centre": 0.17,
            "panel_inertia": 0.023,
        },
        "choices": {"topology": KNUCKLE, "heater": CARTRIDGE, "cooling": 1.0, "brake": 1.0},
        "design": {
            "tube_outer_radius": 0.0031,
            "wall_ratio": 0.83,
            "tube_length": 0.11,
            "tube_count": [1.7, 2.9],
            "pre_twist": [3.9, 0.4],
            "hot_temperature": 351.0,
            "heater_power": [37.0, 19.0],
            "operating_stress": [3.7e8, 4.3e8],
        },
        "supply": {"power_available": 110.0, "battery": 1.0},
    },
}
DESIGN: dict[str, Any] = {
    "tube_outer_radius": 0.0073, "wall_ratio": 0.57, "tube_length": 0.53, "tube_count": [5.7, 7.9],
    "operating_stress": [1.13e8, 1.27e8], "gear_ratio": 0.93, "pre_twist": [2.6, 2.9],
    "heater_power": [930.0, 1170.0], "hot_temperature": 487.0, "insulation_thickness": 0.0017,
    "spring_moment": 31.0, "spring_rate": 13.0,
}  # fmt: skip
CHOICES = {
    "configuration": OPPOSED, "drive_side": 1.0, "return_mode": 0.0, "topology": GEARED,
    "gear_lanes": 2.0, "heater": WRAP, "cooling": 0.0, "emissivity": 0.77, "brake": 0.0,
    "set_present": [1.0, 1.0], "tubes_failed": 0.0, "assemblies": 2.0,
}  # fmt: skip
FLAT_SUPPLY = {"nominal_voltage": 29.3, "regulated": 0.0, "power_available": 3700.0,
               "allowed_drop": 1.3, "battery": 1.0}  # fmt: skip
ALLOY = {  # what most cards leave at nought or at 1
    "strain_min": (0.0013, 0.0027), "strain_factor": (0.93, 0.98), "slope_factor": (1.03, 1.07),
    "stroke_loss": (0.011, 0.019), "residual_strain_rate": (1.3e-7, 3.1e-7),
    "conductivity_martensite": (8.3, 9.7), "conductivity_austenite": (14.1, 18.7),
    "life_intercept": (4.6, 5.1), "life_slope": (-2.7, -2.3),
    "declared_life_stress": (1.3e8, 1.9e8), "declared_life_strain": (0.021, 0.037),
    "declared_life_cycles": (3100, 7300),
}  # fmt: skip
TRAINED = ("opposed, geared, large",)  # two-way: no set needs detwinning
LAW = ("opposed, plated, re-twisted", "spring returns, nested, down")  # life by its own law


def alloy_of(case: str) -> records.Alloy:
    """Card of a case, with what it leaves at nought given."""
    card = load_card(CASES[case]["alloy"]).record()
    trained = {} if case in TRAINED else {"strain_min": 0.0}
    return card._replace(**within(ALLOY, case) | trained, life_law=float(case in LAW))


def statics_of(case: str) -> records.Legs:
    """Soak and six locked cases."""
    angle = {"angle_from": STATIC_AT, "angle_to": STATIC_AT}
    return legs_of(f"{case}, held", STATIC_AT.size, STATIC_MACH, **STATIC_FLAGS, **angle)


def made_up(case: str) -> MadeUp:
    """Parameters and design of one of the cases."""
    own = CASES[case]
    angles = np.linspace(FROM, TO, ANGLES, axis=1)
    moves = np.array(FLAGS["moves"])
    along = np.array([[share("along", case, leg, at) for at in range(ANGLES)]
                      for leg in range(FROM.size)])  # fmt: skip
    design = {name: np.asarray(value) for name, value in (DESIGN | own.get("design", {})).items()}
    vehicle = {"section_form": 0.0, "fuel_near_bay": 0.0} | within(VEHICLE, case)
    supply = FLAT_SUPPLY | within(SUPPLY, case) | own.get("supply", {})
    choices = {k: np.asarray(v) for k, v in (CHOICES | own["choices"]).items()}
    loads = 120.0 * along - 55.0
    parameters: dict[str, Any] = {
        "fold_angle": angles, "path_strain": 0.0013 * along, "path_drag_factor": 0.8 + 0.5 * along,
        "alloy": alloy_of(case), "planform": planform_from_breakpoints(**WINGS[own["wing"]]),
        "vehicle": records.Vehicle(**vehicle | own.get("vehicle", {})),
        "legs": legs_of(case, FROM.size, own["mach"], **FLAGS, angle_from=FROM, angle_to=TO,
                        direction=np.sign(TO - FROM) * moves, hold_time=HELD_BETWEEN),
        "statics": records.Statics(statics_of(case)),
        "choices": records.Choices(**choices), "supply": records.Supply(**supply),
        "requirements": records.Requirements(**within(REQUIREMENTS, case)),
        "aero": off_default(AeroAssumptions, "aero", case, **own.get("aero", {})),
        "thermal_assumptions": off_default(ThermalAssumptions, "thermal", case),
        "power_assumptions": off_default(PowerAssumptions, "power", case),
        "mass_assumptions": off_default(MassAssumptions, "mass", case),
        "bundle_assumptions": off_default(BundleAssumptions, "bundle", case),
        "baseline": off_default(BaselineAssumptions, "baseline", case),
        "table_moment_low": loads, "table_moment_high": loads + 37.0 * along + 11.0,
        "static_table_low": loads[:7, 3], "static_table_high": loads[:7, 3] + 29.0,
    }  # fmt: skip
    names = ("a", "a", "b", "b", "c", "d", "d", "e", "e", "f", "g")
    return MadeUp(parameters, design, names)
