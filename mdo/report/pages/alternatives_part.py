"""Part 2 of the report, continued: against a conventional hinge, and against other choices."""

from __future__ import annotations

import pandas as pd

from mdo.defend.tables.benefit import benefit_sentences
from mdo.report.figures import defence as figures
from mdo.report.figures.benefit import CURVES, benefit_figure
from mdo.report.pages.parts import Drawn, drawn
from mdo.report.pages.source import Facts, Source
from mdo.report.words.printed import pretty, prose, two
from mdo.report.words.summary_defence import fixed_choices, shown_choices

SKIPPED = "return time"  # is no figure of the comparison, its rival takes what is asked for


def versus(source: Source) -> Facts:
    """Comparison with the conventional hinges as intervals, and what would turn it."""
    table = source.table("versus")
    lead, *more = [prose(text) for text in source.table("versus_words")["text"]] or [""]
    turned = source.has("break_even")
    return {
        "lead": lead,
        "more": more,
        "plots": [
            _interval_plot(table, measure, place)
            for place, measure in enumerate(dict.fromkeys(table["measure"]))
            if measure != SKIPPED
        ],
        "turned": len(source.table("break_even")) if turned else None,
        "turned_words": [prose(text) for text in source.table("break_even_words")["text"]]
        if turned
        else [],
    }


def _interval_plot(table: pd.DataFrame, measure: str, place: int) -> Drawn:
    said = "; ".join(
        f"{line.concept} {line.basis}: {two(line.value, line.unit)}, {two(line.low, line.unit)} to "
        f"{two(line.high, line.unit)}"
        for line in table[table["measure"] == measure].itertuples()
    )
    plot = figures.versus_figure(table, measure)
    return drawn(plot, f"versus-{place}", f"Intervals of {measure}: {said}")


def benefit(source: Source) -> Facts | None:
    """What folding gives over the fold angle, with its error, beside the mass of the system."""
    table = source.table("benefit") if source.has("benefit") else pd.DataFrame()
    if table.empty:
        return None
    flown = table[table["mach"].notna()]
    said = [prose(pretty(text)) for text in benefit_sentences(table, source.appraisal.mass)]
    return {
        "said": said,
        "plots": [
            {"title": title, "plot": drawn(benefit_figure(flown, name), f"benefit-{name}",
                                           f"{title} over the fold angle. {' '.join(said)}")}
            for name, (title, *_) in CURVES.items()
        ]
        if len(flown)
        else [],
        "flown": source.shown("benefit", flown),
    }  # fmt: skip


def choices(source: Source) -> Facts:
    """Every combination of the discrete choices as a table that can be sorted."""
    table = source.table("choices")
    return {
        "fine": int(table["status"].eq("feasible").sum()),
        "total": len(table),
        "fixed": fixed_choices(table),
        "choices": shown_choices(table),
    }
