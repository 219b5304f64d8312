"""Stress over temperature: where the alloy transforms, where the sets work, what is demanded."""

from __future__ import annotations

import html
import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import plotly.graph_objects as go

from mdo.defend.alloy_window import WindowLine
from mdo.defend.order.tubes import present_sets
from mdo.defend.tables.requirements import Facts
from mdo.model.layout import SET_NAMES
from mdo.optimise.appraisal import Appraisal
from mdo.report.figures.style import AMBER, BLUE, GREEN, GREY, RUST, quiet
from mdo.report.words.printed import ZERO_CELSIUS, number, signed

MEGA = 1e-6
SYMBOLS = ("triangle-up", "triangle-down")  # of the up set and of the down set, hot
RETURNED = ("diamond-tall", "diamond-wide")  # of the same sets, returned
FAR = 400.0  # [K] beyond the figure
PHASES = (  # name, field of the card, slope, colour, dash
    ("Mf", "martensite_finish", "martensite_slope", BLUE, "solid"),
    ("Ms", "martensite_start", "martensite_slope", BLUE, "dash"),
    ("As", "austenite_start", "austenite_slope", RUST, "dash"),
    ("Af", "austenite_finish", "austenite_slope", RUST, "solid"),
)


class SetPoints(NamedTuple):
    """Where one set works: its number, stresses [Pa], share of austenite when hot.

    ``bay`` and ``finish`` are the hottest bay while it returns and Mf' there [K], NaN where it
    never returns.
    """

    side: int
    stress: float
    austenite: float
    return_stress: float
    bay: float
    finish: float


class AlloyPoints(NamedTuple):
    """Numbers of the diagram; temperatures [K], slopes in shear [Pa/K] by their field of the card.

    ``lines`` are the transformation temperatures without stress by their field of the card.
    """

    lines: dict[str, float]
    slopes: dict[str, float]
    hot: float
    sets: tuple[SetPoints, ...]
    coolest_bay: float
    bays: dict[str, float]


def alloy_points(appraisal: Appraisal) -> AlloyPoints:
    """Numbers of the diagram of a design."""
    facts = Facts(appraisal)
    back = (np.asarray(facts.legs.is_return) > 0.5) & (np.asarray(facts.legs.moves) > 0.5)
    cooled = np.where(facts.up, 1, 0)
    bays = np.asarray(facts.v["bay_hot_temperature"])
    sets = []
    for side in present_sets(facts):
        own = back & (cooled == side)
        sets.append(
            SetPoints(
                side,
                float(facts.d["operating_stress"][side]),
                float(facts.v["heated_fraction"][side]),
                float(facts.v["smallest_return_stress"][side]),
                float(bays[own].max()) if own.any() else math.nan,
                float(facts.v["cooling_finish"][side]),
            )
        )
    soaks = facts.v["static_bay_hot"][: len(facts.static_names)]
    named = {"hottest bay": float(bays.max())}
    if len(soaks) and float(np.max(soaks)) > bays.max() + 0.5:
        named["hottest soak"] = float(np.max(soaks))
    rise = facts.v["phase_line_stress"]
    slopes = (rise[-1] - rise[0]) / np.ptp(facts.v["phase_line_temperature"], axis=0)
    return AlloyPoints(
        {field: float(getattr(facts.alloy, field)) for _, field, *_ in PHASES},
        {"martensite_slope": float(slopes[0]), "austenite_slope": float(slopes[3])},
        float(facts.d["hot_temperature"]),
        tuple(sets),
        float(bays.min()),
        named,
    )


def alloy_diagram(points: AlloyPoints, window: Sequence[WindowLine]) -> go.Figure:
    """Shear stress over temperature: transformation lines, operating points, window demanded.

    The rows under the axis are the window that the cases demand of any alloy, no stress, and a
    cross where this alloy lies. Stresses are uniform ones of the whole section [MPa, degC].

    Parameters
    ----------
    points : of :func:`alloy_points`
    window : of :func:`mdo.defend.alloy_window.transformation_window`
    """
    top = 1.3 * MEGA * max(own.stress for own in points.sets)
    result = go.Figure()
    _phase_lines(result, points, top)
    for own in points.sets:
        _hot_point(result, own, _celsius(points.hot))
    for own in points.sets:
        if not math.isnan(own.bay):
            _return_points(result, own)
    places = [-0.09 * top * (at + 1.0) for at in range(len(window))]
    _window_rows(result, window, places)
    quiet(result, height=430)
    ticks = list(np.arange(0.0, top, _step(top)))
    result.update_yaxes(
        title_text="shear stress [MPa]", range=[places[-1] - 0.05 * top, top],
        tickvals=[*ticks, *places],
        ticktext=[*(f"{tick:g}" for tick in ticks), *map(_demand, window)],
    )  # fmt: skip
    _bays(result, points.bays, top)
    slopes = " and ".join(
        f"{names} {number(points.slopes[field], 'Pa/K')}"
        for names, field in (("Mf, Ms", "martensite_slope"), ("As, Af", "austenite_slope"))
    )
    last = points.lines["austenite_finish"] + top / MEGA / points.slopes["austenite_slope"]
    low, high = _celsius(points.coolest_bay), _celsius(max(last, points.hot))
    result.update_xaxes(
        title_text=f"temperature [°C]; slopes in shear: {slopes}",
        range=[10.0 * math.floor(low / 10.0 - 1.0), 10.0 * math.ceil(high / 10.0 + 1.0)],
    )
    result.update_layout(margin={"l": 138, "t": 40}, showlegend=True)
    return result


