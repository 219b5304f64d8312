"""Mass of a requirement map upwards: a carpet over two axes, lines over a single one."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from mdo.arrays import Floats
from mdo.report.figures.requirement_map import (
    CROSS,
    HEIGHT,
    Texts,
    mark,
    place_texts,
    with_texts,
)
from mdo.report.figures.style import BLUE, GREY, RUST, add_line, add_marks, frame
from mdo.report.pages.exploration_views import Ints, MapData, Plane
from mdo.report.words.exploration_columns import FEASIBLE, Column, Tables, numbers, safe

SHIFT = 0.55  # of the width of a carpet that its second axis moves a point
MOST_LINES = 8  # of one axis


def carpet_figure(data: MapData, plane: Plane, texts: Texts) -> go.Figure:
    """Mass against two axes at once: a net of lines, each at one level of an axis."""
    solid, dashed, nodes, *ends = [with_texts(part, texts) for part in carpet_arrays(data, plane)]
    result, names = go.Figure(), carpet_names(plane)
    add_line(result, solid["x"], solid["y"], names[0], BLUE)
    add_line(result, dashed["x"], dashed["y"], names[1], RUST, "dash")
    look = {"color": GREY, "size": 7, "symbol": "circle"}
    add_marks(result, nodes["x"], nodes["y"], "designs", look, labels=nodes["customdata"],
              showlegend=False)  # fmt: skip
    for part in ends:
        result.add_scatter(
            **part, mode="text", hoverinfo="skip", showlegend=False, cliponaxis=False,
            textfont={"size": 11},
        )  # fmt: skip
    return frame(
        result, "", "bound: least mass, counts free [kg]", height=HEIGHT, l=62, r=90, b=40,
        x={"showgrid": False, "showticklabels": False, "range": [-0.12, 1.67]},
    )  # fmt: skip


def carpet_names(plane: Plane) -> list[str]:
    """Return the names of the two families of lines of a carpet."""
    return [f"solid: {safe(plane.x.title)}", f"dashed: {safe(plane.y.title)}"]


def carpet_arrays(data: MapData, plane: Plane) -> list[dict[str, object]]:
    """Return what differs between planes, for every trace of the carpet."""
    x, y = (_kept(levels) for levels in (plane.x_levels, plane.y_levels))
    rows = plane.rows[np.ix_(y, x)]
    mass = data.best["system_mass"].to_numpy(float)[rows]
    shares = [(levels - levels[0]) / np.ptp(levels) for levels in (plane.x_levels, plane.y_levels)]
    wide, tall = np.meshgrid(shares[0][x], shares[1][y])
    across = wide + SHIFT * tall
    met = np.isfinite(mass)
    nodes = {"x": numbers(across[met]), "y": numbers(mass[met]),
             "rows": rows[met].tolist()}  # fmt: skip
    ends = _line_ends(mass.T, across.T, plane.x, plane.x_levels[x], first=True)
    sides = _line_ends(mass, across, plane.y, plane.y_levels[y], first=False)
    ends["textposition"], sides["textposition"] = _free_side(mass), "middle right"
    return [_net(across.T, mass.T), _net(across, mass), nodes, ends, sides]


def _kept(levels: Floats) -> Ints:
    """Levels that have a line: all of a few, else evenly picked with both ends."""
    size = min(levels.size, MOST_LINES)
    return np.round(np.linspace(0, levels.size - 1, size)).astype(int)


def _free_side(mass: Floats) -> str:
    """Side of the beginnings of the solid lines to which no line leads."""
    falls = [float(np.nansum(np.diff(mass, axis=axis))) < 0.0 for axis in (1, 0)]
    upright = "top" if falls[1] else "bottom"
    return f"{upright} {'right' if falls[0] == falls[1] else 'left'}"


def _net(across: Floats, mass: Floats) -> dict[str, object]:
    """Lines of one family as one trace, broken between lines and where nothing is feasible."""
    gap = np.full((len(mass), 1), np.nan)
    x, y = (numbers(np.hstack([each, gap]).ravel()) for each in (across, mass))
    return {"x": x, "y": y}


def _line_ends(
    mass: Floats, across: Floats, axis: Column, levels: Floats, *, first: bool
) -> dict[str, object]:
    """Level of each line, written at one of its ends."""
    met = np.isfinite(mass)
    lines = np.flatnonzero(met.any(axis=1))
    at = np.argmax(met, axis=1) if first else met.shape[1] - 1 - np.argmax(met[:, ::-1], axis=1)
    x, y = (numbers(each[lines, at[lines]]) for each in (across, mass))
    texts = [("" if first else "  ") + axis.level(float(level)) for level in levels[lines]]
    return {"x": x, "y": y, "text": texts}


def line_figure(tables: Tables, data: MapData) -> go.Figure:
    """Mass against a single axis, a line for each choice, broken where it is not feasible."""
    axis, result = data.axes[0], go.Figure()
    points = tables["map_points"].sort_values([axis.name, "point"], kind="stable")
    like = points[axis.name]
    for number, choice in enumerate(data.choices or ("",)):
        part = points[points["choice"] == choice]
        mass = part["system_mass"].where(part["status"] == FEASIBLE).to_numpy(float)
        look, x = mark(number, 8), axis.drawn(part[axis.name], like=like)[0].tolist()
        add_marks(
            result, x, numbers(mass), safe(choice or "lightest design"), look,
            labels=place_texts(part, [axis]), mode="lines+markers",
            line={"color": look["color"], "width": 2},
        )  # fmt: skip
    none = data.best[data.best["status"] != FEASIBLE]
    if len(none):
        low, high = points["system_mass"].agg(["min", "max"])  # below all masses
        foot = float(f"{low - 0.1 * (high - low):.4g}") if np.isfinite(low) else 0.0
        places = axis.drawn(none[axis.name], like=like)[0].tolist()
        add_marks(
            result, places, [foot] * len(none), "no feasible design (at the foot)", CROSS,
            labels=place_texts(none, [axis]),
        )  # fmt: skip
    return frame(result, axis.drawn(like)[1], "bound [kg]", height=HEIGHT)
