"""Look of every figure: colours, hatching, a quiet layout, bars with words at their ends."""

from __future__ import annotations

import html
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import plotly.graph_objects as go

# Mid tones that read on a light and on a dark page; text and grid are coloured by the page.
BLUE, RUST, GREEN, AMBER, GREY = "#3d7fc4", "#c9573f", "#2f9277", "#b27c12", "#858a93"
BAND = "rgba(138,143,152,0.28)"
# Of one thing beside others; told apart by the colour-blind and on a dark page, mark and letter say
# the same.
COLOURS = ("#3d7fc4", "#c9573f", "#2f9277", "#c98f1d", "#8f63b8", "#5aa7c7", "#b8668f", "#7d8b3f")
MARKS = ("circle", "square", "diamond", "triangle-up", "cross", "x", "star", "triangle-down")
FONT = "system-ui, -apple-system, Segoe UI, sans-serif"
ROW_HEIGHT = 22  # [px] of a bar
HATCHES = {AMBER: "/", RUST: "x"}  # so that colour is not needed to tell bars apart
AT_LIMIT = 1e-6
Look = Mapping[str, Any]
NONE: Look = {}


def hatched(colour: str | Sequence[str]) -> dict[str, Any]:
    """Return the look of bars: a colour, or one for each bar, with its hatching.

    A list of colours needs a plain background beside it: without one the library looks for the
    contrast to the list, which it does not take for a colour. Each bar keeps its own colour.
    """
    many = not isinstance(colour, str)
    shapes = [HATCHES.get(each, "") for each in colour] if many else HATCHES.get(str(colour), "")
    pattern = {"shape": shapes, "fillmode": "overlay", "bgcolor": GREY if many else colour,
               "fgcolor": "#ffffff", "fgopacity": 0.55, "size": 6, "solidity": 0.22}  # fmt: skip
    return {"color": colour, "pattern": pattern}


def quiet(
    result: go.Figure, *, height: int, margin: Look = NONE, x: Look = NONE, y: Look = NONE,
    **layout: Any,
) -> go.Figure:  # fmt: skip
    """Return a figure in the quiet layout: transparent, thin grid, no title; the page colours it.

    Parameters
    ----------
    height : [px]
    margin, x, y : what differs at the margins [px] and at both axes
    layout : and elsewhere
    """
    axis = {"showgrid": True, "gridwidth": 1, "zeroline": True, "ticks": "", "fixedrange": True}
    return result.update_layout({
        "template": "none", "height": height, "autosize": True, "showlegend": False,
        "paper_bgcolor": "rgba(0,0,0,0)", "plot_bgcolor": "rgba(0,0,0,0)", "bargap": 0.28,
        "margin": {"l": 58, "r": 14, "t": 8, "b": 44, **margin},
        "font": {"family": FONT, "size": 12},
        "legend": {"orientation": "h", "y": 1.0, "yanchor": "bottom", "x": 0.0},
        "hoverlabel": {"bgcolor": "#30343b", "font": {"color": "#ffffff"}},
        "xaxis": {**axis, **x}, "yaxis": {**axis, "automargin": False, **y},
    }, **layout)  # fmt: skip


def add_line(
    result: go.Figure, x: Any, y: Any, name: str, colour: str, dash: str = "solid", *,
    width: float = 2.0, hover: str = "", **more: Any,
) -> None:  # fmt: skip
    """Add a line to a figure; the pointer shows what ``hover`` says, without it nothing."""
    said = {"hovertemplate": f"{hover}<extra></extra>"} if hover else {"hoverinfo": "skip"}
    line = {"color": colour, "dash": dash, "width": width}
    result.add_scatter(x=x, y=y, name=name, **({"mode": "lines", "line": line} | said | more))


def add_band(result: go.Figure, x: Any, low: Any, high: Any, **more: Any) -> None:
    """Add a band between two curves."""
    result.add_scatter(
        x=[*x, *x[::-1]], y=[*high, *low[::-1]], fill="toself", fillcolor=BAND, line={"width": 0},
        hoverinfo="skip", **more,
    )  # fmt: skip


def add_words(result: go.Figure, x: Any, y: Any, words: Sequence[str]) -> None:
    """Write words to the right of places."""
    result.add_scatter(
        x=x, y=y, mode="text", text=words, textposition="middle right", hoverinfo="skip",
        cliponaxis=False, showlegend=False,
    )  # fmt: skip


def bars(x: Any, colour: str | Sequence[str], hover: str, name: str = "", **more: Any) -> Look:
    """Series of bars of some sizes; the pointer shows what ``hover`` says, and their name."""
    named = {"name": name} if name else {}
    said = {"hovertemplate": f"{hover}<extra>{name}</extra>"}
    return {"x": x, "marker": hatched(colour)} | said | named | more


def bar_figure(
    names: Iterable[str], bars: Sequence[Look], *, axis: str, left: int,
    words: Sequence[str] = (), ends: Iterable[float] = (), row: int = ROW_HEIGHT,
    span: Sequence[float] | None = None, letters: int = 11,
) -> go.Figure:  # fmt: skip
    """Lying bars with words at their ends, the first name at the bottom.

    Parameters
    ----------
    names : of the rows, HTML of the library
    bars : series of bars, each as the library takes it: sizes ``x``, ``marker``, ``hovertemplate``
    axis : title of the axis of sizes
    left : room for the names [px]
    words, ends : what stands beside each bar, and where
    row : height of a row [px]
    span : ends of the axis of sizes
    letters : size of the names [px]
    """
    rows = list(names)
    result = go.Figure()
    for series in bars:
        result.add_bar(y=rows, orientation="h", **series)
    if words:
        add_words(result, list(ends), rows, [f"  {text}" for text in words])
    many = len(bars) > 1
    return quiet(
        result, height=70 + 10 * many + row * len(rows), margin={"l": left}, showlegend=many,
        legend_traceorder="normal", x={"title": {"text": axis}, "range": span},
        y={"showgrid": False, "ticksuffix": "  ", "tickfont": {"size": letters}},
    )  # fmt: skip


def row_names(names: Iterable[object]) -> list[str]:
    """Names of rows with nothing in them that the library takes for HTML."""
    return [html.escape(str(name)) for name in names]


LABEL = "%{customdata}<extra></extra>"
LEFT = 76  # [px] for the numbers of the upright axis


def add_marks(
    result: go.Figure, x: Any, y: Any, name: str, look: Any, *, labels: Any = None, **more: Any
) -> None:
    """Add marks to a figure; the pointer shows their labels, where they have none nothing."""
    silent = labels is None and "hovertemplate" not in more
    said = {"hoverinfo": "skip"} if silent else {"hovertemplate": LABEL}
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
