"""Figure of what folding gives over the fold angle, with its error."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from mdo.report.figures.style import AMBER, BAND, BLUE, GREEN, RUST, quiet

CURVES = {  # column: title, unit of the axis, scale
    "yaw_stability": ("Directional stability added", "1/rad", 1.0),
    "drag_change": ("Drag due to lift at the same lift", "%", 100.0),
    "centre_shift": ("Shift of the aerodynamic centre, aft positive", "% of mean chord", 100.0),
}
LOOKS = ((BLUE, "solid"), (RUST, "dash"))  # by Mach number
MARKS = ((AMBER, "square"), (GREEN, "diamond"), (RUST, "cross"))  # of other fold fractions


def benefit_figure(flown: pd.DataFrame, column: str) -> go.Figure:
    """One number of the benefit over the fold angle [deg], its error as a band.

    Parameters
    ----------
    flown : the table ``benefit`` of a result, points in flight
    column : of :data:`CURVES`
    """
    _, unit, scale = CURVES[column]
    result = go.Figure()
    own = flown["fold_fraction"].iloc[0]
    for (mach, part), (colour, dash) in zip(flown.groupby("mach"), LOOKS, strict=False):
        line = part[part["fold_fraction"] == own].sort_values("fold_angle")
        angle = np.degrees(line["fold_angle"])
        low, high = (scale * line[f"{column}_{end}"] for end in ("low", "high"))
        result.add_scatter(
            x=[*angle, *angle[::-1]], y=[*high, *low[::-1]], fill="toself", fillcolor=BAND,
            line={"width": 0}, hoverinfo="skip", showlegend=False,
        )  # fmt: skip
        result.add_scatter(
            x=angle, y=scale * line[column], mode="lines", name=f"Mach {mach:.2f}",
            line={"color": colour, "dash": dash, "width": 2.2},
            hovertemplate="%{y:.4g} at %{x:.0f}°<extra></extra>",
        )  # fmt: skip
    first = flown[flown["mach"] == flown["mach"].iloc[0]]
    others = first[(first["fold_fraction"] != own) & (first["fold_angle"] != 0.0)]
    for (fraction, part), (colour, symbol) in zip(
        others.groupby("fold_fraction"), MARKS, strict=False
    ):
        result.add_scatter(
            x=np.degrees(part["fold_angle"]), y=scale * part[column], mode="markers",
            name=f"{100 * fraction:.0f} % of the semi-span",
            marker={"color": colour, "size": 8, "symbol": symbol},
            hovertemplate="%{y:.4g} at %{x:.0f}°<extra></extra>",
        )  # fmt: skip
    return quiet(
        result, height=300, showlegend=True, margin={"l": 80, "t": 46},
        y={"title": {"text": unit}}, x={"title": {"text": "fold angle [deg], tip-up positive"}},
    )  # fmt: skip
