"""Order sheet of the tubes: Markdown, a section of a page, CSV; from the table of a result."""

from __future__ import annotations

import html
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

import pandas as pd

from mdo.defend.order.sheet import BASIS, COUNTS, TESTS, WINGS
from mdo.report.templates.pieces import paragraph, pretty, prose, section, table
from mdo.study.number_text import quantity, trade

TITLE = "Order sheet for the tubes"
TABLE = "order_sheet"
NO_BREAK = "\N{NO-BREAK SPACE}"
SHORT = 19  # letters of a cell that is kept on one line
_SPECIAL = re.compile(r"([\\`*_{}\[\]|#~])")


class Quantities(NamedTuple):
    """How many aircraft, and spare tubes of each set: a number, or a share of the set's tubes."""

    aircraft: int = 1
    spares: int = 0
    spare_share: float = 0.0

    def spare_tubes(self, needed: int) -> int:
        """Spare tubes for so many tubes of one set."""
        return self.spares + math.ceil(self.spare_share * needed - 1e-9)


ONE = Quantities()


class Wanted(NamedTuple):
    """Tubes of one set to order: needed in all aircraft, spare, both together."""

    item: str
    needed: int
    spare: int
    total: int


def wanted_tubes(sheet: pd.DataFrame, quantities: Quantities = ONE) -> list[Wanted]:
    """Tubes to order by set, both wings of all aircraft; their sum comes last."""
    found = []
    for line in sheet[sheet["section"] == COUNTS].itertuples():
        if line.item == "tubes":
            continue
        needed = quantities.aircraft * WINGS * round(line.value)
        spare = quantities.spare_tubes(needed)
        found.append(Wanted(line.item, needed, spare, needed + spare))
    sums = (sum(getattr(one, name) for one in found) for name in ("needed", "spare", "total"))
    return [*found, Wanted("all tubes", *sums)]


def order_sheet_markdown(
    tables: Mapping[str, pd.DataFrame], units: str = "si", quantities: Quantities = ONE
) -> str:
    """Return the order sheet as Markdown.

    Parameters
    ----------
    tables : tables of a result, ``order_sheet`` among them
    units : ``si`` or ``us`` trade units
    quantities : how many aircraft and spares
    """
    sheet = tables[TABLE]
    parts = [f"# {TITLE}\n"]
    for name, part in sheet.groupby("section", sort=False):
        head, rows = _section_rows(str(name), part, units)
        parts.append(f"## {_capital(str(name))}\n\n{_markdown_table(head, rows)}")
        if name == COUNTS:
            head, rows = quantity_rows(sheet, quantities)
            parts.append(f"## {_quantity_title(quantities)}\n\n{_markdown_table(head, rows)}")
    return "\n".join(parts)


def order_sheet_section(tables: Mapping[str, pd.DataFrame]) -> str:
    """Return the order sheet as a section of a page, nothing where a result has none."""
    if TABLE not in tables:
        return ""
    sheet = tables[TABLE]
    content = ""
    for name, part in sheet.groupby("section", sort=False):
        head, rows = _section_rows(str(name), part, "si")
        shown = [[_unbroken(pretty(prose(cell))) for cell in row] for row in rows]
        content += f"<h4>{_capital(str(name))}</h4>\n" + table(head, shown, kind="lead")
    text = "The file order_sheet.md beside this page, or 'fold-mdo order' with spares and units."
    return section("order-sheet", TITLE, content + paragraph(text, kind="soft"))


def _unbroken(cell: str) -> str:
    """Short cell kept on one line: a number and its unit."""
    return cell.replace(" ", NO_BREAK) if len(cell) <= SHORT else cell


def ordered_table(sheet: pd.DataFrame, quantities: Quantities) -> pd.DataFrame:
    """Order sheet as a table [SI] with the quantities to order at its end."""
    lines = [
        {"section": "quantities", "item": f"{one.item}, {kind}", "value": float(number),
         "unit": "1", "words": "", "of": "whole order", "note": ""}
        for one in wanted_tubes(sheet, quantities)
        for kind, number in (("needed", one.needed), ("spare", one.spare), ("total", one.total))
    ]  # fmt: skip
    return pd.concat([sheet, pd.DataFrame(lines)], ignore_index=True)[list(sheet.columns)]


def quantity_rows(
    sheet: pd.DataFrame, quantities: Quantities
) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Head and rows of the quantities to order."""
    rows: list[tuple[str, ...]] = [
        (one.item, str(one.needed), str(one.spare), str(one.total))
        for one in wanted_tubes(sheet, quantities)
    ]
    return ("", "needed", "spare", "to order"), rows


def _quantity_title(quantities: Quantities) -> str:
    return f"Quantities for {quantities.aircraft} aircraft, both wings"


def _section_rows(
    name: str, part: pd.DataFrame, units: str
) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Head and rows of one section of the sheet."""
    rows = [
        (str(line.item), _value(line, units), _band(line, units), str(line.of), str(line.note))
        for line in part.itertuples()
    ]
    first = {TESTS: "standard", BASIS: ""}.get(name, "item")
    value = "" if name in {TESTS, BASIS} else "value"
    head = (first, value, "band assumed", "of", "note")
    used = [n for n in range(len(head)) if n == 0 or any(row[n] for row in rows)]
    return tuple(head[n] for n in used), [tuple(row[n] for n in used) for row in rows]


def _value(line: object, units: str) -> str:
    value, unit, words, item = (getattr(line, name) for name in ("value", "unit", "words", "item"))
    if math.isnan(value):
        return str(words)
    if unit == "1" and float(value).is_integer():
        return f"{value:.0f}"
    if unit == "1" or item == "lot tolerance":
        return f"{value:.4g} {'' if unit == '1' else unit}".rstrip()
    return quantity(value, unit, units)


def _band(line: object, units: str) -> str:
    """Permitted band in words; empty where the design assumed none."""
    unit = str(getattr(line, "unit"))  # noqa: B009
    low, high = (float(getattr(line, name)) for name in ("band_low", "band_high"))
    if math.isnan(getattr(line, "value")) or (math.isnan(low) and math.isnan(high)):  # noqa: B009
        return ""
    if math.isnan(low):
        return f"at most {quantity(high, unit, units, digits=3)}"
    if math.isnan(high):
        return f"at least {quantity(low, unit, units)}"
    name = trade(low, unit, units)[1]
    return (
        f"{quantity(low, unit, units).removesuffix(name).rstrip()} to {quantity(high, unit, units)}"
    )


def _markdown_table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    return "".join(_markdown_lines(head, rows))


def _markdown_lines(head: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    yield f"| {' | '.join(head)} |\n"
    yield f"|{'|'.join(' --- ' for _ in head)}|\n"
    for row in rows:
        yield f"| {' | '.join(markdown_text(cell) for cell in row)} |\n"


def markdown_text(text: str) -> str:
    """Return text on one line in which nothing is taken for Markdown or for a tag."""
    line = html.escape(" ".join(text.split()), quote=False)
    return _SPECIAL.sub(r"\\\1", line)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
