"""Page of results side by side: one file, no network, in the style of the report."""

from __future__ import annotations

from typing import Any

from mdo.report.figures import results_compared as figures
from mdo.report.pages.comparison_of_results import (
    COSTS,
    LEAST,
    LINES,
    MAIN,
    MARGINS,
    Comparison,
    Group,
)
from mdo.report.pages.parts import Drawn, drawn
from mdo.report.templates import render
from mdo.report.words.printed import DASH, pretty
from mdo.report.words.results_compared import (
    EMPTY,
    input_text,
    line_cells,
    line_heads,
    shown_unit,
)
from mdo.report.words.table import Table

FAILED = "is-bad"
MARKS = {"infeasible": FAILED, "feasible with open items": "is-warn", "feasible": "is-good"}


SAID = {
    "mass": "Mass lines of each result as stacked bars, growth included",
    "margins": "Worst margin of each kind of requirement, one mark for each result",
    "costs": "Mass added by one harder step of each requirement, one bar for each result",
}


def comparison_page(compared: Comparison, units: str = "si") -> str:
    """Return the page of a comparison.

    Parameters
    ----------
    compared : the comparison
    units : ``si`` or ``us`` trade units
    """
    tables = {group.title: _table(compared, group, units) for group in compared.groups}
    drawings = _drawings(compared, units)
    rest = [title for title in tables if title not in {MAIN, LEAST, LINES, MARGINS, COSTS}]
    parts = {
        "results": "Results", "values": "Values", "torque": "Torque", "mass": "Mass",
        "margins": "Margins", "costs": "Costs", "more": "More", "inputs": "Inputs that differ",
    }  # fmt: skip
    empty = {name for name in ("torque", "mass", "costs") if not drawings[name]}
    empty |= set() if rest else {"more"}
    return render(
        "comparison.html",
        title="Comparison: " + " against ".join(side.label for side in compared.sides),
        parts={anchor: words for anchor, words in parts.items() if anchor not in empty},
        sides=compared.sides, levels={side.letter: MARKS.get(side.verdict, FAILED)
                                   for side in compared.sides},
        notes=compared.notes, main=tables.get(MAIN), least=tables.get(LEAST),
        lines=tables.get(LINES), worst=tables.get(MARGINS), costs=tables.get(COSTS),
        more={title: tables[title] for title in rest}, inputs=_inputs(compared, units),
        drawings=drawings,
    )  # fmt: skip


def _drawings(compared: Comparison, units: str) -> dict[str, Any]:
    """Figures of the page by its parts, nothing where none of the results has the numbers."""
    made = {
        "mass": figures.mass_figure(compared, units) if compared.lines_of(LINES) else None,
        "margins": figures.margins_figure(compared),
        "costs": figures.costs_figure(compared, units),
    }
    legs = enumerate(figures.torque_legs(compared))
    return {
        **{name: figure and drawn(figure, name, SAID[name]) for name, figure in made.items()},
        "torque": [_torque(compared, leg, place, units) for place, leg in legs],
    }


def _torque(compared: Comparison, leg: str, place: int, units: str) -> tuple[str, str, Drawn]:
    """A leg, the results that lack it, and its moments over the fold angle."""
    has = [side.letter for side in compared.sides if figures.leg_part(side, leg) is not None]
    said = (
        f"Required and available moment over the fold angle in the leg {leg}, for results "
        f"{', '.join(has)}"
    )
    lacks = ", ".join(letter for letter in compared.letters if letter not in has)
    figure = figures.torque_figure(compared, leg, units)
    return leg, lacks, drawn(figure, f"torque-{place}", said)


def _table(compared: Comparison, group: Group, units: str) -> Table:
    """Table of a group; lines that are alike in all results are dim."""
    others = range(1, len(compared.letters))
    head = line_heads(compared.letters, others, "−")
    rows = [
        (line.name, *map(_minus, line_cells(line, others, units)), pretty(shown_unit(line, units)),
         line.of)
        for line in group.lines
    ]  # fmt: skip
    marks = ["dim" if line.alike else "" for line in group.lines]
    right = range(1, len(head) + 1)
    return Table(("", *head, "unit", "of"), rows, right=right, marks=marks, kind="lead")


def _minus(text: str) -> str:
    """Number with a true minus, a dash where there is none."""
    return DASH if text == EMPTY else text.replace("-", "−")


def _inputs(compared: Comparison, units: str) -> Table | None:
    """Inputs that differ; None where all are alike."""
    if not compared.inputs:
        return None
    places = range(len(compared.sides))
    rows = [
        (line.path, *(pretty(input_text(line, at, units)) for at in places), line.meaning)
        for line in compared.inputs
    ]
    return Table(("input", *compared.letters, "meaning"), rows, kind="lead")
