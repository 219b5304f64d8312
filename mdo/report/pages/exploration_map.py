"""Part of the page on a requirement map: mass, feasibility, choices, reasons, costs."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pandas as pd

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
    axis_controls,
    parallel_block,
    plane_controls,
    telling,
)
from mdo.report.pages.exploration_map_design import design_panel
from mdo.report.pages.exploration_views import MapData, Plane, grid_levels, map_data, planes
from mdo.report.templates.pieces import Section, bullets, drawn, paragraph, picture, section
from mdo.report.words.exploration_columns import (
    FEASIBLE,
    Column,
    Columns,
    Tables,
    design_columns,
    thinned,
    thinned_words,
    values_table,
)

MOST_POINTS = 2000  # drawn
MOST_LISTED = 1000
MOST_BEHIND = 200  # rows of a table behind a figure
MOST_AXES = 4  # of a table behind a figure
KEY_VARIABLES = 4
MASS = "system_mass"
HEAT_READ = (
    "Each cell is one point of the map, with the mass of the lightest design in it where there is "
    "room; nothing is drawn between points. Crosses: no feasible design. The dashed line passes "
    "midway between points that have a design and points that have none. A question mark: one of "
    "the choices did not settle there."
)
CARPET_READ = (
    "Mass upwards; along a solid line one axis is held and the other grows, along a dashed line it "
    "is the other way round, with the level written at its end. Points are shifted to the right as "
    "the second axis grows, so that the net unfolds; the distance to the right means nothing else. "
    "Lines end where no design is feasible; at most eight levels of each axis have a line."
)
LINE_READ = (
    "Mass of the design of each choice along the only axis of the map, the lowest line is the "
    "lightest. Marks are points of the map; lines are broken where a choice is not feasible, "
    "crosses at the foot mark where none is."
)
CLOUD_READ = (
    "Each mark is one point of the map, in the plane of the two chosen axes; the other axes vary "
    "as well, so that points near each other may differ. Circles: feasible, larger and redder as "
    "the lightest design is heavier. Crosses: no feasible design. Nothing is fitted."
)
THIRDS_READ = (
    "Mass of the lightest design against the chosen axis; the mark says in which third of the "
    "range of the other main axis a point lies. The spread at one place is what the remaining axes "
    "do. Nothing is fitted."
)
REGION_READ = (
    "Mark and colour say which choice gives the lightest design at a point; crosses: none gives "
    "any. Open marks: another choice did not settle there. The table says of all "
    "points of the map where each choice is feasible, where it is the lightest, and by how much it "
    "is heavier."
)
REASON_READ = (
    "What stands against each other at the points that have no feasible design, at the choice that "
    "came nearest; a point counts at each requirement that it names, so that the bars may add up "
    "to more than all points. Points are not settled where the solver did not end; they count as "
    "neither."
)
DOUBT = (
    "At {} of the points one of the choices did not settle: the lightest of the others is shown, "
    "and may not be the lightest of all; the label of the point says so."
)
COST_READ = (
    "What one harder step of each requirement adds to the least mass, to first order, over the "
    "feasible points: diamond at the median, thick line from 25 to 75 %, thin line from 5 to 95 %. "
    "Where it is not known which way is harder, a larger value counts as that. 'Free at': share of "
    "the points where the step costs nothing."
)
PARALLEL_READ = (
    "Each line is the lightest design of one point; it crosses each axis at its value. Give a "
    "range below, or drag along an axis, and lines outside of it are left out; a click on the axis "
    "lifts its range."
)


def map_sections(tables: Tables) -> list[Section]:
    """Sections on a requirement map, those for which there is something to show."""
    columns = Columns(tables)
    if tables["map_points"].empty:
        text = "The map has no points: nothing was solved."
        return [("map-mass", "Mass over the map", section("map-mass", "Mass", paragraph(text)))]
    data = map_data(tables, columns)
    found = _plane_sections(data, tables, columns)
    found.append(("map-reasons", "What blocks", _reasons(data)))
    costs = costs_of(tables, data.axes)
    if costs:
        plot = drawn(costs_figure(costs), "map-costs", "Spread of the cost of each requirement")
        content = picture(plot, COST_READ, behind=costs_table(costs))
        found.append(
            ("map-costs", "Costs", section("map-costs", "What the requirements cost", content))
        )
    found.append(("map-parallel", "All axes at once", _parallel(data, columns)))
    return found


def _plane_sections(data: MapData, tables: Tables, columns: Columns) -> list[Section]:
    """Mass and choices in planes: slices of a grid, or spread points."""
    levels = grid_levels(data)
    if levels is not None and len(levels) > 1:
        found = _grid_sections(data, columns, planes(data, levels))
    elif len(data.axes) == 1:
        found = [("map-mass", "Mass over the map", _line(data, tables))]
    else:
        found = _spread_sections(data, columns)
    if len(data.choices) > 1:
        name, words, content = found[-1]
        content += figures.choices_table(tables["map_points"], data)
        found[-1] = (name, words, content)
    return [(name, words, section(name, words, content)) for name, words, content in found]


def _nothing(data: MapData) -> str:
    """Say that nothing is feasible, or that a choice may be missing at some points, where so."""
    if (data.best["status"] == FEASIBLE).any():
        doubted = int((data.best["doubt"] != "").sum())
        return paragraph(DOUBT.format(doubted)) if doubted else ""
    return paragraph(
        "No feasible design was found at any point of this map; the reasons are given below."
    )


def _grid_sections(
    data: MapData, columns: Columns, found: Sequence[Sequence[Plane]]
) -> list[Section]:
    used = np.unique(np.concatenate([one.rows.ravel() for pair in found for one in pair]))
    texts = np.full(len(data.best), "", dtype=object)
    texts[used] = figures.place_texts(data.best.iloc[used], data.axes)
    kept = {int(row): str(texts[row]) for row in used}
    first = found[0][0]
    behind = _points_table(data, data.best.iloc[first.rows.ravel()], "nodes of this plane")
    says = _plane_words(data, first)
    content = _nothing(data) + _slices_words(data, found)
    changes = {
        "map-heat": lambda plane: _view(figures.heat_arrays(data, plane), plane),
        "map-carpet": lambda plane: _carpet_view(data, plane),
    }
    if not (data.best["status"] == FEASIBLE).any():
        changes.pop("map-carpet")
    content += _controls("map-plane", found, kept, changes)
    plot = drawn(figures.heat_figure(data, first, texts), "map-heat", f"Heat map. {says}")
    content += picture(plot, HEAT_READ, behind=behind)
    content += design_panel(data, columns, list(changes))
    sections = [("map-mass", "Mass over the map", content)]
    if not (data.best["status"] == FEASIBLE).any():
        return sections
    plot = drawn(carpet_figure(data, first, texts), "map-carpet", f"Carpet plot. {says}")
    sections = [("map-mass", "Mass over the map", content + picture(plot, CARPET_READ))]
    if len(data.choices) > 1:
        controls = _controls("map-region-plane", found, kept, {
            "map-region": lambda plane: _view(figures.region_arrays(data, plane), plane)
        })  # fmt: skip
        plot = drawn(
            figures.region_figure(data, first, texts), "map-region",
            f"Which choice is the lightest at each point of the plane. {_won(data)}",
        )  # fmt: skip
        sections.append(("map-region", "Which choice where", controls + picture(plot, REGION_READ)))
    return sections


def _plane_words(data: MapData, plane: Plane) -> str:
    part = data.best.iloc[plane.rows.ravel()]
    mass = part[MASS].dropna()
    spread = f", mass {mass.min():.3g} to {mass.max():.3g} kg" if len(mass) else ""
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


def _slices_words(data: MapData, found: Sequence[Sequence[Plane]]) -> str:
    """Say that not every slice of a large grid is on the page, where so."""
    axes = len(data.axes)
    cells = sum(one.rows.size for pair in found for one in pair)
    every = len(data.best) * axes * (axes - 1) // 2
    if cells >= every:
        return ""
    return paragraph(
        f"The page holds {sum(map(len, found)):,} planes of this grid, those of the other axes at "
        "their ends and middle at most; the table map_points beside this page has all points.",
        kind="soft",
    )  # fmt: skip


Change = Callable[[Plane], dict[str, object]]


def _controls(
    name: str, found: Sequence[Sequence[Plane]], texts: dict[int, str], changes: dict[str, Change]
) -> str:
    pairs = [f"{pair[0].x.title} and {pair[0].y.title}" for pair in found]
    held = [[one.held for one in pair] for pair in found]
    views = {
        figure: [[change(one) for one in pair] for pair in found]
        for figure, change in changes.items()
    }
    return plane_controls(name, pairs, held, views, texts)


def _view(traces: list[dict[str, object]], plane: Plane) -> dict[str, object]:
    wide, tall = figures.titles(plane)
    return {"traces": traces, "layout": {"xaxis.title.text": wide, "yaxis.title.text": tall}}


def _carpet_view(data: MapData, plane: Plane) -> dict[str, object]:
    traces = carpet_arrays(data, plane)
    for trace, name in zip(traces, carpet_names(plane), strict=False):
        trace["name"] = name
    return {"traces": traces, "layout": {}}


def _line(data: MapData, tables: Tables) -> str:
    axis = data.axes[0]
    plot = drawn(line_figure(tables, data), "map-line", f"Mass of each choice against {axis.title}")
    behind = _points_table(data, data.best, "points")
    return _nothing(data) + picture(plot, LINE_READ, behind=behind)


def _spread_sections(data: MapData, columns: Columns) -> list[Section]:
    """Spread points in the plane of two axes, by mass, by thirds, and by choice."""
    shown = thinned(data.best, MOST_POINTS).reset_index(drop=True)
    note = thinned_words(len(shown), len(data.best), "points", "map_points")
    content = _nothing(data) + (paragraph(note, kind="soft") if note else "")
    texts = figures.place_texts(shown, data.axes)
    x, y, mass = data.axes[0], data.axes[1], columns.of(MASS)
    said = f"Points of the map by {x.title} and {y.title}, marked by whether they are feasible"
    content += _cloud(
        data, shown, figures.cloud_groups(shown), ("map-cloud", said, CLOUD_READ), y, texts,
        _points_table(data, data.best, "points"),
    ) + design_panel(data, columns, ["map-cloud"])  # fmt: skip
    if not (shown["status"] == FEASIBLE).any():
        return [("map-mass", "Mass over the map", content)]
    said = f"Mass of the lightest design against {x.title}, marked by thirds of {y.title}"
    content += _cloud(
        data, shown, figures.third_groups(shown, y), ("map-thirds", said, THIRDS_READ), mass, texts
    )
    sections = [("map-mass", "Mass over the map", content)]
    if len(data.choices) > 1:
        said = f"Which choice is the lightest, by {x.title} and {y.title}. {_won(data)}"
        groups = figures.choice_groups(data, shown)
        content = _cloud(data, shown, groups, ("map-region", said, REGION_READ), y, texts)
        sections.append(("map-region", "Which choice where", content))
    return sections


def _cloud(
    data: MapData, shown: pd.DataFrame, groups: Sequence[figures.Group],
    named: tuple[str, str, str], y: Column, texts: Sequence[str], behind: str = "",
) -> str:  # fmt: skip
    """A figure of spread points with what chooses its axes; mass upwards stays where it is."""
    name, said, caption = named
    axes = list(data.axes)
    chosen = {"x": 0, "y": 1} if y in axes else {"x": 0}
    rows = {name: [rows for _, rows, _ in groups]}
    plot = drawn(figures.cloud_figure(shown, groups, axes[0], y, texts), name, said)
    controls = axis_controls(f"{name}-axes", rows, shown, axes, chosen)
    return controls + picture(plot, caption, behind=behind)


def _points_table(data: MapData, frame: pd.DataFrame, what: str) -> str:
    """Rows of points behind a figure."""
    columns = [*data.axes[:MOST_AXES], Column(MASS, "mass", "kg")]
    note = thinned_words(min(len(frame), MOST_BEHIND), len(frame), what, "map_points")
    return (paragraph(note, kind="soft") if note else "") + values_table(
        thinned(frame, MOST_BEHIND), columns, first=[("point", "point")],
        words=[("choice", "choice"), ("status", "status"), ("reason", "what blocks")],
    )  # fmt: skip


def _reasons(data: MapData) -> str:
    counts, total = named_counts(counts_of(data.best)), len(data.best)
    plot = drawn(
        counts_figure(counts, "points", total), "map-reasons",
        f"Bars of {len(data.best):,} points by status and reason",
    )  # fmt: skip
    content = picture(plot, REASON_READ, behind=counts_table(counts, "points", total))
    return section("map-reasons", "What blocks the infeasible points", content)


def _parallel(data: MapData, columns: Columns) -> str:
    met = (data.best["status"] == FEASIBLE).to_numpy()
    some = data.best[met] if met.any() else data.best
    shown = thinned(data.best, MOST_POINTS).reset_index(drop=True)
    variables = [columns.of(name) for name in design_columns(data.best)]
    axes = [*data.axes, columns.of(MASS), *telling(some, variables, KEY_VARIABLES)]
    axes = axes if met.any() else list(data.axes)
    note = thinned_words(len(shown), len(data.best), "points", "map_points")
    block = parallel_block(
        "map-lines", shown, axes, lead=columns.of(MASS),
        met=(shown["status"] == FEASIBLE).to_numpy(),
        alternative=f"Parallel coordinates of {len(shown):,} points",
    )  # fmt: skip
    content = (paragraph(note, kind="soft") if note else "") + picture(block, PARALLEL_READ)
    return section("map-parallel", "All axes at once", content)


def map_points_section(tables: Tables) -> str:
    """Table of all points of a map and choices, thinned."""
    points, columns = tables["map_points"], Columns(tables)
    axes = [columns.of(str(name)) for name in tables["map_axes"]["axis"]]
    shown = thinned(points, MOST_LISTED)
    note = thinned_words(len(shown), len(points), "rows", "map_points")
    given = [("point", "point"), *([("choice", "choice")] if points["choice"].any() else [])]
    listed = values_table(
        shown, [*axes, columns.of(MASS), columns.of("violation")], first=given,
        words=[("status", "status"), ("reason", "what blocks"), ("active", "active rows")],
    )  # fmt: skip
    about = bullets(
        f"{axis.title}: {axis.text(float(line.low))} to {axis.text(float(line.high))}"
        for axis, line in zip(axes, tables["map_axes"].itertuples(), strict=True)
    )
    return paragraph("Axes of the map, with their ranges:") + about + paragraph(note) + listed
