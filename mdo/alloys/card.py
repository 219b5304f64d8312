"""Loader of alloy cards: TOML text to numbers in SI with their range, source and standing.

A field that is not in the card is absent: the tool then refuses to run the card and names the
field, it never guesses. All faults of a card are reported together.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from mdo.alloys.fields import (
    CARD_FIELDS,
    DECLARED_LIFE,
    FUNCTIONAL_LOSS,
    KNOWN_FIELDS,
    LIFE_LAW,
    TRAINED_FIELD,
    UNITS,
    UNUSED_LIFE,
)
from mdo.disciplines.records import Alloy
from mdo.errors import ProblemsError
from mdo.quantities import QUANTITIES

CARD_FOLDER = Path(__file__).parent / "cards"
KINDS = ("actuator", "verification", "synthetic")
HEADER = ("name", "title", "kind", "notes")
_FIELDS_MAX = 200
FIELD_KEYS = ("value", "low", "high", "source", "provenance", "judged")

# Standing of a number. `memory` = confident, source named but not read; `memory_to_verify` = verify
# before use; `judgement` = no source. The last two must be marked as judged and carry a range.
PROVENANCE = (
    "seen", "memory", "memory_to_verify", "derived", "judgement", "synthetic", "fitted",
)  # fmt: skip
JUDGED_PROVENANCE = ("memory_to_verify", "judgement")


class CardError(ProblemsError):
    """An alloy card that cannot be read or cannot be run."""


@dataclass(frozen=True)
class Field:
    """One number of a card, in SI, with what is known about it (None: no range was given)."""

    name: str
    value: float
    low: float | None
    high: float | None
    text: str
    source: str
    provenance: str
    judged: bool


@dataclass(frozen=True)
class Card:
    """An alloy card; ``fields`` holds only the fields that the card gives."""

    name: str
    title: str
    kind: str
    notes: str
    path: Path
    fields: Mapping[str, Field]

    @property
    def judged_fields(self) -> list[str]:
        """Names of the fields that rest on judgement or on memory still to be verified."""
        return [name for name, field in self.fields.items() if field.judged]

    @property
    def has_life_law(self) -> bool:
        """Whether the card gives a life law (else it needs a declared life)."""
        return all(name in self.fields for name in LIFE_LAW)

    def missing_fields(self) -> list[str]:
        """Names of the fields that a run needs and the card does not give."""
        unused = DECLARED_LIFE if self.has_life_law else LIFE_LAW
        needed = [name for name in CARD_FIELDS if name not in {*unused, *FUNCTIONAL_LOSS}]
        return [name for name in needed if name not in self.fields]

    def with_fields(self, fields: Mapping[str, Field]) -> Card:
        """Return a copy in which the given fields replace or complete those of the card."""
        unknown = [
            _unknown("field", name, KNOWN_FIELDS) for name in fields if name not in KNOWN_FIELDS
        ]
        if unknown:
            raise CardError(f"{self.path}: {problem}" for problem in unknown)
        return replace(self, fields={**self.fields, **fields})

    def of_tubes(self, *, trained: bool) -> Card:
        """Return the card of trained or untrained tubes.

        Trained, the two-way strain stands for the strain at no load; else it says nothing.

        Raises
        ------
        CardError
            If the tubes are trained and the card gives no two-way strain.
        """
        fields = dict(self.fields)
        strain = fields.pop(TRAINED_FIELD, None)
        if trained and strain is None:
            message = (
                f"{self.path}: {TRAINED_FIELD}: missing, expected the strain at no load that "
                "training gives, with source and range (or trained = false in the study)"
            )
            raise CardError([message])
        if trained and strain is not None:
            fields["strain_min"] = replace(strain, name="strain_min")
        return replace(self, fields=fields)

    def record(self) -> Alloy:
        """Return the record that the physics uses (SI).

        Raises
        ------
        CardError
            If a field that a run needs is absent; the message names every one.
        """
        missing = self.missing_fields()
        if missing:
            hint = ""
            if set(missing) & set(DECLARED_LIFE):
                hint = " (the card has no life law, so it needs a declared life)"
            message = (
                f"{self.path}: alloy '{self.name}' ({self.kind}) cannot be run: it does not give "
                f"{', '.join(missing)}{hint}; put them, with source and range, into a card of "
                "your own"
            )
            raise CardError([message])
        values = {name: field.value for name, field in self.fields.items() if name != TRAINED_FIELD}
        blank = dict.fromkeys(FUNCTIONAL_LOSS, 0.0)
        values = {**UNUSED_LIFE, **blank, **values, "life_law": float(self.has_life_law)}
        return Alloy(**values)


def list_cards() -> list[str]:
    """Return the names of the cards that come with the tool, sorted."""
    return sorted(path.stem for path in CARD_FOLDER.glob("*.toml"))


def cards_meant(word: str) -> list[str]:
    """Return the names worth a hint: cards that give all a design needs, first part alike if any.

    No synthetic one.
    """
    cards = [load_card(name) for name in list_cards()]
    run = [card.name for card in cards if card.kind == "actuator" and not card.missing_fields()]
    return [name for name in run if name.startswith(f"{word}_")] or run


def load_card(name_or_path: str | Path) -> Card:
    """Read one alloy card: by name if it comes with the tool, by path if it is the user's own.

    Parameters
    ----------
    name_or_path : str or Path
        A name of :func:`list_cards`, or the path of a TOML file (text with a folder or ``.toml``).

    Returns
    -------
    Card
        The card; fields absent from the file are absent from it.

    Raises
    ------
    CardError
        With every fault of the file: unknown names (with the nearest), units, ranges, provenance,
        order of temperatures.
    """
    path = _find(name_or_path)
    try:
        return card_of(path.read_text(encoding="utf-8-sig"), path)
    except FileNotFoundError:
        raise CardError([f"{path}: no such alloy card"]) from None
    except (OSError, UnicodeDecodeError) as error:
        raise CardError([f"{path}: cannot be read as TOML: {error}"]) from None


def card_of(text: str, path: Path) -> Card:
    """Return the card that a text makes, named by the path of its file.

    Raises
    ------
    CardError
        As :func:`load_card`.
    """
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise CardError([f"{path}: cannot be read as TOML: {error}"]) from None
    if len(data) > _FIELDS_MAX:
        raise CardError([f"{path}: got {len(data)} fields, expected at most {_FIELDS_MAX}"])
    problems: list[str] = []
    header = _read_header(data, problems)
    tables = {name: table for name, table in data.items() if name not in HEADER}
    read = {name: parse_field(name, table, problems) for name, table in tables.items()}
    fields = {name: field for name, field in read.items() if field is not None}
    problems += _out_of_order(fields)
    if problems:
        raise CardError(f"{path}: {problem}" for problem in problems)
    return Card(path=path, fields=fields, **header)


def parse_field(name: str, table: object, problems: list[str]) -> Field | None:
    """Read one field table; append what is wrong to ``problems`` and return None if unusable."""
    if name not in KNOWN_FIELDS:
        problems.append(_unknown("field", name, [*HEADER, *KNOWN_FIELDS]))
        return None
    if not isinstance(table, dict):
        problems.append(f"{name}: got {table!r}, expected a table [{name}] with a value")
        return None
    before = len(problems)
    problems += [
        f"{name}: {_unknown('key', key, FIELD_KEYS)}" for key in table if key not in FIELD_KEYS
    ]
    if "value" not in table:
        problems.append(f"{name}.value: missing; leave the whole table out if it is not known")
        return None
    numbers = {
        key: _parse_number(name, key, table[key], problems)
        for key in ("value", "low", "high")
        if key in table
    }
    problems += _faults_of_standing(name, table)
    low, high, value = numbers.get("low"), numbers.get("high"), numbers["value"]
    for key, sign, words in (("low", 1.0, "not above"), ("high", -1.0, "not below")):
        bound = numbers.get(key)
        if bound is not None and value is not None and sign * (bound - value) > 1e-12 * abs(value):
            got = f"got {table[key]!r}, must be {words} value ({table['value']!r})"
            problems.append(f"{name}.{key}: {got}")
    if len(problems) > before or value is None:
        return None
    source, provenance, text = table["source"], table["provenance"], str(table["value"])
    return Field(name, value, low, high, text, source, provenance, table["judged"])


def _find(name_or_path: str | Path) -> Path:
    text = str(name_or_path)
    if isinstance(name_or_path, Path) or text.endswith(".toml") or "/" in text or "\\" in text:
        return Path(name_or_path)
    known = list_cards()
    if text not in known:
        message = _unknown("alloy", text, known, cards_meant(text))
        raise CardError([f"{message}; a card of your own is given by its path (.toml)"])
    return CARD_FOLDER / f"{text}.toml"


def _unknown(
    what: str, name: str, choices: Iterable[str], meant: Iterable[str] | None = None
) -> str:
    choices = list(choices)
    likely = choices if meant is None else list(meant)
    nearest = difflib.get_close_matches(name, likely, n=1, cutoff=0.4)
    hint = f", did you mean '{nearest[0]}'" if nearest else ""
    return f"unknown {what} '{name}'{hint}; expected one of: {', '.join(choices)}"


def _read_header(data: Mapping[str, Any], problems: list[str]) -> dict[str, str]:
    header = {}
    for key in HEADER:
        text = data.get(key, "" if key == "notes" else None)
        if not isinstance(text, str) or (key != "notes" and not text.strip()):
            problems.append(f"{key}: got {text!r}, expected a text")
        header[key] = str(text)
    if isinstance(data.get("kind"), str) and header["kind"] not in KINDS:
        problems.append(f"kind: {_unknown('kind', header['kind'], KINDS)}")
    return header


def _faults_of_standing(name: str, table: Mapping[str, Any]) -> Iterator[str]:
    source, provenance = table.get("source"), table.get("provenance")
    judged = table.get("judged")
    if not isinstance(source, str) or not source.strip():
        yield f"{name}.source: got {source!r}, expected where the number comes from"
    if not isinstance(provenance, str) or provenance not in PROVENANCE:
        yield f"{name}.provenance: {_unknown('standing', str(provenance), PROVENANCE)}"
    if not isinstance(judged, bool):
        yield f"{name}.judged: got {judged!r}, expected true or false"
    elif provenance in JUDGED_PROVENANCE and not judged:
        yield f"{name}.judged: got false, expected true for provenance '{provenance}'"
    if judged is True and not {"low", "high"} <= table.keys():
        yield f"{name}: judged, so it needs a range: give both low and high"


def _parse_number(name: str, key: str, raw: object, problems: list[str]) -> float | None:
    quantity = QUANTITIES[name]
    try:
        value = _converted(raw, quantity.unit)
    except (ValueError, KeyError):
        units = ", ".join(unit for unit in UNITS[quantity.unit] if unit)
        expected = "a number" if quantity.unit == "1" else f"a number with one of the units {units}"
        problems.append(f"{name}.{key}: got {raw!r}, expected {expected}")
        return None
    low, high = (_converted(end, quantity.unit) for end in (quantity.low, quantity.high))
    if not low <= value <= high:
        problems.append(f"{name}.{key}: got {raw!r}, must be {quantity.low} to {quantity.high}")
        return None
    return value


def _converted(raw: object, unit: str) -> float:
    """Convert a number, or text with a number and a unit, to SI."""
    number, _, given = raw.strip().partition(" ") if isinstance(raw, str) else (raw, "", "")
    if isinstance(number, bool) or not isinstance(number, int | float | str):
        raise ValueError  # noqa: TRY004 - one kind for the caller
    if isinstance(number, str) and not (number.isascii() and "_" not in number):
        raise ValueError  # digits of another script, 1_0
    conversion = UNITS[unit][given.strip()]
    return float(number) * conversion.factor + conversion.offset


def _out_of_order(fields: Mapping[str, Field]) -> Iterator[str]:
    pairs = (
        ("martensite_finish", "martensite_start"),
        ("austenite_start", "austenite_finish"),
        ("detwinning_start_stress", "detwinning_finish_stress"),
        ("strain_min", "strain_saturation"),
    )
    for lower, upper in pairs:
        if lower not in fields or upper not in fields:
            continue
        low, high = fields[lower], fields[upper]
        if low.value > high.value or (low.value == high.value and lower != "strain_min"):
            words = "must not exceed" if lower == "strain_min" else "must be below"
            yield f"{lower}: got {low.text!r}, {words} {upper} ({high.text!r})"
