"""Whole numbers and stock thicknesses by branch and bound, with the rest re-optimised at each node.

Land and Doig (Econometrica 28, 1960, 497; from memory): the discrete variables are relaxed, and
where the optimum of a node falls between two values the node is split in two. Nodes are taken
lightest first; one that is no lighter than the best design in hand is dropped. Every node is a
local optimum only, and a node without a feasible one is dropped on the solver's word: so the answer
is a good one, not a proved one. :func:`enumerate_whole` takes every entry of a table instead.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.optimise.optimum import Optimum, find_optimum
from mdo.optimise.problem import DesignProblem

Floats = NDArray[np.float64]
WHOLE = 1e-6  # a value this near to one of its list is that value
GAIN = 1e-9  # relative gain below which a node is not worth going on with
RETRY = 0.05  # violation up to which a node is tried from other designs as well
NODES_MAX = 400


def with_bounds(problem: DesignProblem, lower: Floats, upper: Floats) -> DesignProblem:
    """Problem with other bounds; a variable whose bounds meet is frozen there.

    Parameters
    ----------
    problem : the study
    lower, upper : bounds of the design vector (SI)
    """
    fixed = upper <= lower
    frozen = np.where(np.isnan(problem.frozen) & fixed, lower, problem.frozen)
    active = problem.active & ~fixed
    return replace(problem, lower=lower, upper=upper, frozen=frozen, active=active)


def with_fixed(problem: DesignProblem, values: Mapping[int, float]) -> DesignProblem:
    """Problem with variables, by position in the design vector, frozen at values (SI)."""
    lower, upper = problem.lower.copy(), problem.upper.copy()
    for at, value in values.items():
        lower[at] = upper[at] = value
    return with_bounds(problem, lower, upper)


@dataclass(frozen=True)
class Discrete:
    """Variables that must take one of a list of values: by position in the design vector.

    ``lists`` are sorted, in SI.
    """

    lists: Mapping[int, Floats]

    def bounded(self, problem: DesignProblem) -> Discrete:
        """Lists without the values beyond the bounds."""
        kept = {
            at: values[
                (values >= problem.lower[at] - WHOLE) & (values <= problem.upper[at] + WHOLE)
            ]
            for at, values in self.lists.items()
        }
        return Discrete(kept)

    def around(self, at: int, value: float) -> tuple[float, float]:
        """Values of a list at or below and at or above a value; equal if it is on the list."""
        values = self.lists[at]
        nearest = float(values[np.argmin(np.abs(values - value))])
        if abs(nearest - value) <= WHOLE * max(1.0, abs(value)):
            return nearest, nearest
        below, above = values[values < value], values[values > value]
        low = float(below.max()) if below.size else float(values[0])
        high = float(above.min()) if above.size else float(values[-1])
        return low, high

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
    """Bounds of the discrete variables and the design to start from."""

    low: Mapping[int, float]
    high: Mapping[int, float]
    near: Floats


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
    """

    best: Optimum | None = None
    nearest: Optimum | None = None
    nodes: int = 0
    complete: bool = True
    others: list[Floats] = field(default_factory=list)

    @property
    def ceiling(self) -> float:
        """Mass from which a node is not worth looking at [kg]."""
        return np.inf if self.best is None else self.best.mass * (1.0 - GAIN)

    def solve(self, problem: DesignProblem, near: Floats) -> Optimum:
        """Re-optimise from a design, and from the others known where that fails by little."""
        self.nodes += 1
        found = _optimum(problem, near)
        for other in self.others:
            if found.feasible or found.violation > RETRY:
                break
            if np.array_equal(other, near):
                continue
            again = _optimum(problem, other)
            if again.feasible or again.violation < found.violation:
                found = again
        return found

    def offer(self, found: Optimum) -> None:
        """Keep a design whose discrete variables are on their lists, if it is the best so far."""
        if found.feasible and found.mass < self.ceiling:
            self.best = found
        if not found.feasible and (
            self.nearest is None or found.violation < self.nearest.violation
        ):
            self.nearest = found


def _optimum(problem: DesignProblem, near: Floats) -> Optimum:
    return find_optimum(
        problem, starts=0, first=np.clip(near, problem.lower, problem.upper), iterations=100
    )


