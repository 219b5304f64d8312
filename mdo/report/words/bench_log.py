"""Sentences on a log beside its prediction, made of the tables of the result."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
import pandas as pd

from mdo.study.number_text import percent, quantity

Tables = Mapping[str, pd.DataFrame]
SMALL = 1.2  # RMS over the noise from which nothing is left to explain; judgement
MOST = 0.5  # share that causes have to explain together; judgement
WITHIN = 1.0  # half ranges
TRAINED = 1.3  # error of the part held out over the fitted one from which a fit does not carry over
NOT_VALIDATED = (
    "Nothing here has been validated against a real bench: the tool was tried on logs that it made "
    "itself."
)


WORTH = {
    "stake": "between the ends of its range",
    "mass_worth": "off the 95 % point of the mass by the test plan",
    "saved": "saved at the wanted probability",
}
NOT_VALUED = (
    "What a test is worth in kilograms: run 'fold-mdo run STUDY --analysis defence' (test plan) or "
    "'--analysis assurance', then this again."
)


def verdict_lines(tables: Tables, units: str = "si") -> list[str]:
    """What agreed, what did not, what would explain it, one plain sentence each."""
    lines = [headline(tables)]
    lines += [_series_line(row, units) for row in tables["bench_agreement"].itertuples()]
    lines += _cause_lines(tables, units)
    if "bench_fit" in tables:
        lines += _fit_lines(tables, units)
    if len(tables["bench_repairs"]):
        lines.append("The log was mended before: " + "; ".join(tables["bench_repairs"]["repair"]))
    return [*lines, NOT_VALIDATED]


def coupon_lines(tables: Tables, units: str = "si") -> list[str]:
    """What a laboratory would read of coupons, beside the card, one plain sentence each."""
    lines = ["Virtual coupon tests, read by tangents as a laboratory would (from memory):"]
    for row in tables["coupon_card"].itertuples():
        read, own = (quantity(one, row.unit, units) for one in (row.read, row.of_card))
        lines.append(f"{row.test}: {row.field} read as {read}, card {own}.")
    return [*lines, *worth_lines(tables), NOT_VALIDATED]


def worth_lines(tables: Tables) -> Iterator[str]:
    """What each coupon test is worth in kilograms, or what to run to know."""
    worth = tables["coupon_worth"]
    if worth.empty:
        yield NOT_VALUED
    for test, part in worth.groupby("test", sort=False):
        said = []
        for row in part.to_dict("records"):
            kilograms = [f"{row[name]:.3g} kg {words}" for name, words in WORTH.items()
                         if np.isfinite(row[name])]  # fmt: skip
            said.append(f"{row['input']} ({', '.join(kilograms)})")
        yield f"{test} settles {'; '.join(said)}."


def headline(tables: Tables) -> str:
    """How many series agree."""
    agrees = tables["bench_agreement"]["agrees"]
    count = f"{agrees.sum()} of {len(agrees)}" if agrees.any() else f"none of the {len(agrees)}"
    count = f"all {len(agrees)}" if agrees.all() else count
    wide = int(tables["bench_agreement"]["too_wide"].sum())
    left = f"; in {wide} the band is too wide to judge" if wide else ""
    return f"The log agrees with the prediction in {count} channels{left}."


def _series_line(row: Any, units: str) -> str:
    away, most = (_size(value, row.unit, units) for value in (row.rms, row.largest))
    verdict = "agrees" if row.agrees else "does not agree"
    if row.too_wide:
        width, course = (_size(value, row.unit, units) for value in (row.width, row.course))
        verdict = (
            "is inside the band, but the band is too wide to judge "
            f"(RMS width {width}, against {course} that the prediction moves)"
        )
    text = (
        f"{row.title} {verdict}: "
        f"{percent(row.inside)} of {row.samples} samples lie in the predicted band; RMS {away}, "
        f"largest {most} at {row.largest_time:.4g} s"
    )
    if np.isfinite(row.delay) and abs(row.delay) > 0.0:
        way = "after" if row.delay > 0.0 else "before"
        text += f"; it comes {abs(row.delay):.3g} s {way} the prediction"
    return f"{text}."


def _cause_lines(tables: Tables, units: str) -> Iterator[str]:
    agreement, causes = tables["bench_agreement"], tables["bench_causes"]
    if (agreement["rms"] <= SMALL * agreement["noise"]).all():
        yield "What is left between both is the noise of the log."
        return
    if causes.empty:
        yield "No input within the model, and no fault of a sensor, would explain the difference."
        return
    explained = float(causes["explained"].iloc[-1])
    if explained < MOST:
        yield (
            "No few inputs explain the difference; those below account for "
            f"{percent(explained)} of it. The model may lack something."
        )
    for row in causes.itertuples():
        yield _cause_line(row, units)


def _cause_line(row: Any, units: str) -> str:
    share = f"with those before it, {percent(row.explained)} of the squares" if row.Index else (
        f"{percent(row.explained)} of the squares")  # fmt: skip
    size = _size(abs(row.shift), row.unit, units)
    if row.kind == "input":
        way, known = "higher" if row.shift > 0.0 else "lower", "half its known range"
        inside = abs(row.ranges) <= WITHIN
        within = f"of {known}" if inside else f"times {known}, so rather something else"
        within = f"{abs(row.ranges):.2g} {within}"
        return f"{row.name} {way} by {size} ({within}) would explain it: {share}."
    off = _size(row.shift, row.unit, units)
    words = {
        "zero of sensor": f"a zero of {row.meaning} that is off by {off}",
        "gain of sensor": f"a gain of {row.meaning} that is off by {percent(row.shift)}",
        "delay of sensor": f"a sensor of {row.meaning} that is late by {row.shift:.3g} s",
    }
    return f"{words[row.kind][0].upper()}{words[row.kind][1:]} would explain it: {share}."


def _fit_lines(tables: Tables, units: str) -> Iterator[str]:
    errors = tables["bench_errors"].iloc[0]
    text = (
        f"Fitted until {errors['fitted_until']:.4g} s, residuals fell from "
        f"{errors['error_before']:.3g} to {errors['error']:.3g} times the noise"
    )
    if np.isfinite(errors["held_out_error"]):
        good = errors["held_out_ratio"] <= TRAINED
        text += (
            f"; in the rest, never fitted, they are {errors['held_out_error']:.3g} times the noise"
            + ("" if good else ", so the fit does not carry over: something is missing")
        )
    yield f"{text}."
    if errors["widened"] > 1.0:
        yield (
            "Residuals follow one another, as those of a model that is not quite right: intervals "
            f"were widened {errors['widened']:.3g} times, and to how far values move when a "
            "quarter of the time is left out: their bias."
        )
    for row in tables["bench_fit"].itertuples():
        ends = [_size(end, row.unit, units, shift=False) for end in (row.low, row.high)]
        told = ("", ", one end is that of the known range", ", nothing was learnt")[row.open_ends]
        yield (
            f"{row.parameter}: {_size(row.fitted, row.unit, units, shift=False)} "
            f"({ends[0]} to {ends[1]}{told}); "
            f"before {_size(row.before, row.unit, units, shift=False)}; moves by "
            f"{_size(row.moves, row.unit, units)}."
        )
    yield from open_lines(tables)


def open_lines(tables: Tables) -> Iterator[str]:
    """What the log cannot tell, and which test would."""
    for row in tables["bench_alike"].itertuples():
        way = "together" if row.correlation > 0.0 else "against each other"
        yield f"The log cannot tell {row.first} from {row.second}: they act {way}."
    opened = tables["bench_open"]
    of = {name: None for row in opened[opened["is_open"]]["parameters"] for name in row.split(", ")}
    if of:
        yield f"The log leaves combinations of these open: {', '.join(of)}."
    tests = tables["bench_tests"]
    if len(tests):
        best = tests.iloc[0]
        least = tables["bench_open"].iloc[0]
        yield (
            f"Of the tests at hand, '{best['test']}' would tell most on what is known least "
            f"({least['parameters']}): it would leave {percent(best['left'])} of half its range, "
            f"the log leaves {percent(min(least['left'], 1.0))}."
        )


def _size(value: float, unit: str, units: str, *, shift: bool = True) -> str:
    """Number in trade units; a shift of a temperature is a difference, three digits of it."""
    value = float(f"{value:.3g}") if shift else value
    return quantity(value, unit, units=units, digits=3, difference=shift)
