"""Results side by side: what each gave, differences to the first, inputs that differ, what to mind.

Only tables of the results are read, so results of other studies, analyses and versions compare too:
what one of them does not have is empty, and said.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

import pandas as pd

from mdo.report.figures.design import worst_per_group
from mdo.results.files import StoreError
from mdo.results.opening import check_unchanged, open_result
from mdo.results.stored import StoredResult

MOST = 8
LETTERS = "ABCDEFGH"
HEAD_INPUTS = ("study.name", "study.title", "study.description")
INFEASIBLE = "infeasible"
NO_DESIGN = math.inf
SAME = 1e-6  # relative difference of numbers that are alike; optima agree to about that


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
        found = self.rows("inputs", "path", "words")
        return next((one["words"] for one in found if one["path"] == "study.title"), "")

    def texts(self, table: str, kind: str) -> list[str]:
        """Texts of one kind in a table of kinds and texts."""
        return [one["text"] for one in self.rows(table, "kind", "text") if one["kind"] == kind]

    def rows(self, table: str, *columns: str) -> list[dict[str, Any]]:
        """Lines of a table; none where the result does not have it, or not with these columns."""
        frame = self.tables.get(table)
        if frame is None or not set(columns) <= set(frame.columns):
            return []
        found: list[dict[str, Any]] = frame.to_dict("records")
        return found


class Value(NamedTuple):
    """A number of one result: SI value, unit, whose it is."""

    value: float
    unit: str
    of: str = ""


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
        first = self.numbers[0]
        return all(_same(first, value) for value in self.numbers[1:])


class Group(NamedTuple):
    """Quantities of a kind."""

    title: str
    lines: tuple[Line, ...]


class InputLine(NamedTuple):
    """An input that differs: path, meaning, and (value, words, unit) of each result or None."""

    path: str
    meaning: str
    numbers: tuple[tuple[float, str, str] | None, ...]


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
    groups = tuple(
        group
        for group in (_group(title, take, sides, apart) for title, take, apart in GROUPS)
        if group.lines
    )
    return Comparison(sides, tuple(_notes(sides)), groups, tuple(_inputs(sides)))


def _side(letter: str, result: StoredResult) -> Side:
    check_unchanged(result, [f"{name}.parquet" for name in result.tables])
    try:
        tables = {name: result.table(name) for name in result.tables}
    except (ValueError, OSError) as error:
        words = " ".join(str(error).split())
        raise StoreError(f"{result.folder}: a table cannot be read: {words}") from None
    return Side(letter, result, tables)


def _same(one: float, other: float) -> bool:
    if math.isnan(one) or math.isnan(other):
        return math.isnan(one) and math.isnan(other)
    return one == other or math.isclose(one, other, rel_tol=SAME, abs_tol=1e-15)


# ---- quantities of one result by name

Found = dict[str, Value]


def _main(side: Side) -> Found:
    whose = "aircraft"
    found = {
        f"{name} of the fold actuation": Value(float(line[column]), "kg", whose)
        for line in side.rows("masses", "line", "basic", "growth", "total")
        if line["line"] == "total"
        for name, column in (("mass", "total"), ("basic mass", "basic"), ("growth", "growth"))
    }
    for line in side.rows("power", "quantity", "value", "unit", "of", "meaning"):
        if line["unit"] != "kg" and line["value"] != 0.0:
            value = Value(float(line["value"]), line["unit"], line["of"])
            found[_without(line["meaning"], line["of"])] = value
    return found


def _without(meaning: str, whose: str) -> str:
    """Meaning without the words that the column 'of' says."""
    return meaning.removesuffix(f", {whose}").removesuffix(" of one wing")


def _least_margins(side: Side) -> Found:
    least: Found = {}
    for line in side.rows("torque", "leg", "torque_margin"):
        value, name = float(line["torque_margin"]), str(line["leg"])
        known = least.setdefault(name, Value(math.nan, "1", "one wing"))
        if math.isnan(known.value) or value < known.value:
            least[name] = known._replace(value=value)
    return least


def _times(side: Side) -> Found:
    return {
        f"{line['leg']}: {line['what']}": Value(float(line["time"]), "s")
        for line in side.rows("times", "leg", "what", "time")
        if not math.isnan(line["time"])
    }


def _design(side: Side) -> Found:
    columns = ("variable", "set", "value", "unit", "of", "meaning")
    return {
        f"{str(line['variable']).replace('_', ' ')} {line['set']}".strip(): Value(
            float(line["value"]), line["unit"], line["of"]
        )
        for line in side.rows("design", *columns)
    }


def _rounded(side: Side) -> Found:
    """What would be ordered, where it is a number."""
    taken = ("basis", "tube", "counts")
    return {
        str(line["item"]): Value(float(line["value"]), line["unit"], line["of"])
        for line in side.rows("order_sheet", "section", "item", "value", "unit", "of")
        if line["section"] in taken and not math.isnan(line["value"])
    }


def _margins(side: Side) -> Found:
    columns = ("requirement", "group", "standing", "row", "margin", "unit", "of")
    if not side.rows("compliance", *columns):
        return {}
    return {
        str(line["requirement"]): Value(float(line["margin"]), line["unit"], line["of"])
        for line in worst_per_group(side.tables["compliance"]).to_dict("records")
        if line["group"] != "driver"
    }


def _mass_lines(side: Side) -> Found:
    return {
        str(line["line"]): Value(float(line["total"]), "kg", "aircraft")
        for line in side.rows("masses", "line", "total")
        if line["line"] != "total" and line["total"] > 0.0
    }


def _window(side: Side) -> Found:
    return {
        f"{line['temperature']} {words}": Value(float(line[column]), "K")
        for line in side.rows("window", "temperature", "at_least", "at_most", "card")
        for words, column in (
            ("demanded, at least", "at_least"),
            ("demanded, at most", "at_most"),
            ("of the alloy", "card"),
        )
        if not math.isnan(line[column])
    }


def _costs(side: Side) -> Found:
    return {
        f"{line['title']}, {_step(str(line['per']))}": Value(
            float(line["tightening"]), "kg", "aircraft"
        )
        for line in side.rows("costs", "title", "per", "tightening")
        if line["tightening"] != 0.0
    }


def _step(per: str) -> str:
    return per if per[:1].isdigit() else f"1 {per}"


MAIN, LEAST, TIMES, DESIGN, ORDERED, MARGINS, LINES, WINDOW, COSTS = (
    "Mass and power",
    "Least torque margin A/R - 1 of each leg",
    "Times",
    "Design",
    "As ordered, whole tubes",
    "Worst margin of each requirement",
    "Mass lines",
    "Transformation window",
    "What one harder step of each requirement costs",
)
GROUPS: tuple[tuple[str, Callable[[Side], Found], bool], ...] = (
    (MAIN, _main, False),
    (LEAST, _least_margins, False),
    (TIMES, _times, False),
    (DESIGN, _design, False),
    (ORDERED, _rounded, False),
    (MARGINS, _margins, True),
    (LINES, _mass_lines, False),
    (WINDOW, _window, False),
    (COSTS, _costs, False),
)


def _group(title: str, take: Callable[[Side], Found], sides: Sequence[Side], apart: bool) -> Group:
    """Quantities of all results by name, in the order in which they come up."""
    found = [take(side) for side in sides]
    lines = []
    for name in dict.fromkeys(name for one in found for name in one):
        known = [one.get(name) for one in found]
        units = dict.fromkeys(value.unit for value in known if value is not None)
        for unit in units:  # a name with two units is two quantities
            mine = [v if v is not None and v.unit == unit else None for v in known]
            whose = next(value.of for value in mine if value is not None)
            values = tuple(math.nan if value is None else value.value for value in mine)
            lines.append(Line(name, unit, whose, values, apart))
    return Group(title, tuple(lines))


# ---- inputs, and what to mind


def _inputs(sides: Sequence[Side]) -> Iterable[InputLine]:
    """Inputs that differ; those of cases that a result does not have are left to the notes."""
    tables = [
        {str(line["path"]): line for line in side.rows("inputs", "path", "value", "words", "unit")}
        for side in sides
    ]
    cases = [_cases(side) for side in sides]
    for path in dict.fromkeys(path for table in tables for path in table):
        part = path.split(".")
        lone = part[0] == "case" and any(part[1] not in names for names in cases)
        if path in HEAD_INPUTS or lone:
            continue
        found = [table.get(path) for table in tables]
        values = tuple(
            None if line is None else (float(line["value"]), str(line["words"]), str(line["unit"]))
            for line in found
        )
        if not all(_alike(values[0], value) for value in values[1:]):
            meaning = next(str(line.get("meaning", "")) for line in found if line is not None)
            yield InputLine(path, meaning, values)


def _alike(one: tuple[float, str, str] | None, other: tuple[float, str, str] | None) -> bool:
    if one is None or other is None:
        return one is other
    return one[1:] == other[1:] and _same(one[0], other[0])


def _cases(side: Side) -> tuple[str, ...]:
    """Cases of a result, by their id."""
    paths = (str(line["path"]).split(".") for line in side.rows("inputs", "path"))
    return tuple(dict.fromkeys(part[1] for part in paths if part[0] == "case" and len(part) > 2))


def _notes(sides: Sequence[Side]) -> Iterable[str]:
    """What the reader has to mind before comparing."""
    manifests = [side.result.manifest for side in sides]
    yield from _different(sides, "studies", [one.study for one in manifests])
    yield from _different(sides, "analyses", [one.analysis for one in manifests])
    versions = [str(one.versions.get("fold-mdo", "unknown")) for one in manifests]
    yield from _different(sides, "versions of the tool", versions)
    for side in sides:
        if side.verdict == INFEASIBLE:
            given = side.result.manifest.analysis == "evaluate"
            which = "the design given" if given else "the design with the least violation"
            yield (
                f"{side.letter} is infeasible: its numbers are of {which}, not of one to build, so "
                "a difference to it is no gain and no price."
            )
    cases = [_cases(side) for side in sides]
    every = dict.fromkeys(name for names in cases for name in names)
    for letters, names in _owners(sides, cases, every).items():
        yield f"Cases only in {letters}: {', '.join(names)}. Their inputs are not listed."
    tables = [tuple(side.tables) for side in sides]
    for letters, names in _owners(sides, tables, dict.fromkeys(("costs",))).items():
        yield f"Only {letters} has what its requirements cost ({', '.join(names)})."


def _different(sides: Sequence[Side], what: str, names: Sequence[str]) -> Iterable[str]:
    if len(set(names)) > 1:
        listed = ", ".join(f"{side.letter} {name}" for side, name in zip(sides, names, strict=True))
        yield f"Different {what}: {listed}."


def _owners(
    sides: Sequence[Side], owned: Sequence[Sequence[str]], names: Iterable[str]
) -> dict[str, list[str]]:
    """Names that some results have and some do not, by the letters of those that do."""
    found: dict[str, list[str]] = {}
    for name in names:
        letters = [s.letter for s, mine in zip(sides, owned, strict=True) if name in mine]
        if 0 < len(letters) < len(sides):
            found.setdefault(" and ".join(letters), []).append(name)
    return found
