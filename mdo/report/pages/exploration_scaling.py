"""Part of the page on a scaled family: log axes, fitted slopes against theory, what takes over."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from mdo.arrays import Floats
from mdo.report.figures.bars import active_figure, active_rows, active_table
from mdo.report.figures.results_compared import COLOURS, MARKS
from mdo.report.figures.style import frame
from mdo.report.pages.parts import Section, drawn, section_of
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

TEMPLATE = "scaling.html"
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
    points = tables["scaling_points"]
    if points.empty:
        return [section_of(TEMPLATE, "scaling", "Slopes", "Family")]
    return [
        section_of(
            TEMPLATE, "scaling", "Slopes", "The family over its size", modes=_slopes(tables),
            feasible=bool((points["status"] == FEASIBLE).any()),
        ),
        section_of(
            TEMPLATE, "scaling-exponents", "Exponents", "Exponents against theory",
            listed=shown_table("scaling_exponents", tables["scaling_exponents"]),
        ),
        _takes_over(points),
    ]  # fmt: skip


def _slopes(tables: Tables) -> list[dict[str, object]]:
    """Figures of each mode with their titles."""
    points, exponents = tables["scaling_points"], tables["scaling_exponents"]
    columns, modes = Columns(tables), list[dict[str, object]]()
    for mode in dict.fromkeys(points["mode"]):
        part, plots = exponents[exponents["mode"] == mode], []
        for quantity, title in dict(zip(part["quantity"], part["title"], strict=True)).items():
            column = columns.of(str(quantity))._replace(title=str(title))
            if column.name not in points or not points[column.name].notna().any():
                continue
            here, fits = points[points["mode"] == mode], part[part["quantity"] == quantity]
            said = "; ".join(
                f"{spoken(line.law)}: {slope_words(line)}" for line in fits.itertuples()
            )
            plot = drawn(
                slopes_figure(here, fits, column), f"scaling-{mode}-{quantity}",
                f"{title} against size on log axes. {said}.",
            )  # fmt: skip
            plots.append((short(title, 80), plot))
        if plots:
            modes.append({"title": short(MODES.get(str(mode), mode), 90), "plots": plots})
    return modes


def _ticks(low: float, high: float) -> list[float]:
    """Sizes that are named on an axis between two sizes."""
    return [tick for tick in TICKS if low * 0.9 <= tick <= high * 1.1]


def slope_words(line: object) -> str:
    """Return the slope of a law with its interval, and that of theory."""
    exponent, low, high, theory = (
        float(getattr(line, name)) for name in ("exponent", "low", "high", "theory")
    )
    if not math.isfinite(exponent):
        return "no slope"
    half = 0.5 * (high - low)
    text = f"slope {signed(figure(exponent, 3))}"
    text += f" ± {figure(half, 2)}" if half > EXACT else ""
    return text + (f", theory {signed(figure(theory, 3))}" if math.isfinite(theory) else "")


def slopes_figure(points: pd.DataFrame, fits: pd.DataFrame, column: Column) -> go.Figure:
    """One quantity over the size by law: marks, fitted line with its band, line of theory."""
    result = go.Figure()
    met = points[(points["status"] == FEASIBLE) & (points[column.name] > 0.0)]
    laws = list(dict.fromkeys(points["law"]))
    values, title = column.drawn(points[column.name])
    values_of = dict(zip(points.index, values, strict=True))
    ends = [f((values_of[row] for row in met.index), default=1.0) for f in (min, max)]
    span = max(math.log10(ends[1] / ends[0]), LEAST_SPAN)
    for number, law in enumerate(laws):
        part, fit = met[met["law"] == law], fits[fits["law"] == law]
        y = np.array([values_of[row] for row in part.index])
        x = part["size"].to_numpy(float)
        look = (COLOURS[number % len(COLOURS)], MARKS[number % len(MARKS)])
        if len(fit) and x.size > 1:
            _add_lines(result, x, y, next(fit.itertuples()), look)
        foot = ends[0] * 10.0 ** (-span * (0.1 + 0.05 * number))
        words = slope_words(next(fit.itertuples())) if len(fit) else "no slope"
        result.add_scatter(
            x=numbers(x), y=numbers(y), mode="markers",
            name=f"{safe(spoken(law), 24)}: {words}",
            marker={"symbol": look[1], "color": look[0], "size": 9, "line": {"width": 0}},
            hovertemplate="%{y:.4g} " + column.scale(float(np.nanmax(points[column.name])))[2]
            + " at size %{x:.3g} ×<extra></extra>",
        )  # fmt: skip
        _add_missing(result, points[points["law"] == law], foot, look)
    room = 20 * len(laws)
    frame(result, SIZE, title, height=HEIGHT + room, l=62, r=14, t=20 + room)
    result.update_layout(legend={"orientation": "v"})
    sizes = (float(points["size"].min()), float(points["size"].max()))
    ticks = _ticks(*sizes)
    result.update_xaxes(type="log", tickvals=ticks)
    result.update_yaxes(type="log", nticks=6)
    return result


def _add_lines(result: go.Figure, x: Floats, y: Floats, fit: object, look: tuple[str, str]) -> None:
    """Fitted line with its band and the line of theory, all through the middle of the marks."""
    middle = np.exp(np.mean(np.log(x))), np.exp(np.mean(np.log(y)))
    along = np.array([x.min() / BEYOND, middle[0], x.max() * BEYOND])
    colour, symbol = look

    def line(slope: float) -> list[float]:
        return [float(one) for one in rounded(middle[1] * (along / middle[0]) ** slope)]

    exponent, low, high, theory = (
        float(getattr(fit, name)) for name in ("exponent", "low", "high", "theory")
    )
    places = numbers(along)
    if math.isfinite(low) and math.isfinite(high):
        result.add_scatter(
            x=[*places, *places[::-1]], y=[*line(low), *line(high)[::-1]], fill="toself",
            fillcolor=colour, opacity=0.25, mode="none", hoverinfo="skip",
            showlegend=False, name="95 % interval",
        )  # fmt: skip
    for slope, dash, name in ((exponent, "solid", "fitted"), (theory, "dash", "theory")):
        if math.isfinite(slope):
            result.add_scatter(
                x=places[::2], y=line(slope)[::2], mode="lines+markers", showlegend=False,
                line={"color": colour, "dash": dash, "width": 1.8}, name=name, hoverinfo="skip",
                marker={"symbol": f"{symbol}-open", "size": 5, "color": colour},
            )  # fmt: skip


def _add_missing(
    result: go.Figure, points: pd.DataFrame, foot: float, look: tuple[str, str]
) -> None:
    """Crosses at the foot where a size has no feasible design."""
    part = points[points["status"] != FEASIBLE]
    if part.empty:
        return
    texts = [
        f"size {line['size']:.3g} ×: {safe(line['status'])}<br>"
        f"{safe(line['reason'] or 'no reason given', 60)}"
        for line in part.to_dict("records")
    ]
    result.add_scatter(
        x=numbers(part["size"]), y=[float(f"{foot:.4g}")] * len(part),
        mode="markers", showlegend=False, customdata=texts, name="no feasible design",
        marker={"symbol": f"{look[1]}-x-open" if look[1] in {"circle", "square", "diamond"}
                else "x-thin-open", "size": 10, "color": look[0], "line": {"width": 1.6}},
        hovertemplate="%{customdata}<extra></extra>",
    )  # fmt: skip


def _takes_over(points: pd.DataFrame) -> Section:
    families = []
    for place, ((law, mode), part) in enumerate(points.groupby(["law", "mode"], sort=False)):
        name, family = spoken(law), part.sort_values("size", kind="stable")
        met = family[family["status"] == FEASIBLE]
        lost = family[family["status"] != FEASIBLE]
        texts, sizes = met["active"].astype(str).tolist(), met["size"].to_numpy(float)
        held = active_rows(texts)
        plot = behind = None
        if held:
            strip = active_figure(rounded(sizes), texts, SIZE, log=True)
            strip.update_xaxes(tickvals=_ticks(sizes[0], sizes[-1]))
            said = f"Active requirements by size, {name}, {mode}: {'; '.join(held)}"
            plot = drawn(strip, f"scaling-active-{place}", said)
            behind = active_table([f"{size:.3g} ×" for size in sizes], texts, "size")
        lines = [
            f"No design at {line['size']:.3g} × ({name}, {mode}): {line['reason']}."
            for line in lost.to_dict("records")
        ]
        title = f"{short(name, 60)}, {short(mode, 30)}"
        families.append({"title": title, "plot": plot, "behind": behind, "lost": lines})
    link, title = "What takes over", "Which requirement takes over"
    shown = [family for family in families if family["plot"] or family["lost"]]
    return section_of(TEMPLATE, "scaling-active", link, title, families=shown)
