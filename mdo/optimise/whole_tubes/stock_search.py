"""Search for the lightest design of whole tube counts, stock tube and stock sleeve."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from mdo.arrays import Floats
from mdo.model.layout import SET_NAMES
from mdo.optimise.blocking_rows import causes_of
from mdo.optimise.optimum import Optimum, Progress
from mdo.optimise.problem import DesignProblem
from mdo.optimise.reoptimise import first_feasible
from mdo.optimise.starts import start_from
from mdo.optimise.whole_tubes.branching import ITERATIONS, WHOLE, Discrete, Search, branch_and_bound
from mdo.study.reader import StudyError

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
        Optimum with this tube, counts (from the least possible ones on) and sleeve relaxed; None
        where the study's bounds rule the tube out, or it was not looked at.
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

    def distance(self, problem: DesignProblem, x: Floats) -> float:
        """Relative distance of the tube from that of a design."""
        sizes = sizes_of(self.tube).items()
        own = (size / float(x[problem.labels.index(label)]) for label, size in sizes)
        return max((abs(ratio - 1.0) for ratio in own), default=0.0)

    @property
    def name(self) -> str:
        """The tube in words."""
        if self.tube is None:
            return "tube size free"
        return f"{1e3 * self.tube[0]:g} x {1e3 * self.tube[1]:g} mm"


def sizes_of(tube: Tube | None) -> dict[str, float]:
    """Design variables of a stock tube: outer radius [m] and wall ratio, by label; none if free."""
    return {} if tube is None else {RADIUS: tube[0] / 2.0, WALL_RATIO: 2.0 * tube[1] / tube[0]}


def stock_within(problem: DesignProblem, tube: Tube) -> Stock:
    """Tube of the list, with words where the bounds of the study rule it out."""
    for label, value in sizes_of(tube).items():
        at = problem.labels.index(label)
        slack = WHOLE * max(problem.upper[at], 1e-3)
        if not problem.lower[at] - slack <= value <= problem.upper[at] + slack:
            return Stock(tube, None, f"outside of the bounds of {label}")
    return Stock(tube, None)


def relax_stock(stock: Stock, problem: DesignProblem, near: Sequence[Floats]) -> None:
    """Fill in the optimum with a stock tube, counts and sleeve relaxed.

    Parameters
    ----------
    stock : the tube
    problem : the study, counts bounded by the least possible ones
    near : designs to start from
    """
    sizes = sizes_of(stock.tube)
    own = problem.freezing({problem.labels.index(name): size for name, size in sizes.items()})

    def designs() -> Iterator[Floats]:
        yield from map(own.clip, near)
        for strain, stress in FURTHER_STARTS if sizes else ():
            start = start_from(own, sizes[RADIUS], sizes[WALL_RATIO], strain, stress)
            yield own.clip(start.design)

    def hopeless(end: Optimum) -> bool:
        return end.blocked.size > 0 or end.violation >= HOPELESS

    relaxed = first_feasible(own, designs(), iterations=ITERATIONS, hopeless=hopeless)
    causes = causes_of(relaxed)
    stock.relaxed, stock.words = relaxed, f"infeasible: {causes[0].text}" if causes else ""


def present_sets(problem: DesignProblem) -> list[int]:
    """Numbers of the sets that the configuration has."""
    present = np.asarray(problem.assembled.parameters["choices"].set_present) > 0.5
    return [int(side) for side in np.flatnonzero(present)]


def discrete_of(problem: DesignProblem, sleeves: Sequence[float] | None = None) -> Discrete:
    """Whole numbers of tubes of each present set, and the stock sleeves where there are any.

    Raises
    ------
    StudyError
        If a set can have no whole number of tubes, or no sleeve lies within the study's bounds.
    """
    lists = {}
    for side in present_sets(problem):
        at = problem.labels.index(f"tube_count.{SET_NAMES[side]}")
        lower, upper = problem.lower[at], problem.upper[at]
        least, most = max(1, math.ceil(lower - WHOLE)), math.floor(upper + WHOLE)
        if most < least:
            between = f"{lower:g} and {upper:g}"
            raise StudyError([f"design.{problem.labels[at]}: no whole number between {between}"])
        lists[at] = np.arange(least, most + 1, dtype=float)
    if not sleeves:
        return Discrete(lists)
    at = problem.labels.index(SLEEVE)
    whole = Discrete({**lists, at: np.unique(np.asarray(sleeves, dtype=float))}).bounded(problem)
    if whole.lists[at].size == 0:
        between = f"{1e3 * problem.lower[at]:g} and {1e3 * problem.upper[at]:g} mm"
        raise StudyError([f"design.{SLEEVE}: none of the stock sleeves is between {between}"])
    return whole


def search_stock(
    search: Search,
    problem: DesignProblem,
    stock: Sequence[Stock],
    discrete: Discrete,
    near: Sequence[Optimum],
    say: Progress,
) -> None:
    """Search all tubes, the one most like a known design first.

    Parameters
    ----------
    search : state; gets the best design
    problem : the study
    stock : tubes; their relaxed optima, words and best designs are filled in
    discrete : lists of counts and sleeve
    near : optima to start from; the first one has whole counts and a free tube
    say : told what is being done
    """
    least = problem.lower.copy()
    for at, value in search.least.items():
        least[at] = max(least[at], value)
    narrowed = problem.bounded(least, problem.upper)
    lists = discrete.bounded(narrowed)
    search.others = [optimum.design for optimum in near]
    for tube in sorted(stock, key=lambda tube: tube.distance(problem, near[0].design)):
        if tube.words:
            continue
        relax_stock(tube, narrowed, search.others)
        assert tube.relaxed is not None
        if not tube.feasible:
            continue
        if tube.relaxed.mass >= search.ceiling:
            tube.words = "heavier than the best design even with counts and sleeve relaxed"
            continue
        before = search.best
        branch_and_bound(search, tube.relaxed.problem, lists, tube.relaxed.design)
        state = "none" if search.best is None else f"{search.best.mass:.3f} kg"
        if search.best is not before:
            tube.best, tube.words = search.best, "best so far when it was looked at"
        else:
            lighter = "" if before is None else " lighter than the best so far"
            tube.words = f"no whole-number design was found{lighter}"
        say(f"Whole tubes: {tube.name}, best so far {state}, {search.nodes} re-optimisations")


def nearest_miss(search: Search, relaxed: Optimum, discrete: Discrete) -> Optimum | None:
    """Design of least violation among the whole numbers next to a relaxed optimum.

    All combinations of the values below and above, but of the sleeve the nearer one alone.
    """
    problem, x, pairs = relaxed.problem, relaxed.design, []
    for at in discrete.lists:
        pair = sorted(set(discrete.around(at, float(x[at]))))
        if problem.labels[at] == SLEEVE:
            pair = pair[:1] if x[at] - pair[0] <= pair[-1] - x[at] else pair[-1:]
        pairs.append(pair)
    for values in itertools.product(*pairs):
        fixed = dict(zip(discrete.lists, values, strict=True))
        search.offer(search.solve(problem.freezing(fixed), x))
    return search.best or search.nearest
