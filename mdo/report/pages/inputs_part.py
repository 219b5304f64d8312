"""Part 5 of the report: every line, every input, and how to reproduce it."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping

import pandas as pd

from mdo.optimise.appraisal import Appraisal
from mdo.report.pages.basis import differences
from mdo.report.pages.drivers_part import compliance_rows
from mdo.report.templates.pieces import (
    escaped,
    folded,
    given_number,
    number,
    paragraph,
    section,
    table,
)

Tables = Mapping[str, pd.DataFrame]
FILTER = (
    '<p class="filter"><label for="inputs-filter">Show inputs that contain</label> '
    '<input type="search" id="inputs-filter" autocomplete="off" aria-controls="inputs-list"> '
    '<span id="inputs-count" role="status"></span></p>\n'
)


def compliance_section(tables: Tables) -> str:
    """Every requirement by leg, case and set."""
    compliance = tables["compliance"]
    required = compliance[compliance["standing"] == "required"]
    met = int(required["holds"].astype(bool).sum())
    text = f"{met} of {len(required)} required lines hold; the others are reported only."
    every = folded(f"All {len(compliance)} lines", compliance_rows(compliance))
    return section("compliance", "Compliance", paragraph(text) + every)


def inputs_section(tables: Tables) -> str:
    """Every resolved input by section of the study."""
    inputs = tables["inputs"]
    apart = differences()
    groups = inputs["path"].str.split(r"[.\[]", n=1, regex=True).str[0]
    counts = inputs["origin"].value_counts()
    total = ", ".join(f"{count} {origin}" for origin, count in counts.items())
    text = (
        f"{len(inputs)} inputs: {total}. Origin 'file': given in the study; 'default': from a "
        "source; 'judgement': no source, to be replaced where it matters."
    )
    listed = ""
    for group, part in inputs.groupby(groups, sort=False):
        rows, marks = [], []
        for line in part.itertuples():
            apart_kelvin = line.path.rpartition(".")[2] in apart
            shown = [
                given_number(value, line.unit or "1", difference=apart_kelvin)
                for value in (line.value, line.low, line.high)
            ]
            if math.isnan(line.value):
                shown = [line.words, "", ""]
            rows.append((line.path, *shown, line.origin, line.meaning, line.provenance))
            marks.append("judged" if line.origin == "judgement" else "")
        head = ("input", "value", "low", "high", "origin", "meaning", "default from")
        listed += folded(
            f"{group}: {len(part)} inputs", table(head, rows, right=(1, 2, 3), marks=marks)
        )
    content = paragraph(text) + FILTER + f'<div id="inputs-list">\n{listed}</div>\n'
    return section("inputs", "Inputs", content)


def alloy_section(appraisal: Appraisal, tables: Tables) -> str:
    """Alloy card with the fields that are only judged marked."""
    card = appraisal.problem.assembled.card
    alloy = tables["alloy"]
    rows = [
        (
            line.meaning or line.field,
            *(given_number(value, line.unit) for value in (line.value, line.low, line.high)),
            "judged" if line.judged else line.provenance,
            line.source,
        )
        for line in alloy.itertuples()
    ]
    marks = ["judged" if judged else "" for judged in alloy["judged"]]
    text = (
        f"{card.title} (card {card.name}). {int(alloy['judged'].sum())} of {len(alloy)} fields are "
        "judged, not measured: a design on them is at best feasible with open items. 'memory' and "
        "'derived': a source is named but the number was not read in it."
    )
    head = ("field", "value", "low", "high", "standing", "source")
    listed = table(head, rows, right=(1, 2, 3), marks=marks)
    content = paragraph(text) + folded(f"All {len(alloy)} fields", listed)
    return section("alloy", "Alloy card", content)


def reproduce_section(appraisal: Appraisal, tables: Tables, versions: Mapping[str, str]) -> str:
    """Study text, versions, seed, attempts of the optimiser, design variables."""
    study = appraisal.study
    name = study.path.name if study.path else "the study below"
    facts = [
        ("command", f"fold-mdo run {name}"),
        ("analysis", appraisal.kind),
        ("seed", str(study.seed)),
        ("study hash (SHA-256)", study.hash),
        ("levels of fidelity", str(study.fidelity)),
        *versions.items(),
    ]
    optimum = appraisal.optimum
    if optimum is not None and optimum.feasible:
        facts.insert(3, ("optimality (KKT residual, 0 is exact)", f"{optimum.kkt_residual:.0e}"))
    content = table(("what", "value"), facts)
    if len(tables["attempts"]):
        content += folded("Where each start of the optimiser ended", _attempts(tables["attempts"]))
    content += folded("Design variables", _variables(tables["design"]))
    content += folded("Study file", f"<pre>{escaped(_study_text(appraisal))}</pre>\n")
    return section("reproduce", "How to reproduce", content)


def _attempts(attempts: pd.DataFrame) -> str:
    rows = [
        (
            str(line.start),
            number(line.system_mass, "kg", digits=8),
            f"{max(line.violation, 0.0):.1e}",
            str(line.iterations),
            "yes" if line.converged else "no",
            str(line.message),
        )
        for line in attempts.itertuples()
    ]
    head = ("start", "mass, aircraft", "violation", "iterations", "converged", "solver says")
    text = "Eight digits tell whether the starts agree; they are no accuracy of the mass."
    return paragraph(text, kind="soft") + table(head, rows, right=(0, 1, 2, 3))


def _variables(design: pd.DataFrame) -> str:
    rows = [
        (
            f"{line.variable} {line.set}".strip(),
            number(line.value, line.unit, digits=6),
            *(given_number(bound, line.unit) for bound in (line.low, line.high)),
            str(line.standing),
            f"at its {line.at_bound} bound" if line.at_bound else "",
            str(line.of),
        )
        for line in design.itertuples()
    ]
    head = ("design variable", "value", "lower", "upper", "standing", "at a bound", "of")
    return table(head, rows, right=(1, 2, 3))


def _study_text(appraisal: Appraisal) -> str:
    """Text of the study; one that was made in Python is shown as indented JSON."""
    text = appraisal.study.text
    if not text.lstrip().startswith("{"):
        return text
    return json.dumps(json.loads(text), indent=2)
