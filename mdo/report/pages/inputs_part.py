"""Part 5 of the report: every line, every input, and how to reproduce it."""

from __future__ import annotations

import json
import math
from typing import Any

import pandas as pd

from mdo.quantities import is_difference
from mdo.report.pages.drivers_part import requirement_lines
from mdo.report.pages.order_sheet import order_sheet_parts
from mdo.report.pages.source import Facts, Source
from mdo.report.words.printed import given_number, number
from mdo.report.words.table import Columns, Shown, Table, table_of


def order_sheet(source: Source) -> Facts | None:
    """Order sheet of the tubes, nothing where a result has none."""
    parts = order_sheet_parts(source.tables)
    return {"parts": parts} if parts else None


def compliance(source: Source) -> Facts:
    """Every requirement by leg, case and set."""
    table = source.table("compliance")
    holds = table.loc[table["standing"] == "required", "holds"].astype(bool)
    return {
        "met": int(holds.sum()),
        "required": len(holds),
        "lines": requirement_lines(table),
    }


def inputs(source: Source) -> Facts:
    """Every resolved input by section of the study."""
    table = source.table("inputs")
    groups = table["path"].str.split(r"[.\[]", n=1, regex=True).str[0]
    counts = table["origin"].value_counts()
    return {
        "total": len(table),
        "origins": [f"{count} {origin}" for origin, count in counts.items()],
        "groups": [
            (group, _given(part, "path", "input", "origin"))
            for group, part in table.groupby(groups, sort=False)
        ],
    }


def _given(table: pd.DataFrame, name: str, title: str, standing: str) -> Table:
    """Numbers that somebody gave, with their ranges and where they are from."""

    def given(column: str) -> Shown:
        def text(line: Any) -> str:
            value = getattr(line, column)
            if math.isnan(line.value):
                return str(line.words) if column == "value" else ""
            apart = is_difference(getattr(line, name))
            return given_number(value, line.unit or "1", difference=apart)

        return text

    columns: Columns = {
        title: (name, str),
        **{column: given(column) for column in ("value", "low", "high")},
        standing: (standing, str),
        "meaning": ("meaning", str),
        "default from": ("provenance", str),
    }

    def mark(line: Any) -> str:
        return "judged" if line.origin == "judgement" else ""

    return table_of(table, columns, right=("value", "low", "high"), mark=mark)


def alloy(source: Source) -> Facts:
    """Alloy card with the fields that are only judged marked."""
    table = source.table("alloy")

    def given(column: str) -> Shown:
        return lambda line: given_number(getattr(line, column), line.unit)

    columns: Columns = {
        "field": lambda line: line.meaning or line.field,
        **{column: given(column) for column in ("value", "low", "high")},
        "standing": lambda line: "judged" if line.judged else line.provenance,
        "source": ("source", str),
    }

    def mark(line: Any) -> str:
        return "judged" if line.judged else ""

    return {
        "card": source.appraisal.problem.assembled.card,
        "judged": int(table["judged"].sum()),
        "fields": table_of(table, columns, right=("value", "low", "high"), mark=mark),
    }


def reproduce(source: Source) -> Facts:
    """Study text, versions, seed, attempts of the optimiser, design variables."""
    appraisal, study = source.appraisal, source.appraisal.study
    name = study.path.name if study.path else "the study below"
    facts = [
        ("command", f"fold-mdo run {name}"),
        ("analysis", appraisal.kind),
        ("seed", str(study.seed)),
        ("study hash (SHA-256)", study.hash),
        ("levels of fidelity", str(study.fidelity)),
        *source.versions.items(),
    ]
    optimum = appraisal.optimum
    if optimum is not None and optimum.feasible:
        facts.insert(3, ("optimality (KKT residual, 0 is exact)", f"{optimum.kkt_residual:.0e}"))
    return {
        "facts": Table(("what", "value"), facts),
        "attempts": _attempts(source.table("attempts")),
        "variables": _variables(source.table("design")),
        "study_text": _study_text(study.text),
    }


def _attempts(attempts: pd.DataFrame) -> Table:
    columns: Columns = {
        "start": ("start", str),
        "mass, aircraft": ("system_mass", lambda mass: number(mass, "kg", digits=8)),
        "violation": ("violation", lambda value: f"{max(value, 0.0):.1e}"),
        "iterations": ("iterations", str),
        "converged": lambda line: "yes" if line.converged else "no",
        "solver says": ("message", str),
    }
    return table_of(attempts, columns)


def _variables(design: pd.DataFrame) -> Table:
    columns: Columns = {
        "design variable": lambda line: f"{line.variable} {line.set}".strip(),
        "value": lambda line: number(line.value, line.unit, digits=6),
        "lower": lambda line: given_number(line.low, line.unit),
        "upper": lambda line: given_number(line.high, line.unit),
        "standing": "standing",
        "at a bound": lambda line: f"at its {line.at_bound} bound" if line.at_bound else "",
        "of": "of",
    }
    return table_of(design, columns, right=("value", "lower", "upper"))


def _study_text(text: str) -> str:
    """Text of the study; one that was made in Python is shown as indented JSON."""
    return json.dumps(json.loads(text), indent=2) if text.lstrip().startswith("{") else text
