"""Figures of a front: pure functions of its points, gaps and objectives."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from mdo.arrays import Floats
from mdo.report.figures.requirement_map import coloured
from mdo.report.figures.results_compared import COLOURS, MARKS
from mdo.report.figures.style import AMBER, GREY, RUST, add_marks, frame
from mdo.report.words.exploration_columns import Column, safe

HEIGHT = 430  # [px]
SMALL = 330
CLOSE = 1e-9  # of a range, to tell whether a gap lies between two points
KNEE = {"symbol": "diamond-open", "size": 17, "color": AMBER, "line": {"width": 2.5}}
HERE = {"symbol": "circle-open", "size": 19, "color": RUST, "line": {"width": 3}}


class Gap(NamedTuple):
    """A gap: its range of the bounded objective, the points beside it, why."""

    low: float
    high: float
    before: int
    after: int
    reason: str


def gaps_of(points: pd.DataFrame, gaps: pd.DataFrame, bounded: str) -> list[Gap]:
    """Return the gaps of a front with the rows of the points beside them, -1 for none."""
    if f"{bounded}_from" not in gaps:
        return []
    known = []
    for line in gaps.to_dict("records"):
        low, high = sorted(float(line[f"{bounded}_{end}"]) for end in ("from", "to"))
        part = points[points["front"] == line["front"]].sort_values(bounded, kind="stable")
        values, rows = part[bounded].to_numpy(float), part.index.to_numpy()
        slack = CLOSE * (float(np.ptp(values)) if values.size else 0.0)
        before = max(rows[values <= low + slack][-1:], default=-1)
        after = max(rows[values >= high - slack][:1], default=-1)
        known.append(Gap(low, high, int(before), int(after), str(line["reason"])))
    return known


def point_texts(points: pd.DataFrame, columns: Sequence[Column]) -> list[str]:
    """Return one line for each point: its objectives and whether it is the knee."""
    texts = []
    for line in points.to_dict("records"):
        values = (f"{column.title} {column.text(float(line[column.name]))}" for column in columns)
        ends = (str(line["front"]), "knee" if line["knee"] else "")
        texts.append("; ".join([", ".join(values), *filter(None, ends)]))
    return texts


def labels_of(texts: Sequence[str]) -> list[str]:
    """Return the lines of the points as labels of a figure."""
    return [safe(text, 160).replace(", ", "<br>") for text in texts]


def front_figure(
    points: pd.DataFrame, first: Column, second: Column, gaps: Sequence[Gap], texts: Sequence[str],
    start: int,
) -> go.Figure:  # fmt: skip
    """Front of two objectives: lines broken at gaps, knee and chosen point marked."""
    x, across = second.drawn(points[second.name])
    y, up = first.drawn(points[first.name])
    labels = labels_of(texts)
    result = go.Figure()
    broken_after = {(gap.before, gap.after) for gap in gaps}
    for number, front in enumerate(dict.fromkeys(points["front"])):
        part = points[points["front"] == front].sort_values(second.name, kind="stable")
        order = _with_breaks([int(row) for row in part.index], broken_after)
        result.add_scatter(
            x=[None if row is None else x[row] for row in order],
            y=[None if row is None else y[row] for row in order],
            customdata=order, text=["" if row is None else labels[row] for row in order],
            mode="lines+markers", name=safe(front or "front"), connectgaps=False,
            line={"color": COLOURS[number % len(COLOURS)], "width": 2},
            marker={"symbol": MARKS[number % len(MARKS)], "size": 7, "line": {"width": 0}},
            hovertemplate="%{text}<extra></extra>",
        )  # fmt: skip
    _add_gaps(result, gaps, x, y)
    _add_knee_and_chosen(
        result, points, x, y, start, mode="markers+text", text="knee", textposition="top right"
    )
    return frame(result, across, up, height=HEIGHT, l=62, r=20)


def _with_breaks(rows: Sequence[int], broken_after: set[tuple[int, int]]) -> list[int | None]:
    """Rows along a line, with nothing where it is broken."""
    order: list[int | None] = []
    for row, following in zip(rows, [*rows[1:], -1], strict=True):
        order += [row, None] if (row, following) in broken_after else [row]
    return order


def _add_gaps(result: go.Figure, gaps: Sequence[Gap], x: Floats, y: Floats) -> None:
    """Dotted line over each gap that lies between two points, with its number."""
    for number, gap in enumerate(gaps, 1):
        if gap.before < 0 or gap.after < 0:
            continue
        ends = [gap.before, gap.after]
        result.add_scatter(
            x=x[ends].tolist(), y=y[ends].tolist(), mode="lines", hoverinfo="skip",
            line={"color": GREY, "dash": "dot", "width": 2}, name=f"gap {number}: no design",
        )  # fmt: skip
        cross = {"symbol": "x", "size": 9, "color": GREY, "line": {"width": 0}}
        add_marks(
            result, [x[ends].mean()], [y[ends].mean()], "gap", cross, mode="markers+text",
            text=[f"gap {number}"], textposition="top right", showlegend=False,
            hovertemplate=f"gap {number}: {safe(gap.reason, 90)}<extra></extra>",
        )  # fmt: skip


def projection_figure(
    points: pd.DataFrame, x: Column, y: Column, by: Column, texts: Sequence[str], start: int
) -> go.Figure:  # fmt: skip
    """Front of three objectives seen along one of them."""
    (wide, across), (tall, up) = (axis.drawn(points[axis.name]) for axis in (x, y))
    look = coloured(by.drawn(points[by.name])[0], 5.0, 8.0, "")
    del look["colorbar"]
    result = go.Figure()
    add_marks(
        result, wide.tolist(), tall.tolist(), "front", look, labels=list(range(len(points))),
        text=labels_of(texts), hovertemplate="%{text}<extra></extra>",
    )  # fmt: skip
    _add_knee_and_chosen(result, points, wide, tall, start)
    return frame(result, across, up, height=SMALL, legend=False, l=62, r=20, t=8)


def _add_knee_and_chosen(
    result: go.Figure, points: pd.DataFrame, x: Floats, y: Floats, start: int, **look: object
) -> None:
    """Mark the knees, and last the chosen point, which the page moves."""
    knees = points.index[points["knee"].astype(bool)].tolist()
    add_marks(result, x[knees].tolist(), y[knees].tolist(), "knee", KNEE, **look)
    add_marks(result, [x[start]], [y[start]], "chosen point", HERE)
    result.update_layout(clickmode="event")


def marked(figure: go.Figure, points: pd.DataFrame, *, x: Column, y: Column) -> dict[str, object]:
    """Return which trace marks the chosen point, the last one, and where each point lies."""
    places = {axis: column.drawn(points[column.name])[0].tolist()
              for axis, column in (("x", x), ("y", y))}  # fmt: skip
    return {"trace": len(figure.data) - 1, **places}
