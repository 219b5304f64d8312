"""Page of results side by side: one file, no network, in the style of the report."""

from __future__ import annotations

import html
import math
import textwrap
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from mdo.report.figures.design import CLIP, leg_rows, worst_per_group
from mdo.report.figures.style import COLOURS, GREY, MARKS, bar_figure, quiet, row_names
from mdo.report.pages.comparison_of_results import Comparison, Group, Side
from mdo.report.pages.parts import BAD, MARK_OF_VERDICT, Drawn, drawn
from mdo.report.templates import render
from mdo.report.words.printed import DASH, pretty
from mdo.report.words.results_compared import (
    EMPTY,
    input_text,
    line_cells,
    line_heads,
    shown_unit,
)
from mdo.report.words.table import Table
from mdo.study.number_text import figure, trade

APART = ("main", "least", "lines", "margins", "costs")  # groups with a place of their own
SAID = {
    "mass": "Mass lines of each result as stacked bars, growth included",
    "margins": "Worst margin of each kind of requirement, one mark for each result",
    "costs": "Mass added by one harder step of each requirement, one bar for each result",
}
PARTS = ("#3d7fc4", "#c98f1d", "#2f9277", "#c9573f", "#8f63b8", "#5aa7c7", "#b8668f", "#7d8b3f")
REST = "all other lines"
MOST_COSTS = 12
LONGEST = 48  # letters of a name beside a figure
ROW = 26  # [px]


def comparison_page(compared: Comparison, units: str = "si") -> str:
    """Return the page of a comparison.

    Parameters
    ----------
    compared : the comparison
    units : ``si`` or ``us`` trade units
    """
    tables = {group.name: _table(compared, group, units) for group in compared.groups}
    drawings = _drawings(compared, units)
    rest = {group.title: tables[group.name] for group in compared.groups if group.name not in APART}
    parts = {
        "results": "Results", "values": "Values", "torque": "Torque", "mass": "Mass",
        "margins": "Margins", "costs": "Costs", "more": "More", "inputs": "Inputs that differ",
    }  # fmt: skip
    empty = {name for name in ("torque", "mass", "costs") if not drawings[name]}
    empty |= set() if rest else {"more"}
    return render(
        "comparison.html",
        title="Comparison: " + " against ".join(side.label for side in compared.sides),
        parts={anchor: words for anchor, words in parts.items() if anchor not in empty},
        sides=compared.sides, levels={side.letter: MARK_OF_VERDICT.get(side.verdict, BAD)
                                   for side in compared.sides},
        notes=compared.notes, **{name: tables.get(name) for name in APART}, more=rest,
        inputs=_inputs(compared, units), drawings=drawings,
    )  # fmt: skip


def _drawings(compared: Comparison, units: str) -> dict[str, Any]:
    """Figures of the page by its parts, nothing where none of the results has the numbers."""
    made = {
        "mass": mass_figure(compared, units) if compared.lines_of("lines") else None,
        "margins": margins_figure(compared),
        "costs": costs_figure(compared, units),
    }
    legs = enumerate(torque_legs(compared))
    return {
        **{name: figure and drawn(figure, name, SAID[name]) for name, figure in made.items()},
        "torque": [_torque(compared, leg, place, units) for place, leg in legs],
    }


def _torque(compared: Comparison, leg: str, place: int, units: str) -> tuple[str, str, Drawn]:
    """A leg, the results that lack it, and its moments over the fold angle."""
    has = [side.letter for side in compared.sides if leg_part(side, leg) is not None]
    said = (
        f"Required and available moment over the fold angle in the leg {leg}, for results "
        f"{', '.join(has)}"
    )
    lacks = ", ".join(letter for letter in compared.letters if letter not in has)
    figure = torque_figure(compared, leg, units)
    return leg, lacks, drawn(figure, f"torque-{place}", said)


