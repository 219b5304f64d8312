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
from mdo.defend.tables.facts import Facts
from mdo.model.layout import SET_NAMES
from mdo.optimise.appraisal import Appraisal
from mdo.report.figures.style import AMBER, BLUE, GREEN, GREY, RUST, quiet
from mdo.report.words.printed import ZERO_CELSIUS, number, signed

MEGA = 1e-6
SYMBOLS = ("triangle-up", "triangle-down")  # of the up set and of the down set, hot
RETURNED = ("diamond-tall", "diamond-wide")  # of the same sets, returned
FAR = 400.0  # [K] beyond the figure
PHASES = (  # name, field of the card, colour, dash; in the order of phase_line_temperature
    ("Mf", "martensite_finish", BLUE, "solid"),
    ("Ms", "martensite_start", BLUE, "dash"),
    ("As", "austenite_start", RUST, "dash"),
    ("Af", "austenite_finish", RUST, "solid"),
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
    """Numbers of the diagram: temperatures [K], slopes in shear [Pa/K] of the ``PHASES``.

    ``lines`` are the transformation temperatures without stress.
    """

    lines: tuple[float, ...]
    slopes: tuple[float, ...]
    hot: float
    sets: tuple[SetPoints, ...]
    coolest_bay: float
    bays: dict[str, float]


def alloy_points(appraisal: Appraisal) -> AlloyPoints:
    """Numbers of the diagram of a design."""
    facts = Facts(appraisal)
    v, d = facts.v, facts.d
    back = (np.asarray(facts.legs.is_return) > 0.5) & (np.asarray(facts.legs.moves) > 0.5)
    bays = np.asarray(v["bay_hot_temperature"])
    sets = []
    for side in present_sets(facts):
        own = bays[back & (np.where(facts.up, 1, 0) == side)]
        sets.append(
            SetPoints(
                side,
                float(d["operating_stress"][side]),
                float(v["heated_fraction"][side]),
                float(v["smallest_return_stress"][side]),
                float(own.max()) if own.size else math.nan,
                float(v["cooling_finish"][side]),
            )
        )
    named = {"hottest bay": float(bays.max())}
    soak = float(np.max(v["static_bay_hot"][: len(facts.static_names)], initial=-math.inf))
    if soak > bays.max() + 0.5:
        named["hottest soak"] = soak
    stress = v["phase_line_stress"]
    slopes = (stress[-1] - stress[0]) / np.ptp(v["phase_line_temperature"], axis=0)
    return AlloyPoints(
        tuple(float(getattr(facts.alloy, field)) for _, field, *_ in PHASES),
        tuple(slopes.tolist()),
        float(d["hot_temperature"]),
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
    _add_phase_lines(result, points, top)
    for own in points.sets:
        _add_hot_point(result, own, _celsius(points.hot))
    for own in points.sets:
        if not math.isnan(own.bay):
            _add_return_points(result, own)
    places = [-0.09 * top * (at + 1.0) for at in range(len(window))]
    _add_window(result, window, places)
    _add_bays(result, points.bays, top)
    ticks = np.arange(0.0, top, _step(top)).tolist()
    martensite, austenite = (number(points.slopes[at], "Pa/K") for at in (0, 3))
    last = points.lines[3] + top / MEGA / points.slopes[3]
    low, high = _celsius(points.coolest_bay), _celsius(max(last, points.hot))
    across = f"temperature [°C]; slopes in shear: Mf, Ms {martensite} and As, Af {austenite}"
    return quiet(
        result, height=430, margin={"l": 138, "t": 40}, showlegend=True,
        x={"title": {"text": across},
           "range": [10.0 * math.floor(low / 10.0 - 1.0), 10.0 * math.ceil(high / 10.0 + 1.0)]},
        y={"title": {"text": "shear stress [MPa]"}, "range": [places[-1] - 0.05 * top, top],
           "tickvals": [*ticks, *places],
           "ticktext": [*(f"{tick:g}" for tick in ticks), *map(_demand, window)]},
    )  # fmt: skip


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
    return next(raw * digit for digit in (1.0, 2.0, 5.0, 10.0) if raw * digit >= top / 6.0)


def _add_phase_lines(result: go.Figure, points: AlloyPoints, top: float) -> None:
    """Four transformation lines, each with its name at the upper end."""
    for (name, _, colour, dash), line, rate in zip(
        PHASES, points.lines, points.slopes, strict=True
    ):
        start, words = _celsius(line), f"{name}, {number(rate, 'Pa/K')} shear"
        result.add_scatter(
            x=[start, start + 0.93 * top / MEGA / rate], y=[0.0, 0.93 * top], mode="lines+text",
            text=["", name], textposition="top center", showlegend=False,
            line={"color": colour, "dash": dash, "width": 2},
            hovertemplate=f"%{{x:.0f}} °C, %{{y:.0f}} MPa<extra>{words}</extra>",
        )  # fmt: skip


def _add_hot_point(result: go.Figure, own: SetPoints, hot: float) -> None:
    """Hot temperature and operating stress of a set."""
    name, share = SET_NAMES[own.side], f"{100.0 * own.austenite:.0f} % austenite"
    result.add_scatter(
        x=[hot], y=[MEGA * own.stress], mode="markers", name=f"hot, {name} set",
        marker={"symbol": SYMBOLS[own.side], "size": 12, "color": RUST,
                "line": {"width": 1.5, "color": "#ffffff"}},
        hovertemplate=f"%{{x:.1f}} °C, %{{y:.0f}} MPa, {share}<extra>{name} set, hot</extra>",
    )  # fmt: skip


def _add_return_points(result: go.Figure, own: SetPoints) -> None:
    """Hottest bay and smallest return stress of a set that returns, and Mf' there."""
    name, stress, symbol = SET_NAMES[own.side], MEGA * own.return_stress, RETURNED[own.side]
    words = [f"{name} set, {place}" for place in ("hottest bay while it returns", "Mf′ there")]
    result.add_scatter(
        x=[_celsius(own.bay), _celsius(own.finish)], y=[stress, stress], mode="lines+markers",
        name=f"returned, {name} set", customdata=words,
        marker={"symbol": [symbol, f"{symbol}-open"], "size": 12, "color": BLUE,
                "line": {"width": 1.5, "color": BLUE}},
        line={"color": BLUE, "width": 1, "dash": "dot"},
        hovertemplate="%{x:.1f} °C, %{y:.0f} MPa<extra>%{customdata}</extra>",
    )  # fmt: skip


def _add_window(result: go.Figure, window: Sequence[WindowLine], places: Sequence[float]) -> None:
    """Rows under the axis: what is demanded, and where this alloy lies."""
    for place, line in zip(places, window, strict=True):
        low = line.card - FAR if line.at_least is None else line.at_least
        high = line.card + FAR if line.at_most is None else line.at_most
        free = line.at_least is None and line.at_most is None
        result.add_scatter(
            x=[_celsius(low), _celsius(high)], y=[place, place], mode="lines+markers",
            showlegend=False, line={"color": GREY if free else GREEN, "width": 4},
            marker={"symbol": "line-ns", "size": 14, "line": {"width": 3, "color": GREEN}},
            hovertemplate=f"%{{x:.0f}} °C<extra>{html.escape(line.set_by)}</extra>",
        )  # fmt: skip
    result.add_scatter(
        x=[_celsius(line.card) for line in window], y=list(places), mode="markers",
        name="this alloy", marker={"symbol": "x", "size": 10, "color": AMBER},
        hovertemplate="%{x:.1f} °C<extra>this alloy, no stress</extra>",
    )  # fmt: skip


def _add_bays(result: go.Figure, bays: dict[str, float], top: float) -> None:
    """Hottest bay of the legs and hottest soak, which nothing may start in, as upright lines."""
    for words, temperature in bays.items():
        at = _celsius(temperature)
        dotted = {"color": GREY, "dash": "dot"}
        result.add_shape(type="line", x0=at, x1=at, y0=0.0, y1=top, line=dotted)
        result.add_annotation(
            x=at, y=0.62 * top, text=f"{words} {signed(f'{at:.0f}')} °C", textangle=-90,
            showarrow=False, xshift=-9,
        )  # fmt: skip
