"""Columns of an exploration: their words, their unit, and how their numbers are printed."""

from __future__ import annotations

import html
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from mdo.arrays import Floats
from mdo.model.layout import design_labels
from mdo.quantities import quantity_of, title_of
from mdo.report.words.cells import Cell
from mdo.report.words.printed import DASH, ZERO_CELSIUS, large_unit, number, pretty, signed
from mdo.report.words.table import Table
from mdo.study.number_text import figure, trade

Tables = Mapping[str, pd.DataFrame]
LETTERS = 38  # of a name in a figure
_ZEROS = re.compile(r"(?<=\d)\.0+(?=\D|$)|(?<=\.\d)0+(?=\D|$)|(?<=\.\d\d)0+(?=\D|$)")
ROUNDING = 5  # significant digits of a number that is only drawn
FEASIBLE, INFEASIBLE, UNSETTLED = "feasible", "infeasible", "not settled"


class Column(NamedTuple):
    """A column of numbers: name in its table, words, SI unit, and how the unit is meant."""

    name: str
    title: str
    unit: str
    difference: bool = False
    percent: bool = False

    def text(self, value: float) -> str:
        """Return a number as it is printed, with its unit."""
        if self.percent and np.isfinite(value):
            return signed(f"{figure(100.0 * value, 3)} %")
        return number(float(value), self.unit, difference=self.difference)

    def level(self, value: float) -> str:
        """Return a number that was chosen, without zeros that say nothing."""
        return _ZEROS.sub("", self.text(value))

    def scale(self, largest: float) -> tuple[float, float, str]:
        """Return factor, offset and unit in which a column with this largest number is drawn."""
        if self.percent:
            return 100.0, 0.0, "%"
        if self.unit == "K" and not self.difference:
            return 1.0, -ZERO_CELSIUS, "°C"
        if large := large_unit(self.unit, largest):
            return large[0] / large[1], 0.0, large[2]
        near = largest if np.isfinite(largest) and largest > 0.0 else 1.0
        shown, name = trade(near, self.unit, "si", difference=self.difference)
        return shown / near, 0.0, pretty(name)

    def drawn(self, values: Iterable[float], *, like: Iterable[float] = ()) -> tuple[Floats, str]:
        """Return numbers in one unit for a figure, and the title of their axis.

        Parameters
        ----------
        values : SI
        like : numbers of the same figure that share the unit, SI
        """
        numbers = np.asarray(list(values), dtype=float)
        factor, offset, unit = self.scale(largest([*numbers, *like]))
        words = safe(self.title)
        return rounded(factor * numbers + offset), f"{words} [{unit}]" if unit else words


def largest(values: ArrayLike) -> float:
    """Return the largest size among numbers that are known, 0 where there is none."""
    sizes = np.abs(np.asarray(values, dtype=float))
    return float(np.max(sizes[np.isfinite(sizes)], initial=0.0))


class Columns:
    """Columns of the tables of an exploration, by name."""

    def __init__(self, tables: Tables) -> None:
        self.known: dict[str, Column] = {}
        for source, key in (
            ("sweep_columns", "column"), ("front_objectives", "objective"), ("map_axes", "axis"),
            ("assurance_axes", "axis"),
        ):  # fmt: skip
            for line in tables.get(source, pd.DataFrame()).to_dict("records"):
                name, unit = str(line[key]), str(line["unit"])
                per, title = str(line.get("per", "")), str(line["title"])
                if source == "sweep_columns" and len(title) > LETTERS and name.isidentifier():
                    title = title_of(name)
                self.known[name] = _column(name, title, unit, per)

    def of(self, name: str) -> Column:
        """Return a column; one that no table describes is called after its quantity."""
        if name not in self.known:
            quantity = quantity_of(name)
            self.known[name] = _column(name, title_of(name), quantity.unit if quantity else "1", "")
        return self.known[name]


def _column(name: str, title: str, unit: str, per: str) -> Column:
    quantity = quantity_of(name)
    percent = unit == "1" and ("percent" in per or (quantity is not None and quantity.is_percent))
    difference = unit == "K" and quantity is not None and quantity.is_difference
    return Column(name, title, unit, difference, percent)