def _table(compared: Comparison, group: Group, units: str) -> Table:
    """Table of a group; lines that are alike in all results are dim."""
    others = range(1, len(compared.letters))
    head = line_heads(compared.letters, others, "−")
    rows = [
        (line.name, *map(_minus, line_cells(line, others, units)), pretty(shown_unit(line, units)),
         line.of)
        for line in group.lines
    ]  # fmt: skip
    marks = ["dim" if line.alike else "" for line in group.lines]
    right = range(1, len(head) + 1)
    return Table(("", *head, "unit", "of"), rows, right=right, marks=marks, kind="lead")


def _minus(text: str) -> str:
    """Number with a true minus, a dash where there is none."""
    return DASH if text == EMPTY else text.replace("-", "−")


def _inputs(compared: Comparison, units: str) -> Table | None:
    """Inputs that differ; None where all are alike."""
    if not compared.inputs:
        return None
    places = range(len(compared.sides))
    rows = [
        (line.path, *(pretty(input_text(line, at, units)) for at in places), line.meaning)
        for line in compared.inputs
    ]
    return Table(("input", *compared.letters, "meaning"), rows, kind="lead")


def torque_legs(comparison: Comparison) -> tuple[str, ...]:
    """Legs of all results, in the order in which they come up."""
    legs = (str(line["leg"]) for side in comparison.sides for line in side.rows("torque", "leg"))
    return tuple(dict.fromkeys(legs))


def _looks(comparison: Comparison) -> Iterator[tuple[Side, str, str]]:
    """Each result with its colour and mark."""
    return zip(comparison.sides, COLOURS, MARKS, strict=False)


def torque_figure(comparison: Comparison, leg: str, units: str) -> go.Figure:
    """Required (dashed) and available moment of one leg over the fold angle, by result."""
    factor, unit = trade(1.0, "N*m", units)
    result = go.Figure()
    for side, colour, mark in _looks(comparison):
        part = leg_part(side, leg)
        if part is None:
            continue
        mode = "markers" if len(part) == 1 else "lines+markers"
        for name, dash, symbol in (
            ("available", "solid", mark),
            ("required", "dash", f"{mark}-open"),
        ):
            result.add_scatter(
                x=np.degrees(part["fold_angle"]), y=factor * part[f"{name}_moment"], mode=mode,
                name=side.letter, showlegend=dash == "solid", legendgroup=side.letter,
                line={"color": colour, "dash": dash},
                marker={"symbol": symbol, "size": 6, "color": colour},
                hovertemplate=f"{side.letter} {name}: %{{y:.1f}} at %{{x:.0f}}°<extra></extra>",
            )  # fmt: skip
    up = f"moment [{unit.replace('*', '·')}]"
    return quiet(
        result, height=250, showlegend=True, y={"title": {"text": up}, "rangemode": "tozero"},
        x={"title": {"text": "fold angle [deg], tip-up positive"}},
    )  # fmt: skip


def leg_part(side: Side, leg: str) -> pd.DataFrame | None:
    """Angles of a leg of a result in order, None where it has no such leg."""
    if not side.rows("torque", "leg", "fold_angle", "required_moment", "available_moment"):
        return None
    part = leg_rows(side.tables["torque"], leg)
    return part if len(part) else None


def mass_figure(comparison: Comparison, units: str) -> go.Figure:
    """Mass of each result as a bar of its lines; the smaller lines are one."""
    factor, unit = trade(1.0, "kg", units)
    masses = {line.name: factor * np.nan_to_num(line.numbers)
              for line in comparison.lines_of("lines")}  # fmt: skip
    order = sorted(masses, key=lambda name: -float(np.sum(masses[name])))
    large, small = order[: len(PARTS)], order[len(PARTS) :]
    series = [(name, masses[name], colour) for name, colour in zip(large, PARTS, strict=False)]
    if small:
        series.append((REST, np.sum([masses[name] for name in small], axis=0), GREY))
    totals = np.sum([values for _, values, _ in series], axis=0)
    bars = [
        {"x": values, "name": name, "marker": {"color": colour, "line": {"width": 1}},
         "hovertemplate": f"%{{y}}: %{{x:.3g}} {unit}<extra>{html.escape(name)}</extra>"}
        for name, values, colour in series
    ]  # fmt: skip
    result = bar_figure(
        [side.letter for side in comparison.sides], bars, left=58, row=44, letters=12,
        axis=f"mass of the aircraft (both wings) [{unit}]", ends=totals,
        words=[f"{figure(total)} {unit}" for total in totals],
        span=[0.0, 1.15 * max(*totals, 1e-9)],
    )  # fmt: skip
    return result.update_layout(barmode="stack", yaxis_autorange="reversed", margin_t=70)


