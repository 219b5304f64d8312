"""Whole numbers and stock thicknesses by branch and bound, with the rest re-optimised at each node.

Land and Doig (Econometrica 28, 1960, 497; from memory): the discrete variables are relaxed, and
where the optimum of a node falls between two values the node is split in two. Nodes are taken
lightest first; one that is no lighter than the best design in hand is dropped. Every node is a
local optimum only, and a node without a feasible one is dropped on the solver's word: so the answer
is a good one, not a proved one.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.optimise.optimum import Optimum
from mdo.optimise.problem import DesignProblem
from mdo.optimise.reoptimise import first_feasible

WHOLE = 1e-6  # a value this near to one of its list is that value
GAIN = 1e-9  # relative gain below which a node is not worth going on with
RETRY = 0.05  # violation up to which a node is tried from other designs as well
NODES_MAX = 400
ITERATIONS = 100  # most iterations of a re-optimisation


@dataclass(frozen=True)
class Discrete:
    """Variables that must take one of a list of values: by position in the design vector.

    ``lists`` are sorted, in SI.
    """

    lists: Mapping[int, Floats]

    def bounded(self, problem: DesignProblem) -> Discrete:
        """Lists without the values beyond the bounds."""
        low, high = problem.lower - WHOLE, problem.upper + WHOLE
        return Discrete({
            at: values[(values >= low[at]) & (values <= high[at])]
            for at, values in self.lists.items()
        })  # fmt: skip

    def around(self, at: int, value: float) -> tuple[float, float]:
        """Values of a list at or below and at or above a value; equal if it is on the list."""
        values = self.lists[at]
        nearest = float(values[np.argmin(np.abs(values - value))])
        if abs(nearest - value) <= WHOLE * max(1.0, abs(value)):
            return nearest, nearest
        place = int(np.searchsorted(values, value))
        return float(values[max(place - 1, 0)]), float(values[min(place, len(values) - 1)])

    def between(self, x: Floats) -> int | None:
        """Variable that is farthest from its list, as a share of the gap; None if all are on it."""
        worst, place = 0.0, None
        for at in self.lists:
            low, high = self.around(at, float(x[at]))
            if high > low:
                share = min(x[at] - low, high - x[at]) / (high - low)
                if share > worst or place is None:
                    worst, place = float(share), at
        return place


class Node(NamedTuple):
    """Bounds of the discrete variables, by position in the design vector."""

    low: Mapping[int, float]
    high: Mapping[int, float]


@dataclass
class Search:
    """State of a search: best design in hand, nearest miss, nodes visited.

    Attributes
    ----------
    best
        Lightest feasible optimum with every discrete variable on its list.
    nearest
        Least violation among designs with every discrete variable on its list.
    nodes
        Re-optimisations so far.
    complete
        False if the search stopped at its limit of nodes.
    others
        Designs tried where a node fails by little.
    least
        Least value of a variable that any design can have, by position, where that was found.
    """

    best: Optimum | None = None
    nearest: Optimum | None = None
    nodes: int = 0
    complete: bool = True
    others: list[Floats] = field(default_factory=list)
    least: dict[int, float] = field(default_factory=dict)

    @property
    def ceiling(self) -> float:
        """Mass from which a node is not worth looking at [kg]."""
        return np.inf if self.best is None else self.best.mass * (1.0 - GAIN)

    def solve(self, problem: DesignProblem, near: Floats) -> Optimum:
        """Re-optimise from a design, and from the others known where that fails by little."""
        self.nodes += 1
        others = [other for other in self.others if not np.array_equal(other, near)]
        designs = map(problem.clip, (near, *others))
        return first_feasible(
            problem, designs, iterations=ITERATIONS, hopeless=lambda end: end.violation > RETRY
        )

    def offer(self, optimum: Optimum) -> None:
        """Keep a design whose discrete variables are on their lists, if it is the best so far."""
        if optimum.feasible and optimum.mass < self.ceiling:
            self.best = optimum
        elif not optimum.feasible and (self.nearest is None or optimum.rank < self.nearest.rank):
            self.nearest = optimum


def branch_and_bound(
    search: Search, problem: DesignProblem, discrete: Discrete, near: Floats
) -> None:
    """Search one problem; the best design in hand of the search prunes, and is replaced.

    Parameters
    ----------
    search : state, shared by the problems of one search
    problem : with the bounds of the root
    discrete : lists within these bounds
    near : design to start from
    """
    low = {at: float(values[0]) for at, values in discrete.lists.items()}
    high = {at: float(values[-1]) for at, values in discrete.lists.items()}
    count = itertools.count()
    queue: list[tuple[float, int, Optimum, Node]] = []

    def add(node: Node, near: Floats) -> None:
        optimum = _solve_node(search, problem, node, near)
        if optimum is None:
            _learn(search, discrete, node)
        elif optimum.mass < search.ceiling:
            heapq.heappush(queue, (optimum.mass, next(count), optimum, node))

    add(Node(low, high), near)
    while queue:
        mass, _, optimum, node = heapq.heappop(queue)
        if mass >= search.ceiling:
            break
        if search.nodes >= NODES_MAX:
            search.complete = False
            break
        x = optimum.design
        at = discrete.between(x)
        if at is None:
            values = {at: discrete.around(at, float(x[at]))[0] for at in low}
            search.offer(search.solve(problem.freezing(values), x))
            continue
        below, above = discrete.around(at, float(x[at]))
        halves = [
            Node(node.low, {**node.high, at: below}),
            Node({**node.low, at: above}, node.high),
        ]
        for half in halves if x[at] - below < above - x[at] else reversed(halves):  # nearer first
            add(half, x)


def _learn(search: Search, discrete: Discrete, node: Node) -> None:
    """Note the least value of a variable, where all below it have just been found impossible."""
    cut = [at for at, values in discrete.lists.items() if node.high[at] < values[-1]]
    if len(cut) == 1 and all(
        node.low[at] <= search.least.get(at, values[0]) for at, values in discrete.lists.items()
    ):
        values = discrete.lists[cut[0]]
        search.least[cut[0]] = float(values[values > node.high[cut[0]]].min())


def _solve_node(search: Search, problem: DesignProblem, node: Node, near: Floats) -> Optimum | None:
    """Optimum of a node; None where there is none."""
    if any(node.low[at] > node.high[at] for at in node.low):
        return None
    lower, upper = problem.lower.copy(), problem.upper.copy()
    for at in node.low:
        lower[at], upper[at] = node.low[at], node.high[at]
    optimum = search.solve(problem.bounded(lower, upper), near)
    if optimum.feasible:
        return optimum
    if node.low == node.high:
        search.offer(optimum)
    return None
