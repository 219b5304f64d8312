"""Pieces of a page: escaped text, tables, folded blocks, figures."""

from __future__ import annotations

import html
import math
from collections.abc import Iterable, Sequence

import plotly.graph_objects as go

from mdo.explore.wording import quantity, trade

_PRETTY = (
    ("N*m", "N·m"), ("**2", "²"), ("**3", "³"), ("degC", "°C"), ("degF", "°F"),
    ("(kg*K)", "(kg·K)"), ("(m*K)", "(m·K)"), ("(m²*K)", "(m²·K)"), (" deg", "°"),
)  # fmt: skip


def escaped(text: object) -> str:
    """Return text made safe for a page."""
    return html.escape(str(text), quote=True)


def pretty(text: str) -> str:
    """Return text with units as they are printed on a page."""
    for plain, printed in _PRETTY:
        text = text.replace(plain, printed)
    return text


def prose(text: str) -> str:
    """Return a sentence with temperatures as they are printed on a page."""
    return text.replace(" degC", " °C").replace(" degF", " °F")


def number(value: float, unit: str, *, digits: int = 4, difference: bool = False) -> str:
    """Return an SI number in trade units as it is printed on a page, a dash where there is none."""
    text = pretty(quantity(value, unit, digits=digits, difference=difference))
    if text == "-":
        return "–"
    return text.replace("-", "−", 1) if text.startswith("-") else text


def given_number(value: float, unit: str, *, difference: bool = False) -> str:
    """Return a number that somebody gave, without zeros that nobody wrote."""
    if not math.isfinite(value):
        return "–"
    shown, name = trade(value, unit, "si", difference=difference)
    text = f"{shown:.6g} {name}".rstrip().replace("-", "−", 1 if shown < 0.0 else 0)
    return pretty(text)


def table(
    head: Sequence[str],
    rows: Iterable[Sequence[str]],
    *,
    right: Sequence[int] = (),
    marks: Sequence[str] = (),
    kind: str = "",
) -> str:
    """Return a table; cells are escaped.

    Parameters
    ----------
    head : titles of the columns
    rows : cells as text
    right : columns that are aligned to the right
    marks : class of each row, empty for none
    kind : class of the table; ``lead`` keeps the first column wide
    """

    def cells(row: Sequence[str], tag: str) -> str:
        return "".join(
            f"<{tag}{' class=r' if place in right else ''}>{escaped(cell)}</{tag}>"
            for place, cell in enumerate(row)
        )

    body = "".join(
        f"<tr{f' class={marks[place]}' if place < len(marks) and marks[place] else ''}>"
        f"{cells(row, 'td')}</tr>\n"
        for place, row in enumerate(rows)
    )
    return (
        f'<div class="wide {kind}"><table><thead><tr>{cells(head, "th")}</tr></thead>\n'
        f"<tbody>{body}</tbody></table></div>\n"
    )


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


def section(anchor: str, title: str, content: str) -> str:
    """Return a section with its heading; the content is not escaped."""
    return f'<section id="{anchor}"><h2>{escaped(title)}</h2>\n{content}</section>\n'


def drawn(figure: go.Figure, name: str) -> str:
    """Return a figure as a piece of a page that has the library already.

    ``name`` makes its id, so that the same result gives the same page.
    """
    text: str = figure.to_html(
        full_html=False,
        include_plotlyjs=False,
        include_mathjax=False,
        div_id=f"figure-{name}",
        default_height=f"{figure.layout.height}px",
        config={"displayModeBar": False, "responsive": True},
    )
    return text