def _celsius(temperature: float) -> float:
    return temperature - ZERO_CELSIUS


def _demand(line: WindowLine) -> str:
    """What the cases demand of a transformation temperature, in words."""
    bounds = [("at least", line.at_least), ("at most", line.at_most)]
    said = [f"{sense} {number(bound, 'K')}" for sense, bound in bounds if bound is not None]
    return f"{line.temperature} {' and '.join(said) or 'free'}"


def _step(top: float) -> float:
    """Round step of an axis that ends at a value, about six of them."""
    raw = 10.0 ** math.floor(math.log10(top / 6.0))
    return next(raw * round_ for round_ in (1.0, 2.0, 5.0, 10.0) if raw * round_ >= top / 6.0)


def _phase_lines(result: go.Figure, points: AlloyPoints, top: float) -> None:
    """Four transformation lines, each with its name at the upper end."""
    for name, field, slope, colour, dash in PHASES:
        start, rate = _celsius(points.lines[field]), points.slopes[slope]
        per_kelvin = number(rate, "Pa/K")
        result.add_scatter(
            x=[start, start + 0.93 * top / MEGA / rate], y=[0.0, 0.93 * top], mode="lines+text",
            text=["", name], textposition="top center", showlegend=False,
            line={"color": colour, "dash": dash, "width": 2},
            hovertemplate=f"%{{x:.0f}} °C, %{{y:.0f}} MPa<extra>{name}, {per_kelvin} shear</extra>",
        )  # fmt: skip


def _hot_point(result: go.Figure, own: SetPoints, hot: float) -> None:
    """Hot temperature and operating stress of a set."""
    name = SET_NAMES[own.side]
    result.add_scatter(
        x=[hot], y=[MEGA * own.stress], mode="markers", name=f"hot, {name} set",
        marker={"symbol": SYMBOLS[own.side], "size": 12, "color": RUST,
                "line": {"width": 1.5, "color": "#ffffff"}},
        hovertemplate=f"%{{x:.1f}} °C, %{{y:.0f}} MPa, {100.0 * own.austenite:.0f} % austenite"
        f"<extra>{name} set, hot</extra>",
    )  # fmt: skip


def _return_points(result: go.Figure, own: SetPoints) -> None:
    """Hottest bay and smallest return stress of a set that returns, and Mf' there."""
    name, stress = SET_NAMES[own.side], MEGA * own.return_stress
    bay, finish = _celsius(own.bay), _celsius(own.finish)
    symbol = RETURNED[own.side]
    for shown, mark, words in (
        (bay, symbol, "hottest bay while it returns"),
        (finish, f"{symbol}-open", "Mf′ there"),
    ):
        result.add_scatter(
            x=[shown], y=[stress], mode="markers", name=f"returned, {name} set",
            marker={"symbol": mark, "size": 12, "color": BLUE,
                    "line": {"width": 1.5, "color": BLUE}},
            showlegend=mark == symbol,
            hovertemplate=f"%{{x:.1f}} °C, %{{y:.0f}} MPa<extra>{name} set, {words}</extra>",
        )  # fmt: skip
    result.add_scatter(
        x=[bay, finish], y=[stress, stress], mode="lines", showlegend=False, hoverinfo="skip",
        line={"color": BLUE, "width": 1, "dash": "dot"},
    )  # fmt: skip


def _window_rows(result: go.Figure, window: Sequence[WindowLine], places: Sequence[float]) -> None:
    """Rows under the axis: what is demanded, and where this alloy lies."""
    for place, line in zip(places, window, strict=True):
        ends = (
            line.card - FAR if line.at_least is None else line.at_least,
            line.card + FAR if line.at_most is None else line.at_most,
        )
        bound = line.at_least is not None or line.at_most is not None
        result.add_scatter(
            x=[_celsius(end) for end in ends], y=[place, place], mode="lines+markers",
            showlegend=False, line={"color": GREEN if bound else GREY, "width": 4},
            marker={"symbol": "line-ns", "size": 14, "line": {"width": 3, "color": GREEN}},
            hovertemplate=f"%{{x:.0f}} °C<extra>{html.escape(line.set_by)}</extra>",
        )  # fmt: skip
    result.add_scatter(
        x=[_celsius(line.card) for line in window], y=list(places), mode="markers",
        name="this alloy", marker={"symbol": "x", "size": 10, "color": AMBER},
        hovertemplate="%{x:.1f} °C<extra>this alloy, no stress</extra>",
    )  # fmt: skip


def _bays(result: go.Figure, bays: dict[str, float], top: float) -> None:
    """Hottest bay of the legs and hottest soak, which nothing may start in, as upright lines."""
    for words, temperature in bays.items():
        at = _celsius(temperature)
        result.add_shape(
            type="line", x0=at, x1=at, y0=0.0, y1=top, line={"color": GREY, "dash": "dot"}
        )
        result.add_annotation(
            x=at, y=0.62 * top, text=f"{words} {signed(f'{at:.0f}')} °C", textangle=-90,
            showarrow=False, xshift=-9,
        )  # fmt: skip
