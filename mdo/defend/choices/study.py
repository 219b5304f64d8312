"""Study of discrete choices: every combination re-optimised, best first, the others with a cause.

Each combination is optimised from starts of its own count problem; then those that came out
feasible or nearly so are tried again from the best neighbour, round by round, so that the answer
does not depend on the order in which combinations are done. Only local optima are found: the order
of the list is as sure as they are.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from mdo.defend.choices.combinations import Combination, Prepared, combinations, prepare
from mdo.optimise.blocking_rows import Cause, blocked_causes, blocked_rows, causes_of
from mdo.optimise.optimum import SAME, Optimum, distinct_rows, find_optimum
from mdo.optimise.problem import DesignProblem
from mdo.optimise.starts import candidates, start_from
from mdo.study.sections import CHOICE_FIELDS

Floats = NDArray[np.float64]
Progress = Callable[[str], None]
FEASIBLE, INFEASIBLE, NO_STUDY = "feasible", "infeasible", "not a study"
LOOKED_AT = 4  # candidates of the count problem per combination, at least (a power of two)
NEARLY = 0.1  # violation up to which a combination is tried from any neighbour
MUCH_LESS = 0.5  # share of its violation that an infeasible neighbour may have to be of use
CLOSE_CALL = 0.05  # violation below which further count starts are spent on it
AGREED = 0.02  # relative difference of least violations that count as one
FIRST_ITERATIONS, MORE_ITERATIONS = 25, 60  # most iterations of the stages of a start
HOPELESS = 0.3  # violation after the first stage from which the second is left out
ROUNDS = 3  # most rounds of starts from neighbours
FEW_TUBES = 1.2
NAMED = 3  # limits named per combination


@dataclass(frozen=True)
class Limit:
    """What limits an optimum, and the multipliers of its kind of row [kg per unit of row]."""

    text: str
    group: str
    multiplier: float


@dataclass(frozen=True)
class Choice:
    """One combination of discrete choices and what became of it.

    Attributes
    ----------
    number
        Its place in the order of the options, from 1.
    combination
        The choices.
    status
        ``feasible``, ``infeasible`` or ``not a study``.
    mass
        System mass of the aircraft [kg]: of the optimum, or of the design of least violation; NaN
        where nothing was optimised.
    violation
        Largest violation of a normalised row (0 if feasible, NaN where it is no study).
    optimum
        The optimum; None where nothing was optimised.
    limits
        Dearest active rows of a feasible one, each kind once.
    causes
        What kills an infeasible one, the heaviest first.
    starts
        How many starts were tried.
    agreeing
        How many of them reached the mass of the optimum (relative 1e-7).
    notes
        What was done beside the choices, or the faults of what is no study.
    """

    number: int
    combination: Combination
    status: str
    mass: float
    violation: float
    optimum: Optimum | None
    limits: tuple[Limit, ...]
    causes: tuple[Cause, ...]
    starts: int
    agreeing: int
    notes: tuple[str, ...]

    @property
    def requirement(self) -> str:
        """The requirement that kills an infeasible combination, in words; empty for others."""
        return self.causes[0].text if self.causes else ""

    @property
    def blocked(self) -> bool:
        """Whether a row fails whatever the design."""
        return any(cause.fixed for cause in self.causes)


@dataclass(frozen=True)
class ChoiceStudy:
    """Every distinct combination, best first, the infeasible ones after by violation.

    ``asked`` counts the combinations of the options, same things told apart.
    """

    choices: tuple[Choice, ...]
    asked: int

    @property
    def best(self) -> Choice | None:
        """Lightest feasible combination."""
        first = self.choices[0] if self.choices else None
        return first if first is not None and first.status == FEASIBLE else None


@dataclass(frozen=True)
class _Tried:
    """State of one combination while the study runs."""

    number: int
    combination: Combination
    prepared: Prepared
    optimum: Optimum | None
    blocked: tuple[Cause, ...]
    masses: tuple[float, ...]
    violations: tuple[float, ...] = ()
    near: bytes = b""

    @property
    def violation(self) -> float:
        if self.optimum is None:
            return math.inf
        return 0.0 if self.optimum.feasible else self.optimum.violation

    @property
    def settled(self) -> bool:
        """Whether two starts agree that it is infeasible, and by how much."""
        least = self.violation
        agreeing = sum(one <= least * (1.0 + AGREED) for one in self.violations)
        return 0.0 < least < math.inf and agreeing >= 2


def find_choices(
    problem: DesignProblem,
    options: Mapping[str, Sequence[Any]],
    *,
    starts: int = 2,
    workers: int = 2,
    progress: Progress | None = None,
) -> ChoiceStudy:
    """Optimise every combination of discrete choices.

    Parameters
    ----------
    problem : the study; gives every choice that is not among the options
    options : values by field of ``[actuator]``; combinations that are one thing are done once
    starts : count starts of each combination, at least 2; close calls get twice as many
    workers : threads (compiled code and solver leave the interpreter free for a part of the time);
        the result does not depend on it
    progress : told what is being done

    Raises
    ------
    StudyError
        If a field is not a choice or has no values.
    """
    say = progress or (lambda _: None)
    found = combinations(problem.study, options)
    points = candidates(max(LOOKED_AT, 1 << (2 * starts - 1).bit_length()), problem.study.seed)
    say(f"Choices: {len(found)} distinct combinations")
    with ThreadPoolExecutor(max(1, workers)) as pool:
        tried = list(
            pool.map(
                lambda one: _first(problem, one[0], one[1], points, max(starts, 2)),
                enumerate(found),
            )
        )
        for _ in range(ROUNDS):
            pairs = [(one, _neighbour(one, tried)) for one in tried]
            again = [(one, near) for one, near in pairs if near is not None]
            if not again:
                break
            say(f"Choices: {len(again)} of {len(found)} again from their neighbours")
            for better in pool.map(lambda pair: _from_neighbour(*pair), again):
                tried[better.number] = better
    results = sorted((_result(one) for one in tried), key=_place)
    return ChoiceStudy(tuple(results), sum(one.copies for one in found))


def _first(
    problem: DesignProblem, number: int, combination: Combination, points: Floats, starts: int
) -> _Tried:
    """Rows that block a combination, else its best optimum from count starts."""
    prepared = prepare(problem, combination)
    nothing = _Tried(number, combination, prepared, None, (), ())
    own = prepared.problem
    if own is None:
        return nothing
    blocked = blocked_rows(own)
    if blocked.size:
        return replace(nothing, blocked=blocked_causes(own, own.lower, blocked))
    designs = [one.design for one in sorted((start_from(own, *p) for p in points), key=_score)]
    tried = nothing
    for count, design in enumerate(designs[: 2 * starts]):
        close = 0.0 < tried.violation < CLOSE_CALL and not tried.settled
        if count >= starts and not close:
            break
        tried = _with(tried, _optimum(own, design))
    return tried


def _score(start: Any) -> float:
    return float(start.score)


def _optimum(problem: DesignProblem, near: Floats) -> Optimum:
    """Optimum from a design, in two stages: what is far from feasible after the first stays so.

    Where a row is flat that far from its limit, the start is taken with few tubes.
    """
    if distinct_rows(problem, near)[1].size:
        counts = np.array(["tube_count" in label for label in problem.labels])
        near = np.where(counts & problem.active, np.maximum(FEW_TUBES, problem.lower), near)
    found = find_optimum(problem, starts=0, first=near, iterations=FIRST_ITERATIONS)
    ended = found.attempts[0].converged or found.attempts[0].iterations < FIRST_ITERATIONS
    if ended or (not found.feasible and found.violation > HOPELESS):
        return found
    return find_optimum(problem, starts=0, first=found.design, iterations=MORE_ITERATIONS)


def _with(tried: _Tried, optimum: Optimum) -> _Tried:
    """Combination with one more attempt; the better optimum stays."""
    masses = (*tried.masses, optimum.mass if optimum.feasible else math.inf)
    violations = (*tried.violations, optimum.violation)
    before = tried.optimum
    if before is not None and _rank(before) <= _rank(optimum):
        optimum = before
    return replace(tried, optimum=optimum, masses=masses, violations=violations)


def _rank(optimum: Optimum) -> tuple[bool, float]:
    return (not optimum.feasible, optimum.mass if optimum.feasible else optimum.violation)


def _neighbour(one: _Tried, tried: Iterable[_Tried]) -> Floats | None:
    """Design to try a combination from: that of its best neighbour, if it was not tried yet.

    A neighbour has the same sets and one other choice, and is feasible, or at least much less
    infeasible; one that is nearly feasible may have its neighbour farther off. Where two starts
    agree on the least violation there is nothing to try.
    """
    if one.optimum is None or one.settled:
        return None
    mine = one.combination.whole
    best: tuple[tuple[int, float, float, str], Floats] | None = None
    for other in tried:
        found = other.optimum
        if other.number == one.number or found is None:
            continue
        theirs = other.combination.whole
        differing = sum(mine[name] != theirs[name] for name in CHOICE_FIELDS)
        far = differing > 1 and one.violation > NEARLY
        if far or any(mine[name] != theirs[name] for name in ("configuration", "drive_side")):
            continue
        if not found.feasible and found.violation > MUCH_LESS * one.violation:
            continue
        rank = (differing, other.violation, found.mass, repr(theirs))
        if best is None or rank < best[0]:
            best = (rank, found.design)
    if best is None or best[1].tobytes() == one.near:
        return None
    return best[1]


def _from_neighbour(one: _Tried, near: Floats) -> _Tried:
    own = one.prepared.problem
    if own is None:
        return one
    return replace(_with(one, _optimum(own, near)), near=near.tobytes())


def _result(one: _Tried) -> Choice:
    optimum, prepared = one.optimum, one.prepared
    status, mass, violation = NO_STUDY, math.nan, math.nan
    limits: tuple[Limit, ...] = ()
    causes = one.blocked
    notes = prepared.notes if prepared.problem is not None else (prepared.fault,)
    if one.blocked:
        status, violation = INFEASIBLE, -one.blocked[0].value
    elif optimum is not None:
        status = FEASIBLE if optimum.feasible else INFEASIBLE
        mass, violation = optimum.mass, one.violation
        limits = limits_of(optimum)
        causes = causes_of(optimum)
    agreeing = sum(one_mass <= mass * (1.0 + SAME) for one_mass in one.masses)
    return Choice(
        number=one.number + 1,
        combination=one.combination,
        status=status,
        mass=mass,
        violation=violation,
        optimum=optimum,
        limits=limits,
        causes=causes,
        starts=len(one.masses),
        agreeing=agreeing if status == FEASIBLE else 0,
        notes=notes,
    )


def limits_of(optimum: Optimum) -> tuple[Limit, ...]:
    """Dearest kinds of active rows of a feasible optimum, each by the row that weighs most."""
    if not optimum.feasible:
        return ()
    problem = optimum.problem
    groups: dict[str, list[int]] = {}
    for at in np.flatnonzero(optimum.multipliers > 0.0):
        groups.setdefault(problem.counting_labels[at].group, []).append(int(at))
    limits = []
    for group, places in groups.items():
        dearest = max(places, key=lambda n: float(optimum.multipliers[n]))
        text = problem.describe(problem.counting_labels[dearest])
        limits.append(Limit(text, group, float(optimum.multipliers[places].sum())))
    return tuple(sorted(limits, key=lambda limit: -limit.multiplier))[:NAMED]


def _place(choice: Choice) -> tuple[int, float, int]:
    """Order of the list: feasible by mass, infeasible by violation, then what is no study."""
    tier = (FEASIBLE, INFEASIBLE, NO_STUDY).index(choice.status)
    key = {FEASIBLE: choice.mass, INFEASIBLE: choice.violation}.get(choice.status, 0.0)
    return (tier, key, choice.number)


def choices_table(study: ChoiceStudy) -> pd.DataFrame:
    """Study of choices as a table, best first: choices, status, mass, what limits or kills it."""
    rows = []
    for place, one in enumerate(study.choices, 1):
        values = {name: _cell(value) for name, value in one.combination.choices.items()}
        best = study.best.mass if study.best else math.nan
        rows.append(
            {
                "place": place,
                **values,
                "status": one.status,
                "system_mass": one.mass,
                "over_best": one.mass / best - 1.0 if one.status == FEASIBLE else math.nan,
                "violation": one.violation,
                "limits": "; ".join(limit.text for limit in one.limits),
                "requirement": one.requirement,
                "causes": "; ".join(_cause_words(cause) for cause in one.causes),
                "starts": one.starts,
                "agreeing_starts": one.agreeing,
                "same_things": one.combination.copies,
                "notes": "; ".join(one.notes),
            }
        )
    return pd.DataFrame(rows)


def _cause_words(cause: Cause) -> str:
    how = "whatever the design" if cause.fixed else f"{100.0 * cause.share:.0f} %"
    return f"{cause.text}: {how}"


def _cell(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "" if value is None else str(value)
