"""What each requirement costs: multipliers turned into kilograms per unit of every knob.

At the optimum ``m*(p)`` of a study with a knob at p, for every vector of multipliers that is
stationary there (envelope theorem; Fiacco, Introduction to Sensitivity and Stability Analysis in
Nonlinear Programming, 1983, ch. 3, from memory)::

    d m*/dp = dm/dp - sum_i lambda_i d rows_i/dp          (rows >= 0)

Where several vectors are stationary - more rows at their limit than they can tell apart, two cases
that ask for the same - the slope towards larger p is the largest of these numbers and the slope
towards smaller p the least (Gauvin and Dubeau, Math. Programming Study 19, 1982, from memory). Both
ends come from a linear programme over the multipliers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from mdo.arrays import Floats
from mdo.defend.costs.multiplier_interval import multiplier_interval
from mdo.defend.slopes import knob_slopes
from mdo.defend.tables.frame import of_records
from mdo.model.system import OBJECTIVE
from mdo.optimise.knob_list import (
    EASIER_HIGH,
    EASIER_LOW,
    EASIER_UNKNOWN,
    LEVERS,
    all_knobs,
    levers_of,
)
from mdo.optimise.knobs import Knob
from mdo.optimise.newton_end import at_bounds, with_bound_columns
from mdo.optimise.optimum import Optimum
from mdo.optimise.problem import DesignProblem

TOUCHING = 1e-6  # rows below this are at their limit
NOTHING = 1e-9  # cost of a step, as a share of the mass, that counts as none
SHARE = 0.02  # share of a cost from which a row is named

CHANGE, INFEASIBLE, LIMIT, FAR = "change", "infeasible", "limit", "far"
NONE = "none: not at its limit"


COLUMNS = (
    "name=knob.name title=knob.title kind=knob.kind unit=knob.unit value=knob.value step=knob.step "
    "per=knob.per cost_low=low cost_high=high tightening relaxing"
)


class Carrier(NamedTuple):
    """A row through which a knob costs something: its words, and its part [kg per SI unit]."""

    text: str
    amount: float


class RangeEnd(NamedTuple):
    """Where the active set changes on one side of a knob's value.

    Attributes
    ----------
    value
        Last value of the knob (SI) at which the active set was found unchanged.
    why
        ``change`` of the active set, ``infeasible`` beyond, ``limit`` of what the knob may be, or
        ``far``: unchanged as far as was looked.
    text
        What changes, in words.
    cost
        Cost at that value [kg per SI unit of the knob].
    """

    value: float
    why: str
    text: str
    cost: float


class CostRange(NamedTuple):
    """Range of a knob over which the active set, and so the cost, holds."""

    low: RangeEnd
    high: RangeEnd


UNKNOWN = RangeEnd(math.nan, "", "", math.nan)
NOT_SOUGHT = CostRange(UNKNOWN, UNKNOWN)


@dataclass(frozen=True)
class Cost:
    """What a knob costs at an optimum.

    Attributes
    ----------
    knob
        The requirement, load or technology value.
    low, high
        Slope of the least mass of the aircraft towards smaller and towards larger values of the
        knob [kg per SI unit]; equal where the multipliers are unique. Infinite where no design is
        left on that side.
    carriers
        Rows that carry the cost of tightening, largest part first; infinite parts are those of the
        rows that leave no design.
    range
        Where the cost holds, if it was looked for.
    """

    knob: Knob
    low: float
    high: float
    carriers: tuple[Carrier, ...]
    range: CostRange = NOT_SOUGHT

    @property
    def unique(self) -> bool:
        """Whether the cost is one number."""
        return self.low == self.high

    @property
    def none(self) -> bool:
        """Whether the knob costs nothing either way."""
        return self.low == 0.0 and self.high == 0.0

    @property
    def tightening(self) -> float:
        """Mass added by one step of the harder way [kg of the aircraft], to first order."""
        return self.knob.step * (self.high if self.knob.easier < 0 else 0.0 - self.low)

    @property
    def relaxing(self) -> float:
        """Mass saved by one step of the easier way [kg of the aircraft], to first order."""
        return self.knob.step * (self.low if self.knob.easier < 0 else 0.0 - self.high)

    @property
    def can_relax(self) -> bool:
        """Whether the knob may be turned the easier way at all."""
        knob = self.knob
        return knob.value > knob.low if knob.easier < 0 else knob.value < knob.high

    @property
    def carried_by(self) -> str:
        """Rows that carry the cost, with their share of it."""
        total = sum(part.amount for part in self.carriers)
        if self.none or total == 0.0:
            return ""
        if math.isinf(total):
            return "; ".join(part.text for part in self.carriers if math.isinf(part.amount))
        named = [part for part in self.carriers if abs(part.amount) >= SHARE * abs(total)]
        return "; ".join(f"{part.text}: {100.0 * part.amount / total:.0f} %" for part in named)

    @property
    def note(self) -> str:
        """What is to be known when reading the number."""
        if self.none:
            return NONE
        notes = []
        if self.knob.name in {lever.name for lever in LEVERS}:
            notes.append(f"dearer as it {'rises' if self.knob.easier < 0 else 'falls'}")
        if math.isinf(self.tightening):
            notes.append("cannot be made harder: no design would be left")
        if self.relaxing == 0.0:
            notes.append("relaxing it alone gains nothing")
        elif not self.unique:
            notes.append("not the same both ways: more rows are at their limit than are needed")
        if not self.can_relax:
            notes.append("at the end of its range: cannot be relaxed")
        return "; ".join(notes)


class Stationarity(NamedTuple):
    """The condition that multipliers meet: ``columns @ multipliers = gradient``.

    Attributes
    ----------
    rows
        Counting rows at their limit, copies included; they own the first columns. The rest belong
        to design variables at their bounds.
    columns, gradient
        Slopes in the scaled free variables.
    """

    rows: NDArray[np.intp]
    columns: Floats
    gradient: Floats


def find_costs(optimum: Optimum, knobs: Sequence[Knob] | None = None) -> tuple[Cost, ...]:
    """Cost of every knob at an optimum, without solving anything again.

    Parameters
    ----------
    optimum : of the study
    knobs : the knobs, or None for all requirements, loads and technology values

    Raises
    ------
    ValueError
        If the study is infeasible: it has no optimum whose mass could change.
    """
    if not optimum.feasible:
        raise ValueError("requirement costs: the study is infeasible, expected a feasible optimum")
    problem = optimum.problem
    chosen = all_knobs(problem) + levers_of(problem) if knobs is None else tuple(knobs)
    if not chosen:
        return ()
    condition = stationarity(optimum)
    return tuple(_cost(optimum, condition, knob) for knob in chosen)


def stationarity(optimum: Optimum) -> Stationarity:
    """Rows and bounds at their limit with their slopes; constants without slope included."""
    problem = optimum.problem
    value = problem.evaluate(optimum.design)
    rows = np.flatnonzero((value.rows < TOUCHING) | (optimum.multipliers > 0.0))
    columns = with_bound_columns(value.row_slopes[rows].T, *at_bounds(problem, optimum.design))
    return Stationarity(rows, columns, value.objective_slope)


def _cost(optimum: Optimum, condition: Stationarity, knob: Knob) -> Cost:
    """Cost of one knob from the slopes of mass and touching rows by it."""
    slopes = knob_slopes(optimum, knob)
    direct, moved = float(slopes.figures[OBJECTIVE][0]), slopes.rows[0, condition.rows]
    bounds = condition.columns.shape[1] - condition.rows.size
    weights = np.append(-moved, np.zeros(bounds))
    interval = multiplier_interval(condition.columns, condition.gradient, weights)
    ends = [direct + interval.low, direct + interval.high]
    least = NOTHING * optimum.mass / knob.step
    low, high = (0.0 if abs(end) < least else end for end in ends)
    if knob.easier == EASIER_UNKNOWN:
        knob = replace(knob, easier=EASIER_LOW if low + high > 0.0 else EASIER_HIGH)
    dearer, end = (interval.at_high, high) if knob.easier < 0 else (interval.at_low, low)
    carriers = _carriers(optimum.problem, condition, weights, dearer)
    if math.isinf(end):
        carriers = [part._replace(amount=end) for part in carriers if part.amount * end > 0.0]
    elif direct != 0.0:
        carriers.append(Carrier("Mass of the same design", direct))
    carriers.sort(key=lambda part: -abs(part.amount))
    return Cost(knob, low, high, tuple(carriers))


def _carriers(
    problem: DesignProblem, condition: Stationarity, weights: Floats, multipliers: Floats
) -> list[Carrier]:
    """Parts of a cost by row; rows that are the same, in design and knob, are one entry."""
    count = condition.rows.size
    signature = np.round(np.column_stack([condition.columns[:, :count].T, weights[:count]]), 9)
    _, groups = np.unique(signature, axis=0, return_inverse=True)
    carriers = []
    for group in np.unique(groups):
        members = np.flatnonzero(groups.ravel() == group)
        part = float(weights[members] @ multipliers[members])
        if part != 0.0:
            text = problem.describe(problem.counting_labels[condition.rows[members[0]]])
            alike = f" and {members.size - 1} alike" if members.size > 1 else ""
            carriers.append(Carrier(text + alike, part))
    return carriers


def costs_table(costs: Sequence[Cost]) -> pd.DataFrame:
    """Costs as a table, dearest first; values in SI, costs in kg of the aircraft per step.

    ``tightening`` and ``relaxing`` are the mass added by one step of the harder way and saved by
    one of the easier way; ``range_low`` and ``range_high`` bound the values of the knob between
    which the active set does not change, with the cost there.
    """
    ranked = sorted(costs, key=lambda cost: -abs(cost.tightening))
    table = of_records(ranked, COLUMNS)
    for side in ("low", "high"):
        table[f"cost_{side}"] *= table["step"]
        ends = [getattr(cost.range, side) for cost in ranked]
        table[f"range_{side}"] = [end.value for end in ends]
        table[f"range_{side}_cost"] = [end.cost for end in ends] * table["step"]
        table[f"range_{side}_end"] = [end.text for end in ends]
    return table.assign(**{name: [getattr(cost, name) for cost in ranked]
                           for name in ("carried_by", "note")})  # fmt: skip
