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
