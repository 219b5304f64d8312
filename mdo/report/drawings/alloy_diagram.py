"""Stress over temperature: where the alloy transforms, where the sets work, what is demanded."""

from __future__ import annotations

import html
import math
from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go

from mdo.arrays import Floats
from mdo.defend.alloy_window import WindowLine
from mdo.defend.order.tubes import present_sets
from mdo.defend.tables.facts import Facts
from mdo.model.layout import SET_NAMES
from mdo.optimise.appraisal import Appraisal
from mdo.report.figures.style import AMBER, BLUE, GREEN, GREY, RUST, add_line, add_marks, quiet
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


def alloy_diagram(appraisal: Appraisal, window: Sequence[WindowLine]) -> go.Figure:
    """Shear stress over temperature: transformation lines, operating points, window demanded.

    The rows under the axis are the window that the cases demand of any alloy, no stress, and a
    cross where this alloy lies. Stresses are uniform ones of the whole section [MPa, degC].

    Parameters
    ----------
    appraisal : the design
    window : of :func:`mdo.defend.alloy_window.transformation_window`
    """
    facts = Facts(appraisal)
    v, sets = facts.v, present_sets(facts)
    hot = float(facts.d["hot_temperature"])
    top = 1.3 * MEGA * max(float(facts.d["operating_stress"][side]) for side in sets)
    lines = [float(getattr(facts.alloy, field)) for _, field, *_ in PHASES]
    stress = v["phase_line_stress"]
    slopes = (stress[-1] - stress[0]) / np.ptp(v["phase_line_temperature"], axis=0)  # [Pa/K]
    result = go.Figure()
    _add_phase_lines(result, lines, slopes, top)
    for side in sets:
        _add_hot_point(result, facts, side, _celsius(hot))
    for side in sets:
        _add_return_points(result, facts, side)
    places = [-0.09 * top * (at + 1.0) for at in range(len(window))]
    _add_window(result, window, places)
    _add_bays(result, facts, top)
    ticks = np.arange(0.0, top, _step(top)).tolist()
    martensite, austenite = (number(slopes[at], "Pa/K") for at in (0, 3))
    low = _celsius(float(np.min(v["bay_hot_temperature"])))
    high = _celsius(max(lines[3] + top / MEGA / slopes[3], hot))
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


def _add_phase_lines(result: go.Figure, lines: Sequence[float], slopes: Floats, top: float) -> None:
    """Four transformation lines, each with its name at the upper end."""
    for (name, _, colour, dash), line, rate in zip(PHASES, lines, slopes, strict=True):
        start, high = _celsius(line), 0.93 * top
        add_line(
            result, [start, start + high / MEGA / rate], [0.0, high], name, colour, dash,
            mode="lines+text", text=["", name], textposition="top center", showlegend=False,
            hover=f"%{{x:.0f}} °C, %{{y:.0f}} MPa, {name}, {number(rate, 'Pa/K')} shear",
        )  # fmt: skip


def _add_hot_point(result: go.Figure, facts: Facts, side: int, hot: float) -> None:
    """Hot temperature and operating stress of a set."""
    name, share = SET_NAMES[side], 100.0 * float(facts.v["heated_fraction"][side])
    stress = MEGA * float(facts.d["operating_stress"][side])
    look = {"symbol": SYMBOLS[side], "size": 12, "color": RUST,
            "line": {"width": 1.5, "color": "#ffffff"}}  # fmt: skip
    said = f"%{{x:.1f}} °C, %{{y:.0f}} MPa, {share:.0f} % austenite<extra>{name} set, hot</extra>"
    add_marks(result, [hot], [stress], f"hot, {name} set", look, hovertemplate=said)


def _add_return_points(result: go.Figure, facts: Facts, side: int) -> None:
    """Hottest bay and smallest return stress of a set that returns, and Mf' there."""
    back = (np.asarray(facts.legs.is_return) > 0.5) & (np.asarray(facts.legs.moves) > 0.5)
    own = facts.v["bay_hot_temperature"][back & (np.where(facts.up, 1, 0) == side)]
    if not own.size:
        return
    name, symbol = SET_NAMES[side], RETURNED[side]
    stress = MEGA * float(facts.v["smallest_return_stress"][side])
    ends = [_celsius(float(own.max())), _celsius(float(facts.v["cooling_finish"][side]))]
    add_line(
        result, ends, [stress, stress], f"returned, {name} set", BLUE, "dot", width=1,
        mode="lines+markers", hover=f"%{{x:.1f}} °C, %{{y:.0f}} MPa, {name} set, %{{customdata}}",
        customdata=["hottest bay while it returns", "Mf′ there"],
        marker={"symbol": [symbol, f"{symbol}-open"], "size": 12, "color": BLUE,
                "line": {"width": 1.5, "color": BLUE}},
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
    own, look = (
        [_celsius(line.card) for line in window],
        {"symbol": "x", "size": 10, "color": AMBER},
    )
    said = "%{x:.1f} °C<extra>this alloy, no stress</extra>"
    add_marks(result, own, list(places), "this alloy", look, hovertemplate=said)


def _add_bays(result: go.Figure, facts: Facts, top: float) -> None:
    """Hottest bay of the legs and hottest soak, which nothing may start in, as upright lines."""
    bay = float(np.max(facts.v["bay_hot_temperature"]))
    soaks = facts.v["static_bay_hot"][: len(facts.static_names)]
    hottest = {"hottest bay": bay, "hottest soak": float(np.max(soaks, initial=-math.inf))}
    for words, temperature in hottest.items():
        if words == "hottest soak" and temperature <= bay + 0.5:
            continue
        at = _celsius(temperature)
        dotted = {"color": GREY, "dash": "dot"}
        result.add_shape(type="line", x0=at, x1=at, y0=0.0, y1=top, line=dotted)
        result.add_annotation(
            x=at, y=0.62 * top, text=f"{words} {signed(f'{at:.0f}')} °C", textangle=-90,
            showarrow=False, xshift=-9,
        )  # fmt: skip
