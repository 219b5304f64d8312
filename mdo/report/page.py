"""The page: one file with style, figures and everything else in it, no network needed."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pandas as pd
from plotly.offline import get_plotlyjs

from mdo.explore.appraisal import Appraisal
from mdo.report import basis, defended, results
from mdo.report.html import escaped, paragraph

STYLE = Path(__file__).with_name("report.css")
CAVEAT = (
    "Concept study, not certification evidence. Every number is computed, nothing was measured."
)


def render_report(appraisal: Appraisal, tables: Mapping[str, pd.DataFrame]) -> str:
    """Return the report of a result as one self-contained page.

    Parameters
    ----------
    appraisal : the design with everything computed about it
    tables : of :func:`mdo.explore.tables.result_tables`
    """
    study = appraisal.study
    title = escaped(study.title or study.name)
    parts_of = [
        ("verdict", "Verdict and design", results.verdict_section(appraisal, tables)),
        *defended.defended_sections(tables),
        ("torque", "Torque", results.torque_section(appraisal, tables)),
        ("mass", "Mass", results.mass_section(tables)),
        ("margins", "Margins", results.margins_section(appraisal, tables)),
        ("times", "Times and power", results.times_section(tables)),
        ("limits", "Limits and window", basis.limits_section(tables)),
        ("cautions", "Cautions", basis.cautions_section(tables)),
        ("alloy", "Alloy card", basis.alloy_section(appraisal, tables)),
        ("inputs", "Inputs", basis.inputs_section(tables)),
        ("validation", "Validation", basis.validation_section(tables)),
        ("reproduce", "Reproduce", basis.reproduce_section(appraisal, tables)),
    ]
    links = "".join(f'<a href="#{anchor}">{escaped(words)}</a>\n' for anchor, words, _ in parts_of)
    parts = (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n',
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n',
        f"<title>{title}</title>\n<style>\n{STYLE.read_text(encoding='utf-8')}</style>\n",
        f"<script>{get_plotlyjs()}</script>\n</head>\n<body>\n<header>\n<h1>{title}</h1>\n",
        paragraph(f"{study.name}, {appraisal.kind}. Vehicle: {study.vehicle.name}.", kind="soft"),
        paragraph(study.description) if study.description else "",
        f"<nav>\n{links}</nav>\n</header>\n<main>\n",
        *(content for _, _, content in parts_of),
        f"</main>\n<footer>{escaped(CAVEAT)}</footer>\n</body>\n</html>\n",
    )
    return "".join(parts)
