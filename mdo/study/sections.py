"""Sections of a study file but for cases and design variables, each field declared once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from mdo.study.choices import BUSES, FINISHES, STRUCTURES, WIRE_RATINGS
from mdo.study.exploring import (
    EXPLORATIONS,
    FrontPlan,
    MapPlan,
    ScalingPlan,
    SensitivityPlan,
    SweepPlan,
)
from mdo.study.fields import boolean, choice, integer, quantity, words

ANALYSES = ("evaluate", "optimum", "defence", *EXPLORATIONS)
DEFAULT_ANALYSES = ("evaluate", "optimum")
# Fields of [actuator] that a study of choices may list.
CHOICE_FIELDS = (
    "alloy", "configuration", "drive_side", "return_mode", "topology", "gear_lanes", "heater",
    "cooling", "finish", "brake",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Head:
    """``[study]``: what the study is and what to run (``analyses`` is read beside these)."""

    name: str = words("Short name; results are kept under it", required=True, name=True)
    title: str = words("Title of the report", default="")
    description: str = words("What the study is for", default="")
    seed: int = integer("Seed of everything random", low=0, high=2**31 - 1, default=0)


@dataclass(frozen=True, kw_only=True)
class Breakpoint:
    """One ``[[vehicle.wing]]``: the right wing's section at one spanwise station."""

    station: float = quantity(
        "m", "Distance from the plane of symmetry", low="0 m", high="60 m", required=True
    )
    leading_edge: float = quantity(
        "m", "Leading edge, aft positive", low="-60 m", high="60 m", required=True
    )
    chord: float = quantity("m", "Chord", low="1 mm", high="30 m", required=True)
    twist: float = quantity(
        "rad", "Incidence against the root, nose-up positive", low="-20 deg", high="20 deg",
        default="0 deg",
    )  # fmt: skip
    thickness_ratio: float = quantity(
        "1", "Largest thickness over chord", low=0.01, high=0.4, required=True
    )


