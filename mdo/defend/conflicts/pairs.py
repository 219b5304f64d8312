"""The cheapest pair of requirements that makes an infeasible study feasible, by branch and bound.

Every least violation that has been solved for bounds that of other costs to first order, as a
convex one would be: violation >= slack - gains . costs. So each pair has a least cost, a linear
problem in two variables, and pairs are solved for in that order until none left can be cheaper.
The violation need not be convex, so a pair is the cheapest found, not proved.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence

import numpy as np
from scipy.optimize import linprog

from mdo.defend.conflicts.relaxation import Relaxed
from mdo.defend.conflicts.search import HOLDS, Answer, Relaxation, Search, relax

MOST_PAIRS = 12  # solved for at most, of those that do not suffice alone and of the others
CAREFUL = 0.02  # of the violation of the study, taken off every bound: it is not quite convex
CLEARLY = 0.9  # of the cost of the cheapest single: from here on a pair with one is worth a line
APART = 1e-3  # cost below which a knob of a pair does nothing

Numbers = tuple[int, int]


class _Hunt:
    """Pairs that are open, the bounds known, and how many pairs were solved for."""

    def __init__(self, search: Search, alone: Mapping[int, Answer]) -> None:
        self.search, self.alone = search, alone
        self.base = Relaxed(search.designs[0], np.zeros(0), search.violation)
        self.from_base = search.cut((), self.base)
        self.from_end = {n: search.cut((n,), answer.relaxed) for n, answer in alone.items()}
        self.solved = 0

    def least_cost(self, pair: Numbers) -> float:
        """Least cost of a pair by the bounds; infinite where no costs in range are enough.

        What the stronger knob leaves at its best, the other must take off; the bound where the
        weaker one is at its best would be that of another valley, if there are several.
        """
        stronger = min(pair, key=lambda number: self.alone[number].relaxed.slack)
        cuts = [cut for cut in (self.from_base, self.from_end[stronger]) if cut is not None]
        gains = np.array([cut.gains[list(pair)] for cut in cuts]).reshape(len(cuts), 2)
        slacks = np.array([cut.slack - CAREFUL * self.base.slack for cut in cuts])
        limits = [(0.0, self.search.all.limits[number]) for number in pair]
        result = linprog(np.ones(2), A_ub=-gains, b_ub=-slacks, bounds=limits)
        return float(result.fun) if result.status == 0 else math.inf

    def solve(self, pair: Numbers) -> Relaxed:
        """Least relaxation of a pair, from where the study stands and the better knob alone."""
        first, second = (self.alone[number].relaxed for number in pair)
        ends = [
            Relaxed(first.design, np.append(first.costs, 0.0), first.slack),
            Relaxed(second.design, np.append(0.0, second.costs), second.slack),
        ]
        better = min(ends, key=lambda end: end.slack)
        self.solved += 1
        return self.search.solve(
            self.search.all.only(pair), [better, self.base._replace(costs=np.zeros(2))]
        )

    def cheapest(self, pairs: list[Numbers], most: float) -> tuple[Numbers, Relaxed] | None:
        """Cheapest of some pairs that costs less than ``most``; leaves those open in ``pairs``."""
        best: tuple[Numbers, Relaxed] | None = None
        bounds = {pair: self.least_cost(pair) for pair in pairs}
        ordered = sorted(pairs, key=lambda pair: bounds[pair])
        budget = self.solved + MOST_PAIRS
        while ordered and bounds[ordered[0]] < most and self.solved < budget:
            pair = ordered.pop(0)
            relaxed = self.solve(pair)
            cost = float(relaxed.costs.sum())
            if relaxed.slack <= HOLDS and relaxed.costs.min() > APART and cost < most:
                best, most = (pair, relaxed), cost
        pairs[:] = [pair for pair in ordered if bounds[pair] < most]
        return best


def find_pairs(
    search: Search, alone: Mapping[int, Answer], say: Callable[[str], None]
) -> tuple[tuple[Relaxation, ...], int]:
    """Cheapest pairs, verified, and how many pairs the bounds left open.

    The cheapest of the knobs that do not suffice alone; and the cheapest with one that does, if it
    costs clearly less than every knob alone.

    Parameters
    ----------
    search, alone : the study and what each of its knobs does alone, by number
    say : told what is being done
    """
    hunt = _Hunt(search, alone)
    enough = {number for number, answer in alone.items() if answer.relaxation.sufficient}
    single = min((alone[number].relaxation.cost for number in enough), default=math.inf)
    pairs = list(itertools.combinations(alone, 2))
    weak = [pair for pair in pairs if not enough.intersection(pair)]
    strong = [pair for pair in pairs if enough.intersection(pair)]
    say(f"Conflicts: pairs ({len(pairs)})")
    cheapest = (hunt.cheapest(weak, math.inf), hunt.cheapest(strong, CLEARLY * single))
    relaxations = []
    for pair, relaxed in filter(None, cheapest):
        names = " and ".join(search.all.knobs[number].title.lower() for number in pair)
        say(f"Conflicts: {names} together")
        relaxations.append(relax(search, pair, [relaxed]).relaxation)
    ranked = sorted(relaxations, key=lambda relaxation: relaxation.cost)
    return tuple(ranked), len(weak) + len(strong)


def find_combination(search: Search, numbers: Sequence[int]) -> Relaxation | None:
    """Cheapest combination of any of some knobs, verified; None where nothing helps.

    The sum of costs is what is minimised, so few of the knobs move.
    """
    base = Relaxed(search.designs[0], np.zeros(len(numbers)), search.violation)
    relaxed = search.solve(search.all.only(numbers), [base])
    moved = relaxed.costs > APART
    if relaxed.slack > HOLDS or not moved.any():
        return None
    few = [number for number, moves in zip(numbers, moved, strict=True) if moves]
    start = relaxed._replace(costs=relaxed.costs[moved])
    relaxation = relax(search, few, [start]).relaxation
    return relaxation if relaxation.sufficient else None
