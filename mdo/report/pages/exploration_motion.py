"""Part of the page on the fold in time."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
import pandas as pd
import plotly.graph_objects as go
from numpy.typing import ArrayLike
from plotly.subplots import make_subplots

from mdo.arrays import Floats
from mdo.report.figures.style import AMBER, BLUE, GREEN, GREY, RUST, add_line, frame, quiet
from mdo.report.pages.parts import Section, drawn, section_of
from mdo.report.words.exploration_columns import Tables, numbers
from mdo.report.words.printed import number, prose, signed
from mdo.report.words.table import Table, shown_table
from mdo.study.number_text import figure, percent

ZERO = 273.15
BINS, LEAST_BIN = 24, 2e-4  # of a histogram; least width, as a share of the value
# without a transition: one that is broken off leaves the panel behind its label
AT_ONCE = {"mode": "immediate", "frame": {"duration": 0}, "transition": {"duration": 0}}
FRAMES = 80  # of the folding wing
COLDEST, HOTTEST = 20.0, 220.0  # [degC] of the colours of a tube
HEATERS = {"solid": "dashdot", "dash": "longdashdot"}  # told from the tubes in grey too
SIDES = {"up": (RUST, "solid"), "down": (BLUE, "dash")}
SHADES = ("rgba(138,143,152,0.20)", "rgba(138,143,152,0.07)")
SPREAD = (
    ("settling_time", "settling time (s)", 1.0, 0.0),
    ("overshoot", "overshoot (deg)", 180.0 / math.pi, 0.0),
    ("steady_error", "steady error (deg)", 180.0 / math.pi, 0.0),
    ("tube_temperature_peak", "hottest tube (°C)", 1.0, ZERO),
)


def sides_of(course: pd.DataFrame) -> list[str]:
    """Sets that a course has, up and down, and their heater groups."""
    columns = (str(name).partition(".") for name in course)
    return [side for name, _, side in columns if name == "tube_temperature"]


def set_words(side: str) -> str:
    """A set, and which of its heater groups."""
    base, _, group = side.partition(" ")
    return f"{base} set" + (f", group {group}" if group else "")


def history_figure(course: pd.DataFrame, stages: pd.DataFrame) -> go.Figure:
    """Angle, temperatures and power over time, commands shaded by turns."""
    rows = ("fold angle (deg)", "temperature (°C)", "power (W)")
    result = make_subplots(rows=3, cols=1, shared_xaxes=True, vertical_spacing=0.045)
    time = numbers(course["time"])

    def add(row: int, values: ArrayLike, name: str, colour: str, dash: str = "solid") -> None:
        hover = f"%{{y:.4g}} at %{{x:.5g}} s, {name}"
        add_line(result, time, numbers(values), name, colour, dash, width=1.8, hover=hover,
                 row=row, col=1)  # fmt: skip

    add(1, np.degrees(course["commanded_angle"]), "commanded", GREY, "dot")
    add(1, np.degrees(course["fold_angle"]), "fold angle", GREEN)
    for side in sides_of(course):
        colour, dash = SIDES[side.split()[0]]
        words, heaters = set_words(side), course[f"heater_temperature.{side}"] - ZERO
        add(2, course[f"tube_temperature.{side}"] - ZERO, f"tubes, {words}", colour, dash)
        add(2, heaters, f"heaters, {words}", AMBER, HEATERS[dash])
        add(3, course[f"heater_power.{side}"], f"power, {words}", colour, dash)
    add(2, course["bay_temperature"] - ZERO, "bay", GREY, "dot")
    for stage, shade in zip(stages.itertuples(), itertools.cycle(SHADES), strict=False):
        result.add_vrect(x0=stage.begin, x1=stage.end, fillcolor=shade, line_width=0, layer="below")
    quiet(result, height=640, showlegend=True, margin={"l": 64, "t": 64, "b": 48})
    for row, title in enumerate(rows, 1):
        result.update_yaxes(title_text=title, row=row, col=1, fixedrange=True, zeroline=False)
        result.update_xaxes(showgrid=True, fixedrange=True, zeroline=False, row=row, col=1)
    result.update_xaxes(title_text="time (s)", row=3, col=1)
    return result


def loop_figure(course: pd.DataFrame, branches: pd.DataFrame) -> go.Figure:
    """Hysteresis: fold angle over tube temperature, with the branches that the controller knows."""
    result = go.Figure()
    for side in sides_of(course):
        part = branches[branches[f"missed.{side}"] < 1e-3]
        for kind, dash in (("heating", "dash"), ("cooling", "dot")):
            kelvin, angle = part[f"kelvin_{kind}.{side}"], numbers(np.degrees(part["fold_angle"]))
            name = f"{set_words(side)}, {kind} branch"
            add_line(result, numbers(kelvin - ZERO), angle, name, GREY, dash, width=1.4)
        add_line(
            result, numbers(course[f"tube_temperature.{side}"] - ZERO),
            numbers(np.degrees(course["fold_angle"])), f"path, {set_words(side)}",
            SIDES[side.split()[0]][0], customdata=numbers(course["time"]),
            hover="%{y:.4g} deg at %{x:.4g} °C, %{customdata} s",
        )  # fmt: skip
    across, up = "temperature of the tubes (°C)", "fold angle (deg)"
    return frame(result, across, up, height=430, l=64, r=14, t=64)


def torque_figure(course: pd.DataFrame) -> go.Figure:
    """Moment of the tubes at the hinge over the fold angle, coloured by their temperature."""
    result = go.Figure()
    angle = numbers(np.degrees(course["fold_angle"]))
    for place, side in enumerate(sides_of(course)):
        result.add_scatter(
            x=angle, y=numbers(course[f"torque.{side}"]), mode="markers",
            name=f"tubes, {set_words(side)}",
            marker={"size": 5, "color": numbers(course[f"tube_temperature.{side}"] - ZERO),
                    "colorscale": "Bluered", "showscale": place == 0,
                    "symbol": ("circle", "diamond")[place % 2],
                    "colorbar": {"title": {"text": "°C"}, "thickness": 10}},
            hovertemplate="%{y:.4g} N·m at %{x:.4g} deg, %{marker.color:.4g} °C<extra></extra>",
        )  # fmt: skip
    held = numbers(-course["load_moment"])
    add_line(result, angle, held, "held against the load", GREY, "dash", width=1.6)
    across, up = "fold angle (deg)", "moment at the hinge, up positive (N·m)"
    return frame(result, across, up, height=430, y={"zeroline": True}, l=64, t=64, r=60)


def even_times(end: float) -> Floats:
    """Times from 0 in steps of 1, 2 or 5 times a power of ten [s], at most FRAMES steps."""
    least = max(end, 1e-9) / FRAMES
    ten = 10.0 ** math.floor(math.log10(least))
    step = next(ten * part for part in (1.0, 2.0, 5.0, 10.0) if ten * part >= least)
    return np.asarray(step * np.arange(math.floor(end / step + 1e-9) + 1))


def wing_figure(course: pd.DataFrame) -> go.Figure:
    """Front view of the folding wing, to be played; the hinge is coloured by its tubes."""
    times = even_times(float(course["time"].iloc[-1]))
    part = pd.DataFrame({name: np.interp(times, course["time"], course[name]) for name in course})
    part["time"] = times  # before the first sample the wing stands as at it
    tubes = part[[f"tube_temperature.{side}" for side in sides_of(course)]].max(axis=1) - ZERO
    power = part[[f"heater_power.{side}" for side in sides_of(course)]].sum(axis=1)

    def traces(angle: float, kelvin: float, watts: float, time: float) -> list[go.Scatter]:
        x, y = float(np.cos(angle)), float(np.sin(angle))
        said = f"{time:.0f} s, {np.degrees(angle):.1f} deg, {kelvin:.0f} °C, {watts:.0f} W"
        return [
            go.Scatter(x=numbers([-1.2, 0.0]), y=[0.0, 0.0], mode="lines",
                       line={"color": GREY, "width": 12}, hoverinfo="skip"),
            go.Scatter(x=numbers([0.0, x]), y=numbers([0.0, y]), mode="lines",
                       line={"color": GREEN, "width": 9}, hoverinfo="skip"),
            go.Scatter(x=[0.0], y=[0.0], mode="markers+text", text=[said],
                       textposition="bottom left", hoverinfo="skip",
                       marker={"size": 24, "color": [float(kelvin)], "cmin": COLDEST,
                               "cmax": HOTTEST, "colorscale": "Bluered", "showscale": True,
                               "colorbar": {"title": {"text": "tubes, °C"}, "thickness": 10}}),
        ]  # fmt: skip

    each = list(zip(part["fold_angle"], tubes, power, part["time"], strict=True))
    low = min(-0.25, float(np.sin(part["fold_angle"].min())) - 0.15)
    high = max(0.25, float(np.sin(part["fold_angle"].max())) + 0.15)
    frames = [go.Frame(data=traces(*one), name=str(place)) for place, one in enumerate(each)]
    result = go.Figure(data=traces(*each[0]), frames=frames)
    quiet(
        result, height=470, margin={"l": 20, "r": 20, "t": 10, "b": 90},
        x={"range": [-1.3, 1.2], "visible": False, "constrain": "domain"},
        y={"range": [low, high], "visible": False, "scaleanchor": "x"},
    )  # fmt: skip
    result.update_layout(
        updatemenus=[_player()],
        sliders=[{
            "active": 0, "x": 0.16, "len": 0.8, "y": 0.0, "pad": {"t": 30},
            "currentvalue": {"prefix": "time ", "suffix": " s"},
            "steps": [
                {"label": f"{time:.4g}", "method": "animate",
                 "args": [[str(place)], AT_ONCE]}
                for place, time in enumerate(part["time"])
            ],
        }],
    )  # fmt: skip
    return result


def _player() -> dict[str, object]:
    """Buttons that play the frames and stop them."""
    play = AT_ONCE | {"frame": {"duration": 90, "redraw": False}, "fromcurrent": True}
    return {
        "type": "buttons", "x": 0.0, "y": 0.0, "xanchor": "left", "yanchor": "top",
        "pad": {"t": 40},
        "buttons": [
            {"label": "Play", "method": "animate", "args": [None, play]},
            {"label": "Stop", "method": "animate", "args": [[None], AT_ONCE]},
        ],
    }  # fmt: skip


def spread_figure(units: pd.DataFrame, shown: Sequence[tuple[str, str, float, float]]) -> go.Figure:
    """Histograms of figures over the units of one stage."""
    result = make_subplots(rows=1, cols=len(shown), horizontal_spacing=0.06)
    for place, (name, title, factor, zero) in enumerate(shown, 1):
        values = units[name].dropna() * factor - zero
        low, high = (float(values.min()), float(values.max())) if len(values) else (0.0, 1.0)
        width = max(high - low, BINS * LEAST_BIN * max(abs(high), 1.0)) / BINS  # all alike: a line
        result.add_histogram(
            x=numbers(values), marker_color=BLUE, row=1, col=place,
            xbins={"start": low - width / 2.0, "end": high + width, "size": width},
        )  # fmt: skip
        spare = max(0.0, BINS * width - (high - low)) / 2.0
        result.update_xaxes(range=[low - spare - width, high + spare + width], row=1, col=place)
        result.update_xaxes(title_text=title, row=1, col=place, fixedrange=True)
        result.update_yaxes(row=1, col=place, fixedrange=True)
    quiet(result, height=270, margin={"l": 40, "t": 12})
    result.update_yaxes(title_text="units", row=1, col=1)
    return result


def motion_sections(tables: Tables) -> list[Section]:
    """Sections on a motion."""
    course, stages = tables["motion_course"], tables["motion_stages"]
    last = stages.iloc[0]
    said = (
        f"First command {last['stage']}: settled {number(last['settling_time'], 's')}, overshoot "
        f"{number(last['overshoot'], 'rad')}."
    )
    wing = drawn(wing_figure(course), "motion-wing", "Wing that folds; play or slide.")
    loop = loop_figure(course, tables["motion_branches"])
    paths = [
        ("Hysteresis: angle over temperature",
         drawn(loop, "motion-loop", "Fold angle over tube temperature.")),
        ("Torque over angle, by temperature",
         drawn(torque_figure(course), "motion-torque",
               "Moment of the tubes over fold angle.")),
    ]  # fmt: skip
    sections = [
        section_of("motion-course", stages=_shown(tables, "stages"),
                   plot=drawn(history_figure(course, stages), "motion-course", said)),
        section_of("motion-wing", plot=wing),
        section_of("motion-path", plots=paths),
        section_of("motion-beside", sizing=_shown(tables, "sizing"), loops=_shown(tables, "loops")),
    ]  # fmt: skip
    if "motion_faults" in tables:
        sections.append(section_of("motion-faults", listed=_shown(tables, "faults")))
    if "motion_units" in tables:
        sections.append(_spread(tables["motion_units"], tables["motion_spread"]))
    return sections


def _shown(tables: Tables, name: str) -> Table:
    return shown_table(f"motion_{name}", tables[f"motion_{name}"])


def _spread(units: pd.DataFrame, spread: pd.DataFrame) -> Section:
    plots = [
        (prose(str(stage)), drawn(spread_figure(part, SPREAD), f"motion-spread-{place}",
                           f"Spread, {stage}."))
        for place, (stage, part) in enumerate(units.groupby("stage", sort=False))
    ]  # fmt: skip
    quantiles = [str(name) for name in spread if str(name).startswith("quantile_")]
    rows = [
        (prose(row["stage"]), title,
         *(signed(figure(row[end] * factor - zero, 4)) for end in quantiles),
         percent(row["missing"]))
        for row in spread.to_dict("records")
        for name, title, factor, zero in SPREAD if name == row["quantity"]
    ]  # fmt: skip
    head = ("command", "figure", *(f"{name[9:]} %" for name in quantiles), "never")
    listed = Table(head, rows, right=range(2, len(head)))
    count = int(units["unit"].nunique())
    return section_of("motion-spread", count=count, plots=plots, listed=listed)
