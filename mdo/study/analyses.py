"""Options of ``[analysis]``: what each analysis takes, each field declared once.

What an axis of an exploration may be depends on the study as a whole; names and ranges are kept as
they are written and checked where the axes are made.
"""

# ruff: noqa: RUF009 - the calls declare fields, they share no default

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from mdo.analysis_names import EXPLORATIONS
from mdo.study.cases import Case
from mdo.study.fields import (
    Field,
    boolean,
    by_name,
    choice,
    declared,
    many,
    number,
    quantity,
    section,
    word_list,
    words,
)
from mdo.study.sections import CHOICE_FIELDS, OTHER_SET, Actuator

SAMPLES = ("latin_hypercube", "sobol", "factorial", "list")
OBJECTIVES = (
    "system_mass", "fold_time", "return_time", "peak_power", "energy_per_fold", "sortie_energy",
    "bundle_length", "bundle_height", "folds",
)  # fmt: skip
LAWS = ("dynamic", "mach", "constant_loading")
MODES = ("full", "pure")
SENSITIVITIES = ("design", "optimum")
TRIANGULAR, EVEN = DISTRIBUTIONS = ("triangular", "even")
TRIMMABLE = ("hot_temperature", "heater_power")
PROBABILITIES = (0.5, 0.7, 0.8, 0.9, 0.95, 0.99)
SIZES = (0.25, 0.35, 0.5, 0.71, 1.0, 1.41, 2.0, 2.83, 4.0)
MOTIONS = ("step", "ramp", "schedule", "hold", "reversal", "cycles")
HISTORIES = ("none", "limit", "sine", "pulse")
HOLDS = ("own", "heat", "lock", "brake")
SWITCHINGS = ("together", "by_turns", "one_by_one")
Ends = tuple[str | float, str | float]
Choices = Mapping[str, tuple[str | int | bool, ...]]

_END = Field(kind="end")
ENDS = Field(kind="pair", text="lowest and highest value", fields={"lowest": _END, "highest": _END})
STOCK_TUBE = Field(
    kind="pair",
    text='outer diameter and wall, such as ["8 mm", "1 mm"]',
    fields={"diameter": number("stock_diameter"), "wall": number("stock_wall")},
)
LEVELS = number("levels", kind="integer")
CHOICES = {
    name: Field(
        kind="list", least=1, item=declared(Case if name == OTHER_SET else Actuator)[name],
        text=f"Values of {name} that the study of choices goes through",
    )
    for name in CHOICE_FIELDS
}  # fmt: skip
LIST_FILE = 'none: needed with `sample = "list"`'


def _choices(text: str) -> Any:
    return section(CHOICES, f"Values of fields of [actuator], or of `other_set`: {text}")


@dataclass(frozen=True, kw_only=True)
class EvaluateOptions:
    """``[analysis.evaluate]``: evaluation of the design given; has no options."""


@dataclass(frozen=True, kw_only=True)
class OptimumOptions:
    """``[analysis.optimum]``: the optimum, continuous and in whole tubes."""

    starts: int = quantity(whole=True, default=4)
    tolerance: float = quantity(default=1e-10)
    iterations: int = quantity(whole=True, default=300)


