"""Figures of one fold and its return: temperature against time, and where the heat goes."""

from __future__ import annotations

import html
import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import plotly.graph_objects as go

from mdo.arrays import Floats
from mdo.defend.tables.facts import Facts
from mdo.defend.tables.legs import times_table
from mdo.defend.tables.never import never_heats
from mdo.disciplines.heat.record import HEAT_PARTS
from mdo.model.layout import SET_NAMES
from mdo.optimise.appraisal import Appraisal
from mdo.report.drawings.svg import spread
from mdo.report.figures.style import (
    AMBER,
    BAND,
    BLUE,
    GREEN,
    GREY,
    RUST,
    add_line,
    bar_figure,
    quiet,
)
from mdo.report.words.printed import ZERO_CELSIUS, signed
from mdo.study.number_text import figure


class Stretch(NamedTuple):
    """One stretch of a course: times [s] from the command and temperatures [K] along it."""

    time: Floats
    temperature: Floats


class Course(NamedTuple):
    """Tightest fold and its return, of the sets of one wing.

    Attributes
    ----------
    leg, side : the fold and the set that it heats
    fold, back_fold : the same in words, of the fold and of its return
    motion_time : of the fold at its fastest [s], nan where it never moves
    heating_finish : Af' of the set that is heated [K]
    heating : stretches from the coldest bay to As', to Af' and to the hot temperature
    parts : where the heat goes, words to joules of the whole set, and ``given``, what the heater
        gives
    back, cooled, cooling : the return leg, the set that cools in it, its stretches to Ms' and to
        Mf'; None and empty where no leg returns
    bay_hot : hottest bay of the return leg [K]
    """

    leg: int
    side: int
    fold: str
    motion_time: float
    heating_finish: float
    heating: tuple[Stretch, ...]
    parts: dict[str, float]
    given: float
    bay_hot: float
    back: int | None = None
    cooled: int = 0
    back_fold: str = ""
    cooling: tuple[Stretch, ...] = ()


def heat_course(appraisal: Appraisal) -> Course | None:
    """Heat of the longest fold and of its return; None where no heated set folds."""
    facts = Facts(appraisal)
    v, times = facts.v, times_table(facts)
    folds = times[(times["what"] == "fold time") & times["time"].notna()]
    if not len(folds):
        return None
    use = times["time"] / times["time_limit"]
    leg = int(use[folds.index].idxmax())
    side = 0 if facts.up[leg] else 1
    course = Course(
        leg, side, f"{facts.leg_names[leg]}: {SET_NAMES[side]}",
        math.nan if never_heats(facts, leg, side) else float(v["motion_time"][leg]),
        float(v["heating_finish"][side]), _stretches(facts, "heating", (leg, side), 3),
        dict(zip(HEAT_PARTS, v["stroke_heat"][leg, side].tolist(), strict=True)),
        float(v["stroke_heat_given"][leg, side]), float(v["bay_hot_temperature"][leg]),
    )  # fmt: skip
    # the return leg of the same case, else the tightest one
    legs = appraisal.problem.assembled.legs
    moves = np.asarray(facts.legs.moves) > 0.5
    backs = [at for at, one in enumerate(legs) if one.is_return and moves[at]]
    own = [at for at in backs if legs[at].case == legs[leg].case]
    if not backs:
        return course
    back = max(own or backs, key=lambda at: float(use[at]))
    cooled = 1 if facts.up[back] else 0
    return course._replace(
        back=back, cooled=cooled, back_fold=f"{facts.leg_names[back]}: {SET_NAMES[cooled]}",
        cooling=_stretches(facts, "cooling", (back, cooled), 2),
        bay_hot=float(v["bay_hot_temperature"][back]),
    )  # fmt: skip


def _stretches(facts: Facts, which: str, at: tuple[int, int], count: int) -> tuple[Stretch, ...]:
    """Stretches of the course of one set in one leg, each with its own points."""
    time = facts.v[f"{which}_course_time"][at]
    temperature = facts.v[f"{which}_course_temperature"][at]
    skip = time.size % count  # the point at the command, before the dead time
    parts = (np.split(course[skip:], count) for course in (time, temperature))
    return tuple(Stretch(*pair) for pair in zip(*parts, strict=True))


CLOSES = 1e-6  # share of the heat given that the ledger may miss without a line of its own
LINE_PIXELS = 16.0  # of a label beside the temperature-time figure
TIME_HEIGHT, TIME_MARGINS = 360, 30 + 44


