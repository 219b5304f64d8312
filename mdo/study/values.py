"""One given value of a study file, checked by its field and converted to SI."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterable, Mapping
from numbers import Integral, Real

from mdo.study.fields import Field
from mdo.study.text import clipped, hidden_character, is_reserved
from mdo.study.units import UnitError, described, example_unit, split_quantity

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}")
TEXT_LENGTH_MAX = 10_000
_WORD_LENGTH = 60
_COUNTS = ("none", "one", "two", "three")
_EXPECTED = {
    "text": "text", "name": "text", "boolean": "true or false", "integer": "a whole number",
    "section": "a table", "table": "a table", "end": "a quantity",
}  # fmt: skip
Plain = float | int | str | bool | None


def converted(field: Field, given: object) -> Plain:
    """Convert one given value to SI and check it.

    Raises
    ------
    UnitError
        With what is wrong, the value got and what is expected.
    """
    if field.kind in {"pair", "list", "table", "section", "tables"}:
        raise _wrong_type(field, given)
    if field.nullable and given == "none":
        return None
    if field.kind == "boolean":
        if isinstance(given, bool):
            return given
        raise _wrong_type(field, given)
    if field.kind in {"text", "name", "choice"}:
        return _word(field, given)
    if field.kind == "end":
        return _end(field, given)
    if field.kind == "integer":
        if isinstance(given, bool) or not isinstance(given, Integral):
            raise _wrong_type(field, given)
        return int(_in_range(field, int(given), given))
    return _in_range(field, _number(field, given), given)


def expectation(field: Field) -> str:
    """Say what a field expects."""
    if field.kind == "choice":
        return "one of " + ", ".join(f'"{word}"' for word in field.choices)
    if field.kind == "pair":
        return field.text
    if field.kind == "tables":
        return f"{_COUNTS[field.least]} or more {field.noun}s"
    if field.kind == "list" and field.item:
        known = ", ".join(field.item.choices)
        return f"a list of {known}" if known and field.item.noun else "a list"
    return _EXPECTED.get(field.kind) or described(field.unit)


def count_expected(field: Field) -> str:
    """Say how many items a list must have."""
    least, most = (_COUNTS[n] if n < len(_COUNTS) else str(n) for n in (field.least, field.most))
    item = field.item or Field(kind="text")
    known = item.choices if item.noun else ()
    if field.least <= 1:
        many = f"{least} or more"
    else:
        many = f"{least} or {'more' if field.most > field.least + 1 else most} different"
    if known:
        return f"{many}{' ones' if field.least > 1 else ''} of {', '.join(known)}"
    return f"{many} {item.noun or 'value'}s"


def nearest(word: str, known: Iterable[str], meant: Iterable[str] | None = None) -> str:
    """Name the nearest known word, or all of them; ``meant`` are those that are worth a hint."""
    known = list(known)
    likely = known if meant is None else list(meant)
    cutoff = 0.6 if meant is None else 0.4
    close = difflib.get_close_matches(str(word)[:_WORD_LENGTH], likely, n=1, cutoff=cutoff)
    hint = f" (did you mean {close[0]}?)" if close else ""
    return f"got {shown(word)}, expected one of: {', '.join(known)}{hint}"


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


def _fault(what: str, given: object, expected: str) -> UnitError:
    """Error of a given value, in the words that all of them have."""
    return UnitError(f"{what}, got {shown(given)}, expected {expected}")


def _wrong_type(field: Field, given: object) -> UnitError:
    return _fault("wrong type", given, expectation(field))


def _word(field: Field, given: object) -> str:
    """Check text, a name or a choice."""
    if not isinstance(given, str):
        raise _wrong_type(field, given)
    if field.kind == "choice" and given not in field.choices:
        raise UnitError(f"unknown {field.noun or 'choice'}, {nearest(given, field.choices)}")
    if field.kind == "name" and not NAME.fullmatch(given):
        raise _fault("not a name", given, "up to 64 letters, digits, _ and -")
    if len(given) > TEXT_LENGTH_MAX:
        raise UnitError(
            f"too long, got {len(given)} characters, expected at most {TEXT_LENGTH_MAX}"
        )
    if not given.strip() and field.default != "":
        raise _fault("empty", "", "text")
    hidden = hidden_character(given)
    if hidden:
        expected = "text that can be printed (remove the character)"
        raise UnitError(f"hidden character, got {shown(given)} with {hidden}, expected {expected}")
    if field.kind == "name" and is_reserved(given):
        expected = "a name that every system allows for a folder (choose another)"
        raise _fault("reserved name", given, expected)
    return given


def _end(field: Field, given: object) -> str | float:
    """Check an end of a range that is kept as it is written."""
    if isinstance(given, bool) or not isinstance(given, str | int | float):
        raise _wrong_type(field, given)
    try:
        size = split_quantity(given)[0] if isinstance(given, str) else float(given)
    except OverflowError:
        size = math.inf
    if not math.isfinite(size):
        raise _fault("not a finite number", given, "a quantity")
    return given


def _number(field: Field, given: object) -> float:
    """Convert a number with or without a unit to SI."""
    if isinstance(given, str):
        if not given.strip():
            raise _fault("empty", "", described(field.unit))
        return field.si(given)
    if isinstance(given, bool) or not isinstance(given, Real):
        raise _wrong_type(field, given)
    try:
        number = float(given)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise _fault("not a finite number", given, described(field.unit))
    if field.unit != "1":
        example = example_unit(field.unit, difference=field.kind == "difference")
        raise UnitError(
            f"missing unit, got {shown(given)}, expected {described(field.unit)} "
            f'(write for example "{shown(given)} {example}")'
        )
    return number


def _in_range(field: Field, number: float, given: object) -> float:
    """Check that a number lies in the range of its field (to round-off of the conversion)."""
    low, high = field.range_si()
    slack = 1e-12 * max(abs(low or 0.0), abs(high or 0.0))
    if (low is None or number >= low - slack) and (high is None or number <= high + slack):
        return number
    allowed = f"{field.low} to {field.high}"
    if field.low is None or field.high is None:
        allowed = f"at least {field.low}" if field.high is None else f"at most {field.high}"
    raise _fault("out of range", given, allowed)
