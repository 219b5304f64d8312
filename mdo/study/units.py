"""Units at the edge: text of a study file to SI numbers, and SI numbers to trade units.

pint is imported on first use only, and every unit text is converted to one factor and one offset
that are kept, so that a thousand quantities cost a thousand multiplications.
"""

from __future__ import annotations

import math
import re
from functools import lru_cache
from typing import Any

# ASCII digits only: what looks like a digit of another script, or 1_0, is a slip of the pen.
NUMBER = (
    r"[+-]?(?:(?:[1-9][0-9]{0,2}(?:,[0-9]{3})+|[0-9]+)(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
)
_QUANTITY = re.compile(rf"\s*(?P<number>[+-]?(?:nan|inf)\b|{NUMBER})\s*(?P<unit>.*?)\s*")
_ANGLE = re.compile(r"degree\b|radian|arcminute|arcsecond|turn|revolution|grade\b")
_PLAIN = str.maketrans({"−": "-", "·": "*", "²": "**2", "³": "**3", "\N{NO-BREAK SPACE}": " "})
_UNIT_LENGTH_MAX = 40
# Names, products, quotients and small powers; what else could be computed may take forever.
_PLAIN_UNIT = re.compile(
    r"(?:1\s*/)?(?:[^\W\d]\w*|\*\*\s*\(?[+-]?[0-9](?:\.[0-9])?\)?(?!\s*\*\*|\d)|[*/()\s])*"
)
_MORE = re.compile(r"(?!1/)[0-9,.]|_[0-9]")

TRADE = {
    "si": {"m": "mm", "rad": "deg", "K": "degC", "Pa": "MPa", "m/s": "m/s", "rad/s": "deg/s"},
    "us": {
        "m": "in", "m**2": "ft**2", "rad": "deg", "K": "degF", "Pa": "ksi", "m/s": "knot",
        "rad/s": "deg/s", "kg": "lb", "N*m": "in*lbf", "N": "lbf", "kg/m**3": "lb/in**3",
        "N*m/rad": "in*lbf/rad", "kg*m**2": "lb*ft**2", "W/m**2": "W/in**2",
    },
}  # fmt: skip


class UnitError(ValueError):
    """A text that is no quantity of the wanted dimension; the message says how to mend it."""


@lru_cache(maxsize=1)
def registry() -> Any:
    """Return the one unit registry (built on first use)."""
    import pint

    return pint.UnitRegistry()


@lru_cache(maxsize=4096)
def parse_quantity(text: str, unit: str, *, difference: bool = False) -> float:
    """Convert a quantity written as text to SI.

    Parameters
    ----------
    text
        Number and unit, such as ``"3600 in*lbf"`` or ``"25 %"``.
    unit
        SI unit of the result; ``"1"`` for a pure number.
    difference
        True for a temperature difference, where degC and degF would be ambiguous.

    Raises
    ------
    UnitError
        If the text is no number with a unit of that dimension, or the number is not finite.
    """
    number, given = split_quantity(text)
    if not math.isfinite(number):
        raise UnitError(f"not a finite number, got {_short(text)}, expected {described(unit)}")
    if not given and unit != "1":
        raise UnitError(
            f"missing unit, got {_short(text)}, expected {described(unit)} "
            f'(write for example "{number:g} {example_unit(unit, difference=difference)}")'
        )
    if difference and given in {"degC", "degF"}:
        raise UnitError(
            f"a temperature difference cannot be in {given}, got {_short(text)}, "
            'expected kelvin (write for example "10 K")'
        )
    scale, offset = _conversion(given, unit)
    return number * scale + offset


def split_quantity(text: str) -> tuple[float, str]:
    """Split ``"1,600 kg"`` into the number and the tidied unit text (may be empty)."""
    plain = text.translate(_PLAIN)
    match = _QUANTITY.fullmatch(plain)
    if not match:
        raise UnitError(f"not a quantity, got {_short(text)}, expected a number and a unit")
    if _MORE.match(match["unit"]):  # more of a number than one number has
        hint = " (decimals follow a point, not a comma)" if "," in plain else ""
        raise UnitError(f"not a quantity, got {_short(text)}, expected a number and a unit{hint}")
    return float(match["number"].replace(",", "")), _tidy(match["unit"])


