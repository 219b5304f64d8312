"""The page: one file with style, figures and everything else in it, no network needed.

Five parts in the order of a reader: the verdict and the design, why, how it works, how sure, and
everything else behind.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import pandas as pd
from plotly.offline import get_plotlyjs

from mdo.optimise.appraisal import Appraisal
from mdo.report.pages import alternatives_part as versus
from mdo.report.pages import behaviour_part as how
from mdo.report.pages import confidence_part as doubt
from mdo.report.pages import design_part as design
from mdo.report.pages import drivers_part as why
from mdo.report.pages import inputs_part
from mdo.report.pages import verdict_part as first
from mdo.report.pages.order_sheet import order_sheet_section
from mdo.report.templates import template_text
from mdo.report.templates.pieces import escaped, paragraph
from mdo.results.manifest import tool_versions

STYLE = "report.css"
SCRIPT = "report.js"
CAVEAT = (
    "Concept study, not certification evidence. Every number is computed, nothing was measured."
)
FOLDED = (
    " Not printed, unless unfolded before: the inputs (inputs.csv) and the alloy card (alloy.csv), "
    "in the folder of this page."
)
Tables = Mapping[str, pd.DataFrame]
Section = tuple[str, str, str]


class Part(NamedTuple):
    """A part of the page: id, title, what it answers, its sections (id, link, content)."""

    anchor: str
    title: str
    question: str
    sections: Sequence[Section]


def render_report(
    appraisal: Appraisal, tables: Tables, *, versions: Mapping[str, str] | None = None
) -> str:
    """Return the report of a result as one self-contained page.

    Parameters
    ----------
    appraisal : the design with everything computed about it
    tables : of :func:`mdo.defend.tables.design.result_tables`
    versions : of the tool and its libraries in the run; those of this process if left out
    """
    study = appraisal.study
    title = escaped(study.title or study.name)
    parts = _parts(appraisal, tables, tool_versions() if versions is None else versions)
    about = f"{study.name}, analysis '{appraisal.kind}'. Vehicle: {study.vehicle.name}."
    text = (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n',
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n',
        f"<title>{title}</title>\n<style>\n{template_text(STYLE)}</style>\n",
        f"<script>{get_plotlyjs()}</script>\n</head>\n<body>\n",
        '<a class="skip" href="#content">To the content</a>\n',
        _navigation(parts),
        '<div class="page">\n<header>\n',
        f"<h1>{title}</h1>\n{paragraph(about, kind='soft')}",
        paragraph(study.description) if study.description else "",
        '</header>\n<main id="content" tabindex="-1">\n',
        *(_part(place, part) for place, part in enumerate(parts, 1)),
        f"</main>\n<footer>{escaped(CAVEAT)}",
        f'<span class="paper-only">{escaped(FOLDED)}</span></footer>\n</div>\n',
        f"<script>\n{template_text(SCRIPT)}</script>\n</body>\n</html>\n",
    )
    return "".join(text)


def _navigation(parts: Sequence[Part]) -> str:
    """Five links with those of their sections."""
    items = ""
    for place, part in enumerate(parts, 1):
        links = "".join(
            f'<li><a href="#{anchor}">{escaped(words)}</a></li>\n'
            for anchor, words, _ in part.sections
        )
        head = f'<a href="#{part.anchor}"><b>{place}</b> {escaped(part.title)}</a>'
        items += f"<li>{head}\n<ul>\n{links}</ul></li>\n"
    return f'<nav aria-label="Parts of the report">\n<ol>\n{items}</ol>\n</nav>\n'


def _part(place: int, part: Part) -> str:
    """One part with its sections."""
    return (
        f'<section class="part" id="{part.anchor}" aria-labelledby="{part.anchor}-head">\n'
        f'<h2 id="{part.anchor}-head"><b>{place}</b> {escaped(part.title)}'
        f"<small>{escaped(part.question)}</small></h2>\n"
        f"{''.join(content for _, _, content in part.sections)}</section>\n"
    )


def _parts(appraisal: Appraisal, tables: Tables, versions: Mapping[str, str]) -> list[Part]:
    return [
        Part("part-design", "Verdict and design", "Does it work, and what is it?",
             _design(appraisal, tables)),
        Part("part-why", "Why", "What drives it, and what does each requirement cost?",
             _why(appraisal, tables)),
        Part("part-how", "How it works", "Torque, heat, time.", _how(appraisal, tables)),
        Part("part-sure", "How sure", "What may be wrong, and what to measure first.",
             _sure(tables)),
        Part("part-behind", "Everything else", "Every line, every input, how to reproduce it.",
             _behind(appraisal, tables, versions)),
    ]  # fmt: skip


def _design(appraisal: Appraisal, tables: Tables) -> list[Section]:
    found = [
        ("verdict", "Verdict", first.verdict_section(appraisal, tables)),
        ("design", "Design to scale", design.design_section(appraisal, tables)),
    ]
    if "conflicts" in tables:
        found.append(("conflicts", "Conflicts", first.conflicts_section(tables)))
    if "rounding" in tables:
        found.append(("rounding", "As bought", design.rounding_section(tables)))
    return found


def _why(appraisal: Appraisal, tables: Tables) -> list[Section]:
    found = [("drivers", "Margins", why.drivers_section(appraisal, tables))]
    if "costs" in tables:
        found.append(("costs", "Costs", why.costs_section(tables)))
    elif appraisal.optimum is not None and appraisal.optimum.feasible:
        found.append(("costs", "Costs", why.active_section(tables)))
    found.append(("mass", "Mass", why.mass_section(tables)))
    found.append(("losses", "Losses", why.losses_section(tables)))
    if "versus" in tables:
        found.append(("versus", "Comparison", versus.versus_section(tables)))
    if "choices" in tables:
        found.append(("choices", "Choices", versus.choices_section(tables)))
    return found


def _how(appraisal: Appraisal, tables: Tables) -> list[Section]:
    return [
        ("front", "Folding wing", how.front_section(appraisal)),
        ("torque", "Torque", how.torque_section(appraisal, tables)),
        ("heat", "Heat", how.heat_section(appraisal, tables)),
        ("times", "Time and power", how.times_section(tables)),
        ("window", "Alloy window", how.alloy_window_section(appraisal, tables)),
        ("life", "Life", how.life_section(tables)),
    ]


def _sure(tables: Tables) -> list[Section]:
    found = []
    if "sensitivity" in tables:
        found.append(("sensitivity", "Measure first", doubt.sensitivity_section(tables)))
    return [
        *found,
        ("cautions", "Cautions", doubt.cautions_section(tables)),
        ("limits", "Physical limits", doubt.limits_section(tables)),
        ("failures", "Failures", doubt.failures_section(tables)),
        ("validation", "Validation", doubt.validation_section(tables)),
        ("not-modelled", "Not modelled", doubt.not_modelled_section()),
    ]


def _behind(appraisal: Appraisal, tables: Tables, versions: Mapping[str, str]) -> list[Section]:
    sheet = order_sheet_section(tables)
    found = [("order-sheet", "Order sheet", sheet)] if sheet else []
    return [
        *found,
        ("compliance", "Compliance", inputs_part.compliance_section(tables)),
        ("inputs", "Inputs", inputs_part.inputs_section(tables)),
        ("alloy", "Alloy card", inputs_part.alloy_section(appraisal, tables)),
        ("reproduce", "Reproduce", inputs_part.reproduce_section(appraisal, tables, versions)),
    ]
