"""Figure of the corrections: mass, violation and KKT residual over dear evaluations."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from mdo.report.figures.style import BLUE, GREEN, RUST, quiet

LEAST = 1e-12  # drawn where nothing is left
LINES = (
    ("system_mass", "mass [kg]", BLUE, "linear"),
    ("violation", "violation", RUST, "log"),
    ("kkt_residual", "KKT residual", GREEN, "log"),
)
GAP = 0.08  # share of the height between two panels


def corrections_figure(steps: pd.DataFrame) -> go.Figure:
    """Three panels over each other; refused steps are open marks."""
    result = go.Figure()
    marks = ["circle" if taken else "circle-open" for taken in steps["taken"]]
    height = (1.0 - GAP * (len(LINES) - 1)) / len(LINES)
    axes = {}
    for place, (column, title, colour, scale) in enumerate(LINES):
        number = "" if place == 0 else str(place + 1)
        top = 1.0 - place * (height + GAP)
        values = steps[column].to_numpy(float)
        result.add_scatter(
            x=steps["dear_evaluations"].tolist(),
            y=(values if scale == "linear" else np.maximum(values, LEAST)).tolist(),
            mode="lines+markers", name=title, yaxis=f"y{number}",
            line={"color": colour}, marker={"symbol": marks, "size": 8},
            hovertemplate=f"evaluation %{{x}}: {title} %{{y:.6g}}<extra></extra>",
        )  # fmt: skip
        axes[f"yaxis{number}"] = {
            "domain": [max(top - height, 0.0), top], "type": scale, "title": {"text": title},
            "fixedrange": True, "zeroline": False, "gridwidth": 1, "ticks": "",
            "exponentformat": "power", "nticks": 5,
        }  # fmt: skip
    quiet(
        result, height=460, margin={"l": 76},
        x={"title": {"text": "evaluations of the dear model"}, "zeroline": False, "anchor": "free",
           "position": 0.0},
    )  # fmt: skip
    return result.update_layout(axes)
