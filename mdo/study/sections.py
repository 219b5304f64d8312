"""Sections of a study file but for cases, design variables and analyses, each field declared once.

A number says here only what is the study's own: unit, title, meaning and range stand in the table
of quantities.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from mdo.analysis_names import ANALYSES, DEFAULT_ANALYSES
from mdo.study.choices import BUSES, FINISHES, STRUCTURES, WIRE_RATINGS
from mdo.study.fields import (
    Field,
    boolean,
    choice,
    many,
    number,
    quantity,
    sections,
    variable,
    word_list,
    words,
)

# Fields of [actuator] that a study of choices may list, and the state of the other set, which is
# that of every motion then.
OTHER_SET = "other_set"
CHOICE_FIELDS = (
    "alloy", "configuration", "drive_side", "return_mode", "topology", "gear_lanes", "heater",
    "cooling", "finish", "brake", "trained", OTHER_SET,
)  # fmt: skip

MOMENT = Field(
    kind="pair",
    text='fold angle and hinge moment, such as ["45 deg", "-500 in*lbf"]',
    fields={"fold_angle": number("fold_at"), "moment": number("bench_moment")},
)


@dataclass(frozen=True, kw_only=True)
class Head:
    """``[study]``: what the study is and what to run."""

    name: str = words(required=True, name=True)
    title: str = words(default="")
    description: str = words(default="")
    seed: int = quantity(whole=True, default=0)
    cases: str | None = words(otherwise="none: all cases are `[[case]]`")
    analyses: tuple[str, ...] = word_list(ANALYSES, noun="analysis", default=DEFAULT_ANALYSES)


@dataclass(frozen=True, kw_only=True)
class Breakpoint:
    """One ``[[vehicle.wing]]``: the right wing's section at one spanwise station."""

    station: float = quantity(required=True)
    leading_edge: float = quantity(required=True)
    chord: float = quantity(required=True)
    twist: float = quantity(default="0 deg")
    thickness_ratio: float = quantity(required=True)


@dataclass(frozen=True, kw_only=True)
class Vehicle:
    """``[vehicle]``: vehicle, wing and folding panel (of one wing)."""

    one_of: ClassVar = ("fold_station", "fold_fraction")
    name: str = words(required=True)
    mass: float = quantity(required=True)
    fold_station: float = quantity(otherwise="from `fold_fraction`; give one of the two")
    fold_fraction: float = quantity(otherwise="from `fold_station`; give one of the two")
    reference_area: float = quantity(otherwise="area of the breakpoints")
    section: str = choice(("four_digit", "biconvex"), default="four_digit")
    section_lift_efficiency: float = quantity(
        default=0.95, source="viscous sections, textbook value (from memory)"
    )
    panel_mass: float = quantity(
        otherwise="0.045 × mass / wing area × area of the panel",
        judged="0.045 of the vehicle's mass per wing area, times the panel's area",
    )
    panel_centre: float = quantity(
        otherwise="centroid of the panel's area", judged="centroid of the panel's area"
    )
    panel_offset: float = quantity(default="0 m", judged="fold axis in the chord plane")
    panel_inertia: float | None = quantity(
        nullable=True, otherwise="panel mass spread evenly over its area"
    )
    hinge_height: float = quantity(default="0 m", judged="fold axis level with the roll axis")
    toe_angle: float = quantity(default="0 deg")
    hinge_axis_pitch: float = quantity(default="0 deg", judged="axis along the root chord")
    skin_thickness: float = quantity(
        default="2 mm", judged="thin metal or laminate skin; 0.5 to 5 mm"
    )
    clearance: float = quantity(default="3 mm", judged="1 to 6 mm")
    bearing_friction: float = quantity(
        default=0.01,
        source="rolling bearings 0.003 to 0.01, machine-design handbooks (from memory)",
    )
    bearing_radius: float = quantity(default="10 mm", judged="5 to 30 mm by size of the vehicle")
    bearing_spacing: float = quantity(
        otherwise="half of the chord at the fold", judged="half of the chord at the fold"
    )
    seal_moment: float = quantity(default="0 N*m", judged="no rubbing seal")
    skin_stiffness: float = quantity(default="0 N*m/rad", judged="no flexible skin")
    skin_free_angle: float = quantity(default="0 deg")
    structure: str = choice(tuple(STRUCTURES), required=True)
    adjacent_temperature_limit: float = quantity(
        otherwise="by `structure`, table below",
        source="by structure: MIL-HDBK-5 and CMH-17 practice (from memory)",
    )
    structure_gap: float = quantity(default="5 mm", judged="3 to 20 mm")
    fuel_near_bay: bool = boolean()
    wing: tuple[Breakpoint, ...] = sections(Breakpoint, noun="breakpoint", least=2)


@dataclass(frozen=True, kw_only=True)
class Bench:
    """``[bench]``: one assembly, what moves with it, what stands beside it and what loads it."""

    one_of: ClassVar = ("moments", "table")
    name: str = words(required=True)
    envelope_height: float = quantity(required=True)
    envelope_length: float = quantity(required=True)
    inertia: float = quantity(of="bench_inertia", required=True)
    friction_moment: float = quantity(
        of="bench_friction", default="0 N*m", judged="no friction but that of the actuator"
    )
    moments: tuple[tuple[float, float], ...] = many(MOMENT, least=2, default=())
    table: str | None = words(otherwise="none: then `moments`")
    structure: str = choice(tuple(STRUCTURES), required=True)
    adjacent_temperature_limit: float = quantity(
        otherwise="by `structure`, table below",
        source="by structure: MIL-HDBK-5 and CMH-17 practice (from memory)",
    )
    structure_gap: float = quantity(default="5 mm", judged="3 to 20 mm")


