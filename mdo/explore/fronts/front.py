"""The analysis: fronts of two or three objectives, of one study or of every discrete choice."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from mdo.explore.exploration import (
    INTERPOLATED,
    Choice,
    Exploration,
    Say,
    choices_of,
    counted,
    paths_of_choices,
    settings_of,
)
from mdo.explore.fronts.curve import trace_curve
from mdo.explore.fronts.front_tables import Front, front_tables
from mdo.explore.fronts.known_points import KnownPoints
from mdo.explore.fronts.objectives import Objective, objectives_of
from mdo.explore.fronts.shape import breaks, infeasible_gaps, knee_of
from mdo.explore.fronts.study_front import StudyFront
from mdo.explore.fronts.surface import trace_surface
from mdo.explore.study_fields import built_table
from mdo.optimise.axes import Axis, ParametricProblem
from mdo.optimise.axes.axis import ends_of
from mdo.optimise.levels.dear_optima import Plan, dear_optima
from mdo.optimise.levels.study_optimum import corrected_problem
from mdo.optimise.many.optima import Setting
from mdo.optimise.problem import DesignProblem
from mdo.results.work import Work

SAMPLED = (24, 7)  # points along one or two axes by which corrections are laid over them
AROUND = "{0}, around the optimum of the study; the error elsewhere is not known"
DEAR = Plan(most=30, error=0.005, held_out=0, seed=0)


def run_front(problem: DesignProblem, work: Work, say: Say) -> Exploration:
    """Find the front, or one of every combination of choices.

    Parameters
    ----------
    problem : the study
    work : who does the chunks
    say : told what is being done

    Raises
    ------
    StudyError
        If the plan cannot be used with the study.
    WorkError
        If a chunk cannot be done.
    StoreError
        If a chunk cannot be written.
    """
    plan = problem.study.analysis.front
    objectives = objectives_of(problem)
    choices = choices_of(problem, plan.choices, say)

    def axes_of(study: DesignProblem) -> list[Axis]:
        return [each.axis for each in objectives_of(study) if each.axis]

    fronts = []
    for choice, setting in settings_of(problem, choices, axes_of, work, say, "front"):
        if setting is None or choice.problem is None:
            fronts.append(_no_study(choice, objectives))
        else:
            solve = StudyFront(_at_dear_levels(setting), objectives_of(choice.problem))
            fronts.append(_traced(solve, plan.points, choice.words))
    built = built_table(problem.study, choices)
    tables = {**front_tables(problem, objectives, fronts, built), **paths_of_choices(choices)}
    statuses = counted(status for one in fronts for status in one.known.status)
    return Exploration("front", problem, tables, statuses, objectives, levels=levels_of(objectives))


def levels_of(objectives: Sequence[Objective]) -> str:
    """How a front stands to corrected rows: by whether a requirement is turned."""
    return INTERPOLATED if any(one.axis is not None for one in objectives) else AROUND


def _at_dear_levels(setting: Setting) -> Setting:
    """The same with rows corrected, where the study corrects them.

    Over the axes, if requirements are turned; else around the optimum, whatever the limit of an
    output.
    """
    parametric = setting.parametric
    if parametric.given.correction is None:
        return setting
    if not parametric.axes:
        starts = parametric.given.study.analysis.optimum.starts
        given = corrected_problem(parametric.given, starts, setting.say)
        return setting._replace(parametric=ParametricProblem(given, ()))
    low, high = ends_of(parametric.axes)
    shares = np.linspace(0.0, 1.0, SAMPLED[len(low) - 1])
    grid = np.stack([each.ravel() for each in np.meshgrid(*[shares] * len(low))], axis=1)
    sampled = setting._replace(stage=f"{setting.stage}-dear")
    found = dear_optima(sampled, low + grid * (high - low), 1, DEAR)
    return setting._replace(parametric=parametric.interpolating(found.interpolation))


def _traced(solve: StudyFront, points: int, words: str) -> Front:
    """Trace the front of one combination."""
    known = KnownPoints([one.within for one in solve.bounded], solve)
    trace = trace_curve if len(solve.bounded) == 1 else trace_surface
    traced = trace(known, points, solve.setting.say)
    knee = None
    if traced.ends is not None:
        knee = knee_of(traced.ends.scale.normal(known.values[traced.places]))
    gaps = (*breaks(known, traced), *infeasible_gaps(known, traced.ends))
    return Front(words, known, traced.places, knee, gaps, solve.optima)


def _no_study(choice: Choice, objectives: tuple[Objective, ...]) -> Front:
    """A combination that is no study: one bound without an optimum, the loosest."""
    known = KnownPoints([one.within for one in objectives[1:]])
    known.note(known.loosest, choice.fault)
    none = np.array([], dtype=np.intp)
    return Front(choice.words, known, none, None, tuple(infeasible_gaps(known, None)), None)