def to_trade(value: float, unit: str, system: str = "si") -> tuple[float, str]:
    """Convert an SI number for printing: trade units of the ``si`` or the ``us`` reader.

    Returns
    -------
    The number and its unit; those without a trade unit stay as they are.
    """
    trade = TRADE[system].get(unit)
    return (value, unit) if trade is None else (in_unit(value, unit, trade), trade)


def in_unit(value: float, unit: str, wanted: str) -> float:
    """Convert an SI number to a unit as a study file writes it."""
    scale, offset = _conversion(_tidy(wanted), unit)
    return (value - offset) / scale


def described(unit: str) -> str:
    """Say in words what a field with this SI unit expects."""
    return "a pure number" if unit == "1" else f"a quantity with a unit of {unit}"


def as_written(value: float, unit: str) -> str | float:
    """Return an SI number as a study file writes it."""
    return float(value) if unit == "1" else f"{float(value)!r} {unit}"


def example_unit(unit: str, *, difference: bool = False) -> str:
    """Return the unit that a reader would write in a field with this SI unit."""
    return unit if difference else {"rad": "deg", "K": "degC"}.get(unit, unit)


def _tidy(unit: str) -> str:
    """Bring the ways to write a unit to the one that the registry reads."""
    unit = re.sub(r"°\s*([CF])|\bdeg\s+([CF])\b", lambda m: f"deg{m[1] or m[2]}", unit)
    unit = unit.replace("°", "deg").replace("%", "percent").replace("^", "**")
    unit = re.sub(r"(?<=[A-Za-zµμ])(-?[0-9])", r"**\1", unit)
    if unit not in {"degC", "degF"}:
        unit = re.sub(r"(?<!delta_)\bdeg([CF])\b", r"delta_deg\1", unit)
    return unit


@lru_cache(maxsize=512)
def _conversion(given: str, unit: str) -> tuple[float, float]:
    """Return factor and offset from a tidied unit text to an SI unit."""
    if given == unit or (not given and unit == "1"):
        return 1.0, 0.0
    source = _parse(given)
    same = source.is_compatible_with(_parse(unit)) and _has_angle(given) == _has_angle(unit)
    if not same:
        words = {"C": 'degrees Celsius are written "degC"', "Nm": 'newton metres are written "N*m"'}
        hint = f" ({words[given]})" if given in words else ""
        raise UnitError(f"wrong dimension, got unit {given!r}, expected {described(unit)}{hint}")
    quantity = registry().Quantity
    zero = float(quantity(0.0, source).to(_parse(unit)).magnitude)
    one = float(quantity(1.0, source).to(_parse(unit)).magnitude)
    return (one - zero if zero else one), zero


@lru_cache(maxsize=512)
def _parse(unit: str) -> Any:
    """Return the registry's unit for a text."""
    if unit == "1":
        return registry().Unit("")
    if len(unit) > _UNIT_LENGTH_MAX or not _PLAIN_UNIT.fullmatch(unit):
        raise UnitError(f"unknown unit, got {_short(unit)}, expected a unit such as kg or N*m")
    try:
        return registry().parse_units(unit)
    except Exception as error:  # the registry raises a dozen kinds, some of them internal
        raise UnitError(
            f"unknown unit, got {unit!r}, expected a unit such as mm, deg, kt, degC or in*lbf"
        ) from error


@lru_cache(maxsize=512)
def _has_angle(unit: str) -> bool:
    """Tell whether a unit contains a plane angle (dimensionless for the registry, not for us)."""
    return bool(_ANGLE.search(str(_parse(unit))))


def _short(text: str) -> str:
    """Quote a text, cut to a readable length."""
    return repr(text if len(text) <= _UNIT_LENGTH_MAX else f"{text[:_UNIT_LENGTH_MAX]}...")
