"""Figures of heat and alloy: stress and temperature, temperature and time, energy ledger."""

from __future__ import annotations

import html
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import plotly.graph_objects as go

from mdo.defend.alloy_window import WindowLine, transformation_window
from mdo.defend.order.tubes import present_sets
from mdo.defend.tables.requirements import Facts
from mdo.disciplines.tube.sma import stress_shift
from mdo.model.layout import SET_NAMES
from mdo.optimise.appraisal import Appraisal
from mdo.report.drawings.heat import Course, heat_course
from mdo.report.drawings.svg import spread
from mdo.report.figures.design import AMBER, BAND, BLUE, GREEN, GREY, ROW_HEIGHT, RUST, _plain
from mdo.report.templates.pieces import number
from mdo.study.number_text import figure

MEGA = 1e-6
CLOSES = 1e-6  # share of the heat given that the ledger may miss without a line of its own
SYMBOLS = ("triangle-up", "triangle-down")  # of the up set and of the down set, hot
RETURNED = ("diamond-tall", "diamond-wide")  # of the same sets, returned
PHASES = (  # name, field of the card, slope, colour, dash
    ("Mf", "martensite_finish", "martensite_slope", BLUE, "solid"),
    ("Ms", "martensite_start", "martensite_slope", BLUE, "dash"),
    ("As", "austenite_start", "austenite_slope", RUST, "dash"),
    ("Af", "austenite_finish", "austenite_slope", RUST, "solid"),
)
LINE_PIXELS = 16.0  # of a label beside the temperature-time figure
TIME_HEIGHT, TIME_MARGINS = 360, 30 + 44


def celsius(temperature: float) -> float:
    """Return a temperature [K] in degrees Celsius."""
    return temperature - 273.15


def transformation_figure(
    appraisal: Appraisal, window: Sequence[WindowLine] | None = None
) -> go.Figure:
    """Shear stress over temperature: transformation lines, operating points, window demanded.

    The rows under the axis are the window that the cases demand of any alloy, no stress, and a
    cross where this alloy lies. Stresses are uniform ones of the whole section [MPa, degC].

    Parameters
    ----------
    appraisal : the design
    window : of :func:`transformation_window`, found here if left out
    """
    facts = Facts(appraisal)
    sides = present_sets(facts)
    stresses = np.asarray(facts.d["operating_stress"])[sides]
    top = 1.3 * MEGA * float(stresses.max())
    result = go.Figure()
    _phase_lines(result, facts, top)
    _hot_points(result, facts, sides)
    _return_points(result, facts, sides)
    window = transformation_window(appraisal) if window is None else window
    places = _window_rows(result, window, top)
    _plain(result, height=430)
    ticks = list(np.arange(0.0, top, _step(top)))
    rows = [_demand(one) for one in window]
    result.update_yaxes(
        title_text="shear stress [MPa]", range=[places[-1] - 0.05 * top, top],
        tickvals=[*ticks, *places], ticktext=[*(f"{one:g}" for one in ticks), *rows],
    )  # fmt: skip
    low, high = _temperature_range(facts, top)
    _bays(result, facts, top)
    slopes = " and ".join(
        f"{names} {number(_slope(facts, field), 'Pa/K', digits=3)}"
        for names, field in (("Mf, Ms", "martensite_slope"), ("As, Af", "austenite_slope"))
    )
    words = f"temperature [°C]; slopes in shear: {slopes}"
    result.update_xaxes(title_text=words, range=[low, high])
    result.update_layout(margin={"l": 138, "t": 40}, showlegend=True)
    return result


def _slope(facts: Facts, field: str) -> float:
    """Slope of a transformation line in shear [Pa/K]."""
    return 1e6 / float(stress_shift(1e6, getattr(facts.alloy, field), facts.alloy))


def _demand(line: WindowLine) -> str:
    """What the cases demand of a transformation temperature, in words."""
    bounds = [("at least", line.at_least), ("at most", line.at_most)]
    said = [f"{sense} {celsius(one):.0f} °C" for sense, one in bounds if one is not None]
    return f"{line.temperature} {' and '.join(said) or 'free'}".replace("-", "−")


