"""The comparison with conventional hinges in words: what is lighter and how sure, by which rules.

Numbers carry two digits: their intervals are wider than that.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from mdo.data_files import toml_beside
from mdo.defend.comparison.compare import (
    GEARED,
    HYDRAULIC,
    LIKELY,
    LOCAL,
    MASS,
    MEASURES,
    SMA,
    Comparison,
    ComparisonLine,
    geared_table,
)
from mdo.defend.comparison.intervals import HELD, WILD, intervals_table
from mdo.defend.tables.frame import of_lines
from mdo.disciplines.records import LOCK
from mdo.optimise.appraisal import Appraisal
from mdo.study.number_text import figure, quantity, trade

_WORDS = toml_beside(__file__, "fair_comparison")
NOT_INCLUDED: tuple[str, ...] = tuple(_WORDS["not_included"])
LARGER = {"W": "kW", "kJ": "MJ", "MJ": "GJ"}  # a thousand times


class Rule(NamedTuple):
    """A rule of the fair comparison: whether it is kept, and with which numbers."""

    rule: str
    kept: bool
    text: str


def plain_sentence(comparison: Comparison, units: str = "si", rival: str = GEARED) -> str:
    """Return one sentence: which is lighter, how heavy both are, and how sure that is."""
    own, other = comparison.line("mass", SMA), comparison.line("mass", rival)
    head = {
        MASS.larger: f"The {rival} is lighter",
        f"probably {MASS.larger}": f"The {rival} is probably lighter",
        f"probably {MASS.smaller}": f"The {SMA} is probably lighter than the {rival}",
        MASS.smaller: f"The {SMA} is lighter than the {rival}",
        "about the same": f"The {SMA} is about as heavy as the {rival}",
    }[other.standing]
    samples = comparison.intervals.drawn.samples
    return (
        f"{head}: {spoken(other, units)} against {spoken(own, units)} of the {SMA} as drawn, "
        f"{times(other)} its mass; the {SMA} is the lighter one in {share_of(other.share)} of "
        f"{samples} samples of the uncertain inputs."
    )


def findings(comparison: Comparison, units: str = "si") -> Iterator[str]:
    """Sentences of the comparison, the plain one first."""
    if comparison.appraisal.violated:
        yield "The design does not meet its requirements: what is compared here is one that fails."
    yield plain_sentence(comparison, units)
    if comparison.hydraulic:
        yield plain_sentence(comparison, units, HYDRAULIC)
        local = comparison.line("mass", LOCAL)
        yield (
            f"Where the aircraft has hydraulics anyway, the hydraulic hinge adds "
            f"{spoken(local, units)}; the {SMA} has {times(local)} that."
        )
    yield (
        f"The design as drawn meets every requirement in "
        f"{share_of(comparison.intervals.drawn.met)} of the samples, while the hinges are sized "
        "anew in each: its interval is one of weight, not of designs that work."
    )
    yield from _drawn_again(comparison, units)
    yield from _other_measures(comparison, units)
    yield from _favour(comparison, units)
    yield from _doubts(comparison, units)


def _drawn_again(comparison: Comparison, units: str) -> Iterator[str]:
    """What the interval of the design as drawn does not say."""
    held = comparison.intervals.held()
    if held is None:
        return
    other = comparison.line("mass", GEARED, HELD)
    text = (
        f"Drawn again to meet every requirement, the {SMA} has "
        f"{numbers(held.low, held.high, held.unit, units)} to first order, "
        f"{numbers(other.ratio_low, other.ratio_high, '1')} times the {GEARED}; it is "
        f"{other.standing}, the lighter one in {share_of(other.share)} of the range of the inputs."
    )
    if held.high > WILD * held.low:
        text += (
            " So wide a range says that the inputs decide whether there is a design at all: first "
            "order gives its mass only near the study's own values."
        )
    yield text


def _other_measures(comparison: Comparison, units: str) -> Iterator[str]:
    less: list[str] = []
    more: list[str] = []
    for measure in MEASURES[1:]:
        own, other = comparison.line(measure.name, SMA), comparison.line(measure.name, GEARED)
        text = (
            f"{measure.name} {other.standing}, {spoken(own, units)} against "
            f"{spoken(other, units)}, {times(other)}"
        )
        (less if measure.smaller in other.standing else more).append(text)
    if more:
        yield f"Against the {GEARED}, the {SMA} as drawn: {'; '.join(more)}."
    if less:
        yield f"The {SMA} is ahead in: {'; '.join(less)}."
    elif comparison.line("mass", GEARED).share < LIKELY:
        yield (
            f"In none of mass, envelope, peak power and energy is the {SMA} ahead. What may still "
            "speak for it, such as the absence of a motor, has no number here."
        )


def _favour(comparison: Comparison, units: str) -> Iterator[str]:
    """Say where the study's own values stand in the ranges of its inputs."""
    own = comparison.line("mass", SMA)
    below = comparison.intervals.drawn.share_below(own.value, MASS.figure)
    if 0.1 <= below <= 0.9:
        return
    side, odds, word = "burden", below, "lighter"
    if below < 0.1:
        side, odds, word = "favour", 1.0 - below, "heavier"
    yield (
        f"The study's own values {side} the {SMA}: the same design is {word} than "
        f"{two_digits(own.value, 'kg', units)} in {share_of(odds)} of the samples."
    )


