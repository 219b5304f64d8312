"""Tables of fronts: their points with the designs behind, their objectives, their gaps."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from mdo.arrays import Floats, Indices
from mdo.explore.fronts.known_points import KnownPoints, Scale, non_dominated
from mdo.explore.fronts.objectives import Objective
from mdo.explore.fronts.shape import Gap
from mdo.model.system import OBJECTIVE
from mdo.optimise.many.solution import Optima
from mdo.optimise.problem import DesignProblem

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


def front_tables(
    problem: DesignProblem,
    objectives: Sequence[Objective],
    fronts: Sequence[Front],
    built: pd.DataFrame,
) -> dict[str, pd.DataFrame]:
    """Tables of the fronts, one or more of the same objectives.

    ``built`` says how each of their choices is built
    (:func:`mdo.explore.study_fields.built_table`).
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
        row: dict[str, Any] = {
            "front": one.words,
            "points": len(own),
            "solved": len(one.known.status),
            "infeasible": int((~one.known.feasible).sum()),
            "wins": int(own["overall"].sum()),
        }
        for each in objectives:
            best = own[each.name].min() if each.sign > 0.0 else own[each.name].max()
            row[each.name] = float(best)
        rows.append({**row, "reason": "" if len(own) else one.known.reason[0]})
    return pd.DataFrame(rows)
