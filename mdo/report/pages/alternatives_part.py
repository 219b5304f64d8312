"""Part 2 of the report, continued: against a conventional hinge, and against other choices."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pandas as pd

from mdo.report.figures import defence as figures
from mdo.report.pages.verdict_part import value_text
from mdo.report.templates.pieces import (
    DASH,
    Cell,
    bullets,
    definition,
    drawn,
    escaped,
    folded,
    number,
    paragraph,
    picture,
    prose,
    section,
    table,
    two,
)
from mdo.report.words import definitions
from mdo.study.number_text import figure, percent

Tables = Mapping[str, pd.DataFrame]
SKIPPED = "return time"  # is no figure of the comparison, its rival takes what is asked for


def versus_section(tables: Tables) -> str:
    """Comparison with the conventional hinges as intervals, and what would turn it."""
    versus = tables["versus"]
    words = [prose(text) for text in tables["versus_words"]["text"]]
    content = f"<p><strong>{escaped(words[0])}</strong></p>\n" if words else ""
    plots = "".join(
        f"<div>{_plot(versus, measure, place)}</div>\n"
        for place, measure in enumerate(dict.fromkeys(versus["measure"]))
        if measure != SKIPPED
    )
    content += picture(
        f'<div class="pairs">\n{plots}</div>\n', definitions.VERSUS_READ,
        behind=_versus_rows(versus), more="Comparison as a table",
    )  # fmt: skip
    content += folded(f"What the comparison says in {len(words) - 1} more sentences",
                      bullets(words[1:])) if words[1:] else ""  # fmt: skip
    content += folded("Lines of the geared hinge", _geared_rows(tables["geared"]))
    rules = [
        (one.rule, "kept" if one.kept else "not quite", prose(one.text))
        for one in tables["versus_rules"].itertuples()
    ]
    listed = table(("rule", "kept", "how"), rules, kind="lead")
    content += folded("Rules that keep the comparison fair", listed)
    states = tables["versus_failures"]
    fails = [tuple(prose(str(cell)) for cell in line) for line in states.itertuples(index=False)]
    content += folded("When something fails", table(tuple(states.columns), fails, kind="lead"))
    content += definition(definitions.VERSUS, title="How the intervals are made")
    if "break_even" in tables:
        content += "<h4>Break-even: what would turn it</h4>\n" + _break_even(tables)
    return section("versus", "Against a conventional hinge", content)


def _plot(versus: pd.DataFrame, measure: str, place: int) -> str:
    said = "; ".join(
        f"{one.concept} {one.basis}: {two(one.value, one.unit)}, "
        f"{two(one.low, one.unit)} to {two(one.high, one.unit)}"
        for one in versus[versus["measure"] == measure].itertuples()
    )
    plot = figures.versus_figure(versus, measure)
    return drawn(plot, f"versus-{place}", f"Intervals of {measure}: {said}")


def _versus_rows(versus: pd.DataFrame) -> str:
    rows = [
        (one.measure, one.concept, one.basis, two(one.value, one.unit),
         f"{two(one.low, one.unit)} to {two(one.high, one.unit)}",
         DASH if math.isnan(one.ratio)
         else f"{two(one.ratio, '1')} ({two(one.ratio_low, '1')} to {two(one.ratio_high, '1')})",
         one.standing, prose(one.note))
        for one in versus.itertuples()
    ]  # fmt: skip
    head = ("measure", "concept", "basis", "value", "5 to 95 %", "SMA over it", "SMA is", "note")
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
        (one.title, value_text(one.now, one.unit, one.knob),
         value_text(one.value, one.unit, one.knob),
         number(one.closest_mass, "kg"))
        for one in turns.itertuples()
    ]  # fmt: skip
    if rows:
        head = ("turn this alone", "from", "to", "mass of both")
        content = paragraph("Each alone makes both hinges equally heavy:")
        content += table(head, rows, right=(1, 2, 3))
    else:
        content = paragraph(
            f"None of the {len(found)} numbers turned, each within its range, makes both equally "
            "heavy."
        )
    return content + folded("Every number that was turned", bullets(map(prose, words)))


def choices_section(tables: Tables) -> str:
    """Every combination of the discrete choices as a table that can be sorted."""
    found = tables["choices"]
    first = list(found.columns).index("status")
    varied = [name for name in found.columns[1:first] if len(set(found[name])) > 1]
    rows: list[list[str | Cell]] = []
    marks = []
    for one in found.to_dict("records"):
        fine = one["status"] == "feasible"
        why = one["limits"] if fine else one["requirement"] or one["notes"]
        over = "" if not fine or one["over_best"] == 0.0 else f"+{percent(one['over_best'])}"
        rows.append(
            [Cell(str(one["place"]), float(one["place"])),
             *(_choice(name, one[name]) for name in varied),
             Cell(number(one["system_mass"], "kg") if fine else DASH,
                  float(one["system_mass"]) if fine else math.inf),
             Cell(over, float(one["over_best"]) if fine else math.inf), str(one["status"]),
             prose(str(why))]
        )  # fmt: skip
        marks.append("" if fine else "dim")
    fixed = [
        f"{name.replace('_', ' ')} {found[name].iloc[0]}"
        for name in found.columns[1:first]
        if name not in varied and found[name].iloc[0] != ""
    ]
    fine_count = int(found["status"].eq("feasible").sum())
    names = (name.replace("_", " ") for name in varied)
    head = ("rank", *names, "mass", "over the best", "status", "limited by, or killed by")
    right = (0, len(varied) + 1, len(varied) + 2)
    said = (
        f"{fine_count} of {len(found)} combinations of the discrete choices have a design. Each "
        "was optimised again. Sort by any column with the button in its head."
    )
    content = paragraph(said)
    content += paragraph(f"The same in all: {', '.join(fixed)}.", kind="soft") if fixed else ""
    content += table(head, rows, right=right, marks=marks, kind="tight", sortable=True)
    return section("choices", "Study of choices", content)


def _choice(name: str, value: object) -> str:
    """Value of a choice as it is printed; the name of an alloy card stays as it is."""
    text = str(value)
    return text if name == "alloy" else text.replace("_", " ")
