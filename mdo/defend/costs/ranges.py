"""How far a requirement cost holds: the range of a knob over which the active set stays the same.

The optimum is followed along the knob with its active set held, both ways, until that should change
(:mod:`mdo.defend.costs.active_set`). An optimum just short of that point and one just past it
confirm and name the change; where they do not, optima in between bracket it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.defend.costs.active_set import Bracket, active_set_of, bracket_change
from mdo.defend.costs.multipliers import (
    CHANGE,
    FAR,
    INFEASIBLE,
    LIMIT,
    Cost,
    CostRange,
    RangeEnd,
    find_costs,
)
from mdo.optimise.knobs import Knob
from mdo.optimise.optimum import Optimum, Progress
from mdo.optimise.reoptimise import NoOptimumError, reoptimise_with

OPTIMA = 7  # most optima a side
CLOSE = 0.01  # width of the bracket of a change, share of the distance
BESIDE = 0.002  # how far beside the expected change an optimum is solved, share of the distance
LEAST = 1e-3  # least distance told from none, share of the reach
MASS_SHARE = 0.3  # change of mass, to first order, up to which is looked
VALUE_SHARE = 0.5  # of the knob's value up to which is looked
STEPS = 10.0  # steps of the knob up to which is looked where neither says how far
KELVINS = 50.0  # [K] the same for absolute temperatures
COLDEST = 100.0  # [K] values above this are absolute temperatures, below it differences
WORKERS = 2  # threads
NAMED = 3  # most rows named at an end


class OptimumAt(NamedTuple):
    """The optimum at a value of the knob.

    Attributes
    ----------
    value, optimum
        Value of the knob, and the optimum of the study turned to it.
    limits
        Positions of the rows at their limit; bounds of the design variables follow, lower first.
    """

    value: float
    optimum: Optimum
    limits: frozenset[int]


@dataclass
class _Optima:
    """Optima along one knob: those with unchanged active set.

    Attributes
    ----------
    same
        Optima with the active set of the first, which is that of the study itself.
    refused
        Why there was none at the last value without one.
    """

    knob: Knob
    same: list[OptimumAt]
    refused: str = ""

    @property
    def origin(self) -> OptimumAt:
        """The optimum of the study itself."""
        return self.same[0]

    def solve(self, value: float, near: Floats | None) -> OptimumAt | None:
        """Optimum at a value of the knob, from a design or the nearest optimum; None if none."""
        start = min(self.same, key=lambda known: abs(known.value - value)).optimum
        if near is not None:
            start = replace(start, design=near)
        study = self.origin.optimum.problem
        try:
            optimum = reoptimise_with(study, self.knob.fields(value), start, exact=True)
        except NoOptimumError as reason:
            self.refused = (
                f"the study may not go beyond: {reason.fault}"
                if reason.fault
                else "beyond, no design was found that meets every requirement"
            )
            return None
        return _with_limits(value, optimum)


def find_ranges(optimum: Optimum, costs: Sequence[Cost], say: Progress) -> tuple[Cost, ...]:
    """The costs with the range over which each holds; those of nothing stay as they are.

    Parameters
    ----------
    optimum : of the study
    costs : of :func:`mdo.defend.costs.multipliers.find_costs` at that optimum
    say : told what is being done
    """
    wanted = [cost for cost in costs if not cost.none]
    with ThreadPoolExecutor(WORKERS) as pool:  # the model leaves the interpreter free
        ranges = pool.map(lambda cost: find_range(optimum, cost), wanted)
        found = list(costs)
        for number, cost in enumerate(wanted, 1):
            say(f"Range of cost {number} of {len(wanted)}: {cost.knob.title}")
            found[found.index(cost)] = replace(cost, range=next(ranges))
    return tuple(found)


def find_range(optimum: Optimum, cost: Cost) -> CostRange:
    """Range of a knob over which the active set of the optimum does not change."""
    knob = cost.knob
    optima = _Optima(knob, [_with_limits(knob.value, optimum)])
    harder = -float(knob.easier)
    ends = {way: _find_end(optima, cost, way) for way in (harder, -harder)}
    return CostRange(ends[-1.0], ends[1.0])


def reach(cost: Cost, mass: float, way: float) -> tuple[float, bool]:
    """Farthest value that is looked at, and whether the knob itself ends there.

    Half the value (50 K for a temperature), or what would change the mass by 30 % if the cost
    stayed, or the end of the knob's range, whichever is nearest.
    """
    knob = cost.knob
    absolute = knob.unit == "K" and knob.value > COLDEST
    slopes = [abs(end) for end in (cost.low, cost.high) if 0.0 < abs(end) < math.inf]
    by_value = KELVINS if absolute else VALUE_SHARE * abs(knob.value) or math.inf
    distance = min(by_value, MASS_SHARE * mass / max(slopes) if slopes else math.inf)
    distance = distance if math.isfinite(distance) else STEPS * knob.step
    limit = knob.high if way > 0.0 else knob.low
    if abs(limit - knob.value) <= distance:
        return limit, True
    return knob.value + way * distance, False


def _find_end(optima: _Optima, cost: Cost, way: float) -> RangeEnd:
    """End of the range on one side."""
    start = optima.origin.value
    farthest, limited = reach(cost, optima.origin.optimum.mass, way)
    least = LEAST * abs(farthest - start)
    planned: list[float] = []
    inside, outside, beyond = optima.origin, None, math.nan
    for _ in range(OPTIMA):
        closed = abs(beyond - inside.value) <= max(CLOSE * abs(beyond - start), least)
        if closed or inside.value == farthest:
            break
        if not planned and math.isnan(beyond):  # at the start, or where a change did not come
            knob = knob_at(optima.knob, inside.value)
            expected = bracket_change(inside.optimum, knob, farthest)
            planned = _planned(expected, inside.value, farthest, least)
        near = expected.design if planned else None
        value = planned.pop(0) if planned else (inside.value + beyond) / 2.0
        there = optima.solve(value, near)
        if there is not None and there.limits == optima.origin.limits:
            optima.same.append(there)
            inside = there
        else:
            outside, beyond, planned = there, value, []
    slope = _slope(cost, inside, way)
    if not math.isnan(beyond):
        if outside is None:
            return RangeEnd(inside.value, INFEASIBLE, optima.refused, slope)
        return RangeEnd(inside.value, CHANGE, _change(inside, outside), slope)
    if limited and inside.value == farthest:
        return RangeEnd(inside.value, LIMIT, "end of the range that a study may have", slope)
    return RangeEnd(inside.value, FAR, "no change within the range that was searched", slope)


def _planned(expected: Bracket, inside: float, farthest: float, least: float) -> list[float]:
    """Values at which to confirm what is expected: short of the change and past it.

    Parameters
    ----------
    expected : where the change is expected
    inside, farthest : value that it was followed from, and the last that is looked at
    least : least distance
    """
    way = math.copysign(1.0, farthest - inside)
    if math.isnan(expected.beyond):
        return [farthest]
    middle = (expected.inside + expected.beyond) / 2.0
    margin = max(BESIDE * abs(middle - inside), 0.6 * abs(expected.beyond - expected.inside))
    if abs(middle - inside) <= max(margin, least):
        return [inside + way * least]
    return [middle - way * margin, way * min(way * farthest, way * middle + margin)]


def knob_at(knob: Knob, value: float) -> Knob:
    """The same knob of the study turned to a value."""
    fields = knob.fields(value)
    moves = tuple(replace(move, base=fields[move.path]) for move in knob.moves)
    return replace(knob, value=value, moves=moves)


def _slope(cost: Cost, there: OptimumAt, way: float) -> float:
    """Slope of the least mass at an optimum along the knob, towards one side."""
    if there.value != cost.knob.value:
        knob = knob_at(cost.knob, there.value)
        cost = find_costs(there.optimum, [knob])[0]
    return cost.high if way > 0.0 else cost.low


def _with_limits(value: float, optimum: Optimum) -> OptimumAt:
    """Rows and bounds at their limit at an optimum."""
    problem, kept = optimum.problem, active_set_of(optimum)
    places = np.flatnonzero(problem.active)
    after_rows = len(problem.rows.labels)
    limits = (
        kept.touching,
        after_rows + places[kept.low],
        after_rows + problem.active.size + places[kept.high],
    )
    return OptimumAt(value, optimum, frozenset(np.concatenate(limits).tolist()))


def _change(inside: OptimumAt, outside: OptimumAt) -> str:
    """Words for what reaches and what leaves its limit between two optima."""
    reached, left = outside.limits - inside.limits, inside.limits - outside.limits
    words = [f"{text} reaches its limit" for text in _limits(outside, reached)]
    words += [f"{text} leaves its limit" for text in _limits(inside, left)]
    alike = " (the same demands at other angles)" if _demands(inside) == _demands(outside) else ""
    return "; ".join(words) + alike


def _demands(there: OptimumAt) -> set[tuple[object, ...]]:
    """Rows and bounds at their limit, whatever the angle."""
    labels = there.optimum.problem.rows.labels
    return {
        labels[place]._replace(angle=-1) if place < len(labels) else (place,)
        for place in there.limits
    }


def _limits(there: OptimumAt, positions: frozenset[int]) -> list[str]:
    """Words for rows and bounds, the dearest first, no more than a few."""
    problem = there.optimum.problem
    rows, variables = len(problem.rows.labels), problem.active.size
    price = np.zeros(rows + 2 * variables)
    price[problem.counting] = there.optimum.multipliers
    texts = []
    for place in sorted(positions, key=lambda place: (-price[place], place)):
        if place < rows:
            texts.append(problem.describe(problem.rows.labels[place]))
        else:
            side = "lower" if place < rows + variables else "upper"
            name, _, which = problem.labels[(place - rows) % variables].partition(".")
            of_set = f" ({which} set)" if which else ""
            texts.append(f"{name.replace('_', ' ')}{of_set} at its {side} bound")
    more = [f"{len(texts) - NAMED} more"] if len(texts) > NAMED else []
    return [*texts[:NAMED], *more]
