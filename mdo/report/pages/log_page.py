"""Page of a log beside its prediction: one file, no network; made of the tables of the result."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import pandas as pd
import plotly.graph_objects as go
from plotly.subplots import make_subplots

from mdo.report.figures.style import AMBER, BAND, BLUE, GREEN, GREY, RUST, add_line, frame
from mdo.report.pages.parts import BAD, GOOD, WARN, Drawn, Part, Section, drawn, section_of
from mdo.report.templates import render
from mdo.report.words.bench_log import (
    NOT_VALIDATED,
    NOT_VALUED,
    headline,
    open_lines,
    verdict_lines,
)
from mdo.report.words.exploration_columns import Tables
from mdo.report.words.printed import number, pretty, prose
from mdo.report.words.table import Table, shown_table
from mdo.study.number_text import trade

NOT_PRINTED = "Not printed: the samples. They lie beside this page as tables."
COUPONS = {
    "constant torque": ("temperature", "applied_stress", "Temperature [°C]"),
    "constant force": ("temperature", "applied_stress", "Temperature [°C]"),
    "isothermal torque and twist": ("applied_stress", "temperature", "Mean shear stress [MPa]"),
}
TITLES = {
    "constant torque": "Constant-torque thermal cycling of a tube (probably ASTM E3414): shear "
    "strain at the effective radius, by mean shear stress",
    "constant force": "Constant-force thermal cycling of a bar (ASTM E3097): tensile strain, by "
    "stress",
    "isothermal torque and twist": "Torque and twist at a constant temperature: shear strain",
}
COLOURS = (BLUE, RUST, GREEN, AMBER, GREY)
DASHES = ("solid", "dash", "dot", "dashdot", "longdash")  # so that colour is not needed
HEIGHT = 430  # [px]


def log_page(study: Mapping[str, Any], tables: Tables) -> str:
    """Return the page of a log, or of virtual coupon tests alone.

    Parameters
    ----------
    study : content of the study
    tables : of the result, by name, SI
    """
    head = study["study"]
    about = f"{head['name']}: virtual coupon tests"
    if "bench_log" in tables:
        about = f"{head['name']}: log {tables['bench_log'].set_index('fact').loc['log', 'text']}"
    title = head.get("title") or head["name"]
    parts = []
    if "bench_agreement" in tables:
        question = "Does the forecast hold?"
        parts.append(Part("part-log", "Log against prediction", question, [*_log(tables)]))
    if "coupon_card" in tables:
        question = "What would a laboratory see of this alloy?"
        parts.append(Part("part-coupons", "Virtual coupon tests", question, [_coupons(tables)]))
    return render("log.html", title=title, about=about, description=NOT_VALIDATED,
                  not_printed=NOT_PRINTED, parts=parts)  # fmt: skip


def _log(tables: Tables) -> Iterator[Section]:
    """Sections on a log."""
    yield _verdict(tables)
    yield _channels(tables)
    yield section_of("log-causes", causes=_shown(tables, "bench_causes"))
    if "bench_fit" in tables:
        fitted, opened, tests = (
            _shown(tables, f"bench_{name}") for name in ("fit", "open", "tests")
        )
        lines = [*open_lines(tables)]
        yield section_of("log-fit", fitted=fitted, opened=opened, tests=tests, lines=lines)
    repairs = [*tables["bench_repairs"]["repair"]]
    yield section_of("log-facts", facts=_shown(tables, "bench_log"), repairs=repairs)


def _shown(tables: Tables, name: str) -> Table:
    return shown_table(name, tables[name])


def _verdict(tables: Tables) -> Section:
    agrees = tables["bench_agreement"]["agrees"]
    level = GOOD if agrees.all() else WARN if agrees.any() else BAD
    lines = [prose(line) for line in verdict_lines(tables)[1:-1]]  # head and foot stand elsewhere
    return section_of("log-verdict", level=level, head=headline(tables), lines=lines)


def _channels(tables: Tables) -> Section:
    series = tables["bench_series"]
    plots = [
        (row.title, _series(series[series["label"] == row.label], row, place))
        for place, row in enumerate(tables["bench_agreement"].itertuples())
    ]
    agreement = _shown(tables, "bench_agreement")
    return section_of("log-channels", agreement=agreement, plots=plots)


def _series(lines: pd.DataFrame, row: Any, place: int) -> Drawn:
    figure = series_figure(lines, row.title, row.unit)
    said = (
        f"{row.title}, measured and predicted over time with the predicted band; residuals of "
        f"RMS {number(row.rms, row.unit, difference=True)} below"
    )
    return drawn(figure, f"log-{place}", said)


def _coupons(tables: Tables) -> Section:
    courses = pd.concat([tables["coupon_cycles"], tables["coupon_twist"]], ignore_index=True)
    plots = []
    for place, (test, (moved, fixed, across)) in enumerate(COUPONS.items()):
        figure = coupon_figure(courses[courses["test"] == test], moved, fixed, across)
        plots.append(drawn(figure, f"coupon-{place}", f"{TITLES[test]}, strain over {across}"))
    shown = {name: _shown(tables, f"coupon_{name}") for name in ("card", "readings", "worth")}
    titles = [*TITLES.values()]
    return section_of("coupons", titles=titles, plots=plots, not_valued=NOT_VALUED, **shown)


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