def _step(top: float) -> float:
    """Round step of an axis that ends at a value, about six of them."""
    raw = 10.0 ** math.floor(math.log10(top / 6.0))
    return next(raw * one for one in (1.0, 2.0, 5.0, 10.0) if raw * one >= top / 6.0)


def _phase_lines(result: go.Figure, facts: Facts, top: float) -> None:
    """Four transformation lines, each with its name at the upper end."""
    for name, field, slope, colour, dash in PHASES:
        rate = getattr(facts.alloy, slope)
        start = celsius(float(getattr(facts.alloy, field)))
        shift = float(stress_shift(top / MEGA, rate, facts.alloy))
        per_kelvin = number(_slope(facts, slope), "Pa/K", digits=3)
        result.add_scatter(
            x=[start, start + shift * 0.93], y=[0.0, 0.93 * top], mode="lines+text",
            text=["", name], textposition="top center", showlegend=False,
            line={"color": colour, "dash": dash, "width": 2},
            hovertemplate=f"%{{x:.0f}} °C, %{{y:.0f}} MPa<extra>{name}, {per_kelvin} shear</extra>",
        )  # fmt: skip


def _hot_points(result: go.Figure, facts: Facts, sides: Sequence[int]) -> None:
    """Hot temperature and operating stress of each set."""
    hot = celsius(float(facts.d["hot_temperature"]))
    for side in sides:
        stress = MEGA * float(facts.d["operating_stress"][side])
        share = float(facts.v["heated_fraction"][side])
        result.add_scatter(
            x=[hot], y=[stress], mode="markers", name=f"hot, {SET_NAMES[side]} set",
            marker={"symbol": SYMBOLS[side], "size": 12, "color": RUST,
                    "line": {"width": 1.5, "color": "#ffffff"}},
            hovertemplate=f"%{{x:.1f}} °C, %{{y:.0f}} MPa, {100.0 * share:.0f} % austenite"
            f"<extra>{SET_NAMES[side]} set, hot</extra>",
        )  # fmt: skip


def _return_points(result: go.Figure, facts: Facts, sides: Sequence[int]) -> None:
    """Hottest bay and smallest return stress of each set that returns."""
    back = np.asarray(facts.legs.is_return) > 0.5
    back &= np.asarray(facts.legs.moves) > 0.5
    cooled = np.where(facts.up, 1, 0)
    for side in sides:
        own = back & (cooled == side)
        if not own.any():
            continue
        bay = celsius(float(facts.v["bay_hot_temperature"][own].max()))
        stress = MEGA * float(facts.v["smallest_return_stress"][side])
        finish = celsius(float(facts.v["cooling_finish"][side]))
        for shown, symbol, words in (
            (bay, RETURNED[side], "hottest bay while it returns"),
            (finish, f"{RETURNED[side]}-open", "Mf′ there"),
        ):
            result.add_scatter(
                x=[shown], y=[stress], mode="markers", name=f"returned, {SET_NAMES[side]} set",
                marker={"symbol": symbol, "size": 12, "color": BLUE,
                        "line": {"width": 1.5, "color": BLUE}},
                showlegend=shown == bay,
                hovertemplate=f"%{{x:.1f}} °C, %{{y:.0f}} MPa<extra>{SET_NAMES[side]} set, {words}"
                "</extra>",
            )  # fmt: skip
        result.add_scatter(
            x=[bay, finish], y=[stress, stress], mode="lines", showlegend=False, hoverinfo="skip",
            line={"color": BLUE, "width": 1, "dash": "dot"},
        )  # fmt: skip


def _window_rows(result: go.Figure, window: Sequence[WindowLine], top: float) -> list[float]:
    """Rows under the axis: what is demanded, and where this alloy lies; heights of the rows."""
    places = [-0.09 * top * (at + 1.0) for at in range(len(window))]
    far = 400.0  # [K] beyond the figure
    for place, one in zip(places, window, strict=True):
        ends = [
            celsius(one.card - far if one.at_least is None else one.at_least),
            celsius(one.card + far if one.at_most is None else one.at_most),
        ]
        said = html.escape(one.set_by)
        bound = one.at_least is not None or one.at_most is not None
        result.add_scatter(
            x=ends, y=[place, place], mode="lines+markers", showlegend=False,
            line={"color": GREEN if bound else GREY, "width": 4},
            marker={"symbol": "line-ns", "size": 14, "line": {"width": 3, "color": GREEN}},
            hovertemplate=f"%{{x:.0f}} °C<extra>{said}</extra>",
        )  # fmt: skip
    result.add_scatter(
        x=[celsius(one.card) for one in window], y=places, mode="markers", name="this alloy",
        marker={"symbol": "x", "size": 10, "color": AMBER},
        hovertemplate="%{x:.1f} °C<extra>this alloy, no stress</extra>",
    )  # fmt: skip
    return places


