"""Part 1 of the report, continued: the design drawn to scale, and what would be bought."""

from __future__ import annotations

from mdo.report.drawings.end_view import bundle_end_view
from mdo.report.drawings.side_view import bundle_side_view
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
        "side_view": bundle_side_view(appraisal),
        "end_view": bundle_end_view(appraisal),
        "violated": appraisal.violated,
        "as_ordered": [] if source.has("rounding_order") else _as_ordered(source),
    }


def _as_ordered(source: Source) -> list[str]:
    """Say whether the design as it would be ordered meets every requirement."""
    if not source.has("order_sheet"):
        return []
    lines = source.table("order_sheet").query("section == 'basis' and item == 'requirements'")
    texts = (f"{line.words.rstrip('.')}. {line.note}".rstrip(". ") for line in lines.itertuples())
    return [f"{prose(upper_first(text))}." for text in texts]


def rounding(source: Source) -> Facts:
    """Design in whole tubes and stock sizes, what each step costs, and what to buy."""
    bought = source.has("rounding_order")
    return {
        "last": source.table("rounding").iloc[-1],
        "order": source.shown("order", source.table("rounding_order")) if bought else None,
        "as_ordered": _as_ordered(source),
        "sure": [prose(upper_first(text)) for text in source.table("rounding_words")["text"]],
    }
