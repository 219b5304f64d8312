"""The optimum over a grid or a sample of requirements, for every combination of discrete choices.

All combinations share the compiled functions; each has levels of its own, so that a point starts
from neighbours that are built alike.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from mdo.defend.choices.combinations import Combination, Prepared, combinations, prepare
from mdo.explore.exploration import Exploration
from mdo.explore.maps.sentences import map_lines
from mdo.explore.sweeps.samples import Factorial, LatinHypercube, Sobol
from mdo.model.system import OBJECTIVE
from mdo.optimise.axes import Axis, Turner
from mdo.optimise.many.chunk import FEASIBLE, NONE
from mdo.optimise.many.optima import LOOKS, Optima, Setting, find_optima
from mdo.optimise.problem import DesignProblem
from mdo.results.work import Work

Floats = NDArray[np.float64]
Say = Callable[[str], None]
LATIN, SOBOL, FACTORIAL, LISTED = "latin_hypercube", "sobol", "factorial", "list"
NO_STUDY = "not a study"


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
    made = _prepared(problem, options)
    turners = [Turner(one.problem, options.axes) for _, one in made if one.problem is not None]
    active = np.any([turner.problem.active for turner in turners], axis=0)
    frames = []
    place = 0
    for number, (combination, one) in enumerate(made, 1):
        words = combination.words if combination else ""
        if words:
            say(f"Choice {number} of {len(made)}: {words}")
        if one.problem is None:
            frames.append(_no_study(points, options.axes, words, one.fault))
            continue
        setting = Setting(turners[place], active, work, f"choice{number:03d}", say)
        found = find_optima(setting, points, looks=options.looks)
        frames.append(_frame(points, options.axes, words, found))
        place += 1
    whole = pd.concat(frames, ignore_index=True)
    tables = {
        "map_points": whole,
        "map_axes": axes_table(options.axes),
        "map_best": _best(whole, len(points)),
    }
    tables["map_choices"] = _choices(whole, tables["map_best"])
    counts = {str(name): int(n) for name, n in whole["status"].value_counts(sort=False).items()}
    return Exploration("map", problem, tables, map_lines(tables), counts)


def points_of(options: MapOptions) -> Floats:
    """Points of the sample, SI, shape (n, axes)."""
    if options.sample == LISTED and options.points is not None:
        return options.points
    names = [axis.name for axis in options.axes]
    if options.sample == FACTORIAL:
        sample: Any = Factorial([options.levels[name] for name in names])
    else:
        kind = SOBOL_OR_LATIN[options.sample]
        sample = kind(options.count, len(names), options.seed)
    low = np.array([axis.low for axis in options.axes])
    high = np.array([axis.high for axis in options.axes])
    return np.asarray(low + sample.shares(0, sample.size) * (high - low))


SOBOL_OR_LATIN: Mapping[str, Any] = {LATIN: LatinHypercube, SOBOL: Sobol}


def axes_table(axes: Sequence[Axis]) -> pd.DataFrame:
    """What the axes are."""
    return pd.DataFrame(
        [
            {
                "axis": axis.name,
                "title": axis.title,
                "unit": axis.unit,
                "low": axis.low,
                "high": axis.high,
                "per": axis.knob.per,
                "step": axis.knob.step,
                "easier": axis.knob.easier,
            }
            for axis in axes
        ]
    )


def _prepared(
    problem: DesignProblem, options: MapOptions
) -> list[tuple[Combination | None, Prepared]]:
    """Problem of every combination; the study itself where nothing is chosen."""
    if not options.choices:
        return [(None, Prepared(problem, "", ()))]
    return [(one, prepare(problem, one)) for one in combinations(problem.study, options.choices)]


def _frame(points: Floats, axes: Sequence[Axis], words: str, found: Optima) -> pd.DataFrame:
    """Rows of one combination."""
    good = found.feasible
    rows = found.frame
    columns: dict[str, Any] = {"point": np.arange(len(points))}
    columns |= {axis.name: points[:, n] for n, axis in enumerate(axes)}
    columns |= {"choice": words, "status": rows["status"], "reason": rows["reason"]}
    columns[OBJECTIVE] = np.where(good, rows[OBJECTIVE], np.nan)
    columns |= {name: rows[name] for name in ("violation", "kkt_residual", "iterations",
                                              "counts_exist", "active")}  # fmt: skip
    for name in rows:
        if name.startswith("x."):
            columns[name.removeprefix("x.")] = rows[name]
    columns |= {name: np.where(good, rows[name], np.nan) for name in ("peak_power",
                "sortie_energy", "bundle_length", "bundle_height")}  # fmt: skip
    columns |= {f"cost.{axis.name}": rows[f"cost.{axis.name}"] for axis in axes}
    columns["active"] = np.where(good, rows["active"], "")
    return pd.DataFrame(columns)


def _no_study(points: Floats, axes: Sequence[Axis], words: str, fault: str) -> pd.DataFrame:
    """Rows of a combination that is no study."""
    columns: dict[str, Any] = {"point": np.arange(len(points))}
    columns |= {axis.name: points[:, n] for n, axis in enumerate(axes)}
    columns |= {"choice": words, "status": NONE, "reason": f"{NO_STUDY}: {fault}"}
    return pd.DataFrame(columns)


def _best(whole: pd.DataFrame, count: int) -> pd.DataFrame:
    """Lightest feasible choice at every point."""
    good = whole[whole["status"] == FEASIBLE]
    order = good.sort_values(["point", OBJECTIVE, "choice"], kind="stable")
    first = order.drop_duplicates("point").set_index("point")[["choice", OBJECTIVE]]
    best = first.reindex(range(count))
    best["choice"] = best["choice"].fillna("")
    return best.rename_axis("point").reset_index()


def _choices(whole: pd.DataFrame, best: pd.DataFrame) -> pd.DataFrame:
    """Per choice: points where it is feasible, where it wins, its lightest optimum."""
    won = best.loc[best[OBJECTIVE].notna(), "choice"].value_counts()
    rows = []
    for choice, part in whole.groupby("choice", sort=False):
        good = part[part["status"] == FEASIBLE]
        rows.append(
            {
                "choice": choice,
                "points": len(part),
                "feasible": len(good),
                "wins": int(won.get(choice, 0)),
                OBJECTIVE: float(good[OBJECTIVE].min()) if len(good) else np.nan,
            }
        )
    return pd.DataFrame(rows)
