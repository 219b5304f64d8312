"""A section while it is read: what the file gives, its values so far, and what depends on what."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from mdo.study.fields import Origin, declared
from mdo.study.reader import Reader
from mdo.study.values import Plain, shown

NONE = "none (remove it)"


class Rule(NamedTuple):
    """What a choice rules out beside it.

    Attributes
    ----------
    names
        Fields of the same section.
    by, chosen
        The field that decides, and its values that do.
    says
        Why they are ruled out; ``{}`` is the value.
    expected
        What is expected of them instead.
    values
        Those that are ruled out; all where left out.
    """

    names: tuple[str, ...]
    by: str
    chosen: tuple[object, ...]
    says: str
    expected: str = NONE
    values: tuple[object, ...] = ()


class Need(NamedTuple):
    """What a choice asks for beside it: fields, what decides, what is expected of the fields."""

    names: tuple[str, ...]
    by: str
    chosen: tuple[object, ...]
    says: str


@dataclass
class Part:
    """A section of a study while it is read.

    Attributes
    ----------
    reader, path
        Where its problems are noted.
    given, values
        What the file gives, and SI values by field, as far as they are sound.
    of
        The class that declares its fields.
    """

    reader: Reader
    path: str
    given: Mapping[str, Any]
    values: dict[str, Any] = field(default_factory=dict)
    of: type = object

    @classmethod
    def read(
        cls, reader: Reader, of: type, given: object, path: str, *, also: Iterable[str] = ()
    ) -> Part:
        """Read all fields that a class declares."""
        table = reader.table(given, path)
        if table is None:
            return cls(reader, path, {}, of=of)
        return cls(reader, path, table, reader.section_once(of, table, path, also=also), of)

    def problem(self, name: str, message: str) -> None:
        """Note what is wrong with a field."""
        self.reader.problem(f"{self.path}.{name}", message)

    def contradiction(self, name: str, reason: str, expected: str = NONE) -> None:
        """Note a field that cannot stand beside another."""
        got = self.given.get(name, self.values.get(name))
        self.problem(name, f"contradiction, got {shown(got)} {reason}, expected {expected}")

    def not_allowed(self, names: Iterable[str], reason: str) -> None:
        """Note the fields that a choice made elsewhere rules out."""
        for name in names:
            if name in self.given:
                self.contradiction(name, reason)

    def only_one(self, first: str, second: str) -> None:
        """Note if both of two fields that say the same are given, or neither."""
        if first in self.given and second in self.given:
            reason = f"beside {first} = {shown(self.given[first])}"
            self.contradiction(second, reason, f"only one of {first} and {second} (remove one)")
        elif first not in self.given and second not in self.given:
            self.problem(first, f"missing, expected {first} or {second}")

    def follow(
        self, rules: Iterable[Rule | Need], choices: Mapping[str, Any] | None = None
    ) -> None:
        """Note what is against some rules; choices made in another section may decide."""
        for rule in rules:
            chosen = (self.values if choices is None else choices).get(rule.by)
            for name in rule.names if chosen in rule.chosen else ():
                if isinstance(rule, Need):
                    if name not in self.given:
                        self.problem(name, f"missing, expected {rule.says.format(chosen)}")
                elif name in self.given and (
                    not rule.values or self.values.get(name) in rule.values
                ):
                    self.contradiction(name, rule.says.format(shown(chosen)), rule.expected)

    def derive(
        self, name: str, value: Plain, provenance: str = "", *, origin: Origin = "default"
    ) -> None:
        """Fill a field that the study left open with a value derived from others."""
        if name in self.values and self.values[name] is None:
            self.values[name] = value
            of = declared(self.of)[name]
            self.reader.note(f"{self.path}.{name}", value, of, origin, provenance)
