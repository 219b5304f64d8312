"""Study of discrete choices: every combination re-optimised, best first, the others with a cause.

Each combination is optimised from starts of its own count problem; then those that came out
feasible or nearly so are tried again from the best neighbour, round by round, so that the answer
does not depend on the order in which combinations are done. Only local optima are found: the order
of the list is as sure as they are.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from mdo.arrays import Floats
from mdo.defend.choices.combinations import Combination, Prepared, combinations, prepare
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.blocking_rows import Cause, blocked_causes, causes_of, kinds_of_rows
from mdo.optimise.idle_rows import blocked_rows, distinct_rows
from mdo.optimise.linear_algebra import one_thread
from mdo.optimise.optimum import SAME, Optimum, Progress, find_optimum
from mdo.optimise.own_paths import follows_paths
from mdo.optimise.problem import DesignProblem
from mdo.optimise.starts import candidates, start_from
from mdo.optimise.verify import Verification, verified_optimum
from mdo.study.sections import CHOICE_FIELDS

WORKERS = 2  # threads: compiled code and solver leave the interpreter free for a part of the time
FEASIBLE, INFEASIBLE, NO_STUDY = "feasible", "infeasible", "not a study"
EXCLUDED = "excluded"  # has a design, in a state of the other set that the cases rule out
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
class Choice:
    """One combination of discrete choices and what became of it.

    Attributes
    ----------
    number
        Its place in the order of the options, from 1.
    combination, prepared
        The choices, and their study as a problem.
    blocked_by
        Rows that fail whatever the design.
    ends
        Where every start ended.
    near
        Bytes of the last neighbour's design that it was tried from.
    verified
        The best of them with what its own paths take, and its verification, where asked for.
    """

    number: int
    combination: Combination
    prepared: Prepared
    blocked_by: tuple[Cause, ...] = ()
    ends: tuple[Optimum, ...] = ()
    near: bytes = b""
    verified: tuple[Optimum, Verification] | None = None

    @property
    def optimum(self) -> Optimum | None:
        """The optimum; None where nothing was optimised."""
        best = min(self.ends, key=lambda end: end.rank, default=None)
        return self.verified[0] if self.verified else best

    @property
    def verification(self) -> Verification | None:
        """Of a feasible one, where that was asked for."""
        return self.verified[1] if self.verified else None

    @property
    def status(self) -> str:
        """Feasible, excluded by the cases, infeasible, or not a study."""
        if self.optimum is not None and self.optimum.feasible:
            return EXCLUDED if self.prepared.excluded else FEASIBLE
        return INFEASIBLE if self.blocked_by or self.optimum is not None else NO_STUDY

    @property
    def mass(self) -> float:
        """Mass of the aircraft of the optimum, or of the design of least violation [kg].

        NaN where nothing was optimised.
        """
        return math.nan if self.optimum is None else self.optimum.mass

    @property
    def violation(self) -> float:
        """Largest violation of a normalised row (0 if feasible, NaN where it is no study)."""
        if self.blocked_by:
            return -self.blocked_by[0].value
        if self.optimum is None:
            return math.nan
        return 0.0 if self.optimum.feasible else self.optimum.violation

    @property
    def settled(self) -> bool:
        """Whether two starts agree that it is infeasible, and by how much."""
        least = self.violation
        agreeing = sum(end.violation <= least * (1.0 + AGREED) for end in self.ends)
        return least > 0.0 and agreeing >= 2

    @cached_property
    def limits(self) -> tuple[str, ...]:
        """Dearest kinds of active rows of a feasible one, each by the row that weighs most."""
        if self.optimum is None or not self.optimum.feasible:
            return ()
        problem = self.optimum.problem
        kinds = kinds_of_rows(problem, self.optimum.multipliers)
        return tuple(problem.describe(kind.heaviest) for kind in kinds[:NAMED])

    @cached_property
    def causes(self) -> tuple[Cause, ...]:
        """What kills an infeasible one, the heaviest first."""
        return self.blocked_by if self.optimum is None else causes_of(self.optimum)

    @property
    def requirement(self) -> str:
        """The requirement that kills an infeasible combination, in words; empty for others."""
        return self.causes[0].text if self.causes else ""

    @property
    def starts(self) -> int:
        """How many starts were tried."""
        return len(self.ends)

    @property
    def agreeing(self) -> int:
        """How many starts reached the mass of the feasible optimum (relative 1e-7)."""
        if self.status != FEASIBLE:
            return 0
        most = self.mass * (1.0 + SAME)
        return sum(end.feasible and end.mass <= most for end in self.ends)

    @property
    def notes(self) -> tuple[str, ...]:
        """What was done beside the choices, or the faults of what is no study."""
        if self.prepared.problem is None:
            return (self.prepared.fault,)
        motions = ", ".join(self.prepared.excluded)
        ruled_out = [f"the other set is not just heated in {motions}"] if motions else []
        return (*self.prepared.notes, *ruled_out)

    @cached_property
    def appraisal(self) -> Appraisal | None:
        """The optimum with everything computed about it; None where there is no design."""
        if self.optimum is None or not self.optimum.feasible:
            return None
        problem, design = self.optimum.problem, self.optimum.design
        values = problem.values(design)
        return Appraisal(
            "optimum", problem, design, values, self.optimum, "study of choices", self.verification
        )


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


def find_choices(
    problem: DesignProblem,
    options: Mapping[str, Sequence[Any]],
    say: Progress = lambda _: None,
    *,
    starts: int = 2,
    near: Floats | None = None,
    verified: bool = False,
) -> ChoiceStudy:
    """Optimise every combination of discrete choices.

    Parameters
    ----------
    problem : the study; gives every choice that is not among the options
    options : values by field of ``[actuator]``; combinations that are one thing are done once
    say : told what is being done
    starts : count starts of each combination, at least 2; close calls get twice as many
    near : a design that each combination is tried from too
    verified : each feasible one is optimised with what its own paths take, as the study's optimum
        is; else all have the factors that the study has

    Raises
    ------
    StudyError
        If a field is not a choice or has no values.
    """
    distinct = combinations(problem.study, options)
    starts = max(starts, 2)
    say(f"Choices: {len(distinct)} distinct combinations")
    # one thread of linear algebra throughout: threads that set it one by one would race
    with one_thread(), ThreadPoolExecutor(WORKERS) as pool:
        prepared = (Choice(n, each, prepare(problem, each)) for n, each in enumerate(distinct, 1))
        choices = [*pool.map(lambda choice: _first(choice, starts, near), prepared)]
        for _ in range(ROUNDS):
            pairs = [(each, _neighbour(each, choices)) for each in choices]
            again = [(each, near) for each, near in pairs if near is not None]
            if not again:
                break
            say(f"Choices: {len(again)} again from their neighbours")
            for better in pool.map(lambda pair: _from_neighbour(*pair), again):
                choices[better.number - 1] = better
        if verified and follows_paths(problem):
            choices = list(pool.map(lambda each: _verified(each, say), choices))
    return ChoiceStudy(tuple(sorted(choices, key=_place)), sum(each.copies for each in distinct))


def _first(choice: Choice, starts: int, near: Floats | None) -> Choice:
    """Rows that block a combination, else its best optimum from count starts."""
    own = choice.prepared.problem
    if own is None:
        return choice
    blocked = blocked_rows(own)
    if blocked.size:
        return replace(choice, blocked_by=blocked_causes(own, own.lower, blocked))
    if near is not None:
        choice = _with(choice, _optimum(own, own.clip(near)))
    points = candidates(max(LOOKED_AT, 1 << (2 * starts - 1).bit_length()), own.study.seed)
    ranked = sorted((start_from(own, *point) for point in points), key=lambda start: start.score)
    for count, start in enumerate(ranked[: 2 * starts]):
        close = 0.0 < choice.violation < CLOSE_CALL and not choice.settled
        if count >= starts and not close:
            break
        choice = _with(choice, _optimum(own, start.design))
    return choice


def _optimum(problem: DesignProblem, near: Floats) -> Optimum:
    """Optimum from a design, in two stages: what is far from feasible after the first stays so.

    Where a row is flat that far from its limit, the start is taken with few tubes.
    """
    if distinct_rows(problem, near)[1].size:
        counts = np.array(["tube_count" in label for label in problem.labels])
        near = np.where(counts & problem.active, np.maximum(FEW_TUBES, problem.lower), near)
    rough = find_optimum(problem, starts=0, first=near, iterations=FIRST_ITERATIONS)
    ended = rough.attempts[0].converged or rough.attempts[0].iterations < FIRST_ITERATIONS
    if ended or (not rough.feasible and rough.violation > HOPELESS):
        return rough
    return find_optimum(problem, starts=0, first=rough.design, iterations=MORE_ITERATIONS)


def _with(choice: Choice, optimum: Optimum) -> Choice:
    """Combination with one more attempt."""
    return replace(choice, ends=(*choice.ends, optimum))


def _neighbour(choice: Choice, others: Iterable[Choice]) -> Floats | None:
    """Design to try a combination from: that of its best neighbour, if it was not tried yet.

    A neighbour has the same sets and one other choice, and is feasible, or at least much less
    infeasible; one that is nearly feasible may have its neighbour farther off. Where two starts
    agree on the least violation there is nothing to try.
    """
    if choice.optimum is None or choice.settled:
        return None
    mine = choice.combination.whole
    best: tuple[tuple[int, float, float, str], Floats] | None = None
    for other in others:
        optimum, theirs = other.optimum, other.combination.whole
        if other.number == choice.number or optimum is None:
            continue
        differing = sum(mine[name] != theirs[name] for name in CHOICE_FIELDS)
        far = differing > 1 and choice.violation > NEARLY
        if far or any(mine[name] != theirs[name] for name in ("configuration", "drive_side")):
            continue
        if not optimum.feasible and optimum.violation > MUCH_LESS * choice.violation:
            continue
        rank = (differing, other.violation, optimum.mass, repr(theirs))
        if best is None or rank < best[0]:
            best = (rank, optimum.design)
    if best is None or best[1].tobytes() == choice.near:
        return None
    return best[1]


def _from_neighbour(choice: Choice, near: Floats) -> Choice:
    own = choice.prepared.problem
    if own is None:
        return choice
    return replace(_with(choice, _optimum(own, near)), near=near.tobytes())


def _verified(choice: Choice, say: Progress) -> Choice:
    """Combination whose rows have what its own paths take; an infeasible one as it is."""
    if choice.optimum is None or not choice.optimum.feasible:
        return choice
    say(f"Choices: marching the paths of {choice.combination.words}")
    optimum = choice.optimum
    return replace(choice, verified=verified_optimum(optimum.problem, optimum, lambda _: None))


def _place(choice: Choice) -> tuple[int, float, int]:
    """Order of the list: feasible by mass, infeasible by violation, then what is no study."""
    tier = (FEASIBLE, EXCLUDED, INFEASIBLE, NO_STUDY).index(choice.status)
    key = choice.violation if choice.status == INFEASIBLE else choice.mass
    key = 0.0 if choice.status == NO_STUDY else key
    return (tier, key, choice.number)
