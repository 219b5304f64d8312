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
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.optimize import linprog, nnls

from mdo.optimise.knob_list import all_knobs
from mdo.optimise.knobs import Knob, direction
from mdo.optimise.newton_end import at_bounds
from mdo.optimise.optimum import Optimum
from mdo.optimise.problem import DesignProblem

Floats = NDArray[np.float64]
Progress = Callable[[str], None]

TOUCHING = 1e-6  # rows below this are at their limit
FLAT = 1e-12  # a row with slopes below this does not depend on the design
RANK = 1e-7  # singular values below this share of the largest: multipliers are not unique
SAME = 1e-6  # relative width of an interval that counts as a number
NOTHING = 1e-9  # cost of a step, as a share of the mass, that counts as none
SHARE = 0.02  # share of a cost from which a row is named
LP_OPTIONS = {"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10}

CHANGE, INFEASIBLE, LIMIT, FAR = "change", "infeasible", "limit", "far"
NONE = "none: not at its limit"


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
    """Range of a knob over which the active set, and so the cost, holds; optima it took to find."""

    low: RangeEnd
    high: RangeEnd
    optima: int


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
    range: CostRange | None = None

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
        total = sum(one.amount for one in self.carriers)
        if self.none or total == 0.0:
            return ""
        if math.isinf(total):
            return "; ".join(one.text for one in self.carriers if math.isinf(one.amount))
        named = [one for one in self.carriers if abs(one.amount) >= SHARE * abs(total)]
        return "; ".join(f"{one.text}: {100.0 * one.amount / total:.0f} %" for one in named)

    @property
    def note(self) -> str:
        """What is to be known when reading the number."""
        if self.none:
            return NONE
        notes = []
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


class Interval(NamedTuple):
    """Least and largest of a linear function of the multipliers, and where they are reached.

    Where an end is infinite, its place is the direction in which the multipliers grow.
    """

    low: float
    high: float
    at_low: Floats
    at_high: Floats


def find_costs(
    problem: DesignProblem,
    optimum: Optimum,
    knobs: Sequence[Knob] | None = None,
    *,
    progress: Progress | None = None,
) -> tuple[Cost, ...]:
    """Cost of every knob at an optimum, without solving anything again.

    Parameters
    ----------
    problem : the study
    optimum : its optimum
    knobs : the knobs, or None for all requirements, loads and technology values
    progress : told what is being done

    Raises
    ------
    ValueError
        If the study is infeasible: it has no optimum whose mass could change.
    """
    if not optimum.feasible:
        raise ValueError("requirement costs: the study is infeasible, expected a feasible optimum")
    chosen = all_knobs(problem) if knobs is None else tuple(knobs)
    if not chosen:
        return ()
    say = progress or (lambda _: None)
    say(f"Requirement costs: slopes of {len(chosen)} requirements")
    condition = stationarity(problem, optimum)
    turns = np.array([direction(problem, knob) for knob in chosen])
    slopes = problem.chain.slopes(optimum.design, problem.theta, problem.prelude, turns)
    mass = np.ravel(slopes.figures["system_mass"])
    rows = np.asarray(slopes.rows)[:, problem.counting[condition.rows]]
    return tuple(
        _cost(problem, optimum, condition, knob, float(direct), moved)
        for knob, direct, moved in zip(chosen, mass, rows, strict=True)
    )


def stationarity(problem: DesignProblem, optimum: Optimum) -> Stationarity:
    """Rows and bounds at their limit with their slopes; constants without slope included."""
    value = problem.evaluate(optimum.design)
    rows = np.flatnonzero((value.rows < TOUCHING) | (optimum.multipliers > 0.0))
    low, high = at_bounds(problem, optimum.design)
    unit = np.eye(low.size)
    columns = np.hstack([value.row_slopes[rows].T, unit[:, low], -unit[:, high]])
    return Stationarity(rows, columns, value.objective_slope)


def multiplier_interval(columns: Floats, gradient: Floats, weights: Floats) -> Interval:
    """Range of ``weights @ multipliers`` over all multipliers >= 0 that are stationary.

    Stationary means as good as the best: ``columns @ multipliers`` equals the projection of the
    gradient on the cone of the columns, which differs from it by the residual of the optimum.

    Parameters
    ----------
    columns : slopes of the rows at their limit, shape (variables, rows)
    gradient : of the objective, shape (variables,)
    weights : of the multipliers, shape (rows,)

    Returns
    -------
    Ends that differ by less than 1e-6 of their size are one number; an end is infinite where the
    multipliers are unbounded.
    """
    sizes = np.linalg.norm(columns, axis=0)
    scale = max(float(np.linalg.norm(gradient)), 1e-30)
    sloped = sizes > FLAT
    lengths = np.where(sloped, sizes, 1.0)
    scaled = np.where(sloped, columns / lengths, 0.0)
    some, _ = nnls(scaled, gradient / scale) if columns.shape[1] else (np.zeros(0), 0.0)
    cost = weights / lengths
    value = float(cost @ some) * scale
    middle = some * scale / lengths
    singular = np.linalg.svd(scaled, compute_uv=False)
    full = columns.shape[1] <= singular.size and (
        singular.size == 0 or singular.min() > RANK * singular.max()
    )
    if full or not np.any(cost):
        return Interval(value, value, middle, middle)
    ends = [_end(scaled, some, sign * cost) for sign in (1.0, -1.0)]
    low, high = scale * ends[0][0], -scale * ends[1][0]
    if math.isfinite(high - low) and high - low <= SAME * max(abs(low), abs(high)):
        return Interval(value, value, middle, middle)
    at_low, at_high = (end[1] * scale / lengths for end in ends)
    return Interval(low, high, at_low, at_high)


def _end(columns: Floats, some: Floats, cost: Floats) -> tuple[float, Floats]:
    """Least ``cost @ v`` over ``v >= 0`` with ``columns @ v = columns @ some``, and its place."""
    size = float(np.abs(cost).max())
    ray = linprog(
        cost / size, A_eq=columns, b_eq=np.zeros(columns.shape[0]),
        A_ub=np.ones((1, some.size)), b_ub=[1.0], method="highs", options=LP_OPTIONS,
    )  # fmt: skip
    if ray.status == 0 and ray.fun < -SAME:
        return -math.inf, np.asarray(ray.x)
    found: Any = linprog(
        cost / size, A_eq=columns, b_eq=columns @ some, method="highs", options=LP_OPTIONS
    )
    if found.status != 0:  # ``some`` is one that serves, to the tolerance of the programme
        return float(cost @ some), some
    return float(cost @ found.x), np.asarray(found.x)


def _cost(
    problem: DesignProblem,
    optimum: Optimum,
    condition: Stationarity,
    knob: Knob,
    direct: float,
    moved: Floats,
) -> Cost:
    """Cost of one knob from the slopes of mass and touching rows by it."""
    bounds = condition.columns.shape[1] - condition.rows.size
    weights = np.append(-moved, np.zeros(bounds))
    found = multiplier_interval(condition.columns, condition.gradient, weights)
    ends = [direct + found.low, direct + found.high]
    least = NOTHING * optimum.mass / knob.step
    low, high = (0.0 if abs(end) < least else end for end in ends)
    dearer, end = (found.at_high, high) if knob.easier < 0 else (found.at_low, low)
    carriers = _carriers(problem, condition, weights, dearer)
    if math.isinf(end):
        carriers = [one._replace(amount=end) for one in carriers if one.amount * end > 0.0]
    elif direct != 0.0:
        carriers.append(Carrier("Mass of the same design", direct))
    carriers.sort(key=lambda one: -abs(one.amount))
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
    rows = []
    for one in sorted(costs, key=lambda cost: -abs(cost.tightening)):
        knob, found = one.knob, one.range
        row: dict[str, object] = {
            "name": knob.name,
            "title": knob.title,
            "kind": knob.kind,
            "unit": knob.unit,
            "value": knob.value,
            "step": knob.step,
            "per": knob.per,
            "cost_low": one.low * knob.step,
            "cost_high": one.high * knob.step,
            "tightening": one.tightening,
            "relaxing": one.relaxing,
        }
        for side, end in (
            ("low", None if found is None else found.low),
            ("high", None if found is None else found.high),
        ):
            row[f"range_{side}"] = math.nan if end is None else end.value
            row[f"range_{side}_cost"] = math.nan if end is None else end.cost * knob.step
            row[f"range_{side}_end"] = "" if end is None else end.text
        rows.append(row | {"carried_by": one.carried_by, "note": one.note})
    return pd.DataFrame(rows)