def temperature_time_figure(course: Course) -> go.Figure:
    """Temperature of a tube over time in the longest fold and in its return [s, degC].

    A sketch through the computed ends of each stretch: one temperature per tube, between the ends
    the exponential of the lumped balance.
    """
    across = "time from the command of each leg [s], sketch between computed ends"
    result = quiet(
        go.Figure(), height=TIME_HEIGHT, margin={"t": 30, "r": 150}, showlegend=True,
        x={"title": {"text": across}, "rangemode": "tozero"},
        y={"title": {"text": "tube temperature [°C]"}},
    )  # fmt: skip
    begins, ends = course.heating[1].time[[0, -1]].tolist()
    result.add_vrect(x0=begins, x1=ends, fillcolor=BAND, line_width=0, layer="below")
    result.add_annotation(
        x=(begins + ends) / 2.0, y=0.03, yref="paper", textangle=-90, showarrow=False,
        text="never gets hot enough" if math.isnan(course.motion_time) else
        f"panel moves<br>({figure(course.motion_time, 3)} s at its fastest)", yanchor="bottom",
    )  # fmt: skip
    start = Stretch(np.zeros(1), course.heating[0].temperature[:1])
    _add_course(result, f"{course.fold} set heats", RUST, (start, *course.heating))
    if course.cooling:
        _add_course(result, f"{course.back_fold} set cools", BLUE, course.cooling)
    _add_levels(result, course)
    return result


def _add_course(result: go.Figure, words: str, colour: str, stretches: Sequence[Stretch]) -> None:
    """One course with a mark and its time at the end."""
    time = np.concatenate([stretch.time for stretch in stretches]).tolist()
    kelvin = np.concatenate([stretch.temperature for stretch in stretches])
    celsius = (kelvin - ZERO_CELSIUS).tolist()
    dash, beside = ("solid", "bottom right") if colour == RUST else ("longdash", "top center")
    add_line(result, time, celsius, html.escape(words), colour, dash, width=2.4,
             hover="%{y:.0f} °C at %{x:.0f} s")  # fmt: skip
    result.add_scatter(
        x=time[-1:], y=celsius[-1:], mode="markers+text", text=[f"{figure(time[-1], 3)} s"],
        textposition=beside, showlegend=False, hoverinfo="skip", cliponaxis=False,
        marker={"color": colour, "size": 9},
    )  # fmt: skip


def _add_levels(result: go.Figure, course: Course) -> None:
    """Temperatures that count, named at the right of the figure, no two names on each other."""
    levels = [
        (course.heating[0].temperature[0], "coldest bay", GREY),
        (course.heating[1].temperature[0], "As′", RUST),
        (course.heating_finish, "Af′", RUST),
        (course.heating[-1].temperature[-1], "hot", GREY),
    ]
    if course.cooling:
        levels += [
            (course.bay_hot, "hottest bay", GREY),
            (course.cooling[0].temperature[-1], "Ms′", BLUE),
            (course.cooling[1].temperature[-1], "Mf′", BLUE),
        ]
    levels.sort(key=lambda level: level[0])
    degrees = [temperature - ZERO_CELSIUS for temperature, *_ in levels]
    low, high = degrees[0] - 12.0, degrees[-1] + 15.0
    name = LINE_PIXELS * (high - low) / (TIME_HEIGHT - TIME_MARGINS)
    places = spread(degrees, [name] * len(levels), low, high)
    for (_, words, colour), value, place in zip(levels, degrees, places, strict=True):
        dotted = {"color": colour, "width": 1, "dash": "dot"}
        result.add_hline(y=value, line=dotted, layer="below")
        result.add_annotation(
            x=1.0, xref="paper", y=place, xanchor="left", showarrow=False, xshift=6,
            text=f"{words} {signed(f'{value:.0f}')} °C",
        )  # fmt: skip
    result.update_yaxes(range=[low, high])


def ledger_figure(course: Course) -> go.Figure:
    """Where the heat of the longest fold goes: one bar, a row for each part; one wing [kJ]."""
    rows = ledger_rows(course)
    heats = 1e-3 * np.array([*(heat for _, heat in rows), course.given])
    shares, whole = rounded([heat for _, heat in rows])
    starts = np.concatenate([[0.0], np.cumsum(heats[:-2]), [0.0]])
    colours = [GREY] * 3 + [BLUE, GREEN, RUST] + [AMBER] * (len(rows) - 6) + [GREY]
    bars = {"x": heats, "base": starts, "marker": {"color": colours},
            "hovertemplate": "%{y}: %{x:.3g} kJ<extra></extra>"}  # fmt: skip
    words = [
        f"{words} kJ, {100.0 * heat / heats[-1]:.1f} %".replace("-", "−")
        for words, heat in zip([*shares, whole], heats, strict=True)
    ]
    result = bar_figure(
        [*(part for part, _ in rows), "given by the heaters of the set"], [bars], left=270,
        axis="heat of the set of one wing [kJ]", span=[0.0, 1.5e-3 * course.given], letters=12,
        words=words, ends=starts + np.maximum(heats, 0.0),
    )  # fmt: skip
    return result.update_yaxes(autorange="reversed")


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
    exact = 1e-3 * np.array(heats) * 10.0**places
    down = np.floor(exact)
    short = round(total * 10.0**places) - int(down.sum())
    down[np.argsort(down - exact, kind="stable")[: max(short, 0)]] += 1.0
    texts = [f"{part / 10.0**places:.{places}f}" for part in (*down, down.sum())]
    return texts[:-1], texts[-1]
