"""Read declared fields out of a parsed study, collecting every problem instead of stopping."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from mdo.errors import ProblemsError
from mdo.study.fields import ITEMS_MAX, Field, Origin, declared
from mdo.study.text import clipped
from mdo.study.units import UnitError
from mdo.study.values import Plain, converted, count_expected, expectation, nearest, shown

_UNKNOWN_SHOWN = 20
_KEPT = 2000  # sections that were read, at most


class StudyError(ProblemsError):
    """A study that cannot be used."""


@dataclass(frozen=True)
class Input:
    """One resolved input: SI value, unit and where it comes from."""

    path: str
    value: Plain
    unit: str
    origin: Origin
    text: str
    low: float | None = None
    high: float | None = None
    provenance: str = ""


class Place(NamedTuple):
    """A field whose file is read: where its problems are noted."""

    reader: Reader
    path: str

    def problem(self, message: str) -> None:
        """Note what is wrong there."""
        self.reader.problem(self.path, message)

    @property
    def noted(self) -> int:
        """Problems of the study so far."""
        return len(self.reader.problems)


@dataclass
class Reader:
    """Collects the problems, warnings and resolved inputs of one study."""

    source: str
    problems: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    inputs: dict[str, Input] = field(default_factory=dict)

    def problem(self, path: str, message: str) -> None:
        """Note what is wrong at a field."""
        where = f"{path}: " if path else ""
        self.problems.append(f"{self.source}: {where}{message}")

    def warn(self, path: str, message: str) -> None:
        """Note what looks wrong at a field but does not stop the study."""
        self.warnings.append(f"{self.source}: {path}: {message}")

    def table(self, given: object, path: str) -> Mapping[str, Any] | None:
        """Return a table, or None with a problem noted."""
        if isinstance(given, Mapping):
            return given
        self.problem(path, f"wrong type, got {shown(given)}, expected a table ([{path}])")
        return None

    def tables(self, given: object, path: str) -> list[Mapping[str, Any]]:
        """Return the tables of an array of tables, noting what is none."""
        if not isinstance(given, list | tuple):
            self.problem(path, f"wrong type, got {shown(given)}, expected tables ([[{path}]])")
            return []
        if len(given) > ITEMS_MAX:
            self.problem(path, f"too many, got {len(given)}, expected at most {ITEMS_MAX}")
            return []
        tables = [self.table(table, f"{path}[{number}]") for number, table in enumerate(given, 1)]
        return [table for table in tables if table is not None]

    def unknown(self, table: Mapping[str, Any], path: str, keys: Iterable[str]) -> None:
        """Note keys that nobody declared, with the nearest that somebody did."""
        keys = list(keys)
        strangers = [key for key in table if key not in keys]
        for key in strangers[:_UNKNOWN_SHOWN]:
            where = f"{path}.{clipped(key)}" if path else clipped(key)
            self.problem(where, f"unknown key, {nearest(key, keys)}")
        if len(strangers) > _UNKNOWN_SHOWN:
            more = len(strangers) - _UNKNOWN_SHOWN
            self.problem(path, f"got {more} more unknown keys, expected one of: {', '.join(keys)}")

    def section(
        self, fields: type | Mapping[str, Field], table: Mapping[str, Any], path: str, *,
        also: Iterable[str] = (),
    ) -> dict[str, Any]:  # fmt: skip
        """Read all fields that a section declares.

        Returns
        -------
        SI values by name. A field without value and default is None (it may be derived later); one
        with a problem is missing, and so is a list without a default.
        """
        known = declared(fields) if isinstance(fields, type) else fields
        self.unknown(table, path, [*known, *also])
        values: dict[str, Any] = {}
        for name, of in known.items():
            where = f"{path}.{name}"
            if name in table:
                self.take(values, name, of, table[name], where)
            elif of.kind in {"section", "table"}:
                values[name] = self.read(of, {}, where)
            elif of.kind == "list":
                values |= {} if of.default is None else {name: of.default}
            elif of.default is not None:
                values[name] = converted(of, of.default)
                self.note(where, values[name], of, of.origin)
            elif of.required:
                tables = f" [[{where}]]" if of.kind == "tables" else ""
                self.problem(where, f"missing, expected {expectation(of)}{tables} ({of.text})")
            else:
                values[name] = None
        return values

    def section_once(
        self, of: type, table: Mapping[str, Any], path: str, *, also: Iterable[str] = ()
    ) -> dict[str, Any]:
        """Read a section as :meth:`section` does, or take what the same text was read as before.

        A defence turns one number of a study some hundred times: all other sections stay.
        """
        key = (of, path, self.source, *also, repr(table))
        found = _READ.get(key)
        if found is None:
            own = Reader(self.source)
            found = own, own.section(of, table, path, also=also)
            if len(_READ) >= _KEPT:
                _READ.clear()
            _READ[key] = found
        own, values = found
        self.problems += own.problems
        self.warnings += own.warnings
        self.inputs |= own.inputs
        return dict(values)

    def take(self, values: dict[str, Any], name: str, of: Field, given: object, path: str) -> None:
        """Put a given value among the values, or note what is wrong with it."""
        before = len(self.problems)
        value = self.read(of, given, path)
        if len(self.problems) > before and of.kind not in {"section", "tables"}:
            return
        values[name] = value
        if of.kind == "list" and of.item and not of.item.noun:
            self.note(path, _read_out(given), of, "file")
        elif of.kind not in {"section", "table", "list", "pair", "tables"}:
            self.note(path, value, of, "file")

    def read(self, of: Field, given: object, path: str) -> Any:
        """Return one given value, converted; None with a problem noted where it is wrong."""
        nested = of.kind in {"section", "table", "tables"}
        if isinstance(given, list | tuple):
            nested |= of.kind == "list" or (of.kind == "pair" and len(given) == len(of.fields))
        if nested:
            return self._nested(of, given, path)
        try:
            return converted(of, given)
        except UnitError as problem:
            self.problem(path, str(problem))
            return None

    def _nested(self, of: Field, given: Any, path: str) -> Any:
        """Return the values that a given one holds."""
        if of.kind == "section":
            return self._built(of, self.table(given, path) or {}, path)
        if of.kind == "tables":
            tables = self.tables(given, path)
            read = [self._built(of, one, f"{path}[{at}]") for at, one in enumerate(tables, 1)]
            if len(tables) < of.least:
                few = f"too few {of.noun}s, got {len(tables)}"
                self.problem(path, f"{few}, expected {expectation(of)}")
            return tuple(read)
        if of.kind == "list":
            return self._list(of, of.item or of, given, path)
        if of.item:
            table = self.table(given, path) or {}
            return {key: self.read(of.item, one, f"{path}.{key}") for key, one in table.items()}
        parts = zip(of.fields.values(), given, strict=True)
        ends = tuple(self.read(part, one, path) for part, one in parts)
        return None if None in ends else ends

    def _built(self, of: Field, table: Mapping[str, Any], path: str) -> Any:
        """Return the object of a section; its values where one of them is wrong."""
        before = len(self.problems)
        values = self.section(of.fields, table, path)
        return of.builds(**values) if of.builds and len(self.problems) == before else values

    def _list(self, of: Field, item: Field, given: Sequence[object], path: str) -> tuple[Any, ...]:
        """Return the different values of a list, noting if there are too few or too many."""
        if len(given) > ITEMS_MAX:
            self.problem(
                path, f"too many, got a list of {len(given)}, expected at most {ITEMS_MAX}"
            )
            return ()
        values = [
            self.read(item, one, path if item.noun else f"{path}[{number}]")
            for number, one in enumerate(given, 1)
        ]
        kept = tuple(dict.fromkeys(value for value in values if value is not None))
        if None not in values and not of.least <= len(kept) <= of.most:
            what = "empty" if not kept else "too few" if len(kept) < of.least else "too many"
            self.problem(path, f"{what}, got a list of {len(given)}, expected {count_expected(of)}")
        return tuple(sorted(kept)) if of.ordered else kept

    def note(
        self, path: str, value: Plain, of: Field, origin: Origin, provenance: str = ""
    ) -> None:
        """Keep a resolved input with unit and origin."""
        whence = "" if origin == "file" else provenance or of.provenance
        self.inputs[path] = Input(
            path, value, of.unit, origin, of.text, *of.range_si(), provenance=whence
        )


_READ: dict[tuple[object, ...], tuple[Reader, dict[str, Any]]] = {}


def values_of(section: object) -> Mapping[str, Any]:
    """Return the values of a section, sound or not."""
    return section if isinstance(section, Mapping) else vars(section) if section else {}


def _read_out(given: object) -> str:
    """Return a list as it would be read out."""
    if isinstance(given, list | tuple):
        return ", ".join(" x ".join(map(str, x)) if isinstance(x, list) else str(x) for x in given)
    return shown(given)
