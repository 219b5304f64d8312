"""A comparison of results as text for a terminal and as plain data for scripts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from mdo.quantities import is_difference
from mdo.report.pages.comparison_of_results import (
    SAME,
    Comparison,
    GivenInput,
    Group,
    InputLine,
    Line,
)
from mdo.report.words.printed import WIDE
from mdo.study.number_text import aligned, bulleted, figure, number_text, trade, wrapped

BESIDE = 2  # results beside the first in one block of a terminal
NAME_WIDTH = 38
MOST_INPUTS = 60  # inputs that a terminal lists
EMPTY = "-"
NOTHING = 1e-9  # share of the largest number of a line below which a number is none
LEAST_SHARE = 0.05  # [per cent] differences below are not given as a share


def comparison_text(compared: Comparison, units: str = "si") -> str:
    """Return a comparison as text; more than three results come in blocks, each with the first."""
    lines = ["RESULTS"]
    for side in compared.sides:
        text = f"{side.letter}  {side.label}: {side.verdict}; {side.result.folder}"
        lines += wrapped(text, indent="  ", hanging="     ")
    lines += bulleted(compared.notes)
    others = range(1, len(compared.sides))
    blocks = [tuple(others[n : n + BESIDE]) for n in range(0, len(others), BESIDE)]
    for group in compared.groups:
        alike = sum(line.alike for line in group.lines)
        left_out = f" ({alike} of {len(group.lines)} alike, not shown)" if alike else ""
        lines += ["", f"{group.title.upper()}{left_out}"]
        for block in blocks:
            lines += _block(compared, group, block, units)
    lines += ["", "INPUTS THAT DIFFER", *_inputs(compared, units)]
    return "\n".join(lines)


def shown_unit(line: Line, units: str) -> str:
    """Return the unit of a line as it is printed; lengths are all in the unit of the first."""
    return trade(_size(line), line.unit, units, difference=line.apart)[1]


def line_cells(line: Line, others: Sequence[int], units: str) -> list[str]:
    """Return the value of the first result, then of each other one its value and difference."""
    values = line_values(line, units)
    pairs = [(values[place], shown_difference(line, place, units)) for place in others]
    return [values[0], *(text for pair in pairs for text in pair)]


def line_heads(letters: Sequence[str], others: Sequence[int], minus: str = "-") -> list[str]:
    """Return the titles over :func:`line_cells`."""
    pairs = [(letters[place], f"{letters[place]} {minus} {letters[0]}") for place in others]
    return [letters[0], *(text for pair in pairs for text in pair)]


def line_values(line: Line, units: str) -> list[str]:
    """Return the values of a line, all in the unit of :func:`shown_unit`."""
    return [_value(line, value, units) for value in line.numbers]


def _value(line: Line, value: float, units: str) -> str:
    """Value of a line without its unit; ``none left`` for an infinite cost."""
    if math.isinf(value):
        return "none left"
    if math.isnan(value):
        return EMPTY
    if line.unit == "K" and not line.apart:
        return f"{trade(value, 'K', units)[0]:.1f}"
    shown = 0.0 if abs(value) <= NOTHING * _size(line) else _scale(line, units) * value
    return figure(shown, 4 if abs(shown) < 1e4 else 5)


def shown_difference(line: Line, place: int, units: str) -> str:
    """Return the difference of a result to the first, with its share; a dash if there is none."""
    first, value = line.numbers[0], line.numbers[place]
    if not (math.isfinite(first) and math.isfinite(value)):
        return EMPTY
    less = value - first
    if line.unit == "K":
        factor = 1.0 if line.apart else trade(1.0, "K", units)[0] - trade(0.0, "K", units)[0]
        text = f"{factor * less:+.1f}"
        return "0" if float(text) == 0.0 else text
    if abs(less) <= max(SAME * max(abs(first), abs(value)), NOTHING * _size(line)):
        return "0"
    text = f"{'+' if less > 0.0 else '-'}{figure(abs(_scale(line, units) * less), 3)}"
    # Per cent say nothing of margins and shares.
    told = first != 0.0 and not line.apart and line.unit != "1"
    share = 100.0 * less / abs(first) if told else 0.0
    if abs(share) < LEAST_SHARE:
        return text
    return f"{text} ({share:+.{1 if abs(share) < 100.0 else 0}f} %)"


def _scale(line: Line, units: str) -> float:
    """Factor from SI to the unit that a line is printed in."""
    size = _size(line)
    return trade(size, line.unit, units, difference=line.apart)[0] / size


def _size(line: Line) -> float:
    """Size of the numbers of a line, for the choice of its unit."""
    finite = [abs(value) for value in line.numbers if math.isfinite(value) and value != 0.0]
    return max(finite, default=1.0)


def _block(compared: Comparison, group: Group, others: Sequence[int], units: str) -> list[str]:
    """Lines of a group that are not alike: the first result and some others with differences."""
    rows = [["", *line_heads(compared.letters, others), ""]]
    for line in group.lines:
        if not line.alike:
            whose = ", ".join(part for part in (shown_unit(line, units), line.of) if part)
            rows.append([_short(line.name), *line_cells(line, others, units), whose])
    return aligned(rows, right=range(1, len(rows[0]) - 1)) if len(rows) > 1 else []


def _short(name: str) -> str:
    return name if len(name) <= NAME_WIDTH else f"{name[: NAME_WIDTH - 4].rstrip()} ..."


def input_text(line: InputLine, place: int, units: str) -> str:
    """Return the value of an input in one of the results, as it is printed."""
    known = line.numbers[place]
    if known is None:
        return "not there"
    value, words, unit = known
    if math.isnan(value):
        return " ".join(words.split()) or "none"
    number, name = trade(value, unit or "1", units, difference=is_difference(line.path))
    if unit == "m**2" and units == "si" and abs(value) >= WIDE:
        number, name = value, unit
    return f"{number_text(number)} {name}".rstrip()


def _inputs(compared: Comparison, units: str) -> list[str]:
    lines = []
    for line in compared.inputs[:MOST_INPUTS]:
        each = (
            f"{letter} {input_text(line, n, units)}" for n, letter in enumerate(compared.letters)
        )
        lines += wrapped(f"{line.path}: {'; '.join(each)}", indent="  ", hanging="      ")
    more = len(compared.inputs) - MOST_INPUTS
    if more > 0:
        lines.append(f"  and {more} more: the page (--output FILE) and --json have them all")
    return lines or ["  none"]


def comparison_dict(compared: Comparison) -> dict[str, Any]:
    """Return a comparison as plain data, SI; what is not there is None, an infinite cost "inf"."""
    return {
        "results": [
            {
                "letter": side.letter,
                "folder": str(side.result.folder),
                "study": side.result.manifest.study,
                "analysis": side.result.manifest.analysis,
                "title": side.title,
                "verdict": side.verdict,
                "causes": side.texts("verdict", "cause"),
                "open_items": side.texts("verdict", "open item"),
            }
            for side in compared.sides
        ],
        "notes": list(compared.notes),
        "groups": {
            group.title: [
                {"name": line.name, "unit": line.unit, "of": line.of,
                 "values": [_plain(value) for value in line.numbers],
                 "differences": [_plain(value - line.numbers[0]) for value in line.numbers]}
                for line in group.lines
            ]
            for group in compared.groups
        },
        "inputs": [
            {"path": line.path, "meaning": line.meaning,
             "values": [_plain_input(value) for value in line.numbers],
             "units": [None if value is None else value[2] for value in line.numbers]}
            for line in compared.inputs
        ],
    }  # fmt: skip


def _plain(value: float) -> float | str | None:
    if math.isfinite(value):
        return value
    return None if math.isnan(value) else str(value)


def _plain_input(given: GivenInput | None) -> float | str | None:
    if given is None:
        return None
    return given[1] if math.isnan(given[0]) else given[0]
