"""Part 1 of the report, continued: the design drawn to scale, and what would be bought."""

from __future__ import annotations

from typing import Any

import pandas as pd

from mdo.report.drawings.end_view import bundle_end_view
from mdo.report.drawings.side_view import bundle_side_view
from mdo.report.pages.source import Facts, Source
from mdo.report.words.printed import kilograms, number, prose, upper_first
from mdo.report.words.table import Columns, Table, table_of
from mdo.study.number_text import percent

KEY_ITEMS = (
    "alloy", "tubes, up set", "tubes, down set", "tube outer diameter", "tube wall",
    "active length", "topology", "gear ratio", "heater", "cooling", "bundle length",
    "bundle width", "bundle height",
)  # fmt: skip
DRAWING_DIGITS = 4  # of a dimension to be made


def design(source: Source) -> Facts:
    """Bundle to scale with its key dimensions, then every item of it."""
    appraisal, order, sets = source.appraisal, source.table("order"), source.table("sets")
    values = [number(value, "Pa").partition(" ")[0] for value in sets["operating_stress"]]
    shown = order[order["item"].isin(KEY_ITEMS)]
    key = [(line.item, order_value(line)) for line in shown.itertuples()]
    key.insert(8, ("hot temperature", number(float(appraisal.design["hot_temperature"]), "K")))
    key.insert(6, (f"shear stress, {' / '.join(sets['set'])}", f"{' / '.join(values)} MPa"))
    return {
        "key": Table(("item", "of one wing"), key),
        "side_view": bundle_side_view(appraisal),
        "end_view": bundle_end_view(appraisal),
        "violated": appraisal.violated,
        "items": order_items(order),
        "as_ordered": [] if source.has("rounding_order") else _as_ordered(source),
    }


def _as_ordered(source: Source) -> list[str]:
    """Say whether the design as it would be ordered meets every requirement."""
    if not source.has("order_sheet"):
        return []
    sheet = source.table("order_sheet")
    lines = sheet[(sheet["section"] == "basis") & (sheet["item"] == "requirements")]
    texts = (f"{line.words.rstrip('.')}. {line.note}".rstrip(". ") for line in lines.itertuples())
    return [f"{prose(upper_first(text))}." for text in texts]


def order_items(order: pd.DataFrame) -> Table:
    """Items of an order."""
    columns: Columns = {"item": "item", "value": order_value, "of": "of", "note": "note"}
    return table_of(order, columns)


def order_value(line: Any) -> str:
    """Value of an item of an order: its words, a whole number, or a dimension to be made."""
    if line.words:
        return prose(line.words)
    if line.unit == "1" and float(line.value).is_integer():
        return f"{line.value:.0f}"
    digits = DRAWING_DIGITS if line.unit == "m" else 3
    value, _, unit = number(line.value, line.unit, digits=digits).partition(" ")
    value = value.rstrip("0").rstrip(".") if "." in value else value
    return f"{value} {unit}".rstrip()


def rounding(source: Source) -> Facts | None:
    """Design in whole tubes and stock sizes, what each step costs, and what to buy."""
    if not source.has("rounding"):
        return None

    def mass(value: float) -> str:
        return number(value, "kg", digits=DRAWING_DIGITS)

    steps: Columns = {
        "step": "step",
        "mass of the aircraft": ("system_mass", mass),
        "price [kg]": ("price", kilograms),
        "price": ("share", percent),
        "choice": "words",
    }
    stock: Columns = {
        "outer diameter": lambda line: number(line.outer_diameter, "m", digits=DRAWING_DIGITS),
        "wall": lambda line: number(line.wall, "m"),
        "counts free": "relaxed_mass",
        "whole counts": "system_mass",
        "outcome": "words",
    }
    bought = source.has("rounding_order")
    return {
        "last": source.table("rounding").iloc[-1],
        "order": order_items(source.table("rounding_order")) if bought else None,
        "as_ordered": _as_ordered(source),
        "steps": table_of(source.table("rounding"), steps),
        "sure": [prose(upper_first(text)) for text in source.table("rounding_words")["text"]],
        "stock": table_of(source.table("rounding_stock"), stock, right=("outer diameter", "wall")),
    }