@dataclass(frozen=True, kw_only=True)
class Vehicle:
    """``[vehicle]``: vehicle, wing and folding panel (of one wing)."""

    name: str = words("Name of the vehicle", required=True)
    wing: tuple[Breakpoint, ...]
    """Sections of the right wing, from the plane of symmetry to the tip."""
    mass: float = quantity(
        "kg", "Mass of the vehicle without the fold actuation", low="1 kg", high="500 t",
        required=True,
    )  # fmt: skip
    fold_station: float = quantity(
        "m", "Fold axis, distance from the plane of symmetry (or fold_fraction)", low="1 mm",
        high="60 m",
    )  # fmt: skip
    fold_fraction: float = quantity(
        "1", "Folding share of the semi-span (or fold_station)", low=0.02, high=0.9
    )
    reference_area: float = quantity(
        "m**2", "Area of the flat wing, both sides; checked against the breakpoints", low="0.01 m2",
        high="2000 m2",
    )  # fmt: skip
    section: str = choice(
        ("four_digit", "biconvex"), "Thickness distribution along the chord", default="four_digit"
    )
    section_lift_efficiency: float = quantity(
        "1", "Lift slope of the section over 2 pi", low=0.6, high=1.1, default=0.95,
        source="viscous sections, textbook value (from memory)",
    )  # fmt: skip
    panel_mass: float = quantity(
        "kg", "Mass of one folding panel (part of the vehicle's mass)", low="1 g", high="20 t",
        judged="0.045 of the vehicle's mass per wing area, times the panel's area",
    )  # fmt: skip
    panel_centre: float = quantity(
        "m", "Centre of gravity of the panel, distance from the fold axis", low="0 m", high="60 m",
        judged="centroid of the panel's area",
    )  # fmt: skip
    panel_offset: float = quantity(
        "m", "Centre of gravity of the panel above the fold axis", low="-1 m", high="1 m",
        default="0 m", judged="fold axis in the chord plane",
    )  # fmt: skip
    panel_inertia: float | None = quantity(
        "kg*m**2", "Inertia of the panel about the fold axis; else from a uniform areal density",
        low="1e-6 kg*m2", high="1e6 kg*m2", nullable=True,
    )  # fmt: skip
    hinge_height: float = quantity(
        "m", "Fold axis above the roll axis", low="-5 m", high="5 m", default="0 m",
        judged="fold axis level with the roll axis",
    )  # fmt: skip
    toe_angle: float = quantity(
        "rad", "Fold axis against the flight direction in plan, aft end outboard positive",
        low="-15 deg", high="15 deg", default="0 deg",
    )  # fmt: skip
    skin_thickness: float = quantity(
        "m", "One skin at the fold; two are taken off the local thickness", low="0.1 mm",
        high="50 mm", default="2 mm", judged="thin metal or laminate skin; 0.5 to 5 mm",
    )  # fmt: skip
    clearance: float = quantity(
        "m", "Gap kept to each skin", low="0 mm", high="50 mm", default="3 mm",
        judged="1 to 6 mm",
    )  # fmt: skip
    bearing_friction: float = quantity(
        "1", "Friction coefficient of the hinge bearings", low=0.0, high=0.5, default=0.01,
        source="rolling bearings 0.003 to 0.01, machine-design handbooks (from memory)",
    )  # fmt: skip
    bearing_radius: float = quantity(
        "m", "Radius of the hinge bearings", low="0.5 mm", high="0.5 m", default="10 mm",
        judged="5 to 30 mm by size of the vehicle",
    )  # fmt: skip
    bearing_spacing: float = quantity(
        "m", "Distance between the two bearings along the chord", low="5 mm", high="20 m",
        judged="half of the chord at the fold",
    )  # fmt: skip
    seal_moment: float = quantity(
        "N*m", "Friction moment of the fold seal", low="0 N*m", high="1e4 N*m", default="0 N*m",
        judged="no rubbing seal",
    )  # fmt: skip
    skin_stiffness: float = quantity(
        "N*m/rad", "Stiffness of flexible skin and harness, cold", low="0 N*m/rad",
        high="1e5 N*m/rad", default="0 N*m/rad", judged="no flexible skin",
    )  # fmt: skip
    skin_free_angle: float = quantity(
        "rad", "Fold angle where the flexible skin is free of load", low="-110 deg",
        high="110 deg", default="0 deg",
    )  # fmt: skip
    structure: str = choice(
        tuple(STRUCTURES), "Structure beside the tubes", required=True,
    )  # fmt: skip
    adjacent_temperature_limit: float = quantity(
        "K", "Highest temperature of the structure beside the tubes", low="40 degC",
        high="800 degC", source="by structure: MIL-HDBK-5 and CMH-17 practice (from memory)",
    )  # fmt: skip
    structure_gap: float = quantity(
        "m", "Air gap between tubes and structure", low="0.5 mm", high="0.5 m", default="5 mm",
        judged="3 to 20 mm",
    )  # fmt: skip
    fuel_near_bay: bool = boolean("True if fuel or its vapour may reach the bay")


@dataclass(frozen=True, kw_only=True)
class Supply:
    """``[supply]``: electrical supply of the aircraft (both wings)."""

    bus: str = choice(tuple(BUSES), "Kind of bus", required=True)
    nominal_voltage: float = quantity("V", "Nominal voltage", low="5 V", high="1000 V")
    low_voltage_ratio: float = quantity("1", "Lowest steady voltage over nominal", low=0.3, high=1)
    high_voltage_ratio: float = quantity(
        "1", "Highest steady voltage over nominal", low=1, high=1.5
    )
    allowed_drop: float = quantity(
        "V", "Voltage drop allowed between bus and heater", low="0.05 V", high="50 V"
    )
    regulated: bool = boolean("True if the heater power is regulated against the voltage")
    power_available: float = quantity(
        "W", "Electrical power that the aircraft grants to both wings", low="1 W", high="10 MW",
        required=True,
    )  # fmt: skip
    run_length: float = quantity(
        "m", "Length of the wire from source to hinge, one way", low="0.05 m", high="100 m",
        required=True,
    )  # fmt: skip
    wire_rating: str = choice(
        tuple(WIRE_RATINGS), "Temperature rating of the wire", default="200 degC"
    )
    source: str = choice(("battery", "generator"), "What feeds the bus", required=True)
    folds_per_sortie: float = quantity(
        "1", "Folds between two charges of the battery", low=0, high=1000, default=2,
        judged="one fold before and one after the flight",
    )  # fmt: skip

    @property
    def wire_temperature_rating(self) -> float:
        """Temperature rating of the wire [K]."""
        return WIRE_RATINGS[self.wire_rating]

    @property
    def battery(self) -> bool:
        """True if a battery feeds the bus."""
        return self.source == "battery"


