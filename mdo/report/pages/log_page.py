"""Page of a log beside its prediction: one file, no network; made of the tables of the result."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from mdo.report.figures.bench import coupon_figure, series_figure
from mdo.report.pages.parts import Drawn, Part, Section, drawn, section_of
from mdo.report.templates import render
from mdo.report.words.bench_log import (
    NOT_VALIDATED,
    NOT_VALUED,
    headline,
    open_lines,
    verdict_lines,
)
from mdo.report.words.printed import number, prose
from mdo.report.words.table import shown_table

TEMPLATE = "logged.html"
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
Tables = Mapping[str, pd.DataFrame]


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
        sections = [_verdict(tables), _channels(tables), _causes(tables)]
        sections += [_fit(tables)] if "bench_fit" in tables else []
        parts.append(Part("part-log", "Log against prediction", "Does the forecast hold?",
                          [*sections, _facts(tables)]))  # fmt: skip
    if "coupon_card" in tables:
        parts.append(Part("part-coupons", "Virtual coupon tests",
                          "What would a laboratory see of this alloy?",
                          [_coupons(tables)]))  # fmt: skip
    return render("log.html", title=title, about=about, description=NOT_VALIDATED,
                  not_printed=NOT_PRINTED, parts=parts)  # fmt: skip


def _verdict(tables: Tables) -> Section:
    agrees = tables["bench_agreement"]["agrees"]
    level = "is-good" if agrees.all() else "is-warn" if agrees.any() else "is-bad"
    lines = [prose(line) for line in verdict_lines(tables)[1:-1]]  # head and foot stand elsewhere
    return section_of(TEMPLATE, "log-verdict", "Verdict", "What agreed, and what did not",
                      level=level, head=headline(tables), lines=lines)  # fmt: skip


def _channels(tables: Tables) -> Section:
    agreement, series = tables["bench_agreement"], tables["bench_series"]
    plots = [
        (row.title, _series(series[series["label"] == row.label], row, place))
        for place, row in enumerate(agreement.itertuples())
    ]
    return section_of(TEMPLATE, "log-channels", "Channels", "Prediction over measurement",
                      agreement=shown_table("bench_agreement", agreement), plots=plots)  # fmt: skip


def _series(lines: pd.DataFrame, row: Any, place: int) -> Drawn:
    figure = series_figure(lines, row.title, row.unit)
    said = (
        f"{row.title}, measured and predicted over time with the predicted band; residuals of "
        f"RMS {number(row.rms, row.unit, difference=True)} below"
    )
    return drawn(figure, f"log-{place}", said)


def _causes(tables: Tables) -> Section:
    return section_of(TEMPLATE, "log-causes", "Causes", "What would explain the difference",
                      causes=shown_table("bench_causes", tables["bench_causes"]))  # fmt: skip


def _fit(tables: Tables) -> Section:
    shown = {name: shown_table(f"bench_{name}", tables[f"bench_{name}"])
             for name in ("fit", "open", "tests")}  # fmt: skip
    return section_of(TEMPLATE, "log-fit", "Fit", "Inputs fitted to the log", fitted=shown["fit"],
                      opened=shown["open"], tests=shown["tests"],
                      lines=[*open_lines(tables)])  # fmt: skip


def _facts(tables: Tables) -> Section:
    return section_of(TEMPLATE, "log-facts", "The log", "The log and its repairs",
                      facts=shown_table("bench_log", tables["bench_log"]),
                      repairs=[*tables["bench_repairs"]["repair"]])  # fmt: skip


def _coupons(tables: Tables) -> Section:
    courses = pd.concat([tables["coupon_cycles"], tables["coupon_twist"]], ignore_index=True)
    plots = []
    for place, (test, (moved, fixed, across)) in enumerate(COUPONS.items()):
        figure = coupon_figure(courses[courses["test"] == test], moved, fixed, across)
        plots.append(drawn(figure, f"coupon-{place}", f"{TITLES[test]}, strain over {across}"))
    return section_of(
        TEMPLATE, "coupons", "Coupons", "Coupons of this alloy", titles=[*TITLES.values()],
        plots=plots, card=shown_table("coupon_card", tables["coupon_card"]),
        readings=shown_table("coupon_readings", tables["coupon_readings"]),
        worth=shown_table("coupon_worth", tables["coupon_worth"]), not_valued=NOT_VALUED,
    )  # fmt: skip