@dataclass(frozen=True, kw_only=True)
class Supply:
    """``[supply]``: electrical supply of the aircraft (both wings)."""

    bus: str = choice(tuple(BUSES), required=True)
    nominal_voltage: float = quantity(otherwise="by `bus`, table below")
    low_voltage_ratio: float = quantity(otherwise="by `bus`, or by a battery's discharge")
    high_voltage_ratio: float = quantity(otherwise="by `bus`, or by a battery's discharge")
    allowed_drop: float = quantity(otherwise="by `bus`, table below")
    regulated: bool = boolean()
    power_available: float = quantity(required=True)
    run_length: float = quantity(required=True)
    wire_rating: str = choice(tuple(WIRE_RATINGS), default="200 degC")
    source: str = choice(("battery", "generator"), required=True)
    folds_per_sortie: float = quantity(default=2, judged="one fold before and one after the flight")

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
        default=0.25,
        source="dynamic margin of AIAA S-114-2005 as quoted by a mission-assurance page",
    )
    fold_time: float = quantity(required=True)
    return_time: float = quantity(required=True)
    warm_up_time: float = quantity(
        default="1800 s", judged="half an hour before the first fold of a day"
    )
    bay_cold: float = quantity(otherwise="none: then every case needs its own")
    bay_hot: float = quantity(otherwise="none: then every case needs its own")
    tubes_failed: int = quantity(whole=True, default=0)
    lot_tolerance: float = quantity(default="10 K", judged="batch to batch; 0 to 20 K")
    return_gate: float = quantity(default="10 K", judged="margin for control and gradients")
    self_start_gate: float = quantity(default="15 K", judged="margin against a start by heat alone")
    friction_factor: float = quantity(default=1.2, judged="house practice of mechanism design")
    added_moment: float = quantity(default="0 N*m", judged="nothing is left out")
    overrun_factor: float = quantity(default=1.25, judged="same as the torque margin")
    trim_fraction: float = quantity(default=0.05, judged="rigging and wear; 0.02 to 0.1")
    dead_time: float = quantity(default="1 s", judged="0.5 to 3 s")
    life_factor: float = quantity(default=10, judged="scatter factor on fatigue life; 4 to 10")
    length_to_diameter_max: float = quantity(
        default=30, judged="straightness and handling; 20 to 60"
    )
    envelope_height: float | None = quantity(nullable=True, otherwise="no limit but the wing")
    envelope_length: float | None = quantity(nullable=True, otherwise="no limit but the wing")
    windup_limit: float = quantity(
        default=0.05, source="stiffness gate of the plate-collected bundle"
    )


@dataclass(frozen=True, kw_only=True)
class Actuator:
    """``[actuator]``: the discrete choices."""

    alloy: str = words(required=True)
    configuration: str = choice(("load_return", "spring_return", "opposed"), required=True)
    drive_side: str = choice(("up", "down"), otherwise="none: needed by the one-set forms")
    return_mode: str = choice(("cool_under_load", "cool_then_retwist"), default="cool_under_load")
    trained: bool = boolean()
    topology: str = choice(("knuckle", "nested", "geared", "plated"), required=True)
    gear_lanes: int = quantity(whole=True, default=1)
    heater: str = choice(("wrap", "cartridge"), required=True)
    cooling: str = choice(("passive", "blower"), default="passive")
    cooling_air_speed: float = quantity(
        otherwise="8 m/s with a blower", judged="8 m/s with a blower, none without"
    )
    declared_life_stress: float | None = quantity(nullable=True, otherwise="that of the alloy card")
    declared_life_strain: float | None = quantity(nullable=True, otherwise="that of the alloy card")
    declared_life_cycles: float | None = quantity(
        nullable=True, otherwise="those of the alloy card"
    )
    finish: str = choice(tuple(FINISHES), default="oxidised", judged="as drawn and heated in air")
    brake: bool = boolean()
    table: str | None = words(otherwise="none: needed with the level `table` of the hinge moment")
    angles_per_leg: int = quantity(whole=True, default=11)

    @property
    def emissivity(self) -> float:
        """Emissivity of the outer face."""
        return FINISHES[self.finish]


# ruff: noqa: RUF009 - the calls declare fields, they share no default


@dataclass(frozen=True, kw_only=True)
class Variable:
    """One design variable in SI: bounds, start (None: from the count problem), frozen value."""

    lower: float
    upper: float
    start: float | None = None
    value: float | None = None

    @property
    def frozen(self) -> bool:
        """True if the study gives its value."""
        return self.value is not None


@dataclass(frozen=True, kw_only=True)
class PerSet:
    """A design variable with one value for each set."""

    up: Variable
    down: Variable


@dataclass(frozen=True, kw_only=True)
class Design:
    """``[design]``: every design variable; one tube geometry is shared by both sets."""

    tube_outer_radius: Variable = variable("2 mm", "40 mm")
    wall_ratio: Variable = variable(0.05, 0.75)
    tube_length: Variable = variable("0.05 m", "3 m")
    tube_count: PerSet = variable(1, 400, per_set=True)
    operating_stress: PerSet = variable("2 MPa", "400 MPa", per_set=True)
    gear_ratio: Variable = variable(0.5, 20)
    pre_twist: PerSet = variable("0.05 rad", "60 rad", per_set=True)
    heater_power: PerSet = variable("1 W", "500 kW", per_set=True)
    hot_temperature: Variable = variable("330 K", "600 K")
    insulation_thickness: Variable = variable("0 mm", "20 mm")
    spring_moment: Variable = variable("0.1 N*m", "1e5 N*m")
    spring_rate: Variable = variable("0 N*m/rad", "1e5 N*m/rad")
