"""Search for the lightest design of whole tube counts, stock tube and stock sleeve."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from mdo.arrays import Floats
from mdo.model.layout import SET_NAMES
from mdo.optimise.blocking_rows import causes_of
from mdo.optimise.optimum import Optimum
from mdo.optimise.problem import DesignProblem
from mdo.optimise.reoptimise import first_feasible
from mdo.optimise.starts import start_from
from mdo.optimise.whole_tubes.branching import (
    ITERATIONS,
    WHOLE,
    Discrete,
    Search,
    branch_and_bound,
    corners,
    with_fixed,
)
from mdo.study.reader import StudyError

Progress = Callable[[str], None]
Tube = tuple[float, float]
RADIUS, WALL_RATIO, SLEEVE = "tube_outer_radius", "wall_ratio", "insulation_thickness"
# Strain and stress [Pa] of the count starts tried for a stock tube that fails from the optimum.
FURTHER_STARTS = ((0.018, 85e6), (0.025, 110e6))
HOPELESS = 0.05  # violation from which a tube is not tried from further starts


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
        return (True, math.inf) if self.relaxed is None else self.relaxed.rank

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
    radius, wall = tube[0] / 2.0, 2.0 * tube[1] / tube[0]
    values = {problem.labels.index(RADIUS): radius, problem.labels.index(WALL_RATIO): wall}
    for at, value in values.items():
        slack = WHOLE * max(problem.upper[at], 1e-3)
        if not problem.lower[at] - slack <= value <= problem.upper[at] + slack:
            return Stock(tube, None, f"outside of the bounds of {problem.labels[at]}")
    own = with_fixed(problem, values)

    def designs() -> Iterator[Floats]:
        yield own.clip(optimum.design)
        for strain, stress in FURTHER_STARTS:
            yield own.clip(start_from(own, radius, wall, strain, stress).design)

    relaxed = first_feasible(
        own,
        designs(),
        iterations=ITERATIONS,
        hopeless=lambda end: end.blocked.size > 0 or end.violation >= HOPELESS,
    )
    causes = causes_of(relaxed)
    return Stock(tube, relaxed, f"infeasible: {causes[0].text}" if causes else "")


def whole_counts_of(problem: DesignProblem) -> dict[int, Floats]:
    """Whole numbers of tubes of each present set, by position in the design vector.

    Raises
    ------
    StudyError
        If a set can have no whole number of tubes.
    """
    counts = {}
    for side in present_sets(problem):
        at = problem.labels.index(f"tube_count.{SET_NAMES[side]}")
        lower, upper = problem.lower[at], problem.upper[at]
        least, most = max(1, math.ceil(lower - WHOLE)), math.floor(upper + WHOLE)
        if most < least:
            between = f"{lower:g} and {upper:g}"
            raise StudyError([f"design.{problem.labels[at]}: no whole number between {between}"])
        counts[at] = np.arange(least, most + 1, dtype=float)
    return counts


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


def search_stock(search: Search, stock: Sequence[Stock], discrete: Discrete, say: Progress) -> None:
    """Search all tubes, the lightest relaxed one first.

    Parameters
    ----------
    search : state; gets the best design
    stock : tubes with their relaxed optima; their words and best designs are filled in
    discrete : lists of counts and sleeve
    say : told what is being done
    """
    for tube in sorted(stock, key=lambda tube: tube.rank):
        if tube.relaxed is None or not tube.feasible:
            continue
        if tube.relaxed.mass >= search.ceiling:
            tube.words = "heavier than the best design even with counts and sleeve relaxed"
            continue
        before = search.best
        search.others = [tube.relaxed.design]
        branch_and_bound(search, tube.relaxed.problem, discrete, tube.relaxed)
        if search.best is not before and search.best is not None:
            tube.best = search.best
            tube.words = "best so far when it was looked at"
        elif not tube.words:
            tube.words = "no whole-number design was found" + (
                " lighter than the best so far" if search.best is not None else ""
            )
        state = "none" if search.best is None else f"{search.best.mass:.3f} kg"
        say(f"Rounding: {tube.name}, best so far {state}, {search.nodes} re-optimisations")


def nearest_miss(search: Search, stock: Sequence[Stock], discrete: Discrete) -> Optimum | None:
    """Design of least violation among the whole numbers next to the best relaxed optimum."""
    relaxed = min(stock, key=lambda tube: tube.rank).relaxed
    if relaxed is not None:
        at_sleeve = relaxed.problem.labels.index(SLEEVE)
        for values in corners(discrete, relaxed.design, nearest=at_sleeve):
            search.offer(search.solve(with_fixed(relaxed.problem, values), relaxed.design))
    return search.best or search.nearest


def stock_of(stock: Sequence[Stock], bought: Optimum) -> Stock:
    """Tube of the list that a design has."""
    at = [bought.problem.labels.index(RADIUS), bought.problem.labels.index(WALL_RATIO)]

    def distance(tube: Stock) -> float:
        if tube.relaxed is None:
            return math.inf
        return float(np.abs(tube.relaxed.design[at] / bought.design[at] - 1.0).max())

    return min(stock, key=distance)