def with_texts_filled(tables: Tables) -> dict[str, pd.DataFrame]:
    """Return the tables with empty text where a file that was read back has nothing."""
    return {
        name: frame.assign(**{
            column: texts.astype(object).fillna("").astype(str)
            for column, texts in frame.select_dtypes(exclude=["number", "bool"]).items()
        })
        for name, frame in tables.items()
    }  # fmt: skip


def design_columns(frame: pd.DataFrame, built: pd.DataFrame | None = None) -> list[str]:
    """Names of the design variables that a table has values of, in the order of the design.

    Where ``built`` says how its choices are built, those that mean nothing with any are left out.
    """
    sprung = geared = True
    if built is not None and "configuration" in built:
        sprung = (built["configuration"] == "spring_return").any()
        geared = (built["topology"] == "geared").any()
    return [
        name for name in design_labels()
        if name in frame and frame[name].notna().any()
        and (sprung or not name.startswith("spring")) and (geared or name != "gear_ratio")
    ]  # fmt: skip


def safe(text: object, letters: int = LETTERS) -> str:
    """Return text for a label of a figure: short, and nothing in it is taken for more than text."""
    return html.escape(short(text, letters), quote=False).replace("{", "&#123;")


def short(text: object, letters: int = LETTERS) -> str:
    """Return text cut to so many letters."""
    words = str(text)
    return words if len(words) <= letters else f"{words[: letters - 1].rstrip()}…"


def broken(text: object, letters: int = LETTERS) -> str:
    """Return text of a label on at most two lines."""
    words = str(text).split()
    fit = sum(len(" ".join(words[: at + 1])) <= letters for at in range(len(words)))
    if fit in {0, len(words)}:
        return safe(text, letters)
    return "<br>".join(safe(" ".join(part), letters) for part in (words[:fit], words[fit:]))


def numbers(values: ArrayLike, digits: int = ROUNDING) -> list[Any]:
    """Return numbers as lists with no more digits than a figure shows; None where there is none."""
    found = np.asarray(values, dtype=float)
    if found.ndim > 1:
        return [numbers(row, digits) for row in found]
    return [float(f"{value:.{digits}g}") if np.isfinite(value) else None for value in found]


def rounded(values: ArrayLike) -> Floats:
    """Return numbers with no more digits than a figure shows."""
    return np.array(numbers(values), dtype=float)


def thinned(frame: pd.DataFrame, most: int) -> pd.DataFrame:
    """Return at most so many rows, evenly picked in their order."""
    if len(frame) <= most:
        return frame
    return frame.iloc[np.round(np.linspace(0, len(frame) - 1, most)).astype(int)]


def thinned_words(shown: int, of: int, what: str, source: str) -> str:
    """Return the sentence that says how many of how many are shown; nothing where all are."""
    if shown >= of:
        return ""
    return (
        f"{shown:,} of {of:,} {what} are shown here, evenly picked; the table {source} beside this "
        "page has all."
    )


def values_table(
    frame: pd.DataFrame, columns: Sequence[Column], *, most: int, words: Mapping[str, str],
    first: Mapping[str, str], what: str = "",
) -> Table:  # fmt: skip
    """Return a table of rows that can be sorted, thinned where they are many, which its note says.

    Parameters
    ----------
    frame : SI
    columns : of numbers
    most : rows that are shown at most
    words : columns of text and their titles, after the numbers
    first : whole numbers or text and their titles, before the numbers
    what : the rows are, all of them in the table ``map_points``; no note without
    """
    shown = thinned(frame, most)
    rows = [
        [
            *(_plain_cell(line[name]) for name in first),
            *(Cell(column.text(line[column.name]), float(line[column.name])) for column in columns),
            *(str(line[name]) or DASH for name in words),
        ]
        for line in shown.to_dict("records")
    ]
    head = [*first.values(), *(short(column.title) for column in columns), *words.values()]
    right = tuple(range(len(first), len(first) + len(columns)))
    note = thinned_words(len(shown), len(frame), what, "map_points") if what else ""
    return Table(head, rows, right=right, sortable=True, kind="tight", note=note)


def _plain_cell(value: object) -> str | Cell:
    if isinstance(value, int | np.integer):
        return Cell(f"{int(value):,}", float(value))
    return str(value) or DASH
