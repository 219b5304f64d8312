"""Figures of a log beside its prediction, and of virtual coupon tests."""

from __future__ import annotations

from typing import Any

import pandas as pd
import plotly.graph_objects as go
from plotly.subplots import make_subplots

from mdo.report.figures.style import AMBER, BAND, BLUE, GREEN, GREY, RUST, add_line, frame
from mdo.report.words.printed import number, pretty
from mdo.study.number_text import trade

COLOURS = (BLUE, RUST, GREEN, AMBER, GREY)
DASHES = ("solid", "dash", "dot", "dashdot", "longdash")  # so that colour is not needed
HEIGHT = 430  # [px]


def series_figure(series: pd.DataFrame, title: str, unit: str) -> go.Figure:
    """Prediction over measurement with the predicted band, and the residual below.

    Parameters
    ----------
    series : lines of one label of the table ``bench_series``, SI
    title : of the channel
    unit : SI
    """
    shown, name = _converted(series, unit)
    away, apart = _converted(series[["measured"]], unit, difference=True)
    away["measured"] -= _converted(series[["predicted"]], unit, difference=True)[0]["predicted"]
    result = make_subplots(rows=2, cols=1, shared_xaxes=True, row_heights=[0.7, 0.3],
                           vertical_spacing=0.06)  # fmt: skip
    time = series["time"]
    edge: dict[str, Any] = {"mode": "lines", "line": {"width": 0}, "hoverinfo": "skip"}
    result.add_scatter(x=time, y=shown["band_high"], showlegend=False, **edge)
    result.add_scatter(x=time, y=shown["band_low"], fill="tonexty", fillcolor=BAND,
                       name="predicted band", **edge)  # fmt: skip
    said, apart = f"%{{y:.4g}} {pretty(name)} at %{{x:.4g}} s", pretty(apart)
    add_line(result, time, shown["measured"], "measured", RUST, width=1, hover=f"{said}, measured")
    add_line(result, time, shown["predicted"], "predicted", BLUE, "dash",
             hover=f"{said}, predicted")  # fmt: skip
    add_line(result, time, away["measured"], "residual", GREY, width=1, showlegend=False,
             hover=f"%{{y:.4g}} {apart} at %{{x:.4g}} s", row=2, col=1)  # fmt: skip
    frame(result, "", f"{title} [{pretty(name)}]", height=HEIGHT, r=14)
    axis = {"showgrid": True, "gridwidth": 1, "ticks": "", "fixedrange": True}
    return result.update_layout(
        xaxis2={**axis, "title": {"text": "Time [s]"}, "zeroline": False},
        yaxis2={**axis, "title": {"text": f"Residual [{apart}]"}, "zeroline": True},
    )


def coupon_figure(courses: pd.DataFrame, moved: str, fixed: str, across: str) -> go.Figure:
    """Courses of a virtual coupon test, one line for each constant level.

    Parameters
    ----------
    courses : lines of one test, SI
    moved, fixed : columns of what is moved and of what is constant; units K or Pa
    across : title of the axis
    """
    units = {"temperature": "K", "applied_stress": "Pa"}
    result = go.Figure()
    for place, (level, lines) in enumerate(courses.groupby(fixed, sort=True)):
        said = number(float(str(level)), units[fixed])
        add_line(
            result, [trade(value, units[moved], "si")[0] for value in lines[moved]],
            100.0 * lines["coupon_strain"], said, COLOURS[place % 5], DASHES[place % 5],
            hover=f"%{{y:.3g}} % at %{{x:.4g}}, {said}",
        )  # fmt: skip
    return frame(result, across, "Strain [%]", height=330, r=14)


def _converted(
    frame: pd.DataFrame, unit: str, *, difference: bool = False
) -> tuple[pd.DataFrame, str]:
    """Columns of SI numbers in trade units, and the unit."""
    zero, name = trade(0.0, unit, "si", difference=difference)
    scale = trade(1.0, unit, "si", difference=difference)[0] - zero
    columns = [column for column in frame.columns if column not in {"label", "time"}]
    return frame[columns] * scale + zero, name
