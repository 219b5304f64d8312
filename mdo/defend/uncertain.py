"""Inputs that are known only within a range: the alloy card and the judged assumptions.

Each is taken as independent and even over its range; the logarithm is even where the range spans
more than a factor of 1.5 (a factor both ways rather than an amount). The ranges are those of the
card and of the defaults; an input without a range is taken as known.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mdo.optimise.knobs import ALLOY
from mdo.optimise.problem import DesignProblem
from mdo.quantities import QUANTITIES
from mdo.study.assemble import alloy_card

Floats = NDArray[np.float64]
WIDE = 1.5  # ratio of the ends of a range from which its logarithm is even
# Groups of assumptions and the record of the model that holds each.
GROUPS = {
    "aero": "aero",
    "thermal": "thermal_assumptions",
    "power": "power_assumptions",
    "mass": "mass_assumptions",
    "bundle": "bundle_assumptions",
    "baseline": "baseline",
}
# Margins, materials, counts and switches: they are chosen, so they have no uncertainty.
CHOSEN = frozenset(
    {
        "wind_model",
        "bundle_chord_fraction_max",
        "battery_margin",
        "wall_min",
        "bore_radius_min",
        "plate_thickness_min",
        "housing_thickness_min",
        "wire_area_min",
        "gear_teeth",
        "spline_teeth",
        "plate_edge_ratio",
        "plate_fill",
        "resolver_count",
        "thermocouples_per_tube",
        "switch_count",
        "tubes_per_channel",
        "fitting_density",
        "lock_pin_density",
        "lock_pin_planes",
        "hydraulic_pressure",
        "hydraulic_shell_density",
        "cartridge_flux",
        "wrap_flux",
        "support_slenderness",
        "tube_gap_ratio",
        "nested_gap",
        "nested_diameter_ratio",
        "loss_uncertainty",
        "heater_tolerance_low",
        "heater_tolerance_high",
        "control_overshoot",
        "hold_temperature_margin",
        "spacer_thickness",
        "length_to_diameter_min",
        "grip_length_ratio",
        "buckling_wall_ratio",
        "blower_area_ratio",
    }
)
DECLARED = ("declared_life_stress", "declared_life_strain", "declared_life_cycles")
PRINTED_ONLY = "uncertainty_"  # assumptions about bands that no result uses


@dataclass(frozen=True)
class Uncertain:
    """One uncertain input.

    Attributes
    ----------
    path
        ``alloy.<field>`` or the path of the field in a study.
    meaning, unit, provenance
        Words, SI unit, where value and range come from.
    value, low, high
        SI.
    record, field
        Where it is in the parameters of the model.
    """

    path: str
    meaning: str
    unit: str
    provenance: str
    value: float
    low: float
    high: float
    record: str
    field: str

    @property
    def logarithmic(self) -> bool:
        """Whether the logarithm is even over the range."""
        return self.low > 0.0 and self.high / self.low > WIDE

    def at(self, share: Any) -> Any:
        """Value at a share 0 to 1 of the range."""
        if self.logarithmic:
            return self.low * (self.high / self.low) ** np.asarray(share)
        return self.low + (self.high - self.low) * np.asarray(share)

    @property
    def deviation(self) -> float:
        """Standard deviation, in the variable that is even (a logarithm where it is one)."""
        width = np.log(self.high / self.low) if self.logarithmic else self.high - self.low
        return float(width / np.sqrt(12.0))

    @property
    def stretch(self) -> float:
        """Derivative of the value by the variable that is even, at the present value."""
        return self.value if self.logarithmic else 1.0

    @property
    def shift(self) -> float:
        """Middle of the range less the present value, in the variable that is even."""
        if self.logarithmic:
            return float(0.5 * (np.log(self.low) + np.log(self.high)) - np.log(self.value))
        return 0.5 * (self.low + self.high) - self.value


def uncertain_inputs(problem: DesignProblem) -> tuple[Uncertain, ...]:
    """Every input of the model with a range: card, assumptions, declared life."""
    assembled = problem.assembled
    found = [
        Uncertain(
            path=ALLOY + field.name,
            meaning=QUANTITIES[field.name].meaning,
            unit=QUANTITIES[field.name].unit,
            provenance=field.source,
            value=field.value,
            low=field.low,
            high=field.high,
            record="alloy",
            field=field.name,
        )
        for field in assembled.card.fields.values()
        if field.low is not None
        and field.high is not None
        and field.high > field.low
        and field.name not in problem.card_fields
    ]
    for one in problem.study.inputs:
        parts = one.path.split(".")
        if parts[0] != "assumptions" or one.low is None or one.high is None:
            continue
        _, group, name = parts
        chosen = name in CHOSEN or name.startswith((PRINTED_ONLY, "growth_"))
        if chosen or not isinstance(one.value, int | float) or not one.high > one.low:
            continue
        found.append(
            Uncertain(
                path=one.path,
                meaning=one.text,
                unit=one.unit,
                provenance=one.provenance,
                value=float(one.value),
                low=one.low,
                high=one.high,
                record=GROUPS[group],
                field=name,
            )
        )
    return (*found, *_declared_life(problem))


def _declared_life(problem: DesignProblem) -> list[Uncertain]:
    """Declared life as uncertain inputs, where the study's value lies in the card's range.

    A study that declares its own life takes the place of the card's number, not of the card's
    doubt. Outside the card's range the study knows better than the card, and nothing is said.
    Nothing either where the card has a life law, or where its own number stands: that is among
    the uncertain inputs already.
    """
    alloy = problem.assembled.parameters["alloy"]
    if alloy.life_law > 0.5:
        return []
    card, used = alloy_card(problem.study).fields, problem.assembled.card.fields
    found = []
    for name in DECLARED:
        field, value = card.get(name), float(getattr(alloy, name))
        if field is None or field.low is None or field.high is None:
            continue
        declared = name in used and used[name].low is None and name not in problem.card_fields
        if not declared or not field.low <= value <= field.high:
            continue
        found.append(
            Uncertain(
                path=ALLOY + name,
                meaning=QUANTITIES[name].meaning,
                unit=QUANTITIES[name].unit,
                provenance=f"declared by the study; range of the card: {field.source}",
                value=value,
                low=field.low,
                high=field.high,
                record="alloy",
                field=name,
            )
        )
    return found


def directions(problem: DesignProblem, inputs: tuple[Uncertain, ...]) -> Floats:
    """Derivative of the parameters by each input (SI), shape (inputs, theta): one place each."""
    rows = np.zeros((len(inputs), np.size(problem.theta)))
    for row, place in zip(rows, _places(problem, inputs), strict=True):
        row[place] = 1.0
    return rows


def theta_with(problem: DesignProblem, values: dict[Uncertain, float]) -> Floats:
    """Parameters with inputs at other values (SI)."""
    theta = np.array(problem.theta, dtype=float)
    for one, place in zip(values, _places(problem, tuple(values)), strict=True):
        theta[place] += values[one] - one.value
    return theta


def _places(problem: DesignProblem, inputs: tuple[Uncertain, ...]) -> list[NDArray[np.intp]]:
    """Places of each input in the parameters."""
    numbers = problem.chain.unpack(np.arange(np.size(problem.theta), dtype=float))
    return [
        np.atleast_1d(np.asarray(getattr(numbers[one.record], one.field))).astype(np.intp)
        for one in inputs
    ]
