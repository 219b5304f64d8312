"""The page of one design: one file with style, figures and everything else in it, no network.

Five parts in the order of a reader: the verdict and the design, why, how it works, how sure, and
everything else behind. A section is a function of a source and the template of its name.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from markupsafe import Markup

from mdo.data_files import toml_beside
from mdo.report.pages import (
    behaviour_part,
    confidence_part,
    drivers_part,
    inputs_part,
    verdict_part,
)
from mdo.report.pages.parts import Facts, Part, Section, Source
from mdo.report.templates import render
from mdo.report.words.bench import bench_page

NOT_PRINTED = (
    "Not printed, unless unfolded before: the inputs (inputs.csv) and the alloy card (alloy.csv), "
    "in the folder of this page."
)


class SectionPlan(NamedTuple):
    """Section of the page: see the head of ``design_page.toml``."""

    anchor: str
    link: str
    title: str = ""
    needs: str = ""
    summary: str = ""


class PartPlan(NamedTuple):
    """Part of the page: id, title, the question that it answers, its sections."""

    anchor: str
    title: str
    question: str
    section: tuple[SectionPlan, ...]


# What the template of a section prints, by the anchor of the section.
FACTS: dict[str, Callable[[Source], Facts | None]] = {
    name.replace("_", "-"): function
    for module in (verdict_part, drivers_part, behaviour_part, confidence_part, inputs_part)
    for name, function in vars(module).items()
    if getattr(function, "__module__", "") == module.__name__
}
PARTS = tuple(
    PartPlan(**{**part, "section": tuple(SectionPlan(**plan) for plan in part["section"])})
    for part in toml_beside(__file__)["part"]
)


def render_report(source: Source) -> str:
    """Return the report of a result as one self-contained page."""
    parts = []
    for part in PARTS:
        made = ((plan, section_content(plan, source)) for plan in part.section)
        sections = [
            Section(plan.anchor, plan.link, plan.title or plan.link, content, plan.summary)
            for plan, content in made
            if content is not None
        ]
        parts.append(Part(part.anchor, part.title, part.question, sections))
    page = render("parts.html", **source.head.shown(), parts=parts, not_printed=NOT_PRINTED)
    return bench_page(source.appraisal.study.content, page)


def section_content(plan: SectionPlan, source: Source) -> Markup | None:
    """Return what a section says, by the template of its name; None where there is none."""
    known = FACTS.get(plan.anchor, lambda _: {})
    facts = None if plan.needs and not source.has(plan.needs) else known(source)
    if facts is None:
        return None
    return render(f"design/{plan.anchor}.html", shown=source.shown, **facts)
