"""Figures that all explorations share: counts as bars, and spreads of many numbers as lines."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import chain, pairwise
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from mdo.arrays import Floats
from mdo.report.figures import style
from mdo.report.words.cells import Cell
from mdo.report.words.exploration_columns import (
    FEASIBLE,
    INFEASIBLE,
    UNSETTLED,
    Column,
    Tables,
    broken,
    numbers,
    safe,
)
from mdo.report.words.printed import pretty, step_words
from mdo.report.words.table import Table
from mdo.study.number_text import figure

MOST_BARS = 14
BAR = 34  # [px] of a bar with two lines of words
SPREAD = (5.0, 25.0, 50.0, 75.0, 95.0)  # percentiles that are drawn
COLOURS = {FEASIBLE: style.GREEN, INFEASIBLE: style.RUST, UNSETTLED: style.AMBER}
NO_REASON = "no reason given"


def counts_of(frame: pd.DataFrame, weight: str = "") -> pd.DataFrame:
    """Return how many rows have each status and reason, the most frequent first."""
    counted = frame.assign(designs=frame[weight] if weight else 1)
    return _summed(counted.astype({"reason": str}))


def _summed(data: pd.DataFrame) -> pd.DataFrame:
    sums = data.groupby(["status", "reason"], sort=True)["designs"].sum().reset_index()
    return sums.sort_values("designs", ascending=False, kind="stable").reset_index(drop=True)


def named_counts(counts: pd.DataFrame) -> pd.DataFrame:
    """Return counts with each requirement of a reason by itself: ``A; B`` counts at A and at B."""
    named = [list(dict.fromkeys(titles_of(reason))) or [""] for reason in counts["reason"]]
    return _summed(counts.assign(reason=named).explode("reason"))


def rows_figure(
    names: Sequence[str], series: Sequence[tuple[str | None, Any, Any, style.Look]], across: str, *,
    left: int = 290, row: int = 40, hover: str, **layout: Any,
) -> go.Figure:  # fmt: skip
    """Lying bars of rows, the first one on top, its bars in the order of the series from below.

    Parameters
    ----------
    names : of the rows, on two lines at most
    series : name, sizes, colours and what else a bar has, by row
    across : title of the axis
    left, row : room for the names, height of a row [px]
    hover : what the pointer shows after the name of a row; NAME is that of the bar
    layout : of :func:`mdo.report.figures.style.frame_rows`
    """
    words, result, many = list(names)[::-1], go.Figure(), len(series) > 1
    for name, sizes, colour, more in series:
        said = hover.replace("NAME", name or "")
        result.add_bar(
            y=list(range(len(words))), x=numbers(sizes, 8)[::-1], orientation="h", name=name,
            marker=style.hatched(colour), customdata=words,
            hovertemplate=f"%{{customdata}}: {said}<extra></extra>", **more,
        )  # fmt: skip
    height = 70 + 20 * many + row * max(len(words), 1)
    style.frame_rows(result, words, across, left=left, height=height, legend=many, **layout)
    return (
        result.update_layout(barmode="group", legend={"traceorder": "reversed"}) if many else result
    )


def counts_figure(counts: pd.DataFrame, what: str, total: int) -> go.Figure:
    """Bars of how many have each status and reason, with their share of all."""
    lines = counts[:MOST_BARS]
    names = [_words(line.status, line.reason) for line in lines.itertuples()]
    texts = [f"  {n:,} ({100.0 * n / max(total, 1):.3g} %)" for n in lines["designs"]]
    colours = [COLOURS.get(str(status), style.GREY) for status in lines["status"]]
    more = {"text": texts[::-1], "textposition": "outside", "cliponaxis": False}
    return rows_figure(
        names, [(None, lines["designs"], colours[::-1], more)], what, left=320, row=BAR,
        hover=f"%{{x:,}} {what}", x={"range": [0, 1.45 * max(lines["designs"].max(), 1)]},
    )  # fmt: skip


def _words(status: object, reason: object) -> str:
    if str(status) == FEASIBLE:
        return FEASIBLE
    head = "" if str(status) == INFEASIBLE else f"{status}: "
    return broken(f"{head}{str(reason) or NO_REASON}", 46)


def counts_table(counts: pd.DataFrame, what: str, total: int) -> Table:
    """Return the counts as a table, with their share of all."""
    rows = [
        (str(line.status), str(line.reason) or ("" if line.status == FEASIBLE else NO_REASON),
         Cell(f"{line.designs:,}", float(line.designs)),
         Cell(f"{100.0 * line.designs / max(total, 1):.3g} %", float(line.designs)))
        for line in counts.itertuples()
    ]  # fmt: skip
    return Table(("status", "reason", what, "share"), rows, right=(2, 3), sortable=True)


class Cost(NamedTuple):
    """What one harder step of an axis costs, over the feasible points of a map.

    ``spread`` are its percentiles, ``free`` the share of the ``points`` where it costs nothing.
    """

    title: str
    per: str
    spread: Floats
    free: float
    points: int


def costs_of(tables: Tables, axes: Sequence[Column]) -> list[Cost]:
    """Return the costs of all axes that have any, the dearest first."""
    points, lines = tables["map_points"], tables["map_axes"].set_index("axis")
    costs = []
    for axis in axes:
        line, slopes = lines.loc[axis.name], points.get(f"cost.{axis.name}", pd.Series(dtype=float))
        values = slopes[points["status"] == FEASIBLE].to_numpy(float) if len(slopes) else slopes
        found = (-line["easier"] or 1.0) * line["step"] * np.asarray(values)[np.isfinite(values)]
        if found.size:
            per, free = pretty(step_words(line["per"])), float(np.mean(np.abs(found) < 1e-6))
            costs.append(Cost(axis.title, per, np.percentile(found, SPREAD), free, found.size))
    return sorted(costs, key=lambda cost: -float(cost.spread[2]))


def costs_figure(costs: Sequence[Cost]) -> go.Figure:
    """Spread of each cost: thin line 5 to 95 %, thick line 25 to 75 %, mark at the median."""
    result, lines = go.Figure(), list(costs)[::-1]
    for low, high, width, name in ((0, 4, 2, "5 to 95 % of the points"), (1, 3, 8, "25 to 75 %")):
        ends = [[*numbers(cost.spread[[low, high]]), None] for cost in lines]
        places = [[place, place, None] for place in range(len(lines))]
        style.add_line(result, [*chain(*ends)], [*chain(*places)], name, style.BLUE, width=width)
    look = {"symbol": "diamond", "size": 11, "color": style.RUST, "line": {"width": 0}}
    middle = numbers([cost.spread[2] for cost in lines])
    style.add_marks(
        result, middle, list(range(len(lines))), "median", look,
        labels=[[*(figure(cost.spread[end], 3) for end in (0, 4)), cost.per] for cost in lines],
        hovertemplate="median %{x:.3g} kg for %{customdata[2]}, 5 to 95 %: "
        "%{customdata[0]} to %{customdata[1]} kg<extra></extra>",
    )  # fmt: skip
    names = [f"{broken(cost.title)},<br>{safe(cost.per)}" for cost in lines]
    least = min(0.0, *(float(cost.spread[0]) for cost in lines))
    most = max(float(cost.spread[4]) for cost in lines)
    spare = 0.04 * ((most - least) or 1.0)
    return style.frame_rows(
        result, names, "mass added by one harder step [kg, aircraft]", left=290,
        height=110 + BAR * len(lines), legend=True, lines=True,
        x={"range": [least - spare if least < 0.0 else 0.0, most + spare]},
    )  # fmt: skip


def costs_table(costs: Sequence[Cost]) -> Table:
    """Return the costs as a table."""
    rows: list[list[str | Cell]] = [
        [cost.title, cost.per, *(Cell(figure(v, 3) + " kg", float(v)) for v in cost.spread),
         Cell(f"{100.0 * cost.free:.0f} %", cost.free), Cell(f"{cost.points:,}", cost.points)]
        for cost in costs
    ]  # fmt: skip
    head = ("requirement", "one harder step", "5 %", "25 %", "median", "75 %", "95 %",
            "free at", "designs")  # fmt: skip
    return Table(head, rows, right=tuple(range(2, 9)), sortable=True)


MOST_ROWS = 12
ROW = 26  # [px]
MARGIN = 290  # [px] for the names


def active_rows(texts: Sequence[str]) -> list[str]:
    """Return the titles of all active rows, the most frequent first."""
    counts = Counter(title for text in texts for title in titles_of(text))
    return [title for title, _ in sorted(counts.items(), key=lambda item: (-item[1], item[0]))]


def titles_of(text: str) -> list[str]:
    """Return the titles in one cell of a column ``active``."""
    return [title for title in str(text).split("; ") if title]


def active_figure(at: Floats, texts: Sequence[str], axis: str, *, log: bool = False) -> go.Figure:
    """Return a strip: one line for each row, a mark wherever it is active.

    Parameters
    ----------
    at : place of each design on the axis, in the unit of the axis
    texts : its active rows
    axis : title of the axis
    log : as in the figure above it
    """
    titles = active_rows(texts)[:MOST_ROWS][::-1]
    result = go.Figure()
    for place, title in enumerate(titles):
        here = [x for x, text in zip(at, texts, strict=True) if title in titles_of(text)]
        look = {"symbol": "square", "size": 10, "color": style.BLUE, "line": {"width": 0}}
        said = f"{broken(title)}<br>active at %{{x:.4g}}<extra></extra>"
        style.add_marks(result, here, [place] * len(here), "active", look, hovertemplate=said,
                        showlegend=False)  # fmt: skip
    names = [broken(title) for title in titles]
    return style.frame_rows(
        result, names, axis, left=MARGIN, height=70 + ROW * max(len(titles), 1), lines=True,
        x={"zeroline": False, "type": "log" if log else "linear"},
    )  # fmt: skip


def active_table(names: Sequence[str], texts: Sequence[str], head: str) -> Table:
    """Return what is active at each design, as words."""
    rows = [(name, text or "nothing") for name, text in zip(names, texts, strict=True)]
    return Table((head, "active there"), rows)


def changes_of_active(frame: pd.DataFrame) -> list[tuple[int, list[str], list[str]]]:
    """Return where the active set changes along rows: place, rows that come, rows that go."""
    sets = [titles_of(text) for text in frame["active"]]
    changes = [
        (place, [title for title in after if title not in before],
         [title for title in before if title not in after])
        for place, (before, after) in enumerate(pairwise(sets), 1)
    ]  # fmt: skip
    return [change for change in changes if change[1] or change[2]]
