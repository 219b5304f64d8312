"""Results side by side: what each gave, differences to the first, inputs that differ, what to mind.

Only tables of the results are read, so results of other studies, analyses and versions compare too:
what one of them does not have is empty, and said.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

import pandas as pd

from mdo.data_files import toml_beside
from mdo.report.figures.design import worst_per_group
from mdo.report.words.printed import step_words
from mdo.results.files import StoreError
from mdo.results.opening import check_unchanged, open_result
from mdo.results.stored import StoredResult

MOST = 8
LETTERS = "ABCDEFGH"
HEAD_INPUTS = ("study.name", "study.title", "study.description")
INFEASIBLE = "infeasible"
GivenInput = tuple[float, str, str]  # value, words, unit
SAME = 1e-6  # relative difference of numbers that are alike; optima agree to about that
Tables = Mapping[str, pd.DataFrame]
Value = tuple[float, str, str]  # SI number, unit, whose it is
NOT_THERE: Value = (math.nan, "", "")


class Line(NamedTuple):
    """One quantity of all results, NaN where a result does not have it; inf: no design left."""

    name: str
    unit: str
    of: str
    numbers: tuple[float, ...]
    apart: bool

    @property
    def alike(self) -> bool:
        """Whether all results have the same number."""
        return all(same(self.numbers[0], value) for value in self.numbers[1:])


class Group(NamedTuple):
    """Quantities of a kind: its name in ``comparison_of_results.toml``, title and lines."""

    name: str
    title: str
    lines: tuple[Line, ...]


class Take(NamedTuple):
    """Numbers that a group takes from a column of a table, see the head of that file."""

    table: str
    value: str
    name: str
    unit: str
    of: str = ""
    rows: str = ""

    def values(self, tables: Tables) -> dict[str, Value]:
        """Numbers by name, the least of each; none where a result lacks table or columns."""
        least: dict[str, Value] = {}
        try:
            lines = PREPARED.get(self.table, pd.DataFrame.copy)(tables[self.table])
            lines = lines.query(self.rows, engine="python") if self.rows else lines
            for line in lines.to_dict("records"):
                unit, of = self.unit.format_map(line), self.of.format_map(line)
                name = self.name.format_map(line).removesuffix(f", {of}").strip()
                value = float(line[self.value])
                if name not in least or math.isnan(least[name][0]) or value < least[name][0]:
                    least[name] = (value, unit, of)
        except (KeyError, pd.errors.UndefinedVariableError):
            return {}
        return least


# Tables with what their lines do not say in the words of a comparison.
PREPARED: Mapping[str, Callable[[pd.DataFrame], pd.DataFrame]] = {
    "compliance": worst_per_group,
    "costs": lambda costs: costs.assign(step=costs["per"].map(step_words)),
    "design": lambda design: design.assign(words=design["variable"].str.replace("_", " ")),
    "power": lambda power: power.assign(meaning=power["meaning"].str.removesuffix(" of one wing")),
}
GROUPS = {
    name: (group["title"], [Take(**take) for take in group["takes"]])
    for name, group in toml_beside(__file__).items()
}


def compared_groups(results: Sequence[Tables]) -> tuple[Group, ...]:
    """Return the quantities of all results by group, those groups that one of them has."""
    groups = (
        Group(name, title, _lines(takes, results, apart=name == "margins"))
        for name, (title, takes) in GROUPS.items()
    )
    return tuple(group for group in groups if group.lines)


def _lines(takes: Sequence[Take], results: Sequence[Tables], *, apart: bool) -> tuple[Line, ...]:
    """Quantities of all results by name, in the order in which they come up."""
    values = [
        {name: value for take in takes for name, value in take.values(tables).items()}
        for tables in results
    ]
    lines = []
    for name in dict.fromkeys(itertools.chain(*values)):
        known = [by_name.get(name, NOT_THERE) for by_name in values]
        for unit in dict.fromkeys(own for _, own, _ in known if own):
            mine = [value if value[1] == unit else NOT_THERE for value in known]
            whose = next(of for _, own, of in mine if own)
            lines.append(Line(name, unit, whose, tuple(value[0] for value in mine), apart))
    return tuple(lines)


def same(first: float, other: float) -> bool:
    """Whether two numbers are alike, or both missing."""
    if math.isnan(first) or math.isnan(other):
        return math.isnan(first) and math.isnan(other)
    return first == other or math.isclose(first, other, rel_tol=SAME, abs_tol=1e-15)


@dataclass(frozen=True)
class Side:
    """One of the results: its letter, what it is, and its tables (those it has)."""

    letter: str
    result: StoredResult
    tables: Mapping[str, pd.DataFrame]

    @property
    def label(self) -> str:
        """Study and analysis, as the folders are named."""
        return f"{self.result.manifest.study}, {self.result.manifest.analysis}"

    @property
    def verdict(self) -> str:
        """Verdict, in words."""
        return next(iter(self.texts("verdict", "verdict")), "no verdict")

    @property
    def title(self) -> str:
        """Title of the study, empty where it has none."""
        lines = self.rows("inputs", "path", "words")
        return next((line["words"] for line in lines if line["path"] == "study.title"), "")

    @property
    def cases(self) -> tuple[str, ...]:
        """Cases by their id."""
        paths = (str(line["path"]).split(".") for line in self.rows("inputs", "path"))
        return tuple(
            dict.fromkeys(part[1] for part in paths if part[0] == "case" and len(part) > 2)
        )

    def texts(self, table: str, kind: str) -> list[str]:
        """Texts of one kind in a table of kinds and texts."""
        return [line["text"] for line in self.rows(table, "kind", "text") if line["kind"] == kind]

    def rows(self, table: str, *columns: str) -> list[dict[str, Any]]:
        """Lines of a table; none where the result does not have it, or not with these columns."""
        frame = self.tables.get(table)
        if frame is None or not set(columns) <= set(frame.columns):
            return []
        lines: list[dict[str, Any]] = frame.to_dict("records")
        return lines


class InputLine(NamedTuple):
    """An input that differs: path, meaning, and (value, words, unit) of each result or None."""

    path: str
    meaning: str
    numbers: tuple[GivenInput | None, ...]


@dataclass(frozen=True)
class Comparison:
    """Results side by side."""

    sides: tuple[Side, ...]
    notes: tuple[str, ...]
    groups: tuple[Group, ...]
    inputs: tuple[InputLine, ...]

    @property
    def letters(self) -> tuple[str, ...]:
        """Letters of the results."""
        return tuple(side.letter for side in self.sides)

    def lines_of(self, name: str) -> list[Line]:
        """Lines of one group; none where it is not there."""
        return [line for group in self.groups if group.name == name for line in group.lines]


def compare_results(folders: Sequence[str | Path]) -> Comparison:
    """Put finished results side by side.

    Parameters
    ----------
    folders : of two to eight results; differences are to the first

    Raises
    ------
    StoreError
        If there are too few or too many, one is named twice, or one is no whole result.
    """
    if not 2 <= len(folders) <= MOST:
        given = "1 result" if len(folders) == 1 else f"{len(folders)} results"
        raise StoreError(f"compare: got {given}, expected 2 to {MOST} folders")
    results = [open_result(folder) for folder in folders]
    places = [result.folder.resolve() for result in results]
    for number, place in enumerate(places):
        if place in places[:number]:
            raise StoreError(f"compare: {results[number].folder} is named twice, name each once")
    sides = tuple(map(_side, LETTERS, results))
    groups = compared_groups([side.tables for side in sides])
    return Comparison(sides, tuple(_notes(sides)), groups, tuple(_inputs(sides)))


def _side(letter: str, result: StoredResult) -> Side:
    """A result with its tables, checked before they are read."""
    check_unchanged(result, [f"{name}.parquet" for name in result.tables])
    try:
        tables = {name: result.table(name) for name in result.tables}
    except (ValueError, OSError) as error:
        words = " ".join(str(error).split())
        raise StoreError(f"{result.folder}: a table cannot be read: {words}") from None
    return Side(letter, result, tables)


def _inputs(sides: Sequence[Side]) -> Iterable[InputLine]:
    """Inputs that differ; those of cases that a result does not have are left to the notes."""
    tables = [
        {str(line["path"]): line for line in side.rows("inputs", "path", "value", "words", "unit")}
        for side in sides
    ]
    cases = [side.cases for side in sides]
    for path in dict.fromkeys(path for table in tables for path in table):
        part = path.split(".")
        lone = part[0] == "case" and any(part[1] not in names for names in cases)
        if path in HEAD_INPUTS or lone:
            continue
        lines = [table.get(path) for table in tables]
        values = tuple(
            None if line is None else (float(line["value"]), str(line["words"]), str(line["unit"]))
            for line in lines
        )
        if not all(_alike(values[0], value) for value in values[1:]):
            meaning = next(str(line.get("meaning", "")) for line in lines if line is not None)
            yield InputLine(path, meaning, values)


def _alike(first: GivenInput | None, other: GivenInput | None) -> bool:
    if first is None or other is None:
        return first is other
    return first[1:] == other[1:] and same(first[0], other[0])


def _notes(sides: Sequence[Side]) -> Iterable[str]:
    """What the reader has to mind before comparing."""
    manifests = [side.result.manifest for side in sides]
    versions = [str(manifest.versions.get("fold-mdo", "unknown")) for manifest in manifests]
    for what, names in {
        "studies": [manifest.study for manifest in manifests],
        "analyses": [manifest.analysis for manifest in manifests],
        "versions of the tool": versions,
    }.items():
        if len(set(names)) > 1:
            pairs = zip(sides, names, strict=True)
            yield f"Different {what}: {', '.join(f'{side.letter} {name}' for side, name in pairs)}."
    for side in sides:
        if side.verdict == INFEASIBLE:
            given = side.result.manifest.analysis == "evaluate"
            which = "the design evaluated" if given else "the design with the least violation"
            yield (
                f"{side.letter} is infeasible: its numbers are of {which}, not of one to build, so "
                "a difference to it is no gain and no price."
            )
    cases = {side.letter: side.cases for side in sides}
    for letters, names in _owners(cases).items():
        yield f"Cases only in {letters}: {', '.join(names)}. Their inputs are not listed."
    costs = {side.letter: ["costs"] if "costs" in side.tables else [] for side in sides}
    for letters in _owners(costs):
        yield f"Only {letters} has what its requirements cost (costs)."


def _owners(owned: Mapping[str, Sequence[str]]) -> dict[str, list[str]]:
    """Names that some results have and some do not, by the letters of those that do."""
    owners: dict[str, list[str]] = {}
    for name in dict.fromkeys(name for names in owned.values() for name in names):
        letters = [letter for letter, names in owned.items() if name in names]
        if len(letters) < len(owned):
            owners.setdefault(" and ".join(letters), []).append(name)
    return owners
