"""The comparison with conventional hinges in words: what is lighter and how sure, by which rules.

Numbers carry two digits: their intervals are wider than that.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from mdo.defend.comparison.compare import (
    GEARED,
    HYDRAULIC,
    LIKELY,
    LOCAL,
    MASS,
    MEASURES,
    SMA,
    Versus,
    VersusLine,
)
from mdo.defend.comparison.intervals import FIRST, HELD, WILD
from mdo.disciplines.records import LOCK
from mdo.optimise.appraisal import Appraisal
from mdo.study.number_text import figure, quantity, trade

NOT_INCLUDED = (
    "hinge, lugs and pin of the fold",
    "wing structure and its reinforcement at the fold",
    "fairing and bay door",
    "flight control and monitoring of the fold",
)
LARGER = {"W": "kW", "kJ": "MJ", "MJ": "GJ"}  # a thousand times


class Rule(NamedTuple):
    """A rule of the fair comparison: whether it is kept, and with which numbers."""

    rule: str
    kept: bool
    text: str


class FailureState(NamedTuple):
    """What a concept does when something fails."""

    concept: str
    failure: str
    text: str


def plain_sentence(found: Versus, units: str = "si", rival: str = GEARED) -> str:
    """Return one sentence: which is lighter, how heavy both are, and how sure that is."""
    own, other = found.line("mass", SMA), found.line("mass", rival)
    both = f"{spoken(other, units)} against {spoken(own, units)} of the {SMA} as drawn"
    heads = {
        MASS.larger: f"The {rival} is lighter: {both}",
        f"probably {MASS.larger}": f"The {rival} is probably lighter: {both}",
        f"probably {MASS.smaller}": f"The {SMA} is probably lighter than the {rival}: {both}",
        MASS.smaller: f"The {SMA} is lighter than the {rival}: {both}",
        "about the same": f"The {SMA} is about as heavy as the {rival}: {both}",
    }
    samples = found.intervals.drawn.samples
    return (
        f"{heads[other.standing]}, {times(other)} its mass; the {SMA} is the lighter one in "
        f"{share_of(other.share)} of {samples} samples of the uncertain inputs."
    )


def findings(found: Versus, units: str = "si") -> tuple[str, ...]:
    """Sentences of the comparison, the plain one first."""
    return tuple(_findings(found, units))


def _findings(found: Versus, units: str) -> Iterator[str]:
    if found.appraisal.violated:
        yield "The design does not meet its requirements: what is compared here is one that fails."
    yield plain_sentence(found, units)
    if found.hydraulic:
        yield plain_sentence(found, units, HYDRAULIC)
        local = found.line("mass", LOCAL)
        yield (
            f"Where the aircraft has hydraulics anyway, the hydraulic hinge adds "
            f"{spoken(local, units)}; the {SMA} has {times(local)} that."
        )
    yield from _held(found, units)
    yield from _other_measures(found, units)
    yield from _favour(found, units)
    yield from _doubts(found, units)


def _held(found: Versus, units: str) -> Iterator[str]:
    """What the interval of the design as drawn does not say."""
    met = float(found.intervals.drawn.meets.mean())
    yield (
        f"The design as drawn meets every requirement in {share_of(met)} of the samples, while the "
        "hinges are sized anew in each: its interval is one of weight, not of designs that work."
    )
    held = found.intervals.held()
    if held is None:
        return
    other = found.line("mass", GEARED, HELD)
    way = "to first order" if held.source == FIRST else "by samples that were optimised again"
    text = (
        f"Drawn again to meet every requirement, the {SMA} has "
        f"{numbers(held.low, held.high, held.unit, units)} {way}, "
        f"{numbers(other.ratio_low, other.ratio_high, '1')} times the {GEARED}; it is "
        f"{other.standing}, the lighter one in {share_of(other.share)} of the range of the inputs."
    )
    if held.source == FIRST and held.high > WILD * held.low:
        text += (
            " So wide a range says that the inputs decide whether there is a design at all: first "
            "order gives its mass only near the study's own values."
        )
    yield text
    again = found.intervals.anew
    if again is not None:
        low, high = again.quantiles(MASS.figure)
        exists = float(again.meets.mean())
        text = (
            f"Optimised again for {again.samples} samples, a design is found in {share_of(exists)}"
        )
        if again.meets.sum() > 1:
            text += f"; there it has {numbers(low, high, 'kg', units)}"
        yield text + "."


def _other_measures(found: Versus, units: str) -> Iterator[str]:
    less: list[str] = []
    more: list[str] = []
    for measure in MEASURES[1:]:
        own, other = found.line(measure.name, SMA), found.line(measure.name, GEARED)
        text = (
            f"{measure.name} {other.standing}, {spoken(own, units)} against "
            f"{spoken(other, units)}, {times(other)}"
        )
        (less if measure.smaller in other.standing else more).append(text)
    if more:
        yield f"Against the {GEARED}, the {SMA} as drawn: " + "; ".join(more) + "."
    if less:
        yield f"The {SMA} is ahead in: " + "; ".join(less) + "."
    elif found.line("mass", GEARED).share < LIKELY:
        yield (
            f"In none of mass, envelope, peak power and energy is the {SMA} ahead. What may still "
            "speak for it, such as the absence of a motor, has no number here."
        )


def _favour(found: Versus, units: str) -> Iterator[str]:
    """Say where the study's own values stand in the ranges of its inputs."""
    own = found.line("mass", SMA)
    below = found.intervals.drawn.share_below(own.value, MASS.figure)
    if 0.1 <= below <= 0.9:
        return
    side, odds = ("favour", 1.0 - below) if below < 0.1 else ("burden", below)
    word = "heavier" if side == "favour" else "lighter"
    yield (
        f"The study's own values {side} the {SMA}: the same design is {word} than "
        f"{quantity(two(own.value), 'kg', units, digits=2)} in {share_of(odds)} of the samples."
    )


