"""Figures of the defended optimum: pure functions of a table of the result."""

from __future__ import annotations

import html
import textwrap

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from mdo.report.figures.design import (
    AMBER,
    BLUE,
    GRAM,
    GREEN,
    GREY,
    ROW_HEIGHT,
    RUST,
    _plain,
    hatched,
    kilograms,
)
from mdo.report.templates.pieces import pretty, two
from mdo.study.number_text import figure, trade

NOTHING = 1e-6  # kg, steps of the waterfall below this are not drawn
MOST_COSTS = 14
MOST_INPUTS = 14
INPUT_HEIGHT = 32  # [px] of two lines
BREAK = "\N{NO-BREAK SPACE}\N{NO-BREAK SPACE}<br>"  # as wide as the suffix of the last line
LETTERS = 52  # of a line of an axis
GROUP_COLOURS = {"alloy": BLUE, "other parts": GREEN, "growth": AMBER}


def waterfall_figure(waterfall: pd.DataFrame) -> go.Figure:
    """Steps from the ideal alloy mass to the system mass, aircraft [kg], first on top."""
    drawn = np.abs(waterfall["loss"]) > NOTHING
    steps = waterfall.loc[drawn, ["step", "group", "before", "after"]].copy()
    total = pd.DataFrame(
        {"step": ["System mass"], "group": ["sum"], "before": [0.0],
         "after": [float(steps["after"].iloc[-1])]}
    )  # fmt: skip
    steps = pd.concat([steps, total], ignore_index=True)[::-1]
    low = np.minimum(steps["before"], steps["after"])
    size = np.abs(steps["after"] - steps["before"])
    gains = steps["after"] < steps["before"]
    colours = [
        RUST if gain else GROUP_COLOURS.get(group, GREY)
        for gain, group in zip(gains, steps["group"], strict=True)
    ]
    names = [html.escape(name) for name in steps["step"]]
    result = go.Figure()
    result.add_bar(
        y=names, x=size, base=low, orientation="h", marker=hatched(colours),
        customdata=np.column_stack([steps["before"], steps["after"]]),
        hovertemplate="%{customdata[0]:.2f} to %{customdata[1]:.2f} kg<extra></extra>",
    )  # fmt: skip
    signs = [
        f"  {'' if name == 'System mass' or value < GRAM else '−' if gain else '+'}"
        f"{kilograms(float(value))}"
        for name, gain, value in zip(steps["step"], gains, size, strict=True)
    ]
    result.add_scatter(
        y=names, x=np.maximum(steps["before"], steps["after"]), mode="text", text=signs,
        textposition="middle right", hoverinfo="skip", cliponaxis=False,
    )  # fmt: skip
    _plain(result, height=70 + ROW_HEIGHT * len(steps))
    result.update_layout(margin={"l": 235})
    result.update_yaxes(showgrid=False, ticksuffix="  ", tickfont={"size": 11})
    furthest = 1.15 * float(np.max(steps["after"]))
    result.update_xaxes(title_text="mass of the aircraft (both wings) [kg]", range=[0, furthest])
    return result


def costs_figure(costs: pd.DataFrame) -> go.Figure:
    """Mass that one step of the harder way adds, dearest on top [kg of the aircraft]."""
    lines = costs[np.isfinite(costs["tightening"]) & (np.abs(costs["tightening"]) > 0.0)]
    lines = lines[:MOST_COSTS][::-1]
    names = [
        f"{html.escape(title)},{BREAK}{html.escape(pretty(step_words(per)))}"
        for title, per in zip(lines["title"], lines["per"], strict=True)
    ]
    colours = [AMBER if kind == "technology" else BLUE for kind in lines["kind"]]
    result = go.Figure()
    result.add_bar(
        y=names, x=lines["tightening"], orientation="h", marker=hatched(colours),
        hovertemplate="%{y}: %{x:.3f} kg<extra></extra>",
    )  # fmt: skip
    result.add_scatter(
        y=names, x=lines["tightening"], mode="text", textposition="middle right",
        text=[f"  {figure(float(value), 2)} kg" for value in lines["tightening"]],
        hoverinfo="skip", cliponaxis=False,
    )  # fmt: skip
    _plain(result, height=70 + INPUT_HEIGHT * len(lines))
    result.update_layout(margin={"l": 250})
    result.update_yaxes(showgrid=False, ticksuffix="  ", tickfont={"size": 11})
    largest = float(lines["tightening"].max()) if len(lines) else 1.0
    result.update_xaxes(
        title_text="mass added by one harder step [kg, aircraft]",
        range=[0, 1.2 * largest],
    )
    return result


