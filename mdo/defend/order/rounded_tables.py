"""The design in whole tubes as tables: what each step costs, and the stock tubes."""

from __future__ import annotations

import math

import pandas as pd

from mdo.optimise.whole_tubes.rounding import Rounded, Step


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
