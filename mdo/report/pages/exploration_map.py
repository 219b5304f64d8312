"""Part of the page on a requirement map: mass, feasibility, choices, reasons, costs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from mdo.report.drawings.bundle_numbers import bundle_numbers
from mdo.report.figures import requirement_map as figures
from mdo.report.figures.bars import (
    costs_figure,
    costs_of,
    costs_table,
    counts_figure,
    counts_of,
    counts_table,
    named_counts,
)
from mdo.report.figures.carpet import carpet_arrays, carpet_figure, carpet_names, line_figure
from mdo.report.pages.exploration_controls import (
    Chosen,
    Planes,
    axes_of_points,
    chosen_design,
    parallel_lines,
    telling,
)
from mdo.report.pages.exploration_views import MapData, Plane, grid_levels, map_data, planes
from mdo.report.pages.parts import Section, drawn, section_of
from mdo.report.words.exploration_columns import (
    FEASIBLE,
    Column,
    Columns,
    Listed,
    Tables,
    design_columns,
    thinned,
    thinned_words,
    values_table,
)

TEMPLATE = "map.html"
MOST_POINTS = 2000  # drawn
MOST_LISTED = 1000
MOST_BEHIND = 200  # rows of a table behind a figure
MOST_AXES = 4  # of a table behind a figure
KEY_VARIABLES = 4
MASS = "system_mass"
DEAR_COLUMNS = (
    Column("mass_bound", "bound on its error", "kg", difference=True),
    Column("dear_mass", "at the high-fidelity levels", "kg"),
)
Shown = dict[str, Any]
Change = Callable[[Plane], dict[str, object]]


def map_sections(tables: Tables) -> list[Section]:
    """Sections on a requirement map, those for which there is something to show."""
    columns = Columns(tables)
    link = "Mass over the map"
    if tables["map_points"].empty:
        return [section_of(TEMPLATE, "map-mass", link, "Mass", empty=True)]
    data = map_data(tables, columns)
    mass, region = _planes_shown(data, tables, columns)
    if len(data.choices) > 1:
        (region or mass)["choices"] = figures.choices_table(tables["map_points"], data)
    sections = [section_of(TEMPLATE, "map-mass", link, **mass)]
    if region:
        sections.append(section_of(TEMPLATE, "map-region", "Which choice where", **region))
    if "mass_bound" in data.best and (data.best["status"] == FEASIBLE).any():
        sections.append(_bounds(data))
    sections.append(_reasons(data))
    costs = costs_of(tables, data.axes)
    if costs:
        plot = drawn(costs_figure(costs), "map-costs", "Spread of the cost of each requirement")
        behind = Listed("", costs_table(costs))
        title = "What the requirements cost"
        sections.append(section_of(TEMPLATE, "map-costs", "Costs", title, plot=plot, behind=behind))
    return [*sections, _parallel(data, columns)]


def _planes_shown(data: MapData, tables: Tables, columns: Columns) -> tuple[Shown, Shown]:
    """Mass and choices in planes: slices of a grid, spread points, or over the only axis."""
    levels = grid_levels(data)
    feasible = bool((data.best["status"] == FEASIBLE).any())
    doubted = int((data.best["doubt"] != "").sum())
    mass: Shown = {"feasible": feasible, "doubted": doubted}
    region: Shown = {}
    if levels is not None and len(levels) > 1:
        _add_grid(mass, region, data, planes(data, levels))
    elif len(data.axes) == 1:
        axis = data.axes[0]
        said = f"Mass of each choice against {axis.title}"
        mass["line"] = drawn(line_figure(tables, data), "map-line", said)
        mass["behind"] = _points_table(data, data.best, "points")
    else:
        _add_spread(mass, region, data, columns)
    clicked = [name for name in ("heat", "carpet", "cloud") if name in mass]
    if clicked:
        names = [f"map-{name}" for name in clicked]
        mass["panel_note"], mass["panel"] = design_panel(
            data, columns, names, tables.get("map_choices", pd.DataFrame())
        )
    return mass, region if len(data.choices) > 1 and feasible else {}


def _add_grid(mass: Shown, region: Shown, data: MapData, pairs: Sequence[Sequence[Plane]]) -> None:
    """Add figures of the slices of a grid."""
    used = np.unique(np.concatenate([plane.rows.ravel() for pair in pairs for plane in pair]))
    texts = np.full(len(data.best), "", dtype=object)
    texts[used] = figures.place_texts(data.best.iloc[used], data.axes)
    kept = {int(row): str(texts[row]) for row in used}
    first, says = pairs[0][0], _plane_words(data, pairs[0][0])
    changes: dict[str, Change] = {
        "map-heat": lambda plane: _view(figures.heat_arrays(data, plane), plane)
    }
    heat = figures.heat_figure(data, first, texts)
    mass["heat"] = drawn(heat, "map-heat", f"Heat map. {says}")
    mass["behind"] = _points_table(data, data.best.iloc[first.rows.ravel()], "nodes of this plane")
    mass["slices"] = _left_out(data, pairs)
    if mass["feasible"]:
        changes["map-carpet"] = lambda plane: _carpet_view(data, plane)
        carpet = carpet_figure(data, first, texts)
        mass["carpet"] = drawn(carpet, "map-carpet", f"Carpet plot. {says}")
    mass["controls"] = _controls("map-plane", pairs, kept, changes)
    won = f"Which choice is the lightest at each point of the plane. {_won(data)}"
    region["controls"] = _controls("map-region-plane", pairs, kept, {
        "map-region": lambda plane: _view(figures.region_arrays(data, plane), plane)
    })  # fmt: skip
    region["plot"] = drawn(figures.region_figure(data, first, texts), "map-region", won)


def _plane_words(data: MapData, plane: Plane) -> str:
    part = data.best.iloc[plane.rows.ravel()]
    mass = part[MASS].dropna()
    spread = f", bound {mass.min():.3g} to {mass.max():.3g} kg" if len(mass) else ""
    return (
        f"{plane.x.title} against {plane.y.title}: {len(mass)} of {len(part)} points have a "
        f"feasible design{spread}."
    )


def _won(data: MapData) -> str:
    met = data.best[data.best["status"] == FEASIBLE]
    counts = ", ".join(
        f"{choice} {int((met['choice'] == choice).sum())}" for choice in data.choices
    )
    return f"Points won: {counts}."


def _left_out(data: MapData, pairs: Sequence[Sequence[Plane]]) -> int:
    """How many planes of a large grid the page holds, 0 for all of them."""
    axes = len(data.axes)
    cells = sum(plane.rows.size for pair in pairs for plane in pair)
    every = len(data.best) * axes * (axes - 1) // 2
    return 0 if cells >= every else sum(map(len, pairs))


def _controls(
    name: str, planes_of: Sequence[Sequence[Plane]], texts: Mapping[int, str],
    changes: Mapping[str, Change],
) -> Planes:  # fmt: skip
    """Choice of the plane that some figures show; labels of points by their row."""
    held = [[plane.held for plane in pair] for pair in planes_of]
    views = {
        figure: [[change(plane) for plane in pair] for pair in planes_of]
        for figure, change in changes.items()
    }
    words = [f"{pair[0].x.title} and {pair[0].y.title}" for pair in planes_of]
    return Planes(name, words, held, {"held": held, "figures": views, "texts": texts})


def _view(traces: list[dict[str, object]], plane: Plane) -> dict[str, object]:
    wide, tall = figures.titles(plane)
    return {"traces": traces, "layout": {"xaxis.title.text": wide, "yaxis.title.text": tall}}


def _carpet_view(data: MapData, plane: Plane) -> dict[str, object]:
    traces = carpet_arrays(data, plane)
    for trace, name in zip(traces, carpet_names(plane), strict=False):
        trace["name"] = name
    return {"traces": traces, "layout": {}}


def _add_spread(mass: Shown, region: Shown, data: MapData, columns: Columns) -> None:
    """Add figures of spread points in the plane of two axes: by mass, by thirds, by choice."""
    shown = thinned(data.best, MOST_POINTS).reset_index(drop=True)
    mass["note"] = thinned_words(len(shown), len(data.best), "points", "map_points")
    texts = figures.place_texts(shown, data.axes)
    x, y = data.axes[0], data.axes[1]

    def cloud(name: str, groups: Sequence[figures.Group], up: Column, said: str) -> Shown:
        chosen = {"x": 0, "y": 1} if up == y else {"x": 0}
        rows = {name: [rows for _, rows, _ in groups]}
        figure = figures.cloud_figure(shown, groups, x, up, texts)
        axes = axes_of_points(f"{name}-axes", rows, shown, data.axes, chosen)
        return {"plot": drawn(figure, name, said), "controls": axes}

    between = f"by {x.title} and {y.title}"
    said = f"Points of the map {between}, marked by whether they are feasible"
    mass["cloud"] = cloud("map-cloud", figures.cloud_groups(shown), y, said)
    mass["behind"] = _points_table(data, data.best, "points")
    if mass["feasible"]:
        said = f"Mass of the lightest design against {x.title}, marked by thirds of {y.title}"
        thirds = figures.third_groups(shown, y)
        mass["thirds"] = cloud("map-thirds", thirds, columns.of(MASS), said)
    said = f"Which choice is the lightest, {between}. {_won(data)}"
    region |= {"axes": True}
    region |= cloud("map-region", figures.choice_groups(data, shown), y, said)


def _points_table(data: MapData, frame: pd.DataFrame, what: str) -> Listed:
    """Rows of points behind a figure."""
    columns = [*data.axes[:MOST_AXES], Column(MASS, "bound", "kg")]
    return values_table(
        frame, columns, most=MOST_BEHIND, of=len(frame), what=(what, "map_points"),
        first={"point": "point"},
        words={"choice": "choice", "status": "status", "reason": "what blocks"},
    )  # fmt: skip


def _reasons(data: MapData) -> Section:
    counts, total = named_counts(counts_of(data.best)), len(data.best)
    plot = drawn(
        counts_figure(counts, "points", total), "map-reasons",
        f"Bars of {total:,} points by status and reason",
    )  # fmt: skip
    link, title = "What blocks", "What blocks the infeasible points"
    behind = Listed("", counts_table(counts, "points", total))
    return section_of(TEMPLATE, "map-reasons", link, title, plot=plot, behind=behind)


def _bounds(data: MapData) -> Section:
    """Bound on the error of mass over the map, and the points solved at the dear levels."""
    shown = thinned(data.best, MOST_POINTS).reset_index(drop=True)
    x, y = data.axes[0], data.axes[min(1, len(data.axes) - 1)]
    groups = figures.bound_groups(shown)
    texts = figures.place_texts(shown, data.axes)
    up = y if len(data.axes) > 1 else Column(MASS, "bound", "kg")
    figure = figures.cloud_figure(shown, groups, x, up, texts)
    said = f"Bound on the error of mass by {x.title} and {up.title}"
    rows, chosen = {"map-bound": [each for _, each, _ in groups]}, {"x": 0}
    chosen |= {"y": 1} if up == y else {}
    controls = axes_of_points("map-bound-axes", rows, shown, data.axes, chosen)
    columns = [*data.axes[:MOST_AXES], Column(MASS, "bound", "kg"), *DEAR_COLUMNS]
    behind = values_table(
        data.best, columns, most=MOST_BEHIND, of=len(data.best), what=("points", "map_points"),
        first={"point": "point"}, words={"dear": "solved"},
    )  # fmt: skip
    return section_of(
        TEMPLATE, "map-bound", "How far off", "How far off the masses may be",
        plot=drawn(figure, "map-bound", said), controls=controls, behind=behind,
    )  # fmt: skip


def _parallel(data: MapData, columns: Columns) -> Section:
    met = (data.best["status"] == FEASIBLE).to_numpy()
    shown = thinned(data.best, MOST_POINTS).reset_index(drop=True)
    variables = [columns.of(name) for name in design_columns(data.best)]
    axes = list(data.axes)
    if met.any():
        axes += [columns.of(MASS), *telling(data.best[met], variables, KEY_VARIABLES)]
    note = thinned_words(len(shown), len(data.best), "points", "map_points")
    block = parallel_lines(
        "map-lines", shown, axes, lead=columns.of(MASS),
        met=(shown["status"] == FEASIBLE).to_numpy(),
        alternative=f"Parallel coordinates of {len(shown):,} points",
    )  # fmt: skip
    return section_of(TEMPLATE, "map-parallel", "All axes at once", note=note, block=block)


def map_points_section(tables: Tables) -> Section:
    """Table of all points of a map and choices, thinned."""
    points, columns = tables["map_points"], Columns(tables)
    axes = [columns.of(str(name)) for name in tables["map_axes"]["axis"]]
    listed = values_table(
        points, [*axes, columns.of(MASS), columns.of("violation")], most=MOST_LISTED,
        of=len(points), what=("rows", "map_points"),
        first={"point": "point", **({"choice": "choice"} if points["choice"].any() else {})},
        words={"status": "status", "reason": "what blocks", "active": "active rows"},
    )  # fmt: skip
    ranges = [
        f"{axis.title}: {axis.text(float(line.low))} to {axis.text(float(line.high))}"
        for axis, line in zip(axes, tables["map_axes"].itertuples(), strict=True)
    ]
    return section_of(TEMPLATE, "points", "Points of the map", listed=listed, ranges=ranges)


def design_panel(
    data: MapData, columns: Columns, clicked: Sequence[str], built: pd.DataFrame
) -> tuple[str, Chosen]:
    """Return how many designs can be chosen, and the panel, with the lightest one at first.

    Parameters
    ----------
    data, columns : of the map
    clicked : names of the figures in which a click chooses a point
    built : the table ``map_choices``; without it no bundle is drawn
    """
    shown = thinned(data.best, MOST_POINTS).reset_index(drop=True)
    labels = figures.place_texts(shown, data.axes)
    mass = shown[MASS].to_numpy(float)
    start = int(np.nanargmin(mass)) if (shown["status"] == FEASIBLE).any() else 0
    said = [label.replace("<br>", ", ") for label in labels]
    variables = [columns.of(name) for name in design_columns(shown, built)]
    marked: dict[str, dict[str, object]] = {name: {} for name in clicked}
    note = thinned_words(len(shown), len(data.best), "points", "map_points")
    bundles = bundle_numbers(shown, "choice", built)
    chosen = chosen_design("map-chosen", shown, said, variables, marked, start, labels, bundles)
    return note, chosen