@dataclass(frozen=True, kw_only=True)
class Requirements:
    """``[requirements]``: what holds for the whole study; some may be overridden in a case."""

    torque_margin: float = quantity(
        "1", "Available over required moment, less one", low=0, high=3, default=0.25,
        source="dynamic margin of AIAA S-114-2005 as quoted by a mission-assurance page",
    )  # fmt: skip
    fold_time: float = quantity(
        "s", "Longest time to fold, cold start at the lowest voltage", low="1 s", high="4 h",
        required=True,
    )  # fmt: skip
    return_time: float = quantity(
        "s", "Longest time to return, hottest bay", low="1 s", high="12 h", required=True
    )
    bay_cold: float = quantity(
        "K", "Coldest bay, for cases that do not state theirs", low="-90 degC", high="200 degC"
    )
    bay_hot: float = quantity(
        "K", "Hottest bay, for cases that do not state theirs", low="-90 degC", high="400 degC"
    )
    tubes_failed: int = integer(
        "Tubes that may fail with the load still carried at limit", low=0, high=1, default=0
    )
    lot_tolerance: float = quantity(
        "K", "Scatter of transformation temperatures between lots", low="0 K", high="40 K",
        default="10 K", judged="batch to batch; 0 to 20 K", difference=True,
    )  # fmt: skip
    return_gate: float = quantity(
        "K", "Martensite finish above the hottest bay", low="0 K", high="60 K", default="10 K",
        judged="margin for control and gradients", difference=True,
    )  # fmt: skip
    self_start_gate: float = quantity(
        "K", "Austenite start above the hottest bay or soak", low="0 K", high="60 K",
        default="15 K", judged="margin against a start by heat alone", difference=True,
    )  # fmt: skip
    friction_factor: float = quantity(
        "1", "Factor on friction, seal and flexible skin", low=1, high=5, default=1.2,
        judged="house practice of mechanism design",
    )  # fmt: skip
    added_moment: float = quantity(
        "N*m", "Resisting moment of one hinge added to every motion, limit, beyond those modelled",
        low="0 N*m", high="1e6 N*m", default="0 N*m", judged="nothing is left out",
    )  # fmt: skip
    overrun_factor: float = quantity(
        "1", "Factor on a load that runs over", low=1, high=3, default=1.25,
        judged="same as the torque margin",
    )  # fmt: skip
    trim_fraction: float = quantity(
        "1", "Travel added at each end for trim, share of the travel", low=0, high=0.5,
        default=0.05, judged="rigging and wear; 0.02 to 0.1",
    )  # fmt: skip
    dead_time: float = quantity(
        "s", "Delay of command, unlock and switching", low="0 s", high="60 s", default="1 s",
        judged="0.5 to 3 s",
    )  # fmt: skip
    life_factor: float = quantity(
        "1", "Factor on the number of folds", low=1, high=100, default=10,
        judged="scatter factor on fatigue life; 4 to 10",
    )  # fmt: skip
    length_to_diameter_max: float = quantity(
        "1", "Longest tube over its diameter", low=2, high=500, default=30,
        judged="straightness and handling; 20 to 60",
    )  # fmt: skip
    envelope_height: float | None = quantity(
        "m", "Height of the bundle, if less than the wing offers", low="2 mm", high="5 m",
        nullable=True,
    )  # fmt: skip
    envelope_length: float | None = quantity(
        "m", "Length of the bundle, if less than the wing offers", low="10 mm", high="20 m",
        nullable=True,
    )  # fmt: skip
    windup_limit: float = quantity(
        "1", "Elastic wind-up of the drive over the twist of the tubes", low=0.001, high=1,
        default=0.05, source="stiffness gate of the plate-collected bundle",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Actuator:
    """``[actuator]``: the discrete choices."""

    alloy: str = words("Name of an alloy card, or path of a card of your own", required=True)
    configuration: str = choice(
        ("load_return", "spring_return", "opposed"), "What drives and what returns", required=True
    )
    drive_side: str = choice(("up", "down"), "Side to which the one set drives (not for opposed)")
    return_mode: str = choice(
        ("cool_under_load", "cool_then_retwist"), "How a pair returns", default="cool_under_load"
    )
    topology: str = choice(
        ("knuckle", "nested", "geared", "plated"), "How the tubes are joined", required=True
    )
    gear_lanes: int = integer(
        "Gear lanes side by side (geared): each takes pi (1 + ratio)/1.1 tubes", low=1, high=12,
        default=1,
    )  # fmt: skip
    heater: str = choice(("wrap", "cartridge"), "Heater of each tube", required=True)
    cooling: str = choice(("passive", "blower"), "How the tubes are cooled", default="passive")
    cooling_air_speed: float = quantity(
        "m/s", "Air speed over the tubes with a blower", low="0 m/s", high="60 m/s",
        judged="8 m/s with a blower, none without",
    )  # fmt: skip
    declared_life_stress: float | None = quantity(
        "Pa", "Outer-fibre shear stress declared for a card without a life law (else the card's)",
        low="1 MPa", high="500 MPa", nullable=True,
    )  # fmt: skip
    declared_life_strain: float | None = quantity(
        "1", "Shear strain declared with it", low=0.001, high=0.2, nullable=True
    )
    declared_life_cycles: float | None = quantity(
        "1", "Cycles that the declared stress and strain last", low=1, high=1e7, nullable=True
    )
    finish: str = choice(
        tuple(FINISHES), "Outer face of the tubes", default="oxidised",
        judged="as drawn and heated in air",
    )  # fmt: skip
    brake: bool = boolean("True if a brake holds a load that runs over")
    table: str | None = words(
        'CSV file of hinge moments, for the level "table": those of the air alone, with '
        "the lift, wind and gust of the case; gravity and inertia of the panel are added"
    )
    angles_per_leg: int = integer("Fold angles looked at per leg", low=3, high=201, default=11)

    @property
    def emissivity(self) -> float:
        """Emissivity of the outer face."""
        return FINISHES[self.finish]


@dataclass(frozen=True, kw_only=True)
class EvaluateOptions:
    """``[analysis.evaluate]``: evaluation of the design given; has no options."""


@dataclass(frozen=True, kw_only=True)
class OptimumOptions:
    """``[analysis.optimum]``: the continuous optimum."""

    starts: int = integer("Starts around the count problem's", low=1, high=1000, default=4)
    tolerance: float = quantity(
        "1", "Optimality tolerance of the optimiser", low=1e-14, high=1e-2, default=1e-10
    )
    iterations: int = integer("Most iterations per start", low=1, high=100_000, default=300)


@dataclass(frozen=True, kw_only=True)
class Stock:
    """``[analysis.defence.stock]``: what can be bought; an empty list leaves a size free."""

    tubes: tuple[tuple[float, float], ...] = ()
    """Outer diameter and wall of each stock tube [m]."""
    sleeves: tuple[float, ...] = ()
    """Thicknesses of the insulating sleeve [m]."""
    sheets: tuple[float, ...] = ()
    """Thicknesses of sheet for housing and plates [m]."""


@dataclass(frozen=True, kw_only=True)
class DefenceOptions:
    """``[analysis.defence]``: the optimum with all that a review asks about it."""

    starts: int = integer("Starts of the optimum", low=1, high=1000, default=10)
    samples: int = integer(
        "Designs re-evaluated with inputs drawn from their ranges", low=16, high=1_000_000,
        default=1024,
    )  # fmt: skip
    hydraulic: bool = boolean("True to compare with a hydraulic hinge too")
    cost_ranges: bool = boolean("True to follow each cost to where it changes", default=True)
    break_even: bool = boolean("True to look for what turns the comparison", default=True)
    rounding: bool = boolean("True to turn the optimum into whole tubes and stock", default=True)
    stock: Stock
    choices: Mapping[str, tuple[str | int | bool, ...]]
    """``[analysis.defence.choices]``: values of fields of ``[actuator]``; all combinations."""


@dataclass(frozen=True, kw_only=True)
class Analysis:
    """``[analysis]``: options of each analysis."""

    evaluate: EvaluateOptions
    optimum: OptimumOptions
    defence: DefenceOptions
    map: MapPlan
    front: FrontPlan
    sweep: SweepPlan
    sensitivity: SensitivityPlan
    scaling: ScalingPlan
