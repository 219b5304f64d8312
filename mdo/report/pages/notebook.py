"""What a notebook shows of an outcome by itself: the verdict and the key numbers."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from mdo.report.templates import render
from mdo.report.words.printed import degrees, given_number, margin_words, number, prose
from mdo.study.number_text import percent


def outcome_html(summary: Mapping[str, Any], folder: str) -> str:
    """Return a short piece of HTML.

    Parameters
    ----------
    summary : of the last analysis, as ``summary.json`` has it
    folder : where the whole result is; empty where nothing was written
    """
    page = render(
        "notebook.html", title=summary.get("title") or summary["study"], level=summary["verdict"],
        about=f"{summary['study']}, analysis '{summary['analysis']}'", rows=list(_rows(summary)),
        lines=[prose(line) for line in summary.get("lines", summary.get("causes", ()))],
        folder=folder,
    )  # fmt: skip
    return str(page)


def _rows(summary: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Key numbers of a design; an exploration has none."""
    if "system_mass" not in summary:
        return
    yield "mass, growth included", number(summary["system_mass"], "kg")
    if bound := summary.get("bound"):
        yield "its bound, counts of tubes and sizes free", number(bound["system_mass"], "kg")
    yield "peak power", number(summary["peak_power"], "W")
    point = summary["driving_point"]
    if point:
        where = f"{point['leg']} at {degrees(point['fold_angle'])}"
        margin, needed = margin_words(point["torque_margin"]), point["torque_margin_required"]
        yield "least torque margin", f"{margin}, {percent(needed)} needed: {where}"
        upper = margin_words(point["torque_margin_upper_band"])
        yield "the same with the loads at their upper band", upper
    for line in summary["times"]:
        if line["time"] is not None and math.isfinite(line["time"]):
            limit = given_number(line["time_limit"], "s")
            yield f"{line['what']}, {line['leg']}", f"{number(line['time'], 's')} of {limit}"
