"""Part 5 of the report: every line, every input, and how to reproduce it."""

from __future__ import annotations

import json

from mdo.report.pages.order_sheet import order_sheet_parts
from mdo.report.pages.parts import Facts, Source
from mdo.report.words.table import Table


def order_sheet(source: Source) -> Facts:
    """Order sheet of the tubes."""
    return {"parts": order_sheet_parts(source.table("order_sheet"))}


def compliance(source: Source) -> Facts:
    """Every requirement by leg, case and set."""
    required = source.table("compliance").query("standing == 'required'")
    return {"met": int(required["holds"].astype(bool).sum()), "required": len(required)}


def inputs(source: Source) -> Facts:
    """Every resolved input by section of the study."""
    table = source.table("inputs")
    groups = table["path"].str.split(r"[.\[]", n=1, regex=True).str[0]
    counts = table["origin"].value_counts()
    return {
        "total": len(table),
        "origins": [f"{count} {origin}" for origin, count in counts.items()],
        "groups": [
            (group, source.shown("inputs", part))
            for group, part in table.groupby(groups, sort=False)
        ],
    }


def alloy(source: Source) -> Facts:
    """Alloy card with the fields that are only judged marked."""
    card = source.appraisal.problem.assembled.card
    return {"card": card, "judged": int(source.table("alloy")["judged"].sum())}


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
    optimum = appraisal.continuous.optimum
    if optimum is not None and optimum.feasible:
        facts.insert(3, ("optimality (KKT residual, 0 is exact)", f"{optimum.kkt_residual:.0e}"))
    text = study.text
    if text.lstrip().startswith("{"):  # made in Python: shown as indented JSON
        text = json.dumps(json.loads(text), indent=2)
    return {"facts": Table(("what", "value"), facts), "study_text": text}
