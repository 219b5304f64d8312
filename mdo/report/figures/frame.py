"""Frames that the figures of explorations share: axes, labels of marks, names beside rows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import plotly.graph_objects as go

from mdo.report.figures.style import NONE, Look, quiet

LABEL = "%{customdata}<extra></extra>"
LEFT = 76  # [px] for the numbers of the upright axis


def add_marks(
    result: go.Figure, x: Any, y: Any, name: str, look: Any, *, labels: Any = None, **more: Any
) -> None:
    """Add marks to a figure; the pointer shows their labels, where they have none nothing."""
    said = {"hoverinfo": "skip"} if labels is None else {"hovertemplate": LABEL}
    given = {"mode": "markers", "customdata": labels} | said | more
    result.add_scatter(x=x, y=y, name=name, marker=look, **given)


def frame(
    result: go.Figure, across: str, up: str, *, height: int, legend: bool = True, x: Look = NONE,
    y: Look = NONE, **margin: int,
) -> go.Figure:  # fmt: skip
    """Return a figure with titles of its axes and room for them [px]."""
    return quiet(
        result, height=height, showlegend=legend, margin={"l": LEFT, "r": 30, "t": 40, **margin},
        x={"title": {"text": across}, "zeroline": False, **x},
        y={"title": {"text": up}, "zeroline": False, **y},
    )  # fmt: skip


def frame_rows(
    result: go.Figure, names: Sequence[str], across: str, *, left: int, height: int,
    legend: bool = False, lines: bool = False, x: Look = NONE,
) -> go.Figure:  # fmt: skip
    """Return a figure of rows, the first one lowest, with their names beside them.

    Parameters
    ----------
    names : of the rows, safe for a figure
    across : title of the axis
    left, height : room for the names, height of the figure [px]
    legend, lines : whether there is a legend, and a thin line at each row
    x : what differs at the axis
    """
    return quiet(
        result, height=height, showlegend=legend, margin={"l": left},
        x={"title": {"text": across}, **x},
        y={"tickvals": list(range(len(names))), "ticktext": list(names), "ticksuffix": "  ",
           "showgrid": lines, "tickfont": {"size": 11}, "range": [-0.6, len(names) - 0.4],
           "zeroline": False},
    )  # fmt: skip
