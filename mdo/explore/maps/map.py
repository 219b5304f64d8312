"""The optimum over a grid or a sample of requirements, for every combination of discrete choices.

All combinations share the compiled functions; each has levels of its own, so that a point starts
from neighbours that are built alike.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from mdo.explore.exploration import Choice, Exploration, Say, announced, choices_of, counted
from mdo.explore.sweeps.samples import LATIN, LISTED, sample_of
from mdo.model.system import OBJECTIVE
from mdo.optimise.axes import Axis, ParametricProblem
from mdo.optimise.axes.axis import ends_of
from mdo.optimise.many.model import OUTPUTS
from mdo.optimise.many.optima import LOOKS, Setting, find_optima
from mdo.optimise.many.solution import Optima
from mdo.optimise.problem import DesignProblem
from mdo.optimise.status import FEASIBLE, INFEASIBLE
from mdo.results.work import Work

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class MapOptions:
    """Options of a map; SI units.

    Attributes
    ----------
    axes
        What is turned.
    sample
        ``latin_hypercube``, ``sobol``, ``factorial`` or ``list``.
    count
        Points of the first two.
    seed
        Of the sample.
    levels
        Levels of each axis, by its name, for ``factorial``.
    points
        The points of a list, shape (n, axes).
    choices
        Values of fields of ``[actuator]``: every combination is optimised at every point.
    looks
        Further starts of points that are infeasible, open or heavier than their neighbours say.
    """

    axes: tuple[Axis, ...]
    sample: str = LATIN
    count: int = 200
    seed: int = 0
    levels: Mapping[str, int] = field(default_factory=dict)
    points: Floats | None = None
    choices: Mapping[str, Sequence[Any]] = field(default_factory=dict)
    looks: int = LOOKS


def run_map(problem: DesignProblem, options: MapOptions, work: Work, say: Say) -> Exploration:
    """Optimise every point for every combination of choices.

    Parameters
    ----------
    problem : the study
    options : what is turned, and what is chosen from
    work : who does the chunks
    say : told what is being done
    """
    points = points_of(options)
    choices = choices_of(problem, options.choices)
    studies = {one: ParametricProblem(one.problem, options.axes) for one in choices if one.problem}
    active = np.any([study.problem.active for study in studies.values()], axis=0)
    frames = []
    for number, choice in announced(choices, say):
        optima = None
        if choice in studies:
            setting = Setting(studies[choice], active, work, f"choice{number:03d}", say)
            optima = find_optima(setting, points, looks=options.looks)
        frames.append(_rows(points, options.axes, choice, optima))
    every = pd.concat(frames, ignore_index=True)
    best = _best(every, len(points))
    tables = {
        "map_points": every,
        "map_axes": axes_table(options.axes),
        "map_best": best,
        "map_choices": _choices(every, best),
    }
    return Exploration("map", problem, tables, counted(every["status"]))


def points_of(options: MapOptions) -> Floats:
    """Points of the sample, SI, shape (n, axes)."""
    if options.sample == LISTED and options.points is not None:
        return options.points
    names = [axis.name for axis in options.axes]
    sample = sample_of(options.sample, names, options.count, options.levels, options.seed)
    assert sample is not None
    low, high = ends_of(options.axes)
    return np.asarray(low + sample.shares(0, sample.size) * (high - low))


def axes_table(axes: Sequence[Axis]) -> pd.DataFrame:
    """What the axes are."""
    names = ["title", "unit", "low", "high"]
    rows = [
        {"axis": axis.name}
        | {name: getattr(axis, name) for name in names}
        | {name: getattr(axis.knob, name) for name in ("per", "step", "easier")}
        for axis in axes
    ]
    return pd.DataFrame(rows)


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
    outputs = dict(zip(OUTPUTS, np.where(good[:, None], optima.outputs, np.nan).T, strict=True))
    columns |= {"status": optima.status, "reason": optima.reason, OBJECTIVE: outputs.pop(OBJECTIVE)}
    columns |= {"violation": optima.violation, "kkt_residual": optima.kkt_residual}
    columns |= {"iterations": optima.iterations, "counts_exist": optima.counts_exist}
    columns["active"] = np.where(good, optima.active, "")
    columns |= dict(zip(choice.problem.labels, optima.designs.T, strict=True))
    columns |= outputs
    columns |= {f"cost.{axis.name}": optima.costs[:, n] for n, axis in enumerate(axes)}
    return pd.DataFrame(columns)


def _best(every: pd.DataFrame, count: int) -> pd.DataFrame:
    """Lightest feasible choice at every point."""
    good = every[every["status"] == FEASIBLE]
    order = good.sort_values(["point", OBJECTIVE, "choice"], kind="stable")
    first = order.drop_duplicates("point").set_index("point")[["choice", OBJECTIVE]]
    best = first.reindex(range(count))
    best["choice"] = best["choice"].fillna("")
    return best.rename_axis("point").reset_index()


def _choices(every: pd.DataFrame, best: pd.DataFrame) -> pd.DataFrame:
    """Per choice: points where it is feasible, where it wins, its lightest optimum."""
    won = best.loc[best[OBJECTIVE].notna(), "choice"].value_counts()
    rows = []
    for choice, part in every.groupby("choice", sort=False):
        good = part[part["status"] == FEASIBLE]
        lightest = float(good[OBJECTIVE].min()) if len(good) else np.nan
        rows.append((choice, len(part), len(good), int(won.get(choice, 0)), lightest))
    return pd.DataFrame(rows, columns=["choice", "points", "feasible", "wins", OBJECTIVE])
