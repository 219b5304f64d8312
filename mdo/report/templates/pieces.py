"""Pieces of pages that are still put together in Python; new ones are templates."""

from __future__ import annotations

import html
import json
import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

import plotly.graph_objects as go

from mdo.report.pages import parts
from mdo.report.words.printed import (
    DASH,
    KILO,
    WIDE,
    ZERO_CELSIUS,
    given_number,
    known,
    number,
    pretty,
    prose,
    signed,
    two,
)
from mdo.report.words.table import LONG_WORD, Cell

__all__ = [
    "DASH",
    "KILO",
    "LONG_WORD",
    "WIDE",
    "ZERO_CELSIUS",
    "Cell",
    "given_number",
    "known",
    "number",
    "pretty",
    "prose",
    "signed",
    "two",
]


STYLE = "report.css"
SCRIPT = "report.js"
CAVEAT = (
    "Concept study, not certification evidence. Every number is computed, nothing was measured."
)

Section = tuple[str, str, str]


class Part(NamedTuple):
    """A part of the page: id, title, what it answers, its sections (id, link, content)."""

    anchor: str
    title: str
    question: str
    sections: Sequence[Section]


def escaped(text: object) -> str:
    """Return text made safe for a page."""
    return html.escape(str(text), quote=True)


def table(
    head: Sequence[str],
    rows: Iterable[Sequence[str | Cell]],
    *,
    right: Sequence[int] = (),
    marks: Sequence[str] = (),
    kind: str = "",
    sortable: bool = False,
) -> str:
    """Return a table; cells are escaped.

    Parameters
    ----------
    head : titles of the columns
    rows : cells as text
    right : columns that are aligned to the right
    marks : class of each row, empty for none
    kind : class of the table; ``lead`` keeps the first column wide
    sortable : titles become buttons that sort the rows
    """
    body = "".join(
        f"<tr{f' class={marks[place]}' if place < len(marks) and marks[place] else ''}>"
        f"{_cells(row, right)}</tr>\n"
        for place, row in enumerate(rows)
    )
    mark = " class=sortable" if sortable else ""
    return (
        f'<div class="wide {kind}"><table{mark}><thead><tr>{_heads(head, right, sortable)}</tr>'
        f"</thead>\n<tbody>{body}</tbody></table></div>\n"
    )


def _cells(row: Sequence[str | Cell], right: Sequence[int]) -> str:
    shown = []
    for place, cell in enumerate(row):
        mark = " class=r" if place in right else ""
        text = cell.text if isinstance(cell, Cell) else cell
        if any(len(word) > LONG_WORD for word in text.split()):
            mark = " class=broken"
        if isinstance(cell, Cell):
            order = f"{cell.order:.9g}" if math.isfinite(cell.order) else ""
            mark += f' data-order="{order}"'
        shown.append(f"<td{mark}>{escaped(text)}</td>")
    return "".join(shown)


def _heads(head: Sequence[str], right: Sequence[int], sortable: bool) -> str:
    """Return the titles of the columns; those without a title are plain cells."""
    shown = []
    for place, title in enumerate(head):
        mark = " class=r" if place in right else ""
        if not title:
            shown.append(f"<td{mark}></td>")
        elif sortable:
            button = f'<button type="button">{escaped(title)}</button>'
            shown.append(f'<th scope="col" aria-sort="none"{mark}>{button}</th>')
        else:
            shown.append(f'<th scope="col"{mark}>{escaped(title)}</th>')
    return "".join(shown)


def folded(title: str, content: str, *, is_open: bool = False) -> str:
    """Return a block that opens at a click; the title is escaped, the content is not."""
    return (
        f"<details{' open' if is_open else ''}><summary>{escaped(title)}</summary>\n"
        f"{content}</details>\n"
    )


def paragraph(text: str, *, kind: str = "") -> str:
    """Return a paragraph of escaped text."""
    mark = f' class="{kind}"' if kind else ""
    return f"<p{mark}>{escaped(text)}</p>\n"


def bullets(items: Iterable[str]) -> str:
    """Return a list of escaped lines, nothing for none."""
    lines = "".join(f"<li>{escaped(item)}</li>\n" for item in items)
    return f"<ul>\n{lines}</ul>\n" if lines else ""


def definition(text: str, *, title: str = "What this means") -> str:
    """Return how numbers are defined, behind a line that opens it; escaped."""
    return (
        f'<details class="definition"><summary>{escaped(title)}</summary>\n'
        f"<p>{escaped(text)}</p></details>\n"
    )


def section(anchor: str, title: str, content: str) -> str:
    """Return a section with its heading; the content is not escaped."""
    return (
        f'<section id="{anchor}" aria-labelledby="{anchor}-head">'
        f'<h3 id="{anchor}-head">{escaped(title)}</h3>\n{content}</section>\n'
    )


def picture(content: str, caption: str, *, behind: str = "", more: str = "The numbers") -> str:
    """Return a drawing or a figure with its caption, and the table behind it.

    Parameters
    ----------
    content : of :func:`drawn`, or a drawing; not escaped
    caption : how to read it and what follows from it; escaped
    behind : table, not escaped
    more : title of what is behind
    """
    return (
        f'<figure class="picture">\n{content}<figcaption>{escaped(caption)}</figcaption>\n'
        f"</figure>\n{folded(more, behind) if behind else ''}"
    )


def drawn(figure: go.Figure, name: str, alternative: str) -> str:
    """Return a figure as a piece of a page that has the library already."""
    made = parts.drawn(figure, name, alternative)
    said = escaped(made.alternative)
    return f'<div class="plot" role="img" aria-label="{said}">{made.html}</div>\n'


def navigation(parts: Sequence[Part]) -> str:
    """Five links with those of their sections."""
    items = ""
    for place, part in enumerate(parts, 1):
        links = "".join(
            f'<li><a href="#{anchor}">{escaped(words)}</a></li>\n'
            for anchor, words, _ in part.sections
        )
        head = f'<a href="#{part.anchor}"><b>{place}</b> {escaped(part.title)}</a>'
        items += f"<li>{head}\n<ul>\n{links}</ul></li>\n"
    return f'<nav aria-label="Parts of the report">\n<ol>\n{items}</ol>\n</nav>\n'


def part_html(place: int, part: Part) -> str:
    """One part with its sections."""
    return (
        f'<section class="part" id="{part.anchor}" aria-labelledby="{part.anchor}-head">\n'
        f'<h2 id="{part.anchor}-head"><b>{place}</b> {escaped(part.title)}'
        f"<small>{escaped(part.question)}</small></h2>\n"
        f"{''.join(content for _, _, content in part.sections)}</section>\n"
    )


def script_safe(data: object) -> str:
    """Return data as JSON that no text in it can end the script with."""
    text = json.dumps(data, ensure_ascii=True, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
