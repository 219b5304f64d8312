"""Part 1 of the report, continued: the design drawn to scale, and what would be bought."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from mdo.defend.order.tubes import OrderItem
from mdo.optimise.appraisal import Appraisal
from mdo.report.drawings import design as drawings
from mdo.report.figures import design as figures
from mdo.report.templates.pieces import (
    bullets,
    folded,
    number,
    paragraph,
    picture,
    pretty,
    prose,
    section,
    table,
)
from mdo.study.number_text import percent

Tables = Mapping[str, pd.DataFrame]
KEY_ITEMS = (
    "alloy", "tubes, up set", "tubes, down set", "tube outer diameter", "tube wall",
    "active length", "topology", "gear ratio", "heater", "cooling", "bundle length",
    "bundle width", "bundle height",
)  # fmt: skip
DRAWING_DIGITS = 4  # of a dimension to be made


def design_section(appraisal: Appraisal, tables: Tables) -> str:
    """Bundle to scale with its key dimensions, then every item of it."""
    order = tables["order"]
    sets = tables["sets"]
    key = [(words, value) for words, value, _, _ in _lines(order) if words in KEY_ITEMS]
    hot = float(appraisal.design["hot_temperature"])
    key.insert(8, ("hot temperature", number(hot, "K")))
    stress = " / ".join(
        pretty(number(float(value), "Pa")).split(" ")[0] for value in sets["operating_stress"]
    )
    key.insert(6, (f"shear stress, {' / '.join(sets['set'])}", f"{stress} MPa"))
    side = picture(drawings.bundle_side_view(appraisal), drawings.CAPTIONS["bundle_side_view"])
    content = (
        f'<div class="split">\n<div>{table(("item", "of one wing"), key)}</div>\n{side}</div>\n'
    )
    content += picture(drawings.bundle_end_view(appraisal), drawings.CAPTIONS["bundle_end_view"])
    title = "Every item of this bundle, counts rounded up"
    if appraisal.violated:
        title += " (infeasible: not for ordering)"
    note = (
        "Sizes of the continuous optimum; only the counts are rounded up, nothing optimised again."
    )
    content += folded(title, paragraph(note, kind="soft") + order_rows(order))
    if "rounding_order" not in tables:
        content += _as_ordered(tables)
    return section("design", "The design, one wing", content)


def _as_ordered(tables: Tables) -> str:
    """Say whether the design as it would be ordered meets every requirement."""
    if "order_sheet" not in tables:
        return ""
    sheet = tables["order_sheet"]
    found = sheet[(sheet["section"] == "basis") & (sheet["item"] == "requirements")]
    texts = (f"{one.words.rstrip('.')}. {one.note}".rstrip(". ") for one in found.itertuples())
    return "".join(paragraph(f"{prose(text[:1].upper() + text[1:])}.") for text in texts)


def order_rows(order: pd.DataFrame) -> str:
    """Table of the items of an order."""
    rows = [(words, value, of, note) for words, value, of, note in _lines(order)]
    return table(("item", "value", "of", "note"), rows)


def _lines(order: pd.DataFrame) -> list[tuple[str, str, str, str]]:
    lines = []
    for line in order.itertuples(index=False):
        item = OrderItem(*line)
        whole = item.unit == "1" and float(item.value).is_integer()
        digits = DRAWING_DIGITS if item.unit == "m" else 3
        value = f"{item.value:.0f}" if whole else item.words
        value = value or _plain(number(item.value, item.unit, digits=digits))
        lines.append((item.item, prose(value), item.of, prose(item.note)))
    return lines


def _plain(text: str) -> str:
    """Return a number without the zeros at its end, which nobody asked for."""
    value, _, unit = text.partition(" ")
    value = value.rstrip("0").rstrip(".") if "." in value else value
    return f"{value} {unit}".rstrip()


def rounding_section(tables: Tables) -> str:
    """Design in whole tubes and stock sizes, what each step costs, and what to buy."""
    steps = tables["rounding"]
    rows = [
        (one.step, number(one.system_mass, "kg", digits=DRAWING_DIGITS),
         figures.kilograms(one.price), percent(one.share), prose(one.words))
        for one in steps.itertuples()
    ]  # fmt: skip
    content = ""
    if "rounding_order" in tables:
        last = steps.iloc[-1]
        text = (
            f"With whole tubes and stock sizes, the rest optimised again, the actuation weighs "
            f"{number(last['system_mass'], 'kg')}: {percent(last['share'])} over the continuous "
            "optimum that the rest of this report describes. This is the design to order."
        )
        content += paragraph(text) + _as_ordered(tables) + order_rows(tables["rounding_order"])
    head = ("step", "mass of the aircraft", "price [kg]", "price", "choice")
    content += "<h4>What each step costs</h4>\n" + table(head, rows, right=(1, 2, 3))
    content += folded("How sure this rounding is", bullets(map(prose, _words(tables))))
    listed = [
        (number(one.outer_diameter, "m", digits=DRAWING_DIGITS), number(one.wall, "m"),
         number(one.relaxed_mass, "kg"), number(one.system_mass, "kg"), prose(one.words))
        for one in tables["rounding_stock"].itertuples()
    ]  # fmt: skip
    if listed:
        head = ("outer diameter", "wall", "counts free", "whole counts", "outcome")
        content += folded("Every stock tube", table(head, listed, right=(0, 1, 2, 3)))
    return section("rounding", "As bought: whole tubes and stock sizes", content)


def _words(tables: Tables) -> list[str]:
    return [text[:1].upper() + text[1:] for text in tables["rounding_words"]["text"]]
