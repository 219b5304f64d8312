"""Part of the page on a requirement map: mass, feasibility, choices, reasons, costs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
import pandas as pd

from mdo.report.drawings.bundle_numbers import bundle_numbers
from mdo.report.figures import bars
from mdo.report.figures import requirement_map as figures
from mdo.report.figures.carpet import carpet_arrays, carpet_figure, carpet_names, line_figure
from mdo.report.pages.exploration_controls import (
    axes_of_points,
    chosen_design,
    parallel_lines,
    telling,
)
from mdo.report.pages.exploration_views import MapData, Plane, grid_levels, map_data, planes
from mdo.report.pages.parts import Facts, Section, drawn, section_of
from mdo.report.words.exploration_columns import (
    FEASIBLE,
    Column,
    Columns,
    Tables,
    design_columns,
    values_table,
)
from mdo.report.words.table import Table

MOST_LISTED = 1000
MOST_BEHIND = 200  # rows of a table behind a figure
MOST_AXES = 4  # of a table behind a figure
KEY_VARIABLES = 4
MASS = "system_mass"
BOUND = Column(MASS, "bound", "kg")
DEAR_COLUMNS = (
    Column("mass_bound", "bound on its error", "kg", difference=True),
    Column("dear_mass", "at the high-fidelity levels", "kg"),
)
STANDING = {"choice": "choice", "status": "status", "reason": "what blocks"}
Change = Callable[[Plane], Facts]


def map_sections(tables: Tables) -> list[Section]:
    """Sections on a requirement map, those for which there is something to show."""
    columns = Columns(tables)
    if tables["map_points"].empty:
        return [section_of("map-mass", title="Mass", empty=True)]
    data = map_data(tables, columns)
    feasible = bool((data.best["status"] == FEASIBLE).any())
    mass, region = _planes_shown(data, tables, columns, feasible=feasible)
    if len(data.choices) > 1:
        (region or mass)["choices"] = figures.choices_table(tables["map_points"], data)
    sections = [section_of("map-mass", **mass)]
    if region:
        sections.append(section_of("map-region", **region))
    if "mass_bound" in data.best and feasible:
        sections.append(_bounds(data))
    reasons = counted("map-reasons", bars.counts_of(data.best), "points")
    sections.append(section_of("map-reasons", **reasons))
    costs = bars.costs_of(tables, data.axes)
    if costs:
        said = "Spread of the cost of each requirement"
        plot = drawn(bars.costs_figure(costs), "map-costs", said)
        sections.append(section_of("map-costs", plot=plot, behind=bars.costs_table(costs)))
    return [*sections, _parallel(data, columns)]


def counted(name: str, counts: pd.DataFrame, what: str) -> Facts:
    """Figure of how many points or designs have each status and reason, and the table behind it."""
    named, total = bars.named_counts(counts), int(counts["designs"].sum())
    said = f"Bars of {total:,} {what} by status and reason"
    plot = drawn(bars.counts_figure(named, what, total), name, said)
    return {"plot": plot, "behind": bars.counts_table(named, what, total)}


def _planes_shown(
    data: MapData, tables: Tables, columns: Columns, *, feasible: bool
) -> tuple[Facts, Facts]:
    """Mass and choices in planes: slices of a grid, spread points, or over the only axis."""
    levels = grid_levels(data)
    mass: Facts = {"feasible": feasible, "doubted": int((data.best["doubt"] != "").sum())}
    region: Facts = {}
    if levels is not None and len(levels) > 1:
        _add_grid(mass, region, data, planes(data, levels))
    elif len(data.axes) == 1:
        said = f"Mass of each choice against {data.axes[0].title}"
        mass["line"] = drawn(line_figure(tables, data), "map-line", said)
        mass["behind"] = _points_table(data.best, data.axes, "points")
    else:
        _add_spread(mass, region, data, columns)
    clicked = [name for name in ("heat", "carpet", "cloud") if name in mass]
    if clicked:
        built = tables.get("map_choices", pd.DataFrame())
        mass["panel"] = _design_panel(data, columns, [f"map-{name}" for name in clicked], built)
        mass["panel_note"] = data.note
    return mass, region if len(data.choices) > 1 and feasible else {}


def _add_grid(mass: Facts, region: Facts, data: MapData, pairs: Sequence[Sequence[Plane]]) -> None:
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
    nodes = data.best.iloc[first.rows.ravel()]
    mass["behind"] = _points_table(nodes, data.axes, "nodes of this plane")
    # how many planes of a large grid the page holds, 0 for all of them
    cells, axes = sum(plane.rows.size for pair in pairs for plane in pair), len(data.axes)
    held_all = cells >= len(data.best) * axes * (axes - 1) // 2
    mass["slices"] = 0 if held_all else sum(map(len, pairs))
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
    mass = data.best[MASS].iloc[plane.rows.ravel()].dropna()
    spread = f", bound {mass.min():.3g} to {mass.max():.3g} kg" if len(mass) else ""
    return (
        f"{plane.x.title} against {plane.y.title}: {len(mass)} of {plane.rows.size} points have a "
        f"feasible design{spread}."
    )


def _won(data: MapData) -> str:
    met = data.best.loc[data.best["status"] == FEASIBLE, "choice"]
    counts = ", ".join(f"{choice} {int((met == choice).sum())}" for choice in data.choices)
    return f"Points won: {counts}."


def _controls(
    name: str, pairs: Sequence[Sequence[Plane]], texts: Mapping[int, str],
    changes: Mapping[str, Change],
) -> Facts:  # fmt: skip
    """Choice of the plane that some figures show; labels of points by their row."""
    views = {figure: [[change(plane) for plane in pair] for pair in pairs]
             for figure, change in changes.items()}  # fmt: skip
    held = [[plane.held for plane in pair] for pair in pairs]
    words = [f"{pair[0].x.title} and {pair[0].y.title}" for pair in pairs]
    data = {"held": held, "figures": views, "texts": texts}
    return {"name": name, "pairs": words, "data": data}


def _view(traces: list[dict[str, object]], plane: Plane) -> Facts:
    wide, tall = figures.titles(plane)
    return {"traces": traces, "layout": {"xaxis.title.text": wide, "yaxis.title.text": tall}}


def _carpet_view(data: MapData, plane: Plane) -> Facts:
    traces = carpet_arrays(data, plane)
    for trace, name in zip(traces, carpet_names(plane), strict=False):
        trace["name"] = name
    return {"traces": traces, "layout": {}}


def _add_spread(mass: Facts, region: Facts, data: MapData, columns: Columns) -> None:
    """Add figures of spread points in the plane of two axes: by mass, by thirds, by choice."""
    x, y = data.axes[:2]
    between = f"by {x.title} and {y.title}"
    said = f"Points of the map {between}, marked by whether they are feasible"
    mass["cloud"] = _cloud("map-cloud", data, figures.cloud_groups(data.drawn), y, said)
    mass["behind"] = _points_table(data.best, data.axes, "points")
    if mass["feasible"]:
        said = f"Mass of the lightest design against {x.title}, marked by thirds of {y.title}"
        thirds = figures.third_groups(data.drawn, y)
        mass["thirds"] = _cloud("map-thirds", data, thirds, columns.of(MASS), said)
    said = f"Which choice is the lightest, {between}. {_won(data)}"
    groups = figures.choice_groups(data, data.drawn)
    region |= {"axes": True, **_cloud("map-region", data, groups, y, said)}


def _cloud(
    name: str, data: MapData, groups: Sequence[figures.Group], up: Column, said: str
) -> Facts:
    """Figure of points over the first axis and upwards another column, and the choice of both."""
    shown = data.drawn
    texts = figures.place_texts(shown, data.axes)
    figure = figures.cloud_figure(shown, groups, data.axes[0], up, texts)
    chosen = {"x": 0, "y": 1} if up in data.axes else {"x": 0}
    controls = axes_of_points(name, groups, shown, data.axes, chosen)
    return {"plot": drawn(figure, name, said), "controls": controls}


def _points_table(
    frame: pd.DataFrame, axes: Sequence[Column], what: str, more: Sequence[Column] = (),
    words: Mapping[str, str] = STANDING,
) -> Table:  # fmt: skip
    """Rows of points behind a figure."""
    return values_table(
        frame, [*axes[:MOST_AXES], BOUND, *more], most=MOST_BEHIND, what=what, words=words,
        first={"point": "point"},
    )  # fmt: skip


def _bounds(data: MapData) -> Section:
    """Bound on the error of mass over the map, and the points solved at the dear levels."""
    up = data.axes[1] if len(data.axes) > 1 else BOUND
    said = f"Bound on the error of mass by {data.axes[0].title} and {up.title}"
    behind = _points_table(data.best, data.axes, "points", DEAR_COLUMNS, {"dear": "solved"})
    cloud = _cloud("map-bound", data, figures.bound_groups(data.drawn), up, said)
    return section_of("map-bound", behind=behind, **cloud)


def _parallel(data: MapData, columns: Columns) -> Section:
    shown, met = data.drawn, data.best[data.best["status"] == FEASIBLE]
    axes = list(data.axes)
    if len(met):
        variables = [columns.of(name) for name in design_columns(data.best)]
        axes += [columns.of(MASS), *telling(met, variables, KEY_VARIABLES)]
    block = parallel_lines(
        "map-lines", shown, axes, lead=columns.of(MASS),
        alternative=f"Parallel coordinates of {len(shown):,} points",
    )  # fmt: skip
    return section_of("map-parallel", note=data.note, block=block)


def map_points_section(tables: Tables) -> Section:
    """Table of all points of a map and choices, thinned."""
    points, columns = tables["map_points"], Columns(tables)
    axes = [columns.of(str(name)) for name in tables["map_axes"]["axis"]]
    listed = values_table(
        points, [*axes, columns.of(MASS), columns.of("violation")], most=MOST_LISTED, what="rows",
        first={"point": "point", **({"choice": "choice"} if points["choice"].any() else {})},
        words={"status": "status", "reason": "what blocks", "active": "active rows"},
    )  # fmt: skip
    ranges = [
        f"{axis.title}: {axis.text(float(line.low))} to {axis.text(float(line.high))}"
        for axis, line in zip(axes, tables["map_axes"].itertuples(), strict=True)
    ]
    return section_of("points", listed=listed, ranges=ranges)


def _design_panel(
    data: MapData, columns: Columns, clicked: Sequence[str], built: pd.DataFrame
) -> Facts:
    """Panel of the design behind a point, with the lightest one at first.

    Parameters
    ----------
    data, columns : of the map
    clicked : names of the figures in which a click chooses a point
    built : the table ``map_choices``; without it no bundle is drawn
    """
    shown = data.drawn
    labels = figures.place_texts(shown, data.axes)
    feasible = (shown["status"] == FEASIBLE).any()
    start = int(np.nanargmin(shown[MASS].to_numpy(float))) if feasible else 0
    said = [label.replace("<br>", ", ") for label in labels]
    variables = [columns.of(name) for name in design_columns(shown, built)]
    marked: dict[str, dict[str, object]] = {name: {} for name in clicked}
    bundles = bundle_numbers(shown, "choice", built)
    return chosen_design("map-chosen", shown, said, variables, marked, start, labels, bundles)
