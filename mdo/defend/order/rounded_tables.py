"""The rounded design as tables: prices, stock tubes, and what to order."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import pandas as pd

from mdo.defend.order.tubes import WINGS, OrderItem
from mdo.model.requirements import AIRCRAFT, NEITHER, WING
from mdo.optimise.whole_tubes.rounding import Rounded, Step, whole_counts


def rounding_table(rounded: Rounded) -> pd.DataFrame:
    """Mass after each step and its price [kg, share of the relaxed mass]; the sum comes last."""
    table = pd.DataFrame(rounded.steps, columns=list(Step._fields))
    if rounded.feasible:
        price = rounded.mass - rounded.relaxed_mass
        table.loc[len(table)] = ["all steps", rounded.mass, price, rounded.price, ""]
    return table


def stock_table(rounded: Rounded) -> pd.DataFrame:
    """Every stock tube: size [m], mass with counts and sleeve free, what became of it."""
    rows = []
    for one in rounded.stock:
        if one.tube is None:
            continue
        relaxed = one.relaxed.mass if one.relaxed is not None and one.feasible else math.nan
        rows.append(
            {
                "outer_diameter": one.tube[0],
                "wall": one.tube[1],
                "relaxed_mass": relaxed,
                "system_mass": one.best.mass if one.best is not None else math.nan,
                "words": one.words,
            }
        )
    columns = ["outer_diameter", "wall", "relaxed_mass", "system_mass", "words"]
    return pd.DataFrame(rows, columns=columns)


def rounding_order(rounded: Rounded) -> tuple[OrderItem, ...]:
    """What to buy for a rounded design: counts, tube, sleeve, wire, sheet."""
    return tuple(_items(rounded))


def _number(item: str, value: Any, unit: str, of: str = NEITHER, note: str = "") -> OrderItem:
    return OrderItem(item, float(value), unit, "", of, note)


def _items(rounded: Rounded) -> Iterator[OrderItem]:
    labels = rounded.problem.labels
    design = dict(zip(labels, map(float, rounded.design), strict=True))
    values = rounded.problem.values(rounded.design, "tube_length_overall", "modules")
    counts = whole_counts(rounded.optimum)
    for name, count in counts.items():
        yield _number(f"tubes, {name} set", count, "1", WING)
    yield _number("tubes", WINGS * sum(counts.values()), "1", AIRCRAFT)
    stocked = any(one.tube is not None for one in rounded.stock)
    note = "stock size" if stocked else "size free"
    yield _number("tube outer diameter", 2.0 * design["tube_outer_radius"], "m", note=note)
    wall = design["tube_outer_radius"] * design["wall_ratio"]
    yield _number("tube wall", wall, "m", note=note)
    yield _number("active length", design["tube_length"], "m")
    yield _number("overall length", values["tube_length_overall"], "m",
                  note="with gripped, cold and spline ends")  # fmt: skip
    yield _number("insulating sleeve", design["insulation_thickness"], "m",
                  note="thickness over the active length")  # fmt: skip
    for name, count in counts.items():
        each = design[f"heater_power.{name}"] / count
        yield _number(f"heater power, tube of the {name} set", each, "W", "one tube")
    if rounded.feeder is not None:
        supply = rounded.problem.study.supply
        yield OrderItem("feeder wire of one wing", math.nan, "", rounded.feeder.words, NEITHER,
                        f"rated {supply.wire_rating}")  # fmt: skip
        yield _number("feeder length, out and back", 2.0 * supply.run_length, "m", WING)
    for part, sheet in rounded.sheets.items():
        yield _number(f"sheet, {part}", sheet, "m", WING)


def order_table(rounded: Rounded) -> pd.DataFrame:
    """What to buy as a table."""
    return pd.DataFrame(rounding_order(rounded), columns=list(OrderItem._fields))
