"""Search and proof of one relaxation: one knob, or two, turned until a study has a design.

Every answer is judged by solving the study itself: feasible at the stated values, and not feasible
a stated little short of the boundary.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.defend.conflicts.relaxation import (
    Certificate,
    Relaxed,
    Turning,
    certify,
    joined,
    least_relaxation,
    rows_in_play,
    turning,
)
from mdo.model.layout import split_design
from mdo.optimise.knobs import Knob
from mdo.optimise.optimum import Optimum, find_optimum
from mdo.optimise.problem import DesignProblem
from mdo.optimise.starts import start_from, starting_designs
from mdo.study.units import to_trade

Floats = NDArray[np.float64]
HOLDS = 1e-6  # slack that counts as none while searching; the judge has the last word
NO_GAIN = 1e-7  # gain of a knob that moves nothing that matters
LITTLE = 0.2  # of the violation, taken off over the whole range: no hope worth a search
LESS = 1e-4  # violation by which the end of a range must be better to look closer
SHORT, SHORT_MOST, SHORT_LEAST = 0.01, 3e-3, 3e-5  # of the cost, and in cost: just short
DIGITS = 3
FURTHER = (0.0, 0.005, 0.02)  # shares of the cost beyond the boundary, should its end not hold
WARM = 100.0  # [K] knobs in kelvin above it are temperatures, below it differences
STARTS = 1  # designs of the count problem that a verdict of infeasible is tried from
SURPRISES = 3  # times that a design found short of the boundary starts the search anew
HALVINGS = 10
UNCLEAN = 1e-2  # weighted slope that is left, from which a certificate proves nothing
SHARE = 0.03  # weight from which a row is named as one that fails
NAMED = 4


@dataclass(frozen=True)
class Relaxation:
    """Smallest relaxation of one or two knobs that makes the study feasible, or proof of none.

    Attributes
    ----------
    knobs
        What is turned.
    sufficient
        Whether a feasible design was found within the ranges.
    settings, mass
        Stated values (SI, rounded outward to three digits) at which the study was solved and found
        feasible, and the system mass of the aircraft there [kg]; NaN if not sufficient.
    boundary, cost
        Values at which the least relaxation ends, and its cost: the sum of the relative changes.
    short, short_violation
        Values just short of the boundary, and the largest violation of a row left there.
    least_violation, least_at
        If not sufficient: the least violation of a row that turning reaches, and where.
    failing
        If not sufficient: the rows that cannot hold together there; most telling first.
    """

    knobs: tuple[Knob, ...]
    sufficient: bool
    settings: tuple[float, ...]
    mass: float
    boundary: tuple[float, ...]
    cost: float
    short: tuple[float, ...]
    short_violation: float
    least_violation: float
    least_at: tuple[float, ...]
    failing: tuple[str, ...]


class Cut(NamedTuple):
    """Least slack to first order over the costs of all knobs: ``slack - gains . costs``.

    ``slack`` is that at zero costs; ``gains`` has shape (knobs,).
    """

    slack: float
    gains: Floats


class Search:
    """A study that has no feasible design, its knobs, and designs to start from.

    Parameters
    ----------
    problem, optimum : the study and where its optimisation ended
    knobs : what may turn
    """

    def __init__(self, problem: DesignProblem, optimum: Optimum, knobs: Sequence[Knob]) -> None:
        self.problem = problem
        self.parts = tuple(turning(problem, (knob,)) for knob in knobs)
        self.all = joined((turning(problem, ()), *self.parts))
        self.rows = rows_in_play(self.all, optimum.design)
        fixed = turning(problem, ())
        designs = [optimum.design, *(start.design for start in starting_designs(problem, STARTS))]
        first = least_relaxation(fixed, designs[0], (), self.rows)
        self.designs = (first.design, *designs[1:])
        self.violation = first.slack
        self.certificate = self.certify((), first)

    def costs(self, numbers: Sequence[int], costs: Floats) -> Floats:
        """Costs of all knobs, given those of some."""
        whole = np.zeros(len(self.parts))
        whole[list(numbers)] = costs
        return whole

    def certify(self, numbers: Sequence[int], found: Relaxed) -> Certificate:
        """Certificate of a least relaxation of some knobs, with the gains of all."""
        costs = self.costs(numbers, found.costs)
        own = tuple(numbers) if found.slack > HOLDS else ()
        return certify(self.all, costs, found.design, self.rows, turned_ones=own)

    def cut(self, numbers: Sequence[int], found: Relaxed) -> Cut | None:
        """First-order bound of the least slack; None where the solution is not clean enough."""
        certificate = self.certify(numbers, found)
        if certificate.residual > UNCLEAN:
            return None
        return Cut(found.slack + float(certificate.gains[list(numbers)] @ found.costs),
                   certificate.gains)  # fmt: skip

    def turning(self, numbers: Sequence[int]) -> Turning:
        """Some of the knobs, free to turn."""
        return joined([self.parts[number] for number in numbers])

    def solve(self, turn: Turning, seeds: Sequence[Relaxed]) -> Relaxed:
        """Least relaxation from several starts: the first without slack, else the least slack."""
        found: list[Relaxed] = []
        for seed in seeds:
            found.append(least_relaxation(turn, seed.design, seed.costs, self.rows))
            if found[-1].slack <= HOLDS:
                return found[-1]
        return min(found, key=lambda one: one.slack)

    def far(self, turn: Turning) -> Floats:
        """Design of the count problem at the easy end of the ranges: the tube as at present."""
        tube = split_design(self.designs[1])  # type: ignore[arg-type]
        radius, wall = float(tube["tube_outer_radius"]), float(tube["wall_ratio"])
        inner = radius * (1.0 - wall)
        arm = (2.0 / 3.0) * (radius**3 - inner**3) / (radius**2 - inner**2)
        strain = float(np.max(tube["pre_twist"])) * arm / float(tube["tube_length"])
        stress = float(np.max(tube["operating_stress"]))
        return start_from(turn.exact(turn.limits), radius, wall, strain, stress).design

    def words(self, certificate: Certificate) -> tuple[str, ...]:
        """Rows that hold the slack up, heaviest first, one per kind of row."""
        labels = self.problem.counting_labels
        named: dict[str, str] = {}
        for place in np.argsort(-certificate.weights, kind="stable"):
            if certificate.weights[place] >= SHARE:
                named.setdefault(labels[place].group, self.problem.describe(labels[place]))
        return tuple(named.values())[:NAMED]


def judge(problem: DesignProblem, designs: Iterable[Floats]) -> Optimum:
    """Optimum from the first start that ends feasible, else the one of least violation."""
    best: Optimum | None = None
    for design in designs:
        found = find_optimum(problem, starts=0, first=design)
        if best is None or found.feasible or found.violation < best.violation:
            best = found
        if found.feasible:
            break
    if best is None:
        raise ValueError("no design to start from")
    return best


def outward(knob: Knob, value: float) -> float:
    """Value rounded in the easier direction to a number that an engineer would write [SI].

    Three significant digits in the trade unit, temperatures to a tenth of a degree; never beyond
    the range.
    """
    difference = knob.unit == "K" and knob.value < WARM
    zero, one = ((v, "") if difference else to_trade(v, knob.unit) for v in (0.0, 1.0))
    scale = one[0] - zero[0]
    number = zero[0] + scale * value
    if number == 0.0:
        return value
    digits = 1 if knob.unit == "K" and not difference else DIGITS - 1 - _magnitude(number)
    step = 10.0 ** (-digits)
    rounded = step * (math.ceil if knob.easier > 0 else math.floor)(
        number / step - knob.easier * 1e-9
    )
    return float(min(max((round(rounded, digits + 2) - zero[0]) / scale, knob.low), knob.high))


def _magnitude(number: float) -> int:
    return math.floor(math.log10(abs(number)))


class Solved(NamedTuple):
    """Answer, and the least relaxation that it rests on."""

    answer: Relaxation
    found: Relaxed


def relax(search: Search, numbers: Sequence[int], seeds: Sequence[Relaxed]) -> Solved:
    """Least relaxation of some knobs of a search, judged.

    Parameters
    ----------
    search, numbers : the study and which of its knobs turn
    seeds : designs and costs of these knobs to start from; the first that ends without slack counts

    Notes
    -----
    Where no seed ends without slack, the easy end of the ranges is judged, from a design of the
    count problem too. A single knob that to first order takes little off the violation over its
    whole range is judged at its end only; one that no row feels that matters, not even there.
    """
    turn = search.turning(numbers)
    hopes = search.certificate.gains[list(numbers)] @ np.array(turn.limits)
    hopeful = len(numbers) > 1 or hopes > LITTLE * search.violation
    found = search.solve(turn, seeds) if hopeful else seeds[0]
    if found.slack <= HOLDS:
        return _sufficient(search, turn, found)
    if not hopeful and hopes <= NO_GAIN and _stands(search, turn):
        return _insufficient(search, numbers, turn, found)
    limits = np.array(turn.limits)
    others = [search.far(turn)] if hopeful else []
    end = judge(turn.changed(limits), [found.design, *others])
    ends = Relaxed(end.design, limits, end.violation, 0)
    if end.feasible or (hopeful and end.violation < found.slack - LESS):  # another valley
        again = search.solve(turn, [ends])
        if end.feasible:
            return _sufficient(search, turn, again if again.slack <= HOLDS else ends)
        found = min(found, again, key=lambda one: one.slack)
        if found.slack <= HOLDS:
            return _sufficient(search, turn, found)
    return _insufficient(search, numbers, turn, min(found, ends, key=lambda one: one.slack))


def _stands(search: Search, turn: Turning) -> bool:
    """Whether the rows that hold the slack up do not feel the knobs, at the easy ends either.

    Then the design of least violation still is one, without solving: the weighted rows have the
    values and slopes that they had, and no other row is worse.
    """
    design, weights = search.designs[0], search.certificate.weights
    holding = weights > 0.0
    before = search.problem.evaluate(design)
    after = turn.changed(turn.limits).evaluate(design)
    same = np.allclose(after.rows[holding], before.rows[holding], rtol=0.0, atol=1e-9)
    same &= np.allclose(after.row_slopes[holding], before.row_slopes[holding], rtol=0.0, atol=1e-9)
    return bool(same and after.rows[search.rows].min() > -search.violation - 1e-9)


def _insufficient(search: Search, numbers: Sequence[int], turn: Turning, found: Relaxed) -> Solved:
    """Answer where no turning helps: least violation and the rows that stand in the way."""
    nothing = (math.nan,) * len(turn.knobs)
    answer = Relaxation(
        knobs=turn.knobs,
        sufficient=False,
        settings=nothing,
        mass=math.nan,
        boundary=nothing,
        cost=math.nan,
        short=nothing,
        short_violation=math.nan,
        least_violation=found.slack,
        least_at=tuple(turn.values(_snapped(turn, found.costs)).tolist()),
        failing=search.words(search.certify(numbers, found)),
    )
    return Solved(answer, found)


def _snapped(turn: Turning, costs: Floats) -> Floats:
    """Costs, those all but at the end of their range put there."""
    limits = np.array(turn.limits)
    return np.where(costs >= limits * (1.0 - 1e-6), limits, costs)


def _sufficient(search: Search, turn: Turning, found: Relaxed) -> Solved:
    """Answer where turning helps: boundary, proof just short of it, optimum at stated values."""
    again = search.solve(turn, [found])  # the solver sometimes stops a little early
    if again.slack <= HOLDS and again.costs.sum() < found.costs.sum():
        found = again
    found, short, violation = _tighten(search, turn, found)
    boundary = turn.values(found.costs)
    for further in FURTHER:
        reached = turn.values(found.costs * (1.0 + further))
        stated = np.array([outward(k, v) for k, v in zip(turn.knobs, reached, strict=True)])
        optimum = judge(turn.at(stated), [found.design, *search.designs])
        if optimum.feasible:
            break
    answer = Relaxation(
        knobs=turn.knobs,
        sufficient=optimum.feasible,
        settings=tuple(stated.tolist()),
        mass=optimum.mass if optimum.feasible else math.nan,
        boundary=tuple(boundary.tolist()),
        cost=float(found.costs.sum()),
        short=tuple(short.tolist()),
        short_violation=violation,
        least_violation=0.0 if optimum.feasible else optimum.violation,
        least_at=tuple(stated.tolist()),
        failing=(),
    )
    return Solved(answer, found)


def _tighten(search: Search, turn: Turning, found: Relaxed) -> tuple[Relaxed, Floats, float]:
    """Boundary that holds: relaxation, values just short of it, least violation there.

    A design found short of the boundary starts the search anew; if that does not end, the share of
    the costs is bisected.
    """
    for _ in range(SURPRISES):
        costs = found.costs * (1.0 - _shortfall(found))
        tried = _least_violation(search, turn, costs, found.design)
        if tried.slack > HOLDS:
            return found, turn.values(costs), tried.slack
        again = search.solve(turn, [Relaxed(tried.design, costs, 0.0, 0)])
        lower = again.slack <= HOLDS and again.costs.sum() < costs.sum()
        found = again if lower else Relaxed(tried.design, costs, 0.0, 0)
    bad, good, design, violation = 0.0, 1.0, found.design, search.violation
    for _ in range(HALVINGS):
        if good - bad <= _shortfall(found):
            break
        share = (bad + good) / 2.0
        tried = _least_violation(search, turn, found.costs * share, design)
        if tried.slack <= HOLDS:
            good, design = share, tried.design
        else:
            bad, violation = share, tried.slack
    settled = Relaxed(design, found.costs * good, 0.0, 0)
    return settled, turn.values(found.costs * bad), violation


def _least_violation(search: Search, turn: Turning, costs: Floats, design: Floats) -> Relaxed:
    """Least violation of the study with its knobs at costs, from several starts."""
    fixed = turning(turn.changed(costs), ())
    starts = [Relaxed(start, np.zeros(0), 0.0, 0) for start in (design, *search.designs)]
    return search.solve(fixed, starts)


def _shortfall(found: Relaxed) -> float:
    """Share of the costs by which 'just short' lies short."""
    total = max(float(found.costs.sum()), 1e-12)
    step = min(max(min(SHORT * total, SHORT_MOST), SHORT_LEAST), total)
    return step / total
