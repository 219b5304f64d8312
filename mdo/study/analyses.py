"""Options of ``[analysis]``: what each analysis takes, each field declared once.

What an axis of an exploration may be depends on the study as a whole; names and ranges are kept as
they are written and checked where the axes are made.
"""

# ruff: noqa: RUF009 - the calls declare fields, they share no default

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

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

    tubes: tuple[tuple[float, float], ...] = many(STOCK_TUBE, ordered=True, default=())
    sleeves: tuple[float, ...] = many(number("stock_sleeve"), ordered=True, default=())
    sheets: tuple[float, ...] = many(number("stock_sheet"), ordered=True, default=())


@dataclass(frozen=True, kw_only=True)
class DefenceOptions:
    """``[analysis.defence]``: the optimum with all that a review asks about it."""

    starts: int = quantity(whole=True, default=10)
    samples: int = quantity(whole=True, default=1024)
    hydraulic: bool = boolean()
    cost_ranges: bool = boolean(default=True)
    break_even: bool = boolean(default=True)
    relax_mission: bool = boolean()
    states: bool = boolean(default=True)
    stock: Stock = section(Stock)
    choices: Choices = section(CHOICES)


@dataclass(frozen=True, kw_only=True)
class MapPlan:
    """``[analysis.map]``: the optimum at every point of some requirements."""

    sample: str = choice(SAMPLES, default="latin_hypercube")
    points: int = quantity(whole=True, default=200)
    looks: int = quantity(whole=True, default=1)
    dear_points: int = quantity(whole=True, default=30)
    dear_error: float = quantity(default=0.01)
    held_out: int = quantity(whole=True, default=5)
    file: str | None = words(otherwise=LIST_FILE)
    axes: Mapping[str, Ends] = by_name(ENDS)
    levels: Mapping[str, int] = by_name(LEVELS)
    choices: Choices = section(CHOICES)


@dataclass(frozen=True, kw_only=True)
class FrontPlan:
    """``[analysis.front]``: Pareto front of two or three objectives."""

    points: int = quantity(of="front_points", whole=True, default=50)
    objectives: tuple[str, ...] = word_list(
        OBJECTIVES, default=("system_mass", "fold_time"), least=2, most=3
    )
    ranges: Mapping[str, Ends] = by_name(ENDS)
    choices: Choices = section(CHOICES)


@dataclass(frozen=True, kw_only=True)
class SweepPlan:
    """``[analysis.sweep]``: many designs as they are, each with a verdict."""

    sample: str = choice(SAMPLES, default="latin_hypercube")
    designs: int = quantity(whole=True, default=100_000)
    chunk: int = quantity(whole=True, default=10_000)
    file: str | None = words(otherwise=LIST_FILE)
    axes: Mapping[str, Ends] = by_name(ENDS)
    variables: Mapping[str, Ends] = by_name(ENDS)
    levels: Mapping[str, int] = by_name(LEVELS)


@dataclass(frozen=True, kw_only=True)
class SensitivityPlan:
    """``[analysis.sensitivity]``: Sobol indices and Morris effects."""

    samples: int = quantity(of="base_samples", whole=True, default=1024)
    optimum_samples: int = quantity(whole=True, default=64)
    trajectories: int = quantity(whole=True, default=20)
    inputs_most: int = quantity(whole=True, default=8)
    confidence: float = quantity(default=0.95)
    of: tuple[str, ...] = word_list(SENSITIVITIES, default=("design",))
    axes: Mapping[str, Ends] = by_name(ENDS)


@dataclass(frozen=True, kw_only=True)
class ScalingPlan:
    """``[analysis.scaling]``: the family of vehicles, each size optimised again."""

    checks: bool = boolean(default=True)
    laws: tuple[str, ...] = word_list(LAWS, default=LAWS)
    sizes: tuple[float, ...] = many(
        number("vehicle_size", noun="number"), ordered=True, least=3, default=SIZES
    )


_INPUT = Field(kind="text", text="Path of a judged input, such as alloy.strain_factor")


@dataclass(frozen=True, kw_only=True)
class AssurancePlan:
    """``[analysis.assurance]``: sizing so that all requirements hold with a wanted probability."""

    probabilities: tuple[float, ...] = many(
        number("probability_wanted"), ordered=True, least=1, default=PROBABILITIES
    )
    distribution: str = choice(DISTRIBUTIONS, default=TRIANGULAR)
    samples: int = quantity(of="assurance_samples", whole=True, default=1024)
    confirmation: int = quantity(of="confirmation_samples", whole=True, default=4096)
    fixed_samples: int = quantity(whole=True, default=0)
    inputs: tuple[str, ...] = many(_INPUT, default=())
    known: tuple[str, ...] = many(_INPUT, default=())
    trimmed: tuple[str, ...] = word_list(TRIMMABLE, default=(), least=0, noun="variable")
    measured: int = quantity(of="inputs_measured", whole=True, default=3)
    left: float = quantity(of="range_left", default=0.25)
    axes: Mapping[str, Ends] = by_name(ENDS)
    steps: int = quantity(of="levels", whole=True, default=5)


SCHEDULE_POINT = Field(
    kind="pair", text='time and fold angle, such as ["600 s", "45 deg"]',
    fields={"time": number("motion_hold"), "angle": number("motion_target")},
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class MotionPlan:
    """``[analysis.motion]``: the sized actuator folds the wing in time, under control."""

    case: str | None = words(name=True, otherwise="the first that folds")
    command: str = choice(MOTIONS, default="cycles")
    target: float | None = quantity(of="motion_target", otherwise="the end of the case's fold")
    ramp: float = quantity(of="motion_ramp", default="120 s", judged="judgement")
    hold: float | None = quantity(
        of="motion_hold", otherwise="twice the time that sizing allows for a stroke"
    )
    cycles: int = quantity(of="motion_cycles", whole=True, default=1)
    schedule: tuple[tuple[float, float], ...] = many(SCHEDULE_POINT, ordered=True, default=())
    sample: float = quantity(of="motion_sample", default="0.2 s", judged="judgement")
    caution: float = quantity(
        of="motion_caution", default="5 K",
        judged="judgement: scatter of transformation temperatures within a bar",
    )  # fmt: skip
    lash: float = quantity(of="gear_lash", default="0.1 deg", judged="judgement")
    damper: float = quantity(of="hinge_damper", default="0 N*m*s/rad", judged="none stated")
    hold_by: str = choice(HOLDS, default="own")
    gust: str = choice(HISTORIES, default="none")
    wind: str = choice(HISTORIES, default="none")
    manoeuvre: str = choice(HISTORIES, default="none")
    deck_roll: str = choice(HISTORIES, default="none")
    bus_share: float = quantity(default=0.5, judged="both wings are alike")
    supply_resistance: float = quantity(default="0 ohm", judged="none stated: no sag")
    heater_groups: int = quantity(whole=True, default=1)
    switching: str = choice(SWITCHINGS, default="together")
    scatter: int = quantity(of="motion_scatter", whole=True, default=200)
    faults: bool = boolean(default=True)


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
