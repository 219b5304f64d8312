"""The documentation holds: examples are what it shows, commands run, links lead somewhere."""

from __future__ import annotations

import contextlib
import importlib.util
import io
import json
import re
import shlex
import subprocess
import sys
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from jsonschema import Draft202012Validator

from mdo.study import load_study, study_from_dict
from mdo.study.schema import json_schema

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "docs"
EXAMPLES = DOCS / "examples"
TUTORIAL = DOCS / "tutorial.md"
PAGES = sorted(DOCS.rglob("*.md"))
NUMBER = r"[-+]?\d+(?:\.\d+)?(?:e[-+]?\d+)?"
CLOSE = 0.02  # of a number shown: the pages round, and machines differ in the last digits
PYTHON, SHELL = "python", "sh"


class Block(NamedTuple):
    """A fenced block: language, the words after it, content."""

    language: str
    words: tuple[str, ...]
    content: str

    def option(self, name: str) -> str:
        """Value of ``name=value`` among the words."""
        values = dict(word.split("=", 1) for word in self.words if "=" in word)
        return values.get(name, "")


class Step(NamedTuple):
    """A block that runs, and the outputs shown right after it."""

    block: Block
    shown: str

    @property
    def slow(self) -> bool:
        """Whether it needs an optimum."""
        return "slow" in self.block.words


def blocks(page: Path) -> list[Block]:
    """Every fenced block of a page."""
    found = re.findall(
        r"^```(\w+)([^\n]*)\n(.*?)^```$", page.read_text("utf-8"), re.MULTILINE | re.DOTALL
    )
    return [Block(language, tuple(words.split()), content) for language, words, content in found]


def steps() -> list[Step]:
    """Blocks of the tutorial that run, in order."""
    every = blocks(TUTORIAL)
    after = [*every[1:], Block("", (), "")]
    return [
        Step(one, following.content if following.language == "text" else "")
        for one, following in zip(every, after, strict=True)
        if "run" in one.words
    ]


