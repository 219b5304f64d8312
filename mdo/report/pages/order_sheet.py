"""Order sheet of the tubes: Markdown, a section of a page, CSV; from the table of a result."""

from __future__ import annotations

import html
import math
import re
from collections.abc import Iterator, Mapping
from functools import partial
from typing import Any, NamedTuple

import pandas as pd

from mdo.defend.order.sheet import BASIS, COUNTS, TESTS
from mdo.report.words.cells import NO_BREAK, Style, terminal
from mdo.report.words.printed import pretty, prose, upper_first
from mdo.report.words.table import Columns, Table, table_of, without_empty

TITLE = "Order sheet for the tubes"
TABLE = "order_sheet"
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
    wanted = []
    counts = sheet[sheet["section"] == COUNTS]
    every, of_sets = counts["item"] == "tubes", counts["value"]
    wings = of_sets[every].sum() / of_sets[~every].sum()
    for line in counts[~every].itertuples():
        needed = quantities.aircraft * round(wings * line.value)
        spare = quantities.spare_tubes(needed)
        wanted.append(Wanted(line.item, needed, spare, needed + spare))
    sums = (sum(getattr(line, name) for line in wanted) for name in ("needed", "spare", "total"))
    return [*wanted, Wanted("all tubes", *sums)]


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
    for name, lines in _sections(sheet, terminal(units)):
        parts.append(f"## {upper_first(name)}\n\n{_markdown(lines)}")
        if name == COUNTS:
            whole = "aircraft, both wings" if "aircraft" in set(sheet["of"]) else "assemblies"
            title = f"Quantities for {quantities.aircraft} {whole}"
            rows = [tuple(map(str, line)) for line in wanted_tubes(sheet, quantities)]
            counts = Table(("", "needed", "spare", "to order"), rows)
            parts.append(f"## {title}\n\n{_markdown(counts)}")
    return "\n".join(parts)


def order_sheet_parts(sheet: pd.DataFrame) -> list[tuple[str, Table]]:
    """Return the sections of the order sheet for a page."""
    parts = []
    for name, lines in _sections(sheet, terminal("si")):
        rows = [[_unbroken(pretty(prose(str(cell)))) for cell in row] for row in lines.rows]
        parts.append((upper_first(name), lines._replace(rows=rows)))
    return parts


def _unbroken(cell: str) -> str:
    """Short cell kept on one line: a number and its unit."""
    return cell.replace(" ", NO_BREAK) if len(cell) <= SHORT else cell


def ordered_table(sheet: pd.DataFrame, quantities: Quantities) -> pd.DataFrame:
    """Order sheet as a table [SI] with the quantities to order at its end."""
    lines = [
        {"section": "quantities", "item": f"{tubes.item}, {kind}", "value": float(count),
         "unit": "1", "words": "", "of": "whole order", "note": ""}
        for tubes in wanted_tubes(sheet, quantities)
        for kind, count in zip(Wanted._fields[1:], tubes[1:], strict=True)
    ]  # fmt: skip
    return pd.concat([sheet, pd.DataFrame(lines)], ignore_index=True)[list(sheet.columns)]


def _sections(sheet: pd.DataFrame, style: Style) -> Iterator[tuple[str, Table]]:
    """Name and lines of each section of the sheet, without columns that say nothing."""
    for name, part in sheet.groupby("section", sort=False):
        columns: Columns = {
            {TESTS: "standard", BASIS: ""}.get(str(name), "item"): "item plain",
            " " if name in {TESTS, BASIS} else "value": partial(_value, style=style),
            "band assumed": partial(_band, style=style),
            "of": "of plain",
            "note": "note plain",
        }
        table = without_empty(table_of(part, columns, kind="lead"))
        yield str(name), table._replace(head=[title.strip() for title in table.head])


def _value(line: Any, style: Style) -> str:
    if math.isnan(line.value):
        return str(line.words)
    if line.unit == "1" and float(line.value).is_integer():
        return f"{line.value:.0f}"
    if line.unit == "1" or line.item == "lot tolerance":
        return f"{line.value:.4g} {line.unit.removeprefix('1')}".rstrip()
    return style.number(line.value, line.unit)


def _band(line: Any, style: Style) -> str:
    """Permitted band in words; empty where the design assumed none."""
    low, high = line.band_low, line.band_high
    if math.isnan(line.value) or (math.isnan(low) and math.isnan(high)):
        return ""
    if math.isnan(low):
        return f"at most {style.number(high, line.unit, digits=3)}"
    first, last = (style.number(end, line.unit) for end in (low, high))
    if math.isnan(high):
        return f"at least {first}"
    return f"{first.removesuffix(last.partition(' ')[2]).rstrip()} to {last}"


def _markdown(table: Table) -> str:
    """Table as Markdown."""
    lines = [table.head, ["---"] * len(table.head)]
    lines += [[markdown_text(str(cell)) for cell in row] for row in table.rows]
    return "".join(f"| {' | '.join(line)} |\n" for line in lines)


def markdown_text(text: str) -> str:
    """Return text on one line in which nothing is taken for Markdown or for a tag."""
    line = html.escape(" ".join(text.split()), quote=False)
    return _SPECIAL.sub(r"\\\1", line)
