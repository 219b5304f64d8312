"""Read declared fields out of a parsed study, collecting every problem instead of stopping."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from numbers import Integral, Real
from typing import Any

from mdo.study.fields import Field, Origin, declared
from mdo.study.text import clipped, hidden_character, is_reserved
from mdo.study.units import UnitError, described, example_unit

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}")
TEXT_LENGTH_MAX = 10_000
_WORD_LENGTH = 60
_PROBLEMS_SHOWN = 100
_UNKNOWN_SHOWN = 20
_ITEMS_MAX = 1000
Value = float | int | str | bool | None


class StudyError(Exception):
    """A study that cannot be used; every problem of the file at once.

    Attributes
    ----------
    problems
        One line per problem: file, field, what is wrong, value got, what is expected.
    """

    def __init__(self, problems: Iterable[str]) -> None:
        self.problems = list(problems)
        shown = self.problems[:_PROBLEMS_SHOWN]
        more = len(self.problems) - len(shown)
        if more:
            shown.append(f"and {more} more problems (mend these first, then check again)")
        super().__init__("\n".join(shown))

    def __reduce__(self) -> tuple[type[StudyError], tuple[list[str]]]:
        """Keep the problems on the way to another process."""
        return type(self), (self.problems,)


@dataclass(frozen=True)
class Input:
    """One resolved input: SI value, unit and where it comes from."""

    path: str
    value: Value
    unit: str
    origin: Origin
    text: str
    low: float | None = None
    high: float | None = None
    provenance: str = ""


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
        if not self.few_enough(given, path):
            return []
        found = [self.table(one, f"{path}[{number}]") for number, one in enumerate(given, 1)]
        return [one for one in found if one is not None]

    def few_enough(self, given: Sequence[object], path: str) -> bool:
        """Tell whether a list is no longer than a study could need, and note if it is not."""
        if len(given) <= _ITEMS_MAX:
            return True
        self.problem(path, f"too many, got a list of {len(given)}, expected at most {_ITEMS_MAX}")
        return False

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
        self, cls: type, table: Mapping[str, Any], path: str, *, also: Iterable[str] = ()
    ) -> dict[str, Any]:
        """Read all fields that a section declares.

        Returns
        -------
        SI values by name. A field without value and default is None (it may be derived later); one
        with a problem is missing.
        """
        fields = declared(cls)
        self.unknown(table, path, [*fields, *also])
        values: dict[str, Any] = {}
        for name, declaration in fields.items():
            where = f"{path}.{name}"
            if name in table:
                self.take(values, name, declaration, table[name], where)
            elif declaration.default is not None:
                value = self.value(declaration, declaration.default)
                values[name] = value
                self.note(where, value, declaration, declaration.origin)
            elif declaration.required:
                self.problem(
                    where, f"missing, expected {expectation(declaration)} ({declaration.text})"
                )
            else:
                values[name] = None
        return values

    def take(
        self, values: dict[str, Any], name: str, declaration: Field, given: object, path: str
    ) -> None:
        """Put a given value among the values, or note what is wrong with it."""
        try:
            values[name] = self.value(declaration, given)
        except UnitError as problem:
            self.problem(path, str(problem))
        else:
            self.note(path, values[name], declaration, "file")

    def note(
        self, path: str, value: Value, declaration: Field, origin: Origin, provenance: str = ""
    ) -> None:
        """Keep a resolved input with unit and origin."""
        low, high = declaration.range_si()
        whence = "" if origin == "file" else provenance or declaration.provenance
        self.inputs[path] = Input(
            path, value, declaration.unit, origin, declaration.text, low, high, whence
        )

    def derive(
        self,
        cls: type,
        values: dict[str, Any],
        path: str,
        name: str,
        value: Value,
        *,
        origin: Origin = "default",
        provenance: str = "",
    ) -> None:
        """Fill a field that the study left open with a value derived from others."""
        if name in values and values[name] is None:
            values[name] = value
            self.note(f"{path}.{name}", value, declared(cls)[name], origin, provenance)

    def contradiction(self, path: str, given: object, reason: str, remedy: str) -> None:
        """Note a field that cannot stand beside another."""
        self.problem(path, f"contradiction, got {shown(given)} {reason}, expected {remedy}")

    def only_one(self, table: Mapping[str, Any], path: str, names: tuple[str, str]) -> None:
        """Note if both of two fields that say the same are given, or neither."""
        first, second = names
        if first in table and second in table:
            self.contradiction(
                f"{path}.{second}",
                table[second],
                f"beside {first} = {shown(table[first])}",
                f"only one of {first} and {second} (remove one)",
            )
        elif first not in table and second not in table:
            self.problem(f"{path}.{first}", f"missing, expected {first} or {second}")

    def not_allowed(
        self, table: Mapping[str, Any], path: str, names: Iterable[str], reason: str
    ) -> None:
        """Note the fields that a choice made elsewhere rules out."""
        for name in names:
            if name in table:
                self.contradiction(f"{path}.{name}", table[name], reason, "none (remove it)")

    def value(self, declaration: Field, given: object) -> Value:
        """Convert one given value to SI and check it.

        Raises
        ------
        UnitError
            With what is wrong, the value got and what is expected.
        """
        if declaration.nullable and given == "none":
            return None
        if declaration.kind == "boolean":
            if isinstance(given, bool):
                return given
            raise UnitError(f"wrong type, got {shown(given)}, expected true or false")
        if declaration.kind in {"text", "name", "choice"}:
            return _word(declaration, given)
        if declaration.kind == "integer":
            if isinstance(given, bool) or not isinstance(given, Integral):
                raise UnitError(f"wrong type, got {shown(given)}, expected a whole number")
            return int(_in_range(declaration, int(given), given))
        return self.number(declaration, given)

    def number(self, declaration: Field, given: object) -> float:
        """Convert one given number, with a unit or without, to SI and check its range.

        Raises
        ------
        UnitError
            With what is wrong, the value got and what is expected.
        """
        return _in_range(declaration, _number(declaration, given), given)


def expectation(declaration: Field) -> str:
    """Say what a field expects."""
    if declaration.kind == "choice":
        return "one of " + ", ".join(f'"{word}"' for word in declaration.choices)
    if declaration.kind in {"text", "name"}:
        return "text"
    if declaration.kind == "boolean":
        return "true or false"
    if declaration.kind == "integer":
        return "a whole number"
    return described(declaration.unit)


def nearest(word: str, known: Iterable[str]) -> str:
    """Name the nearest known word, or all of them."""
    known = list(known)
    close = difflib.get_close_matches(str(word)[:_WORD_LENGTH], known, n=1, cutoff=0.6)
    listed = ", ".join(known)
    if close:
        return f"got {shown(word)}, expected one of: {listed} (did you mean {close[0]}?)"
    return f"got {shown(word)}, expected one of: {listed}"


def shown(given: object) -> str:
    """Show a value in a message, short whatever it is."""
    if isinstance(given, str):
        return '"' + clipped(given) + '"'
    if isinstance(given, bool):
        return str(given).lower()
    if isinstance(given, Mapping):
        return "a table"
    if isinstance(given, list | tuple):
        return f"a list of {len(given)}"
    if isinstance(given, Integral):
        return str(given) if abs(int(given)) < 10**15 else "a very large integer"
    return clipped(given)


def _word(declaration: Field, given: object) -> str:
    """Check text, a name or a choice."""
    if not isinstance(given, str):
        raise UnitError(f"wrong type, got {shown(given)}, expected {expectation(declaration)}")
    if declaration.kind == "choice" and given not in declaration.choices:
        raise UnitError(f"unknown choice, {nearest(given, declaration.choices)}")
    if declaration.kind == "name" and not NAME.fullmatch(given):
        raise UnitError(
            f"not a name, got {shown(given)}, expected up to 64 letters, digits, _ and -"
        )
    if len(given) > TEXT_LENGTH_MAX:
        raise UnitError(
            f"too long, got {len(given)} characters, expected at most {TEXT_LENGTH_MAX}"
        )
    _check_text(declaration, given)
    return given


def _check_text(declaration: Field, given: str) -> None:
    """Check that a text says something, can be shown, and as a name can be that of a folder."""
    if not given.strip() and declaration.default != "":
        raise UnitError('empty, got "", expected text')
    hidden = hidden_character(given)
    if hidden:
        raise UnitError(
            f"hidden character, got {shown(given)} with {hidden}, expected text that can be "
            "printed (remove the character)"
        )
    if declaration.kind == "name" and is_reserved(given):
        raise UnitError(
            f"reserved name, got {shown(given)}, expected a name that every system allows for a "
            "folder (choose another)"
        )


def _number(declaration: Field, given: object) -> float:
    """Convert a number with or without a unit to SI."""
    if isinstance(given, str):
        if not given.strip():
            raise UnitError(f'empty, got "", expected {described(declaration.unit)}')
        return declaration.si(given)
    if isinstance(given, bool) or not isinstance(given, Real):
        raise UnitError(f"wrong type, got {shown(given)}, expected {expectation(declaration)}")
    try:
        number = float(given)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise UnitError(
            f"not a finite number, got {shown(given)}, expected {described(declaration.unit)}"
        )
    if declaration.unit != "1":
        example = example_unit(declaration.unit, difference=declaration.kind == "difference")
        raise UnitError(
            f"missing unit, got {shown(given)}, expected {described(declaration.unit)} "
            f'(write for example "{shown(given)} {example}")'
        )
    return number


def _in_range(declaration: Field, number: float, given: object) -> float:
    """Check that a number lies in the range of its field (to round-off of the conversion)."""
    low, high = declaration.range_si()
    slack = 1e-12 * max(abs(low or 0.0), abs(high or 0.0))
    if (low is not None and number < low - slack) or (high is not None and number > high + slack):
        raise UnitError(f"out of range, got {shown(given)}, expected {_range_text(declaration)}")
    return number


def _range_text(declaration: Field) -> str:
    """Say the range of a field as a study file would."""
    if declaration.high is None:
        return f"at least {declaration.low}"
    if declaration.low is None:
        return f"at most {declaration.high}"
    return f"{declaration.low} to {declaration.high}"
