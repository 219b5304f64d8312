"""Part 2 of the report, continued: against a conventional hinge, and against other choices."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pandas as pd

from mdo.report.figures import defence as figures
from mdo.report.pages.drivers_part import MASS_COLUMNS, sum_mark
from mdo.report.pages.parts import Drawn, drawn
from mdo.report.pages.source import Facts, Source
from mdo.report.words.printed import DASH, knob_value, number, prose, two
from mdo.report.words.table import Cell, Columns, Shown, Table, table_of
from mdo.study.number_text import percent

SKIPPED = "return time"  # is no figure of the comparison, its rival takes what is asked for


def versus(source: Source) -> Facts | None:
    """Comparison with the conventional hinges as intervals, and what would turn it."""
    if not source.has("versus"):
        return None
    table = source.table("versus")
    lead, *more = [prose(text) for text in source.table("versus_words")["text"]] or [""]
    measures = dict.fromkeys(table["measure"])
    rules: Columns = {
        "rule": "rule",
        "kept": lambda line: "kept" if line.kept else "not quite",
        "how": "text",
    }
    failures = source.table("versus_failures")
    return {
        "lead": lead,
        "more": more,
        "plots": [
            _interval_plot(table, measure, place)
            for place, measure in enumerate(measures)
            if measure != SKIPPED
        ],
        "comparison": _comparison(table),
        "geared": table_of(source.table("geared"), MASS_COLUMNS, mark=sum_mark),
        "rules": table_of(source.table("versus_rules"), rules, kind="lead"),
        "failures": table_of(failures, {name: name for name in failures.columns}, kind="lead"),
        **_break_even(source),
    }


def _interval_plot(table: pd.DataFrame, measure: str, place: int) -> Drawn:
    said = "; ".join(
        f"{line.concept} {line.basis}: {two(line.value, line.unit)}, {_interval(line)}"
        for line in table[table["measure"] == measure].itertuples()
    )
    plot = figures.versus_figure(table, measure)
    return drawn(plot, f"versus-{place}", f"Intervals of {measure}: {said}")


def _interval(line: Any) -> str:
    return f"{two(line.low, line.unit)} to {two(line.high, line.unit)}"


def _comparison(table: pd.DataFrame) -> Table:
    def ratio(line: Any) -> str:
        value, low, high = (
            two(number, "1") for number in (line.ratio, line.ratio_low, line.ratio_high)
        )
        return DASH if math.isnan(line.ratio) else f"{value} ({low} to {high})"

    columns: Columns = {
        "measure": "measure",
        "concept": "concept",
        "basis": "basis",
        "value": lambda line: two(line.value, line.unit),
        "5 to 95 %": _interval,
        "SMA over it": ratio,
        "SMA is": "standing",
        "note": "note",
    }
    return table_of(table, columns, right=("value", "5 to 95 %", "SMA over it"))


def _break_even(source: Source) -> Facts:
    """Numbers that, turned alone, make both hinges equally heavy."""
    if not source.has("break_even"):
        return {"turned": None}
    turned = source.table("break_even")
    columns: Columns = {
        "turn this alone": "title",
        "from": lambda line: knob_value(line.now, line.unit, line.knob),
        "to": lambda line: knob_value(line.value, line.unit, line.knob),
        "mass of both": lambda line: number(line.closest_mass, "kg"),
    }
    right = ("from", "to", "mass of both")
    return {
        "turned": len(turned),
        "turns": table_of(turned[turned["outcome"] == "turns"], columns, right=right),
        "turned_words": [prose(text) for text in source.table("break_even_words")["text"]],
    }


def choices(source: Source) -> Facts | None:
    """Every combination of the discrete choices as a table that can be sorted."""
    if not source.has("choices"):
        return None
    table = source.table("choices")
    names = list(table.columns[1 : list(table.columns).index("status")])
    varied = [name for name in names if len(set(table[name])) > 1]
    columns: dict[str, Shown] = {
        "rank": lambda line: Cell(str(line.place), float(line.place)),
        **{name.replace("_", " "): _choice(name) for name in varied},
        "mass": lambda line: _sorted(line, line.system_mass, number(line.system_mass, "kg"), DASH),
        "over the best": lambda line: _sorted(
            line, line.over_best, f"+{percent(line.over_best)}" if line.over_best else "", ""
        ),
        "status": "status",
        "limited by, or killed by": lambda line: prose(
            str(line.limits if _works(line) else line.requirement or line.notes)
        ),
    }
    fixed = [
        f"{name.replace('_', ' ')} {table[name].iloc[0]}"
        for name in names
        if name not in varied and table[name].iloc[0] != ""
    ]
    return {
        "fine": int(table["status"].eq("feasible").sum()),
        "total": len(table),
        "fixed": fixed,
        "choices": table_of(
            table,
            columns,
            right=("rank", "mass", "over the best"),
            mark=lambda line: "" if _works(line) else "dim",
            kind="tight",
            sortable=True,
        ),
    }


def _works(line: Any) -> bool:
    return bool(line.status == "feasible")


def _sorted(line: Any, value: float, text: str, nothing: str) -> Cell:
    """Cell with a number of a combination that works; all others rank last."""
    return Cell(text, float(value)) if _works(line) else Cell(nothing, math.inf)


def _choice(name: str) -> Callable[[Any], str]:
    """Value of a choice as it is printed; the name of an alloy card stays as it is."""
    if name == "alloy":
        return lambda line: str(line.alloy)
    return lambda line: str(getattr(line, name)).replace("_", " ")
