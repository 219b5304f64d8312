"""Hostile text in every free field: shown as it is, harmless in terminal, tables and report."""

from __future__ import annotations

import dataclasses
import io
import re
import tomllib
from copy import deepcopy
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from mdo.cli import main as cli
from mdo.cli.text import inputs_text
from mdo.defend.tables.design import result_tables
from mdo.report import Source, render_report
from mdo.report.words.summary import summary_text
from mdo.report.words.summary_data import summary_dict
from mdo.study import study_from_dict
from mdo.study.assemble import assemble
from mdo.study.text import hidden_character, printable

STUDIES = Path(__file__).parents[2] / "studies"
CONTENT = tomllib.loads((STUDIES / "deck_medium.toml").read_text(encoding="utf-8"))
HOSTILE = (
    "<script>alert(1)</script>", "</script><img src=x onerror=alert(1)>", "\"' onload=alert(1) x='",
    "{0} {x!r} %s %(a)s ${a} `b`", "[red]b[/red] [link=x]y[/link]", "=1+1,@a\t-2\n+3",
    "שלום ﷽ عربى",
    "&lt;&amp;&#39;", "--></style><svg/onload=alert(1)>", "\\u003cscript\\u003e", "𝕬😀\u200d👩",
)  # fmt: skip


class Skeleton(HTMLParser):
    """Tags and names of attributes of a page, in order, and its text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, tuple[str, ...]]] = []
        self.text = io.StringIO()
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, tuple(name for name, _ in attrs)))

    def handle_data(self, data: str) -> None:
        self.text.write(data)


def study_with(text: str) -> Any:
    """The medium study with a text in every free field."""
    content: dict[str, Any] = deepcopy(CONTENT)
    content["study"] |= {"title": text, "description": text}
    content["vehicle"]["name"] = text
    for case in content["case"]:
        case |= {"title": text, "probability": text}
    return study_from_dict(content, folder=STUDIES)


@pytest.mark.parametrize("text", HOSTILE)
def test_check_shows_it_and_nothing_that_steers_a_terminal(text: str) -> None:
    study = study_with(text)
    told = printable(inputs_text(study, assemble(study).card, "si"))
    assert " ".join(text.split()) in told
    assert hidden_character(told) == ""


def test_report_tables_and_summary_hold_it_as_text(optimum: Any) -> None:
    pages = {}
    every = " | ".join(HOSTILE)
    for text in ("plain", every):
        problem = dataclasses.replace(optimum.problem, study=study_with(text))
        appraisal = dataclasses.replace(optimum, problem=problem)
        tables = result_tables(appraisal)
        pages[text] = Skeleton(render_report(Source(appraisal, tables)))
        for units in ("si", "us"):
            assert hidden_character(printable(summary_text(appraisal, units))) == ""
        assert summary_dict(appraisal)
    assert pages[every].tags == pages["plain"].tags
    assert " ".join(every.split()) in " ".join(pages[every].text.getvalue().split())


@pytest.mark.parametrize(
    "character", ["\x00", "\x07", "\x1b", "\x7f", "\x9b", "\u2028", "\u202e", "\u2066"]
)
@pytest.mark.parametrize(
    "field", ["study.title", "study.description", "vehicle.name", "case.stow_calm.title"]
)
def test_character_that_steers_is_refused_by_its_code(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], field: str, character: str
) -> None:
    code = f"{ord(character):04x}"
    line = f'"a\\u{code}b"'
    text = (STUDIES / "deck_medium.toml").read_text(encoding="utf-8")
    section, _, name = field.partition(".")
    mark = 'id = "stow_calm"' if section == "case" else f"[{section}]"
    head, _, tail = text.partition(mark)
    name = name.rpartition(".")[2]
    tail = re.sub(rf"(?m)^{name} = .*$", lambda _: f"{name} = {line}", tail, count=1)
    text = head + mark + tail
    (tmp_path / "study.toml").write_text(text, encoding="utf-8")
    assert cli.main(["check", str(tmp_path / "study.toml")]) == cli.BAD_INPUT
    told = capsys.readouterr().err
    assert f"{field}: hidden character, got" in told
    assert f"U+{code.upper()}" in told
    assert len(told.splitlines()) == 1
