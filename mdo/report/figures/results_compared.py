"""Figures of results side by side: pure functions of a comparison, one colour and mark for each."""

from __future__ import annotations

import html
import math
import textwrap
from collections.abc import Iterable

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from mdo.report.figures.design import worst_per_group
from mdo.report.figures.style import FONT, GREY
from mdo.report.pages.compared_quantities import COSTS, LINES, Line
from mdo.report.pages.comparison_of_results import Comparison, Side
from mdo.study.number_text import figure, trade

# Told apart by the colour-blind and on a dark page; mark and letter say the same.
COLOURS = ("#3d7fc4", "#c9573f", "#2f9277", "#c98f1d", "#8f63b8", "#5aa7c7", "#b8668f", "#7d8b3f")
MARKS = ("circle", "square", "diamond", "triangle-up", "cross", "x", "star", "triangle-down")
PARTS = ("#3d7fc4", "#c98f1d", "#2f9277", "#c9573f", "#8f63b8", "#5aa7c7", "#b8668f", "#7d8b3f")
LARGEST_PARTS = 8
MOST_COSTS = 12
LONGEST = 48  # letters of a name beside a figure
CLIP = (-1.0, 2.0)
ROW = 26  # [px]


def torque_legs(found: Comparison) -> tuple[str, ...]:
    """Legs of all results, in the order in which they come up."""
    return tuple(
        dict.fromkeys(str(line["leg"]) for s in found.sides for line in s.rows("torque", "leg"))
    )


def torque_figure(found: Comparison, leg: str, units: str) -> go.Figure:
    """Required (dashed) and available moment of one leg over the fold angle, by result."""
    factor, unit = trade(1.0, "N*m", units)
    result = go.Figure()
    for number, side in enumerate(found.sides):
        part = leg_part(side, leg)
        if part is None:
            continue
        still = float(np.ptp(part["fold_angle"])) == 0.0
        part = part.iloc[:1] if still else part
        for column, name, dash in (
            ("available_moment", "available", "solid"),
            ("required_moment", "required", "dash"),
        ):
            result.add_scatter(
                x=np.degrees(part["fold_angle"]), y=factor * part[column],
                mode="markers" if still else "lines+markers",
                name=side.letter, showlegend=dash == "solid", legendgroup=side.letter,
                line={"color": COLOURS[number], "dash": dash},
                marker={
                    "symbol": MARKS[number] + ("" if dash == "solid" else "-open"), "size": 6,
                    "color": COLOURS[number],
                },
                hovertemplate=f"{side.letter} {name}: %{{y:.1f}} at %{{x:.0f}}°<extra></extra>",
            )  # fmt: skip
    quiet(result, height=250)
    result.update_xaxes(title_text="fold angle [deg], tip-up positive")
    result.update_yaxes(title_text=f"moment [{unit.replace('*', '·')}]", rangemode="tozero")
    return result


def leg_part(side: Side, leg: str) -> pd.DataFrame | None:
    """Angles of a leg of a result in order, None where it has no such leg."""
    needed = ("leg", "fold_angle", "required_moment", "available_moment")
    if not side.rows("torque", *needed):
        return None
    torque = side.tables["torque"]
    part = torque[torque["leg"] == leg]
    return part.sort_values("fold_angle", kind="stable") if len(part) else None


def mass_figure(found: Comparison, units: str) -> go.Figure:
    """Mass of each result as a bar of its lines; the smaller lines are one."""
    factor, unit = trade(1.0, "kg", units)
    lines = {line.name: line for line in lines_of(found, LINES)}
    order = sorted(lines, key=lambda name: -float(np.nansum(lines[name].numbers)))
    masses = [(name, np.nan_to_num(lines[name].numbers)) for name in order[:LARGEST_PARTS]]
    rest = [np.nan_to_num(lines[name].numbers) for name in order[LARGEST_PARTS:]]
    if rest:
        masses.append(("all other lines", np.sum(rest, axis=0)))
    names = [f"{side.letter}  " for side in found.sides]
    result = go.Figure()
    for number, (name, values) in enumerate(masses):
        other = name == "all other lines"
        result.add_bar(
            y=names, x=factor * values, orientation="h", name=name,
            marker={"color": GREY if other else PARTS[number], "line": {"width": 1}},
            hovertemplate="%{y}: %{x:.3g} " + unit + "<extra>" + html.escape(name) + "</extra>",
        )  # fmt: skip
    totals = np.sum([values for _, values in masses], axis=0) if masses else np.zeros(len(names))
    result.add_scatter(
        y=names, x=factor * totals, mode="text", textposition="middle right", cliponaxis=False,
        text=[f"  {figure(factor * total)} {unit}" for total in totals], hoverinfo="skip",
        showlegend=False,
    )  # fmt: skip
    quiet(result, height=140 + 44 * len(names))
    result.update_layout(barmode="stack", legend={"traceorder": "normal", "y": 1.02})
    result.update_yaxes(autorange="reversed", showgrid=False)
    result.update_xaxes(
        title_text=f"mass of the aircraft (both wings) [{unit}]",
        range=[0.0, 1.15 * factor * float(max(totals.max(initial=0.0), 1e-9))],
    )
    return result


