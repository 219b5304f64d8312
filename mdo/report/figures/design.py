"""Figures: pure functions of a table of the result (SI units) to a figure in trade units."""

from __future__ import annotations

import html
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from mdo.study.number_text import figure, quantity

# Mid tones that read on a light and on a dark page; text and grid are coloured by the page.
BLUE, RUST, GREEN, AMBER, GREY = "#3d7fc4", "#c9573f", "#2f9277", "#b27c12", "#858a93"
BAND = "rgba(138,143,152,0.28)"
FONT = "system-ui, -apple-system, Segoe UI, sans-serif"
ROW_HEIGHT = 22  # [px] of a bar
HATCHES = {AMBER: "/", RUST: "x"}  # so that colour is not needed to tell bars apart
CLIP = (-1.0, 2.0)  # normalised margins beyond are drawn at the end
AT_LIMIT = 1e-6
GRAM = 1e-3  # [kg]


def torque_figure(
    torque: pd.DataFrame, leg: str, *, driving_angle: float | None = None
) -> go.Figure:
    """Required against available moment of one leg over the fold angle, one wing [N*m, deg].

    Parameters
    ----------
    torque : the table ``torque`` of a result
    leg : name of the leg
    driving_angle : fold angle of the point that sizes the tubes [rad], if it lies in this leg
    """
    part = torque[torque["leg"] == leg].sort_values("fold_angle", kind="stable")
    angle = np.degrees(part["fold_angle"])
    mode = "markers" if np.ptp(angle) == 0.0 else "lines"
    if mode == "markers":
        part, angle = part.iloc[:1], angle.iloc[:1]
    result = go.Figure()
    result.add_scatter(
        x=[*angle, *angle[::-1]], y=[*part["load_high"], *part["load_low"][::-1]],
        fill="toself", fillcolor=BAND, line={"width": 0}, hoverinfo="skip", name="load envelope",
    )  # fmt: skip
    for column, name, colour, dash in (
        ("required_moment_upper_band", "required, load model at its upper band", RUST, "dot"),
        ("required_moment", "required", RUST, "dash"),
        ("available_moment", "available", BLUE, "solid"),
    ):
        symbol = {"dot": "line-ew", "dash": "square", "solid": "circle"}[dash]
        result.add_scatter(
            x=angle, y=part[column], mode=mode, name=name,
            line={"color": colour, "dash": dash, "width": 1.3 if dash == "dot" else 2.2},
            marker={
                "color": colour, "size": 9, "symbol": symbol, "line": {"width": 2, "color": colour},
            },
            hovertemplate="%{y:.1f} N·m at %{x:.0f}°<extra>" + name + "</extra>",
        )  # fmt: skip
    if driving_angle is not None:
        point = part.iloc[int(np.argmin(np.abs(part["fold_angle"] - driving_angle)))]
        degrees = [np.degrees(point["fold_angle"])] * 2
        result.add_scatter(
            x=degrees, y=[point["required_moment"], point["available_moment"]],
            mode="markers", name="driving point", hoverinfo="skip",
            marker={"symbol": "diamond-open", "size": 13, "color": AMBER, "line": {"width": 2.5}},
        )  # fmt: skip
    _plain(result, height=230)
    result.update_xaxes(title_text="fold angle [deg], tip-up positive")
    result.update_yaxes(title_text="moment [N·m]", rangemode="tozero")
    if mode == "markers":
        middle = float(angle.iloc[0])
        result.update_xaxes(range=[middle - 10.0, middle + 10.0])
    return result


def mass_figure(masses: pd.DataFrame) -> go.Figure:
    """Mass lines of the aircraft, basic and growth, largest on top [kg]."""
    lines = masses[(masses["line"] != "total") & (masses["total"] > 0.0)][::-1]
    result = go.Figure()
    for column, colour in (("basic", BLUE), ("growth", AMBER)):
        result.add_bar(
            y=lines["line"], x=lines[column], orientation="h", name=column,
            marker=hatched(colour),
            hovertemplate="%{y}: %{x:.3f} kg<extra>" + column + "</extra>",
        )  # fmt: skip
    result.add_scatter(
        y=lines["line"], x=lines["total"], mode="text", textposition="middle right",
        text=[f"  {kilograms(value)}" for value in lines["total"]], hoverinfo="skip",
        showlegend=False, cliponaxis=False,
    )  # fmt: skip
    _plain(result, height=80 + ROW_HEIGHT * len(lines))
    result.update_layout(barmode="stack", showlegend=True, margin={"l": 185})
    result.update_layout(legend={"traceorder": "normal"})
    result.update_yaxes(showgrid=False, ticksuffix="  ")
    largest = float(lines["total"].max()) if len(lines) else 1.0
    result.update_xaxes(
        title_text="mass of the aircraft (both wings) [kg]", range=[0, 1.12 * largest]
    )
    return result


def hatched(colour: str | Sequence[str]) -> dict[str, Any]:
    """Return the look of bars: a colour, or one for each bar, with its hatching."""
    shapes: str | list[str]
    if isinstance(colour, str):
        shapes = HATCHES.get(colour, "")
    else:
        shapes = [HATCHES.get(each, "") for each in colour]
    look = {"shape": shapes, "fillmode": "overlay", "fgcolor": "#ffffff", "fgopacity": 0.55,
            "size": 6, "solidity": 0.22}  # fmt: skip
    if not isinstance(colour, str):  # else a contrast is asked of a list; each bar keeps its own
        look["bgcolor"] = GREY
    return {"color": colour, "pattern": look}


