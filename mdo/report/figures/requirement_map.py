"""Figures of a requirement map: pure functions of the best design of every point."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
import plotly.graph_objects as go
from numpy.typing import NDArray

from mdo.explore.maps.dear import HELD_OUT, SOLVED_DEAR, inside
from mdo.report.figures.bars import titles_of
from mdo.report.figures.style import (
    AMBER,
    BLUE,
    COLOURS,
    GREEN,
    GREY,
    LABEL,
    MARKS,
    RUST,
    add_marks,
    frame,
)
from mdo.report.pages.exploration_views import MapData, Plane
from mdo.report.words.cells import Cell
from mdo.report.words.exploration_columns import FEASIBLE, UNSETTLED, Column, numbers, safe
from mdo.report.words.printed import DASH
from mdo.report.words.table import Table

Texts = NDArray[Any]
# The first under white text, darker as it grows so that it reads in grey; the second for marks on a
# light and on a dark page, which say by their size what grey does not.
HEAT = [[0.0, "#1f7f6b"], [0.35, "#2b5f92"], [0.7, "#4a2f78"], [1.0, "#3a0f24"]]
TONES = [[0.0, GREEN], [0.35, BLUE], [0.7, "#8f63b8"], [1.0, RUST]]
HEIGHT = 430  # [px]
WIDE_SPAN = 1e3  # largest over smallest number from which an axis is logarithmic
MOST_NAMED = 4  # requirements of a label
MOST_TEXTS = 150  # cells with a number in them
THIRDS = ("lowest third", "middle third", "highest third")
CROSS = {"symbol": "x-thin-open", "size": 8, "color": GREY, "line": {"width": 2, "color": GREY}}
OPEN = {"symbol": "star-open", "size": 9, "color": AMBER, "line": {"width": 1.6}}


def place_texts(frame: pd.DataFrame, axes: Sequence[Column]) -> list[str]:
    """Return what a label says of each point: mass or why not, choice, and where it lies."""
    texts = []
    for line in frame.to_dict("records"):
        if line["status"] == FEASIBLE:
            said = f"{line['system_mass']:.4g} kg"
            said += f", {safe(line['choice'])}" if line["choice"] else ""
            said += f"<br>not settled: {safe(line['doubt'])}" if line.get("doubt") else ""
            said += _dear_text(line)
        else:
            said = f"{line['status']}: {_reason(str(line['reason']))}"
        where = (f"{safe(axis.title)} {axis.text(float(line[axis.name]))}" for axis in axes)
        texts.append("<br>".join([said, *where]))
    return texts


def _dear_text(line: Mapping[Any, Any]) -> str:
    """Bound on the error of a mass of corrected rows, and how the point was solved."""
    if line.get("dear", SOLVED_DEAR) == SOLVED_DEAR:
        return f"<br>{SOLVED_DEAR}" if "dear" in line else ""
    bound, held = line["mass_bound"], line["dear"] == HELD_OUT
    text = f"<br>± {bound:.2g} kg" if np.isfinite(bound) else "<br>bound not known"
    return text + (f"; {HELD_OUT}, dear {line['dear_mass']:.4g} kg" if held else "")


def _reason(text: str) -> str:
    """First requirements that a reason names, a line each."""
    named = [safe(title) for title in titles_of(text)]
    rest = [f"and {len(named) - MOST_NAMED} more"] if len(named) > MOST_NAMED else []
    return "<br>".join([*named[:MOST_NAMED], *rest]) or "no reason given"


def with_texts(part: dict[str, object], texts: Texts) -> dict[str, object]:
    """Return what a trace shows with the labels of its points instead of their rows."""
    given = dict(part)
    rows = given.pop("rows", None)
    return given if rows is None else {**given, "customdata": texts[np.array(rows, int)].tolist()}


def heat_figure(data: MapData, plane: Plane, texts: Texts) -> go.Figure:
    """Mass of the lightest design on a plane, with the boundary of what is feasible."""
    result = go.Figure()
    parts = [with_texts(part, texts) for part in heat_arrays(data, plane)]
    low, high = numbers(data.best["system_mass"].agg(["min", "max"]), 12)
    few = plane.rows.size <= MOST_TEXTS
    gap, cross = (1, CROSS) if few else (0, {**CROSS, "size": 5})
    result.add_heatmap(
        **parts[0], colorscale=HEAT, zmin=low, zmax=high,
        xgap=gap, ygap=gap, hovertemplate=LABEL, name="mass",
        texttemplate="%{text}",
        colorbar={"title": {"text": "bound [kg]"}, "thickness": 14, "outlinewidth": 0, "x": 1.01},
    )  # fmt: skip
    result.add_contour(
        **parts[1], showscale=False, hoverinfo="skip", name="boundary of what is feasible",
        contours={"start": 0.5, "end": 0.5, "size": 1.0, "coloring": "none"}, showlegend=True,
        line={"smoothing": 0, "color": RUST, "width": 4, "dash": "dash"}, ncontours=1,
        autocontour=False,
    )  # fmt: skip
    for part, words, look in ((parts[2], "infeasible", cross), (parts[3], "not settled", OPEN)):
        add_marks(result, part["x"], part["y"], words, look, labels=part["customdata"])
    bare = {"showgrid": False}
    return frame(result, *titles(plane), height=HEIGHT, x=bare, y=bare, r=84)


def titles(plane: Plane) -> list[str]:
    """Return the titles of both axes of a plane."""
    return [plane.x.drawn(plane.x_levels)[1], plane.y.drawn(plane.y_levels)[1]]


def heat_arrays(data: MapData, plane: Plane) -> list[dict[str, object]]:
    """Return what differs between planes, for every trace of the heat map."""
    x, y = plane.x.drawn(plane.x_levels)[0], plane.y.drawn(plane.y_levels)[0]
    mass = data.best["system_mass"].to_numpy(float)[plane.rows]
    status, doubt = (data.best[name].to_numpy(str)[plane.rows] for name in ("status", "doubt"))
    known = np.isfinite(mass) & (mass.size <= MOST_TEXTS)
    # a question mark where a choice did not settle
    texts = np.char.add(np.char.mod("%.3g", mass), np.where(doubt != "", " ?", ""))
    ends = {"x": x.tolist(), "y": y.tolist()}
    blocked = (status != FEASIBLE) & (status != UNSETTLED)
    return [
        {**ends, "z": numbers(mass), "text": np.where(known, texts, "").tolist(),
         "rows": plane.rows.tolist()},
        {**ends, "z": (status == FEASIBLE).astype(float).tolist()},
        *_nodes(plane, [blocked, status == UNSETTLED]),
    ]  # fmt: skip


def _nodes(plane: Plane, groups: Sequence[Texts]) -> list[dict[str, object]]:
    """Where the nodes of a plane that are in each group lie, and their rows."""
    wide, tall = np.meshgrid(plane.x.drawn(plane.x_levels)[0], plane.y.drawn(plane.y_levels)[0])
    return [
        {"x": wide[group].tolist(), "y": tall[group].tolist(), "rows": plane.rows[group].tolist()}
        for group in groups
    ]


def region_figure(data: MapData, plane: Plane, texts: Texts) -> go.Figure:
    """Which choice is the lightest at every node of a plane: mark and colour."""
    *parts, none = [with_texts(part, texts) for part in region_arrays(data, plane)]
    result, size = go.Figure(), 20 if max(plane.rows.shape) <= 12 else 9
    for number, (part, choice) in enumerate(zip(parts, data.choices, strict=True)):
        look = {**mark(number, size), "symbol": part["marker.symbol"]}
        add_marks(result, part["x"], part["y"], safe(choice), look, labels=part["customdata"])
    add_marks(result, none["x"], none["y"], "no feasible design", CROSS, labels=none["customdata"])
    return frame(result, *titles(plane), height=HEIGHT - 60)


def region_arrays(data: MapData, plane: Plane) -> list[dict[str, object]]:
    """Return what differs between planes, for every choice and for where none is feasible."""
    met, choice, doubt = (data.best[name].to_numpy(str)[plane.rows]
                          for name in ("status", "choice", "doubt"))  # fmt: skip
    won = [(met == FEASIBLE) & (choice == name) for name in data.choices]
    parts = _nodes(plane, [*won, met != FEASIBLE])
    for number, (part, group) in enumerate(zip(parts[:-1], won, strict=True)):
        part["marker.symbol"] = symbols(number, doubt[group])
    return parts


def symbols(number: int, doubt: Texts) -> list[str]:
    """Return the mark of a choice at each point, open where another choice did not settle."""
    name = MARKS[number % len(MARKS)]
    return [f"{name}-open" if text else name for text in doubt]


def mark(number: int, size: int) -> dict[str, object]:
    """Return mark and colour of a choice."""
    place = number % len(MARKS)
    line = {"width": 2, "color": COLOURS[place]}
    return {"symbol": MARKS[place], "color": COLOURS[place], "size": size, "line": line}


Group = tuple[str, np.ndarray, dict[str, object]]


def cloud_groups(shown: pd.DataFrame) -> list[Group]:
    """Return the points of a spread map by status: name, rows, look of the marks."""
    status = shown["status"].to_numpy(str)
    met, open_ = status == FEASIBLE, status == UNSETTLED
    mass = shown["system_mass"].to_numpy(float)[met]
    look = coloured(mass, 5.0, 9.0, "bound [kg]")
    return groups_of([
        ("feasible, larger is heavier", met, look), ("infeasible", ~met & ~open_, CROSS),
        ("not settled", open_, OPEN),
    ])  # fmt: skip


def coloured(values: np.ndarray, least: float, more: float, title: str) -> dict[str, object]:
    """Return marks that grow from a least size [px] and change colour with a value."""
    low, span = float(np.min(values, initial=np.inf)), float(np.ptp(values)) if values.size else 0.0
    share = (values - low) / span if span > 0.0 else np.full(values.size, 0.5)
    return {
        "color": numbers(values), "colorscale": TONES, "opacity": 1.0, "symbol": "circle",
        "size": numbers(least + more * share), "line": {"width": 0},
        "colorbar": {"title": {"text": title}, "thickness": 14, "outlinewidth": 0},
    }  # fmt: skip


def bound_groups(shown: pd.DataFrame) -> list[Group]:
    """Return the feasible points of a map by how they were solved, coloured by their bound."""
    met = (shown["status"] == FEASIBLE).to_numpy()
    dear = shown["dear"].to_numpy(str)
    share = (100.0 * shown["mass_bound"] / shown["system_mass"]).to_numpy(float)
    known = np.isfinite(share)
    held, kept = met & (dear == HELD_OUT), np.zeros(len(shown), dtype=bool)
    kept[held] = inside(shown[held])
    plain = met & (dear == "") & known
    look = coloured(share[plain], 6.0, 7.0, "bound [%]")
    look |= {"cmin": 0.0, "cmax": float(share[plain].max(initial=0.0))}
    line, diamond = {"width": 2, "color": GREY}, {"symbol": "diamond", "size": 10, "color": BLUE}
    return groups_of([
        ("bound by colour and size", plain, look),
        (SOLVED_DEAR, met & (dear == SOLVED_DEAR), diamond),
        (f"{HELD_OUT}, inside", kept, {"symbol": "square-open", "size": 10, "line": line}),
        (f"{HELD_OUT}, outside", held & ~kept, {**CROSS, "size": 11}),
        ("bound not known", met & (dear == "") & ~known, OPEN),
    ])  # fmt: skip


def groups_of(groups: Sequence[Group]) -> list[Group]:
    """Return the groups that have any points, their masks as numbers of rows."""
    rows = [(name, np.flatnonzero(mask), look) for name, mask, look in groups]
    return [group for group in rows if group[1].size]


def choice_groups(data: MapData, shown: pd.DataFrame) -> list[Group]:
    """Return the points of a spread map by the choice that is the lightest there."""
    met = (shown["status"] == FEASIBLE).to_numpy()
    choice, doubt = (shown[name].to_numpy(str) for name in ("choice", "doubt"))
    won = [(name, met & (choice == name)) for name in data.choices]
    groups: list[Group] = [
        (name, mask, {**mark(number, 7), "symbol": symbols(number, doubt[mask])})
        for number, (name, mask) in enumerate(won)
    ]
    return groups_of([*groups, ("no feasible design", ~met, CROSS)])


def third_groups(shown: pd.DataFrame, axis: Column) -> list[Group]:
    """Return the feasible points of a spread map by the third of an axis in which they lie."""
    values = shown[axis.name].to_numpy(float)
    ends = np.linspace(values.min(), values.max(), 4)[1:3] if values.size else np.zeros(2)
    met = (shown["status"] == FEASIBLE).to_numpy()
    third = np.searchsorted(ends, values)
    looks = (("circle", BLUE), ("diamond-open", GREEN), ("triangle-up", RUST))
    return [
        (f"{axis.title}: {words}", np.flatnonzero(met & (third == number)),
         {"symbol": symbol, "color": colour, "size": 7,
          "line": {"width": 1.2, "color": colour}})
        for number, (words, (symbol, colour)) in enumerate(zip(THIRDS, looks, strict=True))
    ]  # fmt: skip


def cloud_figure(shown: pd.DataFrame, groups: Sequence[Group], x: Column, y: Column,
                 texts: Sequence[str]) -> go.Figure:  # fmt: skip
    """Points in the plane of two columns, a mark for each group."""
    result = go.Figure()
    wide, across = x.drawn(shown[x.name])
    tall, up = y.drawn(shown[y.name])
    labels = np.array(texts, dtype=object)
    for name, rows, look in groups:
        x_, y_ = numbers(wide[rows]), numbers(tall[rows])
        add_marks(result, x_, y_, safe(name), look, labels=labels[rows].tolist())
    scales = [{"type": axis_type(values)} for values in (wide, tall)]
    return frame(result, across, up, height=HEIGHT, x=scales[0], y=scales[1])


def axis_type(values: np.ndarray) -> str:
    """Return the scale of an axis: logarithmic where numbers above zero span many decades."""
    known = values[np.isfinite(values)]
    wide = known.size and known.min() > 0.0 and known.max() > WIDE_SPAN * known.min()
    return "log" if wide else "linear"


def choices_table(points: pd.DataFrame, data: MapData) -> Table:
    """Return how each choice did over the map."""
    best = data.best[data.best["status"] == FEASIBLE].set_index("point")
    rows = []
    for choice in data.choices:
        part = points[(points["choice"] == choice) & (points["status"] == FEASIBLE)]
        won = int((best["choice"] == choice).sum())
        over = part["system_mass"] / part["point"].map(best["system_mass"]) - 1.0
        middle = 100.0 * float(over.median())
        text = f"{middle:.1f} %" if np.isfinite(middle) else DASH
        rows.append((choice, Cell(f"{len(part):,}", len(part)), Cell(f"{won:,}", won),
                     Cell(text, middle)))  # fmt: skip
    head = ("choice", "feasible at", "lightest at", "median over the lightest")
    return Table(head, rows, right=(1, 2, 3), sortable=True, kind="lead")
