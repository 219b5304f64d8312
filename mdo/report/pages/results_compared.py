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
    Line,
)
from mdo.report.pages.parts import Drawn, drawn
from mdo.report.templates import render
from mdo.report.words.printed import DASH, pretty
from mdo.report.words.results_compared import (
    EMPTY,
    input_text,
    line_values,
    shown_difference,
    shown_unit,
)
from mdo.report.words.table import Table

FAILED = "is-bad"
MARKS = {"infeasible": FAILED, "feasible with open items": "is-warn", "feasible": "is-good"}


def comparison_page(found: Comparison, units: str = "si") -> str:
    """Return the page of a comparison.

    Parameters
    ----------
    found : the comparison
    units : ``si`` or ``us`` trade units
    """
    tables = {group.title: _rows(found, group, units) for group in found.groups}
    drawings = _drawings(found, units)
    rest = [title for title in tables if title not in {MAIN, LEAST, LINES, MARGINS, COSTS}]
    parts = {
        "results": "Results", "values": "Values", "torque": "Torque", "mass": "Mass",
        "margins": "Margins", "costs": "Costs", "more": "More", "inputs": "Inputs that differ",
    }  # fmt: skip
    empty = {name for name in ("torque", "mass", "costs") if not drawings[name]}
    empty |= set() if rest else {"more"}
    return render(
        "comparison.html",
        title="Comparison: " + " against ".join(side.label for side in found.sides),
        parts={anchor: words for anchor, words in parts.items() if anchor not in empty},
        sides=found.sides, levels={side.letter: MARKS.get(side.verdict, FAILED)
                                   for side in found.sides},
        notes=found.notes, main=tables.get(MAIN), least=tables.get(LEAST),
        lines=tables.get(LINES), worst=tables.get(MARGINS), costs=tables.get(COSTS),
        more={title: tables[title] for title in rest}, inputs=_inputs(found, units),
        drawings=drawings,
    )  # fmt: skip


def _drawings(found: Comparison, units: str) -> dict[str, Any]:
    """Figures of the page by its parts, nothing where none of the results has the numbers."""
    costs = figures.costs_figure(found, units)
    words = {
        "mass": "Mass lines of each result as stacked bars, growth included",
        "margins": "Worst margin of each kind of requirement, one mark for each result",
        "costs": "Mass added by one harder step of each requirement, one bar for each result",
    }
    made = {
        "mass": figures.mass_figure(found, units) if figures.lines_of(found, LINES) else None,
        "margins": figures.margins_figure(found),
        "costs": costs,
    }
    drawings: dict[str, Any] = {
        name: figure and drawn(figure, name, words[name]) for name, figure in made.items()
    }
    drawings["torque"] = [
        _torque(found, leg, place, units) for place, leg in enumerate(figures.torque_legs(found))
    ]
    return drawings


def _torque(found: Comparison, leg: str, place: int, units: str) -> tuple[str, str, Drawn]:
    """A leg, the results that lack it, and its moments over the fold angle."""
    has = [side.letter for side in found.sides if figures.leg_part(side, leg) is not None]
    said = (
        f"Required and available moment over the fold angle in the leg {leg}, for results "
        f"{', '.join(has)}"
    )
    lacks = ", ".join(letter for letter in found.letters if letter not in has)
    figure = figures.torque_figure(found, leg, units)
    return leg, lacks, drawn(figure, f"torque-{place}", said)


def _rows(found: Comparison, group: Group, units: str) -> Table:
    first, *letters = found.letters
    heads = [head for letter in letters for head in (letter, f"{letter} − {first}")]
    marks = ["dim" if line.alike else "" for line in group.lines]
    rows = [_row(line, units) for line in group.lines]
    right = range(1, len(heads) + 2)
    return Table(("", first, *heads, "unit", "of"), rows, right=right, marks=marks, kind="lead")


def _row(line: Line, units: str) -> list[str]:
    first, *values = (_minus(text) for text in line_values(line, units))
    rest = [
        text
        for place, value in enumerate(values, 1)
        for text in (value, _minus(shown_difference(line, place, units)))
    ]
    return [line.name, first, *rest, pretty(shown_unit(line, units)), line.of]


def _minus(text: str) -> str:
    """Number with a true minus, a dash where there is none."""
    return DASH if text == EMPTY else text.replace("-", "−")


def _inputs(found: Comparison, units: str) -> Table | None:
    """Inputs that differ; None where all are alike."""
    if not found.inputs:
        return None
    rows = [
        (line.path, *(pretty(input_text(line, place, units)) for place in range(len(found.sides))),
         line.meaning)
        for line in found.inputs
    ]  # fmt: skip
    return Table(("input", *found.letters, "meaning"), rows, kind="lead")
