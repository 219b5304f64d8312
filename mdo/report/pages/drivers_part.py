"""Part 2 of the report: what drives the design, what requirements cost, where the mass goes."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd

from mdo.defend.tables.legs import driving_point
from mdo.defend.tables.requirements import RequirementLine
from mdo.defend.verdict import INFEASIBLE
from mdo.report.figures import defence as defended_figures
from mdo.report.figures import design as figures
from mdo.report.figures.style import AT_LIMIT
from mdo.report.pages.parts import drawn
from mdo.report.pages.source import Facts, Source
from mdo.report.pages.verdict_part import (
    REQUIREMENT_HEAD,
    REQUIREMENT_RIGHT,
    requirement_cells,
)
from mdo.report.words.printed import (
    DASH,
    GRAM,
    kilograms,
    knob_value,
    number,
    pretty,
    prose,
    signed,
    step_words,
)
from mdo.report.words.table import Columns, Table, table_of
from mdo.study.number_text import figure, percent


def drivers(source: Source) -> Facts:
    """Point that sizes the torque, and the worst margin of every kind of requirement."""
    worst = figures.worst_per_group(source.table("compliance"))
    tight = int((worst["scaled"].abs() <= AT_LIMIT).sum())
    failed = int((worst["scaled"] < -AT_LIMIT).sum())
    said = f"{tight} of {len(worst)} kinds of requirement stand at their limit"
    said += f", {failed} fail." if failed else "; the others have room."
    alternative = f"Bar chart of the worst margin of each kind of requirement. {said}"
    return {
        "point": driving_point(source.appraisal),
        "said": said,
        "plot": drawn(figures.margins_figure(source.table("compliance")), "margins", alternative),
        "worst": requirement_lines(worst),
    }


def requirement_lines(lines: pd.DataFrame) -> Table:
    """Lines of requirements: value, limit, margin, whether it holds."""
    rows, marks = [], []
    for values in lines[list(RequirementLine._fields)].itertuples(index=False):
        line = RequirementLine(*values)
        reported = line.standing != "required"
        note = ", ".join(part for part in (line.standing if reported else "", line.note) if part)
        rows.append((*requirement_cells(line), "yes" if line.holds else "no", prose(note)))
        marks.append("dim" if reported else "" if line.holds else "bad")
    return Table((*REQUIREMENT_HEAD, "holds", "note"), rows, REQUIREMENT_RIGHT, marks, "lead")


def costs(source: Source) -> Facts | None:
    """What each requirement, load and technology value costs in mass, and where that holds."""
    if not source.has("costs"):
        return _multipliers(source)
    table = source.table("costs")
    free = (table["tightening"] == 0.0) & (table["relaxing"] == 0.0)
    ranged = table[table["range_low"].notna()]
    finite = table[table["tightening"].map(math.isfinite)]
    return {
        "active": None,
        "dearest": finite.iloc[0] if len(finite) else None,
        "stuck": list(table.loc[table["tightening"].map(math.isinf), "title"]),
        "plot": drawn(defended_figures.costs_figure(table), "costs", _costs_alternative(finite)),
        "costs": _costs_table(table[~free], ranges=len(ranged) > 0),
        "ranges": len(ranged) > 0,
        "free": list(table.loc[free, "title"]),
        "carried": table_of(
            table[table["carried_by"] != ""],
            {"requirement or number": "title", "through": "carried_by"},
            kind="lead",
        ),
        "ends": _range_ends(ranged),
    }


def _multipliers(source: Source) -> Facts | None:
    """What the requirements at their limit cost, by the multipliers of the optimum."""
    optimum = source.appraisal.optimum
    if optimum is None or not optimum.feasible:
        return None
    active = source.table("active")
    columns: Columns = {
        "cost": ("multiplier", lambda value: figure(value, 2)),
        "unit, aircraft": lambda line: f"kg per {line.unit_of_row}",
        "requirement at its limit": "requirement",
    }
    costly = active["multiplier"] > 0.0
    return {"active": table_of(active[costly], columns), "rest": int((~costly).sum())}


def _costs_alternative(finite: pd.DataFrame) -> str:
    if not len(finite):
        return "Bar chart."
    first = finite.iloc[0]
    step = pretty(step_words(first["per"]))
    return f"Bar chart. Dearest: {first['title']}, {figure(first['tightening'], 2)} kg per {step}."


def _costs_table(table: pd.DataFrame, *, ranges: bool) -> Table:
    def step(mass: float, endless: str) -> str:
        """Mass that a step adds [kg], with its sign; two digits, none below a gram."""
        if math.isinf(mass):
            return endless
        if 0.0 < abs(mass) < GRAM:
            return "< 0.001"
        return f"+{figure(mass, 2)}" if mass > 0.0 else signed(figure(mass, 2))

    def held(line: Any) -> str:
        if math.isnan(line.range_low):
            return DASH
        ends = (line.range_low, line.range_high)
        return " to ".join(knob_value(end, line.unit, line.name) for end in ends)

    columns: Columns = {
        "requirement or number": "title",
        "now": lambda line: knob_value(line.value, line.unit, line.name),
        "step": ("per", lambda per: pretty(step_words(per))),
        "harder [kg]": ("tightening", lambda mass: step(mass, "no design left")),
        "easier [kg]": ("relaxing", lambda mass: step(-mass, DASH)),
        **({"cost holds from … to": held} if ranges else {}),
        "note": ("note", str),
    }
    return table_of(table, columns, right=("now",), kind="lead")


def _range_ends(ranged: pd.DataFrame) -> Table:
    rows = [
        (line.title, knob_value(value, line.unit, line.name), prose(text))
        for line in ranged.itertuples()
        for value, text in (
            (line.range_low, line.range_low_end), (line.range_high, line.range_high_end),
        )
    ]  # fmt: skip
    return Table(("requirement or number", "at", "what changes there"), rows, (1,), kind="lead")


MASS_COLUMNS: Columns = {
    "line": "line",
    "basic [kg]": ("basic", kilograms),
    "growth [kg]": ("growth", kilograms),
    "total [kg]": ("total", kilograms),
}


def sum_mark(line: Any) -> str:
    """Class of a mass line."""
    return "sum" if line.line == "total" else ""


def mass(source: Source) -> Facts:
    """Mass lines with growth."""
    masses = source.table("masses")
    total, first = masses.iloc[-1], masses.iloc[0]
    said = (
        f"{number(total['total'], 'kg')} for the aircraft, both wings: "
        f"{number(total['basic'], 'kg')} basic and {number(total['growth'], 'kg')} growth. "
        f"Largest: {first['line']}, {percent(first['total'] / total['total'])}."
    ) + _unmet(source)
    alternative = f"Bar chart of the mass lines. {said}"
    return {
        "said": said,
        "plot": drawn(figures.mass_figure(masses), "mass", alternative),
        "lines": table_of(
            masses[masses["total"] > 0.0],
            {**MASS_COLUMNS, "of": "of", "growth class": "growth_class"},
            mark=sum_mark,
        ),
    }


def losses(source: Source) -> Facts:
    """Loss waterfall: from the alloy that the work alone needs to the mass of the system."""
    steps = source.table("waterfall")
    ideal, real = float(steps["after"].iloc[0]), float(steps["after"].iloc[-1])
    dearest = steps.loc[steps["loss"][1:].idxmax()]
    said = (
        f"From {number(ideal, 'kg', digits=2)} of alloy that the work alone would need to "
        f"{number(real, 'kg')} of system. Largest step: {dearest['step']}, "
        f"{figure(float(dearest['loss']), 2)} kg."
    ) + _unmet(source)
    columns: Columns = {
        "step": "step",
        "adds [kg]": ("loss", kilograms),
        "mass so far [kg]": ("after", lambda value: figure(value, 3)),
        "of the system": ("share", percent),
        "how": "text",
    }
    plot = defended_figures.waterfall_figure(steps)
    return {
        "said": said,
        "plot": drawn(plot, "waterfall", f"Waterfall. {said}"),
        "steps": table_of(steps, columns, kind="lead"),
    }


def _unmet(source: Source) -> str:
    """Sentence that marks the numbers of an infeasible design, nothing for another."""
    if source.table("verdict")["text"].iloc[0] != INFEASIBLE:
        return ""
    return " All of it of a design that does not meet its requirements."
