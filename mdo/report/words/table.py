"""Tables in words: titles and cells as text, for a page or a terminal."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from typing import NamedTuple

LONG_WORD = 60  # letters from which a word of a cell is broken anywhere


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
