"""Tables in words: titles and cells as text, for a page or a terminal."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from functools import partial
from typing import Any, NamedTuple

import pandas as pd

from mdo.report.words.printed import number, prose
from mdo.results.columns import column_facts
from mdo.study.number_text import aligned, quantity

LONG_WORD = 60  # letters from which a word of a cell is broken anywhere
BY_LINE = "see column unit"  # the unit of a number stands in its own line


class Cell(NamedTuple):
    """Cell of a table that can be sorted: what is shown, and the number that it is sorted by."""

    text: str
    order: float


class ShownCell(NamedTuple):
    """Cell as a template prints it: its text, its class and the number that it is sorted by."""

    text: str
    mark: str
    order: str | None


class Table(NamedTuple):
    """Table as it is printed.

    Attributes
    ----------
    head, rows
        Titles of the columns, and cells as text.
    right
        Columns that are aligned to the right.
    marks
        Class of each row, empty for none.
    kind
        Class of the table; ``lead`` keeps the first column wide.
    sortable
        Titles become buttons that sort the rows.
    """

    head: Sequence[str]
    rows: Sequence[Sequence[str | Cell]]
    right: Collection[int] = ()
    marks: Sequence[str] = ()
    kind: str = ""
    sortable: bool = False

    def shown_rows(self) -> Iterator[tuple[str, list[ShownCell]]]:
        """Class of each row and its cells."""
        for at, row in enumerate(self.rows):
            cells = [self._shown(place, cell) for place, cell in enumerate(row)]
            yield (self.marks[at] if at < len(self.marks) else ""), cells

    def _shown(self, place: int, cell: str | Cell) -> ShownCell:
        text = cell.text if isinstance(cell, Cell) else cell
        long = any(len(word) > LONG_WORD for word in text.split())
        mark = "broken" if long else "r" if place in self.right else ""
        if not isinstance(cell, Cell):
            return ShownCell(text, mark, None)
        return ShownCell(text, mark, f"{cell.order:.9g}" if math.isfinite(cell.order) else "")


class Style(NamedTuple):
    """How cells are printed: a number with its SI unit, and words."""

    number: Callable[..., str]
    words: Callable[[str], str]


Shown = str | tuple[str, Callable[[Any], str]] | Callable[[Any], str | Cell]
Columns = Mapping[str, Shown]
PAGE = Style(number, prose)


def terminal(units: str, digits: int = 4) -> Style:
    """How a terminal prints cells, in ``si`` or ``us`` trade units."""
    return Style(partial(quantity, units=units, digits=digits), str)


def table_of(
    frame: pd.DataFrame,
    columns: Columns,
    *,
    style: Style = PAGE,
    right: Collection[str] = (),
    mark: Callable[[Any], str] | None = None,
    kind: str = "",
    sortable: bool = False,
) -> Table:
    """Return lines of a table of the result as they are printed.

    Parameters
    ----------
    frame : a table of a result, SI
    columns : title of each column, and what stands in it: the name of a column, that name with
        what makes text of its value, or what makes text of a line
    style : how numbers and words are printed; units are those of :mod:`mdo.results.columns`, or of
        the column ``unit``
    right : titles of columns aligned to the right, beside those of numbers
    mark : class of a line
    kind, sortable : of :class:`Table`
    """
    lines = list(frame.itertuples(index=False))
    shown = [_column(frame, what, style) for what in columns.values()]
    rows = [[text(line) for text, _ in shown] for line in lines]
    places = [
        place
        for place, (title, (_, is_number)) in enumerate(zip(columns, shown, strict=True))
        if is_number or title in right
    ]
    marks = [] if mark is None else [mark(line) for line in lines]
    return Table(list(columns), rows, places, marks, kind, sortable)


def _column(
    frame: pd.DataFrame, what: Shown, style: Style
) -> tuple[Callable[[Any], str | Cell], bool]:
    """What makes text of a line, and whether it is a number."""
    if callable(what):
        return what, False
    name, text = (what, None) if isinstance(what, str) else what
    unit = column_facts("", name, frame)[0]
    if text is not None:
        return lambda line: text(getattr(line, name)), bool(unit)
    if not unit:
        return lambda line: style.words(str(getattr(line, name))), False
    if unit == BY_LINE:
        return lambda line: style.number(getattr(line, name), line.unit), True
    return lambda line: style.number(getattr(line, name), unit), True


def in_lines(table: Table, *, titles: bool = True) -> list[str]:
    """Return a table as aligned lines for a terminal."""
    rows = [[cell.text if isinstance(cell, Cell) else cell for cell in row] for row in table.rows]
    return aligned([table.head, *rows] if titles else rows, right=tuple(table.right))