def _doubts(found: Versus, units: str) -> Iterator[str]:
    """The input that matters most to the geared mass, and what is known of it."""
    propagated = found.intervals.propagated
    parts = propagated.contributions["geared_mass"] ** 2
    total = float(parts.sum())
    if not total > 0.0:
        return
    at = int(np.argmax(parts))
    one = propagated.inputs[at]
    unit = "N*m/kg" if one.field == "torque_density" else one.unit  # in the table as J/kg
    value, low, high = (quantity(v, unit, units, digits=3) for v in (one.value, one.low, one.high))
    meaning = one.meaning[0].lower() + one.meaning[1:]
    yield (
        f"{share_of(float(parts[at]) / total)} of the first-order doubt in the mass of the "
        f"{GEARED} is one number: {meaning}, {value} ({low} to {high}); "
        f"{one.provenance}."
    )


def rules(appraisal: Appraisal, units: str = "si") -> tuple[Rule, ...]:
    """Rules of the fair comparison (thermal-power-mass, 4.5): kept, or by how much they are not."""
    return (*_kept(appraisal, units), *_not_kept(appraisal, units))


def _kept(appraisal: Appraisal, units: str) -> Iterator[Rule]:
    wanted, study = appraisal.study.requirements, appraisal.study
    lock = quantity(two(float(appraisal.values["mass_lines"][LOCK])), "kg", units, digits=2)  # noqa: PD011
    moment = quantity(float(appraisal.values["baseline_moment"]), "N*m", units)  # noqa: PD011
    fold, back = (
        quantity(time, "s", units, digits=3) for time in (wanted.fold_time, wanted.return_time)
    )
    texts = {
        "moments": "the moments of every leg over its angles, with its torque margin; the largest, "
        f"{moment} at one hinge, sizes the hinges",
        "times": f"the same angles in the same times both ways ({fold} and {back} where a case "
        "does not say otherwise), less the same dead time",
        "folds": f"the same {study.supply.folds_per_sortie:g} folds of a sortie",
        "lock": f"the same lock, {lock} of the aircraft before growth",
        "environment": "the same cases: bay, altitude, speed, wind and friction",
        "growth": "the same row of the growth table, once per line, on both sides",
        "source": "source, wiring and electronics are counted on both sides",
    }
    for name, text in texts.items():
        yield Rule(name, True, text)


