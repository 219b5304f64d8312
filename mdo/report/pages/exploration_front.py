"""Part of the page on a Pareto front: the front, the design behind a point, what is active."""

from __future__ import annotations

import numpy as np
import pandas as pd

from mdo.optimise.knob_list import PLAIN
from mdo.report.drawings.bundle_numbers import bundle_numbers
from mdo.report.figures import front as figures
from mdo.report.figures.bars import (
    active_figure,
    active_rows,
    changes_of_active,
    counts_of,
    counts_table,
)
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
    short,
)
from mdo.report.words.printed import DASH, kilograms, pretty, prose, step_words
from mdo.report.words.table import Table

TEMPLATE = "front.html"
MOST_POINTS = 2000
CHOSEN = "front-chosen"
OPEN = 6  # changes of what is active that need no folding


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
        self.texts = figures.point_texts(self.points, self.objectives)
        self.built = tables.get("front_summary", pd.DataFrame())
        self.designs = [self.columns.of(name) for name in design_columns(points, self.built)]
        knees = np.flatnonzero(self.points["knee"].astype(bool))
        self.start = int(knees[0]) if knees.size else 0


def front_sections(tables: Tables) -> list[Section]:
    """Sections on a front, those for which there is something to show."""
    front = Front(tables)
    title, rest = "The front", front.rest
    lost = counts_table(counts_of(rest), "points", len(rest)) if len(rest) else None
    shared = {"gaps": _gap_words(front, tables), "lost": lost, "count": len(rest)}
    if front.points.empty:
        open_ = int((rest["status"] == UNSETTLED).sum())
        said = f"The front has no point. {len(rest) - open_} bounds have no feasible design"
        said += f", at {open_} the optimiser did not settle." if open_ else "."
        return [section_of(TEMPLATE, "front-points", "Front", title, said=said, **shared)]
    drawing = _two(front, tables) if len(front.objectives) == 2 else _three(front)
    return [
        section_of(TEMPLATE, "front-points", "Front", title, **drawing, **shared),
        _active(front),
        section_of(
            TEMPLATE, "front-table", "Points", listed=front_table(front), chosen=CHOSEN,
            shown=len(front.points), count=front.count,
        ),
    ]  # fmt: skip


def _two(front: Front, tables: Tables) -> Facts:
    """The front of two objectives and the design behind its chosen point."""
    first, second = front.objectives
    gaps = figures.gaps_of(front.points, tables.get("front_gaps", pd.DataFrame()), second.name)
    figure = figures.front_figure(front.points, first, second, gaps, front.texts, front.start)
    said = (
        f"Front of {first.title} against {second.title}, {len(front.points)} points, "
        f"{len(gaps)} gaps. Knee: {front.texts[front.start]}."
    )
    marked = {"front": figures.marked(figure, front.points, x=second, y=first)}
    return {"plot": drawn(figure, "front", said), "chosen": _chosen(front, marked)}


def _three(front: Front) -> Facts:
    """The front of three objectives seen along each of them, and its chosen design."""
    first, second, third = front.objectives[:3]
    marked, plots = {}, []
    for place, (x, y) in enumerate(((second, first), (third, first), (second, third))):
        name = f"front-pair-{place}"
        figure = figures.projection_figure(front.points, x, y, first, front.texts, front.start)
        marked[name] = figures.marked(figure, front.points, x=x, y=y)
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
    link, title = "What is active", "What is active along the front"
    return section_of(TEMPLATE, "front-active", link, title, **shown)


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
