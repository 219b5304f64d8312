"""Part 1 of the report, continued: the design drawn to scale, and what would be bought."""

from __future__ import annotations

from mdo.report.drawings.end_view import bundle_end_view
from mdo.report.pages.source import Facts, Source
from mdo.report.words.printed import number, prose, upper_first
from mdo.report.words.table import Table

KEY_ITEMS = (
    "alloy", "tubes, up set", "tubes, down set", "tube outer diameter", "tube wall",
    "active length", "topology", "gear ratio", "heater", "cooling", "bundle length",
    "bundle width", "bundle height",
)  # fmt: skip


def design(source: Source) -> Facts:
    """Bundle to scale with its key dimensions, then every item of it."""
    appraisal, order, sets = source.appraisal, source.table("order"), source.table("sets")
    values = [number(value, "Pa").partition(" ")[0] for value in sets["operating_stress"]]
    items = source.shown("order", order[order["item"].isin(KEY_ITEMS)])
    key = [row[:2] for row in items.rows]
    key.insert(8, ("hot temperature", number(float(appraisal.design["hot_temperature"]), "K")))
    key.insert(6, (f"shear stress, {' / '.join(sets['set'])}", f"{' / '.join(values)} MPa"))
    return {
        "key": Table(("item", "of one wing"), key),
        "end_view": bundle_end_view(appraisal),
        "violated": appraisal.violated,
        "as_ordered": _as_ordered(source),
        "whole": appraisal.problem.fixed is not None,
    }


def _as_ordered(source: Source) -> list[str]:
    """Say whether the design as it would be ordered meets every requirement."""
    if not source.has("order_sheet"):
        return []
    lines = source.table("order_sheet").query("section == 'basis' and item == 'requirements'")
    texts = (f"{line.words.rstrip('.')}. {line.note}".rstrip(". ") for line in lines.itertuples())
    return [f"{prose(upper_first(text))}." for text in texts]


def rounding(source: Source) -> Facts:
    """What each step from the bound to whole tubes and stock sizes costs."""
    return {
        "bound": source.appraisal.continuous.mass,
        "last": source.table("rounding").iloc[-1],
        "found": not source.appraisal.violated,
        "sure": [prose(upper_first(text)) for text in source.table("rounding_words")["text"]],
    }
