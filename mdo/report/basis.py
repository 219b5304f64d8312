"""Sections of the report on what the result rests on: limits, cautions, inputs, alloy, checks."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping

import pandas as pd

from mdo.explore.appraisal import Appraisal
from mdo.explore.validation import NOT_MODELLED
from mdo.explore.wording import percent
from mdo.report import definitions
from mdo.report.html import (
    bullets,
    escaped,
    folded,
    given_number,
    number,
    paragraph,
    prose,
    section,
    table,
)
from mdo.results.manifest import tool_versions
from mdo.study.assumptions import assumption_fields
from mdo.study.cases import Case
from mdo.study.fields import declared
from mdo.study.sections import Requirements

Tables = Mapping[str, pd.DataFrame]
SEVERITY_MARKS = {"stop": "stop", "warn": "watch"}


def limits_section(tables: Tables) -> str:
    """Distance to the physical limits, and the transformation window that the cases demand."""
    limits = tables["limits"]
    rows, marks = [], []
    for line in limits.itertuples():
        numbers = (
            number(value, line.unit, digits=3, difference=True)
            for value in (line.value, line.limit)
        )
        rows.append((line.name, *numbers, percent(line.ratio), prose(line.text)))
        marks.append("bad" if getattr(line, "fault", False) else "")
    content = paragraph(definitions.LIMITS, kind="definition")
    content += table(("", "here", "limit", "used", ""), rows, right=(1, 2, 3), marks=marks)
    window = [
        (line.temperature, *(number(bound, "K") for bound in (line.at_least, line.at_most)),
         number(line.card, "K"),
         prose(line.set_by))
        for line in tables["window"].itertuples()
    ]  # fmt: skip
    content += "<h3>Transformation window that the cases demand of any alloy, no stress</h3>\n"
    head = ("", "at least", "at most", "this alloy", "set by")
    content += table(head, window, right=(1, 2, 3))
    return section("limits", "Physical limits and the alloy window", content)


def cautions_section(tables: Tables) -> str:
    """Cautions: those that stop first."""
    cautions = tables["cautions"]
    rows = [
        (line.id, line.severity, prose(line.text), prose(line.action))
        for line in cautions.itertuples()
    ]
    marks = [SEVERITY_MARKS.get(line.severity, "dim") for line in cautions.itertuples()]
    text = "A caution that stops keeps the verdict from a plain 'feasible' until it is cleared."
    content = paragraph(text, kind="definition")
    content += table(("", "severity", "what", "what to do"), rows, marks=marks)
    return section("cautions", "Cautions", content)


def differences() -> frozenset[str]:
    """Names of the inputs that are differences of temperature."""
    groups = [declared(Requirements), declared(Case), *assumption_fields().values()]
    return frozenset(
        name for fields in groups for name, field in fields.items() if field.kind == "difference"
    )


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
    content = paragraph(text, kind="definition")
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
        content += folded(
            f"{group}: {len(part)} inputs", table(head, rows, right=(1, 2, 3), marks=marks)
        )
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
    content = paragraph(text, kind="definition") + table(head, rows, right=(1, 2, 3), marks=marks)
    return section("alloy", "Alloy card", content)


def validation_section(tables: Tables) -> str:
    """What each model was checked against, and what is not modelled."""
    checks = tables["validation"]
    rows = [tuple(line) for line in checks.itertuples(index=False)]
    marks = ["warn" if not line[3] else "" for line in rows]
    content = paragraph(
        "Equations against worked cases, independent libraries and independent solutions, run as "
        "tests of this tool. Measured data: none. 'From memory': the source was not at hand.",
        kind="definition",
    )
    content += table(
        ("model", "checked against", "source", "test"), rows, marks=marks, kind="checks"
    )
    content += "<h3>What is not modelled</h3>\n" + bullets(NOT_MODELLED)
    return section("validation", "Validation", content)


def reproduce_section(appraisal: Appraisal, tables: Tables) -> str:
    """Study text, versions, seed, attempts of the optimiser."""
    study = appraisal.study
    name = study.path.name if study.path else "the study below"
    facts = [
        ("command", f"fold-mdo run {name}"),
        ("analysis", appraisal.kind),
        ("seed", str(study.seed)),
        ("study hash (SHA-256)", study.hash),
        ("fidelity of the hinge moment", study.actuator.hinge_moment),
        *tool_versions().items(),
    ]
    content = table(("", ""), facts)
    if len(tables["attempts"]):
        content += "<h3>Attempts of the optimiser</h3>\n" + _attempts(tables["attempts"])
    content += "<h3>Design variables</h3>\n" + _variables(tables["design"])
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
    return table(head, rows, right=(0, 1, 2, 3))


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
    head = ("design variable", "value", "lower", "upper", "", "", "of")
    return table(head, rows, right=(1, 2, 3))


def _study_text(appraisal: Appraisal) -> str:
    """Text of the study; one that was made in Python is shown as indented JSON."""
    text = appraisal.study.text
    if not text.lstrip().startswith("{"):
        return text
    return json.dumps(json.loads(text), indent=2)
