"""Part of the page on a Pareto front: the front, the design behind a point, what is active."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from mdo.report.figures import front as figures
from mdo.report.figures.active_strip import active_figure, active_rows, changes_of_active
from mdo.report.figures.bars import counts_of, counts_table
from mdo.report.pages.exploration_controls import chosen_block
from mdo.report.templates.pieces import (
    DASH,
    LONG_WORD,
    Cell,
    Section,
    bullets,
    drawn,
    escaped,
    folded,
    number,
    paragraph,
    picture,
    pretty,
    prose,
    section,
)
from mdo.report.words.exploration_columns import (
    FEASIBLE,
    UNSETTLED,
    Column,
    Columns,
    Tables,
    design_columns,
    short,
)

MOST_POINTS = 2000
FRONT_READ = (
    "Each mark is an exact optimum: no design does better in both objectives. Where the line "
    "is broken there is no design between, or no better one; the dotted line only leads over. The "
    "open diamond marks the knee, where giving up a little of one objective buys most of the "
    "other. Click a mark, or move the slider, to see the design behind it."
)
SCENE_READ = (
    "Each mark is an exact optimum of three objectives; drag to turn. Larger and redder marks are "
    "heavier. Click a mark, or move the slider, to see the design behind it. The same points are "
    "shown pair by pair below."
)
PAIRS_READ = (
    "The points of the front seen along one objective at a time: what looks worse in one picture "
    "is better in another. Size and colour follow the first objective; the open diamond is the "
    "knee, the open circle the chosen point."
)
STRIP_READ = (
    "A square wherever a requirement is active: it stands at its limit and drives the design "
    "there. Where squares begin or end, another requirement takes over. The table of points below "
    "has the same in words."
)


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
        self.designs = [self.columns.of(name) for name in design_columns(points)]
        knees = np.flatnonzero(self.points["knee"].astype(bool))
        self.start = int(knees[0]) if knees.size else 0


def front_sections(tables: Tables) -> list[Section]:
    """Sections on a front, those for which there is something to show."""
    front = Front(tables)
    if front.points.empty:
        content = paragraph(_no_point(front)) + _gap_words(front, tables) + _rest(front)
        return [("front-points", "Front", section("front-points", "The front", content))]
    content = _two(front, tables) if len(front.objectives) == 2 else _three(front, tables)
    found = [
        ("front-points", "Front", section("front-points", "The front", content + _rest(front)))
    ]
    found.append(("front-active", "What is active", _active(front)))
    found.append(("front-table", "Points", section("front-table", "Points", front_table(front))))
    return found


def _no_point(front: Front) -> str:
    """Say how the bounds of a front without points ended."""
    open_ = int((front.rest["status"] == UNSETTLED).sum())
    text = f"The front has no point. {len(front.rest) - open_} bounds have no feasible design"
    return f"{text}, at {open_} the optimiser did not settle." if open_ else f"{text}."


def _rest(front: Front) -> str:
    """Points that have no design, and why."""
    if front.rest.empty:
        return ""
    counts = counts_of(front.rest)
    title = f"{len(front.rest):,} bounds that gave no point, and why"
    return folded(title, counts_table(counts, "points", len(front.rest)))


def _two(front: Front, tables: Tables) -> str:
    first, second = front.objectives[0], front.objectives[1]
    gaps = figures.gaps_of(front.points, tables.get("front_gaps", pd.DataFrame()), second.name)
    figure = figures.front_figure(front.points, first, second, gaps, front.texts, front.start)
    said = (
        f"Front of {first.title} against {second.title}, {len(front.points)} points, "
        f"{len(gaps)} gaps. Knee: {front.texts[front.start]}."
    )
    shown = {
        "front": {"trace": figures.chosen_trace(figure),
                  **figures.places(front.points, x=second, y=first)}
    }  # fmt: skip
    plot = picture(drawn(figure, "front", said), FRONT_READ)
    return _beside(front, plot, shown) + _gap_words(front, tables)


def _gap_words(front: Front, tables: Tables) -> str:
    """Where the front is broken and why, numbered as in the figure."""
    lines = []
    for place, gap in enumerate(tables.get("front_gaps", pd.DataFrame()).to_dict("records"), 1):
        ranges = []
        for one in front.objectives[1:]:
            ends = sorted(float(gap[f"{one.name}_{end}"]) for end in ("from", "to"))
            ranges.append(f"{one.title} {one.text(ends[0])} to {one.text(ends[1])}")
        name = f" ({gap['front']})" if gap["front"] else ""
        lines.append(f"Gap {place}: {', '.join(ranges)}{name}: {prose(gap['reason'])}")
    return bullets(lines)


def _three(front: Front, tables: Tables) -> str:
    first, second, third = front.objectives[:3]
    names = ", ".join(one.title for one in (first, second, third))
    scene = figures.scene_figure(front.points, (first, second, third), front.texts, front.start)
    shown: dict[str, Mapping[str, object]] = {
        "front": {"trace": figures.chosen_trace(scene),
                  **figures.places(front.points, x=second, y=third, z=first)}
    }  # fmt: skip
    plots = ""
    for place, (x, y) in enumerate(((second, first), (third, first), (second, third))):
        name = f"front-pair-{place}"
        figure = figures.projection_figure(front.points, x, y, first, front.texts, front.start)
        shown[name] = {
            "trace": figures.chosen_trace(figure),
            **figures.places(front.points, x=x, y=y),
        }
        plots += f"<div>{drawn(figure, name, f'{y.title} against {x.title}')}</div>\n"
    plot = picture(drawn(scene, "front", f"Front in space: {names}"), SCENE_READ)
    pairs = picture(f'<div class="pairs">\n{plots}</div>\n', PAIRS_READ)
    return _beside(front, plot, shown) + pairs + _gap_words(front, tables)


def _beside(front: Front, plot: str, shown: Mapping[str, Mapping[str, object]]) -> str:
    """A figure with the design behind its chosen point beside it."""
    block = chosen_block(
        "front-chosen", front.points, front.texts, front.designs, shown, front.start
    )
    return f'<div class="beside">\n<div>{plot}</div>\n<div>{block}</div>\n</div>\n'


def _active(front: Front) -> str:
    texts = front.points["active"].astype(str).tolist()
    along = front.objectives[1]
    at, title = along.drawn(front.points[along.name])
    names = active_rows(texts)
    if not names:
        content = paragraph("No requirement is active at any point of the front.")
        return section("front-active", "What is active along the front", content)
    said = f"Active requirements along {along.title}: {'; '.join(names)}"
    plot = drawn(active_figure(at, texts, title), "front-active", said)
    content = picture(plot, STRIP_READ)
    if len(front.objectives) == 2:
        content += _changes(front, along)
    return section("front-active", "What is active along the front", content)


def _changes(front: Front, along: Column) -> str:
    """Where the active set changes, in words."""
    lines: list[str] = []
    for name, part in front.points.groupby("front", sort=False):
        values = part[along.name].to_numpy(float)
        for place, come, gone in changes_of_active(part):
            words = [f"{'; '.join(come)} becomes active"] if come else []
            words += [f"{'; '.join(gone)} is no longer active"] if gone else []
            lines.append(
                f"{name + ': ' if name else ''}between {along.text(values[place - 1])} and "
                f"{along.text(values[place])}: {', '.join(words)}"
            )
    if not lines:
        return paragraph("The same requirements are active at all points.")
    changes = "1 change" if len(lines) == 1 else f"{len(lines)} changes"
    head = f"{changes} of what is active, with growing {along.title}"
    return folded(head, bullets(lines), is_open=len(lines) <= 6)


def front_table(front: Front) -> str:
    """Points of a front with a button that shows their design."""
    trades = [one for one in front.objectives[1:] if f"trade.{one.name}" in front.points]
    several = front.points["front"].astype(bool).any()
    rows: list[list[str | Cell]] = []
    for line in front.points.to_dict("records"):
        cells: list[str | Cell] = [
            Cell(one.text(float(line[one.name])), float(line[one.name])) for one in front.objectives
        ]
        cells += [
            _trade(front.objectives[0], one, float(line[f"trade.{one.name}"])) for one in trades
        ]
        cells += [str(line["front"]) or DASH] if several else []
        rows.append([*cells, "knee" if line["knee"] else "", str(line["active"])])
    head = [short(one.title) for one in front.objectives]
    head += [f"one more {_step(one)[1]} of {short(one.title.lower())}" for one in trades]
    head += ["choice"] if several else []
    content = paragraph(
        f"{len(front.points):,} of {front.count:,} feasible points. 'Show' brings the design "
        "behind a point into the panel beside the front."
    )
    return content + _with_buttons([*head, "", "active rows"], rows)


def _step(one: Column) -> tuple[float, str]:
    """Amount for which a slope is quoted, in SI, and its words."""
    factor, _, unit = one.scale(1.0)
    return (0.01, "%") if one.percent else (1.0 / factor, unit or "unit")


def _trade(first: Column, one: Column, slope: float) -> Cell:
    change = slope * _step(one)[0]
    return Cell(number(change, first.unit, difference=True), change)


def _with_buttons(head: Sequence[str], rows: Sequence[Sequence[str | Cell]]) -> str:
    """Return a table whose rows begin with a button; it can be sorted by the other columns."""
    titles = "".join(
        f'<th scope="col" aria-sort="none"><button type="button">{escaped(pretty(title))}'
        "</button></th>"
        if title else "<td></td>" for title in head
    )  # fmt: skip
    body = ""
    for place, row in enumerate(rows):
        cells = "".join(
            f'<td class="r" data-order="{cell.order:.9g}">{escaped(cell.text)}</td>'
            if isinstance(cell, Cell) else f"<td{_breaks(cell)}>{escaped(cell)}</td>"
            for cell in row
        )  # fmt: skip
        button = (
            f'<button type="button" data-chooses="front-chosen" value="{place}" '
            f'aria-label="Show point {place + 1}">Show</button>'
        )
        body += f"<tr><td>{button}</td>{cells}</tr>\n"
    return (
        '<div class="wide tight scroll"><table class=sortable><thead><tr><td></td>'
        f"{titles}</tr></thead>\n<tbody>{body}</tbody></table></div>\n"
    )


def _breaks(text: str) -> str:
    """Return the class of a cell with a word that must be broken."""
    return " class=broken" if any(len(word) > LONG_WORD for word in text.split()) else ""
