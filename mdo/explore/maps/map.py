"""The optimum over a grid or a sample of requirements, for every combination of discrete choices.

All combinations share the compiled functions; each has levels of its own, so that a point starts
from neighbours that are built alike.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from mdo.arrays import Floats
from mdo.defend.tables.frame import of_records
from mdo.explore.exploration import (
    INTERPOLATED,
    Choice,
    Exploration,
    Say,
    built_table,
    choices_of,
    counted,
    fields_table,
    paths_of_choices,
    refuse,
    settings_of,
    source_of,
)
from mdo.explore.maps.dear import HELD_OUT, SOLVED_DEAR
from mdo.explore.sweeps.list_file import read_list
from mdo.explore.sweeps.space import level_faults, sample_of
from mdo.model.system import OBJECTIVE
from mdo.optimise.axes import Axis, axes_of, ends_of
from mdo.optimise.levels.dear_optima import DearOptima, Plan, dear_optima
from mdo.optimise.many.model import OUTPUTS
from mdo.optimise.many.optima import find_optima
from mdo.optimise.many.points import TIMES
from mdo.optimise.many.solution import Optima
from mdo.optimise.problem import DesignProblem
from mdo.optimise.status import FEASIBLE, INFEASIBLE
from mdo.results.work import Work
from mdo.study.read_sections import AXES_WANTED
from mdo.study.text import file_name


class Grid(NamedTuple):
    """Points of a map: its axes, and values (SI), shape (n, axes)."""

    axes: tuple[Axis, ...]
    points: Floats


def run_map(problem: DesignProblem, work: Work, say: Say) -> Exploration:
    """Optimise every point for every combination of choices.

    Parameters
    ----------
    problem : the study
    work : who does the chunks
    say : told what is being done
    """
    plan = problem.study.analysis.map
    axes, points = grid_of(problem)
    choices = choices_of(problem, plan.choices, say)
    dear = Plan(plan.dear_points, plan.dear_error, plan.held_out, problem.study.seed)
    frames = []
    for choice, setting in settings_of(problem, choices, lambda _: axes, work, say, "choice"):
        if setting is None:
            frames.append(_rows(points, axes, choice, None))
        elif problem.correction is None:
            optima = find_optima(setting, points, looks=plan.looks)
            frames.append(_rows(points, axes, choice, optima))
        else:
            found = dear_optima(setting, points, plan.looks, dear)
            frames.append(_rows(points, axes, choice, found.optima).assign(**_dear_columns(found)))
    every = pd.concat(frames, ignore_index=True)
    best, built = _best(every, len(points)), built_table(problem.study, choices)
    tables = {
        "map_points": every,
        "map_axes": axes_table(axes),
        "map_fields": fields_table(problem.study, axes),
        "map_best": best,
        "map_choices": _choices(every, best).merge(built, on="choice"),
        **paths_of_choices(choices),
    }
    return Exploration("map", problem, tables, counted(every["status"]), levels=INTERPOLATED)


def grid_of(problem: DesignProblem) -> Grid:
    """Points of the map of a study, drawn or read.

    Raises
    ------
    StudyError
        If axes, levels or the list of points cannot be used.
    """
    plan = problem.study.analysis.map
    if not plan.axes:
        refuse(problem, "map", [f"axes: missing, {AXES_WANTED}"])
    axes = axes_of(problem, plan.axes, "analysis.map.axes")
    none = 'axes: none, expected one axis or more, such as fold_time = ["200 s", "600 s"]'
    refuse(problem, "map", [] if axes else [none])
    if plan.file is not None:
        return Grid(axes, _listed(problem, axes, plan.file))
    names = [axis.name for axis in axes]
    refuse(problem, "map", level_faults(plan, names))
    sample = sample_of(plan, plan.points, names, problem.study.seed)
    assert sample is not None
    low, high = ends_of(axes)
    return Grid(axes, np.asarray(low + sample.shares(0, sample.size) * (high - low)))


def _listed(problem: DesignProblem, axes: tuple[Axis, ...], file: str) -> Floats:
    """Points of a map that a file lists."""
    path = problem.study.folder / file_name(file)
    where = f"{source_of(problem)}: analysis.map.file"
    with TemporaryDirectory() as folder:
        listed = read_list(problem, axes, path, Path(folder) / "points.bin", where)
        if len(listed.names) > len(axes):
            more = ", ".join(listed.names[len(axes) :])
            refuse(
                problem, "map", [f"file: columns of design variables, got {more}, expected axes"]
            )
        return np.array(listed.numbers)


def axes_table(axes: Sequence[Axis]) -> pd.DataFrame:
    """What the axes are."""
    columns = "axis=name title unit low high per=knob.per step=knob.step easier=knob.easier"
    return of_records(axes, columns)


def _rows(
    points: Floats, axes: Sequence[Axis], choice: Choice, optima: Optima | None
) -> pd.DataFrame:
    """Rows of one combination; without optima it is no study."""
    columns: dict[str, Any] = {"point": np.arange(len(points))}
    columns |= {axis.name: points[:, n] for n, axis in enumerate(axes)}
    columns["choice"] = choice.words
    if optima is None or choice.problem is None:
        return pd.DataFrame({**columns, "status": INFEASIBLE, "reason": choice.fault})
    good = optima.feasible

    def shown(names: Iterable[str], values: Floats) -> dict[str, Any]:
        """Columns of feasible points; NaN elsewhere."""
        return dict(zip(names, np.where(good[:, None], values, np.nan).T, strict=True))

    outputs = shown(OUTPUTS, optima.outputs)
    columns |= {"status": optima.status, "reason": optima.reason, OBJECTIVE: outputs.pop(OBJECTIVE)}
    columns |= {
        name: getattr(optima, name)
        for name in ("violation", "kkt_residual", "iterations", "counts_exist")
    }
    columns["active"] = np.where(good, optima.active, "")
    columns |= dict(zip(choice.problem.labels, optima.designs.T, strict=True))
    columns |= outputs | shown(TIMES, optima.times)
    columns |= {f"cost.{axis.name}": optima.costs[:, n] for n, axis in enumerate(axes)}
    columns |= {f"harder.{axis.name}": optima.harder[:, n] for n, axis in enumerate(axes)}
    return pd.DataFrame(columns)


def _dear_columns(found: DearOptima) -> dict[str, Any]:
    """Bound on the error of mass, and which points were solved at the dear levels."""
    optima = found.optima
    said = np.full(len(optima.status), "", dtype=object)
    mass = np.full(len(optima.status), np.nan)
    for words, places, solved in (
        (SOLVED_DEAR, found.places, found.solved),
        (HELD_OUT, found.held_places, found.held_out),
    ):
        if solved is not None:
            said[places] = words
            mass[places] = np.where(solved.feasible, solved.mass, np.nan)
    bound = np.where(optima.feasible & np.isfinite(optima.bound), optima.bound, np.nan)
    return {"mass_bound": bound, "dear": said, "dear_mass": mass}


def _best(every: pd.DataFrame, count: int) -> pd.DataFrame:
    """Lightest feasible choice at every point."""
    good = every[every["status"] == FEASIBLE]
    order = good.sort_values(["point", OBJECTIVE, "choice"], kind="stable")
    first = order.drop_duplicates("point").set_index("point")
    best = first[["choice", OBJECTIVE]].reindex(range(count))
    best["choice"] = best["choice"].fillna("")
    return best.rename_axis("point").reset_index()


def _choices(every: pd.DataFrame, best: pd.DataFrame) -> pd.DataFrame:
    """Per choice: points where it is feasible, where it wins, its lightest optimum."""
    optimum = every[OBJECTIVE].where(every["status"] == FEASIBLE)
    own = every.assign(optimum=optimum).groupby("choice", sort=False)
    table = own.agg(points=("point", "size"), feasible=("optimum", "count"))
    won = best.loc[best[OBJECTIVE].notna(), "choice"].value_counts()
    table["wins"] = won.reindex(table.index, fill_value=0)
    table[OBJECTIVE] = own["optimum"].min()
    return table.reset_index()
