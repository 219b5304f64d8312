"""Part 2 of the report: what drives the design, what requirements cost, where the mass goes."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pandas as pd

from mdo.defend.tables.legs import driving_point
from mdo.defend.tables.requirements import RequirementLine
from mdo.optimise.appraisal import Appraisal
from mdo.report.figures import defence as defended_figures
from mdo.report.figures import design as figures
from mdo.report.pages.verdict_part import degrees, margin_words, numbers, unmet, value_text
from mdo.report.templates.pieces import (
    DASH,
    definition,
    drawn,
    folded,
    number,
    paragraph,
    picture,
    pretty,
    prose,
    section,
    signed,
    table,
)
from mdo.report.words import definitions
from mdo.report.words.summary import place_text
from mdo.study.number_text import figure, percent

Tables = Mapping[str, pd.DataFrame]


def drivers_section(appraisal: Appraisal, tables: Tables) -> str:
    """Point that sizes the torque, and the worst margin of every kind of requirement."""
    content = ""
    point = driving_point(appraisal)
    if point is not None:
        content += paragraph(
            f"The torque is sized by {point.leg} at {degrees(point)} ({point.driver}): "
            f"{number(point.required_moment, 'N*m')} required, "
            f"{number(point.available_moment, 'N*m')} available, margin "
            f"{margin_words(point.torque_margin)}, "
            f"{percent(point.torque_margin_required)} needed; "
            f"{margin_words(point.torque_margin_upper_band)} if the loads are at the upper "
            "end of their band. One wing, limit load."
        )
    compliance = tables["compliance"]
    worst = figures.worst_per_group(compliance)
    tight = worst[worst["scaled"].abs() <= figures.AT_LIMIT]
    failed = worst[worst["scaled"] < -figures.AT_LIMIT]
    said = f"{len(tight)} of {len(worst)} kinds of requirement stand at their limit"
    said += f", {len(failed)} fail." if len(failed) else "; the others have room."
    plot = drawn(
        figures.margins_figure(compliance), "margins",
        f"Bar chart of the worst margin of each kind of requirement. {said}",
    )  # fmt: skip
    content += picture(
        plot, f"{said} {definitions.MARGINS_READ}", behind=compliance_rows(worst),
        more="Worst line of each kind: value, limit, margin",
    )  # fmt: skip
    content += definition(
        f"{definitions.MARGINS} {definitions.GATES}", title="How margins and gates are defined"
    )
    return section("drivers", "What drives it: margins of all requirements", content)


def compliance_rows(lines: pd.DataFrame) -> str:
    """Table of requirement lines."""
    rows, marks = [], []
    for values in lines[list(RequirementLine._fields)].itertuples(index=False):
        line = RequirementLine(*values)
        reported = line.standing != "required"
        holds = "yes" if line.holds else "no"
        note = ", ".join(part for part in (line.standing if reported else "", line.note) if part)
        rows.append((line.requirement, prose(place_text(line)), *numbers(line), holds, prose(note)))
        marks.append("dim" if reported else "" if line.holds else "bad")
    head = ("requirement", "where", "value", "sense", "limit", "margin", "of", "holds", "note")
    return table(head, rows, right=(2, 4, 5), marks=marks, kind="lead")


def costs_section(tables: Tables) -> str:
    """What each requirement, load and technology value costs in mass, and where that holds."""
    costs = tables["costs"]
    rows, free = [], []
    ranges = bool(costs["range_low"].notna().any())
    for one in costs.itertuples():
        if one.tightening == 0.0 and one.relaxing == 0.0:
            free.append(one.title)
            continue
        harder = "no design left" if math.isinf(one.tightening) else _step_text(one.tightening)
        relaxing = DASH if math.isinf(one.relaxing) else _step_text(-one.relaxing)
        held = DASH
        if not math.isnan(one.range_low):
            ends = (one.range_low, one.range_high)
            held = " to ".join(value_text(end, one.unit, one.name) for end in ends)
        shown = (one.title, value_text(one.value, one.unit, one.name),
                 pretty(defended_figures.step_words(one.per)), harder,
                 relaxing)  # fmt: skip
        rows.append((*shown, held, one.note) if ranges else (*shown, one.note))
    head = ["requirement or number", "now", "step", "harder [kg]", "easier [kg]", "note"]
    if ranges:
        head.insert(5, "cost holds from … to")
    dearest = costs[costs["tightening"].map(math.isfinite)].head(1)
    said = "Mass of the aircraft that one step of the harder way adds."
    if len(dearest):
        one = dearest.iloc[0]
        step = pretty(defended_figures.step_words(one["per"]))
        said += f" Dearest: {one['title']}, {figure(one['tightening'], 2)} kg per {step}."
    stuck = costs[costs["tightening"].map(math.isinf)]["title"]
    if len(stuck):
        said += f" No design is left if these get harder by any step: {', '.join(stuck)}."
    plot = drawn(defended_figures.costs_figure(costs), "costs", f"Bar chart. {said}")
    content = picture(
        plot, f"{said} {definitions.COSTS_READ}",
        behind=table(head, rows, right=(1, 3, 4), kind="lead"),
        more=f"All {len(rows)} costs" + (" with the range in which each holds" if ranges else ""),
    )  # fmt: skip
    content += definition(definitions.COSTS, title="How a cost is defined")
    return section("costs", "What each requirement costs", content + _costs_behind(costs, free))


def _step_text(mass: float) -> str:
    """Mass that a step adds [kg], with its sign; two digits, none below a gram."""
    if 0.0 < abs(mass) < figures.GRAM:
        return "< 0.001"
    return f"+{figure(mass, 2)}" if mass > 0.0 else signed(figure(mass, 2))


def _costs_behind(costs: pd.DataFrame, free: list[str]) -> str:
    content = ""
    if free:
        content += paragraph(f"Without cost, not at their limit: {', '.join(free)}.", kind="soft")
    carried = [(one.title, prose(one.carried_by)) for one in costs.itertuples() if one.carried_by]
    if carried:
        listed = table(("requirement or number", "through"), carried, kind="lead")
        content += folded("Through which limits each cost comes", listed)
    ends = [
        (one.title, value_text(value, one.unit, one.name), prose(text))
        for one in costs.itertuples()
        if not math.isnan(one.range_low)
        for value, text in (
            (one.range_low, one.range_low_end), (one.range_high, one.range_high_end),
        )
    ]  # fmt: skip
    if ends:
        head = ("requirement or number", "at", "what changes there")
        content += folded("What ends each range", table(head, ends, right=(1,), kind="lead"))
    return content


def active_section(tables: Tables) -> str:
    """What the requirements at their limit cost, by the multipliers of the optimum."""
    active = tables["active"]
    rows = [
        (figure(line.multiplier, 2), f"kg per {line.unit_of_row}", line.requirement)
        for line in active.itertuples()
        if line.multiplier > 0.0
    ]
    rest = int((active["multiplier"] <= 0.0).sum())
    text = (
        f"{definitions.MULTIPLIERS} {rest} more stand at their limit without a cost of their own. "
        "In the unit of each requirement, and with ranges: analysis 'defence'."
    )
    head = ("cost", "unit, aircraft", "requirement at its limit")
    content = paragraph(text) + table(head, rows, right=(0,))
    return section("costs", "What each requirement costs", content)


def mass_section(tables: Tables) -> str:
    """Mass lines with growth, and where the mass comes from step by step."""
    masses = tables["masses"]
    total, first = masses.iloc[-1], masses.iloc[0]
    rows = [
        (
            line.line,
            *(figures.kilograms(value) for value in (line.basic, line.growth, line.total)),
            line.of,
            line.growth_class,
        )
        for line in masses.itertuples()
        if line.total > 0.0
    ]
    said = (
        f"{number(total['total'], 'kg')} for the aircraft, both wings: "
        f"{number(total['basic'], 'kg')} basic and {number(total['growth'], 'kg')} growth. "
        f"Largest: {first['line']}, {percent(first['total'] / total['total'])}."
    ) + unmet(tables)
    head = ("line", "basic [kg]", "growth [kg]", "total [kg]", "of", "growth class")
    lines = table(head, rows, right=(1, 2, 3), marks=[""] * (len(rows) - 1) + ["sum"])
    plot = drawn(figures.mass_figure(masses), "mass", f"Bar chart of the mass lines. {said}")
    content = picture(plot, f"{said} {definitions.MASS_READ}", behind=lines, more="Mass lines")
    content += definition(f"{definitions.MASS} {definitions.WING_AND_AIRCRAFT}",
                          title="What belongs to a wing, what to the aircraft")  # fmt: skip
    return section("mass", "Mass breakdown with growth", content)


def losses_section(tables: Tables) -> str:
    """Loss waterfall: from the alloy that the work alone needs to the mass of the system."""
    steps = tables["waterfall"]
    rows = [
        (one.step, signed(figures.kilograms(one.loss)), figure(one.after, 3), percent(one.share),
         prose(one.text))
        for one in steps.itertuples()
    ]  # fmt: skip
    ideal, real = float(steps["after"].iloc[0]), float(steps["after"].iloc[-1])
    dearest = steps.loc[steps["loss"][1:].idxmax()]
    said = (
        f"From {number(ideal, 'kg', digits=2)} of alloy that the work alone would need to "
        f"{number(real, 'kg')} of system. Largest step: {dearest['step']}, "
        f"{figure(float(dearest['loss']), 2)} kg."
    ) + unmet(tables)
    plot = drawn(defended_figures.waterfall_figure(steps), "waterfall", f"Waterfall. {said}")
    head = ("step", "adds [kg]", "mass so far [kg]", "of the system", "how")
    content = picture(
        plot, f"{said} {definitions.WATERFALL_READ}",
        behind=table(head, rows, right=(1, 2, 3), kind="lead"), more="Steps",
    )  # fmt: skip
    return section("losses", "Where the mass is lost", content)
