"""Pieces of a page: escaped text, tables, folded blocks, figures."""

from __future__ import annotations

import html
import math
import re
from collections.abc import Iterable, Sequence
from typing import NamedTuple

import plotly.graph_objects as go

from mdo.study.number_text import figure, quantity, trade

DIGITS = 3  # of a number on the page, unless its interval allows fewer
_DEGREES = re.compile(r"(\d) deg\b")
_POWER = re.compile(r"(?<=\d)e([+-]\d+)\b")
_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
_MINUS = re.compile(r"(?<![\w.])-(?=\d)")
KILO = 1e3
LONG_WORD = 60  # letters from which a word of a cell is broken anywhere
WIDE = 0.01  # [m2] from here on an area is in square metres
WHOLE = 1e12  # below it whole numbers are printed whole
ZERO_CELSIUS = 273.15
DASH = "–"

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
    return _POWER.sub(lambda found: f"·10{str(int(found[1])).translate(_RAISED)}", text)


def prose(text: str) -> str:
    """Return a sentence with its temperatures, angles and minus signs as they are printed."""
    text = text.replace(" degC", " °C").replace(" degF", " °F")
    return _MINUS.sub("−", _DEGREES.sub(r"\1°", text))


def number(value: float, unit: str, *, digits: int = DIGITS, difference: bool = False) -> str:
    """Return an SI number in trade units as it is printed on a page, a dash where there is none.

    Temperatures are whole degrees, powers from 1 kW on are in kilowatts.
    """
    if unit == "K" and not difference and math.isfinite(value):
        text = f"{value - ZERO_CELSIUS:.0f} °C"
        text = "0 °C" if text == "-0 °C" else text
    elif unit == "m**3" and math.isfinite(value):
        text = f"{figure(KILO * value, digits)} L"
    elif unit == "m**2" and abs(value) >= WIDE:
        text = f"{figure(value, digits)} m²"
    elif unit == "W" and abs(value) >= KILO:
        text = f"{figure(value / KILO, digits)} kW"
    elif unit == "J" and abs(value) >= KILO**2:
        text = f"{figure(value / KILO**2, digits)} MJ"
    else:
        text = pretty(quantity(value, unit, digits=digits, difference=difference))
    if text == "-":
        return DASH
    return signed(text)


def signed(text: str) -> str:
    """Return the text of a number with a minus as it is printed."""
    return text.replace("-", "−", 1) if text.startswith("-") else text


def two(value: float, unit: str) -> str:
    """Return a number with two digits, as one that has a wide interval is printed."""
    return number(float(f"{value:.1e}"), unit, digits=2)


def known(value: float, low: float, high: float, unit: str) -> str:
    """Return a number with no digit beyond a tenth of its interval, at least one and at most three.

    Parameters
    ----------
    value, low, high : in SI; without an interval the number has three digits
    unit : SI
    """
    width = abs(high - low)
    if not math.isfinite(width) or width <= 0.0 or value == 0.0 or not math.isfinite(value):
        return number(value, unit)
    wanted = math.floor(math.log10(abs(value))) - math.log10(width / 10.0)
    digits = min(max(math.floor(wanted) + 1, 1), DIGITS)
    return number(float(f"{value:.{digits - 1}e}"), unit, digits=digits)


def given_number(value: float, unit: str, *, difference: bool = False) -> str:
    """Return a number that somebody gave, without zeros that nobody wrote."""
    if not math.isfinite(value):
        return DASH
    if unit == "m**2" and abs(value) >= WIDE:
        return f"{value:.6g} m²"
    shown, name = trade(value, unit, "si", difference=difference)
    whole = float(shown).is_integer() and abs(shown) < WHOLE
    text = f"{shown:.0f} {name}" if whole else f"{shown:.6g} {name}"
    text = text.rstrip().replace("-", "−", 1 if shown < 0.0 else 0)
    return pretty(text)


class Cell(NamedTuple):
    """Cell of a table that can be sorted: what is shown, and the number that it is sorted by."""

    text: str
    order: float


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
    """Return a figure as a piece of a page that has the library already.

    Parameters
    ----------
    figure : of the library
    name : makes its id, so that the same result gives the same page
    alternative : what the figure says, for who cannot see it; escaped
    """
    text: str = figure.to_html(
        full_html=False,
        include_plotlyjs=False,
        include_mathjax=False,
        div_id=f"figure-{name}",
        default_height=f"{figure.layout.height}px",
        config={"displayModeBar": False, "responsive": True},
    )
    return f'<div class="plot" role="img" aria-label="{escaped(alternative)}">{text}</div>\n'
