"""The bundle as it would be ordered: whole tubes, heaters, wire of the table's gauges.

And what each step to whole tubes cost, and what a deviation from the drawing, or of a lot of the
alloy, does to a design, all else kept.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from mdo.defend.tables.facts import Facts
from mdo.model.layout import SET_NAMES
from mdo.model.requirements import AIRCRAFT, NEITHER, WING
from mdo.optimise.appraisal import Appraisal, RowResult
from mdo.optimise.problem import DesignProblem
from mdo.optimise.whole_tubes.rounding import Rounded, Step
from mdo.optimise.whole_tubes.standard_parts import SHEET_FIELDS, feeder
from mdo.optimise.whole_tubes.stock_search import RADIUS
from mdo.study.number_text import percent, quantity

ALMOST = 1e-3  # a count this little above a whole number is that number
WHOLE_MODULES = 0.06  # excess over a whole number that the smoothing of the model leaves


class OrderItem(NamedTuple):
    """One line of the order: a number with its SI unit (NaN where there are only words).

    ``low`` and ``high``: band that the design assumes, NaN where none.
    """

    item: str
    value: float
    unit: str
    words: str
    of: str
    note: str
    low: float = math.nan
    high: float = math.nan


COLUMNS = OrderItem._fields[:6]  # of the tables of what to buy, which have no bands


def said(item: str, words: str, note: str = "") -> OrderItem:
    """Line of words."""
    return OrderItem(item, math.nan, "", words, NEITHER, note)


def number(
    item: str,
    value: Any,
    unit: str,
    of: str = NEITHER,
    note: str = "",
    band: tuple[float, float] = (math.nan, math.nan),
) -> OrderItem:
    """Line of a number, SI."""
    return OrderItem(item, float(value), unit, "", of, note, *band)


def whole_count(count: float) -> int:
    """Return the least whole number of tubes not below a count of the continuous design."""
    return max(1, math.ceil(count - ALMOST))


def order_items(appraisal: Appraisal) -> tuple[OrderItem, ...]:
    """Lines of the order of one wing and of the aircraft.

    Counts that are not whole are rounded up and nothing is optimised again: the heater of each tube
    keeps its power, so a set with more tubes than the continuous count draws more.
    """
    facts = Facts(appraisal)
    return (*_tubes(facts), *_heaters(facts), *_joints(facts), *_wire(facts), *_sheets(facts))


def present_sets(facts: Facts) -> list[int]:
    """Numbers of the sets that the configuration has."""
    return np.flatnonzero(facts.present).tolist()


def of_sets(
    facts: Facts, words: str, values: Any, unit: str, of: str = NEITHER, note: str = ""
) -> Iterator[OrderItem]:
    """Lines of a number of each set; ``{}`` in the words is its name."""
    for side in present_sets(facts):
        yield number(words.format(SET_NAMES[side]), values[side], unit, of, note)


def counted(facts: Facts) -> Iterator[OrderItem]:
    """Lines of the tubes by set of one wing, and of all of the aircraft; in whole numbers."""
    counts = facts.d["tube_count"]
    whole = [whole_count(float(count)) for count in counts]
    for side in present_sets(facts):
        asked = float(counts[side])
        note = "" if whole[side] == asked else f"continuous count {asked:.2f}, rounded up"
        yield number(f"tubes, {SET_NAMES[side]} set", whole[side], "1", WING, note)
    total = sum(whole[side] for side in present_sets(facts))
    yield number("tubes", facts.wings * total, "1", AIRCRAFT)


def overall_length(facts: Facts) -> OrderItem:
    """Line of the overall length of a tube [m]."""
    note = "with gripped, cold and spline ends"
    return number("overall length", facts.v["tube_length_overall"], "m", note=note)


def _tubes(facts: Facts) -> Iterator[OrderItem]:
    card, design, values = facts.appraisal.problem.assembled.card, facts.d, facts.v
    yield said("alloy", card.name, card.title)
    fixed = facts.appraisal.problem.fixed
    note = "stock size" if fixed is not None and RADIUS in fixed.sizes else ""
    yield number("tube outer diameter", 2.0 * design["tube_outer_radius"], "m", note=note)
    yield number("tube wall", values["wall_thickness"], "m", note=note)
    yield number("tube bore diameter", 2.0 * values["bore_radius"], "m")
    yield number("active length", design["tube_length"], "m")
    yield overall_length(facts)
    yield from counted(facts)
    zero = "from the load-free austenitic zero, where the set starts to drive"
    yield from of_sets(facts, "pre-twist, {} set", design["pre_twist"], "rad", note=zero)
    emissivity = f"emissivity {float(facts.choices.emissivity):.2f}"
    yield said("outer face", facts.appraisal.study.actuator.finish, emissivity)
    note = "thickness over the active length"
    yield number("insulating sleeve", design["insulation_thickness"], "m", note=note)


def _heaters(facts: Facts) -> Iterator[OrderItem]:
    assumed, design = facts.parameters["thermal_assumptions"], facts.d
    length = float(design["tube_length"])
    if facts.appraisal.study.actuator.heater == "cartridge":
        yield said("heater", "cartridge", "in the bore of each tube")
        diameter = 2.0 * (float(facts.v["bore_radius"]) - float(assumed.heater_gap))
        yield number("heater diameter", diameter, "m", note="bore less the radial gap")
        length += 2.0 * float(assumed.cartridge_cold_end)
        yield number("heater length", length, "m", note="with unheated ends")
    else:
        yield said("heater", "foil wrap", "bonded to the outer face of each tube")
        yield number("heater width", 2.0 * math.pi * float(design["tube_outer_radius"]), "m")
        yield number("heater length", length, "m")
    nominal = f"at {float(facts.supply.nominal_voltage):.0f} V nominal"
    for side in present_sets(facts):
        name, count = SET_NAMES[side], float(design["tube_count"][side])
        each = float(design["heater_power"][side]) / max(count, 1e-3)
        yield number(f"heater power, tube of the {name} set", each, "W", "one tube", nominal)
        whole, note = each * whole_count(count), "nominal, all its tubes"
        yield number(f"heater power, {name} set", whole, "W", WING, note)


def _joints(facts: Facts) -> Iterator[OrderItem]:
    actuator = facts.appraisal.study.actuator
    if actuator.topology == "geared":
        lanes = int(facts.choices.gear_lanes)
        yield said("topology", "geared", f"{lanes} lanes side by side" if lanes > 1 else "one lane")
        ratio = facts.d["gear_ratio"]
        yield number("gear ratio", ratio, "1", note="tube twist over fold angle")
        modules = max(1, math.ceil(float(facts.v["modules"]) - WHOLE_MODULES))
        yield number("modules along the chord", modules, "1", WING)
        yield number("gear face width", facts.v["gear_face_width"], "m")
    else:
        yield said("topology", actuator.topology)
    if actuator.configuration == "spring_return":
        yield number("return spring moment at the start", facts.d["spring_moment"], "N*m", WING)
        yield number("return spring rate", facts.d["spring_rate"], "N*m/rad", WING)
    yield (
        said("brake", "yes", "holds the aiding (overhauling) load")
        if actuator.brake
        else said("brake", "none")
    )
    yield said("cooling", actuator.cooling)
    for name in ("length", "width", "height"):
        yield number(f"bundle {name}", facts.v[f"bundle_{name}"], "m", WING)


def _wire(facts: Facts) -> Iterator[OrderItem]:
    supply, appraisal = facts.appraisal.study.supply, facts.appraisal
    wire = feeder(appraisal.problem, appraisal.x)
    suits = (
        "smallest gauge with ampacity and drop in order" if wire.suits else "even this does not do"
    )
    yield said("feeder wire of one wing", wire.words, f"rated {supply.wire_rating}; {suits}")
    yield number("feeder current", facts.v["feeder_current"], "A", WING, "peak")
    sized = quantity(float(facts.v["wire_drop"]), "V", digits=3)
    note = f"by the resistance of its gauge; {sized} by the area that was sized; "
    yield number("feeder drop", wire.drop, "V", WING, f"{note}{supply.allowed_drop:g} V allowed")
    yield number("feeder length, out and back", 2.0 * supply.run_length, "m", WING)


def _sheets(facts: Facts) -> Iterator[OrderItem]:
    """Sheet that was bought, where the study lists any."""
    fixed = facts.appraisal.problem.fixed
    bought = {} if fixed is None else fixed.fields.get("mass_assumptions", {})
    for part, name in SHEET_FIELDS.items():
        if name in bought:
            yield number(f"sheet, {part}", bought[name], "m", WING, "stock size")


def rounding_table(rounded: Rounded) -> pd.DataFrame:
    """Mass after each step and its price [kg, share of the relaxed mass]; the sum comes last."""
    table = pd.DataFrame(rounded.steps, columns=list(Step._fields))
    if rounded.feasible:
        price = rounded.mass - rounded.relaxed_mass
        table.loc[len(table)] = ["all steps", rounded.mass, price, rounded.price, ""]
    return table


def stock_table(rounded: Rounded) -> pd.DataFrame:
    """Every stock tube: size [m], mass with counts and sleeve free, what became of it."""
    columns = ["outer_diameter", "wall", "relaxed_mass", "system_mass", "words"]
    rows = [
        (
            *stock.tube,
            stock.relaxed.mass if stock.relaxed is not None and stock.feasible else math.nan,
            math.nan if stock.best is None else stock.best.mass,
            stock.words,
        )
        for stock in rounded.stock
        if stock.tube is not None
    ]
    return pd.DataFrame(rows, columns=columns)


def rounding_tables(rounded: Rounded | None) -> dict[str, pd.DataFrame]:
    """Tables of how a design in whole tubes was found, by name; none for any other design."""
    if rounded is None:
        return {}
    causes = () if rounded.feasible else rounded.causes
    words = [rounded.claim, *rounded.remarks, *(cause.text for cause in causes)]
    return {
        "rounding": rounding_table(rounded),
        "rounding_stock": stock_table(rounded),
        "rounding_words": pd.DataFrame({"text": words}),
    }


SHARP = 0.01  # share of a shift to which its borne part is found
NAMED = 2  # kinds of requirement named where more fail
SMALL = 0.01  # share of a size that is tried to either side
TEMPERATURES = ("martensite_start", "martensite_finish", "austenite_start", "austenite_finish")
# Sizes of a tube as powers of design variables: the diameter leaves the wall as it is.
SIZES = {
    "outer diameter": {"tube_outer_radius": 1, "wall_ratio": -1},
    "wall": {"wall_ratio": 1},
    "active length": {"tube_length": 1},
}
GATES = ("return_temperature", "self_start", "static_self_start")  # hold the lot tolerance already


def deviations(basis: Appraisal) -> dict[str, str]:
    """What 1 % less and 1 % more of each size of a tube does, in words."""
    effects = {}
    for name, powers in SIZES.items():
        parts = []
        for words, factor in (("less", 1.0 - SMALL), ("more", 1.0 + SMALL)):
            x = np.array(basis.x)
            for variable, power in powers.items():
                x[basis.problem.labels.index(variable)] *= factor**power
            tried = replace(basis, x=x, values=basis.problem.values(x))
            parts.append(f"1 % {words}: {_effect(basis, tried)}")
        effects[name] = ". ".join(parts)
    return effects


def lot_ends(basis: Appraisal, lot: float) -> Iterator[tuple[str, str]]:
    """Name and words of a lot whose four temperatures all lie at an end of the tolerance."""
    for words, way, shift in (("low", "lower", -lot), ("high", "higher", lot)):
        tried = _with_shift(basis, shift)
        texts = {row.label.group: row.text for row in reversed(_broken(basis, tried))}
        state = f"fails: {'; '.join(texts.values())}" if texts else "the requirements still hold"
        text = (
            f"all four {abs(shift):g} K {way}, hot temperature as set: {state}; least torque "
            f"margin {_margin(least_margin(tried))}"
        )
        yield f"lot at its {words} end", text


def borne_shifts(basis: Appraisal, lot: float) -> tuple[float, float]:
    """Largest shift down and up of the four temperatures, at most the lot tolerance, that is borne.

    Borne: no requirement fails that did not fail before, the hot temperature kept as it is set.
    """
    down, up = (_borne(basis, sign * lot) for sign in (-1.0, 1.0))
    return down, up


def _borne(basis: Appraisal, end: float) -> float:
    """Largest part of a shift that is borne, by bisection to a hundredth of it."""
    good, bad, share = 0.0, 1.0, 1.0
    while bad - good > SHARP:
        if not _broken(basis, _with_shift(basis, share * end)):
            good = share
        else:
            bad = share
        share = (good + bad) / 2.0
    return good * end


def _with_shift(basis: Appraisal, shift: float) -> Appraisal:
    problem = shifted_alloy(basis.problem, shift)
    return replace(basis, problem=problem, values=problem.values(basis.x))


def _broken(basis: Appraisal, tried: Appraisal, kept: tuple[str, ...] = GATES) -> list[RowResult]:
    """Rows that fail and did not before; the gates hold the lot tolerance already."""
    own = {row.text for row in basis.violated}
    return [row for row in tried.violated if row.text not in own and row.label.group not in kept]


def shifted_alloy(problem: DesignProblem, shift: float) -> DesignProblem:
    """Problem with the transformation temperatures of its alloy shifted [K]; nothing else."""
    alloy = problem.assembled.parameters["alloy"]
    moved = alloy._replace(**{name: getattr(alloy, name) + shift for name in TEMPERATURES})
    return problem.with_parameters({**problem.assembled.parameters, "alloy": moved})


def least_margin(appraisal: Appraisal) -> float:
    """Least torque margin over the heated legs and their angles; NaN where no load resists."""
    return float(np.fmin.reduce(Facts(appraisal).margins("torque_margin"), axis=None))


def _margin(margin: float) -> str:
    """Torque margin in words; where nothing is available the ratio says little."""
    return "none (A < 0)" if margin <= -1.0 else percent(margin)


def _effect(basis: Appraisal, tried: Appraisal) -> str:
    """Least torque margin before and after, and what fails then."""
    before, after = (_margin(least_margin(design)) for design in (basis, tried))
    change = f"least torque margin {before} to {after}"
    broken = _broken(basis, tried, kept=())
    titles = list(dict.fromkeys(row.label.requirement.title for row in broken))
    if not titles:
        return change
    more = f" and {len(titles) - NAMED} more" if len(titles) > NAMED else ""
    return f"{change}, then fail: {'; '.join(titles[:NAMED])}{more}"
