"""Parts and sections of a page, and figures as pieces of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import pandas as pd
import plotly.graph_objects as go
from markupsafe import Markup

from mdo.data_files import toml_beside
from mdo.defend.verdict import INFEASIBLE, OPEN_ITEMS, PASSES
from mdo.optimise.appraisal import Appraisal
from mdo.report.templates import macro
from mdo.report.words.printed import prose
from mdo.report.words.table import SHOWN, Table, shown_table
from mdo.results.manifest import tool_versions

BAD, WARN, GOOD = "is-bad", "is-warn", "is-good"  # classes of what is said
MARK_OF_VERDICT = {INFEASIBLE: BAD, OPEN_ITEMS: WARN, PASSES: GOOD}
Facts = dict[str, Any]
SECTIONS = {
    anchor: (template, *words)
    for template, known in toml_beside(__file__, "sections").items()
    for anchor, words in known.items()
}


class Head(NamedTuple):
    """What a page says of its study and of the run: analysis, content of the study, versions."""

    kind: str
    content: Mapping[str, Any]
    versions: Mapping[str, str]
    seed: int = 0
    study_hash: str = ""

    def shown(self, what: str = "") -> dict[str, str]:
        """What the head of a page prints, with what the page is."""
        study, whose = self.content["study"], self.content.get("bench") or self.content["vehicle"]
        what = what or f", analysis '{self.kind}'"
        about = f"{study['name']}{what}. Vehicle: {whose['name']}."
        return {"title": study.get("title") or study["name"], "about": about,
                "description": study.get("description", "")}  # fmt: skip


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
    """Return a figure as a piece of a page, drawn once the plotting library at its end is there.

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
        auto_play=False,  # a slide while it plays by itself moved the label and left the panel
        config={"displayModeBar": False, "responsive": True},
    )
    return Drawn(Markup(text.replace("<script", '<script type="module"')), alternative)


def section_of(anchor: str, *, title: Any = "", **shown: Any) -> Section:
    """Return a section of ``sections.toml``, whose content a macro of its template prints.

    Parameters
    ----------
    anchor : id of the section
    title : another one than there
    shown : arguments of the macro
    """
    template, link, *more = SECTIONS[anchor]
    content = macro(template, anchor.replace("-", "_"), **shown)
    return Section(anchor, link, title or (more or [link])[0], content)


class Source(NamedTuple):
    """The design with everything computed about it, the tables of its result, versions of the run.

    A section of the page is made by a function of a source: it returns what the template of the
    section prints, by name, or None where the page has no such section.
    """

    appraisal: Appraisal
    tables: Mapping[str, pd.DataFrame]
    run_versions: Mapping[str, str] | None = None

    @property
    def versions(self) -> Mapping[str, str]:
        """Of the tool and its libraries in the run; those of this process where none are given."""
        return tool_versions() if self.run_versions is None else self.run_versions

    @property
    def head(self) -> Head:
        """What the pages say of the study."""
        return Head(self.appraisal.kind, self.appraisal.study.content, self.versions)

    def table(self, name: str) -> pd.DataFrame:
        """One table of the result."""
        return self.tables[name]

    def shown(self, name: str, frame: pd.DataFrame | None = None) -> Table:
        """Table as ``tables.toml`` says it, of some lines or of all that the result has."""
        lines = self.table(SHOWN[name].of or name) if frame is None else frame
        return shown_table(name, lines)

    def has(self, name: str) -> bool:
        """Whether the result has a table."""
        return name in self.tables

    def said(self, name: str, column: str = "text") -> list[str]:
        """Sentences of a table; none where the result does not have it."""
        return [prose(text) for text in self.tables[name][column]] if self.has(name) else []