def _not_kept(appraisal: Appraisal, units: str) -> Iterator[Rule]:
    """Where the comparison is not quite even, and what that is worth."""
    parameters, values = appraisal.problem.assembled.parameters, appraisal.values  # noqa: PD011
    assumed, supply = parameters["power_assumptions"], parameters["supply"]
    wire = values["least_wire_mass"]
    yield Rule(
        "wire",
        False,
        "the wire of the hinge goes by its power, not by its length: one of least area would add "
        f"{quantity(two(float(wire)), 'kg', units, digits=2)} before growth",
    )
    if float(supply.battery) > 0.5:
        usable = assumed.battery_specific_energy * assumed.battery_depth
        store = float(values["geared_sortie_energy"]) / float(usable)
        yield Rule(
            "battery",
            False,
            "the source of the hinge goes by its peak power, not by its energy, which would take "
            f"{quantity(two(store), 'kg', units, digits=2)} of battery",
        )
    saved = float(values["system_mass"] - values["geared_mass"]) / float(
        values["closed_vehicle_mass"]
    )
    yield Rule(
        "weight",
        False,
        "loads and lock are those of the aircraft with the SMA actuator in it: with the geared "
        f"hinge it would weigh {100.0 * abs(saved):.1f} % {'less' if saved > 0.0 else 'more'}",
    )
    held = float(np.max(values["held_power"]))
    if held > 0.0:
        yield Rule(
            "hold",
            False,
            f"the SMA actuator holds with up to {quantity(two(held), 'W', units, digits=2)} where "
            "a case has it hold, the hinge by its no-back; that energy is not in the sortie, since "
            "no case says how long",
        )
    failing = (
        "the SMA actuator carries its load with one tube failed, the hinge has no second motor"
        if appraisal.study.requirements.tubes_failed
        else "one string on either side"
    )
    yield Rule("redundancy", not appraisal.study.requirements.tubes_failed, failing)


def rules_table(appraisal: Appraisal, units: str = "si") -> pd.DataFrame:
    """Rules of the comparison, kept or not, and what is in neither side."""
    lines = [*rules(appraisal, units)]
    lines += [Rule("not included", True, text) for text in NOT_INCLUDED]
    return pd.DataFrame(lines, columns=list(Rule._fields))


def compared_failures(appraisal: Appraisal, *, hydraulic: bool = False) -> tuple[FailureState, ...]:
    """What each concept does when power, one part or the mechanism fails, as far as known here."""
    actuator = appraisal.study.actuator
    holder = "the brake and the locks hold" if actuator.brake else "only the locks hold"
    between = (
        "" if actuator.brake else "; between the ends the load moves the panel as the set cools"
    )
    gear = (
        "a jammed wheel of the common gear stops the wing"
        if actuator.topology == "geared"
        else "a jammed tube holds back the others"
    )
    found = [
        FailureState(SMA, "power lost", f"the hot set cools and lets go; {holder}{between}"),
        FailureState(SMA, "one part lost", "a tube or heater lost takes its share of the moment, "
                     "and drags; the other tubes still push"),
        FailureState(SMA, "jam", f"{gear}; heat must be cut off"),
        FailureState(GEARED, "power lost", "no-back and power-off brake hold at any angle"),
        FailureState(GEARED, "one part lost", "motor, drive or one gear lost: the wing stays where "
                     "it is, held by the no-back if that is not the part"),
        FailureState(GEARED, "jam", "a jammed gear stops the wing"),
    ]  # fmt: skip
    if hydraulic:
        found += [
            FailureState(HYDRAULIC, "power lost", "only the locks hold; trapped fluid holds while "
                         "the valve is tight"),
            FailureState(HYDRAULIC, "one part lost", "a leak empties the line of both hinges"),
            FailureState(HYDRAULIC, "jam", "a jammed valve or vane stops the wing"),
        ]  # fmt: skip
    return tuple(found)


def compared_failures_table(appraisal: Appraisal, *, hydraulic: bool = False) -> pd.DataFrame:
    """Failure states of the concepts."""
    states = compared_failures(appraisal, hydraulic=hydraulic)
    return pd.DataFrame(states, columns=list(FailureState._fields))


def two(value: float) -> float:
    """Round to two digits."""
    return float(f"{value:.1e}") if np.isfinite(value) else value


def numbers(low: float, high: float, unit: str, units: str = "si") -> str:
    """Return a range as text, two digits, trade units."""
    (first, last), name = _written((low, high), unit, units)
    return f"{first} to {last} {name}".rstrip()


def spoken(line: VersusLine, units: str = "si") -> str:
    """Return value and interval of a line, two digits: ``13 kg (11 to 28)``."""
    (value, low, high), name = _written((line.value, line.low, line.high), line.unit, units)
    return f"{value} {name} ({low} to {high})"


def times(line: VersusLine) -> str:
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
