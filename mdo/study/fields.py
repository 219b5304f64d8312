"""What a field of a study file is: kind, unit, range, default, origin and meaning, declared once.

The sections of a study are frozen dataclasses whose attributes carry a :class:`Field`. Validation,
defaults, the listing of ``fold-mdo check``, the JSON Schema and the documentation all read it.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

from mdo.study.units import parse_quantity

Kind = Literal["quantity", "difference", "integer", "boolean", "text", "name", "choice", "variable"]
Origin = Literal["file", "default", "judgement"]
Given = str | float | bool


@dataclass(frozen=True, kw_only=True)
class Field:
    """One field of a study file.

    Attributes
    ----------
    kind
        ``difference`` is a temperature difference; ``variable`` a design variable with bounds.
    unit
        SI unit; ``"1"`` dimensionless, where a bare number is allowed.
    low, high
        Allowed range as it would be written in a study file, ends included.
    default
        Default as it would be written in a study file; None where there is none.
    required
        True if the file must give it.
    nullable
        True if ``"none"`` switches it off.
    origin
        ``judgement`` if the default is a judged number, else ``default``.
    provenance
        Where the default comes from.
    text
        Meaning in one line.
    choices
        Allowed words of a ``choice``.
    lower, upper
        Default bounds of a design variable.
    per_set
        True if a design variable has one value for each set.
    """

    kind: Kind
    text: str
    unit: str = "1"
    low: str | float | None = None
    high: str | float | None = None
    default: Given | None = None
    required: bool = False
    nullable: bool = False
    origin: Origin = "default"
    provenance: str = ""
    choices: tuple[str, ...] = ()
    lower: str | float = 0.0
    upper: str | float = 0.0
    per_set: bool = False

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


def quantity(
    unit: str,
    text: str,
    *,
    low: str | float | None = None,
    high: str | float | None = None,
    default: str | float | None = None,
    required: bool = False,
    nullable: bool = False,
    judged: str = "",
    source: str = "",
    difference: bool = False,
) -> Any:
    """Declare a number with a unit (``"1"`` for none); ``judged`` or ``source`` say whence."""
    return _attribute(
        Field(
            kind="difference" if difference else "quantity",
            unit=unit,
            text=text,
            low=low,
            high=high,
            default=default,
            required=required,
            nullable=nullable,
            origin="judgement" if judged else "default",
            provenance=judged or source,
        )
    )


def integer(
    text: str, *, low: int, high: int, default: int | None = None, required: bool = False
) -> Any:
    """Declare a whole number."""
    return _attribute(
        Field(kind="integer", text=text, low=low, high=high, default=default, required=required)
    )


def boolean(text: str, *, default: bool = False) -> Any:
    """Declare a switch."""
    return _attribute(Field(kind="boolean", text=text, default=default))


def words(
    text: str, *, default: str | None = None, required: bool = False, name: bool = False
) -> Any:
    """Declare free text, or a name made of letters, digits, ``_`` and ``-``."""
    kind: Kind = "name" if name else "text"
    return _attribute(Field(kind=kind, text=text, default=default, required=required))


def choice(
    choices: tuple[str, ...],
    text: str,
    *,
    default: str | None = None,
    required: bool = False,
    judged: str = "",
    source: str = "",
) -> Any:
    """Declare one of a few words."""
    return _attribute(
        Field(
            kind="choice",
            text=text,
            choices=choices,
            default=default,
            required=required,
            origin="judgement" if judged else "default",
            provenance=judged or source,
        )
    )


def variable(
    unit: str,
    text: str,
    *,
    low: str | float,
    high: str | float,
    lower: str | float,
    upper: str | float,
    per_set: bool = False,
) -> Any:
    """Declare a design variable: allowed range and, inside it, default bounds."""
    return _attribute(
        Field(
            kind="variable",
            unit=unit,
            text=text,
            low=low,
            high=high,
            lower=lower,
            upper=upper,
            per_set=per_set,
            origin="judgement",
            provenance="bounds wide enough for vehicles from 20 kg to 20 t",
        )
    )


@lru_cache(maxsize=32)
def declared(section: type) -> dict[str, Field]:
    """Return the fields that a section's dataclass declares, by name, in order."""
    return {
        attribute.name: attribute.metadata["field"]
        for attribute in dataclasses.fields(section)
        if "field" in attribute.metadata
    }


def _attribute(field: Field) -> Any:
    return dataclasses.field(metadata={"field": field})
