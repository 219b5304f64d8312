"""``[analysis.map]``, ``front``, ``sweep``, ``sensitivity``, ``scaling``: plans of explorations.

What an axis may be depends on the study as a whole; names and ranges are kept as they are written
and checked where the axes are made.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from mdo.study.fields import boolean, choice, integer, quantity, words

EXPLORATIONS = ("map", "front", "sweep", "sensitivity", "scaling")
SAMPLES = ("latin_hypercube", "sobol", "factorial", "list")
OBJECTIVES = (
    "system_mass", "fold_time", "return_time", "peak_power", "energy_per_fold", "sortie_energy",
    "bundle_length", "bundle_height", "folds",
)  # fmt: skip
LAWS = ("dynamic", "mach", "constant_loading")
MODES = ("full", "pure")
SENSITIVITIES = ("design", "optimum")
Ends = tuple[str | float, str | float]


@dataclass(frozen=True, kw_only=True)
class MapPlan:
    """``[analysis.map]``: the optimum at every point of some requirements."""

    sample: str = choice(SAMPLES, "How the points are spread", default="latin_hypercube")
    points: int = integer("Points of a sample", low=1, high=1_000_000, default=200)
    looks: int = integer(
        "Further starts of points that end infeasible or heavier than their neighbours say",
        low=0, high=10, default=1,
    )  # fmt: skip
    file: str | None = words('CSV file of the points, for sample = "list"')
    axes: Mapping[str, Ends]
    levels: Mapping[str, int]
    choices: Mapping[str, tuple[str | int | bool, ...]]


@dataclass(frozen=True, kw_only=True)
class FrontPlan:
    """``[analysis.front]``: Pareto front of two or three objectives."""

    points: int = integer("Points of the front", low=3, high=10_000, default=50)
    objectives: tuple[str, ...]
    ranges: Mapping[str, Ends]
    choices: Mapping[str, tuple[str | int | bool, ...]]


@dataclass(frozen=True, kw_only=True)
class SweepPlan:
    """``[analysis.sweep]``: many designs as they are, each with a verdict."""

    sample: str = choice(SAMPLES, "How the designs are spread", default="latin_hypercube")
    designs: int = integer("Designs of a sample", low=1, high=100_000_000, default=100_000)
    chunk: int = integer("Designs done and kept together", low=1, high=100_000, default=10_000)
    file: str | None = words('CSV file of the designs, for sample = "list"')
    axes: Mapping[str, Ends]
    variables: Mapping[str, Ends]
    levels: Mapping[str, int]


@dataclass(frozen=True, kw_only=True)
class SensitivityPlan:
    """``[analysis.sensitivity]``: Sobol indices and Morris effects."""

    samples: int = integer(
        "Base samples of the Sobol indices, a power of two", low=8, high=1_048_576, default=1024
    )
    optimum_samples: int = integer(
        "Base samples where every one is an optimum, a power of two", low=4, high=65_536, default=64
    )
    trajectories: int = integer("Trajectories of Morris", low=2, high=10_000, default=20)
    inputs_most: int = integer(
        "Inputs that are left for the Sobol indices after screening", low=1, high=100, default=8
    )
    confidence: float = quantity("1", "Confidence of the intervals", low=0.5, high=0.999,
                                 default=0.95)  # fmt: skip
    of: tuple[str, ...]
    axes: Mapping[str, Ends]


@dataclass(frozen=True, kw_only=True)
class ScalingPlan:
    """``[analysis.scaling]``: the family of vehicles, each size optimised again."""

    checks: bool = boolean("True to check the exponents of pure scaling too", default=True)
    laws: tuple[str, ...]
    sizes: tuple[float, ...]


PLANS: Mapping[str, type] = {
    "map": MapPlan,
    "front": FrontPlan,
    "sweep": SweepPlan,
    "sensitivity": SensitivityPlan,
    "scaling": ScalingPlan,
}
# Fields that are read beside the declared ones, and what they are in words.
TABLES: Mapping[str, Mapping[str, str]] = {
    "map": {
        "axes": "What is turned: lowest and highest value by the name of a knob or a field's path",
        "levels": 'Levels of each axis, for sample = "factorial"',
        "choices": "Values of fields of [actuator]: all combinations at every point",
    },
    "front": {
        "objectives": "Two or three of the objectives, the first one minimised",
        "ranges": "Tightest and loosest value of an objective, found where left out",
        "choices": "Values of fields of [actuator]: a front of every combination",
    },
    "sweep": {
        "axes": "Numbers of the study that are swept: lowest and highest value",
        "variables": "Design variables that are swept: lowest and highest value",
        "levels": 'Levels of each axis and variable, for sample = "factorial"',
    },
    "sensitivity": {
        "of": "What is looked at: the design as it is, or the optimum found again",
        "axes": "Inputs and their ranges; every judged input where left out",
    },
    "scaling": {
        "laws": "How the family scales",
        "sizes": "Lengths over those of the vehicle given",
    },
}
