"""Quantities of results side by side: which group takes which numbers from which table."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any, NamedTuple

import pandas as pd

from mdo.report.figures.design import worst_per_group
from mdo.report.words.printed import step_words

SAME = 1e-6  # relative difference of numbers that are alike; optima agree to about that
Tables = Mapping[str, pd.DataFrame]


class Value(NamedTuple):
    """A number of one result: SI value, unit, whose it is."""

    value: float
    unit: str
    of: str = ""


class Line(NamedTuple):
    """One quantity of all results, NaN where a result does not have it; inf: no design left."""

    name: str
    unit: str
    of: str
    numbers: tuple[float, ...]
    apart: bool

    @property
    def alike(self) -> bool:
        """Whether all results have the same number."""
        return all(same(self.numbers[0], value) for value in self.numbers[1:])


class Group(NamedTuple):
    """Quantities of a kind."""

    title: str
    lines: tuple[Line, ...]


class Take(NamedTuple):
    """Numbers that a group takes from a table.

    Attributes
    ----------
    table, value
        Of the result, and its column.
    name, unit, of
        Text with the columns of a line in braces.
    lines
        Makes the lines that are taken of the table.
    """

    table: str
    value: str
    name: str
    unit: str
    of: str = ""
    lines: Callable[[pd.DataFrame], pd.DataFrame] = lambda frame: frame

    def values(self, tables: Tables) -> dict[str, Value]:
        """Numbers by name, the least of each; none where a result lacks table or columns."""
        try:
            lines = self.lines(tables[self.table]).to_dict("records")
            return self._least(lines)
        except (KeyError, pd.errors.UndefinedVariableError):
            return {}

    def _least(self, lines: Sequence[Mapping[Any, Any]]) -> dict[str, Value]:
        least: dict[str, Value] = {}
        for line in lines:
            unit, of = self.unit.format_map(line), self.of.format_map(line)
            name = self.name.format_map(line).removesuffix(f", {of}").strip()
            value = Value(float(line[self.value]), unit, of)
            known = least.setdefault(name, value).value
            if math.isnan(known) or value.value < known:
                least[name] = value
        return least


def _where(condition: str) -> Callable[[pd.DataFrame], pd.DataFrame]:
    return partial(pd.DataFrame.query, expr=condition, engine="python")


def _worst(compliance: pd.DataFrame) -> pd.DataFrame:
    """Worst line of each kind of requirement; the driver's share is none."""
    return _where("group != 'driver'")(worst_per_group(compliance))


def _stepped(costs: pd.DataFrame) -> pd.DataFrame:
    """Costs that are none are left out, with their steps in words."""
    return costs[costs["tightening"] != 0.0].assign(step=costs["per"].map(step_words))


def _spoken(design: pd.DataFrame) -> pd.DataFrame:
    return design.assign(words=design["variable"].str.replace("_", " "))


def _electrical(power: pd.DataFrame) -> pd.DataFrame:
    """Electrical results that are there, with short names."""
    lines = power[(power["unit"] != "kg") & (power["value"] != 0.0)]
    return lines.assign(meaning=lines["meaning"].str.removesuffix(" of one wing"))


NOT_TOTAL = _where("line != 'total' and total > 0")
TOTAL = _where("line == 'total'")
ORDERED_SECTIONS = _where("section in ('basis', 'tube', 'counts') and value.notna()")
MAIN, LEAST, TIMES, DESIGN, ORDERED, MARGINS, LINES, WINDOW, COSTS = (
    "Mass and power",
    "Least torque margin A/R - 1 of each leg",
    "Times",
    "Design",
    "As ordered, whole tubes",
    "Worst margin of each requirement",
    "Mass lines",
    "Transformation window",
    "What one harder step of each requirement costs",
)
GROUPS: Mapping[str, Sequence[Take]] = {
    MAIN: (
        Take("masses", "total", "mass of the fold actuation", "kg", "aircraft", TOTAL),
        Take("masses", "basic", "basic mass of the fold actuation", "kg", "aircraft", TOTAL),
        Take("masses", "growth", "growth of the fold actuation", "kg", "aircraft", TOTAL),
        Take("power", "value", "{meaning}", "{unit}", "{of}", _electrical),
    ),
    LEAST: (Take("torque", "torque_margin", "{leg}", "1", "one wing"),),
    TIMES: (Take("times", "time", "{leg}: {what}", "s", "", _where("time.notna()")),),
    DESIGN: (Take("design", "value", "{words} {set}", "{unit}", "{of}", _spoken),),
    ORDERED: (Take("order_sheet", "value", "{item}", "{unit}", "{of}", ORDERED_SECTIONS),),
    MARGINS: (Take("compliance", "margin", "{requirement}", "{unit}", "{of}", _worst),),
    LINES: (Take("masses", "total", "{line}", "kg", "aircraft", NOT_TOTAL),),
    WINDOW: tuple(
        Take("window", column, f"{{temperature}} {words}", "K", "", _where(f"{column}.notna()"))
        for column, words in (
            ("at_least", "demanded, at least"), ("at_most", "demanded, at most"),
            ("card", "of the alloy"),
        )
    ),
    COSTS: (Take("costs", "tightening", "{title}, {step}", "kg", "aircraft", _stepped),),
}  # fmt: skip


def compared_groups(results: Sequence[Tables]) -> tuple[Group, ...]:
    """Return the quantities of all results by group, those groups that one of them has."""
    groups = (Group(title, _lines(title, takes, results)) for title, takes in GROUPS.items())
    return tuple(group for group in groups if group.lines)


def _lines(title: str, takes: Sequence[Take], results: Sequence[Tables]) -> tuple[Line, ...]:
    """Quantities of all results by name, in the order in which they come up."""
    values = [
        {name: value for take in takes for name, value in take.values(tables).items()}
        for tables in results
    ]
    lines = []
    for name in dict.fromkeys(name for by_name in values for name in by_name):
        known = [by_name.get(name) for by_name in values]
        for unit in dict.fromkeys(value.unit for value in known if value is not None):
            mine = [value if value is not None and value.unit == unit else None for value in known]
            whose = next(value.of for value in mine if value is not None)
            numbers = tuple(math.nan if value is None else value.value for value in mine)
            lines.append(Line(name, unit, whose, numbers, title == MARGINS))
    return tuple(lines)


def same(first: float, other: float) -> bool:
    """Whether two numbers are alike, or both missing."""
    if math.isnan(first) or math.isnan(other):
        return math.isnan(first) and math.isnan(other)
    return first == other or math.isclose(first, other, rel_tol=SAME, abs_tol=1e-15)
