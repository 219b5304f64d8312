"""Tables of a sensitivity: SI units."""

from __future__ import annotations

import numpy as np
import pandas as pd

from mdo.defend.sensitivity.reliability import GroupOdds
from mdo.defend.sensitivity.sensitivity import Sensitivity
from mdo.defend.tables.frame import of_lines, of_records
from mdo.model.requirements import REQUIREMENTS
from mdo.model.system import OBJECTIVE

BACKED_OFF = "each binding row alone at 95 %, at least"
EFFECTS = (
    "mass_share verdict_share optimum_mass_low=optimum_low optimum_mass_high=optimum_high mass_low "
    "mass_high torque_margin_low=margin_low torque_margin_high=margin_high "
    "falling_breaks_at_once=falls.titles falling_breaks_next=falls.requirement "
    "falling_breaks_at=falls.value falling_share=falls.share "
    "rising_breaks_at_once=rises.titles rising_breaks_next=rises.requirement "
    "rising_breaks_at=rises.value rising_share=rises.share"
)


def sensitivity_tables(sensitivity: Sensitivity) -> dict[str, pd.DataFrame]:
    """Every table of a sensitivity by name."""
    return {
        "sensitivity": sensitivity_table(sensitivity),
        "sensitivity_rows": rows_table(sensitivity),
        "sensitivity_doubts": of_lines(GroupOdds, sensitivity.odds_of_groups).drop(columns="row"),
        "sensitivity_odds": odds_table(sensitivity),
    }


def sensitivity_table(sensitivity: Sensitivity) -> pd.DataFrame:
    """One line for each uncertain input, the one to measure first in front.

    ``value``, ``low``, ``high`` in ``unit``; shares; at the ends of the range: change of the
    re-optimised mass to first order [kg], optimum solved there where it was confirmed [kg], change
    of the mass of the design as it is [kg] and its worst torque margin. Then what breaks at once
    and what breaks next as the input falls and rises, at which value, and that distance over the
    distance to the end of the range (first order).
    """
    confirmed = {ends.path: ends for ends in sensitivity.confirmed}
    ranking = sensitivity.ranking()
    inputs = [sensitivity.inputs[k] for k in ranking]
    effects = [sensitivity.effects[k] for k in ranking]
    solved = [confirmed.get(entry.path) for entry in inputs]
    table = of_records(inputs, "input=path meaning unit value low high").join(
        of_records(effects, EFFECTS)
    )
    table.insert(0, "rank", range(1, len(table) + 1))
    after = list(table).index("optimum_mass_high") + 1
    table.insert(after, "confirmed_low", [np.nan if each is None else each.low for each in solved])
    table.insert(
        after + 1, "confirmed_high", [np.nan if each is None else each.high for each in solved]
    )
    table.insert(after + 2, "confirmed", [each is not None for each in solved])
    table.insert(after + 5, "torque_margin", sensitivity.torque_margin)
    return table


def rows_table(sensitivity: Sensitivity) -> pd.DataFrame:
    """Worst row of each group now and at either end of every input (>= 0 is good).

    Only where the input moves it by more than 1e-9.
    """
    lines = []
    for k in sensitivity.ranking():
        effect = sensitivity.effects[k]
        for number, group in enumerate(sensitivity.groups):
            now = float(sensitivity.worst[number])
            low, high = float(effect.worst_low[number]), float(effect.worst_high[number])
            if max(abs(low - now), abs(high - now)) > 1e-9:
                lines.append(
                    (sensitivity.inputs[k].path, group, REQUIREMENTS[group].title, now, low, high)
                )
    columns = ["input", "group", "requirement", "row", "row_low", "row_high"]
    return pd.DataFrame(lines, columns=columns)


def odds_table(sensitivity: Sensitivity) -> pd.DataFrame:
    """Odds of the design as drawn and the reserves of mass: name, value, unit, words."""
    odds, reserve = sensitivity.odds, sensitivity.reserve
    (least, most), (light, heavy) = odds.met_ends, odds.quantiles(OBJECTIVE)
    interval = f"95 % interval {least:.3f} to {most:.3f}, {odds.samples} samples"
    drawn = "point of the mass of the design as drawn"
    again = "of the re-optimised mass, first order"
    lines = [
        ("probability_met", odds.met, "1", f"the design as drawn meets everything; {interval}"),
        ("system_mass", sensitivity.optimum.mass, "kg", "of the design"),
        ("mass_5", light, "kg", f"5 % {drawn}"),
        ("mass_95", heavy, "kg", f"95 % {drawn}"),
        ("optimum_deviation", reserve.deviation, "kg", again),
        ("optimum_95", reserve.mass, "kg", f"95 % point {again}"),
        ("reserve_known", reserve.known, "kg", "that less the optimum"),
        ("optimum_95_solved", reserve.solved, "kg", "re-optimised at the likeliest inputs of it"),
        ("reserve_backed_off", reserve.backed_off, "kg", BACKED_OFF),
        ("unpriced", float(len(reserve.unpriced)), "1",
         f"no mass buys: {'; '.join(reserve.unpriced) or 'none'}"),
    ]  # fmt: skip
    return pd.DataFrame(lines, columns=["name", "value", "unit", "text"])
