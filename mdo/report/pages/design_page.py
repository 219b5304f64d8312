"""The page of one design: one file with style, figures and everything else in it, no network.

Five parts in the order of a reader: the verdict and the design, why, how it works, how sure, and
everything else behind. A section is a function of a source and the template of its name.
"""

from __future__ import annotations

from collections.abc import Callable

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


# What the template of a section prints, by the anchor of the section.
FACTS: dict[str, Callable[[Source], Facts | None]] = {
    name.replace("_", "-"): function
    for module in (verdict_part, drivers_part, behaviour_part, confidence_part, inputs_part)
    for name, function in vars(module).items()
    if getattr(function, "__module__", "") == module.__name__
}
PARTS = toml_beside(__file__)["part"]  # see the head of that file


def render_report(source: Source) -> str:
    """Return the report of a result as one self-contained page."""
    parts = []
    for plan in PARTS:
        sections = [section(source, **known) for known in plan["section"]]
        there = [made for made in sections if made is not None]
        parts.append(Part(plan["anchor"], plan["title"], plan["question"], there))
    page = render("parts.html", **source.head.shown(), parts=parts, not_printed=NOT_PRINTED)
    return bench_page(source.appraisal.study.content, page)


def section(
    source: Source, anchor: str, link: str, title: str = "", needs: str = "", summary: str = ""
) -> Section | None:
    """Return a section of the page, by the template of its name; None where there is none."""
    known = FACTS.get(anchor, lambda _: {})
    facts = None if needs and not source.has(needs) else known(source)
    if facts is None:
        return None
    content = render(f"design/{anchor}.html", shown=source.shown, **facts)
    return Section(anchor, link, title or link, content, summary)
