"""Results side by side: what each gave, differences to the first, inputs that differ, what to mind.

Only tables of the results are read, so results of other studies, analyses and versions compare too:
what one of them does not have is empty, and said.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

import pandas as pd

from mdo.report.pages.compared_quantities import Group, compared_groups, same
from mdo.results.files import StoreError
from mdo.results.opening import check_unchanged, open_result
from mdo.results.stored import StoredResult

MOST = 8
LETTERS = "ABCDEFGH"
HEAD_INPUTS = ("study.name", "study.title", "study.description")
INFEASIBLE = "infeasible"
GivenInput = tuple[float, str, str]  # value, words, unit


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
        raise StoreError(f"compare: got {len(folders)} results, expected 2 to {MOST} folders")
    results = [open_result(folder) for folder in folders]
    places = [result.folder.resolve() for result in results]
    for number, place in enumerate(places):
        if place in places[:number]:
            raise StoreError(f"compare: {results[number].folder} is named twice, name each once")
    sides = tuple(map(_side, LETTERS, results))
    groups = compared_groups([side.tables for side in sides])
    return Comparison(sides, tuple(_notes(sides)), groups, tuple(_inputs(sides)))


def _side(letter: str, result: StoredResult) -> Side:
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
    for what, names in {
        "studies": [manifest.study for manifest in manifests],
        "analyses": [manifest.analysis for manifest in manifests],
        "versions of the tool": [
            str(manifest.versions.get("fold-mdo", "unknown")) for manifest in manifests
        ],
    }.items():
        if len(set(names)) > 1:
            pairs = zip(sides, names, strict=True)
            yield f"Different {what}: {', '.join(f'{side.letter} {name}' for side, name in pairs)}."
    for side in sides:
        if side.verdict == INFEASIBLE:
            given = side.result.manifest.analysis == "evaluate"
            which = "the design given" if given else "the design with the least violation"
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