def _doubts(comparison: Comparison, units: str) -> Iterator[str]:
    """The input that matters most to the geared mass, and what is known of it."""
    propagated = comparison.intervals.propagated
    parts = propagated.contributions["geared_mass"] ** 2
    total = float(parts.sum())
    if not total > 0.0:
        return
    at = int(np.argmax(parts))
    doubted = propagated.inputs[at]
    unit = "N*m/kg" if doubted.field == "torque_density" else doubted.unit  # in the table as J/kg
    value, low, high = (
        quantity(v, unit, units, digits=3) for v in (doubted.value, doubted.low, doubted.high)
    )
    meaning = doubted.meaning[0].lower() + doubted.meaning[1:]
    yield (
        f"{share_of(float(parts[at]) / total)} of the first-order uncertainty of the mass of the "
        f"{GEARED} is one number: {meaning}, {value} ({low} to {high}); {doubted.provenance}."
    )


def rules(appraisal: Appraisal, units: str = "si") -> tuple[Rule, ...]:
    """Rules of the fair comparison (thermal-power-mass, 4.5): kept, or by how much they are not."""
    wanted, values = appraisal.study.requirements, appraisal.values  # noqa: PD011
    words = {
        "moment": quantity(float(values["baseline_moment"]), "N*m", units),
        "fold": quantity(wanted.fold_time, "s", units, digits=3),
        "back": quantity(wanted.return_time, "s", units, digits=3),
        "folds": appraisal.study.supply.folds_per_sortie,
        "lock": two_digits(float(values["mass_lines"][LOCK]), "kg", units),
    }
    kept = [Rule(name, True, text.format_map(words)) for name, text in _WORDS["kept"].items()]
    texts, failing = _WORDS["not_kept"], bool(wanted.tubes_failed)
    uneven = [
        Rule(name, name == "redundancy" and not failing, texts[name].format_map(filled))
        for name, filled in _not_kept(appraisal, units)
    ]
    return (*kept, *uneven)


def _not_kept(appraisal: Appraisal, units: str) -> Iterator[tuple[str, dict[str, str]]]:
    """Where the comparison is not quite even, and what that is worth."""
    parameters, values = appraisal.problem.assembled.parameters, appraisal.known
    assumed = parameters["power_assumptions"]
    yield "wire", {"wire": two_digits(float(values["least_wire_mass"]), "kg", units)}
    if float(parameters["supply"].battery) > 0.5:
        usable = assumed.battery_specific_energy * assumed.battery_depth
        store = float(values["geared_sortie_energy"]) / float(usable)
        yield "battery", {"store": two_digits(store, "kg", units)}
    saved = float(values["system_mass"] - values["geared_mass"])
    saved /= float(values["closed_vehicle_mass"])
    more = "less" if saved > 0.0 else "more"
    yield "weight", {"change": f"{100.0 * abs(saved):.1f} % {more}"}
    held = float(np.max(values["held_power"]))
    if held > 0.0:
        yield "hold", {"held": two_digits(held, "W", units)}
    strings = (
        "the SMA actuator carries its load with one tube failed, the hinge has no second motor"
        if appraisal.study.requirements.tubes_failed
        else "one string on either side"
    )
    yield "redundancy", {"strings": strings}