def run(step: Step, names: dict[str, Any], folder: Path) -> str:
    """Run a block in a folder and return what it prints."""
    if step.block.language == PYTHON:
        told = io.StringIO()
        with contextlib.chdir(folder), contextlib.redirect_stdout(told):
            exec(compile(step.block.content, str(TUTORIAL), "exec"), names)
        return told.getvalue()
    told_all = ""
    for line in step.block.content.splitlines():
        program, *arguments = shlex.split(line)
        assert program == "fold-mdo"
        done = subprocess.run(
            [sys.executable, "-m", "mdo.cli.main", *arguments],
            cwd=folder, capture_output=True, text=True, encoding="utf-8", check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        told_all += done.stdout
    return told_all


def assert_shows(told: str, shown: str) -> None:
    """Check that the lines shown come in this order in what was told.

    Blanks count as one and ``...`` stands for anything; a line of it alone for lines left out.
    Numbers may differ by a few per cent.
    """
    place = 0
    for line in filter(None, map(str.strip, shown.splitlines())):
        if line == "...":
            continue
        parts = re.split(rf"(\.\.\.|{NUMBER}|\s+)", line)
        pattern = "".join(map(_pattern, parts))
        found = re.compile(pattern).search(told, place)
        assert found, f"not in the output: {line}"
        wanted = [float(part) for part in parts if re.fullmatch(NUMBER, part)]
        got = [float(number) for number in found.groups()]
        assert got == pytest.approx(wanted, rel=CLOSE), line
        place = found.end()


def _pattern(part: str) -> str:
    """Pattern of one piece of a line shown."""
    if part == "...":
        return ".*?"
    if re.fullmatch(NUMBER, part):
        return f"({NUMBER})"
    return r"\s+" if part.isspace() else re.escape(part)


def script() -> Any:
    """Module of docs/build_reference.py."""
    spec = importlib.util.spec_from_file_location("build_reference", DOCS / "build_reference.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def keys_of(schema: Mapping[str, Any]) -> Iterator[str]:
    """Names of all fields of a JSON Schema, but the forms of a design variable."""
    for name, one in schema.get("properties", {}).items():
        yield name
        yield from keys_of(one)
        yield from keys_of(one.get("items", {}))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Give a folder with the files of the tutorial."""
    for path in EXAMPLES.iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    return tmp_path


class TestReference:
    def test_page_is_what_the_script_makes(self) -> None:
        made = script().study_reference()
        page = (DOCS / "study_file.md").read_text("utf-8")
        assert page == made, "run: python docs/build_reference.py"

    def test_page_names_every_field_of_the_schema(self) -> None:
        page = (DOCS / "study_file.md").read_text("utf-8")
        missing = [
            name for name in keys_of(json_schema()) if f"`{name}`" not in page
            and f".{name}]" not in page and f"[{name}]" not in page
        ]  # fmt: skip
        assert missing == []

    def test_every_field_says_what_holds_when_it_is_left_out(self) -> None:
        page = (DOCS / "study_file.md").read_text("utf-8")
        tables = re.findall(r"^\| `(\w+)` \|.*$", page, re.MULTILINE)
        assert len(tables) > 250
        assert "| none |" not in page, "say it in LEFT_OUT of docs/build_reference.py"

    def test_sources_of_the_page_are_sources(self) -> None:
        page = (DOCS / "study_file.md").read_text("utf-8")
        assert re.findall(r"\[S\d+\]|\breference \d|of the reference|sma-tubes", page) == []

    def test_forms_of_a_design_variable_are_read(self) -> None:
        (shown,) = [one for one in blocks(DOCS / "study_file.md") if "[design]" in one.content]
        content = tomllib.loads((ROOT / "studies" / "deck_medium.toml").read_text("utf-8"))
        design = study_from_dict(content | tomllib.loads(shown.content)).design
        assert design.tube_outer_radius.value == pytest.approx(0.005)
        assert design.tube_length.start == pytest.approx(0.5)
        assert (design.gear_ratio.lower, design.gear_ratio.upper) == (1.0, 6.0)
        assert (design.tube_count.up.value, design.tube_count.down.start) == (4.0, 3.0)


class TestTutorial:
    @pytest.mark.parametrize("name", ["deck_light.toml", "deck_light_loads.csv"])
    def test_pieces_make_the_example(self, name: str) -> None:
        pieces = [one.content for one in blocks(TUTORIAL) if one.option("file") == name]
        assert "\n".join(pieces) == (EXAMPLES / name).read_text("utf-8")

    def test_changed_example_differs_in_the_lines_shown(self) -> None:
        (shown,) = [one for one in blocks(TUTORIAL) if one.option("change")]
        first = (EXAMPLES / "deck_light.toml").read_text("utf-8").splitlines()
        changed = (EXAMPLES / shown.option("change")).read_text("utf-8").splitlines()
        differing = [two for one, two in zip(first, changed, strict=True) if one != two]
        assert differing == shown.content.splitlines()

    @pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.toml")), ids=lambda path: path.stem)
    def test_example_is_sound(self, path: Path) -> None:
        study = load_study(path)
        (warning,) = study.warnings  # the tutorial says so
        assert "wind_speed in stow_wind, parked_gale; see to it that the table holds" in warning
        assert study.name == path.stem
        schema = json.loads(json.dumps(json_schema()))
        errors = Draft202012Validator(schema).iter_errors(tomllib.loads(path.read_text("utf-8")))
        assert list(errors) == []

    def test_message_of_a_missing_unit_is_the_one_shown(self, folder: Path) -> None:
        path = folder / "deck_light.toml"
        path.write_text(path.read_text("utf-8").replace('"120 s"', "120"), encoding="utf-8")
        with pytest.raises(Exception, match="missing unit") as raised:
            load_study(path)
        shown = [one.content.strip() for one in blocks(TUTORIAL) if "missing unit" in one.content]
        assert [str(raised.value).replace(str(path), path.name)] == shown

    @pytest.mark.parametrize(
        "step", [one for one in steps() if not one.slow], ids=lambda one: one.block.content[:16]
    )
    def test_quick_block_shows_what_it_says(self, step: Step, folder: Path) -> None:
        assert_shows(run(step, {}, folder), step.shown)

    @pytest.mark.slow
    def test_all_blocks_in_order_show_what_they_say(self, folder: Path) -> None:
        names: dict[str, Any] = {"__name__": "tutorial"}
        for step in steps():
            assert_shows(run(step, names, folder), step.shown)
        results = folder / "results"
        assert {path.name for path in results.iterdir()} == {"deck_light", "deck_light_patient"}
        assert (results / "deck_light" / "optimum" / "report.html").is_file()


class TestPages:
    @pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
    def test_links_lead_somewhere(self, page: Path) -> None:
        text = page.read_text("utf-8")
        for target in re.findall(r"\]\(([^)\s]+)\)", text):
            if target.startswith("http"):
                continue
            name, _, anchor = target.partition("#")
            file = (page.parent / name).resolve() if name else page
            assert file.exists(), target
            if anchor:
                assert anchor in anchors(file), target

    def test_every_page_is_linked_from_the_index(self) -> None:
        reached = {DOCS / "index.md"}
        for _ in PAGES:
            for page in list(reached):
                names = re.findall(r"\]\(([^)#\s]+\.md)[^)]*\)", page.read_text("utf-8"))
                reached |= {(page.parent / name).resolve() for name in names}
            reached = {page for page in reached if page.is_relative_to(DOCS)}
        assert {page for page in PAGES if "decisions" not in page.parts} <= reached

    def test_commands_named_exist(self) -> None:
        told = subprocess.run(
            [sys.executable, "-m", "mdo.cli.main", "--help"],
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        verbs = set(re.findall(r"^    (\w+) ", told, re.MULTILINE))
        named = {verb for page in PAGES
                 for verb in re.findall(r"fold-mdo (\w+)", page.read_text("utf-8"))}  # fmt: skip
        assert named <= verbs

    def test_blocks_of_toml_can_be_read(self) -> None:
        for page in PAGES:
            for one in blocks(page):
                if one.language == "toml":
                    tomllib.loads(one.content)

    def test_fields_quoted_exist(self) -> None:
        """Words in code that look like ``field = value`` are fields of the study."""
        fields = set(keys_of(json_schema()))
        for page in PAGES:
            if "decisions" in page.parts:
                continue
            for name in re.findall(r"`(\w+) = [^`]+`", page.read_text("utf-8")):
                assert name in fields, f"{page.name}: {name}"


def anchors(page: Path) -> set[str]:
    """Anchors of the headings of a page, as a code host makes them."""
    titles = re.findall(r"^#+ (.+)$", page.read_text("utf-8"), re.MULTILINE)
    plain = (re.sub(r"[^\w\- ]", "", title.lower()) for title in titles)
    return {title.strip().replace(" ", "-") for title in plain}
