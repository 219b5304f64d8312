"""Part of the page on a Pareto front: the front, the design behind a point, what is active."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from mdo.arrays import Floats
from mdo.optimise.knob_list import PLAIN
from mdo.report.drawings.bundle_numbers import bundle_numbers
from mdo.report.figures.bars import (
    active_figure,
    active_rows,
    changes_of_active,
    counts_of,
    counts_table,
)
from mdo.report.figures.requirement_map import coloured
from mdo.report.figures.style import AMBER, COLOURS, GREY, MARKS, RUST, add_marks, frame
from mdo.report.pages.exploration_controls import chosen_design
from mdo.report.pages.parts import Facts, Section, drawn, section_of
from mdo.report.words.cells import Cell
from mdo.report.words.exploration_columns import (
    FEASIBLE,
    UNSETTLED,
    Column,
    Columns,
    Tables,
    design_columns,
    safe,
    short,
)
from mdo.report.words.printed import DASH, kilograms, pretty, prose, step_words
from mdo.report.words.table import Table

MOST_POINTS = 2000
CHOSEN = "front-chosen"
OPEN = 6  # changes of what is active that need no folding
HEIGHT = 430  # [px]
SMALL = 330
CLOSE = 1e-9  # of a range, to tell whether a gap lies between two points
KNEE = {"symbol": "diamond-open", "size": 17, "color": AMBER, "line": {"width": 2.5}}
HERE = {"symbol": "circle-open", "size": 19, "color": RUST, "line": {"width": 3}}


class Front:
    """The feasible points of a front, in the order in which they are listed."""

    def __init__(self, tables: Tables) -> None:
        self.columns = Columns(tables)
        names = [str(name) for name in tables["front_objectives"]["objective"]]
        self.objectives = [self.columns.of(name) for name in names]
        every = tables["front_points"]
        met = every[every["status"] == FEASIBLE]
        order = ["front", "place"] if len(names) > 2 else ["front", names[-1], "place"]
        points = met.sort_values(order, kind="stable").reset_index(drop=True)
        self.points, self.count = points[:MOST_POINTS], len(points)
        self.rest = every[every["status"] != FEASIBLE]
        self.texts = point_texts(self.points, self.objectives)
        self.built = tables.get("front_summary", pd.DataFrame())
        self.designs = [self.columns.of(name) for name in design_columns(points, self.built)]
        knees = np.flatnonzero(self.points["knee"].astype(bool))
        self.start = int(knees[0]) if knees.size else 0


def front_sections(tables: Tables) -> list[Section]:
    """Sections on a front, those for which there is something to show."""
    front = Front(tables)
    rest = front.rest
    lost = counts_table(counts_of(rest), "points", len(rest)) if len(rest) else None
    shared: Facts = {"gaps": _gap_words(front, tables), "lost": lost, "count": len(rest)}
    if front.points.empty:
        open_ = int((rest["status"] == UNSETTLED).sum())
        said = f"The front has no point. {len(rest) - open_} bounds have no feasible design"
        said += f", at {open_} the optimiser did not settle." if open_ else "."
        return [section_of("front-points", said=said, **shared)]
    drawing = _two(front, tables) if len(front.objectives) == 2 else _three(front)
    return [
        section_of("front-points", **drawing, **shared),
        _active(front),
        section_of("front-table", listed=front_table(front), chosen=CHOSEN,
                   shown=len(front.points), count=front.count),
    ]  # fmt: skip


def _two(front: Front, tables: Tables) -> Facts:
    """The front of two objectives and the design behind its chosen point."""
    first, second = front.objectives
    gaps = gaps_of(front.points, tables.get("front_gaps", pd.DataFrame()), second.name)
    figure = front_figure(front.points, first, second, gaps, front.texts, front.start)
    said = (
        f"Front of {first.title} against {second.title}, {len(front.points)} points, "
        f"{len(gaps)} gaps. Knee: {front.texts[front.start]}."
    )
    marked = {"front": mark_places(figure, front.points, x=second, y=first)}
    return {"plot": drawn(figure, "front", said), "chosen": _chosen(front, marked)}


def _three(front: Front) -> Facts:
    """The front of three objectives seen along each of them, and its chosen design."""
    first, second, third = front.objectives[:3]
    marked, plots = {}, []
    for place, (x, y) in enumerate(((second, first), (third, first), (second, third))):
        name = f"front-pair-{place}"
        figure = projection_figure(front.points, x, y, first, front.texts, front.start)
        marked[name] = mark_places(figure, front.points, x=x, y=y)
        plots.append(drawn(figure, name, f"{y.title} against {x.title}"))
    return {"pairs": plots, "chosen": _chosen(front, marked)}


def _chosen(front: Front, marked: Facts) -> Facts:
    """Panel of the design behind the chosen point, marked in some figures."""
    bundles = bundle_numbers(front.points, "front", front.built)
    return chosen_design(
        CHOSEN, front.points, front.texts, front.designs, marked, front.start, bundles=bundles
    )


def _gap_words(front: Front, tables: Tables) -> list[str]:
    """Where the front is broken and why, numbered as in the figure."""
    lines = []
    for place, gap in enumerate(tables.get("front_gaps", pd.DataFrame()).to_dict("records"), 1):
        ranges = []
        for one in front.objectives[1:]:
            ends = sorted(float(gap[f"{one.name}_{end}"]) for end in ("from", "to"))
            ranges.append(f"{one.title} {one.text(ends[0])} to {one.text(ends[1])}")
        name = f" ({gap['front']})" if gap["front"] else ""
        lines.append(f"Gap {place}: {', '.join(ranges)}{name}: {prose(gap['reason'])}")
    return lines


def _active(front: Front) -> Section:
    texts = front.points["active"].astype(str).tolist()
    along = front.objectives[1]
    at, title = along.drawn(front.points[along.name])
    names = active_rows(texts)
    shown: Facts = {}
    if names:
        said = f"Active requirements along {along.title}: {'; '.join(names)}"
        shown["plot"] = drawn(active_figure(at, texts, title), "front-active", said)
        if len(front.objectives) == 2:
            changes = _changes(front, along)
            count = "1 change" if len(changes) == 1 else f"{len(changes)} changes"
            shown["changes"], shown["is_open"] = changes, len(changes) <= OPEN
            shown["head"] = f"{count} of what is active, with growing {along.title}"
    return section_of("front-active", **shown)


def _changes(front: Front, along: Column) -> list[str]:
    """Where the active set changes, in words."""
    lines: list[str] = []
    for name, part in front.points.groupby("front", sort=False):
        values = part[along.name].to_numpy(float)
        for place, come, gone in changes_of_active(part):
            words = [f"from there active: {'; '.join(come)}"] if come else []
            words += [f"no longer active: {'; '.join(gone)}"] if gone else []
            lines.append(
                f"{name + ': ' if name else ''}between {along.text(values[place - 1])} and "
                f"{along.text(values[place])}, {', and '.join(words)}"
            )
    return lines


def front_table(front: Front) -> Table:
    """Points of a front."""
    first, *others = front.objectives
    trades = [one for one in others if f"trade.{one.name}" in front.points]
    several = front.points["front"].astype(bool).any()
    rows: list[list[str | Cell]] = []
    for line in front.points.to_dict("records"):
        cells = [Cell(one.text(line[one.name]), float(line[one.name])) for one in front.objectives]
        for one in trades:
            change = line[f"trade.{one.name}"] * _step(one)[0]
            text = f"{kilograms(change)} kg" if first.unit == "kg" else first.text(change)
            cells.append(Cell(text, change))
        choice = [str(line["front"]) or DASH] if several else []
        rows.append([*cells, *choice, "knee" if line["knee"] else "", str(line["active"])])
    head = [short(one.title) for one in front.objectives]
    head += [f"{_step(one)[1]} more of {short(one.title.lower())}" for one in trades]
    titles = [
        pretty(title) for title in [*head, *(["choice"] if several else []), "", "active rows"]
    ]
    return Table(titles, rows, right=range(len(front.objectives) + len(trades)), sortable=True)


def _step(one: Column) -> tuple[float, str]:
    """Amount for which a slope is quoted, in SI, and its words: that of a cost if there is one."""
    knob = next((knob for knob in PLAIN if knob.name == one.name and not one.percent), None)
    if knob is not None:
        return knob.step, step_words(knob.per)
    factor, _, unit = one.scale(1.0)
    return (0.01, "1 %") if one.percent else (1.0 / factor, f"1 {unit or 'unit'}")


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


def mark_places(
    figure: go.Figure, points: pd.DataFrame, *, x: Column, y: Column
) -> dict[str, object]:
    """Return which trace marks the chosen point, the last one, and where each point lies."""
    places = {axis: column.drawn(points[column.name])[0].tolist()
              for axis, column in (("x", x), ("y", y))}  # fmt: skip
    return {"trace": len(figure.data) - 1, **places}
