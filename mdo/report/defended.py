"""Sections of the report on the defended optimum; pure functions of the tables of a result."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

import pandas as pd

from mdo.explore.order import OrderItem
from mdo.explore.wording import figure, percent
from mdo.report import defended_figures as figures
from mdo.report.html import (
    bullets,
    drawn,
    escaped,
    folded,
    number,
    paragraph,
    pretty,
    prose,
    section,
    table,
)

Tables = Mapping[str, pd.DataFrame]
ABSOLUTE = 150.0  # [K] from here on a temperature, below it a difference
DASH = "–"
FROM_MEMORY = ", from memory, confirm the current issue"

WATERFALL = (
    "From the alloy that the work alone would need, at the allowable stress and full strain, to "
    "the mass of the system: what each step of the chain takes. The order of the steps matters for "
    "the split; each is charged with all that stands above it. Aircraft, both wings."
)
COSTS = (
    "What the optimum would weigh more if a requirement were one step harder (and less if it were "
    "easier), everything else as it is and the design optimised again: the slope at this point, "
    "exact for small changes, discrete choices kept. The range is where the active set, and so the "
    "cost, stays the same. Aircraft."
)
CONFLICTS = (
    "The smallest change of each requirement alone with which a feasible design exists. Every "
    "value was verified: the study was solved there, and found infeasible just short of it."
)
VERSUS = (
    "Conventional hinges for the same legs, moments, margins, times, lock and growth. Intervals: 5 "
    "to 95 % over the ranges of card and assumptions, taken as independent and even."
)
INPUTS = (
    "Card and assumptions over their ranges, taken as independent and even. An optimum stands on "
    "its requirements, so the unfavourable half of any range that matters breaks one: the "
    "probability is that of the design as drawn, nothing adjusted."
)
CHOICES = "Every combination of the discrete choices listed by the study, each optimised again."
FAILURES = (
    "What one failure does, as far as this fidelity allows; what is only reported has no limit in "
    "the study. A safety assessment is not replaced."
)


def defended_sections(tables: Tables) -> list[tuple[str, str, str]]:
    """Sections that the tables have something for: anchor, words of the link, content."""
    built = (
        ("conflicts", "Conflicts", _conflicts, "conflicts"),
        ("costs", "What it costs", _costs, "costs"),
        ("losses", "Losses", _losses, "waterfall"),
        ("versus", "Comparison", _versus, "versus"),
        ("choices", "Choices", _choices, "choices"),
        ("rounding", "As bought", _rounding, "rounding"),
        ("sensitivity", "How sure", _sensitivity, "sensitivity"),
        ("failures", "Failures", _failures, "failures"),
    )
    return [
        (anchor, words, make(tables))
        for anchor, words, make, needs in built
        if needs in tables and len(tables[needs])
    ]


def _value(value: float, unit: str) -> str:
    """Value of a knob as it is printed; small kelvins are differences."""
    return number(value, unit, digits=3, difference=unit == "K" and abs(value) < ABSOLUTE)


def _losses(tables: Tables) -> str:
    steps = tables["waterfall"]
    rows = [
        (one.step, figure(one.loss, 3), figure(one.after, 4), percent(one.share), prose(one.text))
        for one in steps.itertuples()
    ]
    head = ("step", "adds [kg]", "mass so far [kg]", "of the system", "")
    content = paragraph(WATERFALL, kind="definition")
    content += drawn(figures.waterfall_figure(steps), "waterfall")
    content += folded("Steps as a table", table(head, rows, right=(1, 2, 3), kind="lead"))
    return section("losses", "Where the mass goes", content)


def _costs(tables: Tables) -> str:
    costs = tables["costs"]
    rows, free = [], []
    for one in costs.itertuples():
        if one.tightening == 0.0 and one.relaxing == 0.0:
            free.append(one.title)
            continue
        tightening = "no design left" if math.isinf(one.tightening) else figure(one.tightening, 3)
        relaxing = DASH if math.isinf(one.relaxing) else figure(-one.relaxing, 3)
        held = DASH
        if not math.isnan(one.range_low):
            held = f"{_value(one.range_low, one.unit)} to {_value(one.range_high, one.unit)}"
        rows.append(
            (one.title, _value(one.value, one.unit), pretty(figures.step_words(one.per)),
             f"+{tightening}" if tightening[0].isdigit() else tightening,
             relaxing.replace("-", "−"), held, one.note)
        )  # fmt: skip
    head = ("requirement or number", "now", "step", "harder [kg]", "easier [kg]", "cost holds from",
            "")  # fmt: skip
    content = paragraph(COSTS, kind="definition")
    content += drawn(figures.costs_figure(costs), "costs")
    content += table(head, rows, right=(1, 3, 4), kind="lead")
    if free:
        content += paragraph(f"Not at their limit, without cost: {', '.join(free)}.", kind="soft")
    ends = _range_ends(costs)
    carried = [(one.title, prose(one.carried_by)) for one in costs.itertuples() if one.carried_by]
    listed = table(("requirement or number", "through"), carried, kind="lead")
    content += folded("Through which rows each cost comes", listed) if carried else ""
    content += folded("What ends each range", ends) if ends else ""
    return section("costs", "What each requirement costs", content)


def _range_ends(costs: pd.DataFrame) -> str:
    rows = []
    for one in costs.itertuples():
        if math.isnan(one.range_low):
            continue
        for value, text in (
            (one.range_low, one.range_low_end),
            (one.range_high, one.range_high_end),
        ):
            rows.append((one.title, _value(value, one.unit), prose(text)))
    head = ("requirement or number", "at", "what changes there")
    return table(head, rows, right=(1,), kind="lead") if rows else ""


def _conflicts(tables: Tables) -> str:
    found = tables["conflicts"]
    content = paragraph(CONFLICTS, kind="definition")
    core = list(tables["conflict_core"]["requirement"])
    if core:
        content += paragraph("These cannot hold together as the study stands:") + bullets(core)
    enough = found[found["suffices"].astype(bool)]
    if len(enough):
        rows = [
            (one.what, one.requirement, _value(one.present, one.unit), _value(one.value, one.unit),
             number(one.system_mass, "kg"), figure(one.violation_short, 2))
            for one in enough.itertuples()
        ]  # fmt: skip
        head = ("", "change", "from", "to", "mass of the aircraft", "violation just short")
        content += table(head, rows, right=(2, 3, 4, 5))
    else:
        content += paragraph("No change of one or two requirements within their ranges suffices.")
    rest = found[~found["suffices"].astype(bool)]
    rows = [
        (one.requirement, _value(one.present, one.unit),
         DASH if math.isnan(one.least_at) else _value(one.least_at, one.unit),
         DASH if math.isnan(one.least_violation) else figure(one.least_violation, 2),
         prose(str(one.failing)), one.note)
        for one in rest.itertuples()
    ]  # fmt: skip
    head = ("requirement", "now", "least violation at", "violation left", "what still fails", "")
    listed = table(head, rows, right=(1, 2, 3), kind="lead")
    content += folded("What does not suffice by itself", listed) if rows else ""
    return section("conflicts", "What conflicts, and what to relax", content)


def _versus(tables: Tables) -> str:
    versus = tables["versus"]
    words = [prose(text) for text in tables["versus_words"]["text"]]
    content = f"<p><strong>{escaped(words[0])}</strong></p>\n" if words else ""
    content += bullets(words[1:]) + paragraph(VERSUS, kind="definition")
    plots = [
        f"<div>{drawn(figures.versus_figure(versus, measure), f'versus-{place}')}</div>\n"
        for place, measure in enumerate(dict.fromkeys(versus["measure"]))
        if measure != "return time"
    ]
    content += f'<div class="pairs">\n{"".join(plots)}</div>\n'
    content += folded("Comparison as a table", _versus_rows(versus))
    content += folded("Lines of the geared hinge", _geared_rows(tables["geared"]))
    rules = [
        (one.rule, "kept" if one.kept else "not quite", prose(one.text))
        for one in tables["versus_rules"].itertuples()
    ]
    content += folded("Rules of the comparison", table(("rule", "", ""), rules, kind="lead"))
    states = tables["versus_failures"]
    content += folded("When something fails", _plain_rows(states))
    if "break_even" in tables:
        content += "<h3>What would turn it</h3>\n" + _break_even(tables)
    return section("versus", "Against a conventional hinge", content)


def _versus_rows(versus: pd.DataFrame) -> str:
    rows = [
        (one.measure, one.concept, one.basis, number(one.value, one.unit, digits=2),
         f"{number(one.low, one.unit, digits=2)} to {number(one.high, one.unit, digits=2)}",
         DASH if math.isnan(one.ratio)
         else f"{figure(one.ratio, 2)} ({figure(one.ratio_low, 2)} to {figure(one.ratio_high, 2)})",
         one.standing, prose(one.note))
        for one in versus.itertuples()
    ]  # fmt: skip
    head = ("measure", "concept", "basis", "value", "5 to 95 %", "SMA over it", "SMA is", "")
    return table(head, rows, right=(3, 4, 5))


def _geared_rows(geared: pd.DataFrame) -> str:
    rows = [
        (one.line, figure(one.basic, 3), figure(one.growth, 3), figure(one.total, 3))
        for one in geared.itertuples()
    ]
    head = ("line", "basic [kg]", "growth [kg]", "total [kg]")
    return table(head, rows, right=(1, 2, 3), marks=[""] * (len(rows) - 1) + ["sum"])


def _break_even(tables: Tables) -> str:
    found, words = tables["break_even"], tables["break_even_words"]["text"]
    turns = found[found["outcome"] == "turns"]
    rows = [
        (one.title, _value(one.now, one.unit), _value(one.value, one.unit),
         number(one.closest_mass, "kg", digits=3))
        for one in turns.itertuples()
    ]  # fmt: skip
    if rows:
        head = ("turn this alone", "from", "to", "mass of both")
        content = table(head, rows, right=(1, 2, 3))
    else:
        content = paragraph("No single number within its range turns the comparison.")
    return content + folded("Every number that was turned", bullets(map(prose, words)))


def _choices(tables: Tables) -> str:
    found = tables["choices"]
    first = list(found.columns).index("status")
    varied = [name for name in found.columns[1:first] if len(set(found[name])) > 1]
    rows, marks = [], []
    for one in found.to_dict("records"):
        fine = one["status"] == "feasible"
        why = one["limits"] if fine else one["requirement"] or one["notes"]
        over = "" if not fine or one["over_best"] == 0.0 else f"+{percent(one['over_best'])}"
        rows.append(
            (str(one["place"]), *(_choice(name, one[name]) for name in varied),
             number(one["system_mass"], "kg") if fine else DASH, over, str(one["status"]),
             prose(str(why)))
        )  # fmt: skip
        marks.append("" if fine else "dim")
    fixed = [
        f"{name.replace('_', ' ')} {found[name].iloc[0]}"
        for name in found.columns[1:first]
        if name not in varied and found[name].iloc[0] != ""
    ]
    names = (name.replace("_", " ") for name in varied)
    head = ("", *names, "mass", "", "", "limited by, or killed by")
    right = (0, len(varied) + 1, len(varied) + 2)
    content = paragraph(CHOICES, kind="definition")
    content += paragraph(f"The same in all: {', '.join(fixed)}.", kind="soft") if fixed else ""
    content += table(head, rows, right=right, marks=marks, kind="sortable")
    return section("choices", "Study of choices", content)


def _choice(name: str, value: object) -> str:
    """Value of a choice as it is printed; the name of an alloy card stays as it is."""
    text = str(value)
    return text if name == "alloy" else text.replace("_", " ")


def _rounding(tables: Tables) -> str:
    steps = tables["rounding"]
    rows = [
        (one.step, number(one.system_mass, "kg"), figure(one.price, 3), percent(one.share),
         prose(one.words))
        for one in steps.itertuples()
    ]  # fmt: skip
    content = bullets(map(prose, tables["rounding_words"]["text"]))
    head = ("step", "mass of the aircraft", "price [kg]", "price", "")
    content += table(head, rows, right=(1, 2, 3))
    if "rounding_order" in tables:
        content += "<h3>What to buy</h3>\n" + _order(tables["rounding_order"])
    stock = tables["rounding_stock"]
    listed = [
        (number(one.outer_diameter, "m"), number(one.wall, "m"),
         number(one.relaxed_mass, "kg"), number(one.system_mass, "kg"), prose(one.words))
        for one in stock.itertuples()
    ]  # fmt: skip
    if listed:
        head = ("outer diameter", "wall", "counts free", "whole counts", "")
        content += folded("Every stock tube", table(head, listed, right=(0, 1, 2, 3)))
    return section("rounding", "In whole tubes and stock sizes", content)


def _order(lines: pd.DataFrame) -> str:
    order = []
    for line in lines.itertuples(index=False):
        item = OrderItem(*line)
        whole = item.unit == "1" and float(item.value).is_integer()
        value = f"{item.value:.0f}" if whole else item.words or number(item.value, item.unit)
        order.append((item.item, value, item.of, prose(item.note)))
    return table(("", "", "of", ""), order)


def _sensitivity(tables: Tables) -> str:
    content = paragraph(INPUTS, kind="definition")
    odds = [
        (one.text, percent(one.value) if one.unit == "1" and one.name != "unpriced"
         else number(one.value, one.unit, digits=3))
        for one in tables["sensitivity_odds"].itertuples()
    ]  # fmt: skip
    content += "<h3>Measure these first</h3>\n" + _plan(tables["test_plan"])
    content += "<h3>Reach of each input</h3>\n"
    content += drawn(figures.inputs_figure(tables["sensitivity"]), "inputs")
    content += folded("Odds and reserves", table(("", ""), odds, right=(1,)))
    rows = [
        (str(one.rank), prose(one.meaning), number(one.value, one.unit, digits=3),
         f"{number(one.low, one.unit, digits=3)} to {number(one.high, one.unit, digits=3)}",
         percent(one.mass_share), percent(one.verdict_share),
         f"{figure(one.optimum_mass_low, 3)} / {figure(one.optimum_mass_high, 3)}".replace(
             "-", "−"))
        for one in tables["sensitivity"].itertuples()
    ]  # fmt: skip
    head = ("", "input", "value", "range", "of the doubt in mass", "of that in the verdict",
            "optimum at low / high [kg]")  # fmt: skip
    content += folded("All inputs with a range", table(head, rows, right=(0, 2, 4, 5, 6)))
    return section("sensitivity", "How sure it is, and what to measure first", content)


def _plan(plan: pd.DataFrame) -> str:
    rows = [
        (str(place), prose(one.meaning),
         f"{number(one.low, one.unit, digits=3)} to {number(one.high, one.unit, digits=3)}",
         prose(one.measure), prose(one.specimen),
         one.standards.replace(FROM_MEMORY, ""), _accuracy(one),
         f"{one.specimens:.0f}" if one.specimens else DASH,
         f"{figure(one.mass_worth, 2)} kg")
        for place, one in enumerate(plan.itertuples(), 1)
    ]  # fmt: skip
    head = ("", "number", "known to", "measure", "on", "method", "to within", "specimens",
            "worth")  # fmt: skip
    return table(head, rows) + paragraph(f"Methods{FROM_MEMORY}.", kind="soft")


def _accuracy(one: Any) -> str:
    if one.relative:
        return f"± {percent(one.accuracy)}"
    return f"± {number(one.accuracy, one.unit, digits=2, difference=True)}"


def _failures(tables: Tables) -> str:
    content = paragraph(FAILURES, kind="definition") + _plain_rows(tables["failures"])
    return section("failures", "Failure states", content)


def _plain_rows(frame: pd.DataFrame) -> str:
    """Table of a frame of words and numbers that bring their unit along."""
    rows: Iterable[tuple[str, ...]] = (
        tuple(prose(str(cell)) for cell in line) for line in frame.itertuples(index=False)
    )
    return table([str(name).replace("_", " ") for name in frame.columns], rows, kind="lead")
