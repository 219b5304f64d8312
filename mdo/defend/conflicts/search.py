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

from mdo.arrays import Floats
from mdo.defend.conflicts.relaxation import (
    Certificate,
    Relaxed,
    Turning,
    certify,
    least_relaxation,
    rows_in_play,
    turning,
)
from mdo.model.layout import split_design
from mdo.optimise.knobs import Knob
from mdo.optimise.optimum import Optimum
from mdo.optimise.reoptimise import first_feasible
from mdo.optimise.starts import start_from, starting_designs
from mdo.study.units import to_trade

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
        feasible, and the system mass of the aircraft there [kg]; empty and NaN if not sufficient.
    boundary, cost
        Values at which the least relaxation ends, and its cost: the sum of the relative changes.
    short, short_violation
        Values just short of the boundary, and the largest violation of a row left there.
    least_violation, least_at
        If not sufficient: the least violation of a row that turning reaches, and where.
    failing
        If not sufficient: the rows that cannot hold together there; most telling first.
    end
        Design, costs and slack that it rests on.
    """

    knobs: tuple[Knob, ...]
    sufficient: bool
    end: Relaxed
    least_violation: float
    least_at: tuple[float, ...]
    failing: tuple[str, ...] = ()
    settings: tuple[float, ...] = ()
    mass: float = math.nan
    boundary: tuple[float, ...] = ()
    cost: float = math.nan
    short: tuple[float, ...] = ()
    short_violation: float = math.nan


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
    optimum : where the optimisation of the study ended
    knobs : what may turn
    """

    def __init__(self, optimum: Optimum, knobs: Sequence[Knob]) -> None:
        self.problem = problem = optimum.problem
        self.all = turning(problem, knobs)
        self.rows = rows_in_play(self.all, optimum.design)
        first = least_relaxation(self.all.only(()), optimum.design, (), self.rows)
        starts = starting_designs(problem, STARTS)
        self.designs = (first.design, *(start.design for start in starts))
        self.violation = first.slack
        self.certificate = self.certify((), first)

    def certify(self, numbers: Sequence[int], relaxed: Relaxed) -> Certificate:
        """Certificate of a least relaxation of some knobs, with the gains of all."""
        costs = np.zeros(len(self.all.knobs))
        costs[list(numbers)] = relaxed.costs
        own = tuple(numbers) if relaxed.slack > HOLDS else ()
        return certify(self.all, relaxed._replace(costs=costs), self.rows, own)

    def cut(self, numbers: Sequence[int], relaxed: Relaxed) -> Cut | None:
        """First-order bound of the least slack; None where the solution is not clean enough."""
        certificate = self.certify(numbers, relaxed)
        if certificate.residual > UNCLEAN:
            return None
        gained = float(certificate.gains[list(numbers)] @ relaxed.costs)
        return Cut(relaxed.slack + gained, certificate.gains)

    def solve(self, turn: Turning, seeds: Iterable[Relaxed]) -> Relaxed:
        """Least relaxation from several starts: the first without slack, else the least slack."""
        ends: list[Relaxed] = []
        for seed in seeds:
            ends.append(least_relaxation(turn, seed.design, seed.costs, self.rows))
            if ends[-1].slack <= HOLDS:
                return ends[-1]
        return min(ends, key=lambda end: end.slack)

    def far(self, turn: Turning) -> Floats:
        """Design of the count problem at the easy end of the ranges: the tube as at present."""
        tube = split_design(self.designs[1])  # type: ignore[arg-type]
        radius, wall = float(tube["tube_outer_radius"]), float(tube["wall_ratio"])
        inner = radius * (1.0 - wall)
        arm = (2.0 / 3.0) * (radius**3 - inner**3) / (radius**2 - inner**2)
        strain = float(np.max(tube["pre_twist"])) * arm / float(tube["tube_length"])
        stress = float(np.max(tube["operating_stress"]))
        at_end = turn.at(turn.values(turn.limits))
        return start_from(at_end, radius, wall, strain, stress).design

    def words(self, certificate: Certificate) -> tuple[str, ...]:
        """Rows that hold the slack up, heaviest first, one per kind of row."""
        labels = self.problem.counting_labels
        named: dict[str, str] = {}
        for place in np.argsort(-certificate.weights, kind="stable"):
            if certificate.weights[place] >= SHARE:
                named.setdefault(labels[place].group, self.problem.describe(labels[place]))
        return tuple(named.values())[:NAMED]


def outward(knob: Knob, value: float) -> float:
    """Value rounded in the easier direction to a number that an engineer would write [SI].

    Three significant digits in the trade unit, temperatures to a tenth of a degree; never beyond
    the range.
    """
    difference = knob.unit == "K" and knob.value < WARM
    zero, unit = (v if difference else to_trade(v, knob.unit)[0] for v in (0.0, 1.0))
    scale = unit - zero
    number = zero + scale * value
    if number == 0.0:
        return value
    kelvins = knob.unit == "K" and not difference
    digits = 1 if kelvins else DIGITS - 1 - math.floor(math.log10(abs(number)))
    step = 10.0 ** (-digits)
    away = math.ceil if knob.easier > 0 else math.floor
    rounded = round(step * away(number / step - knob.easier * 1e-9), digits + 2)
    return float(min(max((rounded - zero) / scale, knob.low), knob.high))


