"""What a field of a study file is: kind, default, choices and where its default comes from.

The sections of a study are frozen dataclasses whose attributes carry a :class:`Field`. A number
says only what is the study's own; its unit, title, meaning and range are those of its quantity in
``mdo/quantities.csv``. What any other field means stands in ``field_texts.toml``, or in its
declaration where that is of no section of a study. Validation, defaults, the listing of
``fold-mdo check``, the JSON Schema and the documentation all read the fields.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

from mdo.data_files import toml_beside
from mdo.quantities import QUANTITIES
from mdo.study.units import parse_quantity

Kind = Literal[
    "quantity", "difference", "integer", "boolean", "text", "name", "choice", "variable", "end",
    "pair", "list", "table", "section", "tables",
]  # fmt: skip
Origin = Literal["file", "default", "judgement"]
Given = str | float | bool | tuple[str, ...] | tuple[float, ...]
ITEMS_MAX = 1000
_TEXTS = toml_beside(__file__, "field_texts")  # of fields that are no numbers


@dataclass(frozen=True, kw_only=True)
class Field:
    """One field of a study file.

    Attributes
    ----------
    kind
        ``difference`` is a temperature difference; ``variable`` a design variable with bounds;
        ``end`` a quantity that is kept as it is written; ``pair`` two values, ``list`` many of one
        kind, ``table`` the same under free names, ``section`` fields of their own, ``tables``
        such sections one after the other.
    text, title, quantity
        Meaning in one line, in short words, and name in the table of quantities.
    unit
        SI unit; ``"1"`` dimensionless, where a bare number is allowed.
    low, high
        Allowed range as it would be written in a study file, ends included.
    default
        Default as it would be written in a study file; None where there is none.
    otherwise
        What stands in for a field that is left out and has no default of its own.
    inherits
        Section whose field of the same name does.
    required
        True if the file must give it.
    nullable
        True if ``"none"`` switches it off.
    origin
        ``judgement`` if the default is a judged number, else ``default``.
    provenance
        Where the default comes from.
    choices
        Allowed words of a ``choice``.
    noun
        What messages call an item of a list; one that has a name is not listed as an input.
    lower, upper
        Default bounds of a design variable.
    per_set
        True if a design variable has one value for each set.
    fields, builds
        Fields of a ``section`` or of ``tables``, and their class; those of the ends of a ``pair``.
    item, least, most, ordered
        What a ``list`` or a ``table`` holds, how many, and whether a list is sorted.
    """

    kind: Kind
    text: str = ""
    title: str = ""
    quantity: str = ""
    unit: str = "1"
    low: str | float | None = None
    high: str | float | None = None
    default: Given | None = None
    otherwise: str = ""
    inherits: str = ""
    required: bool = False
    nullable: bool = False
    origin: Origin = "default"
    provenance: str = ""
    choices: tuple[str, ...] = ()
    noun: str = ""
    lower: str | float = 0.0
    upper: str | float = 0.0
    per_set: bool = False
    fields: Mapping[str, Field] = dataclasses.field(default_factory=dict)
    builds: type | None = None
    item: Field | None = None
    least: int = 0
    most: int = ITEMS_MAX
    ordered: bool = False

    def si(self, given: str | float) -> float:
        """Convert a range end or default of this field to SI."""
        if isinstance(given, str):
            return parse_quantity(given, self.unit, difference=self.kind == "difference")
        return float(given)

    def range_si(self) -> tuple[float | None, float | None]:
        """Return the allowed range in SI."""
        low = None if self.low is None else self.si(self.low)
        high = None if self.high is None else self.si(self.high)
        return low, high


def number(name: str, *, kind: Kind = "quantity", **own: Any) -> Field:
    """Return the field of a quantity of the table: what the study says, the rest from there."""
    line = QUANTITIES[name]
    low, high = (_end(end, line.unit) for end in (line.low, line.high))
    return Field(
        **{"low": low, "high": high, **own}, kind="difference" if line.is_difference else kind,
        text=line.meaning, title=line.title, quantity=name, unit=line.unit,
    )  # fmt: skip


def _end(end: str, unit: str) -> str | float | None:
    """Return an end of a range as a study file would write it."""
    if not end or unit != "1":
        return end or None
    return int(end) if end.lstrip("-").isdigit() else float(end)


def quantity(*, of: str = "", whole: bool = False, **own: Any) -> Any:
    """Declare a number: the quantity of the attribute's name, or of another one.

    Keywords are those of :class:`Field`, and ``judged`` or ``source`` that say whence its default.
    """
    return _attribute(of=of, kind="integer" if whole else "quantity", **own)


def variable(lower: str | float, upper: str | float, *, per_set: bool = False) -> Any:
    """Declare a design variable: default bounds inside of the range of its quantity."""
    judged = "bounds wide enough for vehicles from 20 kg to 20 t"
    return _attribute(
        of="", kind="variable", lower=lower, upper=upper, per_set=per_set, judged=judged
    )


def boolean(text: str = "", *, default: bool = False) -> Any:
    """Declare a switch: its text, or the quantity of its name."""
    return _attribute(kind="boolean", text=text, default=default)


def words(text: str = "", *, name: bool = False, **own: Any) -> Any:
    """Declare free text, or a name made of letters, digits, ``_`` and ``-``."""
    return _attribute(kind="name" if name else "text", text=text, **own)


def choice(choices: tuple[str, ...], text: str = "", **own: Any) -> Any:
    """Declare one of a few words."""
    return _attribute(kind="choice", text=text, choices=choices, **own)


def word_list(
    choices: tuple[str, ...], *, default: tuple[str, ...], noun: str = "word", **own: Any
) -> Any:
    """Declare a list of known words."""
    item = Field(kind="choice", choices=choices, noun=noun)
    return _attribute(kind="list", default=default, item=item, **{"least": 1, **own})


def many(item: Field, text: str = "", **own: Any) -> Any:
    """Declare a list of values of one kind."""
    return _attribute(kind="list", text=text, item=item, **own)


def by_name(item: Field) -> Any:
    """Declare a table of values of one kind under free names."""
    return _attribute(kind="table", item=item)


def section(fields: type | Mapping[str, Field]) -> Any:
    """Declare a table of fields of their own: those of a class, or some by name."""
    if isinstance(fields, type):
        return _attribute(kind="section", fields=declared(fields), builds=fields)
    return _attribute(kind="section", fields=fields)


def sections(of: type, **own: Any) -> Any:
    """Declare an array of tables with the fields of a class."""
    return _attribute(kind="tables", fields=declared(of), builds=of, required=True, **own)


@lru_cache(maxsize=32)
def declared(of: type) -> dict[str, Field]:
    """Return the fields that a section's dataclass declares, by name, in order."""
    texts = _TEXTS.get(of.__name__, {})
    return {
        attribute.name: _field(attribute.name, texts, **attribute.metadata["field"])
        for attribute in dataclasses.fields(of)
        if "field" in attribute.metadata
    }


def _field(
    name: str, texts: Mapping[str, str], *, of: str | None, judged: str, source: str, **own: Any
) -> Field:
    """Return the field of an attribute: with the table's words where it is a quantity there."""
    own |= {"origin": "judgement" if judged else "default", "provenance": judged or source}
    if of is not None:
        return number(of or name, **own)
    text = own.get("text") or texts.get(name, "")
    if own["kind"] == "boolean" and not text:
        text = QUANTITIES[name].meaning.replace("1 if", "True if", 1)
    return Field(**own | {"text": text})


def _attribute(*, of: str | None = None, judged: str = "", source: str = "", **own: Any) -> Any:
    return dataclasses.field(
        metadata={"field": own | {"of": of, "judged": judged, "source": source}}
    )
