"""The analysis: fronts of two or three objectives, of one study or of every discrete choice."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from mdo.defend.choices.combinations import combinations, prepare
from mdo.explore.exploration import Exploration
from mdo.explore.fronts.chain_solver import StudySolver
from mdo.explore.fronts.curve import Curve, trace_curve
from mdo.explore.fronts.front_tables import Traced, front_tables
from mdo.explore.fronts.known_points import Found
from mdo.explore.fronts.objectives import FrontOptions, Objective, objectives_of
from mdo.explore.fronts.sentences import front_lines
from mdo.explore.fronts.shape import Gap, breaks, infeasible_gaps, knee_of
from mdo.explore.fronts.surface import Surface, trace_surface
from mdo.optimise.axes import Turner
from mdo.optimise.many.chunk import NONE
from mdo.optimise.many.optima import Setting
from mdo.optimise.problem import DesignProblem
from mdo.results.work import Work

Say = Callable[[str], None]
KIND = "front"
NO_STUDY = "not a study"


class _Case(NamedTuple):
    """A combination of choices: its words, its problem (none or one), why there is none."""

    words: str
    problems: tuple[DesignProblem, ...]
    fault: str


def run_front(problem: DesignProblem, options: FrontOptions, work: Work, say: Say) -> Exploration:
    """Find the front, or one of every combination of choices.

    Parameters
    ----------
    problem : the study
    options : objectives, ranges, number of points, choices
    work : who does the chunks
    say : told what is being done

    Raises
    ------
    StudyError
        If the options cannot be used with the study.
    WorkError
        If a chunk cannot be done.
    StoreError
        If a chunk cannot be written.
    """
    objectives = objectives_of(problem, options)
    cases = _cases(problem, options)
    own = {one: objectives_of(one, options) for case in cases for one in case.problems}
    turners = {
        one: Turner(one, [each.axis for each in found if each.axis is not None])
        for one, found in own.items()
    }
    active = np.any([problem.active, *(one.problem.active for one in turners.values())], axis=0)
    traced: list[Traced] = []
    for number, case in enumerate(cases, 1):
        if case.words:
            say(f"Choice {number} of {len(cases)}: {case.words}")
        for one in case.problems:
            setting = Setting(turners[one], active, work, f"front{number:03d}", say)
            traced.append(_trace(setting, own[one], options.points, case.words))
        if not case.problems:
            traced.append(_no_study(case, objectives))
    tables = front_tables(problem, objectives, traced)
    statuses = [status for one in traced for status in one.found.status]
    counts = {status: statuses.count(status) for status in sorted(set(statuses))}
    return Exploration(KIND, problem, tables, front_lines(problem, objectives, tables), counts)


def _cases(problem: DesignProblem, options: FrontOptions) -> list[_Case]:
    """Problem of every combination; the study itself where nothing is chosen."""
    if not options.choices:
        return [_Case("", (problem,), "")]
    made = [(one, prepare(problem, one)) for one in combinations(problem.study, options.choices)]
    return [
        _Case(one.words, () if ready.problem is None else (ready.problem,), ready.fault)
        for one, ready in made
    ]


def _trace(setting: Setting, objectives: tuple[Objective, ...], points: int, words: str) -> Traced:
    """Trace the front of one combination."""
    solve = StudySolver(setting, objectives)
    found = Found(len(objectives) - 1)
    ranges = [one.within for one in objectives[1:]]
    gaps: list[Gap] = []
    traced: Curve | Surface
    if len(ranges) == 1:
        traced = trace_curve(solve, found, ranges, points, setting.say)
        gaps = breaks(found, traced)
    else:
        traced = trace_surface(solve, found, ranges, points, setting.say)
    knee = None
    if traced.ends is not None:
        knee = knee_of(traced.ends.scale.normal(found.values[traced.places]))
    gaps += infeasible_gaps(found, traced.ends, ranges)
    return Traced(words, found, traced.places, knee, tuple(gaps), solve.frame)


def _no_study(one: _Case, objectives: tuple[Objective, ...]) -> Traced:
    """A combination that is no study: one bound without an optimum, the loosest."""
    found = Found(len(objectives) - 1)
    loose = np.array([each.within.loose for each in objectives[1:]])
    tight = np.array([each.within.tight for each in objectives[1:]])
    fault = f"{NO_STUDY}: {one.fault}"
    found.note(loose, NONE, fault)
    none = np.array([], dtype=np.intp)
    return Traced(one.words, found, none, None, (Gap(tight, loose, fault),), None)
