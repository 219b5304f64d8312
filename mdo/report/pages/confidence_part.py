"""Part 4 of the report: how sure it is."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import pandas as pd

from mdo.defend.cautions.base import FAR_BEYOND, STOP, WARN
from mdo.defend.validation import validation
from mdo.report.figures import defence as figures
from mdo.report.templates.pieces import (
    DASH,
    Cell,
    bullets,
    definition,
    drawn,
    folded,
    number,
    paragraph,
    picture,
    prose,
    section,
    table,
)
from mdo.report.words import definitions
from mdo.study.number_text import figure, percent

Tables = Mapping[str, pd.DataFrame]
SEVERITY_MARKS = {STOP: "stop", WARN: "watch"}
FROM_MEMORY = ", from memory, confirm the current issue"
MOST_INPUTS = 40


def sensitivity_section(tables: Tables) -> str:
    """What the doubt rests on, and which numbers to measure first."""
    odds = tables["sensitivity_odds"].set_index("name")
    share = float(odds.loc["probability_met", "value"])
    met = percent(share) if share > 0.0 else "none"
    first = tables["sensitivity"].iloc[0]
    content = paragraph(
        f"The design as drawn meets every requirement in {met} of the samples of its uncertain "
        "inputs: an optimum stands on its limits, so the unfavourable half of any range that "
        "matters breaks one. Before building, measure what matters and take the reserve."
    )
    content += "<h4>Measure these first</h4>\n" + _plan(tables["test_plan"])
    plot = drawn(
        figures.inputs_figure(tables["sensitivity"]), "inputs",
        f"Bar chart of what each uncertain input does to the mass. First to measure: "
        f"{first['meaning']}.",
    )  # fmt: skip
    content += picture(
        plot, definitions.INPUTS_READ, behind=_inputs(tables["sensitivity"]),
        more=f"The {min(MOST_INPUTS, len(tables['sensitivity']))} inputs that matter most",
    )  # fmt: skip
    shown = [
        (one.text, percent(one.value) if one.unit == "1" and one.name != "unpriced"
         else number(one.value, one.unit))
        for one in tables["sensitivity_odds"].itertuples()
    ]  # fmt: skip
    content += folded("Odds and reserves", table(("what", "value"), shown, right=(1,)))
    content += definition(definitions.INPUTS, title="How doubt is counted")
    return section("sensitivity", "Uncertain inputs, and what to measure first", content)


def _inputs(sensitivity: pd.DataFrame) -> str:
    rows: list[list[str | Cell]] = [
        [Cell(str(one.rank), float(one.rank)), prose(one.meaning), number(one.value, one.unit),
         f"{number(one.low, one.unit)} to {number(one.high, one.unit)}",
         Cell(percent(one.mass_share), float(one.mass_share)),
         Cell(percent(one.verdict_share), float(one.verdict_share)),
         Cell(f"{figure(one.optimum_mass_low, 2)} / {figure(one.optimum_mass_high, 2)}".replace(
             "-", "−"), float(one.optimum_mass_high))]
        for one in sensitivity[:MOST_INPUTS].itertuples()
    ]  # fmt: skip
    head = ("rank", "input", "value", "range", "share of the doubt in mass",
            "share in the verdict", "mass at low / high [kg]")  # fmt: skip
    return table(head, rows, right=(0, 2, 4, 5, 6), kind="tight", sortable=True)


def _plan(plan: pd.DataFrame) -> str:
    rows = [
        (str(place), prose(one.meaning),
         f"{number(one.low, one.unit)} to {number(one.high, one.unit)}",
         prose(one.measure), prose(one.specimen),
         one.standards.replace(FROM_MEMORY, ""), _accuracy(one),
         f"{one.specimens:.0f}" if one.specimens else DASH,
         f"{figure(one.mass_worth, 2)} kg")
        for place, one in enumerate(plan.itertuples(), 1)
    ]  # fmt: skip
    head = ("rank", "number", "known to", "measure", "on", "method", "to within", "specimens",
            "worth")  # fmt: skip
    listed = table(head, rows, right=(6, 7, 8), kind="tight")
    return listed + paragraph(f"Methods{FROM_MEMORY}.", kind="soft")


def _accuracy(one: Any) -> str:
    if one.relative:
        return f"± {100.0 * one.accuracy:.0f} %"
    return f"± {number(one.accuracy, one.unit, digits=2, difference=True)}"


def cautions_section(tables: Tables) -> str:
    """Cautions: those that stop first."""
    cautions = tables["cautions"]
    rows = [
        (line.id, line.severity, prose(line.text), prose(line.action))
        for line in cautions.itertuples()
    ]
    marks = [SEVERITY_MARKS.get(line.severity, "dim") for line in cautions.itertuples()]
    stops = int(cautions["severity"].eq(STOP).sum())
    text = (
        f"{stops} of {len(rows)} stop: they keep the verdict from a plain 'feasible' until they "
        "are cleared or confirmed."
    )
    content = paragraph(text)
    head = ("id", "severity", "what", "what to do")
    content += table(head, rows, marks=marks, kind="cautions")
    return section("cautions", "Cautions", content)


def limits_section(tables: Tables) -> str:
    """Distance to the physical limits."""
    rows, marks = [], []
    for line in tables["limits"].itertuples():
        numbers = (number(value, line.unit, difference=True) for value in (line.value, line.limit))
        rows.append((line.name, *numbers, percent(line.ratio), prose(line.text)))
        marks.append("bad" if getattr(line, "fault", False) else "")
    content = paragraph(definitions.LIMITS)
    head = ("limit", "here", "bound", "used", "where")
    content += table(head, rows, right=(1, 2, 3), marks=marks, kind="lead")
    return section("limits", "Distance to physical limits", content)


def failures_section(tables: Tables) -> str:
    """What one failure does."""
    rows, marks = [], []
    for one in tables["failures"].itertuples():
        rows.append(
            (one.failure, one.evaluated, prose(one.where), _reached(one),
             number(one.limit, one.unit), one.holds or DASH, prose(one.note))
        )  # fmt: skip
        fails = one.holds == "no"
        marks.append("bad-holds" if fails and one.standing == "required" else "")
    head = ("failure", "what was evaluated", "where", "value", "limit", "holds", "note")
    content = paragraph(definitions.FAILURES)
    content += folded(
        f"All {len(rows)} lines",
        table(head, rows, right=(3, 4), marks=marks, kind="tight failures"),
    )
    broken = tables["failures"]
    broken = broken[(broken["holds"] == "no") & (broken["standing"] == "required")]
    said = "Every failure state that the study requires to hold does."
    if len(broken):
        said = f"Required and not held: {', '.join(dict.fromkeys(broken['failure']))}."
    return section("failures", "When something fails", paragraph(said) + content)


def _reached(one: Any) -> str:
    """Value of a failure line; no number for a temperature that nothing survives."""
    if one.unit == "K" and not math.isnan(one.limit) and one.value > one.limit + FAR_BEYOND:
        return f"above {number(one.limit + FAR_BEYOND, 'K')}, destroyed"
    return number(one.value, one.unit)


def validation_section(tables: Tables) -> str:
    """What each model was checked against."""
    checks = tables["validation"]
    rows = [tuple(line) for line in checks.itertuples(index=False)]
    marks = ["warn" if not line[3] else "" for line in rows]
    unchecked = sum(not line[3] for line in rows)
    content = paragraph(f"{definitions.VALIDATION} {unchecked} lines rest on nothing outside.")
    listed = table(("model", "checked against", "source", "test"), rows, marks=marks, kind="checks")
    content += folded(f"All {len(rows)} lines", listed)
    return section("validation", "Validation", content)


def not_modelled_section() -> str:
    """What the numbers leave out."""
    return section("not-modelled", "What is not modelled", bullets(validation().not_modelled))
