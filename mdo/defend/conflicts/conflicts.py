"""What an infeasible study asks too much of: the smallest relaxation that makes it feasible.

Of each requirement alone; where it does not suffice by itself, that and why; and the cheapest pair
of those that do not, by branch and bound. Every least violation that has been solved for bounds
that of other costs to first order, as a convex one would be: violation >= slack - gains . costs. So
each pair has a least cost, a linear problem in two variables, and pairs are solved for in that
order until none left can be cheaper. The violation need not be convex, so a pair is the cheapest
found, not proved.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.optimize import linprog

from mdo.defend.conflicts.relaxation import Relaxed
from mdo.defend.conflicts.search import HOLDS, Relaxation, Search, relax
from mdo.defend.conflicts.turning_costs import cost_of, measure_of
from mdo.optimise.knob_list import requirements_of, technologies_of
from mdo.optimise.knobs import TECHNOLOGY, Knob
from mdo.optimise.optimum import Optimum, Progress

ALONE, PAIR, TOGETHER, TECHNOLOGY_ALONE = "alone", "pair", "together", "technology alone"
NOT_ALONE = "not by itself"
NO_ROOM = "no room: it stands at the easy end of its range"
COLUMNS = [
    "what", "answer", "requirement", "knob", "kind", "unit", "suffices", "present", "value",
    "change", "cost", "measure", "system_mass", "boundary", "short_of", "violation_short",
    "least_violation", "least_at", "failing", "note",
]  # fmt: skip
MOST_PAIRS = 12  # solved for at most, of those that do not suffice alone and of the others
CAREFUL = 0.02  # of the violation of the study, taken off every bound: it is not quite convex
CLEARLY = 0.9  # of the cost of the cheapest single: from here on a pair with one is worth a line
APART = 1e-3  # cost below which a knob of a pair does nothing

Numbers = tuple[int, int]


@dataclass(frozen=True)
class Conflicts:
    """What makes an infeasible study feasible.

    Attributes
    ----------
    violation
        Least violation of a row as the study stands; 0 for a feasible one, which has no conflicts.
    core
        Rows that cannot hold together as the study stands, most telling first.
    requirements, technologies
        Relaxation of each knob alone: those that suffice first, cheapest first.
    unmovable
        Knobs without room: they stand at the easy end of their range.
    pairs
        Cheapest pair of requirements that do not suffice alone, if there is one; and a pair with
        one that does, where it is clearly cheaper than any alone.
    open_pairs
        Pairs that the bounds did not exclude and that were not solved for.
    combination
        Where neither one nor two suffice: the cheapest combination of requirements that does.
    """

    violation: float
    core: tuple[str, ...]
    requirements: tuple[Relaxation, ...]
    technologies: tuple[Relaxation, ...]
    unmovable: tuple[Knob, ...]
    pairs: tuple[Relaxation, ...]
    open_pairs: int
    combination: tuple[Relaxation, ...]


NO_CONFLICTS = Conflicts(0.0, (), (), (), (), (), 0, ())


def find_conflicts(
    optimum: Optimum, knobs: Sequence[Knob] | None = None, say: Progress = lambda _: None
) -> Conflicts:
    """Smallest relaxation of each knob alone, and of pairs, that makes a study feasible.

    Parameters
    ----------
    optimum : where the optimisation of the study ended
    knobs : what may turn, all of the study if None; pairs are made of requirements and loads only
    say : told what is being done
    """
    if optimum.feasible:
        return NO_CONFLICTS
    problem = optimum.problem
    given = requirements_of(problem) + technologies_of(problem) if knobs is None else tuple(knobs)
    say("Conflicts: directions of the requirements")
    search = Search(optimum, given)
    if search.violation <= HOLDS:
        return NO_CONFLICTS
    base = Relaxed(search.designs[0], np.zeros(1), search.violation)
    alone: dict[int, Relaxation] = {}
    room = [number for number, limit in enumerate(search.all.limits) if limit > 0.0]
    for place, number in enumerate(room, 1):
        say(f"Conflicts: {given[number].title.lower()} alone ({place} of {len(room)})")
        alone[number] = relax(search, (number,), [base])
    wanted = [number for number in room if given[number].kind != TECHNOLOGY]
    requirements = _sorted(alone[number] for number in wanted)
    pairs, left = find_pairs(search, {number: alone[number] for number in wanted}, say)
    combination: tuple[Relaxation, ...] = ()
    if not any(relaxation.sufficient for relaxation in (*pairs, *requirements)):
        say("Conflicts: all requirements together")
        combination = find_combination(search, wanted)
    return Conflicts(
        violation=search.violation,
        core=search.words(search.certificate),
        requirements=requirements,
        technologies=_sorted(alone[n] for n in room if n not in wanted),
        unmovable=tuple(knob for number, knob in enumerate(given) if number not in room),
        pairs=pairs,
        open_pairs=left,
        combination=combination,
    )


def _sorted(relaxations: Iterator[Relaxation]) -> tuple[Relaxation, ...]:
    """Those that suffice first, cheapest first; then those that leave the least violation."""

    def rank(relaxation: Relaxation) -> tuple[bool, float, float]:
        cost = relaxation.cost if relaxation.sufficient else 0.0
        return (not relaxation.sufficient, cost, relaxation.least_violation)

    return tuple(sorted(relaxations, key=rank))


class _Hunt:
    """Pairs that are open, the bounds known, and how many pairs were solved for."""

    def __init__(self, search: Search, alone: Mapping[int, Relaxation]) -> None:
        self.search, self.alone = search, alone
        self.base = Relaxed(search.designs[0], np.zeros(0), search.violation)
        self.from_base = search.cut((), self.base)
        self.from_end = {n: search.cut((n,), single.end) for n, single in alone.items()}
        self.solved = 0

    def least_cost(self, pair: Numbers) -> float:
        """Least cost of a pair by the bounds; infinite where no costs in range are enough.

        What the stronger knob leaves at its best, the other must take off; the bound where the
        weaker one is at its best would be that of another valley, if there are several.
        """
        stronger = min(pair, key=lambda number: self.alone[number].end.slack)
        cuts = [cut for cut in (self.from_base, self.from_end[stronger]) if cut is not None]
        gains = np.array([cut.gains[list(pair)] for cut in cuts]).reshape(len(cuts), 2)
        slacks = np.array([cut.slack - CAREFUL * self.base.slack for cut in cuts])
        limits = [(0.0, self.search.all.limits[number]) for number in pair]
        result = linprog(np.ones(2), A_ub=-gains, b_ub=-slacks, bounds=limits)
        return float(result.fun) if result.status == 0 else math.inf

    def solve(self, pair: Numbers) -> Relaxed:
        """Least relaxation of a pair, from where the study stands and the better knob alone."""
        first, second = (self.alone[number].end for number in pair)
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
    search: Search, alone: Mapping[int, Relaxation], say: Progress
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
    enough = {number for number, single in alone.items() if single.sufficient}
    least = min((alone[number].cost for number in enough), default=math.inf)
    pairs = list(itertools.combinations(alone, 2))
    weak = [pair for pair in pairs if not enough.intersection(pair)]
    strong = [pair for pair in pairs if enough.intersection(pair)]
    say(f"Conflicts: pairs ({len(pairs)})")
    cheapest = (hunt.cheapest(weak, math.inf), hunt.cheapest(strong, CLEARLY * least))
    relaxations = []
    for pair, relaxed in filter(None, cheapest):
        names = " and ".join(search.all.knobs[number].title.lower() for number in pair)
        say(f"Conflicts: {names} together")
        relaxations.append(relax(search, pair, [relaxed]))
    ranked = sorted(relaxations, key=lambda relaxation: relaxation.cost)
    return tuple(ranked), len(weak) + len(strong)


def find_combination(search: Search, numbers: Sequence[int]) -> tuple[Relaxation, ...]:
    """Cheapest combination of any of some knobs, verified; none where nothing helps.

    The sum of costs is what is minimised, so few of the knobs move.
    """
    base = Relaxed(search.designs[0], np.zeros(len(numbers)), search.violation)
    relaxed = search.solve(search.all.only(numbers), [base])
    moved = relaxed.costs > APART
    if relaxed.slack > HOLDS or not moved.any():
        return ()
    few = [number for number, moves in zip(numbers, moved, strict=True) if moves]
    start = relaxed._replace(costs=relaxed.costs[moved])
    relaxation = relax(search, few, [start])
    return (relaxation,) if relaxation.sufficient else ()


def conflicts_table(conflicts: Conflicts) -> pd.DataFrame:
    """Every relaxation, one line per knob: those of a pair stand together and share ``answer``.

    SI units. ``value`` is verified: the study was solved there with ``system_mass`` [kg]; at
    ``short_of`` it was found infeasible by ``violation_short``. ``cost`` is the relative change of
    the line's knob by its ``measure``. Where a knob does not suffice, ``least_violation`` is what
    remains at ``least_at``.
    """
    parts = {
        ALONE: conflicts.requirements, PAIR: conflicts.pairs, TOGETHER: conflicts.combination,
        TECHNOLOGY_ALONE: conflicts.technologies,
    }  # fmt: skip
    answers = [(what, relaxation) for what, part in parts.items() for relaxation in part]
    lines = [
        _line(relaxation, place) | {"what": what, "answer": number}
        for number, (what, relaxation) in enumerate(answers, 1)
        for place in range(len(relaxation.knobs))
    ]
    for number, knob in enumerate(conflicts.unmovable, len(answers) + 1):
        what = TECHNOLOGY_ALONE if knob.kind == TECHNOLOGY else ALONE
        lines.append(_blank(knob) | {"what": what, "answer": number, "note": NO_ROOM})
    return pd.DataFrame(lines, columns=COLUMNS)


def _blank(knob: Knob) -> dict[str, object]:
    """Line of a knob without an answer."""
    return {
        **dict.fromkeys(COLUMNS, math.nan), "requirement": knob.title, "knob": knob.name,
        "kind": knob.kind, "unit": knob.unit, "suffices": False, "present": knob.value,
        "measure": "", "failing": "", "note": "",
    }  # fmt: skip


def _line(relaxation: Relaxation, place: int) -> dict[str, object]:
    """Line of one knob of a relaxation."""
    knob = relaxation.knobs[place]
    line = _blank(knob) | {
        "suffices": relaxation.sufficient,
        "measure": measure_of(knob),
        "least_violation": relaxation.least_violation,
        "least_at": relaxation.least_at[place],
        "failing": "; ".join(relaxation.failing),
        "note": "" if relaxation.sufficient else NOT_ALONE,
    }
    if relaxation.sufficient:
        value = relaxation.settings[place]
        line |= {
            "value": value,
            "change": value - knob.value,
            "cost": cost_of(knob, value),
            "boundary": relaxation.boundary[place],
            "system_mass": relaxation.mass,
            "short_of": relaxation.short[place],
            "violation_short": relaxation.short_violation,
        }
    return line
