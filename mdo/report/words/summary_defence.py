"""Summary of a defended optimum as aligned text for a terminal, and as plain data for scripts."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import pandas as pd

from mdo.defend.comparison.sentences import findings
from mdo.defend.defence import defence_of, defence_tables
from mdo.defend.order.tubes import OrderItem, item_text
from mdo.optimise.appraisal import Appraisal
from mdo.study.number_text import aligned, figure, percent, quantity, wrapped

Lines = list[str]
MOST_COSTS, MOST_CHOICES, MOST_RELAXATIONS = 12, 12, 8
ABSOLUTE = 150.0  # [K] from here on a temperature, below it a difference
SHOWN = ("costs", "conflicts", "versus", "break_even", "test_plan", "choices", "rounding")


def defence_blocks(appraisal: Appraisal, units: str) -> list[Lines]:
    """Blocks of the summary on what was found about an optimum; none for other designs."""
    tables = defence_tables(appraisal)
    if not tables:
        return []
    return [
        _conflicts(tables, units),
        _costs(tables, units),
        _versus(appraisal, tables, units),
        _plan(tables, units),
        _rounding(tables, units),
        _choices(tables, units),
    ]


def defence_dict(appraisal: Appraisal) -> dict[str, Any] | None:
    """Tables of the defence as plain data in SI; None for a design that was not defended."""
    if defence_of(appraisal) is None:
        return None
    tables = defence_tables(appraisal)
    return {name: _records(tables[name]) for name in SHOWN if name in tables}


def _records(table: pd.DataFrame) -> list[dict[str, Any]]:
    """Lines of a table; what is no number is None."""
    return [
        {
            str(key): None if isinstance(cell, float) and not math.isfinite(cell) else cell
            for key, cell in line.items()
        }
        for line in table.to_dict("records")
    ]


def _value(value: float, unit: str, units: str) -> str:
    small = unit == "K" and abs(value) < ABSOLUTE
    return quantity(value, unit, units, digits=3, difference=small)


def _costs(tables: Mapping[str, pd.DataFrame], units: str) -> Lines:
    if "costs" not in tables:
        return []
    ranges = bool(tables["costs"]["range_low"].notna().any())
    held_head = "cost holds" if ranges else ""
    rows = [("harder", "easier", "", "now", "requirement or number", held_head)]
    name = quantity(1.0, "kg", units).split()[1]

    def mass(value: float) -> str:
        if math.isinf(value):
            return "none left"
        return quantity(value, "kg", units, digits=3).split()[0]

    costs = tables["costs"]
    dear = costs[(costs["tightening"] != 0.0) | (costs["relaxing"] != 0.0)]
    for one in dear[:MOST_COSTS].itertuples():
        step = one.per if one.per[:1].isdigit() else f"1 {one.per}"
        held = ""
        if not math.isnan(one.range_low):
            ends = (_value(end, one.unit, units) for end in (one.range_low, one.range_high))
            held = " to ".join(ends)
        relaxing = "-" if math.isinf(one.relaxing) else mass(-one.relaxing)
        rows.append(
            (f"+{mass(one.tightening)}", relaxing, f"{name} per {step}",
             _value(one.value, one.unit, units), one.title, held)
        )  # fmt: skip
    head = "COSTS of the requirements: mass of the aircraft by one step, harder and easier"
    return [head, *aligned(rows, right=(0, 1, 3))]


def _conflicts(tables: Mapping[str, pd.DataFrame], units: str) -> Lines:
    if "conflicts" not in tables:
        return []
    found = tables["conflicts"]
    lines = ["CONFLICTS: changes with which a feasible design exists, each verified by solving"]
    enough = found[found["suffices"].astype(bool)][: MOST_RELAXATIONS + 2]
    rows = [
        (one.requirement, _value(one.present, one.unit, units), "->",
         _value(one.value, one.unit, units), quantity(one.system_mass, "kg", units),
         "" if one.what.startswith("alone") else one.what)
        for one in enough.itertuples()
    ]  # fmt: skip
    lines += aligned(rows, right=(1, 3)) if rows else ["  none of one or two within their ranges"]
    alone = found[~found["suffices"].astype(bool) & found["what"].eq("alone")]["requirement"]
    if len(alone):
        lines += wrapped(f"not by itself: {', '.join(alone)}", indent="  ", hanging="    ")
    return lines


def _versus(appraisal: Appraisal, tables: Mapping[str, pd.DataFrame], units: str) -> Lines:
    defence = defence_of(appraisal)
    comparison = defence.comparison if defence else None
    if comparison is None:
        return []
    lines = ["AGAINST A CONVENTIONAL HINGE (aircraft; 5 to 95 % in brackets)"]
    for text in findings(comparison, units):
        lines += wrapped(f"- {text}", indent="  ", hanging="    ")
    if "break_even" not in tables:
        return lines
    found = tables["break_even"]
    turns = found[found["outcome"] == "turns"]
    rows = [
        (one.title, _value(one.now, one.unit, units), "->", _value(one.value, one.unit, units))
        for one in turns.itertuples()
    ]
    if rows:
        return [*lines, "  What would make both equally heavy, each alone:",
                *aligned(rows, right=(1, 3))]  # fmt: skip
    return [*lines, "  No single number within its range makes both equally heavy."]


def _plan(tables: Mapping[str, pd.DataFrame], units: str) -> Lines:
    if "test_plan" not in tables:
        return []
    odds = tables["sensitivity_odds"].set_index("name")["value"]
    met = percent(float(odds["probability_met"]))
    lines = ["MEASURE FIRST (methods from memory: confirm the current issue)"]
    note = f"the design as drawn meets everything in {met} of the ranges of its inputs"
    lines += wrapped(note, indent="  ")
    for number, one in enumerate(tables["test_plan"].itertuples(), 1):
        ends = (_value(end, one.unit, units) for end in (one.low, one.high))
        share = percent(max(one.mass_share, one.verdict_share))
        method = (one.standards or one.measure).replace(
            ", from memory, confirm the current issue", ""
        )
        text = (
            f"{number}. {one.meaning}: known to {' to '.join(ends)}, {share} of the doubt in the "
            f"{one.for_what}; {method}"
        )
        lines += wrapped(text, indent="  ", hanging="     ")
    return lines


def _rounding(tables: Mapping[str, pd.DataFrame], units: str) -> Lines:
    if "rounding" not in tables:
        return []
    rows = [
        (one.step, quantity(one.system_mass, "kg", units), figure(one.price, 3),
         percent(one.share), one.words)
        for one in tables["rounding"].itertuples()
    ]  # fmt: skip
    lines = ["AS BOUGHT: whole tubes and stock sizes, the rest optimised again (price in kg)"]
    for text in tables["rounding_words"]["text"]:
        lines += wrapped(f"- {text}", indent="  ", hanging="    ")
    lines += aligned(rows, right=(1, 2, 3))
    if "rounding_order" not in tables:
        return lines
    order = [
        (one.item, item_text(one, units), ", ".join(part for part in (one.of, one.note) if part))
        for one in (OrderItem(*line) for line in tables["rounding_order"].itertuples(index=False))
    ]
    return [*lines, "  What to buy:", *aligned(order)]


def _choices(tables: Mapping[str, pd.DataFrame], units: str) -> Lines:
    if "choices" not in tables:
        return []
    found = tables["choices"]
    first = list(found.columns).index("status")
    varied = [name for name in found.columns[1:first] if len(set(found[name])) > 1]
    rows = []
    for one in found[:MOST_CHOICES].to_dict("records"):
        fine = one["status"] == "feasible"
        rows.append(
            (str(one["place"]), quantity(one["system_mass"], "kg", units) if fine else "-",
             *(str(one[name]) for name in varied), "" if fine else f"{one['status']}: "
             f"{one['requirement'] or one['notes']}")
        )  # fmt: skip
    fine = int(found["status"].eq("feasible").sum())
    head = f"STUDY OF CHOICES: {fine} of {len(found)} combinations are feasible, best first"
    return [head, *aligned(rows, right=(0, 1))]
