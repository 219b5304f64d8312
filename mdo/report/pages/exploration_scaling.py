"""Part of the page on a scaled family: log axes, fitted slopes against theory, what takes over."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from mdo.arrays import Floats
from mdo.report.figures.bars import NO_REASON, active_figure, active_rows, active_table
from mdo.report.figures.style import COLOURS, MARKS, add_line, add_marks, frame
from mdo.report.pages.parts import Facts, Section, drawn, section_of
from mdo.report.words.cells import spoken
from mdo.report.words.exploration_columns import (
    FEASIBLE,
    Column,
    Columns,
    Tables,
    numbers,
    rounded,
    safe,
    short,
)
from mdo.report.words.printed import signed
from mdo.report.words.table import shown_table
from mdo.study.number_text import figure

HEIGHT = 400  # [px]
SIZE = "length over that of the given vehicle"
TICKS = (0.1, 0.2, 0.3, 0.5, 0.7, 1.0, 1.5, 2.0, 3.0, 5.0, 7.0, 10.0)
EXACT = 1e-6  # half of an interval below which it is not written
LEAST_SPAN = 0.3  # decades of a quantity
BEYOND = 1.12  # of the sizes, to which lines are drawn
MODES = {
    "pure": "pure: gauge, length and fixed masses free",
    "full": "full: all requirements and least sizes",
}


def scaling_sections(tables: Tables) -> list[Section]:
    """Sections on a scaled family."""
    points, exponents = tables["scaling_points"], tables["scaling_exponents"]
    if points.empty:
        return [section_of("scaling", title="Family")]
    return [
        section_of("scaling", modes=_slopes(tables), feasible=(points["status"] == FEASIBLE).any()),
        section_of("scaling-exponents", listed=shown_table("scaling_exponents", exponents)),
        _takes_over(points),
    ]


def _slopes(tables: Tables) -> list[Facts]:
    """Figures of each mode with their titles."""
    points, exponents = tables["scaling_points"], tables["scaling_exponents"]
    columns, modes = Columns(tables), []
    for mode in dict.fromkeys(points["mode"]):
        here, part, plots = points[points["mode"] == mode], exponents[exponents["mode"] == mode], []
        met = here[here["status"] == FEASIBLE].groupby("law").size()
        if not met.max() > 1:  # a single size has no slope
            part = part[:0]
        for quantity, fits in part.groupby("quantity", sort=False):
            title = str(fits["title"].iloc[-1])
            column = columns.of(str(quantity))._replace(title=title)
            if column.name not in points or not points[column.name].notna().any():
                continue
            said = "; ".join(
                f"{spoken(line.law)}: {slope_words(line)}" for line in fits.itertuples()
            )
            plot = drawn(
                slopes_figure(here, fits, column), f"scaling-{mode}-{quantity}",
                f"{title} against size on log axes. {said}.",
            )  # fmt: skip
            plots.append((short(title, 80), plot))
        modes.append({"title": short(MODES.get(str(mode), mode), 90), "plots": plots})
    return modes


def _ticks(low: float, high: float) -> list[float]:
    """Sizes that are named on an axis between two sizes."""
    return [tick for tick in TICKS if low * 0.9 <= tick <= high * 1.1]


def slope_words(line: Any) -> str:
    """Return the slope of a law with its interval, and that of theory."""
    if not math.isfinite(line.exponent):
        return "no slope"
    half = 0.5 * (line.high - line.low)
    text = f"slope {signed(figure(line.exponent, 3))}"
    text += f" ± {figure(half, 2)}" if half > EXACT else ""
    known = math.isfinite(line.theory)
    return text + (f", theory {signed(figure(line.theory, 3))}" if known else "")


def slopes_figure(points: pd.DataFrame, fits: pd.DataFrame, column: Column) -> go.Figure:
    """One quantity over the size by law: marks, fitted line with its band, line of theory."""
    result = go.Figure()
    values, title = column.drawn(points[column.name])
    unit = column.scale(float(np.nanmax(points[column.name])))[2]
    shown = points.assign(y=values)
    met = shown[(shown["status"] == FEASIBLE) & (shown[column.name] > 0.0)]
    low, high = (met["y"].min(), met["y"].max()) if len(met) else (1.0, 1.0)
    span = max(math.log10(high / low), LEAST_SPAN)
    laws = list(dict.fromkeys(points["law"]))
    for number, law in enumerate(laws):
        own, fit = met[met["law"] == law], next(fits[fits["law"] == law].itertuples(), None)
        colour, mark = COLOURS[number % len(COLOURS)], MARKS[number % len(MARKS)]
        if fit is not None and len(own) > 1:
            _add_lines(result, own["size"].to_numpy(float), own["y"], fit, colour, mark)
        words = "no slope" if fit is None else slope_words(fit)
        result.add_scatter(
            x=numbers(own["size"]), y=numbers(own["y"]), mode="markers",
            name=f"{safe(spoken(law), 24)}: {words}",
            marker={"symbol": mark, "color": colour, "size": 9, "line": {"width": 0}},
            hovertemplate=f"%{{y:.4g}} {unit} at size %{{x:.3g}} ×<extra></extra>",
        )  # fmt: skip
        # crosses at the foot where a size has no feasible design
        foot, lost = low * 10.0 ** (-span * (0.1 + 0.05 * number)), shown[shown["law"] == law]
        _add_missing(result, lost[lost["status"] != FEASIBLE], float(f"{foot:.4g}"), colour, mark)
    room = 20 * len(laws)
    ticks = _ticks(float(points["size"].min()), float(points["size"].max()))
    # no less than the least span, so that noise does not look like a slope
    middle, reach = 0.5 * math.log10(low * high), span * (0.7 + 0.05 * len(laws))
    return frame(
        result, SIZE, title, height=HEIGHT + room, x={"type": "log", "tickvals": ticks},
        y={"type": "log", "nticks": 6, "range": [middle - reach, middle + reach]},
        l=62, r=14, t=20 + room,
    ).update_layout(legend={"orientation": "v"})  # fmt: skip


def _add_lines(
    result: go.Figure, x: Floats, y: pd.Series, fit: Any, colour: str, mark: str
) -> None:
    """Fitted line with its band and the line of theory, all through the middle of the marks."""
    middle = np.exp(np.mean(np.log(x))), np.exp(np.mean(np.log(y)))
    along = np.array([x.min() / BEYOND, middle[0], x.max() * BEYOND])

    def line(slope: float) -> list[float]:
        return [float(one) for one in rounded(middle[1] * (along / middle[0]) ** slope)]

    places = numbers(along)
    if math.isfinite(fit.low) and math.isfinite(fit.high):
        result.add_scatter(
            x=[*places, *places[::-1]], y=[*line(fit.low), *line(fit.high)[::-1]], fill="toself",
            fillcolor=colour, opacity=0.25, mode="none", hoverinfo="skip",
            showlegend=False, name="95 % interval",
        )  # fmt: skip
    for slope, dash, name in ((fit.exponent, "solid", "fitted"), (fit.theory, "dash", "theory")):
        if math.isfinite(slope):
            add_line(
                result, places[::2], line(slope)[::2], name, colour, dash, width=1.8,
                mode="lines+markers", showlegend=False,
                marker={"symbol": f"{mark}-open", "size": 5, "color": colour},
            )  # fmt: skip


def _add_missing(
    result: go.Figure, lost: pd.DataFrame, foot: float, colour: str, mark: str
) -> None:
    """Crosses where a size has no feasible design, with its reason."""
    if lost.empty:
        return
    texts = [
        f"size {line.size_:.3g} ×: {safe(line.status)}<br>{safe(line.reason or NO_REASON, 60)}"
        for line in lost.rename(columns={"size": "size_"}).itertuples()
    ]
    crossed = mark in {"circle", "square", "diamond"}
    look = {"symbol": f"{mark}-x-open" if crossed else "x-thin-open", "size": 10, "color": colour,
            "line": {"width": 1.6}}  # fmt: skip
    add_marks(result, numbers(lost["size"]), [foot] * len(lost), "no feasible design", look,
              labels=texts, showlegend=False)  # fmt: skip


def _takes_over(points: pd.DataFrame) -> Section:
    families = []
    for place, ((law, mode), part) in enumerate(points.groupby(["law", "mode"], sort=False)):
        name, family = spoken(law), part.sort_values("size", kind="stable")
        met = family[family["status"] == FEASIBLE]
        texts, sizes = met["active"].astype(str).tolist(), met["size"].to_numpy(float)
        held = active_rows(texts)
        plot = behind = None
        if held:
            strip = active_figure(rounded(sizes), texts, SIZE, log=True)
            strip.update_xaxes(tickvals=_ticks(sizes[0], sizes[-1]))
            said = f"Active requirements by size, {name}, {mode}: {'; '.join(held)}"
            plot = drawn(strip, f"scaling-active-{place}", said)
            behind = active_table([f"{size:.3g} ×" for size in sizes], texts, "size")
        lost = [
            f"No design at {line['size']:.3g} × ({name}, {mode}): {line['reason']}."
            for line in family[family["status"] != FEASIBLE].to_dict("records")
        ]
        title = f"{short(name, 60)}, {short(mode, 30)}"
        if held or lost:
            families.append({"title": title, "plot": plot, "behind": behind, "lost": lost})
    return section_of("scaling-active", families=families)
