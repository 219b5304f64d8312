"""A design of a study with everything computed about it, and the verdict on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.explore.optimum import FEASIBLE, Optimum
from mdo.explore.problem import DesignProblem
from mdo.model.layout import split_design
from mdo.model.rows import RowLabel
from mdo.study.study import Study

Floats = NDArray[np.float64]

INFEASIBLE = "infeasible"
OPEN_ITEMS = "feasible with open items"
PASSES = "feasible"


class RowResult(NamedTuple):
    """A row that counts: its label, words, normalised value (>= 0 good) and multiplier [kg]."""

    label: RowLabel
    text: str
    value: float
    multiplier: float


class Verdict(NamedTuple):
    """Level (infeasible, feasible with open items, feasible), its causes and open items."""

    level: str
    causes: tuple[str, ...]
    open_items: tuple[str, ...]


@dataclass(frozen=True)
class Appraisal:
    """One design of a study, evaluated.

    Attributes
    ----------
    kind
        ``evaluate`` or ``optimum``: the analysis it belongs to.
    problem
        The study as a problem; ``problem.assembled`` has legs, statics, parameters and alloy card.
    x
        Design vector.
    values
        Every output of the system at the design (names of :mod:`mdo.quantities`), SI units.
    optimum
        How the design was found, if it was optimised.
    origin
        Where the design comes from, in words.
    """

    kind: str
    problem: DesignProblem
    x: Floats
    values: Mapping[str, Floats]
    optimum: Optimum | None
    origin: str

    @property
    def study(self) -> Study:
        """The study."""
        return self.problem.study

    @cached_property
    def design(self) -> dict[str, Floats]:
        """Design variables by name; per-set ones have two entries (up, down)."""
        return {name: np.asarray(value) for name, value in split_design(self.x).items()}  # type: ignore[arg-type]

    @cached_property
    def rows(self) -> tuple[RowResult, ...]:
        """The rows that count, in the order of the declaration."""
        values = self.problem.rows_of(self.values)[self.problem.counting]
        multipliers = np.zeros(values.size) if self.optimum is None else self.optimum.multipliers
        return tuple(
            RowResult(label, self.problem.describe(label), float(value), float(multiplier))
            for label, value, multiplier in zip(
                self.problem.counting_labels, values, multipliers, strict=True
            )
        )

    @cached_property
    def violated(self) -> tuple[RowResult, ...]:
        """Rows that do not hold, worst first."""
        return tuple(sorted((r for r in self.rows if r.value < -FEASIBLE), key=lambda r: r.value))

    @cached_property
    def active(self) -> tuple[RowResult, ...]:
        """Rows at their limit, dearest first."""
        near = [row for row in self.rows if abs(row.value) <= FEASIBLE]
        return tuple(sorted(near, key=lambda row: -row.multiplier))

    @property
    def mass(self) -> float:
        """System mass of the aircraft, growth included [kg]."""
        return float(self.values["system_mass"])

    @cached_property
    def verdict(self) -> Verdict:
        """Infeasible with its causes, feasible with open items, or feasible."""
        if self.violated:
            seen: dict[str, str] = {}
            for row in self.violated:
                seen.setdefault(row.label.group, row.text)
            return Verdict(INFEASIBLE, tuple(seen.values()), open_items(self))
        items = open_items(self)
        return Verdict(OPEN_ITEMS if items else PASSES, (), items)


def open_items(appraisal: Appraisal) -> tuple[str, ...]:
    """What keeps a design from a plain 'feasible': judged alloy data, declared life, cautions."""
    card = appraisal.problem.assembled.card
    items = []
    if card.judged_fields:
        names = ", ".join(name.replace("_", " ") for name in card.judged_fields)
        items.append(f"alloy card {card.name} rests on judgement for: {names}")
    if not card.has_life_law:
        items.append("life is declared, not known: the alloy card has no life law")
    actuator = appraisal.study.actuator
    if actuator.configuration == "opposed" and actuator.return_mode == "cool_under_load":
        items.append(
            "every motion of the pair is taken in its declared mode, cooled under load; a fold "
            "that starts with the other set long cold must first warm that set, or detwin it, "
            'which takes more torque (return_mode = "cool_then_retwist" shows how much)'
        )
    from mdo.explore.cautions import STOP, evaluate_cautions

    items += [
        f"caution {caution.id} needs confirming: {caution.text}"
        for caution in evaluate_cautions(appraisal)
        if caution.severity == STOP
    ]
    return tuple(items)
