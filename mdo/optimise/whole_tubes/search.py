"""Search for the lightest design of whole tube counts, stock tube and stock sleeve."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mdo.model.layout import SET_NAMES
from mdo.optimise.blocking_rows import causes_of
from mdo.optimise.optimum import Optimum, find_optimum
from mdo.optimise.problem import DesignProblem
from mdo.optimise.starts import start_from
from mdo.optimise.whole_tubes.branching import (
    WHOLE,
    Discrete,
    Search,
    branch_and_bound,
    corners,
    enumerate_whole,
    with_fixed,
)
from mdo.study.reader import StudyError

Floats = NDArray[np.float64]
Progress = Callable[[str], None]
Tube = tuple[float, float]
Box = Mapping[str, tuple[int, int]]
RADIUS, WALL_RATIO, SLEEVE = "tube_outer_radius", "wall_ratio", "insulation_thickness"
# Strain and stress [Pa] of the count starts tried for a stock tube that fails from the optimum.
FURTHER_STARTS = ((0.018, 85e6), (0.025, 110e6))
HOPELESS = 0.05  # violation from which a tube is not tried from further starts
ITERATIONS = 100  # most iterations of a re-optimisation
MORE = 1.5  # default table of counts: up to this times the relaxed count, and two more


@dataclass
class Stock:
    """One tube of the list, or the free tube, and what became of it.

    Attributes
    ----------
    tube
        Outer diameter and wall [m]; None where the tube is free.
    relaxed
        Optimum with this tube, counts and sleeve relaxed; None where the study's bounds rule the
        tube out.
    words
        What became of it.
    best
        Lightest whole-number design with it, where it was the best so far.
    """

    tube: Tube | None
    relaxed: Optimum | None
    words: str = ""
    best: Optimum | None = None

    @property
    def feasible(self) -> bool:
        """Whether there is a design with this tube, counts and sleeve relaxed."""
        return self.relaxed is not None and self.relaxed.feasible

    @property
    def rank(self) -> tuple[bool, float]:
        """Feasible ones by mass, then the others by violation."""
        if self.relaxed is None:
            return (True, math.inf)
        return (not self.feasible, self.relaxed.mass if self.feasible else self.relaxed.violation)

    @property
    def name(self) -> str:
        """The tube in words."""
        if self.tube is None:
            return "tube size free"
        return f"{1e3 * self.tube[0]:g} x {1e3 * self.tube[1]:g} mm"


def relaxed_stock(problem: DesignProblem, optimum: Optimum, tube: Tube | None) -> Stock:
    """Optimum of a study with one stock tube, counts and sleeve relaxed."""
    if tube is None:
        return Stock(None, optimum)
    values = {
        problem.labels.index(RADIUS): tube[0] / 2.0,
        problem.labels.index(WALL_RATIO): 2.0 * tube[1] / tube[0],
    }
    for at, value in values.items():
        slack = WHOLE * max(problem.upper[at], 1e-3)
        if not problem.lower[at] - slack <= value <= problem.upper[at] + slack:
            return Stock(tube, None, f"outside of the bounds of {problem.labels[at]}")
    own = with_fixed(problem, values)
    found = _from(own, optimum.design)
    if not found.feasible and not found.blocked.size and found.violation < HOPELESS:
        radius, wall = values.values()
        for strain, stress in FURTHER_STARTS:
            again = _from(own, start_from(own, radius, wall, strain, stress).design)
            if _rank(again) < _rank(found):
                found = again
            if found.feasible:
                break
    causes = causes_of(found)
    return Stock(tube, found, f"infeasible: {causes[0].text}" if causes else "")


def _from(problem: DesignProblem, design: Floats) -> Optimum:
    near = np.clip(design, problem.lower, problem.upper)
    return find_optimum(problem, starts=0, first=near, iterations=ITERATIONS)


def _rank(optimum: Optimum) -> tuple[bool, float]:
    return (not optimum.feasible, optimum.mass if optimum.feasible else optimum.violation)


def table_box(problem: DesignProblem, stock: Iterable[Stock], box: Box | None) -> dict[int, Floats]:
    """Whole numbers of tubes of each present set, by position in the design vector.

    Parameters
    ----------
    problem : the study
    stock : tubes whose relaxed counts the default box must hold
    box : least and most tubes by set, where given

    Raises
    ------
    StudyError
        If a set can have no whole number of tubes.
    """
    relaxed = [one.relaxed for one in stock if one.relaxed is not None]
    found = {}
    for side in present_sets(problem):
        at = problem.labels.index(f"tube_count.{SET_NAMES[side]}")
        most = max((float(one.design[at]) for one in relaxed), default=1.0)
        low, high = (1, math.ceil(MORE * most) + 2)
        if box is not None and SET_NAMES[side] in box:
            low, high = box[SET_NAMES[side]]
        least = max(low, math.ceil(problem.lower[at] - WHOLE))
        largest = min(high, math.floor(problem.upper[at] + WHOLE))
        if largest < least:
            between = f"{problem.lower[at]:g} and {problem.upper[at]:g}"
            raise StudyError([f"design.{problem.labels[at]}: no whole number between {between}"])
        found[at] = np.arange(least, largest + 1, dtype=float)
    return found


def present_sets(problem: DesignProblem) -> list[int]:
    """Numbers of the sets that the configuration has."""
    present = np.asarray(problem.assembled.parameters["choices"].set_present) > 0.5
    return [int(side) for side in np.flatnonzero(present)]


def discrete_of(
    problem: DesignProblem, counts: Mapping[int, Floats], sleeves: Sequence[float] | None
) -> Discrete:
    """Lists of the discrete variables of a study.

    Raises
    ------
    StudyError
        If no sleeve of the list lies within the study's bounds.
    """
    if sleeves is None:
        return Discrete(counts)
    at = problem.labels.index(SLEEVE)
    whole = Discrete({**counts, at: np.unique(np.asarray(sleeves, dtype=float))}).bounded(problem)
    if whole.lists[at].size == 0:
        between = f"{1e3 * problem.lower[at]:g} and {1e3 * problem.upper[at]:g} mm"
        raise StudyError([f"design.{SLEEVE}: none of the stock sleeves is between {between}"])
    return whole


def search_stock(
    search: Search, stock: Sequence[Stock], discrete: Discrete, *, whole: bool, say: Progress
) -> int:
    """Search all tubes, the lightest relaxed one first; returns the entries of the table done.

    Parameters
    ----------
    search : state; gets the best design
    stock : tubes with their relaxed optima; their words and best designs are filled in
    discrete : lists of counts and sleeve
    whole : go through the whole table instead of branching
    say : told what is being done
    """
    entries = 0
    for one in sorted(stock, key=lambda s: s.rank):
        if one.relaxed is None or one.relaxed.blocked.size:
            continue
        if not one.feasible and not whole:
            continue
        if one.relaxed.mass >= search.ceiling and not whole:
            one.words = "heavier than the best design even with counts and sleeve relaxed"
            continue
        before = search.best
        search.others = [one.relaxed.design]
        if whole:
            entries += enumerate_whole(search, one.relaxed.problem, discrete, [one.relaxed.design])
        else:
            branch_and_bound(search, one.relaxed.problem, discrete, one.relaxed)
        if search.best is not before and search.best is not None:
            one.best = search.best
            one.words = "best so far when it was looked at"
        elif not one.words:
            one.words = "no whole-number design was found" + (
                " lighter than the best so far" if search.best is not None else ""
            )
        state = "none" if search.best is None else f"{search.best.mass:.3f} kg"
        say(f"Rounding: {one.name}, best so far {state}, {search.nodes} re-optimisations")
    return entries


def nearest_miss(search: Search, stock: Sequence[Stock], discrete: Discrete) -> Optimum | None:
    """Design of least violation among the whole numbers next to the best relaxed optimum."""
    relaxed = min(stock, key=lambda s: s.rank).relaxed
    if relaxed is not None:
        at_sleeve = relaxed.problem.labels.index(SLEEVE)
        for values in corners(discrete, relaxed.design, nearest=at_sleeve):
            search.offer(search.solve(with_fixed(relaxed.problem, values), relaxed.design))
    return search.best or search.nearest


def stock_of(stock: Sequence[Stock], found: Optimum) -> Stock:
    """Tube of the list that a design has."""
    problem = found.problem
    at = [problem.labels.index(RADIUS), problem.labels.index(WALL_RATIO)]

    def distance(one: Stock) -> float:
        if one.relaxed is None:
            return math.inf
        return float(np.abs(one.relaxed.design[at] / found.design[at] - 1.0).max())

    return min(stock, key=distance)