def step_words(per: str) -> str:
    """Words of the amount that a cost is quoted for."""
    text = per.replace("percent", "%")
    return text if text[:1].isdigit() else f"1 {text}"


def versus_figure(versus: pd.DataFrame, measure: str) -> go.Figure:
    """One measure of every concept as value and interval, logarithmic axis."""
    lines = versus[(versus["measure"] == measure)][::-1]
    unit = str(lines["unit"].iloc[0])
    name, factor = ("L", 1e3) if unit == "m**3" else trade(1.0, unit, "si")[::-1]
    labels = [
        html.escape(str(concept)) + ("" if basis == "as drawn" else f"<br>{html.escape(basis)}")
        for concept, basis in zip(lines["concept"], lines["basis"], strict=True)
    ]
    value, low, high = (
        factor * lines[column].to_numpy(float) for column in ("value", "low", "high")
    )
    colours = [
        BLUE if concept == lines["concept"].iloc[-1] else GREY for concept in lines["concept"]
    ]
    result = go.Figure()
    for place, label in enumerate(labels):
        result.add_scatter(
            x=[low[place], high[place]], y=[label, label], mode="lines+markers", hoverinfo="skip",
            line={"color": colours[place], "width": 3},
            marker={"symbol": "line-ns", "size": 11, "line": {"width": 2, "color": colours[place]}},
        )  # fmt: skip
    result.add_scatter(
        x=value, y=labels, mode="markers", marker={"color": colours, "size": 12},
        customdata=np.column_stack([low, high]),
        hovertemplate="%{x:.3g} (%{customdata[0]:.3g} to %{customdata[1]:.3g}) "
        + name + "<extra></extra>",
    )  # fmt: skip
    result.add_scatter(
        x=high, y=labels, mode="text", textposition="middle right", hoverinfo="skip",
        text=[
            f"   {two(v, unit)}" for v in lines["value"]
        ], cliponaxis=False,
    )  # fmt: skip
    _plain(result, height=60 + 30 * len(lines))
    result.update_layout(margin={"l": 178, "r": 84})
    result.update_yaxes(showgrid=False, ticksuffix="  ")
    result.update_xaxes(type="log", dtick=1, title_text=f"{measure} [{name}], aircraft")
    ends = np.log10([low.min(), high.max()])
    result.update_xaxes(range=[np.floor(ends[0] + 0.1), ends[1] + 0.15])
    return result


def inputs_figure(sensitivity: pd.DataFrame) -> go.Figure:
    """What the range of each input does to the re-optimised mass, first order [kg]."""
    lines = sensitivity[np.isfinite(sensitivity["optimum_mass_low"])].copy()
    lines["reach"] = np.abs(lines[["optimum_mass_low", "optimum_mass_high"]]).max(axis=1)
    lines = lines.sort_values("reach", ascending=False, kind="stable")[:MOST_INPUTS][::-1]
    names = [_short(str(meaning)) for meaning in lines["meaning"]]
    result = go.Figure()
    for column, words, colour in (
        ("optimum_mass_low", "at its low end", BLUE),
        ("optimum_mass_high", "at its high end", RUST),
    ):
        result.add_bar(
            y=names, x=lines[column], orientation="h", name=words, marker=hatched(colour),
            hovertemplate="%{y}: %{x:+.2f} kg<extra>" + words + "</extra>",
        )  # fmt: skip
    _plain(result, height=90 + INPUT_HEIGHT * len(lines))
    result.update_layout(barmode="overlay", showlegend=True, margin={"l": 330})
    result.update_yaxes(showgrid=False, ticksuffix="  ", tickfont={"size": 11})
    result.update_xaxes(title_text="change of the optimum's mass [kg, aircraft]")
    return result


def _short(text: str) -> str:
    """Words of an input on two lines of an axis."""
    lines = textwrap.wrap(text, LETTERS, max_lines=2, placeholder=" …")
    return BREAK.join(html.escape(line) for line in lines)