def kilograms(mass: float) -> str:
    """Return a mass in kilograms, three digits but nothing below a gram."""
    if 0.0 < abs(mass) < GRAM:
        return "< 0.001"
    return figure(mass, 3) if abs(mass) >= 0.1 else f"{mass:.3f}"


def worst_per_group(compliance: pd.DataFrame) -> pd.DataFrame:
    """Worst required line of each group, with ``scaled``: its margin in the scale of the model."""
    lines = compliance[compliance["standing"] == "required"].copy()
    lines["scaled"] = lines["row"].where(lines["row"].notna(), lines["margin"])
    lines = lines[lines["scaled"].notna()]
    order = lines.sort_values("scaled", kind="stable")
    return order.drop_duplicates("group").reset_index(drop=True)


def margins_figure(compliance: pd.DataFrame) -> go.Figure:
    """Worst margin of each kind of requirement, in the scale of the model, clipped at both ends."""
    lines = worst_per_group(compliance)[::-1]
    lines = lines[(lines["group"] != "driver") | ~lines["holds"].astype(bool)]
    scaled = lines["scaled"].to_numpy(dtype=float)
    colours = np.where(
        scaled < -AT_LIMIT, RUST, np.where(scaled <= AT_LIMIT, AMBER, GREEN)
    ).tolist()
    texts = [_margin_label(line) for line in lines.itertuples()]
    drawn = np.clip(scaled, *CLIP)
    result = go.Figure()
    names = [html.escape(name) for name in lines["requirement"]]
    result.add_bar(
        y=names, x=drawn, orientation="h", marker=hatched(colours), customdata=texts,
        hovertemplate="%{y}: %{customdata}<extra></extra>",
    )  # fmt: skip
    result.add_scatter(
        y=names, x=np.maximum(drawn, 0.0), mode="text", text=texts, textposition="middle right",
        hoverinfo="skip", cliponaxis=False,
    )  # fmt: skip
    _plain(result, height=70 + ROW_HEIGHT * len(lines))
    result.update_layout(margin={"l": 305})
    result.update_yaxes(showgrid=False, ticksuffix="  ", tickfont={"size": 11})
    low = -1.05 if (scaled < -AT_LIMIT).any() else -0.05
    result.update_xaxes(
        range=[low, 3.1], tickvals=[-1, 0, 1, 2], zeroline=True,
        title_text="margin (0: at the limit), drawn up to 2",
    )  # fmt: skip
    return result


def _margin_label(line: object) -> str:
    """Text beside a bar: the margin in its unit, or that it stands at its limit."""
    scaled, margin, unit = (getattr(line, name) for name in ("scaled", "margin", "unit"))
    if abs(scaled) <= AT_LIMIT:
        return "  at the limit"
    text = quantity(margin, unit, digits=3, difference=True).replace("**2", "²").replace("*", "·")
    return f"  {text.replace('-', '−')}"


def times_figure(times: pd.DataFrame) -> go.Figure:
    """Fold and return times of each leg against their limits [s]."""
    lines = times[times["time"].notna()][::-1]
    late = lines["time"] > lines["time_limit"] * (1.0 + AT_LIMIT)
    back = lines["what"] == "return time"
    colours = np.where(late, RUST, np.where(back, GREEN, BLUE)).tolist()
    result = go.Figure()
    result.add_bar(
        y=lines["leg"], x=lines["time"], orientation="h", marker=hatched(colours),
        hovertemplate="%{y}: %{x:.1f} s<extra></extra>", width=0.62,
    )  # fmt: skip
    result.add_scatter(
        y=lines["leg"], x=lines["time_limit"], mode="markers",
        hovertemplate="limit %{x:.0f} s<extra></extra>",
        marker={
            "symbol": "line-ns", "size": 17, "color": GREY, "line": {"width": 3, "color": GREY},
        },
    )  # fmt: skip
    furthest = float(max(lines["time"].max(), lines["time_limit"].max())) if len(lines) else 1.0
    result.add_scatter(
        y=lines["leg"], x=np.maximum(lines["time"], lines["time_limit"]), mode="text",
        text=[
            f"   {figure(time, 3)} of {limit:.4g} s"
            for time, limit in zip(lines["time"], lines["time_limit"], strict=True)
        ],
        textposition="middle right", hoverinfo="skip", cliponaxis=False,
    )  # fmt: skip
    _plain(result, height=70 + ROW_HEIGHT * len(lines))
    result.update_layout(margin={"l": 160})
    result.update_yaxes(showgrid=False, ticksuffix="  ")
    result.update_xaxes(title_text="time [s]", range=[0, 1.25 * furthest])
    return result


def _plain(result: go.Figure, *, height: int) -> None:
    """Quiet layout: transparent, thin grid, no title; the page colours text and grid."""
    result.update_layout(
        template="none", height=height, autosize=True, showlegend=False,
        paper_bgcolor="rgba(0,0,0,0)", plot_bgcolor="rgba(0,0,0,0)",
        margin={"l": 58, "r": 14, "t": 8, "b": 44}, font={"family": FONT, "size": 12},
        legend={"orientation": "h", "y": 1.0, "yanchor": "bottom", "x": 0.0},
        hoverlabel={"bgcolor": "#30343b", "font": {"color": "#ffffff"}}, bargap=0.28,
    )  # fmt: skip
    result.update_xaxes(showgrid=True, gridwidth=1, zeroline=True, ticks="", fixedrange=True)
    result.update_yaxes(
        showgrid=True, gridwidth=1, zeroline=True, ticks="", fixedrange=True, automargin=False
    )
