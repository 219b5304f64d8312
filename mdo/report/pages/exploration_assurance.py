"""Part of the page on sizing for unknown inputs: mass over probability, margins, inputs, a map."""

from __future__ import annotations

from typing import Any

import pandas as pd
import plotly.graph_objects as go

from mdo.report.figures.bars import rows_figure
from mdo.report.figures.requirement_map import HEAT
from mdo.report.figures.style import AMBER, BLUE, RUST, add_line, add_marks, frame
from mdo.report.pages.parts import Section, drawn, section_of
from mdo.report.words.exploration_columns import (
    FEASIBLE,
    Columns,
    Tables,
    broken,
    numbers,
)
from mdo.report.words.table import shown_table
from mdo.study.number_text import figure, percent

MOST = 12  # inputs and requirements drawn
HEIGHT = 380
MASS = "mass of the aircraft's system [kg]"


def assurance_sections(tables: Tables) -> list[Section]:
    """Sections on a sizing for unknown inputs, those for which there is something to show."""
    designs = tables["assurance_designs"]
    met = designs[(designs["status"] == FEASIBLE) & (designs["probability"] < 1.0)]
    plot = None
    if len(met):
        said = "; ".join(
            f"{percent(row.probability)}: {figure(row.system_mass, 4)} kg"
            for row in met.itertuples()
        )
        plot = drawn(mass_figure(met), "assurance-mass", f"Mass over probability. {said}.")
    behind = shown_table("assurance_designs", designs)
    sections = [section_of("assurance-mass", plot=plot, behind=behind)]
    if "assurance_inputs" in tables:
        inputs = tables["assurance_inputs"]
        wanted = float(inputs["probability"].iloc[0])
        sections += [_margins(tables["assurance_margins"], wanted), _inputs(inputs, wanted)]
    if "assurance_map" in tables:
        sections.append(_map(tables))
    return sections


def mass_figure(met: pd.DataFrame) -> go.Figure:
    """Mass over the probability asked, and over what samples of another seed say."""
    result, ordered = go.Figure(), met.sort_values("probability")
    mass = numbers(ordered["system_mass"])
    add_line(
        result, numbers(100.0 * ordered["probability"]), mass, "asked", BLUE,
        mode="lines+markers", marker={"size": 8, "color": BLUE},
        hover="%{x:.4g} % asked: %{y:.4g} kg",
    )  # fmt: skip
    held, low, high = (100.0 * ordered[f"confirmed{end}"] for end in ("", "_low", "_high"))
    result.add_scatter(
        x=numbers(held), y=mass, mode="markers", name="other seed, 95 %",
        marker={"symbol": "diamond-open", "size": 10, "color": RUST},
        error_x={"type": "data", "symmetric": False, "array": numbers(high - held),
                 "arrayminus": numbers(held - low), "color": RUST, "thickness": 1.5},
        hovertemplate="%{x:.4g} % of another seed: %{y:.4g} kg<extra></extra>",
    )  # fmt: skip
    across = "probability that every requirement holds [%]"
    return frame(result, across, MASS, height=HEIGHT)


def _margins(margins: pd.DataFrame, wanted: float) -> Section:
    own = margins[(margins["probability"] == wanted) & (margins["deviation"] > 0.0)]
    lines = own.sort_values("failing", ascending=False, kind="stable")
    first, plot = lines[lines["failing"] > 0.0][:MOST], None
    if len(first):
        result = rows_figure(
            [broken(title) for title in first["title"]],
            [(None, 100.0 * first["failing"], RUST, {})], "samples in which it fails [%]",
            hover="fails in %{x:.3g} %",
        )  # fmt: skip
        said = f"{lines['title'].iloc[0]} fails most often, {percent(lines['failing'].iloc[0])}."
        plot = drawn(result, "assurance-margins", said)
    behind = shown_table("assurance_margins", lines)
    return section_of("assurance-margins", plot=plot, wanted=percent(wanted), behind=behind)


def _inputs(inputs: pd.DataFrame, wanted: float) -> Section:
    """What the mass is spent on, and what measurements would save."""
    first = inputs[inputs["spent"] > 0.0][:MOST]
    series: Any = [("spent on not knowing", first["spent"].fillna(0.0), AMBER, {}),
              ("saved by measuring", first["saved"].fillna(0.0), BLUE, {})]  # fmt: skip
    names = [broken(title) for title in first["title"]]
    result = rows_figure(names, series, MASS, hover="%{x:.3g} kg (NAME)")
    said = f"Most is spent on {inputs['title'].iloc[0]}, {figure(inputs['spent'].iloc[0], 3)} kg."
    return section_of(
        "assurance-inputs", plot=drawn(result, "assurance-inputs", said), wanted=percent(wanted),
        behind=shown_table("assurance_inputs", inputs[inputs["spent"].abs() > 0.0]),
    )  # fmt: skip


def _map(tables: Tables) -> Section:
    """Probability of one design over one or two requirements."""
    points, known = tables["assurance_map"], Columns(tables)
    columns = [known.of(str(axis)) for axis in tables["assurance_axes"]["axis"]]
    held = 100.0 * points["confirmed"].to_numpy(float)
    (x, across), *up = [column.drawn(points[column.name]) for column in columns]
    result = go.Figure()
    if not up:
        look = {"color": BLUE, "size": 8}
        add_marks(result, x.tolist(), numbers(held), "design", look, mode="lines+markers")
    else:
        result.add_heatmap(
            x=x.tolist(), y=numbers(up[0][0]), z=numbers(held),
            text=[f"{one:.0f}" for one in held], texttemplate="%{text}", zmin=0.0, zmax=100.0,
            colorscale=HEAT, reversescale=True, xgap=1, ygap=1, textfont={"color": "#ffffff"},
            colorbar={"title": {"text": "%"}, "thickness": 12},
            hovertemplate="%{z:.3g} % at %{x:.4g}, %{y:.4g}<extra></extra>",
        )  # fmt: skip
    frame(result, across, up[0][1] if up else "probability [%]", height=HEIGHT, legend=False)
    said = f"Probability from {held.min():.3g} to {held.max():.3g} % over the requirements."
    return section_of("assurance-map", plot=drawn(result, "assurance-map", said))