def branch_and_bound(
    search: Search, problem: DesignProblem, discrete: Discrete, root: Optimum
) -> None:
    """Search one problem; the best design in hand of the search prunes, and is replaced.

    Parameters
    ----------
    search : state, shared by the problems of one search
    problem : with the bounds of the root
    discrete : lists within these bounds
    root : optimum of the problem with the discrete variables relaxed
    """
    low = {at: float(values[0]) for at, values in discrete.lists.items()}
    high = {at: float(values[-1]) for at, values in discrete.lists.items()}
    count = itertools.count()
    queue: list[tuple[float, int, Optimum, Node]] = []
    first = _solve_node(search, problem, Node(low, high, root.design))
    if first is not None:
        heapq.heappush(queue, (first.mass, next(count), first, Node(low, high, first.design)))
    while queue:
        mass, _, found, node = heapq.heappop(queue)
        if mass >= search.ceiling:
            break
        if search.nodes >= NODES_MAX:
            search.complete = False
            break
        at = discrete.between(found.design)
        if at is None:
            search.offer(_fixed(search, problem, discrete, found))
            continue
        for child in _children(discrete, at, found, node):
            solved = _solve_node(search, problem, child)
            if solved is not None and solved.mass < search.ceiling:
                entry = (solved.mass, next(count), solved, child._replace(near=solved.design))
                heapq.heappush(queue, entry)


def _children(discrete: Discrete, at: int, found: Optimum, node: Node) -> Iterator[Node]:
    """Two halves of a node, the nearer value first."""
    below, above = discrete.around(at, float(found.design[at]))
    x = float(found.design[at])
    halves = [
        Node(node.low, {**node.high, at: below}, found.design),
        Node({**node.low, at: above}, node.high, found.design),
    ]
    yield from halves if x - below < above - x else reversed(halves)


def _solve_node(search: Search, problem: DesignProblem, node: Node) -> Optimum | None:
    """Optimum of a node; None where there is none."""
    if any(node.low[at] > node.high[at] for at in node.low):
        return None
    lower, upper = problem.lower.copy(), problem.upper.copy()
    for at in node.low:
        lower[at], upper[at] = node.low[at], node.high[at]
    found = search.solve(with_bounds(problem, lower, upper), node.near)
    pinned = all(node.low[at] == node.high[at] for at in node.low)
    if not found.feasible:
        if pinned:
            search.offer(found)
        return None
    return found


def _fixed(search: Search, problem: DesignProblem, discrete: Discrete, found: Optimum) -> Optimum:
    """Optimum with every discrete variable frozen at the value of its list that it stands at."""
    values = {at: discrete.around(at, float(found.design[at]))[0] for at in discrete.lists}
    return search.solve(with_fixed(problem, values), found.design)


def corners(
    discrete: Discrete, x: Floats, *, nearest: int | None = None
) -> Iterator[dict[int, float]]:
    """Values of the lists next to a design, every combination.

    Parameters
    ----------
    discrete, x : lists and design
    nearest : variable of which only the nearer value is taken
    """
    pairs = []
    for at in discrete.lists:
        pair = sorted(set(discrete.around(at, float(x[at]))))
        if at == nearest:
            pair = [pair[int(np.argmin([abs(value - x[at]) for value in pair]))]]
        pairs.append(pair)
    for values in itertools.product(*pairs):
        yield dict(zip(discrete.lists, values, strict=True))


def enumerate_whole(
    search: Search,
    problem: DesignProblem,
    discrete: Discrete,
    designs: Sequence[Floats],
) -> int:
    """Re-optimise every entry of the table of discrete values; returns how many there are.

    Each entry is tried from every design given and from the best design so far, and the best of
    these optima counts.

    Parameters
    ----------
    search : state, shared by the problems of one search
    problem, discrete : the study and its lists
    designs : designs to start from
    """
    entries = 0
    for values in itertools.product(*discrete.lists.values()):
        fixed = with_fixed(problem, dict(zip(discrete.lists, map(float, values), strict=True)))
        near = [*designs] if search.best is None else [*designs, search.best.design]
        found = [_optimum(fixed, design) for design in near]
        search.nodes += len(found)
        entries += 1
        feasible = [one for one in found if one.feasible]
        search.offer(
            min(feasible, key=lambda one: one.mass)
            if feasible
            else min(found, key=lambda one: one.violation)
        )
    return entries
