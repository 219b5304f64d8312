"""Figures of the defended optimum: pure functions of a table of the result."""

from __future__ import annotations

import html
import textwrap

import numpy as np
import pandas as pd
import plotly.graph_objects as go
from plotly.subplots import make_subplots

from mdo.report.figures import style
from mdo.report.words.printed import GRAM, kilograms, pretty, step_words, two
from mdo.study.number_text import figure, trade

NOTHING = 1e-6  # kg, steps of the waterfall below this are not drawn
MOST_COSTS = 14
MOST_INPUTS = 14
INPUT_HEIGHT = 32  # [px] of two lines
BREAK = "\N{NO-BREAK SPACE}\N{NO-BREAK SPACE}<br>"  # as wide as the suffix of the last line
LETTERS = 52  # of a line of an axis
GROUP_COLOURS = {"alloy": style.BLUE, "other parts": style.GREEN, "growth": style.AMBER}
SUM = "System mass"


def waterfall_figure(waterfall: pd.DataFrame) -> go.Figure:
    """Steps from the ideal alloy mass to the system mass, aircraft [kg], first on top."""
    steps = waterfall[np.abs(waterfall["loss"]) > NOTHING]
    total = {"step": SUM, "group": "sum", "before": 0.0, "after": float(steps["after"].iloc[-1])}
    columns = list(total)
    steps = pd.concat([steps[columns], pd.DataFrame([total])], ignore_index=True)[::-1]
    change = steps["after"] - steps["before"]
    colours = [
        style.RUST if gain else GROUP_COLOURS.get(group, style.GREY)
        for gain, group in zip(change < 0.0, steps["group"], strict=True)
    ]
    words = [
        ("" if name == SUM or abs(mass) < GRAM else "−" if mass < 0.0 else "+")
        + kilograms(abs(mass))
        for name, mass in zip(steps["step"], change, strict=True)
    ]
    both = steps[["before", "after"]]
    said = "%{customdata[0]:.2f} to %{customdata[1]:.2f} kg"
    bars = style.bars(
        change.abs(), colours, said, base=both.min(axis=1), customdata=both.to_numpy()
    )
    return style.bar_figure(
        style.row_names(steps["step"]), [bars], words=words, ends=both.max(axis=1), left=235,
        axis="mass of the aircraft (both wings) [kg]", span=[0, 1.15 * steps["after"].max()],
    )  # fmt: skip


def costs_figure(costs: pd.DataFrame) -> go.Figure:
    """Mass that one step of the harder way adds, dearest on top [kg of the aircraft]."""
    lines = costs[np.isfinite(costs["tightening"]) & (np.abs(costs["tightening"]) > 0.0)]
    lines = lines[:MOST_COSTS][::-1]
    names = [
        f"{html.escape(title)},{BREAK}{html.escape(pretty(step_words(per)))}"
        for title, per in zip(lines["title"], lines["per"], strict=True)
    ]
    colours = [style.AMBER if kind == "technology" else style.BLUE for kind in lines["kind"]]
    bars = style.bars(lines["tightening"], colours, "%{y}: %{x:.3f} kg")
    return style.bar_figure(
        names, [bars], axis="mass added by one harder step [kg, aircraft]", left=250,
        words=[f"{figure(float(value), 2)} kg" for value in lines["tightening"]],
        ends=lines["tightening"], row=INPUT_HEIGHT,
        span=[0, 1.2 * max(lines["tightening"], default=1.0)],
    )  # fmt: skip


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
    own = lines["concept"].iloc[-1]
    colours = [style.BLUE if concept == own else style.GREY for concept in lines["concept"]]
    result = go.Figure()
    for label, ends, colour in zip(labels, zip(low, high, strict=True), colours, strict=True):
        look = {"symbol": "line-ns", "size": 11, "line": {"width": 2, "color": colour}}
        style.add_line(result, ends, [label, label], "", colour, width=3, mode="lines+markers",
                       marker=look)  # fmt: skip
    said = "%{x:.3g} (%{customdata[0]:.3g} to %{customdata[1]:.3g}) " + f"{name}<extra></extra>"
    result.add_scatter(
        x=value, y=labels, mode="markers", marker={"color": colours, "size": 12},
        customdata=np.column_stack([low, high]), hovertemplate=said,
    )  # fmt: skip
    style.add_words(result, high, labels, [f"   {two(value, unit)}" for value in lines["value"]])
    least, most = np.log10([low.min(), high.max()])
    return style.quiet(
        result, height=60 + 30 * len(lines), margin={"l": 178, "r": 84},
        x={"type": "log", "dtick": 1, "title": {"text": f"{measure} [{name}], aircraft"},
           "range": [min(np.floor(least + 0.1), least - 0.05), most + 0.15]},
        y={"showgrid": False, "ticksuffix": "  "},
    )  # fmt: skip