def margins_figure(found: Comparison) -> go.Figure:
    """Worst margin of each kind of requirement in the scale of the model, clipped at both ends."""
    worst = [_scaled_margins(side) for side in found.sides]
    names = list(dict.fromkeys(name for one in worst for name in one))
    names.sort(key=lambda name: min(one[name] for one in worst if name in one), reverse=True)
    labels = [html.escape(name) for name in names]
    result = go.Figure()
    for number, (side, one) in enumerate(zip(found.sides, worst, strict=True)):
        values = [one.get(name, math.nan) for name in names]
        result.add_scatter(
            y=labels, x=np.clip(values, *CLIP), mode="markers", name=side.letter, opacity=0.85,
            marker={"symbol": MARKS[number], "color": COLOURS[number], "size": 10},
            customdata=values, hovertemplate=f"{side.letter}: %{{customdata:.3g}}<extra></extra>",
        )  # fmt: skip
    quiet(result, height=110 + ROW * len(names))
    result.update_layout(margin={"l": 315})
    result.update_yaxes(ticksuffix="  ", tickfont={"size": 11})
    low = -1.08 if any(value < -1e-6 for one in worst for value in one.values()) else -0.08
    result.update_xaxes(
        range=[low, 2.08], tickvals=[-1, 0, 1, 2],
        title_text="margin in the scale of the model, −1 to 2",
    )  # fmt: skip
    return result


def _scaled_margins(side: Side) -> dict[str, float]:
    if not side.rows("compliance", "requirement", "group", "standing", "row", "margin"):
        return {}
    lines = worst_per_group(side.tables["compliance"])
    lines = lines[lines["group"] != "driver"]
    return dict(zip(lines["requirement"], lines["scaled"].astype(float), strict=True))


def costs_figure(found: Comparison, units: str) -> go.Figure | None:
    """Mass that one harder step of a requirement adds, by result; None where none has costs."""
    factor, unit = trade(1.0, "kg", units)
    lines = [line for line in lines_of(found, COSTS) if _has_number(line)]
    lines.sort(key=lambda line: -max(abs(v) for v in line.numbers if math.isfinite(v)))
    lines = lines[:MOST_COSTS][::-1]
    if not lines:
        return None
    names = [html.escape(textwrap.shorten(line.name, LONGEST, placeholder=" …")) for line in lines]
    result = go.Figure()
    for number, side in enumerate(found.sides):
        values = [line.numbers[number] for line in lines]
        if not any(map(math.isfinite, values)):
            continue
        drawn = [factor * v if math.isfinite(v) else None for v in values]
        result.add_bar(
            y=names, x=drawn, orientation="h", name=side.letter, marker={"color": COLOURS[number]},
            hovertemplate=f"{side.letter}: %{{x:.3g}} {unit}<extra></extra>",
        )  # fmt: skip
    quiet(result, height=110 + (12 + 12 * len(found.sides)) * len(lines))
    result.update_layout(barmode="group", margin={"l": 320}, legend={"traceorder": "normal"})
    result.update_yaxes(showgrid=False, ticksuffix="  ", tickfont={"size": 11})
    result.update_xaxes(title_text=f"mass added by one harder step [{unit}, aircraft]")
    return result


def _has_number(line: Line) -> bool:
    return any(map(math.isfinite, line.numbers))


def lines_of(found: Comparison, title: str) -> Iterable[Line]:
    """Lines of one group of a comparison; none where it is not there."""
    return [line for group in found.groups if group.title == title for line in group.lines]


def quiet(result: go.Figure, *, height: int) -> None:
    """Quiet layout: transparent, thin grid, no title; the page colours text and grid."""
    result.update_layout(
        template="none", height=height, autosize=True, showlegend=True,
        paper_bgcolor="rgba(0,0,0,0)", plot_bgcolor="rgba(0,0,0,0)",
        margin={"l": 58, "r": 40, "t": 8, "b": 44}, font={"family": FONT, "size": 12},
        legend={"orientation": "h", "y": 1.0, "yanchor": "bottom", "x": 0.0},
        hoverlabel={"bgcolor": "#30343b", "font": {"color": "#ffffff"}}, bargap=0.28,
    )  # fmt: skip
    for axes in (result.update_xaxes, result.update_yaxes):
        axes(showgrid=True, gridwidth=1, zeroline=True, ticks="", fixedrange=True)
    result.update_yaxes(automargin=False)