def relax(search: Search, numbers: Sequence[int], seeds: Sequence[Relaxed]) -> Relaxation:
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
    turn = search.all.only(numbers)
    limits = np.array(turn.limits)
    hopes = search.certificate.gains[list(numbers)] @ limits
    hopeful = len(numbers) > 1 or hopes > LITTLE * search.violation
    relaxed = search.solve(turn, seeds) if hopeful else seeds[0]
    if relaxed.slack <= HOLDS:
        return _sufficient(search, turn, relaxed)
    if not hopeful and hopes <= NO_GAIN and _stands(search, turn):
        return _insufficient(search, numbers, turn, relaxed)
    others = [search.far(turn)] if hopeful else []
    end = first_feasible(turn.changed(limits), [relaxed.design, *others])
    at_end = Relaxed(end.design, limits, end.violation)
    if end.feasible or (hopeful and end.violation < relaxed.slack - LESS):  # another valley
        again = search.solve(turn, [at_end])
        if end.feasible:
            return _sufficient(search, turn, again if again.slack <= HOLDS else at_end)
        relaxed = min(relaxed, again, key=lambda each: each.slack)
        if relaxed.slack <= HOLDS:
            return _sufficient(search, turn, relaxed)
    least = min(relaxed, at_end, key=lambda each: each.slack)
    return _insufficient(search, numbers, turn, least)


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


def _insufficient(
    search: Search, numbers: Sequence[int], turn: Turning, relaxed: Relaxed
) -> Relaxation:
    """Relaxation where no turning helps: least violation and the rows that stand in the way."""
    limits = np.array(turn.limits)
    all_but = relaxed.costs >= limits * (1.0 - 1e-6)  # as good as at the end of its range
    reached = turn.values(np.where(all_but, limits, relaxed.costs))
    failing = search.words(search.certify(numbers, relaxed))
    return Relaxation(turn.knobs, False, relaxed, relaxed.slack, tuple(reached.tolist()), failing)


def _sufficient(search: Search, turn: Turning, relaxed: Relaxed) -> Relaxation:
    """Relaxation where turning helps: boundary, just short of it, optimum at stated values."""
    again = search.solve(turn, [relaxed])  # the solver sometimes stops a little early
    if again.slack <= HOLDS and again.costs.sum() < relaxed.costs.sum():
        relaxed = again
    relaxed, short, violation = _tighten(search, turn, relaxed)
    for further in FURTHER:
        reached = turn.values(relaxed.costs * (1.0 + further))
        stated = np.array([outward(k, v) for k, v in zip(turn.knobs, reached, strict=True)])
        optimum = first_feasible(turn.at(stated), [relaxed.design, *search.designs])
        if optimum.feasible:
            break
    return Relaxation(
        knobs=turn.knobs,
        sufficient=optimum.feasible,
        end=relaxed,
        settings=tuple(stated.tolist()),
        mass=optimum.mass if optimum.feasible else math.nan,
        boundary=tuple(turn.values(relaxed.costs).tolist()),
        cost=float(relaxed.costs.sum()),
        short=tuple(short.tolist()),
        short_violation=violation,
        least_violation=0.0 if optimum.feasible else optimum.violation,
        least_at=tuple(stated.tolist()),
    )


def _tighten(search: Search, turn: Turning, relaxed: Relaxed) -> tuple[Relaxed, Floats, float]:
    """Boundary that holds: relaxation, values just short of it, least violation there.

    A design found short of the boundary starts the search anew; if that does not end, the share of
    the costs is bisected.
    """
    for _ in range(SURPRISES):
        costs = relaxed.costs * (1.0 - _shortfall(relaxed))
        tried = _least_violation(search, turn, costs, relaxed.design)
        if tried.slack > HOLDS:
            return relaxed, turn.values(costs), tried.slack
        again = search.solve(turn, [Relaxed(tried.design, costs, 0.0)])
        lower = again.slack <= HOLDS and again.costs.sum() < costs.sum()
        relaxed = again if lower else Relaxed(tried.design, costs, 0.0)
    bad, good, design, violation = 0.0, 1.0, relaxed.design, search.violation
    for _ in range(HALVINGS):
        if good - bad <= _shortfall(relaxed):
            break
        share = (bad + good) / 2.0
        tried = _least_violation(search, turn, relaxed.costs * share, design)
        if tried.slack <= HOLDS:
            good, design = share, tried.design
        else:
            bad, violation = share, tried.slack
    settled = Relaxed(design, relaxed.costs * good, 0.0)
    return settled, turn.values(relaxed.costs * bad), violation


def _least_violation(search: Search, turn: Turning, costs: Floats, design: Floats) -> Relaxed:
    """Least violation of the study with its knobs at costs, from several starts."""
    fixed = turning(turn.changed(costs), ())
    starts = (design, *search.designs)
    return search.solve(fixed, (Relaxed(start, np.zeros(0), 0.0) for start in starts))


def _shortfall(relaxed: Relaxed) -> float:
    """Share of the costs by which 'just short' lies short."""
    total = max(float(relaxed.costs.sum()), 1e-12)
    step = min(max(min(SHORT * total, SHORT_MOST), SHORT_LEAST), total)
    return step / total
