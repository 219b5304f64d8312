"""Tables in words: titles and cells as text, for a page or a terminal.

``tables.toml`` says which columns of the tables of a result are shown, and how.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from mdo.data_files import toml_beside
from mdo.report.words.cells import FORMS, NUMBERS, PAGE, Cell, Style, terminal
from mdo.report.words.printed import DASH
from mdo.results.columns import column_facts
from mdo.study.number_text import aligned

LONG_WORD = 60  # letters from which a word of a cell is broken anywhere
BY_LINE = "see column unit"  # the unit of a number stands in its own line


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
    note
        Says how many of its rows are shown, empty where all are.
    """

    head: Sequence[str]
    rows: Sequence[Sequence[str | Cell]]
    right: Collection[int] = ()
    marks: Sequence[str] = ()
    kind: str = ""
    sortable: bool = False
    note: str = ""

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


Shown = str | Callable[[Any], str | Cell]
Columns = Mapping[str, Shown]


class ShownTable(NamedTuple):
    """What is shown of a table of a result: see the head of ``tables.toml``."""

    columns: Columns
    of: str = ""
    rows: str = ""
    kind: str = ""
    sortable: bool = False
    sparse: bool = False
    marks: Mapping[str, str] = {}
    terminal: Sequence[str] = ()


SHOWN = {name: ShownTable(**block) for name, block in toml_beside(__file__, "tables").items()}


def shown_table(name: str, frame: pd.DataFrame) -> Table:
    """Return lines of a table of the result as a page shows them.

    Parameters
    ----------
    name : of the block of ``tables.toml``
    frame : the table, SI
    """
    plan = SHOWN[name]
    lines = shown_lines(name, frame)
    marks = np.full(len(lines), "", dtype=object)
    for mark, condition in reversed(list(plan.marks.items())):
        marks[lines.eval(condition, engine="python").to_numpy(bool)] = mark
    made = table_of(
        lines, plan.columns, table=plan.of or name, kind=plan.kind, sortable=plan.sortable
    )
    made = made._replace(marks=marks.tolist())
    return without_empty(made) if plan.sparse else made


def shown_lines(name: str, frame: pd.DataFrame) -> pd.DataFrame:
    """Return the lines of a table of the result that are shown."""
    condition = SHOWN[name].rows
    return frame.query(condition, engine="python") if condition else frame


def terminal_lines(name: str, frame: pd.DataFrame, units: str) -> list[str]:
    """Return lines of a table of the result as a terminal shows them, as :func:`shown_table`."""
    plan = SHOWN[name]
    columns = {title: plan.columns[title] for title in plan.terminal or plan.columns}
    lines = shown_lines(name, frame)
    made = table_of(lines, columns, table=plan.of or name, style=terminal(units))
    return in_lines(without_empty(made) if plan.sparse else made)


def without_empty(table: Table) -> Table:
    """Return a table without columns that say nothing; the first one stays."""
    used = [at for at in range(len(table.head))
            if at == 0 or any(row[at] not in {"", "-", DASH} for row in table.rows)]  # fmt: skip
    return table._replace(
        head=[table.head[at] for at in used], rows=[[row[at] for at in used] for row in table.rows],
        right=[place for place, at in enumerate(used) if at in table.right],
    )  # fmt: skip


def table_of(
    frame: pd.DataFrame, columns: Columns, *, table: str = "", style: Style = PAGE,
    kind: str = "", sortable: bool = False,
) -> Table:  # fmt: skip
    """Return lines of a table as they are printed.

    Parameters
    ----------
    frame : a table of a result, SI
    columns : title of each column, and what stands in it: ``column`` or ``column form``, or what
        makes text of a line
    table : its name in the result
    style : how numbers and words are printed; units are those of :mod:`mdo.results.columns`, or of
        the column ``unit``
    kind, sortable : of :class:`Table`
    """
    cells = [_cells(frame, what, table, style) for what in columns.values()]
    places = [place for place, (_, is_number) in enumerate(cells) if is_number]
    rows = list(zip(*(column for column, _ in cells), strict=True))
    return Table(list(columns), rows, places, (), kind, sortable)


def _cells(
    frame: pd.DataFrame, what: Shown, table: str, style: Style
) -> tuple[list[str | Cell], bool]:
    """Cells of a column, and whether they are numbers."""
    lines = frame.itertuples(index=False)
    if callable(what):
        return [what(line) for line in lines], False
    name, _, form = what.partition(" ")
    if form in FORMS:
        text = FORMS[form]
        return [text(getattr(line, name), line, style) for line in lines], form in NUMBERS
    unit = column_facts(table, name, frame)[0]
    if not unit:
        return [style.words(str(getattr(line, name))) for line in lines], False
    digits = {"digits": int(form)} if form else {}
    return [
        style.number(getattr(line, name), line.unit if unit == BY_LINE else unit, **digits)
        for line in lines
    ], True


def in_lines(table: Table) -> list[str]:
    """Return a table as aligned lines for a terminal."""
    rows = [[cell.text if isinstance(cell, Cell) else cell for cell in row] for row in table.rows]
    return aligned([table.head, *rows], right=tuple(table.right))
