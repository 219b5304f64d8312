"""The bundle as it would be ordered: whole tubes, heaters, wire of the table's gauges."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, NamedTuple

import pandas as pd

from mdo.defend.tables.requirements import Facts
from mdo.model.layout import SET_NAMES
from mdo.model.parts import choose_cable
from mdo.model.requirements import AIRCRAFT, NEITHER, WING
from mdo.optimise.appraisal import Appraisal
from mdo.study.number_text import quantity

ALMOST = 1e-3  # a count this little above a whole number is that number
WHOLE_MODULES = 0.06  # excess over a whole number that the smoothing of the model leaves
WINGS = 2


class OrderItem(NamedTuple):
    """One line of the order: a number with its SI unit (NaN where there are only words)."""

    item: str
    value: float
    unit: str
    words: str
    of: str
    note: str


def whole_count(count: float) -> int:
    """Return the least whole number of tubes not below a count of the continuous design."""
    return max(1, math.ceil(count - ALMOST))


def item_text(item: OrderItem, units: str) -> str:
    """Return the value of a line of the order with its unit, or its words."""
    if item.unit == "1" and item.value.is_integer():
        return f"{item.value:.0f}"
    return item.words or quantity(item.value, item.unit, units)


def order_items(appraisal: Appraisal) -> tuple[OrderItem, ...]:
    """Lines of the order of one wing and of the aircraft.

    Counts are rounded up, the rest is as in the continuous design: the heater of each tube keeps
    its power, so a set with more tubes than the continuous count draws more. It is not optimised
    again.
    """
    facts = Facts(appraisal)
    return (
        *_tubes(appraisal, facts),
        *_heaters(appraisal, facts),
        *_joints(appraisal, facts),
        *_wire(appraisal, facts),
    )


def order_table(appraisal: Appraisal) -> pd.DataFrame:
    """Order as a table."""
    return pd.DataFrame(order_items(appraisal), columns=list(OrderItem._fields))


def present_sets(facts: Facts) -> list[int]:
    """Numbers of the sets that the configuration has."""
    return [side for side in range(len(SET_NAMES)) if float(facts.choices.set_present[side]) > 0.5]


def _said(item: str, words: str, note: str = "") -> OrderItem:
    return OrderItem(item, math.nan, "", words, NEITHER, note)


def _number(item: str, value: Any, unit: str, of: str = NEITHER, note: str = "") -> OrderItem:
    return OrderItem(item, float(value), unit, "", of, note)


def _tubes(appraisal: Appraisal, facts: Facts) -> Iterator[OrderItem]:
    card = appraisal.problem.assembled.card
    yield _said("alloy", card.name, card.title)
    yield _number("tube outer diameter", 2.0 * facts.d["tube_outer_radius"], "m")
    yield _number("tube wall", facts.v["wall_thickness"], "m")
    yield _number("tube bore diameter", 2.0 * facts.v["bore_radius"], "m")
    yield _number("active length", facts.d["tube_length"], "m")
    yield _number("overall length", facts.v["tube_length_overall"], "m",
                  note="with gripped, cold and spline ends")  # fmt: skip
    total = 0
    for side in present_sets(facts):
        count = float(facts.d["tube_count"][side])
        whole = whole_count(count)
        total += whole
        yield _number(f"tubes, {SET_NAMES[side]} set", whole, "1", WING,
                      f"continuous count {count:.2f}, rounded up")  # fmt: skip
    yield _number("tubes", WINGS * total, "1", AIRCRAFT)
    for side in present_sets(facts):
        yield _number(
            f"pre-twist, {SET_NAMES[side]} set", facts.d["pre_twist"][side], "rad",
            note="from the load-free austenitic zero, where the set starts to drive",
        )  # fmt: skip
    emissivity = f"emissivity {float(facts.choices.emissivity):.2f}"
    yield _said("outer face", appraisal.study.actuator.finish, emissivity)
    sleeve = float(facts.d["insulation_thickness"])
    yield _number("insulating sleeve", sleeve, "m", note="thickness over the active length")


def _heaters(appraisal: Appraisal, facts: Facts) -> Iterator[OrderItem]:
    parameters = appraisal.problem.assembled.parameters
    assumed = parameters["thermal_assumptions"]
    length = float(facts.d["tube_length"])
    if appraisal.study.actuator.heater == "cartridge":
        yield _said("heater", "cartridge", "in the bore of each tube")
        diameter = 2.0 * (float(facts.v["bore_radius"]) - float(assumed.heater_gap))
        yield _number("heater diameter", diameter, "m", note="bore less the radial gap")
        yield _number("heater length", length + 2.0 * float(assumed.cartridge_cold_end), "m",
                      note="with unheated ends")  # fmt: skip
    else:
        yield _said("heater", "foil wrap", "bonded to the outer face of each tube")
        yield _number("heater width", 2.0 * math.pi * float(facts.d["tube_outer_radius"]), "m")
        yield _number("heater length", length, "m")
    voltage = float(facts.supply.nominal_voltage)
    for side in present_sets(facts):
        count = max(float(facts.d["tube_count"][side]), 1e-3)
        each = float(facts.d["heater_power"][side]) / count
        name = SET_NAMES[side]
        yield _number(
            f"heater power, tube of the {name} set", each, "W", "one tube",
            f"at {voltage:.0f} V nominal",
        )  # fmt: skip
        yield _number(
            f"heater power, {name} set", each * whole_count(count), "W", WING,
            "nominal, with the whole number of tubes",
        )  # fmt: skip


def _joints(appraisal: Appraisal, facts: Facts) -> Iterator[OrderItem]:
    actuator = appraisal.study.actuator
    if actuator.topology == "geared":
        ratio = float(facts.d["gear_ratio"])
        lanes = int(facts.choices.gear_lanes)
        side_by_side = f"{lanes} lanes side by side" if lanes > 1 else "one lane"
        yield _said("topology", "geared", side_by_side)
        yield _number("gear ratio", ratio, "1", note="tube twist over fold angle")
        modules = max(1, math.ceil(float(facts.v["modules"]) - WHOLE_MODULES))
        yield _number("modules along the chord", modules, "1", WING)
        yield _number("gear face width", facts.v["gear_face_width"], "m")
    else:
        yield _said("topology", actuator.topology)
    if actuator.configuration == "spring_return":
        yield _number("return spring moment at the start", facts.d["spring_moment"], "N*m", WING)
        yield _number("return spring rate", facts.d["spring_rate"], "N*m/rad", WING)
    brake = ("yes", "holds the load that runs over") if actuator.brake else ("none",)
    yield _said("brake", *brake)
    yield _said("cooling", actuator.cooling)
    for name in ("length", "width", "height"):
        yield _number(f"bundle {name}", facts.v[f"bundle_{name}"], "m", WING)


def _wire(appraisal: Appraisal, facts: Facts) -> Iterator[OrderItem]:
    supply = appraisal.study.supply
    parameters = appraisal.problem.assembled.parameters
    choice = choose_cable(parameters, float(facts.v["feeder_current"]))
    note = f"rated {supply.wire_rating}; smallest gauge with ampacity and drop in order"
    if not choice.suits:
        note = f"rated {supply.wire_rating}; even this largest one does not do: cables in parallel"
    yield _said("feeder wire of one wing", f"AWG {choice.gauge}", note)
    yield _number("feeder current", facts.v["feeder_current"], "A", WING, "peak, continuous counts")
    yield _number("feeder drop", choice.drop, "V", WING, f"{supply.allowed_drop:g} V allowed")
    yield _number("feeder length, out and back", 2.0 * supply.run_length, "m", WING)
