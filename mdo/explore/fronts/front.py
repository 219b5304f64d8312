"""The analysis: fronts of two or three objectives, of one study or of every discrete choice.

Its tables: points with the designs behind, objectives, gaps, and what each front comes to.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from mdo.arrays import Floats, Indices
from mdo.explore.exploration import (
    INTERPOLATED,
    Choice,
    Exploration,
    Say,
    built_table,
    choices_of,
    counted,
    paths_of_choices,
    settings_of,
)
from mdo.explore.fronts.curve import Gap, breaks, infeasible_gaps, knee_of, trace_curve
from mdo.explore.fronts.known_points import KnownPoints, Scale, non_dominated
from mdo.explore.fronts.study_front import Objective, StudyFront, objectives_of
from mdo.explore.fronts.surface import trace_surface
from mdo.model.system import OBJECTIVE
from mdo.optimise.axes import Axis, ParametricProblem, ends_of
from mdo.optimise.levels.dear_optima import Plan, dear_optima
from mdo.optimise.levels.study_optimum import dear_optimum, dear_problem
from mdo.optimise.many.optima import Setting
from mdo.optimise.many.solution import Optima
from mdo.optimise.optimum import find_optimum
from mdo.optimise.problem import DesignProblem
from mdo.results.work import Work

SAMPLED = (24, 7)  # points along one or two axes by which corrections are laid over them
AROUND = "{0}, around the optimum of the study; the error elsewhere is not known"
DEAR = Plan(most=30, error=0.005, held_out=0, seed=0)


TRADE = "trade."
SIZES = ("bundle_length", "bundle_height")  # for the drawing of a design


class Front(NamedTuple):
    """A front that was traced.

    Attributes
    ----------
    words
        Its choices, empty for the study itself.
    known
        Every bound that was solved.
    places
        Points of the front, in its order.
    knee
        Which of these is the knee.
    gaps
        Where it has no points.
    optima
        Optima of every bound, None where there was nothing to optimise.
    """

    words: str
    known: KnownPoints
    places: Indices
    knee: int | None
    gaps: tuple[Gap, ...]
    optima: Optima | None


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
        cheap = find_optimum(parametric.given, starts=starts, progress=setting.say)
        given = dear_optimum(cheap, dear_problem(parametric.given), setting.say).problem
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
        knee = knee_of(traced.ends.scale.normal(np.take(known.values, traced.places, axis=0)))
    gaps = (*breaks(known, traced), *infeasible_gaps(known, traced.ends))
    return Front(words, known, traced.places, knee, gaps, solve.optima)


def _no_study(choice: Choice, objectives: tuple[Objective, ...]) -> Front:
    """A combination that is no study: one bound without an optimum, the loosest."""
    known = KnownPoints([one.within for one in objectives[1:]])
    known.note(known.loosest, choice.fault)
    none = np.array([], dtype=np.intp)
    return Front(choice.words, known, none, None, tuple(infeasible_gaps(known, None)), None)


def front_tables(
    problem: DesignProblem,
    objectives: Sequence[Objective],
    fronts: Sequence[Front],
    built: pd.DataFrame,
) -> dict[str, pd.DataFrame]:
    """Tables of the fronts, one or more of the same objectives.

    ``built`` says how each of their choices is built
    (:func:`mdo.explore.exploration.built_table`).
    """
    form = built[["choice", "configuration", "topology", "gear_lanes"]]
    form = form.rename(columns={"choice": "front"})
    points = pd.concat([_points(problem, objectives, one) for one in fronts], ignore_index=True)
    points["overall"] = _overall(points, objectives)
    return {
        "front_points": points,
        "front_objectives": _objectives(points, objectives),
        "front_gaps": _gaps(objectives, fronts),
        "front_summary": _summary(points, objectives, fronts).merge(form, on="front", how="left"),
    }


def _points(problem: DesignProblem, objectives: Sequence[Objective], one: Front) -> pd.DataFrame:
    """Points of one front, then the bounds that have none."""
    known, signs = one.known, np.array([each.sign for each in objectives])
    rest = np.flatnonzero(~known.feasible)
    rows = np.append(one.places, rest)
    on = np.arange(rows.size) < one.places.size
    values = np.where(on[:, None], np.take(known.values, rows, axis=0), np.nan)
    asked = known.bounds[rest]
    values[~on, 1:] = np.where(np.isfinite(asked), asked, np.nan)
    columns: dict[str, Any] = {"front": one.words, "place": np.where(on, np.arange(rows.size), -1)}
    columns |= {each.name: signs[n] * values[:, n] for n, each in enumerate(objectives)}

    def shown(found: Floats | None) -> Floats:
        """Numbers of the points of the front; NaN where there is none."""
        return np.where(on, np.nan if found is None else found[rows], np.nan)

    optima = one.optima
    for n, label in enumerate(problem.labels):
        columns[label] = shown(optima and optima.designs[:, n])
    if optima is not None:
        columns |= {name: shown(optima.output(name)) for name in SIZES if name not in columns}
    columns |= {
        "active": np.where(on, known.active[rows], ""),
        "status": known.status[rows],
        "reason": known.reason[rows],
        "knee": on & (np.arange(rows.size) == (-1 if one.knee is None else one.knee)),
        "refined": known.level[rows].astype(int),
        "kkt_residual": shown(optima and optima.kkt_residual),
    }
    if objectives[0].name == OBJECTIVE and problem.correction is not None:
        bound = shown(optima and optima.bound)
        columns["mass_bound"] = np.where(np.isfinite(bound), bound, np.nan)
    for n, each in enumerate(objectives[1:]):
        slope = signs[0] * signs[n + 1] * known.slopes[:, n]
        columns[TRADE + each.name] = shown(slope) + 0.0  # no -0.0
    return pd.DataFrame(columns)


def _overall(points: pd.DataFrame, objectives: Sequence[Objective]) -> Any:
    """Points that no point of any front dominates."""
    names, signs = [one.name for one in objectives], [one.sign for one in objectives]
    on = np.flatnonzero(points["place"] >= 0)
    values = points[names].to_numpy(dtype=float)[on] * signs
    result = np.zeros(len(points), dtype=bool)
    if on.size:
        scale = Scale(values.min(axis=0), values.max(axis=0))
        result[on[non_dominated(scale.normal(values))]] = True
    return result


def _objectives(points: pd.DataFrame, objectives: Sequence[Objective]) -> pd.DataFrame:
    """What the objectives are, with their best and worst value on the front of all choices."""
    on = points[points["overall"]]
    rows = [
        {"objective": one.name, "title": one.title, "unit": one.unit,
         "low": float(on[one.name].min()), "high": float(on[one.name].max()),
         "better": "less" if one.sign > 0.0 else "more"}
        for one in objectives
    ]  # fmt: skip
    return pd.DataFrame(rows)


def _gaps(objectives: Sequence[Objective], fronts: Sequence[Front]) -> pd.DataFrame:
    """Where the fronts have no points, and why."""
    names = [f"{one.name}_{end}" for one in objectives[1:] for end in ("from", "to")]
    rows = []
    for one in fronts:
        for gap in one.gaps:
            row: dict[str, Any] = {"front": one.words}
            for n, each in enumerate(objectives[1:]):
                low, high = sorted((each.sign * gap.low[n], each.sign * gap.high[n]))
                row |= {f"{each.name}_from": low, f"{each.name}_to": high}
            rows.append({**row, "reason": gap.reason})
    return pd.DataFrame(rows, columns=["front", *names, "reason"])


def _summary(
    points: pd.DataFrame, objectives: Sequence[Objective], fronts: Sequence[Front]
) -> pd.DataFrame:
    """Per front: points, bounds that were solved, best value of every objective, where it wins."""
    rows = []
    for one in fronts:
        own = points[(points["front"] == one.words) & (points["place"] >= 0)]
        infeasible = int((~one.known.feasible).sum())
        row: dict[str, Any] = {
            "front": one.words, "points": len(own), "solved": len(one.known.status),
            "infeasible": infeasible, "wins": int(own["overall"].sum()),
        }  # fmt: skip
        for each in objectives:
            best = own[each.name].min() if each.sign > 0.0 else own[each.name].max()
            row[each.name] = float(best)
        rows.append({**row, "reason": "" if len(own) else one.known.reason[0]})
    return pd.DataFrame(rows)
