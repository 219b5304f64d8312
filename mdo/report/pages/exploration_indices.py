"""Part of the page on sensitivities: Sobol indices and Morris effects with their intervals."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from mdo.report.figures.frame import frame, frame_rows
from mdo.report.figures.style import AMBER, BLUE, RUST, hatched
from mdo.report.pages.parts import Drawn, Section, drawn, section_of
from mdo.report.words.cells import Cell
from mdo.report.words.exploration_columns import (
    Columns,
    Listed,
    Tables,
    broken,
    rounded,
    safe,
    short,
)
from mdo.report.words.printed import DASH, signed
from mdo.report.words.table import Table
from mdo.study.number_text import figure

TEMPLATE = "sensitivity.html"
MOST_INPUTS = 14
MOST_FIGURES = 6  # of each kind
BAR = 40  # [px] of an input with its two bars
LABELLED = 8
APART = 0.07  # of the axes, between numbers beside marks
WHAT = {"design": "a fixed design", "optimum": "the re-optimised design"}


class Output(NamedTuple):
    """What is drawn of one output: its title, numbered inputs, sentence, figure and table."""

    title: str
    inputs: str
    said: str
    plot: Drawn
    behind: Listed


def sensitivity_sections(tables: Tables) -> list[Section]:
    """Sections on Sobol indices and Morris effects, those that are there."""
    sections = []
    for source, link, draw in (
        ("sobol_indices", "Sobol indices", _sobol), ("morris_effects", "Morris effects", _morris),
    ):  # fmt: skip
        if source in tables:
            outputs = [draw(tables, *output) for output in _outputs(tables[source])]
            count = tables[source].groupby(["of", "output"]).ngroups
            rest = f"{MOST_FIGURES} of {count}" if count > MOST_FIGURES else ""
            anchor = source.partition("_")[0]
            sections.append(section_of(TEMPLATE, anchor, link, outputs=outputs, rest=rest))
    return sections


def _outputs(indices: pd.DataFrame) -> Iterator[tuple[str, str, pd.DataFrame]]:
    """Outputs that are drawn: the first of each subject, then the second of each, and so on."""
    groups = list(indices.groupby(["of", "output"], sort=False))
    subjects = list(dict.fromkeys(of for (of, _), _ in groups))
    ranked = [
        (sum(other == of for (other, _), _ in groups[:place]), subjects.index(of), place)
        for place, ((of, _), _) in enumerate(groups)
    ]
    for _, _, place in sorted(ranked)[:MOST_FIGURES]:
        (of, output), part = groups[place]
        yield str(of), str(output), part


def _head(tables: Tables, of: str, output: str) -> str:
    return f"{Columns(tables).of(output).title} of {WHAT.get(of, of)}"


def _sobol(tables: Tables, of: str, output: str, part: pd.DataFrame) -> Output:
    part = part.sort_values("total", ascending=False, kind="stable", na_position="last")
    head = _head(tables, of, output)
    most = part.iloc[0]
    said = f"{head}: most comes from {most['title']}"
    said += f", total {figure(float(most['total']), 2)}." if np.isfinite(most["total"]) else "."
    rows = [
        (str(line.title), _interval(line.first, line.first_interval),
         _interval(line.total, line.total_interval))
        for line in part.itertuples()
    ]  # fmt: skip
    behind = Table(("input", "first order", "total"), rows, right=(1, 2), sortable=True)
    plot = drawn(sobol_figure(part), f"sobol-{of}-{_slug(output)}", f"Sobol indices. {said}")
    return Output(short(head, 90), "", said, plot, Listed("", behind))


def _interval(value: float, half: float) -> Cell:
    if not np.isfinite(value):
        return Cell(DASH, float(value))
    text = figure(float(value), 3) + (f" ± {figure(float(half), 2)}" if np.isfinite(half) else "")
    return Cell(signed(text), float(value))


def _slug(text: str) -> str:
    return "".join(letter if letter.isalnum() else "-" for letter in text)


def sobol_figure(part: pd.DataFrame) -> go.Figure:
    """Bars of first-order and total indices with whiskers, the largest total on top."""
    lines = part.sort_values("total", ascending=False, kind="stable")[:MOST_INPUTS][::-1]
    names = [broken(title) for title in lines["title"]]
    result = go.Figure()
    for column, name, colour in (("total", "total", AMBER), ("first", "first order", BLUE)):
        values = lines[column].to_numpy(float)
        half = lines[f"{column}_interval"].to_numpy(float)
        result.add_bar(
            y=list(range(len(lines))), x=rounded(values).tolist(), orientation="h", name=name,
            marker=hatched(colour), customdata=names,
            error_x={"type": "data", "array": rounded(np.nan_to_num(half)).tolist(),
                     "thickness": 1.5, "width": 4, "color": RUST},
            hovertemplate="%{customdata}: %{x:.3f} (" + name + ", 1 = 100 %)<extra></extra>",
        )  # fmt: skip
    height = 90 + BAR * len(lines)
    across = "share of the variance of the output"
    frame_rows(result, names, across, left=290, height=height, legend=True)
    result.update_layout(barmode="group", legend={"traceorder": "reversed"})
    return result


def _morris(tables: Tables, of: str, output: str, part: pd.DataFrame) -> Output:
    part = part.sort_values("effect", ascending=False, kind="stable").reset_index(drop=True)
    head = _head(tables, of, output)
    said = f"{head}: the largest effect is that of {part['title'].iloc[0]}."
    rows = [
        (Cell(str(place), place), str(line.title), _interval(line.effect, line.effect_interval),
         Cell(figure(float(line.spread), 3), float(line.spread)))
        for place, line in enumerate(part.itertuples(), 1)
    ]  # fmt: skip
    behind = Table(("place", "input", "mean size of the effect", "spread"), rows,
                   right=(0, 2, 3), sortable=True)  # fmt: skip
    inputs = [f"{place} {title}" for place, title in enumerate(part["title"][:LABELLED], 1)]
    plot = drawn(
        morris_figure(part, Columns(tables).of(output).unit), f"morris-{of}-{_slug(output)}",
        f"Morris effects. {said}",
    )  # fmt: skip
    return Output(short(head, 90), "; ".join(inputs), said, plot, Listed("", behind))


def morris_figure(part: pd.DataFrame, unit: str = "") -> go.Figure:
    """Spread of the effects against their mean size, numbered by size, in a unit."""
    among = f" [{unit}]" if unit not in {"", "1"} else ""
    effect, spread = (part[name].to_numpy(float) for name in ("effect", "spread"))
    half = np.nan_to_num(part["effect_interval"].to_numpy(float))
    most = float(np.nanmax(np.concatenate([effect + half, spread]), initial=0.0)) or 1.0
    result = go.Figure()
    result.add_scatter(
        x=[0.0, most], y=[0.0, most], mode="lines", name="spread as large as the effect",
        line={"color": RUST, "dash": "dash", "width": 1.5}, hoverinfo="skip",
    )  # fmt: skip
    result.add_scatter(
        x=rounded(effect).tolist(), y=rounded(spread).tolist(), mode="markers+text", name="input",
        marker={"symbol": "circle", "size": 9, "color": BLUE, "line": {"width": 0}},
        error_x={"type": "data", "array": rounded(half).tolist(), "thickness": 1.5, "width": 4,
                 "color": BLUE},
        text=_numbers(effect / most, spread / most), textposition="top center",
        customdata=[safe(one, 60) for one in part["title"]], cliponaxis=False,
        hovertemplate="%{customdata}<br>effect %{x:.3g}, spread %{y:.3g}<extra></extra>",
    )  # fmt: skip
    tallest = float(np.nanmax(spread, initial=0.0)) or most
    frame(
        result, f"mean size of the effect (μ*){among}", f"spread of the effect (σ){among}",
        height=380, l=58, r=14, t=8,
    )  # fmt: skip
    result.update_xaxes(range=[0.0, 1.06 * most], zeroline=True)
    result.update_yaxes(range=[0.0, 1.25 * tallest], zeroline=True)
    return result


def _numbers(x: np.ndarray, y: np.ndarray) -> list[str]:
    """Numbers of the largest effects, left out where they would lie over each other."""
    texts, placed = [], [(np.inf, np.inf)]
    for place, at in enumerate(zip(x, y, strict=True), 1):
        free = all(abs(at[0] - a) > APART or abs(at[1] - b) > APART for a, b in placed)
        if place <= LABELLED and free:
            placed.append(at)
        texts.append(str(place) if place <= LABELLED and free else "")
    return texts
