"""Part 2 of the report: what drives the design, what requirements cost, where the mass goes."""

from __future__ import annotations

import math

import pandas as pd

from mdo.defend.tables.benefit import benefit_sentences
from mdo.defend.tables.design import life_stress_price
from mdo.defend.tables.legs import driving_point
from mdo.defend.verdict import INFEASIBLE
from mdo.report.figures import defence as defended_figures
from mdo.report.figures import design as figures
from mdo.report.figures.style import AT_LIMIT
from mdo.report.pages.parts import Facts, Source, drawn
from mdo.report.words.printed import number, pretty, prose, step_words, two
from mdo.report.words.summary_defence import fixed_choices, shown_choices
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
        "worst": source.shown("compliance", worst),
    }


def costs(source: Source) -> Facts | None:
    """What each requirement, load and technology value costs in mass, and where that holds."""
    if not source.has("costs"):
        return _multipliers(source)
    table = source.table("costs")
    free = (table["tightening"] == 0.0) & (table["relaxing"] == 0.0)
    ranged = table[table["range_low"].notna()]
    ends = [  # both ends of the range of each cost and what changes there, one line each
        ranged[["name", "title", "unit"]].assign(value=ranged[end], text=ranged[f"{end}_end"])
        for end in ("range_low", "range_high")
    ]
    finite = table[table["tightening"].map(math.isfinite)]
    return {
        "active": None,
        "dearest": finite.iloc[0] if len(finite) else None,
        "stuck": list(table.loc[table["tightening"].map(math.isinf), "title"]),
        "plot": drawn(defended_figures.costs_figure(table), "costs", _costs_alternative(finite)),
        "costs": source.shown("costs"),
        "ranges": len(ranged) > 0,
        "free": list(table.loc[free, "title"]),
        "ends": source.shown("range_ends", pd.concat(ends).sort_index(kind="stable")),
    }


def _multipliers(source: Source) -> Facts | None:
    """What the requirements at their limit cost, by the multipliers of the optimum."""
    optimum = source.appraisal.continuous.optimum
    if optimum is None or not optimum.feasible:
        return None
    rest = int((source.table("active")["multiplier"] <= 0.0).sum())
    price = life_stress_price(source.appraisal)
    return {"active": source.shown("active"), "rest": rest, "life_price": price}


def _costs_alternative(finite: pd.DataFrame) -> str:
    if not len(finite):
        return "Bar chart."
    first = finite.iloc[0]
    step = pretty(step_words(first["per"]))
    return f"Bar chart. Dearest: {first['title']}, {figure(first['tightening'], 2)} kg per {step}."


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
    return {"said": said, "plot": drawn(figures.mass_figure(masses), "mass", alternative)}


def losses(source: Source) -> Facts:
    """Loss waterfall: from the alloy that the work alone needs to the mass of the system."""
    steps = source.table("waterfall")
    ideal, real = float(steps["after"].iloc[0]), float(steps["after"].iloc[-1])
    dearest = steps.loc[steps["loss"][1:].idxmax()]
    said = (
        f"From {number(ideal, 'kg', digits=2)} of alloy that the work alone would need to "
        f"{number(real, 'kg')} of system. Largest step: {dearest['step']}, "
        f"{figure(float(dearest['loss']), 3)} kg."
    ) + _unmet(source)
    plot = defended_figures.waterfall_figure(steps)
    return {"said": said, "plot": drawn(plot, "waterfall", f"Waterfall. {said}")}


def _unmet(source: Source) -> str:
    """Sentence that marks the numbers of an infeasible design, nothing for another."""
    if source.table("verdict")["text"].iloc[0] != INFEASIBLE:
        return ""
    return " All of it of a design that does not meet its requirements."


SKIPPED = "return time"  # is no figure of the comparison, its rival takes what is asked for


def versus(source: Source) -> Facts:
    """Comparison with the conventional hinges as intervals, and what would turn it."""
    table = source.table("versus")
    lead, *more = source.said("versus_words") or [""]
    turned = source.has("break_even")
    plots = []
    for place, (measure, lines) in enumerate(table.groupby("measure", sort=False)):
        said = "; ".join(
            f"{line.concept} {line.basis}: {two(line.value, line.unit)}, "
            f"{two(line.low, line.unit)} to {two(line.high, line.unit)}"
            for line in lines.itertuples()
        )
        if measure != SKIPPED:
            plot = defended_figures.versus_figure(table, str(measure))
            plots.append(drawn(plot, f"versus-{place}", f"Intervals of {measure}: {said}"))
    return {
        "lead": lead, "more": more, "plots": plots,
        "turned": len(source.table("break_even")) if turned else None,
        "turned_words": source.said("break_even_words"),
    }  # fmt: skip


def benefit(source: Source) -> Facts | None:
    """What folding gives over the fold angle, with its error, beside the mass; no wing, no such."""
    table = source.tables.get("benefit", pd.DataFrame())
    if table.empty or source.appraisal.study.bench:
        return None
    flown = table[table["mach"].notna()]
    said = [prose(pretty(text)) for text in benefit_sentences(table, source.appraisal.mass)]
    plots = [
        {"title": title, "plot": drawn(defended_figures.benefit_figure(flown, name),
                                       f"benefit-{name}",
                                       f"{title} over the fold angle. {' '.join(said)}")}
        for name, (title, *_) in defended_figures.CURVES.items() if len(flown)
    ]  # fmt: skip
    return {"said": said, "plots": plots, "flown": source.shown("benefit", flown)}


def choices(source: Source) -> Facts:
    """Every combination of the discrete choices as a table that can be sorted."""
    table = source.table("choices")
    fine = int(table["status"].eq("feasible").sum())
    return {"fine": fine, "total": len(table), "fixed": fixed_choices(table),
            "choices": shown_choices(table)}  # fmt: skip
