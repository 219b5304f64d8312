"""Cells of tables: what ``tables.toml`` calls a form makes text of a value and its line.

A form that sorts by its number gives a :class:`Cell`. What is printed depends on a :class:`Style`:
that of a page, or that of a terminal in the units asked for.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from functools import partial
from typing import Any, NamedTuple

from mdo.defend.cautions.base import FAR_BEYOND
from mdo.defend.tables.never import NEVER
from mdo.optimise.knobs import SHARES
from mdo.quantities import is_difference
from mdo.report.figures.style import AT_LIMIT
from mdo.report.words.printed import (
    DASH,
    GRAM,
    ZERO_CELSIUS,
    given_number,
    margin_words,
    number,
    pretty,
    prose,
    signed,
    step_words,
    two,
)
from mdo.study.number_text import figure, percent, quantity

FROM_MEMORY = ", from memory, confirm the current issue"
BESIDE = {  # figures of a motion beside those of sizing
    "fold_time": "heating stroke",
    "return_time": "cooling",
    "available_moment": "available moment at the start",
    "peak_power": "peak power of one hinge",
    "return_travel": "turned back as the tubes cool",
}
NO_BREAK = "\N{NO-BREAK SPACE}"
ABSOLUTE = 150.0  # [K] from here on a temperature of a knob, below it a difference
OFF_PLACES = 4  # of the difference of two exponents: what is less is the solver's
DRAWING_DIGITS = 4  # of a dimension to be made


class Cell(NamedTuple):
    """Cell of a table that can be sorted: what is shown, and the number that it is sorted by."""

    text: str
    order: float


class Style(NamedTuple):
    """How cells are printed: a number with its SI unit, words, units in words, and nothing."""

    number: Callable[..., str]
    words: Callable[[str], str]
    units: Callable[[str], str]
    none: str


PAGE = Style(number, prose, pretty, DASH)


def terminal(units: str) -> Style:
    """How a terminal prints cells, in ``si`` or ``us`` trade units."""
    return Style(partial(quantity, units=units), str, str, "-")


Form = Callable[[Any, Any, Style], str | Cell]


def _mass(mass: float, _: Any, style: Style, digits: int = 3) -> str:
    """Mass with so many digits, but none below a gram."""
    if 0.0 < abs(mass) < GRAM:
        return f"< {style.number(GRAM, 'kg', digits=1)}"
    below = sum(abs(mass) < decade for decade in (0.1, 0.01))
    return style.number(mass, "kg", digits=min(digits, 3 - below))


def _added(mass: float, line: Any, style: Style, endless: str = "none left") -> str:
    """Mass that a step adds, with its sign."""
    if math.isnan(mass):
        return style.none
    if math.isinf(mass):
        return endless
    return "+" * (mass >= GRAM) + _mass(mass, line, style, digits=2)


def _knob(value: float, line: Any, style: Style) -> str:
    """Value of a number that can be turned; small kelvins are differences, some are shares."""
    if getattr(line, "knob", getattr(line, "name", "")) in SHARES:
        return f"{100.0 * value:.0f} %" if math.isfinite(value) else style.none
    small = line.unit == "K" and abs(value) < ABSOLUTE
    return style.number(value, line.unit, digits=3, difference=small)


def _knob_range(low: float, line: Any, style: Style) -> str:
    if math.isnan(low):
        return style.none
    return f"{_knob(low, line, style)} to {_knob(line.range_high, line, style)}"


def _made(value: float, line: Any, style: Style) -> str:
    """Value of an item of an order: its words, a whole number, or a dimension to be made."""
    if line.words:
        return style.words(line.words)
    if line.unit == "1" and float(value).is_integer():
        return f"{value:.0f}"
    digits = {"digits": DRAWING_DIGITS} if line.unit == "m" else {}
    text, _, unit = style.number(value, line.unit, **digits).partition(" ")
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return f"{text} {unit}".rstrip()


def _given(value: float, line: Any, style: Style) -> str:
    """Number that somebody gave, or the words that were given in its place."""
    words = str(getattr(line, "words", DASH))
    return words if math.isnan(value) else _given_end(value, line, style)


def _given_end(value: float, line: Any, _: Style) -> str:
    """End of the range of a number that somebody gave, nothing for words."""
    difference = is_difference(getattr(line, "path", ""))
    given = given_number(value, line.unit or "1", difference=difference)
    return "" if math.isnan(line.value) else given


def _ratio(ratio: float, line: Any, _: Style) -> str:
    if math.isnan(ratio):
        return DASH
    return f"{two(ratio, '1')} ({two(line.ratio_low, '1')} to {two(line.ratio_high, '1')})"


def place_text(line: Any) -> str:
    """Return where a requirement is at its worst: leg, fold angle, set."""
    angle = "" if math.isnan(line.fold_angle) else f"{math.degrees(line.fold_angle):.0f} deg"
    return ", ".join(part for part in (line.leg, angle, line.side and f"{line.side} set") if part)


def _spare(margin: float, line: Any, style: Style) -> str:
    """Margin of a requirement, 0 where it stands at its limit."""
    if met_by_nothing(line) or (line.group == "torque_margin" and line.value <= -1.0):
        return style.none
    if abs(margin) <= AT_LIMIT * abs(line.limit):
        return "0"
    return style.number(margin, line.unit, digits=2, difference=True)


def _standing(note: str, line: Any, style: Style) -> str:
    reported = line.standing != "required"
    return style.words(", ".join(part for part in (line.standing * reported, note) if part))


def _reached(value: float, line: Any, style: Style) -> str:
    """Value of a failure line; no number for a temperature that nothing survives."""
    if line.unit == "K" and value > line.limit + FAR_BEYOND:
        return f"above {style.number(line.limit + FAR_BEYOND, 'K')}, destroyed"
    return style.number(value, line.unit)


def _accuracy(value: float, line: Any, style: Style) -> str:
    if line.relative:
        return f"± {100.0 * value:.0f} %"
    return f"± {style.number(value, line.unit, digits=2, difference=True)}"


def _exact(value: float, line: Any, style: Style) -> str:
    if line.unit == "K":
        return signed(f"{value - ZERO_CELSIUS:.1f} °C")
    return style.number(value, line.unit, digits=4)


def _hundred(value: float, _: Any, style: Style) -> str:
    return signed(f"{100.0 * value:+z.1f}") if math.isfinite(value) else style.none


def _limited(limit: float, line: Any, style: Style) -> str:
    return style.none if met_by_nothing(line) else style.number(limit, line.unit)


def _feasible_mass(mass: float, line: Any, style: Style) -> str:
    return style.none if line.status == "infeasible" else _mass(mass, line, style)


def _off(theory: float, line: Any, style: Style) -> Cell:
    return _sorted(round(abs(line.exponent - theory), OFF_PLACES), line, style, 2)


def _exponents(low: float, line: Any, style: Style) -> str:
    if math.isnan(low):
        return style.none
    return f"{signed(figure(low, 4))} to {signed(figure(line.high, 4))}"


def _odds(value: float, line: Any, style: Style) -> str:
    share = line.unit == "1" and line.name != "unpriced"
    return percent(value) if share else style.number(value, line.unit)


def _both_masses(high: float, line: Any, _: Style) -> Cell:
    ends = (figure(mass, 2).replace("-", "−") for mass in (line.optimum_mass_low, high))
    return Cell(" / ".join(ends), float(high))


def _sorted(value: float, _: Any, _style: Style, digits: int = 4) -> Cell:
    return Cell(signed(figure(value, digits)) if math.isfinite(value) else DASH, float(value))


def _working(mass: float, line: Any, style: Style) -> Cell:
    """Mass of a choice that works; what does not work ranks last."""
    works = line.status == "feasible"
    return Cell(style.number(mass, "kg") if works else style.none, mass if works else math.inf)


def _over(share: float, line: Any, _: Style) -> Cell:
    """Mass of a choice that works over that of the best."""
    works = line.status == "feasible"
    return Cell(f"+{percent(share)}" if works and share else "", share if works else math.inf)


def _grams(mass: float, _: Any, _style: Style) -> Cell:
    """Change of a mass to a gram [kg]."""
    text = "0" if abs(mass) < GRAM / 2 else signed(f"{mass:+.3f}")
    return Cell(text if math.isfinite(mass) else DASH, float(mass))


def _whisker(value: float, line: Any, style: Style, column: str) -> Cell:
    """Number with half its interval, where that is known."""
    half = float(getattr(line, f"{column}_interval", math.nan))
    beside = f" ± {figure(half, 2)}" if math.isfinite(value) and math.isfinite(half) else ""
    text, order = _sorted(value, line, style, 3)
    return Cell(f"{text}{beside}", order)


def _banded(value: float, line: Any, _: Style, column: str, scale: float, digits: int) -> str:
    """Number with the ends of its error."""
    numbers = (value, getattr(line, f"{column}_low"), getattr(line, f"{column}_high"))
    own, low, high = (signed(f"{scale * number:+z.{digits}f}") for number in numbers)
    return f"{own} ({low} to {high})"


def _stroke(time: float, line: Any, style: Style, strokes: tuple[str, ...]) -> str:
    """Time of a motion; 'never' where a stroke that it is made of never ends."""
    if math.isfinite(time) and any(f"{stroke} {NEVER}" in line.status for stroke in strokes):
        return NEVER
    return style.number(time, "s")


def _timed(value: float, line: Any, style: Style) -> str:
    """Value of a requirement; words for a time of what never happens and for no torque at all."""
    if line.group == "torque_margin" and value <= -1.0:
        return "none"
    return NEVER if f" {NEVER}: " in line.note else style.number(value, line.unit)


def met_by_nothing(line: Any) -> bool:
    """Whether the limit of a requirement is one that nothing can meet: its note says why."""
    return bool(line.unit == "m" and line.limit <= 0.0)


def spoken(law: object) -> str:
    """Return the name of a law as words."""
    return str(law).replace("_", " ")


NUMBERS: Mapping[str, Form] = {
    "above_zero": lambda value, _, _style: f"{max(value, 0.0):.1e}",
    "accuracy": _accuracy,
    "added": _added,
    "both_masses": _both_masses,
    "count": lambda value, _, _style: f"{value:g}",
    "difference": lambda value, line, style: style.number(value, line.unit, difference=True),
    "exact": _exact,
    "feasible_mass": _feasible_mass,
    "figure": lambda value, _, style: style.words(figure(value, 2)).replace("-", style.none),
    "exponent_range": _exponents,
    "first": lambda value, line, style: style.number(value, "kg") if line.first else "",
    "given": _given,
    "grams": _grams,
    "given_end": _given_end,
    "hundredths": lambda value, _, _style: f"{100.0 * value:.2f} %",
    "limited": _limited,
    "joules": lambda value, _, style: "0 kJ" if abs(value) < 1.0 else style.number(value, "J"),
    "knob": _knob,
    "margin": lambda value, _, _style: DASH if math.isnan(value) else margin_words(value),
    "mass": _mass,
    "odds": _odds,
    "off": _off,
    "percent": lambda value, _, style: style.words(percent(value)),
    "rank": lambda value, _, _style: Cell(str(value), float(value)),
    "ratio_range": _ratio,
    "reached": _reached,
    "saved": lambda mass, line, style: _added(-mass, line, style, style.none),
    "sorted": _sorted,
    "share": lambda value, _, style: Cell(style.words(percent(value)), float(value)),
    "spare": _spare,
    "specimens": lambda value, _, style: f"{value:.0f}" if value else style.none,
    "two": lambda value, line, _style: two(value, line.unit),
    "two_range": lambda low, line, _style: f"{two(low, line.unit)} to {two(line.high, line.unit)}",
    "any_stroke": partial(_stroke, strokes=("heating", "cooling", "warm-up")),
    "heating_stroke": partial(_stroke, strokes=("heating",)),
    "cooling_stroke": partial(_stroke, strokes=("cooling",)),
    "warming_stroke": partial(_stroke, strokes=("warm-up",)),
    "timed": _timed,
    "stability_band": partial(_banded, column="yaw_stability", scale=1.0, digits=4),
    "drag_band": partial(_banded, column="drag_change", scale=100.0, digits=1),
    "centre_band": partial(_banded, column="centre_shift", scale=100.0, digits=2),
    "hundred": _hundred,
    "working_mass": _working,
    "working_share": _over,
    "slope": lambda value, _, _style: signed(f"{value:+z.3f}"),
    **{
        f"{column}_whisker": partial(_whisker, column=column)
        for column in ("first", "total", "effect", "spread")
    },
}
"""Forms that are aligned to the right."""
FORMS: Mapping[str, Form] = {
    **NUMBERS,
    "answer": lambda place, line, _style: str(place) if line.first else "together with",
    "beside": lambda quantity, _, _style: BESIDE[quantity],
    "bound": lambda end, _, _style: f"at its {end} bound" if end else "",
    "dash": lambda text, _, style: text or style.none,
    "judged": lambda origin, line, _style: "judged" if line.judged else origin,
    "kept": lambda kept, _, _style: "kept" if kept else "not quite",
    "knob_range": _knob_range,
    "made": _made,
    "method": lambda text, _, style: style.words(text.replace(FROM_MEMORY, "")),
    "place": lambda _leg, line, style: style.words(place_text(line)),
    "plain": lambda text, _, _style: str(text),
    "range": lambda low, line, style: (
        f"{style.number(low, line.unit)} to {style.number(line.high, line.unit)}"
    ),
    "standing": _standing,
    "spoken": lambda name, _, _style: spoken(name),
    "step": lambda per, _, style: style.units(step_words(per)),
    "such": lambda note, line, style: (
        style.words(note) or (f"{line.such} places" if line.such > 1 else "")
    ),
    "unbroken": lambda text, _, _style: text.replace(" ", NO_BREAK),
    "variable": lambda name, line, _style: f"{name} {line.set}".strip(),
    "yes": lambda holds, _, _style: "yes" if holds else "no",
}
"""Every form by its name."""
