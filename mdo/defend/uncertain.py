"""Inputs that are known only within a range: the alloy card and the judged assumptions.

Each is taken as independent and even over its range; the logarithm is even where the range spans
more than a factor of 1.5 (a factor both ways rather than an amount). The ranges are those of the
card and of the defaults; an input without a range is taken as known.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from mdo.alloys.card import Field
from mdo.arrays import Floats
from mdo.data_files import toml_beside
from mdo.optimise.knobs import ALLOY
from mdo.optimise.problem import DesignProblem
from mdo.quantities import QUANTITIES
from mdo.study.assemble import alloy_card

WIDE = 1.5  # ratio of the ends of a range from which its logarithm is even
_DATA = toml_beside(__file__)
RECORDS: dict[str, str] = _DATA["records"]
CHOSEN = frozenset(name for names in _DATA["chosen"].values() for name in names)
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

    def step_to(self, value: Any) -> Any:
        """Distance from the present value to another, in the variable that is even."""
        return np.log(value / self.value) if self.logarithmic else value - self.value

    def stepped(self, step: float) -> float:
        """Value a step away in the variable that is even: the inverse of :meth:`step_to`."""
        return self.value * float(np.exp(step)) if self.logarithmic else self.value + step

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
        return float(self.step_to(self.at(0.5)))


def of_inputs(inputs: Sequence[Uncertain], name: str) -> Floats:
    """Return one property of every input, (inputs,)."""
    return np.array([getattr(entry, name) for entry in inputs])


def uncertain_inputs(problem: DesignProblem) -> tuple[Uncertain, ...]:
    """Every input of the model with a range: card, assumptions, declared life."""
    judged = [
        _of_card(field, field.value, field.source)
        for field in problem.assembled.card.fields.values()
        if _has_range(field) and field.name not in problem.card_fields
    ]
    for entry in problem.study.inputs:
        section, _, rest = entry.path.partition(".")
        group, _, name = rest.partition(".")
        judged_here = section == "assumptions" and _has_range(entry) and not _is_chosen(name)
        if judged_here and isinstance(entry.value, int | float):
            words = (entry.path, entry.text, entry.unit, entry.provenance, float(entry.value))
            ends = cast(float, entry.low), cast(float, entry.high)
            judged.append(Uncertain(*words, *ends, RECORDS[group], name))
    return (*judged, *_declared_life(problem))


def _has_range(entry: Any) -> bool:
    return entry.low is not None and entry.high is not None and entry.high > entry.low


def _is_chosen(name: str) -> bool:
    return name in CHOSEN or name.startswith((PRINTED_ONLY, "growth_"))


def _of_card(field: Field, value: float, provenance: str) -> Uncertain:
    """Input of the alloy card, over the range of its field."""
    known = QUANTITIES[field.name]
    words = (ALLOY + field.name, known.meaning, known.unit, provenance, value)
    ends = cast(float, field.low), cast(float, field.high)
    return Uncertain(*words, *ends, "alloy", field.name)


def _declared_life(problem: DesignProblem) -> Iterator[Uncertain]:
    """Declared life as uncertain inputs, where the study's value lies in the card's range.

    A study that declares its own life takes the place of the card's number, not of the card's
    doubt. Outside the card's range the study knows better than the card, and nothing is said.
    Nothing either where the card has a life law, or where its own number stands: that is among
    the uncertain inputs already.
    """
    alloy = problem.assembled.parameters["alloy"]
    if alloy.life_law > 0.5:
        return
    card, used = alloy_card(problem.study).fields, problem.assembled.card.fields
    for name in DECLARED:
        field, value = card.get(name), float(getattr(alloy, name))
        if field is None or field.low is None or field.high is None:
            continue
        declared = name in used and used[name].low is None and name not in problem.card_fields
        if declared and field.low <= value <= field.high:
            source = f"declared by the study; range of the card: {field.source}"
            yield _of_card(field, value, source)


def directions(problem: DesignProblem, inputs: tuple[Uncertain, ...]) -> Floats:
    """Derivative of the parameters by each input (SI), shape (inputs, theta): one place each."""
    rows = np.zeros((len(inputs), np.size(problem.theta)))
    for row, place in zip(rows, _places(problem, inputs), strict=True):
        row[place] = 1.0
    return rows


def theta_with(problem: DesignProblem, values: dict[Uncertain, float]) -> Floats:
    """Parameters with inputs at other values (SI)."""
    theta = np.array(problem.theta, dtype=float)
    for entry, place in zip(values, _places(problem, tuple(values)), strict=True):
        theta[place] += values[entry] - entry.value
    return theta


def _places(problem: DesignProblem, inputs: tuple[Uncertain, ...]) -> list[NDArray[np.intp]]:
    """Places of each input in the parameters."""
    numbers = problem.chain.unpack(np.arange(np.size(problem.theta), dtype=float))
    return [
        np.atleast_1d(np.asarray(getattr(numbers[entry.record], entry.field))).astype(np.intp)
        for entry in inputs
    ]
