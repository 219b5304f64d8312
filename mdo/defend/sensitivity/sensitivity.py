"""What an optimum depends on: margins against every input, and which three numbers to measure.

Slopes are exact, shares and distances follow from them to first order but for the mass of the
design as it is; that design at the ends of the ranges and the odds that it meets its requirements
are re-evaluated. A step of an input is taken in the variable that is even over its range (the
logarithm of a wide range).

- *Mass*: the share of an input in the variance of the re-optimised mass, its deviation squared over
  the sum. The mass of the design as it is goes from end to end of the range; what the rows cost is
  linear, by the envelope theorem: ``- multipliers . d rows/dp``.
- *Verdict*: the share of an input in the variance of the rows that may fail, weighted by how often
  they do (:func:`mdo.defend.sensitivity.reliability.verdict_shares`).

An optimum stands on its limits: there about half of all steps break a requirement, and the odds
that the design as drawn meets all of them are poor. The reserves say what it would take. Ranges are
wide: where the slopes cannot be trusted to their ends, the confirmed optima and the counted odds
say so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd

from mdo.arrays import Floats
from mdo.defend.drawn_inputs import DrawnDesigns, rows_of_groups
from mdo.defend.sensitivity.reliability import (
    Reserve,
    find_reserve,
    group_odds,
    mass_spreads,
    odds_table,
    variance_shares,
    verdict_shares,
)
from mdo.defend.slopes import DesignValues, InputSlopes, design_values, input_slopes, mass_with
from mdo.defend.tables.frame import of_records
from mdo.defend.uncertain import Uncertain, directions
from mdo.model.requirements import REQUIREMENTS
from mdo.optimise.idle_rows import FEASIBLE
from mdo.optimise.optimum import Optimum, Progress
from mdo.optimise.problem import DesignProblem

FLAT = 1e-12  # slopes below this times the width of the range move nothing
MOVED = 1e-9  # change of a row that is told
REACH = 1.0  # widths of the range up to which a first-order distance is worth telling


class Break(NamedTuple):
    """What happens to the requirements as one input goes one way, to first order.

    Attributes
    ----------
    at_once
        Groups of rows that stand at their limit and break with the first step.
    requirement
        Of the row that breaks first among those not at their limit; empty where none does within
        one width of the range from the present value.
    row
        Position of that row among the counting rows; -1 where none breaks.
    value
        Value of the input at which it breaks [SI]; NaN where none does.
    share
        That distance over the distance to the end of the range: below 1 it breaks within the range;
        infinite where the present value is at that end, or where nothing breaks.
    """

    at_once: tuple[str, ...]
    requirement: str
    row: int
    value: float
    share: float

    @property
    def titles(self) -> str:
        """Titles of the requirements that break at once."""
        return "; ".join(REQUIREMENTS[group].title for group in self.at_once)


def first_break(
    problem: DesignProblem, entry: Uncertain, rows: Floats, slopes: Floats, way: int
) -> Break:
    """Find what breaks first as an input goes one way.

    Parameters
    ----------
    problem, entry : the study and the input
    rows, slopes : counting rows and their slopes by the input in its even variable, (rows,)
    way : +1 where the input rises, -1 where it falls
    """
    width = entry.step_to(entry.high) - entry.step_to(entry.low)
    end = entry.step_to(entry.high if way > 0 else entry.low)
    rising = way * slopes
    falls = -rising * width > FLAT
    limit = rows <= FEASIBLE
    labels = problem.counting_labels
    at_once = tuple(dict.fromkeys(labels[j].group for j in np.flatnonzero(falls & limit)))
    distance = np.full(rows.size, np.inf)
    later = falls & ~limit
    distance[later] = rows[later] / -rising[later]
    row = int(distance.argmin())
    far = float(distance[row])
    if not far <= REACH * width:
        return Break(at_once, "", -1, np.nan, np.inf)
    share = far / abs(end) if end != 0.0 else np.inf
    return Break(at_once, problem.describe(labels[row]), row, entry.stepped(way * far), share)


@dataclass(frozen=True)
class Sensitivity:
    """Sensitivity of an optimum.

    Attributes
    ----------
    optimum
        The optimum.
    odds
        The same design evaluated with drawn inputs.
    slopes
        By the inputs, in their order.
    spreads
        Deviation of the re-optimised mass by each of them alone [kg].
    table
        One line for each input, the one to measure first in front (by the larger of its shares);
        its index is the place of the input. ``value``, ``low``, ``high`` in ``unit``; shares in the
        variance of the re-optimised mass and in the doubt of the verdict; at the ends of the range:
        change of the re-optimised mass to first order [kg], optimum solved there where it was
        confirmed [kg], change of the mass of the design as it is [kg] and its worst torque margin
        A/R - 1. Then what breaks at once and what breaks next as the input falls and rises, at
        which value, and that distance over the distance to the end of the range (first order).
    rows
        Worst row of each group now and at either end of every input (>= 0 is good), where the
        input moves it by more than 1e-9.
    doubts
        Reliability of each group of rows, see :func:`group_odds`.
    reserve
        Masses to hold back.
    """

    optimum: Optimum
    odds: DrawnDesigns
    slopes: InputSlopes
    spreads: Floats
    table: pd.DataFrame
    rows: pd.DataFrame
    doubts: pd.DataFrame
    reserve: Reserve

    @property
    def inputs(self) -> tuple[Uncertain, ...]:
        """What is uncertain, in the order of the slopes."""
        return self.odds.inputs

    @property
    def tables(self) -> dict[str, pd.DataFrame]:
        """Every table of a result by name."""
        return {
            "sensitivity": self.table.reset_index(drop=True),
            "sensitivity_rows": self.rows,
            "sensitivity_doubts": self.doubts.drop(columns="row"),
            "sensitivity_odds": odds_table(self.optimum.mass, self.odds, self.reserve),
        }


def find_sensitivity(
    optimum: Optimum, odds: DrawnDesigns, say: Progress = lambda _: None, *, confirm: int = 3
) -> Sensitivity:
    """Find how an optimum answers to every input, and which inputs to measure first.

    Parameters
    ----------
    optimum : the optimum
    odds : its design evaluated with drawn inputs
    say : told what is being done
    confirm : for how many of the first inputs the mass is re-optimised at both ends of the range

    Raises
    ------
    ValueError
        If the optimum is not feasible: there is no mass to compare with.
    """
    if not optimum.feasible:
        raise ValueError("sensitivity: the study is infeasible, expected a feasible optimum")
    problem, inputs = optimum.problem, odds.inputs
    here = design_values(problem, optimum.design)
    slopes = input_slopes(optimum, inputs)
    doubts = group_odds(problem, here.rows, slopes.rows, odds)
    ends = [_at_ends(problem, optimum.design, inputs, end) for end in ("low", "high")]
    table = of_records(inputs, "input=path meaning unit value low high")
    low, high = (np.array([there.mass for there in designs]) for designs in ends)
    spreads = mass_spreads(inputs, slopes, low, high)
    table["mass_share"] = variance_shares(spreads)
    table["verdict_share"] = verdict_shares(inputs, slopes.rows, doubts)
    for end in ("low", "high"):
        steps = [entry.step_to(getattr(entry, end)) for entry in inputs]
        table[f"optimum_mass_{end}"] = steps * slopes.optimum_mass
    table = table.assign(confirmed_low=np.nan, confirmed_high=np.nan, confirmed=False)
    for end, designs in zip(("low", "high"), ends, strict=True):
        table[f"mass_{end}"] = [there.mass - optimum.mass for there in designs]
    table["torque_margin"] = here.worst_margin
    for end, designs in zip(("low", "high"), ends, strict=True):
        table[f"torque_margin_{end}"] = [there.worst_margin for there in designs]
    for name, way in (("falling", -1), ("rising", 1)):
        breaks = [
            first_break(problem, entry, here.rows, moved, way)
            for entry, moved in zip(inputs, slopes.rows, strict=True)
        ]
        columns = f"{name}_breaks_at_once=titles {name}_breaks_next=requirement "
        columns += f"{name}_breaks_at=value {name}_share=share"
        table = table.join(of_records(breaks, columns))
    # stable: of inputs of the same share the first stays first
    shares = np.maximum(table["mass_share"], table["verdict_share"])
    table = table.iloc[np.argsort(-shares.to_numpy(), kind="stable")]
    table.insert(0, "rank", range(1, len(table) + 1))
    say("Mass to hold in reserve")
    reserve = find_reserve(optimum, odds, slopes, spreads, doubts)
    for k in table.index[:confirm]:
        entry = inputs[k]
        say(f"Optimum at both ends of the range of {entry.path}")
        solved = [mass_with(optimum, {entry.path: end}) for end in (entry.low, entry.high)]
        table.loc[k, ["confirmed_low", "confirmed_high", "confirmed"]] = [*solved, True]
    rows = _rows_table(problem, table["input"], here.rows, ends)
    return Sensitivity(optimum, odds, slopes, spreads, table, rows, doubts, reserve)


def _at_ends(
    problem: DesignProblem, design: Floats, inputs: tuple[Uncertain, ...], end: str
) -> list[DesignValues]:
    """Design re-evaluated with each input in turn at one end of its range."""
    start = np.asarray(problem.theta)
    return [
        design_values(problem.with_theta(start + (getattr(entry, end) - entry.value) * way), design)
        for entry, way in zip(inputs, directions(problem, inputs), strict=True)
    ]


def _rows_table(
    problem: DesignProblem, paths: pd.Series, rows: Floats, ends: list[list[DesignValues]]
) -> pd.DataFrame:
    """Worst row of each group now and at both ends of each input; see :class:`Sensitivity`."""
    groups = rows_of_groups(problem).items()
    lines = []
    for k, path in paths.items():
        low, high = (designs[k].rows for designs in ends)
        for group, own in groups:
            worst = [float(each[own].min()) for each in (rows, low, high)]
            if max(abs(end - worst[0]) for end in worst[1:]) > MOVED:
                lines.append((path, group, REQUIREMENTS[group].title, *worst))
    columns = ["input", "group", "requirement", "row", "row_low", "row_high"]
    return pd.DataFrame(lines, columns=columns)
