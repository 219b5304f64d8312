"""Part 4 of the report: how sure it is."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd

from mdo.defend.cautions.base import FAR_BEYOND, STOP, WARN
from mdo.defend.validation import validation as known_validation
from mdo.report.figures import defence as figures
from mdo.report.pages.parts import drawn
from mdo.report.pages.source import Facts, Source
from mdo.report.words.printed import DASH, between, number, prose, signed
from mdo.report.words.table import Cell, Columns, Shown, Table, table_of
from mdo.study.number_text import figure, percent

SEVERITY_MARKS = {STOP: "stop", WARN: "watch"}
FROM_MEMORY = ", from memory, confirm the current issue"
MOST_INPUTS = 40


def sensitivity(source: Source) -> Facts | None:
    """What the doubt rests on, and which numbers to measure first."""
    if not source.has("sensitivity"):
        return None
    inputs, odds = source.table("sensitivity"), source.table("sensitivity_odds")
    shown = inputs[:MOST_INPUTS]
    columns: Columns = {
        "what": "text",
        "value": lambda line: (
            percent(line.value)
            if line.unit == "1" and line.name != "unpriced"
            else number(line.value, line.unit)
        ),
    }
    text = (
        "Bar chart of what each uncertain input does to the mass. First to measure: "
        f"{inputs['meaning'].iloc[0]}."
    )
    return {
        "met": float(odds.set_index("name").loc["probability_met", "value"]),
        "plan": _plan(source.table("test_plan")),
        "from_memory": FROM_MEMORY,
        "plot": drawn(figures.inputs_figure(inputs), "inputs", text),
        "inputs": _inputs(shown),
        "odds": table_of(odds, columns, right=("value",)),
    }


def _inputs(table: pd.DataFrame) -> Table:
    def share(name: str) -> Shown:
        return lambda line: Cell(percent(getattr(line, name)), float(getattr(line, name)))

    def both(line: Any) -> Cell:
        ends = (line.optimum_mass_low, line.optimum_mass_high)
        return Cell(" / ".join(signed(figure(mass, 2)) for mass in ends), float(ends[1]))

    columns: Columns = {
        "rank": lambda line: Cell(str(line.rank), float(line.rank)),
        "input": "meaning",
        "value": "value",
        "range": lambda line: between(line.low, line.high, line.unit),
        "share of the doubt in mass": share("mass_share"),
        "share in the verdict": share("verdict_share"),
        "mass at low / high [kg]": both,
    }
    right = (
        "rank",
        "share of the doubt in mass",
        "share in the verdict",
        "mass at low / high [kg]",
    )
    return table_of(table, columns, right=right, kind="tight", sortable=True)


def _plan(plan: pd.DataFrame) -> Table:
    def accuracy(line: Any) -> str:
        if line.relative:
            return f"± {100.0 * line.accuracy:.0f} %"
        return f"± {number(line.accuracy, line.unit, digits=2, difference=True)}"

    columns: Columns = {
        "rank": lambda line: f"{line.place}",
        "number": "meaning",
        "known to": lambda line: between(line.low, line.high, line.unit),
        "measure": "measure",
        "on": "specimen",
        "method": lambda line: line.standards.replace(FROM_MEMORY, ""),
        "to within": accuracy,
        "specimens": ("specimens", lambda count: f"{count:.0f}" if count else DASH),
        "worth": ("mass_worth", lambda mass: f"{figure(mass, 2)} kg"),
    }
    placed = plan.assign(place=range(1, len(plan) + 1))
    return table_of(placed, columns, right=("to within",), kind="tight")


def cautions(source: Source) -> Facts:
    """Cautions: those that stop first."""
    table = source.table("cautions")
    columns: Columns = {"id": "id", "severity": "severity", "what": "text", "what to do": "action"}

    def mark(line: Any) -> str:
        return SEVERITY_MARKS.get(line.severity, "dim")

    return {
        "stops": int(table["severity"].eq(STOP).sum()),
        "cautions": table_of(table, columns, mark=mark, kind="cautions"),
    }


def limits(source: Source) -> Facts:
    """Distance to the physical limits."""
    columns: Columns = {
        "limit": "name",
        "here": lambda line: number(line.value, line.unit, difference=True),
        "bound": lambda line: number(line.limit, line.unit, difference=True),
        "used": ("ratio", percent),
        "where": "text",
    }

    def mark(line: Any) -> str:
        return "bad" if getattr(line, "fault", False) else ""

    right = ("here", "bound")
    table = source.table("limits")
    return {"limits": table_of(table, columns, right=right, mark=mark, kind="lead")}


def failures(source: Source) -> Facts:
    """What one failure does."""
    table = source.table("failures")
    columns: Columns = {
        "failure": "failure",
        "what was evaluated": "evaluated",
        "where": "where",
        "value": _reached,
        "limit": "limit",
        "holds": lambda line: line.holds or DASH,
        "note": "note",
    }
    broken = table[(table["holds"] == "no") & (table["standing"] == "required")]

    def mark(line: Any) -> str:
        return "bad-holds" if line.holds == "no" and line.standing == "required" else ""

    lines = table_of(table, columns, right=("value",), mark=mark, kind="tight failures")
    return {"broken": list(dict.fromkeys(broken["failure"])), "failures": lines}


def _reached(line: Any) -> str:
    """Value of a failure line; no number for a temperature that nothing survives."""
    if line.unit == "K" and not math.isnan(line.limit) and line.value > line.limit + FAR_BEYOND:
        return f"above {number(line.limit + FAR_BEYOND, 'K')}, destroyed"
    return number(line.value, line.unit)


def validation(source: Source) -> Facts:
    """What each model was checked against."""
    table = source.table("validation")
    titles: Columns = {"model": "model", "checked against": "checked_against", "source": "source",
              "test": "test"}  # fmt: skip

    def mark(line: Any) -> str:
        return "" if line.test else "warn"

    return {
        "unchecked": int((table["test"] == "").sum()),
        "checks": table_of(table, titles, mark=mark, kind="checks"),
    }


def not_modelled(source: Source) -> Facts:  # noqa: ARG001  every section is made from a source
    """What the numbers leave out."""
    return {"items": [prose(text) for text in known_validation().not_modelled]}
