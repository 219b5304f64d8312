"""Page of a log beside its prediction: one file, no network; made of the tables of the result."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from mdo.report.figures.bench import coupon_figure, series_figure
from mdo.report.pages.parts import Drawn, Part, Section, drawn, section_of
from mdo.report.templates import render
from mdo.report.words.bench_log import NOT_VALIDATED, headline, open_lines, verdict_lines
from mdo.report.words.printed import DASH, number, prose
from mdo.report.words.table import Table
from mdo.study.number_text import percent

TEMPLATE = "log.html"
NOT_PRINTED = "Not printed: the samples. They lie beside this page as tables."
MARKS = {True: "", False: "bad"}
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
    return render("exploration.html", title=title, about=about, description=NOT_VALIDATED,
                  not_printed=NOT_PRINTED, parts=parts)  # fmt: skip


def _verdict(tables: Tables) -> Section:
    agrees = tables["bench_agreement"]["agrees"]
    level = "is-good" if agrees.all() else "is-warn" if agrees.any() else "is-bad"
    lines = [prose(line) for line in verdict_lines(tables)[1:]]
    return section_of(TEMPLATE, "log-verdict", "Verdict", "What agreed, and what did not",
                      level=level, head=headline(tables), lines=lines)  # fmt: skip


def _channels(tables: Tables) -> Section:
    agreement, series = tables["bench_agreement"], tables["bench_series"]
    rows = [
        (row.title, f"{row.samples}", *(_shift(value, row.unit) for value in (
            row.mean, row.rms, row.largest, row.noise)), f"{row.largest_time:.4g} s",
         DASH if pd.isna(row.delay) else f"{row.delay:.3g} s", percent(row.inside),
         "yes" if row.agrees else "no")
        for row in agreement.itertuples()
    ]  # fmt: skip
    head = ("channel", "samples", "mean", "RMS", "largest", "noise", "largest at", "late by",
            "in the band", "agrees")  # fmt: skip
    marks = [MARKS[bool(one)] for one in agreement["agrees"]]
    table = Table(head, rows, right=range(1, 9), marks=marks, kind="lead")
    plots = [
        (row.title, _series(series[series["label"] == row.label], row, place))
        for place, row in enumerate(agreement.itertuples())
    ]
    return section_of(TEMPLATE, "log-channels", "Channels", "Prediction over measurement",
                      agreement=table, plots=plots)  # fmt: skip


def _series(lines: pd.DataFrame, row: Any, place: int) -> Drawn:
    figure = series_figure(lines, row.title, row.unit)
    said = (
        f"{row.title}, measured and predicted over time with the predicted band; residuals of "
        f"RMS {_shift(row.rms, row.unit)} below"
    )
    return drawn(figure, f"log-{place}", said)


def _causes(tables: Tables) -> Section:
    kinds = {"parameter": "input", "zero": "zero of sensor", "gain": "gain of sensor",
             "delay": "delay of sensor"}  # fmt: skip
    rows = [
        (row.name if row.kind == "parameter" else row.meaning, kinds[row.kind],
         _shift(row.shift, row.unit), DASH if pd.isna(row.ranges) else f"{row.ranges:.2g}",
         percent(row.explained), row.meaning)
        for row in tables["bench_causes"].itertuples()
    ]  # fmt: skip
    head = ("what", "kind", "shift", "in half ranges", "explains, together", "meaning")
    table = Table(head, rows, right=(2, 3, 4), kind="lead") if rows else None
    return section_of(TEMPLATE, "log-causes", "Causes", "What would explain the difference",
                      causes=table)  # fmt: skip


def _fit(tables: Tables) -> Section:
    rows = [
        (row.parameter, *(number(value, row.unit, digits=4) if row.unit != "K" else
                          f"{value - 273.15:.2f} °C" for value in (
            row.before, row.range_low, row.range_high, row.fitted, row.low, row.high)),
         percent(row.narrowed))
        for row in tables["bench_fit"].itertuples()
    ]  # fmt: skip
    head = ("input", "before", "range from", "to", "fitted", "95 % from", "to", "of its range")
    opened = Table(
        ("inputs", "left"),
        [(row.parameters, f"{row.left:.3g}") for row in tables["bench_open"].itertuples()],
        right=(1,), marks=[MARKS[not row.is_open] for row in tables["bench_open"].itertuples()],
    )  # fmt: skip
    ranked = [(row.test, f"{row.left:.3g}") for row in tables["bench_tests"].itertuples()]
    tests = Table(("test", "left"), ranked, right=(1,)) if ranked else None
    return section_of(TEMPLATE, "log-fit", "Fit", "Inputs fitted to the log",
                      fitted=Table(head, rows, right=range(1, 8), kind="lead"), opened=opened,
                      tests=tests, lines=[*open_lines(tables)])  # fmt: skip


def _facts(tables: Tables) -> Section:
    rows = [(str(row.fact), str(row.text)) for row in tables["bench_log"].itertuples()]
    repairs = [str(text) for text in tables["bench_repairs"]["repair"]]
    return section_of(TEMPLATE, "log-facts", "The log", "The log and its repairs",
                      facts=Table(("what", ""), rows), repairs=repairs)  # fmt: skip


def _coupons(tables: Tables) -> Section:
    courses = pd.concat([tables["coupon_cycles"], tables["coupon_twist"]], ignore_index=True)
    plots = []
    for place, (test, (moved, fixed, across)) in enumerate(COUPONS.items()):
        lines = courses[courses["test"] == test]
        figure = coupon_figure(lines, moved, fixed, across)
        plots.append(drawn(figure, f"coupon-{place}", f"{TITLES[test]}, strain over {across}"))
    card = [
        (row.test, row.field, *(number(value, "Pa/K" if "slope" in row.field else "K", digits=4)
                                for value in (row.read, row.of_card)))
        for row in tables["coupon_card"].itertuples()
    ]  # fmt: skip
    names = ("martensite_start", "martensite_finish", "austenite_start", "austenite_finish")
    read = [
        (row.test, number(row.applied_stress, "Pa"),
         *(number(getattr(row, name), "K") for name in names),
         percent(row.actuation_strain), percent(row.residual_strain))
        for row in tables["coupon_readings"].itertuples()
    ]  # fmt: skip
    head = ("test", "stress", "Ms", "Mf", "As", "Af", "actuation strain", "residual strain")
    return section_of(
        TEMPLATE, "coupons", "Coupons", "Coupons of this alloy", titles=[*TITLES.values()],
        plots=plots, card=Table(("test", "field", "read", "card"), card, right=(2, 3)),
        readings=Table(head, read, right=range(1, 8)),
    )  # fmt: skip


def _shift(value: float, unit: str) -> str:
    """Size of a difference."""
    return number(value, unit, difference=True)
