"""Numbers and sentences as they are printed on a page."""

from __future__ import annotations

import math
import re

import pandas as pd

from mdo.study.number_text import figure, percent, quantity, trade

DIGITS = 3  # of a number on the page, unless its interval allows fewer
_DEGREES = re.compile(r"(\d) deg\b")
_POWER = re.compile(r"(?<=\d)e([+-]\d+)\b")
_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
_MINUS = re.compile(r"(?<![\w.])-(?=\d)")
KILO = 1e3
WIDE = 0.01  # [m2] from here on an area is in square metres
# Units of a page alone: SI unit, from which number on, times, over, name.
LARGE = (
    ("m**3", 0.0, KILO, 1.0, "L"),
    ("m**2", WIDE, 1.0, 1.0, "m²"),
    ("W", KILO, 1.0, KILO, "kW"),
    ("J", KILO**2, 1.0, KILO**2, "MJ"),
    ("Pa", 1e10, 1.0, 1e9, "GPa"),
)
WHOLE = 1e12  # below it whole numbers are printed whole
ZERO_CELSIUS = 273.15
DASH = "–"
GRAM = 1e-3  # [kg] masses are not told apart below it
DIRECT = "direct"
AMPLE = 3.0  # torque margin from which its number says nothing more

_PRETTY = (
    ("N*m", "N·m"), ("**2", "²"), ("**3", "³"), ("degC", "°C"), ("degF", "°F"),
    ("(kg*K)", "(kg·K)"), ("(m*K)", "(m·K)"), ("(m²*K)", "(m²·K)"), (" deg", "°"),
)  # fmt: skip


def pretty(text: str) -> str:
    """Return text with units as they are printed on a page."""
    for plain, printed in _PRETTY:
        text = text.replace(plain, printed)
    return _POWER.sub(lambda power: f"·10{str(int(power[1])).translate(_RAISED)}", text)


def prose(text: str) -> str:
    """Return a sentence with its temperatures, angles and minus signs as they are printed."""
    text = text.replace(" degC", " °C").replace(" degF", " °F").replace("N*m", "N·m")
    return _MINUS.sub("−", _DEGREES.sub(r"\1°", text))


def number(value: float, unit: str, *, digits: int = DIGITS, difference: bool = False) -> str:
    """Return an SI number in trade units as it is printed on a page, a dash where there is none.

    Temperatures are whole degrees, powers from 1 kW on are in kilowatts.
    """
    if unit == "K" and not difference and math.isfinite(value):
        text = f"{value - ZERO_CELSIUS:.0f} °C"
        text = "0 °C" if text == "-0 °C" else text
    elif math.isfinite(value) and (large := large_unit(unit, abs(value))):
        times, over, name = large
        text = f"{figure(times * value / over, digits)} {name}"
    else:
        text = pretty(quantity(value, unit, digits=digits, difference=difference))
    if text == "-":
        return DASH
    return signed(text)


def large_unit(unit: str, size: float) -> tuple[float, float, str] | None:
    """Unit in which a page prints numbers of a size: times, over, name; None for that of a file."""
    for of, least, times, over, name in LARGE:
        if of == unit and size >= least:
            return times, over, name
    return None


def signed(text: str) -> str:
    """Return the text of a number with a minus as it is printed."""
    return text.replace("-", "−", 1) if text.startswith("-") else text


def two(value: float, unit: str) -> str:
    """Return a number with two digits, as one that has a wide interval is printed."""
    return number(float(f"{value:.1e}"), unit, digits=2)


def given_number(value: float, unit: str, *, difference: bool = False) -> str:
    """Return a number that somebody gave, without zeros that nobody wrote."""
    if not math.isfinite(value):
        return DASH
    if unit == "m**2" and abs(value) >= WIDE:
        return f"{value:.6g} m²"
    shown, name = trade(value, unit, "si", difference=difference)
    whole = float(shown).is_integer() and abs(shown) < WHOLE
    text = f"{shown:.0f} {name}" if whole else f"{shown:.6g} {name}"
    text = text.rstrip().replace("-", "−", 1 if shown < 0.0 else 0)
    return pretty(text)


def kilograms(mass: float) -> str:
    """Return a mass in kilograms, three digits but nothing below a gram."""
    if 0.0 < abs(mass) < GRAM:
        return "< 0.001"
    return signed(figure(mass, 3) if abs(mass) >= 0.1 else f"{mass:.3f}")


def margin_words(margin: float) -> str:
    """Torque margin as it is printed on a page; none where nothing is available."""
    if margin > AMPLE:
        return f"over {100.0 * AMPLE:.0f} %"
    return "none" if margin <= -1.0 else signed(percent(margin))


def degrees(angle: float) -> str:
    """Fold angle [rad] in whole degrees."""
    return signed(f"{math.degrees(angle):.0f}°")


def upper_first(text: str) -> str:
    """Sentence with its first letter large."""
    return text[:1].upper() + text[1:]


def step_words(per: str) -> str:
    """Words of the amount that a cost is quoted for."""
    text = per.replace("percent", "%")
    return text if text[:1].isdigit() else f"1 {text}"


def corrections_words(steps: pd.DataFrame) -> str:
    """Return where the corrections ended, and what they took of the dear model."""
    last, taken = steps.iloc[-1], int(steps["taken"].sum())
    took = f"{last.dear_evaluations} designs evaluated, {last.dear_gradients} of them with slopes"
    way = f"Ended by corrections, {taken - 1} taken and {len(steps) - taken} refused"
    if last.way == DIRECT:
        way = "Corrections did not carry: minimised directly at the high-fidelity levels"
    return f"{way} ({took})."
