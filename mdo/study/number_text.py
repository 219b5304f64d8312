"""Numbers as text: trade units, no more digits than mean something, lines up to 100 columns."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Sequence

from mdo.study.units import to_trade

WIDTH = 100
FOOT = 0.3048  # [m] exact
LONG = 2.0  # [m] lengths from here on are printed in metres or feet, not in mm or in

# Units of a printed page that a study file does not use: SI unit -> trade unit, factor.
_PAGE = {
    "J": ("kJ", 1e-3),
    "J/m**3": ("MJ/m**3", 1e-6),
    "J/kg": ("kJ/kg", 1e-3),
    "W/m**2": ("W/cm**2", 1e-4),
    "Pa/K": ("MPa/K", 1e-6),
    "1/Pa": ("1/GPa", 1e9),
    "m**2": ("mm**2", 1e6),
    "fraction": ("%", 100.0),
    "kg/W": ("kg/kW", 1e3),
    "W/kg": ("kW/kg", 1e-3),
}


# Numbers beyond these are none that anyone works with: they are said in words.
FINEST = {"m": 1e-9, "rad": 1e-9}  # below it a length or an angle is none: round-off of zero
LONGEST, LONGER = 1e6, "over 11 days"  # [s]
MOST_SHARE, ROUND_OFF = 100.0, 1e-9


def figure(value: float, digits: int = 4) -> str:
    """Return a number with some significant digits, without an exponent where none is needed.

    Whole digits are never dropped: 1125.48 with four digits is ``1125``, 12345.6 is ``12346``.
    """
    if not math.isfinite(value):
        return "-"
    if value == 0.0:
        return "0"
    magnitude = int(f"{value:.{digits - 1}e}".partition("e")[2])  # of the rounded number
    if not -5 < magnitude < 9:
        return f"{value:.{digits}g}"
    text = f"{value:.{max(digits - 1 - magnitude, 0)}f}"
    return text.lstrip("-") if float(text) == 0.0 else text


def trade(value: float, unit: str, units: str, *, difference: bool = False) -> tuple[float, str]:
    """Convert an SI number for print; a temperature difference stays in kelvin.

    Returns
    -------
    The number and its unit, empty for a pure number.
    """
    if unit == "1" or (unit == "K" and difference):
        return value, "" if unit == "1" else "K"
    if unit == "m" and abs(value) >= LONG:
        return (value / FOOT, "ft") if units == "us" else (value, "m")
    if unit in _PAGE and not (units == "us" and unit == "W/m**2"):
        name, factor = _PAGE[unit]
        return value * factor, name
    return to_trade(value, unit, units)


def quantity(
    value: float, unit: str, units: str = "si", *, digits: int = 4, difference: bool = False
) -> str:
    """Return an SI number with its unit as text, in trade units."""
    if unit == "s" and LONGEST < value < math.inf:
        return LONGER
    if abs(value) < FINEST.get(unit, 0.0):
        value = 0.0
    number, name = trade(value, unit, units, difference=difference)
    if not math.isfinite(number):
        return "-"
    text = f"{number:.1f}" if name in {"degC", "degF"} else figure(number, digits)
    return f"{text} {name}".rstrip()


def number_text(value: float) -> str:
    """Return a number that was given: six digits, no exponent where none is needed."""
    text = f"{value:.6g}"
    return f"{value:.0f}" if "e" in text and 1.0 <= abs(value) < 1e9 else text


def percent(value: float) -> str:
    """Return a share in per cent, one decimal."""
    if not math.isfinite(value):
        return "-"
    if abs(value) > MOST_SHARE:
        return f"{'over ' if value > 0.0 else 'below -'}{100.0 * MOST_SHARE:.0f} %"
    return "< 0.1 %" if ROUND_OFF < value < 5e-4 else f"{100.0 * value:z.1f} %"


def wrapped(text: str, *, indent: str = "", hanging: str | None = None) -> list[str]:
    """Return the lines of a paragraph, at most WIDTH columns wide."""
    hang = indent if hanging is None else hanging
    plain = " ".join(text.split())
    return textwrap.wrap(plain, WIDTH, initial_indent=indent, subsequent_indent=hang,
                         break_on_hyphens=False)  # fmt: skip


def bulleted(texts: Iterable[str]) -> list[str]:
    """Return the lines of paragraphs, each behind a dash."""
    return [line for text in texts for line in wrapped(f"- {text}", indent="  ", hanging="    ")]


def aligned(rows: Iterable[Sequence[str]], *, right: Sequence[int] = ()) -> list[str]:
    """Return rows of cells as aligned lines, indented by two, at most WIDTH columns wide.

    The last column is wrapped where the line would be too long.

    Parameters
    ----------
    rows : cells as text, all rows of the same length
    right : columns aligned to the right
    """
    cells = [[" ".join(cell.split()) for cell in row] for row in rows]
    if not cells:
        return []
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    start = 2 + sum(width + 2 for width in widths[:-1])
    lines = []
    for row in cells:
        padded = [
            cell.rjust(width) if number in right else cell.ljust(width)
            for number, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        line = "  " + "  ".join(padded).rstrip()
        if len(line) > WIDTH and start < WIDTH - 15:
            head = "  " + "  ".join(padded[:-1]) + "  "
            line = "\n".join(wrapped(row[-1], indent=head, hanging=" " * start))
        lines += line.split("\n")
    return lines
