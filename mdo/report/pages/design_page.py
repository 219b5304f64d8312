"""The page of one design: one file with style, figures and everything else in it, no network.

Five parts in the order of a reader: the verdict and the design, why, how it works, how sure, and
everything else behind. A section is a function of a source and the template of its name.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from markupsafe import Markup

from mdo.report.pages import behaviour_part as behaviour
from mdo.report.pages import confidence_part as confidence
from mdo.report.pages import drivers_part, inputs_part, verdict_part
from mdo.report.pages.parts import Facts, Part, Section, Source
from mdo.report.templates import render
from mdo.report.words.bench import bench_page

NOT_PRINTED = (
    "Not printed, unless unfolded before: the inputs (inputs.csv) and the alloy card (alloy.csv), "
    "in the folder of this page."
)


# Sections that are folded, each behind what is in it.
SUMMARIES = {
    "conflicts": "Each change that was tried",
    "rounding": "From the bound to whole tubes and stock, step by step",
    "mass": "Every line of the mass, with its growth",
    "losses": "From an ideal tube to the whole, step by step",
    "versus": "Mass, energy, power and time beside a geared electric hinge",
    "benefit": "Span and area, folded and not",
    "choices": "Every combination, with its mass or why it has none",
    "front": "The wing at any angle, with the moments of each leg",
    "torque": "Moments of each leg over the fold angle",
    "heat": "Temperatures and energies of one fold and its return",
    "times": "Times of each leg, and who draws what power",
    "other-set": "Moment and time by the state of the set that does not drive",
    "window": "Stress and temperature of both sets among the phases of the alloy",
    "life": "Share of the life that each case uses",
    "corrections": "The steps, and what each cost",
    "discrepancy": "Each requirement at the levels beside its own",
    "limits": "Share used of each bound that no design can pass",
    "failures": "What each failure does, and whether the design holds",
    "validation": "What each model was checked against",
    "not-modelled": "What the numbers leave out",
    "order-sheet": "The sheet; as a file of its own: order_sheet.md beside this page",
    "compliance": "Every requirement of every case",
    "inputs": "Every input, with its unit and where it comes from",
    "alloy": "Every value of the card",
    "reproduce": "Starts, design variables, study file, versions",
}


class SectionPlan(NamedTuple):
    """Section of the page: id and name of its template, link, title, what it prints, its table."""

    anchor: str
    link: str
    title: str
    facts: Callable[[Source], Facts | None] = lambda _: {}
    needs: str = ""


class PartPlan(NamedTuple):
    """Part of the page: id, title, the question that it answers, its sections."""

    anchor: str
    title: str
    question: str
    sections: tuple[SectionPlan, ...]


PARTS = (
    PartPlan("part-design", "Verdict and design", "Does it work, and what is it?", (
        SectionPlan("verdict", "Verdict", "Verdict", verdict_part.verdict),
        SectionPlan("design", "Design to scale", "The design, one wing", verdict_part.design),
        SectionPlan("conflicts", "Conflicts", "How the conflicts were found",
                    needs="conflicts"),
        SectionPlan("rounding", "Whole tubes", "Whole tubes and stock sizes: what they cost",
                    verdict_part.rounding, "rounding"),
    )),
    PartPlan("part-why", "Why", "What drives it, and what does each requirement cost?", (
        SectionPlan("drivers", "Margins", "What drives it: margins of all requirements",
                    drivers_part.drivers),
        SectionPlan("costs", "Costs", "What each requirement costs", drivers_part.costs),
        SectionPlan("mass", "Mass", "Mass breakdown with growth", drivers_part.mass),
        SectionPlan("losses", "Losses", "Where the mass is lost", drivers_part.losses),
        SectionPlan("versus", "Comparison", "Against a conventional hinge", drivers_part.versus,
                    "versus"),
        SectionPlan("benefit", "Benefit", "What folding gives", drivers_part.benefit),
        SectionPlan("choices", "Choices", "Study of choices", drivers_part.choices, "choices"),
    )),
    PartPlan("part-how", "How it works", "Torque, heat, time.", (
        SectionPlan("front", "Folding wing", "The wing as it folds", behaviour.front),
        SectionPlan("torque", "Torque", "Torque: required and available over the fold angle",
                    behaviour.torque),
        SectionPlan("heat", "Heat", "Heat: one fold and its return", behaviour.heat),
        SectionPlan("times", "Time and power", "Time and power", behaviour.times),
        SectionPlan("other-set", "Other set", "State of the other set", behaviour.other_set),
        SectionPlan("window", "Alloy window", "Alloy: torque, stress and temperature",
                    behaviour.alloy_window),
        SectionPlan("life", "Life", "Life use of each case", behaviour.life),
    )),
    PartPlan("part-sure", "How sure", "What may be wrong, and what to measure first.", (
        SectionPlan("sensitivity", "Measure first", "Uncertain inputs, and what to measure first",
                    confidence.sensitivity, "sensitivity"),
        SectionPlan("corrections", "Corrections", "Corrected to dearer levels",
                    confidence.corrections, "corrections"),
        SectionPlan("cautions", "Cautions", "Cautions", confidence.cautions),
        SectionPlan("discrepancy", "Levels", "Levels of fidelity: what the neighbours say",
                    confidence.discrepancy, "discrepancy"),
        SectionPlan("limits", "Physical limits", "Distance to physical limits"),
        SectionPlan("failures", "Failures", "When something fails", confidence.failures),
        SectionPlan("validation", "Validation", "Validation", confidence.validation),
        SectionPlan("not-modelled", "Not modelled", "What is not modelled",
                    confidence.not_modelled),
    )),
    PartPlan("part-behind", "Everything else", "Every line, every input, how to reproduce it.", (
        SectionPlan("order-sheet", "Order sheet", "Order sheet for the tubes",
                    inputs_part.order_sheet),
        SectionPlan("compliance", "Compliance", "Compliance", inputs_part.compliance),
        SectionPlan("inputs", "Inputs", "Inputs", inputs_part.inputs),
        SectionPlan("alloy", "Alloy card", "Alloy card", inputs_part.alloy),
        SectionPlan("reproduce", "Reproduce", "How to reproduce", inputs_part.reproduce),
    )),
)  # fmt: skip


def render_report(source: Source) -> str:
    """Return the report of a result as one self-contained page."""
    parts = []
    for part in PARTS:
        made = ((plan, section_content(plan, source)) for plan in part.sections)
        sections = [
            Section(plan.anchor, plan.link, plan.title, content, SUMMARIES.get(plan.anchor, ""))
            for plan, content in made
            if content is not None
        ]
        parts.append(Part(part.anchor, part.title, part.question, sections))
    page = render("parts.html", **source.head.shown(), parts=parts, not_printed=NOT_PRINTED)
    return bench_page(source.appraisal.study.content, page)


def section_content(plan: SectionPlan, source: Source) -> Markup | None:
    """Return what a section says, by the template of its name; None where there is none."""
    facts = None if plan.needs and not source.has(plan.needs) else plan.facts(source)
    if facts is None:
        return None
    return render(f"design/{plan.anchor}.html", shown=source.shown, **facts)
