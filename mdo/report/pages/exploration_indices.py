"""Part of the page on sensitivities: Sobol indices and Morris effects with their intervals."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from mdo.report.figures.bars import rows_figure
from mdo.report.figures.style import AMBER, BLUE, RUST, add_line, frame
from mdo.report.pages.parts import Facts, Section, drawn, section_of
from mdo.report.words.exploration_columns import (
    Column,
    Columns,
    Tables,
    broken,
    numbers,
    safe,
    short,
)
from mdo.report.words.table import shown_table
from mdo.study.number_text import figure

MOST_INPUTS = 14
MOST_FIGURES = 6  # of each kind
LABELLED = 8
APART = 0.07  # of the axes, between numbers beside marks
WHAT = {"design": "a fixed design", "optimum": "the re-optimised design"}


def sensitivity_sections(tables: Tables) -> list[Section]:
    """Sections on Sobol indices and Morris effects, those that are there."""
    sections = []
    for source, link, read in (
        ("sobol_indices", "Sobol indices", _sobol), ("morris_effects", "Morris effects", _morris),
    ):  # fmt: skip
        if source in tables:
            anchor, indices, columns = source.partition("_")[0], tables[source], Columns(tables)
            outputs = [
                _output(anchor, link, of, columns.of(output), source, read(part))
                for of, output, part in _outputs(indices)
            ]
            count = indices.groupby(["of", "output"]).ngroups
            rest = f"{MOST_FIGURES} of {count}" if count > MOST_FIGURES else ""
            sections.append(section_of(anchor, outputs=outputs, rest=rest))
    return sections


def _output(
    anchor: str, link: str, of: str, column: Column, source: str, read: tuple[pd.DataFrame, str]
) -> Facts:
    """What is drawn of one output: its title, numbered inputs, sentence, figure and table."""
    (lines, found), morris = read, source == "morris_effects"
    head = f"{column.title} of {WHAT.get(of, of)}"
    said = f"{head}: {found}"
    figure = morris_figure(lines, column.unit) if morris else sobol_figure(lines)
    name = "".join(letter if letter.isalnum() else "-" for letter in column.name)
    numbered = [f"{line.place} {line.title}" for line in lines[: LABELLED * morris].itertuples()]
    return {
        "title": short(head, 90), "inputs": "; ".join(numbered), "said": said,
        "plot": drawn(figure, f"{anchor}-{of}-{name}", f"{link}. {said}"),
        "behind": shown_table(source, lines),
    }  # fmt: skip


def _outputs(indices: pd.DataFrame) -> Iterator[tuple[str, str, pd.DataFrame]]:
    """Outputs that are drawn: the first of each subject, then the second of each, and so on."""
    groups = pd.DataFrame([pair for pair, _ in indices.groupby(["of", "output"], sort=False)],
                          columns=["of", "output"])  # fmt: skip
    order = groups.assign(rank=groups.groupby("of").cumcount(),
                          subject=pd.factorize(groups["of"])[0])  # fmt: skip
    for line in order.sort_values(["rank", "subject"])[:MOST_FIGURES].itertuples():
        part = indices[(indices["of"] == line.of) & (indices["output"] == line.output)]
        yield str(line.of), str(line.output), part


def _sobol(part: pd.DataFrame) -> tuple[pd.DataFrame, str]:
    """Inputs by their total index, and what is said of them."""
    lines = part.sort_values("total", ascending=False, kind="stable", na_position="last")
    total = float(lines["total"].iloc[0])
    most = f", total {figure(total, 2)}" if np.isfinite(total) else ""
    return lines, f"most comes from {lines['title'].iloc[0]}{most}."


def _morris(part: pd.DataFrame) -> tuple[pd.DataFrame, str]:
    """Inputs by their effect, numbered, and what is said of them."""
    lines = part.sort_values("effect", ascending=False, kind="stable")
    said = f"the largest effect is that of {lines['title'].iloc[0]}."
    return lines.assign(place=range(1, len(lines) + 1)), said


def sobol_figure(part: pd.DataFrame) -> go.Figure:
    """Bars of first-order and total indices with whiskers, the largest total on top."""
    lines = part.sort_values("total", ascending=False, kind="stable")[:MOST_INPUTS]
    series = [
        (name, lines[column], colour,
         {"error_x": _whisker(lines[f"{column}_interval"][::-1], RUST)})
        for column, name, colour in (("total", "total", AMBER), ("first", "first order", BLUE))
    ]  # fmt: skip
    names = [broken(title) for title in lines["title"]]
    across = "share of the variance of the output"
    return rows_figure(names, series, across, hover="%{x:.3f} (NAME, 1 = 100 %)")


def _whisker(half: pd.Series, colour: str) -> Facts:
    """Whiskers of half an interval; none where it is not known."""
    known = numbers(np.nan_to_num(half.to_numpy(float)))
    return {"type": "data", "array": known, "thickness": 1.5, "width": 4, "color": colour}


def morris_figure(part: pd.DataFrame, unit: str = "") -> go.Figure:
    """Spread of the effects against their mean size, numbered by size, in a unit."""
    among = f" [{unit}]" if unit not in {"", "1"} else ""
    effect, spread = (part[name].to_numpy(float) for name in ("effect", "spread"))
    half = np.nan_to_num(part["effect_interval"].to_numpy(float))
    most = float(np.nanmax(np.concatenate([effect + half, spread]), initial=0.0)) or 1.0
    ends, result = [0.0, most], go.Figure()
    add_line(result, ends, ends, "spread as large as the effect", RUST, "dash", width=1.5)
    result.add_scatter(
        x=numbers(effect), y=numbers(spread), mode="markers+text", name="input",
        marker={"symbol": "circle", "size": 9, "color": BLUE, "line": {"width": 0}},
        error_x=_whisker(part["effect_interval"], BLUE),
        text=_numbers(effect / most, spread / most), textposition="top center",
        customdata=[safe(one, 60) for one in part["title"]], cliponaxis=False,
        hovertemplate="%{customdata}<br>effect %{x:.3g}, spread %{y:.3g}<extra></extra>",
    )  # fmt: skip
    tallest = float(np.nanmax(spread, initial=0.0)) or most
    return frame(
        result, f"mean size of the effect (μ*){among}", f"spread of the effect (σ){among}",
        height=380, x={"range": [0.0, 1.06 * most], "zeroline": True},
        y={"range": [0.0, 1.25 * tallest], "zeroline": True}, l=58, r=14, t=8,
    )  # fmt: skip


def _numbers(x: np.ndarray, y: np.ndarray) -> list[str]:
    """Numbers of the largest effects, left out where they would lie over each other."""
    texts, placed = [], [(np.inf, np.inf)]
    for place, at in enumerate(zip(x, y, strict=True), 1):
        free = all(abs(at[0] - a) > APART or abs(at[1] - b) > APART for a, b in placed)
        if place <= LABELLED and free:
            placed.append(at)
        texts.append(str(place) if place <= LABELLED and free else "")
    return texts
