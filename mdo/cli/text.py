"""What the command line prints, as text: tables of inputs and of alloy cards, JSON."""

from __future__ import annotations

import json
import math
import textwrap
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from mdo.alloys import Card, Field
from mdo.analysis_names import ANALYSES
from mdo.quantities import QUANTITIES, is_difference
from mdo.report.words.bench import bench_words
from mdo.study import Input, Study
from mdo.study.cases import KINDS
from mdo.study.number_text import FOOT, number_text, wrapped
from mdo.study.units import to_trade

LONG = 10.0  # [m] lengths from here on are printed in metres or feet, not in mm or in
OPTIONAL = ("fidelity", "design", "assumptions", "analysis")  # sections of a study
ORIGINS = ("file", "default", "judgement")
_TEXT_WIDTH = 36


def as_json(content: object) -> str:
    """Return plain data as JSON: arrays as lists, what is not finite as null."""
    return json.dumps(_plain(content), indent=2)


def inputs_text(study: Study, card: Card, units: str) -> str:
    """Return every resolved input of a study with unit and origin, as a table, and its card."""
    rows = [
        (one.path, *input_value(one, units), one.origin, one.provenance) for one in study.inputs
    ]
    counts = Counter[str](one.origin for one in study.inputs)
    total = ", ".join(f"{counts[origin]} {origin}" for origin in ORIGINS)
    judged = ", ".join(card.judged_fields) or "none"
    lines = [
        f"{study.name}: {study.title}" if study.title else study.name,
        "",
        *table(("input", "value", "unit", "origin", "default from"), rows, right=(1,)),
        "",
        f"{len(study.inputs)} inputs: {total}",
        *wrapped(f"alloy card {card.name} ({card.title}); fields that are only judged: {judged}"),
        "the study is valid",
    ]
    return str(bench_words(study.content, "\n".join(lines)))


def verdict_text(study: Study, card: Card, warnings: int) -> str:
    """Return the verdict on a checked study, short: what it gives, what is assumed, warnings."""
    about = check_summary(study, card, ())
    counts = about["inputs"]
    judged = len(card.judged_fields)
    given = (
        f"inputs: {counts['file']} given, {counts['default']} by default, {counts['judgement']} "
        "judged (assumptions of the tool)"
    )
    told = f"{warnings} (on the error stream)" if warnings else "none"
    lines = [
        f"{study.name}: {study.title}" if study.title else study.name,
        "the study is valid",
        f"cases: {about['cases']}; analyses: {', '.join(about['analyses'])}",
        given,
        f"alloy card {card.name}: {judged} of {len(card.fields)} fields are only judged",
        f"warnings: {told}",
        *wrapped(f"there is more: {_not_used(study)} (docs/study_file.md)"),
        "every input with its value, unit and origin: fold-mdo check --all",
    ]
    return "\n".join(lines)


def _not_used(study: Study) -> str:
    """What a study could say and run beyond what it does."""
    sections = [f"[{name}]" for name in OPTIONAL if name not in study.content]
    analyses = [name for name in ANALYSES if name not in study.analyses]
    kinds = [kind for kind in KINDS if kind not in {case.kind for case in study.cases}]
    parts = {"sections": sections, "analyses": analyses, "kinds of case": kinds}
    return "; ".join(f"{what} {', '.join(names)}" for what, names in parts.items() if names)


def check_summary(study: Study, card: Card, warnings: Sequence[str]) -> dict[str, Any]:
    """Return the verdict on a checked study as plain data."""
    counts = Counter[str](one.origin for one in study.inputs)
    return {
        "valid": True,
        "study": study.name,
        "analyses": list(study.analyses),
        "cases": len(study.cases),
        "inputs": {origin: counts[origin] for origin in ORIGINS},
        "alloy": card.name,
        "alloy_judged_fields": list(card.judged_fields),
        "warnings": list(warnings),
    }


def card_list_text(cards: Sequence[Card]) -> str:
    """Return a table of alloy cards."""
    rows = []
    for card in cards:
        missing = len(card.missing_fields())
        ready = "yes" if not missing else f"no, lacks {missing}"
        rows.append((card.name, card.kind, ready, str(len(card.judged_fields)), card.title))
    return "\n".join(table(("name", "kind", "can be run", "judged", "title"), rows, right=(3,)))


def card_text(card: Card, units: str) -> str:
    """Return an alloy card: value, range, source and standing of every field."""
    rows = [_card_row(field, units) for field in card.fields.values()]
    head = ("field", "value", "low", "high", "unit", "provenance", "", "source")
    missing = card.missing_fields()
    state = f"cannot be run: it does not give {', '.join(missing)}" if missing else "can be run"
    life = "by its law" if card.has_life_law else "as declared in the card or study"
    notes = [line for part in card.notes.strip().split("\n\n") for line in (*wrapped(part), "")]
    lines = [
        f"{card.name} ({card.kind}): {card.title}",
        "",
        *notes,
        *table(head, rows, right=(1, 2, 3)),
        "",
        *wrapped(
            f"* judged, not measured: {len(card.judged_fields)} of {len(card.fields)} fields; a "
            "design on them is at best feasible with open items"
        ),
        *wrapped(f"{state}; life {life}"),
    ]
    return "\n".join(lines)


def _card_row(field: Field, units: str) -> tuple[str, ...]:
    """Row of one field of a card."""
    unit = QUANTITIES[field.name].unit
    texts = [
        ("", "") if number is None else quantity_text(number, unit, units)
        for number in (field.value, field.low, field.high)
    ]
    numbers = [text for text, _ in texts]
    mark = "*" if field.judged else ""
    return (field.name, *numbers, texts[0][1], field.provenance, mark, field.source)


def input_value(one: Input, units: str) -> tuple[str, str]:
    """Value and unit of an input as text, in trade units."""
    value = one.value
    if value is None:
        return "none", ""
    if isinstance(value, bool):
        return str(value).lower(), ""
    if isinstance(value, str):
        return textwrap.shorten(value, _TEXT_WIDTH, placeholder=" ..."), ""
    if is_difference(one.path):
        return number_text(value), one.unit
    return quantity_text(value, one.unit, units)


def quantity_text(value: float, unit: str, units: str) -> tuple[str, str]:
    """Return number and unit as text, in trade units; nothing for the unit of a pure number."""
    if unit == "m" and abs(value) >= LONG:
        value, unit = (value / FOOT, "ft") if units == "us" else (value, "m")
    else:
        value, unit = to_trade(value, unit, units)
    return number_text(value), "" if unit == "1" else unit


def table(
    head: Sequence[str], rows: Iterable[Sequence[str]], *, right: Sequence[int] = ()
) -> list[str]:
    """Return the lines of an aligned table.

    Parameters
    ----------
    head
        Titles of the columns.
    rows
        Cells as text.
    right
        Columns that are aligned to the right.
    """
    cells = [[" ".join(cell.split()) for cell in row] for row in (head, *rows)]
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    cells.insert(1, ["-" * width for width in widths])
    return [
        "  ".join(
            cell.rjust(width) if number in right else cell.ljust(width)
            for number, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in cells
    ]


def _plain(content: object) -> Any:
    """Turn arrays and their numbers into lists and numbers, and what is not finite into None."""
    if hasattr(content, "tolist"):
        content = content.tolist()
    if isinstance(content, Mapping):
        return {str(key): _plain(value) for key, value in content.items()}
    if isinstance(content, list | tuple):
        return [_plain(value) for value in content]
    if isinstance(content, float) and not math.isfinite(content):
        return None
    return content