def margins_figure(comparison: Comparison) -> go.Figure:
    """Worst margin of each kind of requirement in the scale of the model, clipped at both ends."""
    worst = [_scaled_margins(side) for side in comparison.sides]
    names = list(dict.fromkeys(name for margins in worst for name in margins))
    names.sort(key=lambda name: -min(margins[name] for margins in worst if name in margins))
    result = go.Figure()
    for margins, (side, colour, mark) in zip(worst, _looks(comparison), strict=True):
        values = [margins.get(name, math.nan) for name in names]
        result.add_scatter(
            y=row_names(names), x=np.clip(values, *CLIP), mode="markers", name=side.letter,
            marker={"symbol": mark, "color": colour, "size": 10}, opacity=0.85,
            customdata=values, hovertemplate=f"{side.letter}: %{{customdata:.3g}}<extra></extra>",
        )  # fmt: skip
    failed = any(value < -1e-6 for margins in worst for value in margins.values())
    return quiet(
        result, height=110 + ROW * len(names), showlegend=True, margin={"l": 315},
        x={"range": [-1.08 if failed else -0.08, 2.08], "tickvals": [-1, 0, 1, 2],
           "title": {"text": "margin in the scale of the model, −1 to 2"}},
        y={"ticksuffix": "  ", "tickfont": {"size": 11}},
    )  # fmt: skip


def _scaled_margins(side: Side) -> Mapping[str, float]:
    if not side.rows("compliance", "requirement", "group", "standing", "row", "margin"):
        return {}
    lines = worst_per_group(side.tables["compliance"])
    lines = lines[lines["group"] != "driver"]
    return dict(zip(lines["requirement"], lines["scaled"].astype(float), strict=True))


def costs_figure(comparison: Comparison, units: str) -> go.Figure | None:
    """Mass that one harder step of a requirement adds, by result; None where none has costs."""
    factor, unit = trade(1.0, "kg", units)
    costs = {line.name: factor * np.asarray(line.numbers, dtype=float)
             for line in comparison.lines_of("costs")}  # fmt: skip
    sizes = {name: float(np.max(np.abs(values[np.isfinite(values)]), initial=-1.0))
             for name, values in costs.items()}  # fmt: skip
    names = [name for name in sorted(costs, key=lambda name: -sizes[name]) if sizes[name] >= 0.0]
    names = names[:MOST_COSTS][::-1]
    if not names:
        return None
    series = zip(_looks(comparison), np.transpose([costs[name] for name in names]), strict=True)
    bars = [
        {"x": [value if math.isfinite(value) else None for value in values], "name": side.letter,
         "marker": {"color": colour},
         "hovertemplate": f"{side.letter}: %{{x:.3g}} {unit}<extra></extra>"}
        for (side, colour, _), values in series if np.isfinite(values).any()
    ]  # fmt: skip
    short = [textwrap.shorten(name, LONGEST, placeholder=" …") for name in names]
    result = bar_figure(
        row_names(short), bars, axis=f"mass added by one harder step [{unit}, aircraft]",
        left=320, row=12 + 12 * len(comparison.sides),
    )  # fmt: skip
    return result.update_layout(barmode="group", showlegend=True, margin_t=30)