def _temperature_range(facts: Facts, top: float) -> tuple[float, float]:
    """Ends of the temperature axis: from the coldest bay that returns to the last line."""
    shift = float(stress_shift(top / MEGA, facts.alloy.austenite_slope, facts.alloy))
    highest = max(
        celsius(float(facts.alloy.austenite_finish)) + shift,
        celsius(float(facts.d["hot_temperature"])),
    )
    lowest = celsius(float(np.min(facts.v["bay_hot_temperature"])))
    return 10.0 * math.floor(lowest / 10.0 - 1.0), 10.0 * math.ceil(highest / 10.0 + 1.0)


def _bays(result: go.Figure, facts: Facts, top: float) -> None:
    """Hottest bay of the legs and hottest soak, which nothing may start in, as upright lines."""
    legs = float(np.max(facts.v["bay_hot_temperature"]))
    soaks = facts.v["static_bay_hot"][: len(facts.static_names)]
    lines = {"hottest bay": legs}
    if len(soaks) and float(np.max(soaks)) > legs + 0.5:
        lines["hottest soak"] = float(np.max(soaks))
    for words, temperature in lines.items():
        at = celsius(temperature)
        result.add_shape(
            type="line", x0=at, x1=at, y0=0.0, y1=top, line={"color": GREY, "dash": "dot"}
        )
        result.add_annotation(
            x=at, y=0.62 * top, text=f"{words} {at:.0f} °C".replace("-", "−"), textangle=-90,
            showarrow=False, xshift=-9,
        )  # fmt: skip


def temperature_time_figure(appraisal: Appraisal) -> go.Figure:
    """Temperature of a tube over time in the tightest fold and in its return [s, degC].

    A sketch through the computed ends of each stretch: one temperature per tube, between the ends
    the exponential of the lumped balance.
    """
    facts = Facts(appraisal)
    course = heat_course(appraisal)
    result = go.Figure()
    _plain(result, height=TIME_HEIGHT)
    result.update_layout(margin={"t": 30, "r": 150}, showlegend=True)
    result.update_xaxes(
        title_text="time from the command of each leg [s], sketch between computed ends",
        rangemode="tozero",
    )
    result.update_yaxes(title_text="tube temperature [°C]")
    if course is None:
        return _nothing(result)
    _moving_band(result, course, float(facts.v["motion_time"][course.leg]))
    time, temperature = _joined(course.heating)
    cold = course.heating[0].first
    _course_line(result, facts, course.leg, course.side, RUST, [0.0, *time], [cold, *temperature])
    if course.back is not None:
        _course_line(result, facts, course.back, course.cooled, BLUE, *_joined(course.cooling))
    _levels(result, facts, course)
    return result


def _nothing(result: go.Figure) -> go.Figure:
    """Say that there is nothing to draw."""
    result.add_annotation(text="no heated set folds in this study", showarrow=False)
    return result


def _joined(stretches: Sequence[Any]) -> tuple[list[float], list[float]]:
    """Times and temperatures of stretches one after the other."""
    curves = [one.curve() for one in stretches]
    return (
        [float(time) for times, _ in curves for time in times],
        [float(one) for _, temperatures in curves for one in temperatures],
    )


