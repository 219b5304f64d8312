"""Tables of a sensitivity: SI units."""

from __future__ import annotations

import numpy as np
import pandas as pd

from mdo.defend.sensitivity.breaking import Break
from mdo.defend.sensitivity.reliability import GroupOdds
from mdo.defend.sensitivity.sensitivity import Sensitivity
from mdo.model.requirements import REQUIREMENTS
from mdo.model.system import OBJECTIVE


def sensitivity_tables(sensitivity: Sensitivity) -> dict[str, pd.DataFrame]:
    """Every table of a sensitivity by name."""
    return {
        "sensitivity": sensitivity_table(sensitivity),
        "sensitivity_rows": rows_table(sensitivity),
        "sensitivity_doubts": doubts_table(sensitivity),
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
    lines = []
    for rank, k in enumerate(sensitivity.ranking(), 1):
        entry, effect = sensitivity.inputs[k], sensitivity.effects[k]
        solved = confirmed.get(entry.path)
        lines.append(
            {
                "rank": rank,
                "input": entry.path,
                "meaning": entry.meaning,
                "unit": entry.unit,
                "value": entry.value,
                "low": entry.low,
                "high": entry.high,
                "mass_share": effect.mass_share,
                "verdict_share": effect.verdict_share,
                "optimum_mass_low": effect.optimum_low,
                "optimum_mass_high": effect.optimum_high,
                "confirmed_low": np.nan if solved is None else solved.low,
                "confirmed_high": np.nan if solved is None else solved.high,
                "confirmed": solved is not None,
                "mass_low": effect.mass_low,
                "mass_high": effect.mass_high,
                "torque_margin": sensitivity.torque_margin,
                "torque_margin_low": effect.margin_low,
                "torque_margin_high": effect.margin_high,
                **_broken("falling", effect.falls),
                **_broken("rising", effect.rises),
            }
        )
    return pd.DataFrame(lines)


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


def doubts_table(sensitivity: Sensitivity) -> pd.DataFrame:
    """Reliability of each group of rows, least index first."""
    table = pd.DataFrame(sensitivity.odds_of_groups, columns=list(GroupOdds._fields))
    return table.drop(columns="row")


def odds_table(sensitivity: Sensitivity) -> pd.DataFrame:
    """Odds of the design as drawn and the reserves of mass: name, value, unit, words."""
    odds, reserve = sensitivity.odds, sensitivity.reserve
    (least, most), (light, heavy) = odds.met_ends, odds.quantiles(OBJECTIVE)
    interval = f"95 % interval {least:.3f} to {most:.3f}, {odds.samples} samples"
    unpriced = "; ".join(reserve.unpriced) or "none"
    lines = [
        ("probability_met", odds.met, "1", f"the design as drawn meets everything; {interval}"),
        ("system_mass", sensitivity.optimum.mass, "kg", "of the design"),
        ("mass_5", light, "kg", "5 % point of the mass of the design as drawn"),
        ("mass_95", heavy, "kg", "95 % point of the mass of the design as drawn"),
        ("optimum_deviation", reserve.deviation, "kg", "of the re-optimised mass, first order"),
        ("optimum_95", reserve.mass, "kg", "95 % point of the re-optimised mass, first order"),
        ("reserve_known", reserve.known, "kg", "that less the optimum"),
        ("optimum_95_solved", reserve.solved, "kg", "re-optimised at the likeliest inputs of it"),
        (
            "reserve_backed_off",
            reserve.backed_off,
            "kg",
            "each binding row alone at 95 %, at least",
        ),
        ("unpriced", float(len(reserve.unpriced)), "1", f"no mass buys: {unpriced}"),
    ]
    return pd.DataFrame(lines, columns=["name", "value", "unit", "text"])


def _broken(way: str, broken: Break) -> dict[str, object]:
    titles = "; ".join(REQUIREMENTS[group].title for group in broken.at_once)
    return {
        f"{way}_breaks_at_once": titles,
        f"{way}_breaks_next": broken.requirement,
        f"{way}_breaks_at": broken.value,
        f"{way}_share": broken.share,
    }