def comparison_tables(comparison: Comparison) -> dict[str, pd.DataFrame]:
    """Every table of a comparison by name."""
    appraisal, hydraulic = comparison.appraisal, comparison.hydraulic
    return {
        "versus": of_lines(ComparisonLine, comparison.lines),
        "intervals": intervals_table(comparison.intervals, hydraulic=hydraulic),
        "versus_words": pd.DataFrame({"text": [*findings(comparison)]}),
        "versus_rules": rules_table(appraisal),
        "versus_failures": compared_failures(appraisal, hydraulic=hydraulic),
        "geared": geared_table(appraisal),
    }


def rules_table(appraisal: Appraisal, units: str = "si") -> pd.DataFrame:
    """Rules of the comparison, kept or not, and what is in neither side."""
    lines = [*rules(appraisal, units)]
    lines += [Rule("not included", True, text) for text in NOT_INCLUDED]
    return of_lines(Rule, lines)


def compared_failures(appraisal: Appraisal, *, hydraulic: bool = False) -> pd.DataFrame:
    """What each concept does when power, one part or the mechanism fails, as far as known here."""
    actuator = appraisal.study.actuator
    words = {
        "holder": "the brake and the locks hold"
        if actuator.brake
        else "only the locks hold; between the ends the load moves the panel as the set cools",
        "jam": "a jammed wheel of the common gear stops the wing"
        if actuator.topology == "geared"
        else "a jammed tube holds back the others",
    }
    lines = [
        (concept, failure, text.format_map(words))
        for concept, texts in _WORDS["failures"].items()
        for failure, text in texts.items()
        if hydraulic or concept != HYDRAULIC
    ]
    return pd.DataFrame(lines, columns=["concept", "failure", "text"])


def two(value: float) -> float:
    """Round to two digits."""
    return float(f"{value:.1e}") if np.isfinite(value) else value


def two_digits(value: float, unit: str, units: str) -> str:
    """Return a quantity as text with two digits."""
    return quantity(two(value), unit, units, digits=2)


def numbers(low: float, high: float, unit: str, units: str = "si") -> str:
    """Return a range as text, two digits, trade units."""
    (first, last), name = _written((low, high), unit, units)
    return f"{first} to {last} {name}".rstrip()


def spoken(line: ComparisonLine, units: str = "si") -> str:
    """Return value and interval of a line, two digits: ``13 kg (11 to 28)``."""
    (value, low, high), name = _written((line.value, line.low, line.high), line.unit, units)
    return f"{value} {name} ({low} to {high})"


def times(line: ComparisonLine) -> str:
    """Return the ratio to a rival with its interval: ``4.9 times (2.7 to 8)``."""
    ratio, low, high = (figure(two(v), 2) for v in (line.ratio, line.ratio_low, line.ratio_high))
    return f"{ratio} times ({low} to {high})"


def share_of(share: float) -> str:
    """Return a share in words of its own precision: none, all, or whole per cent."""
    if share <= 0.0:
        return "none"
    if share >= 1.0:
        return "all"
    if share < 0.01:
        return "under 1 %"
    if share > 0.99:
        return "over 99 %"
    return f"{100.0 * share:.0f} %"


def _written(values: Sequence[float], unit: str, units: str) -> tuple[list[str], str]:
    """Numbers of one quantity as text, two digits, and their common unit.

    Volumes in litres or cubic inches; powers and energies in a larger unit where that is shorter.
    """
    if unit == "m**3":
        factor, name = (0.0254**-3, "in**3") if units == "us" else (1e3, "L")
        converted = [factor * value for value in values]
    else:
        converted = [trade(value, unit, units)[0] for value in values]
        name = trade(values[0], unit, units)[1]
        if name in LARGER and abs(converted[0]) >= 1e3:
            converted, name = [1e-3 * value for value in converted], LARGER[name]
    return [figure(two(value), 2) for value in converted], name
