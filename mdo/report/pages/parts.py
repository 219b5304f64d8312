"""Parts and sections of a page, and figures as pieces of it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import plotly.graph_objects as go
from markupsafe import Markup

from mdo.report.templates import macro


class Section(NamedTuple):
    """Section of a page: its id, words of the link to it, its title and its HTML.

    A section with a ``summary`` is folded behind it.
    """

    anchor: str
    link: str
    title: str
    content: Markup
    summary: str = ""


class Part(NamedTuple):
    """Part of a page: its id, title, the question that it answers, and its sections."""

    anchor: str
    title: str
    question: str
    sections: Sequence[Section]


class Drawn(NamedTuple):
    """Figure of a page: its HTML, and what it says for who cannot see it."""

    html: Markup
    alternative: str


def drawn(figure: go.Figure, name: str, alternative: str) -> Drawn:
    """Return a figure as a piece of a page that has the plotting library already.

    Parameters
    ----------
    figure : of the library
    name : makes its id, so that the same result gives the same page
    alternative : what the figure says, for who cannot see it
    """
    text: str = figure.to_html(
        full_html=False,
        include_plotlyjs=False,
        include_mathjax=False,
        div_id=f"figure-{name}",
        default_height=f"{figure.layout.height}px",
        config={"displayModeBar": False, "responsive": True},
    )
    return Drawn(Markup(text), alternative)


def section_of(template: str, anchor: str, link: str, title: str = "", **shown: object) -> Section:
    """Return a section whose content a macro of a template prints, called as the section is.

    Parameters
    ----------
    template : name of the file
    anchor : id of the section; the macro has the same name with underscores
    link, title : words of the link to it and its title, those of the link if left out
    shown : arguments of the macro
    """
    return Section(anchor, link, title or link, macro(template, anchor.replace("-", "_"), **shown))
