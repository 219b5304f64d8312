"""Figures of one fold and its return: temperature against time, and where the heat goes."""

from __future__ import annotations

import html
import math
from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go

from mdo.report.drawings.heat import Course, Stretch
from mdo.report.drawings.svg import spread
from mdo.report.figures.style import (
    AMBER,
    BAND,
    BLUE,
    GREEN,
    GREY,
    RUST,
    bar_figure,
    quiet,
)
from mdo.report.words.printed import ZERO_CELSIUS, signed
from mdo.study.number_text import figure

CLOSES = 1e-6  # share of the heat given that the ledger may miss without a line of its own
LINE_PIXELS = 16.0  # of a label beside the temperature-time figure
TIME_HEIGHT, TIME_MARGINS = 360, 30 + 44
NOTHING = "no heated set folds in this study"


def temperature_time_figure(course: Course | None) -> go.Figure:
    """Temperature of a tube over time in the tightest fold and in its return [s, degC].

    A sketch through the computed ends of each stretch: one temperature per tube, between the ends
    the exponential of the lumped balance.
    """
    result = go.Figure()
    quiet(result, height=TIME_HEIGHT)
    result.update_layout(margin={"t": 30, "r": 150}, showlegend=True)
    result.update_xaxes(
        title_text="time from the command of each leg [s], sketch between computed ends",
        rangemode="tozero",
    )
    result.update_yaxes(title_text="tube temperature [°C]")
    if course is None:
        return result.add_annotation(text=NOTHING, showarrow=False)
    moving = course.heating[1]
    result.add_vrect(x0=moving.begins, x1=moving.ends, fillcolor=BAND, line_width=0, layer="below")
    result.add_annotation(
        x=(moving.begins + moving.ends) / 2.0, y=0.03, yref="paper",
        text=f"panel moves<br>({figure(course.motion_time, 3)} s at its fastest)",
        textangle=-90, showarrow=False, yanchor="bottom",
    )  # fmt: skip
    start = Stretch(np.zeros(1), course.heating[0].temperature[:1])
    _course_line(result, f"{course.fold} set heats", RUST, (start, *course.heating))
    if course.cooling:
        _course_line(result, f"{course.back_fold} set cools", BLUE, course.cooling)
    _levels(result, course)
    return result


def _course_line(result: go.Figure, words: str, colour: str, stretches: Sequence[Stretch]) -> None:
    """One course with a mark and its time at the end."""
    time = np.concatenate([stretch.time for stretch in stretches])
    celsius = np.concatenate([stretch.temperature for stretch in stretches]) - ZERO_CELSIUS
    heats = colour == RUST
    result.add_scatter(
        x=time.tolist(), y=celsius.tolist(), mode="lines", name=html.escape(words),
        line={"color": colour, "width": 2.4, "dash": "solid" if heats else "longdash"},
        hovertemplate="%{y:.0f} °C at %{x:.0f} s<extra></extra>",
    )  # fmt: skip
    result.add_scatter(
        x=[time[-1]], y=[celsius[-1]], mode="markers+text", text=[f"{figure(time[-1], 3)} s"],
        textposition="bottom right" if heats else "top center", showlegend=False,
        hoverinfo="skip", marker={"color": colour, "size": 9}, cliponaxis=False,
    )  # fmt: skip


def _levels(result: go.Figure, course: Course) -> None:
    """Temperatures that count, named at the right of the figure, no two names on each other."""
    levels = [
        ("coldest bay", course.heating[0].first, GREY),
        ("As′", course.heating[1].first, RUST),
        ("Af′", course.heating_finish, RUST),
        ("hot", course.heating[-1].last, GREY),
    ]
    if course.cooling:
        levels += [
            ("hottest bay", course.bay_hot, GREY),
            ("Ms′", course.cooling[0].last, BLUE),
            ("Mf′", course.cooling[1].last, BLUE),
        ]
    levels.sort(key=lambda level: level[1])
    degrees = [temperature - ZERO_CELSIUS for _, temperature, _ in levels]
    low, high = degrees[0] - 12.0, degrees[-1] + 15.0
    name = LINE_PIXELS * (high - low) / (TIME_HEIGHT - TIME_MARGINS)
    places = spread(degrees, [name] * len(levels), low, high)
    for (words, _, colour), value, place in zip(levels, degrees, places, strict=True):
        result.add_shape(
            type="line", x0=0.0, x1=1.0, xref="paper", y0=value, y1=value, layer="below",
            line={"color": colour, "width": 1, "dash": "dot"},
        )  # fmt: skip
        result.add_annotation(
            x=1.0, xref="paper", y=place, xanchor="left", showarrow=False, xshift=6,
            text=f"{words} {signed(f'{value:.0f}')} °C",
        )  # fmt: skip
    result.update_yaxes(range=[low, high])


def ledger_figure(course: Course | None) -> go.Figure:
    """Where the heat of the tightest fold goes: one bar, a row for each part; one wing [kJ]."""
    if course is None:
        result = go.Figure()
        quiet(result, height=120)
        return result.add_annotation(text=NOTHING, showarrow=False)
    rows = ledger_rows(course)
    heats = 1e-3 * np.array([*(heat for _, heat in rows), course.given])
    shares, whole = rounded([heat for _, heat in rows])
    starts = np.concatenate([[0.0], np.cumsum(heats[:-2]), [0.0]])
    colours = [GREY] * 3 + [BLUE, GREEN, RUST] + [AMBER] * (len(rows) - 6) + [GREY]
    bars = {"x": heats, "base": starts, "marker": {"color": colours},
            "hovertemplate": "%{y}: %{x:.3g} kJ<extra></extra>"}  # fmt: skip
    result = bar_figure(
        [*(words for words, _ in rows), "given by the heaters of the set"], [bars], left=270,
        axis="heat of the set of one wing [kJ]", span=[0.0, 1.5e-3 * course.given], letters=12,
        words=[
            f"{words} kJ, {100.0 * heat / heats[-1]:.1f} %".replace("-", "−")
            for words, heat in zip([*shares, whole], heats, strict=True)
        ],
        ends=starts + np.maximum(heats, 0.0),
    )  # fmt: skip
    result.update_yaxes(autorange="reversed")
    return result


def ledger_rows(course: Course) -> list[tuple[str, float]]:
    """Parts of the heat [J] that sum to what is given, with a line for what does not close."""
    rows = list(course.parts.items())
    missing = course.given - sum(heat for _, heat in rows)
    if abs(missing) > CLOSES * course.given:
        rows.append(("not balanced: the heater cannot heat so far", missing))
    return rows


def rounded(heats: Sequence[float]) -> tuple[list[str], str]:
    """Parts and their sum [J] in kilojoules, four digits of the sum, rounded so that they add up.

    Each part is rounded down and the largest remainders are rounded up.
    """
    total = 1e-3 * sum(heats)
    places = max(0, 3 - math.floor(math.log10(max(abs(total), 1e-9))))
    unit = 10.0**-places
    exact = np.array([1e-3 * heat / unit for heat in heats])
    down = np.floor(exact)
    short = round(total / unit) - int(down.sum())
    for at in np.argsort(down - exact, kind="stable")[: max(short, 0)]:
        down[at] += 1.0
    return [f"{part * unit:.{places}f}" for part in down], f"{down.sum() * unit:.{places}f}"
