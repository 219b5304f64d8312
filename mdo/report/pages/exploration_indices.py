"""Part of the page on sensitivities: Sobol indices and Morris effects with their intervals."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from mdo.report.figures.style import AMBER, BLUE, RUST, frame, frame_rows, hatched
from mdo.report.pages.parts import Drawn, Section, drawn, section_of
from mdo.report.words.exploration_columns import (
    Column,
    Columns,
    Tables,
    broken,
    numbers,
    safe,
    short,
)
from mdo.report.words.table import Table, shown_table
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
    behind: Table


def sensitivity_sections(tables: Tables) -> list[Section]:
    """Sections on Sobol indices and Morris effects, those that are there."""
    sections = []
    for source, link, draw in (
        ("sobol_indices", "Sobol indices", _sobol), ("morris_effects", "Morris effects", _morris),
    ):  # fmt: skip
        if source in tables:
            anchor, indices = source.partition("_")[0], tables[source]
            outputs = [
                _output(link, source, of, draw(part, Columns(tables).of(output)))
                for of, output, part in _outputs(indices)
            ]
            count = indices.groupby(["of", "output"]).ngroups
            rest = f"{MOST_FIGURES} of {count}" if count > MOST_FIGURES else ""
            sections.append(section_of(TEMPLATE, anchor, link, outputs=outputs, rest=rest))
    return sections


class Read(NamedTuple):
    """What was read of one output: its column, lines in their order, words, figure."""

    column: Column
    lines: pd.DataFrame
    inputs: str
    said: str
    figure: go.Figure


def _output(link: str, source: str, of: str, read: Read) -> Output:
    head = f"{read.column.title} of {WHAT.get(of, of)}"
    output = "".join(letter if letter.isalnum() else "-" for letter in read.column.name)
    said = f"{head}: {read.said}"
    name = f"{source.partition('_')[0]}-{of}-{output}"
    plot = drawn(read.figure, name, f"{link}. {said}")
    return Output(short(head, 90), read.inputs, said, plot, shown_table(source, read.lines))


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


def _sobol(part: pd.DataFrame, column: Column) -> Read:
    lines = part.sort_values("total", ascending=False, kind="stable", na_position="last")
    total = float(lines["total"].iloc[0])
    most = f", total {figure(total, 2)}" if np.isfinite(total) else ""
    said = f"most comes from {lines['title'].iloc[0]}{most}."
    return Read(column, lines, "", said, sobol_figure(lines))


def _morris(part: pd.DataFrame, column: Column) -> Read:
    lines = part.sort_values("effect", ascending=False, kind="stable")
    lines = lines.assign(place=range(1, len(lines) + 1))
    inputs = "; ".join(f"{line.place} {line.title}" for line in lines[:LABELLED].itertuples())
    said = f"the largest effect is that of {lines['title'].iloc[0]}."
    return Read(column, lines, inputs, said, morris_figure(lines, column.unit))


def sobol_figure(part: pd.DataFrame) -> go.Figure:
    """Bars of first-order and total indices with whiskers, the largest total on top."""
    lines = part.sort_values("total", ascending=False, kind="stable")[:MOST_INPUTS][::-1]
    names = [broken(title) for title in lines["title"]]
    result = go.Figure()
    for column, name, colour in (("total", "total", AMBER), ("first", "first order", BLUE)):
        values = lines[column].to_numpy(float)
        half = lines[f"{column}_interval"].to_numpy(float)
        result.add_bar(
            y=list(range(len(lines))), x=numbers(values), orientation="h", name=name,
            marker=hatched(colour), customdata=names,
            error_x={"type": "data", "array": numbers(np.nan_to_num(half)),
                     "thickness": 1.5, "width": 4, "color": RUST},
            hovertemplate="%{customdata}: %{x:.3f} (" + name + ", 1 = 100 %)<extra></extra>",
        )  # fmt: skip
    height = 90 + BAR * len(lines)
    across = "share of the variance of the output"
    frame_rows(result, names, across, left=290, height=height, legend=True)
    result.update_layout(barmode="group", legend={"traceorder": "reversed"})
    return result


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
        x=numbers(effect), y=numbers(spread), mode="markers+text", name="input",
        marker={"symbol": "circle", "size": 9, "color": BLUE, "line": {"width": 0}},
        error_x={"type": "data", "array": numbers(half), "thickness": 1.5, "width": 4,
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