def _course_line(
    result: go.Figure,
    facts: Facts,
    leg: int,
    side: int,
    colour: str,
    time: Sequence[float],
    temperature: Sequence[float],
) -> None:
    """One course with a mark and its time at the end."""
    does = "heats" if colour == RUST else "cools"
    words = f"{html.escape(facts.leg_names[leg])}: {SET_NAMES[side]} set {does}"
    degrees = [celsius(one) for one in temperature]
    result.add_scatter(
        x=time, y=degrees, mode="lines", name=words,
        line={"color": colour, "width": 2.4, "dash": "solid" if colour == RUST else "longdash"},
        hovertemplate="%{y:.0f} °C at %{x:.0f} s<extra></extra>",
    )  # fmt: skip
    result.add_scatter(
        x=[time[-1]], y=[degrees[-1]], mode="markers+text", text=[f"{figure(time[-1], 3)} s"],
        textposition="bottom right" if colour == RUST else "top center", showlegend=False,
        hoverinfo="skip", marker={"color": colour, "size": 9}, cliponaxis=False,
    )  # fmt: skip


def _moving_band(result: go.Figure, course: Course, fastest: float) -> None:
    """Stretch of time in which the fold moves, the set transforming; its fastest motion [s]."""
    moving = course.heating[1]
    result.add_vrect(x0=moving.begins, x1=moving.ends, fillcolor=BAND, line_width=0, layer="below")
    result.add_annotation(
        x=(moving.begins + moving.ends) / 2.0, y=0.03, yref="paper",
        text=f"panel moves<br>({figure(fastest, 3)} s at its fastest)",
        textangle=-90, showarrow=False, yanchor="bottom",
    )  # fmt: skip


def _levels(result: go.Figure, facts: Facts, course: Course) -> None:
    """Temperatures that count, named at the right of the figure, no two names on each other."""
    start, finish = course.heating[1].first, float(facts.v["heating_finish"][course.side])
    levels = [
        ("coldest bay", course.heating[0].first, GREY),
        ("As′", start, RUST),
        ("Af′", finish, RUST),
        ("hot", course.heating[-1].last, GREY),
    ]
    if course.cooling:
        levels += [
            ("hottest bay", course.cooling[0].settles, GREY),
            ("Ms′", course.cooling[0].last, BLUE),
            ("Mf′", course.cooling[1].last, BLUE),
        ]
    levels.sort(key=lambda one: one[1])
    degrees = [celsius(one[1]) for one in levels]
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
            text=f"{words} {value:.0f} °C".replace("-", "−"),
        )  # fmt: skip
    result.update_yaxes(range=[low, high])


def ledger_figure(appraisal: Appraisal) -> go.Figure:
    """Where the heat of the tightest fold goes: one bar, a row for each part; one wing [kJ]."""
    course = heat_course(appraisal)
    result = go.Figure()
    if course is None:
        _plain(result, height=120)
        return _nothing(result)
    rows = ledger_rows(course)
    shown = rounded([heat for _, heat in rows])
    colours = [GREY] * 3 + [BLUE, GREEN, RUST] + [AMBER] * (len(rows) - 6)
    starts = np.concatenate([[0.0], np.cumsum([heat for _, heat in rows])[:-1]])
    names = [*(words for words, _ in rows), "given by the heaters of the set"]
    heats = [*(heat for _, heat in rows), course.given]
    result.add_bar(
        y=names, x=[1e-3 * heat for heat in heats], base=[*(1e-3 * starts), 0.0], orientation="h",
        marker={"color": [*colours, GREY]},
        hovertemplate="%{y}: %{x:.3g} kJ<extra></extra>",
    )  # fmt: skip
    ends = [*(1e-3 * (starts + [max(heat, 0.0) for _, heat in rows])), 1e-3 * course.given]
    result.add_scatter(
        y=names, x=ends, mode="text", textposition="middle right", hoverinfo="skip",
        text=[
            f"  {words} kJ, {100.0 * heat / course.given:.1f} %".replace("-", "−")
            for words, heat in zip([*shown[0], shown[1]], heats, strict=True)
        ],
        cliponaxis=False,
    )  # fmt: skip
    _plain(result, height=70 + ROW_HEIGHT * len(names))
    result.update_layout(margin={"l": 270})
    result.update_yaxes(showgrid=False, ticksuffix="  ", autorange="reversed")
    result.update_xaxes(
        title_text="heat of the set of one wing [kJ]", range=[0.0, 1.5e-3 * course.given]
    )
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
    return [f"{one * unit:.{places}f}" for one in down], f"{down.sum() * unit:.{places}f}"
