"""The rounded design as tables: prices, stock tubes, and what to order."""

from __future__ import annotations

import math
from collections.abc import Iterator

import pandas as pd

from mdo.defend.order.tubes import (
    COLUMNS,
    OrderItem,
    counted,
    feeder_length,
    number,
    overall_length,
    said,
    sleeve,
)
from mdo.model.requirements import WING
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


def order_table(rounded: Rounded) -> pd.DataFrame:
    """What to buy for a rounded design: counts, tube, sleeve, wire, sheet."""
    return pd.DataFrame([item[: len(COLUMNS)] for item in _items(rounded)], columns=list(COLUMNS))


def _items(rounded: Rounded) -> Iterator[OrderItem]:
    design = dict(zip(rounded.problem.labels, map(float, rounded.design), strict=True))
    counts = whole_counts(rounded.optimum)
    choices = rounded.problem.assembled.parameters["choices"]
    yield from counted(counts, float(choices.assemblies))
    note = "stock size" if any(stock.tube is not None for stock in rounded.stock) else "size free"
    radius = design["tube_outer_radius"]
    yield number("tube outer diameter", 2.0 * radius, "m", note=note)
    yield number("tube wall", radius * design["wall_ratio"], "m", note=note)
    yield number("active length", design["tube_length"], "m")
    name = "tube_length_overall"
    yield overall_length(rounded.problem.values(rounded.design, name)[name])
    yield sleeve(design["insulation_thickness"])
    for name, count in counts.items():
        each = design[f"heater_power.{name}"] / count
        yield number(f"heater power, tube of the {name} set", each, "W", "one tube")
    if rounded.feeder is not None:
        supply = rounded.problem.study.supply
        note = f"rated {supply.wire_rating}"
        yield said("feeder wire of one wing", rounded.feeder.words, note)
        yield feeder_length(supply.run_length)
    for part, sheet in rounded.sheets.items():
        yield number(f"sheet, {part}", sheet, "m", WING)