@dataclass(frozen=True, kw_only=True)
class Stock:
    """``[analysis.defence.stock]``: what an optimum is made of; an empty list: size free."""

    tubes: tuple[tuple[float, float], ...] = many(
        STOCK_TUBE, "Diameter and wall of each stock tube; an empty list leaves the size free",
        ordered=True, default=(),
    )  # fmt: skip
    sleeves: tuple[float, ...] = many(
        number("stock_sleeve"), "Stock thicknesses of the insulating sleeve",
        ordered=True, default=(),
    )  # fmt: skip
    sheets: tuple[float, ...] = many(
        number("stock_sheet"), "Stock thicknesses of sheet for housing and plates",
        ordered=True, default=(),
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class DefenceOptions:
    """``[analysis.defence]``: the optimum with all that a review asks about it."""

    starts: int = quantity(whole=True, default=10)
    samples: int = quantity(whole=True, default=1024)
    hydraulic: bool = boolean("True to compare with a hydraulic hinge too")
    cost_ranges: bool = boolean("True to follow each cost to where it changes", default=True)
    break_even: bool = boolean("True to look for what turns the comparison", default=True)
    relax_mission: bool = boolean(
        "True to relax the mission too where nothing is feasible: fold angles, loads, folds, bus"
    )
    states: bool = boolean("True to optimise every state of the other set of a pair", default=True)
    stock: Stock = section(Stock, "What can be bought")
    choices: Choices = _choices("all combinations are optimised")


@dataclass(frozen=True, kw_only=True)
class MapPlan:
    """``[analysis.map]``: the optimum at every point of some requirements."""

    sample: str = choice(SAMPLES, "How the points are spread", default="latin_hypercube")
    points: int = quantity(whole=True, default=200)
    looks: int = quantity(whole=True, default=1)
    dear_points: int = quantity(whole=True, default=30)
    dear_error: float = quantity(default=0.01)
    held_out: int = quantity(whole=True, default=5)
    file: str | None = words('CSV file of the points, for sample = "list"', otherwise=LIST_FILE)
    axes: Mapping[str, Ends] = by_name(
        ENDS, "What is turned: lowest and highest value by the name of a knob or a field's path"
    )
    levels: Mapping[str, int] = by_name(LEVELS, 'Levels of each axis, for sample = "factorial"')
    choices: Choices = _choices("all combinations at every point")


@dataclass(frozen=True, kw_only=True)
class FrontPlan:
    """``[analysis.front]``: Pareto front of two or three objectives."""

    points: int = quantity(of="front_points", whole=True, default=50)
    objectives: tuple[str, ...] = word_list(
        OBJECTIVES, "Two or three of the objectives, the first one minimised",
        default=("system_mass", "fold_time"), least=2, most=3,
    )  # fmt: skip
    ranges: Mapping[str, Ends] = by_name(
        ENDS, "Tightest and loosest value of an objective, sought where left out"
    )
    choices: Choices = _choices("a front of every combination")


@dataclass(frozen=True, kw_only=True)
class SweepPlan:
    """``[analysis.sweep]``: many designs as they are, each with a verdict."""

    sample: str = choice(SAMPLES, "How the designs are spread", default="latin_hypercube")
    designs: int = quantity(whole=True, default=100_000)
    chunk: int = quantity(whole=True, default=10_000)
    file: str | None = words('CSV file of the designs, for sample = "list"', otherwise=LIST_FILE)
    axes: Mapping[str, Ends] = by_name(
        ENDS, "Numbers of the study that are swept: lowest and highest value"
    )
    variables: Mapping[str, Ends] = by_name(
        ENDS, "Design variables that are swept: lowest and highest value"
    )
    levels: Mapping[str, int] = by_name(
        LEVELS, 'Levels of each axis and variable, for sample = "factorial"'
    )


@dataclass(frozen=True, kw_only=True)
class SensitivityPlan:
    """``[analysis.sensitivity]``: Sobol indices and Morris effects."""

    samples: int = quantity(of="base_samples", whole=True, default=1024)
    optimum_samples: int = quantity(whole=True, default=64)
    trajectories: int = quantity(whole=True, default=20)
    inputs_most: int = quantity(whole=True, default=8)
    confidence: float = quantity(default=0.95)
    of: tuple[str, ...] = word_list(
        SENSITIVITIES, "What is looked at: the design as it is, or the optimum found again",
        default=("design",),
    )  # fmt: skip
    axes: Mapping[str, Ends] = by_name(
        ENDS, "Inputs and their ranges; every judged input where left out"
    )


@dataclass(frozen=True, kw_only=True)
class ScalingPlan:
    """``[analysis.scaling]``: the family of vehicles, each size optimised again."""

    checks: bool = boolean("True to check the exponents of pure scaling too", default=True)
    laws: tuple[str, ...] = word_list(LAWS, "How the family scales", default=LAWS)
    sizes: tuple[float, ...] = many(
        number("vehicle_size", noun="number"), "Lengths over those of the vehicle given",
        ordered=True, least=3, default=SIZES,
    )  # fmt: skip


_INPUT = Field(kind="text", text="Path of a judged input, such as alloy.strain_factor")


@dataclass(frozen=True, kw_only=True)
class AssurancePlan:
    """``[analysis.assurance]``: sizing so that all requirements hold with a wanted probability."""

    probabilities: tuple[float, ...] = many(
        number("probability_wanted"), "Probabilities with which all requirements shall hold",
        ordered=True, least=1, default=PROBABILITIES,
    )  # fmt: skip
    distribution: str = choice(
        DISTRIBUTIONS, "How an input is spread over its range: most likely at the study's value, "
        "or all values alike", default=TRIANGULAR,
    )  # fmt: skip
    samples: int = quantity(of="assurance_samples", whole=True, default=1024)
    confirmation: int = quantity(of="confirmation_samples", whole=True, default=4096)
    fixed_samples: int = quantity(whole=True, default=0)
    inputs: tuple[str, ...] = many(
        _INPUT, "Inputs that are not known; every judged one where left out", default=()
    )
    known: tuple[str, ...] = many(
        _INPUT, "Judged inputs that count as known: to be shown by test before", default=()
    )
    trimmed: tuple[str, ...] = word_list(
        TRIMMABLE, "Variables that are set anew in each sample, after the build: the hot "
        "temperature, and the power of a heater up to what it is built for", default=(), least=0,
        noun="variable",
    )  # fmt: skip
    measured: int = quantity(of="inputs_measured", whole=True, default=3)
    left: float = quantity(of="range_left", default=0.25)
    axes: Mapping[str, Ends] = by_name(
        ENDS, "Requirements over which the probability of one design is drawn: two at most"
    )
    steps: int = quantity(of="levels", whole=True, default=5)


SCHEDULE_POINT = Field(
    kind="pair", text='time and fold angle, such as ["600 s", "45 deg"]',
    fields={"time": number("motion_hold"), "angle": number("motion_target")},
)  # fmt: skip


def _history(text: str) -> Any:
    return choice(HISTORIES, text, default="none")


@dataclass(frozen=True, kw_only=True)
class MotionPlan:
    """``[analysis.motion]``: the sized actuator folds the wing in time, under control."""

    case: str | None = words("Case that moves", name=True, otherwise="the first that folds")
    command: str = choice(MOTIONS, "What is commanded", default="cycles")
    target: float | None = quantity(of="motion_target", otherwise="the end of the case's fold")
    ramp: float = quantity(of="motion_ramp", default="120 s", judged="judgement")
    hold: float | None = quantity(
        of="motion_hold", otherwise="twice the time that sizing allows for a stroke"
    )
    cycles: int = quantity(of="motion_cycles", whole=True, default=1)
    schedule: tuple[tuple[float, float], ...] = many(
        SCHEDULE_POINT, "Times of the command, from its start, and fold angles; straight between",
        ordered=True, default=(),
    )  # fmt: skip
    sample: float = quantity(of="motion_sample", default="0.2 s", judged="judgement")
    caution: float = quantity(
        of="motion_caution", default="5 K",
        judged="judgement: scatter of transformation temperatures within a bar",
    )  # fmt: skip
    lash: float = quantity(of="gear_lash", default="0.1 deg", judged="judgement")
    damper: float = quantity(of="hinge_damper", default="0 N*m*s/rad", judged="none stated")
    hold_by: str = choice(
        HOLDS, "What holds the wing at its command; own: a brake where it has one, else heat",
        default="own",
    )  # fmt: skip
    gust: str = _history("Course of the air load of a case in flight, of its half width")
    wind: str = _history("Course of the air load of a case on deck, of its half width")
    manoeuvre: str = _history("Course of the mass load of a case in flight, of its half width")
    deck_roll: str = _history("Course of the mass load of a case on deck, of its half width")
    bus_share: float = quantity(default=0.5, judged="both wings are alike")
    supply_resistance: float = quantity(default="0 ohm", judged="none stated: no sag")
    heater_groups: int = quantity(whole=True, default=1)
    switching: str = choice(
        SWITCHINGS, "How heater groups draw: all at once; by turns, each its part of the time; or "
        "one after the other, each until it is hot",
        default="together",
    )  # fmt: skip
    scatter: int = quantity(of="motion_scatter", whole=True, default=200)
    faults: bool = boolean("True to run the matrix of faults", default=True)


@dataclass(frozen=True, kw_only=True)
class Analysis:
    """``[analysis]``: options of each analysis."""

    evaluate: EvaluateOptions = section(EvaluateOptions)
    optimum: OptimumOptions = section(OptimumOptions)
    defence: DefenceOptions = section(DefenceOptions)
    map: MapPlan = section(MapPlan)
    front: FrontPlan = section(FrontPlan)
    sweep: SweepPlan = section(SweepPlan)
    sensitivity: SensitivityPlan = section(SensitivityPlan)
    scaling: ScalingPlan = section(ScalingPlan)
    assurance: AssurancePlan = section(AssurancePlan)
    motion: MotionPlan = section(MotionPlan)


PLANS: Mapping[str, type] = {
    name: field.builds for name, field in declared(Analysis).items()
    if name in EXPLORATIONS and field.builds
}  # fmt: skip