def inputs_figure(sensitivity: pd.DataFrame) -> go.Figure:
    """What the range of each input does to the re-optimised mass, first order [kg]."""
    columns = ["optimum_mass_low", "optimum_mass_high"]
    lines = sensitivity[np.isfinite(sensitivity["optimum_mass_low"])].copy()
    lines["reach"] = np.abs(lines[columns]).max(axis=1)
    lines = lines.sort_values("reach", ascending=False, kind="stable")[:MOST_INPUTS][::-1]
    ends = (("at its low end", style.BLUE), ("at its high end", style.RUST))
    bars = [
        style.bars(lines[column], colour, "%{y}: %{x:+.2f} kg", words)
        for column, (words, colour) in zip(columns, ends, strict=True)
    ]
    names = [_two_lines(str(meaning)) for meaning in lines["meaning"]]
    axis = "change of the optimum's mass [kg, aircraft]"
    result = style.bar_figure(names, bars, axis=axis, left=330, row=INPUT_HEIGHT)
    return result.update_layout(barmode="overlay")


def _two_lines(text: str) -> str:
    """Words of an input on two lines of an axis."""
    lines = textwrap.wrap(text, LETTERS, max_lines=2, placeholder=" …")
    return BREAK.join(html.escape(line) for line in lines)


CURVES = {  # column: title, unit of the axis, scale
    "yaw_stability": ("Directional stability added", "1/rad", 1.0),
    "drag_change": ("Drag due to lift at the same lift", "%", 100.0),
    "centre_shift": ("Shift of the aerodynamic centre, aft positive", "% of mean chord", 100.0),
}
LOOKS = ((style.BLUE, "solid"), (style.RUST, "dash"))  # by Mach number
# Of other fold fractions.
MARKS = ((style.AMBER, "square"), (style.GREEN, "diamond"), (style.RUST, "cross"))


def benefit_figure(flown: pd.DataFrame, column: str) -> go.Figure:
    """One number of the benefit over the fold angle [deg], its error as a band.

    Parameters
    ----------
    flown : the table ``benefit`` of a result, points in flight
    column : of :data:`CURVES`
    """
    _, unit, scale = CURVES[column]
    result = go.Figure()
    own = flown["fold_fraction"].iloc[0]
    for (mach, part), (colour, dash) in zip(flown.groupby("mach"), LOOKS, strict=False):
        line = part[part["fold_fraction"] == own].sort_values("fold_angle")
        angle = np.degrees(line["fold_angle"])
        low, high = (scale * line[f"{column}_{end}"] for end in ("low", "high"))
        style.add_band(result, angle, low, high, showlegend=False)
        style.add_line(result, angle, scale * line[column], f"Mach {mach:.2f}", colour, dash,
                       width=2.2, hover="%{y:.4g} at %{x:.0f}°")  # fmt: skip
    first = flown[flown["mach"] == flown["mach"].iloc[0]]
    others = first[(first["fold_fraction"] != own) & (first["fold_angle"] != 0.0)]
    for (fraction, part), (colour, symbol) in zip(
        others.groupby("fold_fraction"), MARKS, strict=False
    ):
        look, name = {"color": colour, "size": 8, "symbol": symbol}, f"{100 * fraction:.0f} %"
        style.add_marks(
            result, np.degrees(part["fold_angle"]), scale * part[column],
            f"{name} of the semi-span", look, hovertemplate="%{y:.4g} at %{x:.0f}°<extra></extra>",
        )  # fmt: skip
    return style.quiet(
        result, height=300, showlegend=True, margin={"l": 80, "t": 46},
        y={"title": {"text": unit}}, x={"title": {"text": "fold angle [deg], tip-up positive"}},
    )  # fmt: skip


LEAST = 1e-12  # drawn where nothing is left
LINES = (
    ("system_mass", "mass [kg]", style.BLUE, "linear"),
    ("violation", "violation", style.RUST, "log"),
    ("kkt_residual", "KKT residual", style.GREEN, "log"),
)
GAP = 0.08  # share of the height between two panels


def corrections_figure(steps: pd.DataFrame) -> go.Figure:
    """Three panels over each other; refused steps are open marks."""
    result = make_subplots(rows=len(LINES), cols=1, shared_xaxes=True, vertical_spacing=GAP)
    marks = ["circle" if taken else "circle-open" for taken in steps["taken"]]
    style.quiet(result, height=460, margin={"l": 76}, x={"zeroline": False})
    for row, (column, title, colour, scale) in enumerate(LINES, 1):
        values = steps[column].to_numpy(float)
        result.add_scatter(
            x=steps["dear_evaluations"].tolist(), row=row, col=1,
            y=(values if scale == "linear" else np.maximum(values, LEAST)).tolist(),
            mode="lines+markers", name=title,
            line={"color": colour}, marker={"symbol": marks, "size": 8},
            hovertemplate=f"evaluation %{{x}}: {title} %{{y:.6g}}<extra></extra>",
        )  # fmt: skip
        result.update_yaxes(
            type=scale, title={"text": title}, fixedrange=True, zeroline=False, gridwidth=1,
            ticks="", exponentformat="power", nticks=5, row=row, col=1,
        )  # fmt: skip
    result.update_xaxes(fixedrange=True, zeroline=False)
    across = "evaluations of the high-fidelity model"
    return result.update_xaxes(title_text=across, row=len(LINES), col=1)
