"""Part 4 of the report: how sure it is."""

from __future__ import annotations

from mdo.defend.cautions.base import STOP
from mdo.defend.discrepancy import largest
from mdo.defend.validation import validation as known_validation
from mdo.report.figures import defence as figures
from mdo.report.figures.defence import corrections_figure
from mdo.report.pages.parts import Facts, Source, drawn
from mdo.report.words.bench import bench_words
from mdo.report.words.cells import FROM_MEMORY
from mdo.report.words.printed import corrections_words, number, prose

MOST_INPUTS = 40
MOST_LINES = 12  # of a design that was not optimised: no line has a mass
LEAST_CHANGE = 1e-3  # [kg] lighter lines are folded away


def sensitivity(source: Source) -> Facts:
    """What the doubt rests on, and which numbers to measure first."""
    inputs, odds = source.table("sensitivity"), source.table("sensitivity_odds")
    plan = source.table("test_plan")
    text = (
        "Bar chart of what each uncertain input does to the mass. First to measure: "
        f"{inputs['meaning'].iloc[0]}."
    )
    return {
        "met": float(odds.set_index("name").loc["probability_met", "value"]),
        "plan": source.shown("test_plan", plan.assign(rank=range(1, len(plan) + 1))),
        "from_memory": FROM_MEMORY,
        "plot": drawn(figures.inputs_figure(inputs), "inputs", text),
        "inputs": source.shown("sensitivity", inputs[:MOST_INPUTS]),
    }


def corrections(source: Source) -> Facts:
    """How the optimum was found for dearer levels than those optimised with."""
    steps = source.table("corrections")
    words = corrections_words(steps)
    text = f"Mass, violation and KKT residual over evaluations of the high-fidelity model. {words}"
    return {
        "fidelity": str(source.appraisal.study.fidelity),
        "words": words,
        "plot": drawn(corrections_figure(steps), "corrections", text),
    }


def cautions(source: Source) -> Facts:
    """Cautions: those that stop first."""
    return {"stops": int(source.table("cautions")["severity"].eq(STOP).sum())}


def discrepancy(source: Source) -> Facts | None:
    """What the neighbouring levels say, and the legs along the path of their tubes."""
    lines = source.table("discrepancy")
    if lines.empty:
        return None
    found = source.appraisal.verification
    heavy = lines[lines["mass_change"].abs() > LEAST_CHANGE]
    return {
        "largest": prose(largest(lines)),
        "levels": str(source.appraisal.study.fidelity),
        "masses": () if found is None else [number(mass, "kg") for mass in found.masses],
        "kept_back": found is not None and found.kept_back,
        "verified": not source.table("verification").empty,
        "lines": heavy if len(heavy) else lines[:MOST_LINES],
        "all": lines,
    }


def failures(source: Source) -> Facts:
    """What one failure does."""
    broken = source.table("failures").query("holds == 'no' and standing == 'required'")
    return {"broken": list(dict.fromkeys(broken["failure"]))}


def validation(source: Source) -> Facts:
    """What each model was checked against."""
    return {"unchecked": int((source.table("validation")["test"] == "").sum())}


def not_modelled(source: Source) -> Facts:
    """What the numbers leave out."""
    content = source.appraisal.study.content
    items = bench_words(content, known_validation().not_modelled)
    return {"items": [prose(text) for text in items if text]}
