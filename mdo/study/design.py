"""Design variables of a study: start, bounds, or a frozen value."""

# ruff: noqa: RUF009 - the calls declare fields, they share no default

from __future__ import annotations

from dataclasses import dataclass

from mdo.study.fields import variable


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

    tube_outer_radius: Variable = variable(
        "m", "Outer radius of the tubes", low="0.5 mm", high="0.2 m", lower="2 mm", upper="40 mm"
    )
    wall_ratio: Variable = variable(
        "1", "Wall thickness over outer radius", low=0.01, high=0.98, lower=0.05, upper=0.75
    )
    tube_length: Variable = variable(
        "m", "Active length of a tube", low="10 mm", high="20 m", lower="0.05 m", upper="3 m"
    )
    tube_count: PerSet = variable(
        "1", "Tubes of a set, one wing", low=0, high=1e5, lower=1, upper=400, per_set=True
    )
    operating_stress: PerSet = variable(
        "Pa", "Uniform shear stress at the work-consistent radius", low="0.1 MPa", high="1 GPa",
        lower="2 MPa", upper="400 MPa", per_set=True,
    )  # fmt: skip
    gear_ratio: Variable = variable(
        "1", "Tube twist over fold angle", low=0.1, high=200, lower=0.5, upper=20
    )
    pre_twist: PerSet = variable(
        "rad", "Twist of a tube where its set starts to drive", low="0.001 rad", high="1000 rad",
        lower="0.05 rad", upper="60 rad", per_set=True,
    )  # fmt: skip
    heater_power: PerSet = variable(
        "W", "Electrical power into a set at nominal voltage, one wing", low="0.01 W",
        high="10 MW", lower="1 W", upper="500 kW", per_set=True,
    )  # fmt: skip
    hot_temperature: Variable = variable(
        "K", "Temperature at which a set counts as heated", low="250 K", high="1000 K",
        lower="330 K", upper="600 K",
    )  # fmt: skip
    insulation_thickness: Variable = variable(
        "m", "Insulating sleeve of a tube", low="0 mm", high="0.1 m", lower="0 mm", upper="20 mm"
    )
    spring_moment: Variable = variable(
        "N*m", "Hinge moment of the return spring where the motion starts (spring_return)",
        low="0 N*m", high="1e7 N*m", lower="0.1 N*m", upper="1e5 N*m",
    )  # fmt: skip
    spring_rate: Variable = variable(
        "N*m/rad", "Rate of the return spring at the hinge (spring_return)", low="0 N*m/rad",
        high="1e7 N*m/rad", lower="0 N*m/rad", upper="1e5 N*m/rad",
    )  # fmt: skip
