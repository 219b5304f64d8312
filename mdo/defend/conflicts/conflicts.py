"""What an infeasible study asks too much of: the smallest relaxation that makes it feasible.

Of each requirement alone; where it does not suffice by itself, that and why; and the cheapest pair
of those that do not.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from mdo.defend.conflicts.pairs import find_combination, find_pairs
from mdo.defend.conflicts.relaxation import Relaxed
from mdo.defend.conflicts.search import HOLDS, Answer, Relaxation, Search, relax
from mdo.defend.conflicts.turning_costs import cost_of, measure_of
from mdo.optimise.knob_list import requirements_of, technologies_of
from mdo.optimise.knobs import TECHNOLOGY, Knob
from mdo.optimise.optimum import Optimum
from mdo.optimise.problem import DesignProblem

ALONE, PAIR, TOGETHER, TECHNOLOGY_ALONE = "alone", "pair", "together", "technology alone"
NOT_ALONE = "not by itself"
NO_ROOM = "no room: it stands at the easy end of its range"
COLUMNS = [
    "what", "answer", "requirement", "knob", "kind", "unit", "suffices", "present", "value",
    "change", "cost", "measure", "system_mass", "boundary", "short_of", "violation_short",
    "least_violation", "least_at", "failing", "note",
]  # fmt: skip
Progress = Callable[[str], None]


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
    combination: Relaxation | None


NO_CONFLICTS = Conflicts(0.0, (), (), (), (), (), 0, None)


def find_conflicts(
    problem: DesignProblem,
    optimum: Optimum,
    knobs: Sequence[Knob] | None = None,
    progress: Progress | None = None,
) -> Conflicts:
    """Smallest relaxation of each knob alone, and of pairs, that makes a study feasible.

    Parameters
    ----------
    problem, optimum : the study and the result of its optimisation
    knobs : what may turn, all of the study if None; pairs are made of requirements and loads only
    progress : told what is being done
    """
    if optimum.feasible:
        return NO_CONFLICTS
    say = progress or (lambda _: None)
    given = requirements_of(problem) + technologies_of(problem) if knobs is None else tuple(knobs)
    say("Conflicts: directions of the requirements")
    search = Search(problem, optimum, given)
    if search.violation <= HOLDS:
        return NO_CONFLICTS
    base = Relaxed(search.designs[0], np.zeros(1), search.violation)
    alone: dict[int, Answer] = {}
    room = [number for number, limit in enumerate(search.all.limits) if limit > 0.0]
    for place, number in enumerate(room, 1):
        say(f"Conflicts: {given[number].title.lower()} alone ({place} of {len(room)})")
        alone[number] = relax(search, (number,), [base])
    wanted = [number for number in room if given[number].kind != TECHNOLOGY]
    requirements = _sorted(alone[number].relaxation for number in wanted)
    pairs, left = find_pairs(search, {number: alone[number] for number in wanted}, say)
    combination = None
    if not any(relaxation.sufficient for relaxation in (*pairs, *requirements)):
        say("Conflicts: all requirements together")
        combination = find_combination(search, wanted)
    return Conflicts(
        violation=search.violation,
        core=search.words(search.certificate),
        requirements=requirements,
        technologies=_sorted(alone[n].relaxation for n in room if n not in wanted),
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


def conflicts_table(conflicts: Conflicts) -> pd.DataFrame:
    """Every relaxation, one line per knob: those of a pair stand together and share ``answer``.

    SI units. ``value`` is verified: the study was solved there with ``system_mass`` [kg]; at
    ``short_of`` it was found infeasible by ``violation_short``. ``cost`` is the relative change of
    the line's knob by its ``measure``. Where a knob does not suffice, ``least_violation`` is what
    remains at ``least_at``.
    """
    several = () if conflicts.combination is None else (conflicts.combination,)
    answers = [
        *((ALONE, relaxation) for relaxation in conflicts.requirements),
        *((PAIR, relaxation) for relaxation in conflicts.pairs),
        *((TOGETHER, relaxation) for relaxation in several),
        *((TECHNOLOGY_ALONE, relaxation) for relaxation in conflicts.technologies),
    ]
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
    words = {"requirement": knob.title, "knob": knob.name, "kind": knob.kind, "unit": knob.unit}
    return {**dict.fromkeys(COLUMNS, math.nan), **words, "suffices": False, "present": knob.value,
            "measure": "", "failing": "", "note": ""}  # fmt: skip


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
