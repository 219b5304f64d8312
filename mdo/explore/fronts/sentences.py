"""What a front says, in plain sentences."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import pandas as pd

from mdo.explore.fronts.objectives import Objective
from mdo.optimise.knob_list import PLAIN
from mdo.optimise.many.chunk import SETTLED
from mdo.optimise.problem import DesignProblem
from mdo.study.number_text import quantity

KNEE = "The knee, the point farthest from the chord between the ends in normalised objectives"
NAMED = 4  # rows that are named where there is no design


def front_lines(
    problem: DesignProblem, objectives: Sequence[Objective], tables: Mapping[str, pd.DataFrame]
) -> tuple[str, ...]:
    """Lines for terminal and page.

    Parameters
    ----------
    problem : the study
    objectives : of the front
    tables : of the front
    """
    points = tables["front_points"]
    if not points["overall"].any():
        return tuple(_nothing(tables["front_summary"]))
    fronts = list(dict.fromkeys(points["front"]))
    lines = [line for name in fronts for line in _of_one(objectives, tables, str(name))]
    if len(fronts) > 1:
        lines += _winners(objectives, tables)
    return (*lines, *_own_times(problem, objectives))


def _nothing(summary: pd.DataFrame) -> Iterator[str]:
    yield "The front has no point: even with the loosest bounds no design meets the requirements."
    for row in summary.to_dict("records"):
        head = f"{row['front']}: " if row["front"] else ""
        yield f"{head}{_short(row['reason'])}."


def _of_one(
    objectives: Sequence[Objective], tables: Mapping[str, pd.DataFrame], name: str
) -> Iterator[str]:
    """Ends, knee, changes and gaps of one front."""
    head = f"{name}: " if name else ""
    every = tables["front_points"]
    points = every[(every["front"] == name) & (every["place"] >= 0)]
    if points.empty:
        reason = every.loc[every["front"] == name, "reason"].iloc[0]
        yield f"{head}no design even with the loosest bounds: {reason}."
        return
    parts = [
        f"{one.title.lower()} from {_said(one, points[one.name].min())} to "
        f"{_said(one, points[one.name].max())}"
        for one in objectives
    ]
    count = "1 exact point" if len(points) == 1 else f"{len(points)} exact points"
    yield f"{head}{count}: {'; '.join(parts)}."
    knee = points[points["knee"]]
    if len(points) > 2 and knee.empty:
        yield f"{head}The front has no knee: it bulges nowhere towards the better side."
    elif len(points) > 2:
        at = ", ".join(f"{one.title.lower()} {_said(one, knee[one.name].iloc[0])}"
                       for one in objectives)  # fmt: skip
        yield f"{head}{KNEE}: {at}."
    rough = points[points["kkt_residual"] > SETTLED]
    if not rough.empty:
        worst = float(rough["kkt_residual"].max())
        yield (
            f"{head}At {len(rough)} of them the conditions of an optimum hold only to {worst:.1g}; "
            "two starts agree on each."
        )
    yield from _gap_lines(objectives, tables["front_gaps"], name, head)


def _gap_lines(
    objectives: Sequence[Objective], gaps: pd.DataFrame, name: str, head: str
) -> Iterator[str]:
    for row in gaps[gaps["front"] == name].to_dict("records"):
        spans = [
            f"{one.title.lower()} from {_said(one, row[f'{one.name}_from'])} to "
            f"{_said(one, row[f'{one.name}_to'])}"
            for one in objectives[1:]
        ]
        yield f"{head}No point of the front with {' and '.join(spans)}: {_short(row['reason'])}."


def _short(reason: str) -> str:
    """The first of several rows that stand against each other."""
    rows = reason.split("; ")
    more = len(rows) - NAMED
    return "; ".join(rows[:NAMED]) + (f"; and {more} more" if more > 0 else "")


def _winners(objectives: Sequence[Objective], tables: Mapping[str, pd.DataFrame]) -> Iterator[str]:
    """Which choice is on the front of all of them, and where."""
    points = tables["front_points"]
    best = points[points["overall"]]
    bounded = objectives[1:]
    for name, part in best.groupby("front", sort=False):
        spans = [
            f"{one.title.lower()} from {_said(one, part[one.name].min())} to "
            f"{_said(one, part[one.name].max())}"
            for one in bounded
        ]
        yield (
            f"{name} is on the front of all choices at {len(part)} of {len(best)} points, with "
            f"{' and '.join(spans)}."
        )


def _own_times(problem: DesignProblem, objectives: Sequence[Objective]) -> Iterator[str]:
    """Say which cases keep a time of their own while the one of the study is turned."""
    turned = {plain.name for plain in PLAIN}
    given = {one.path for one in problem.study.inputs if one.origin == "file"}
    for one in objectives:
        own = [c.title or c.id for c in problem.study.cases if f"case.{c.id}.{one.name}" in given]
        if one.axis is not None and one.name in turned and own:
            yield (
                f"{one.title} is that of [requirements]; these cases keep their own: "
                f"{', '.join(own)}."
            )


def _said(one: Objective, value: float) -> str:
    return quantity(float(value), one.unit)
