"""The analysis: fronts of two or three objectives, of one study or of every discrete choice."""

from __future__ import annotations

import numpy as np

from mdo.explore.exploration import Choice, Exploration, Say, announced, choices_of, counted
from mdo.explore.fronts.curve import Curve, trace_curve
from mdo.explore.fronts.front_tables import Front, front_tables
from mdo.explore.fronts.known_points import KnownPoints
from mdo.explore.fronts.objectives import FrontOptions, Objective, objectives_of
from mdo.explore.fronts.shape import Gap, breaks, infeasible_gaps, knee_of
from mdo.explore.fronts.study_front import StudyFront
from mdo.explore.fronts.surface import Surface, trace_surface
from mdo.optimise.axes import ParametricProblem
from mdo.optimise.many.optima import Setting
from mdo.optimise.problem import DesignProblem
from mdo.optimise.status import INFEASIBLE
from mdo.results.work import Work


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
    choices = choices_of(problem, options.choices)
    own = {one: objectives_of(one.problem, options) for one in choices if one.problem}
    studies = {
        one: ParametricProblem(one.problem, [each.axis for each in every if each.axis is not None])
        for one, every in own.items()
        if one.problem
    }
    active = np.any([problem.active, *(one.problem.active for one in studies.values())], axis=0)
    fronts: list[Front] = []
    for number, choice in announced(choices, say):
        if choice in studies:
            setting = Setting(studies[choice], active, work, f"front{number:03d}", say)
            fronts.append(_traced(setting, own[choice], options.points, choice.words))
        else:
            fronts.append(_no_study(choice, objectives))
    tables = front_tables(problem, objectives, fronts)
    statuses = counted(status for one in fronts for status in one.known.status)
    return Exploration("front", problem, tables, statuses, objectives)


def _traced(setting: Setting, objectives: tuple[Objective, ...], points: int, words: str) -> Front:
    """Trace the front of one combination."""
    solve = StudyFront(setting, objectives)
    known = KnownPoints(len(objectives) - 1)
    ranges = [one.within for one in objectives[1:]]
    gaps: list[Gap] = []
    traced: Curve | Surface
    if len(ranges) == 1:
        traced = trace_curve(solve, known, ranges, points, setting.say)
        gaps = breaks(known, traced)
    else:
        traced = trace_surface(solve, known, ranges, points, setting.say)
    knee = None
    if traced.ends is not None:
        knee = knee_of(traced.ends.scale.normal(known.values[traced.places]))
    gaps += infeasible_gaps(known, traced.ends, ranges)
    return Front(words, known, traced.places, knee, tuple(gaps), solve.optima)


def _no_study(choice: Choice, objectives: tuple[Objective, ...]) -> Front:
    """A combination that is no study: one bound without an optimum, the loosest."""
    known = KnownPoints(len(objectives) - 1)
    tight, loose = np.array([one.within for one in objectives[1:]]).T
    known.note(loose, INFEASIBLE, choice.fault)
    none = np.array([], dtype=np.intp)
    return Front(choice.words, known, none, None, (Gap(tight, loose, choice.fault),), None)
