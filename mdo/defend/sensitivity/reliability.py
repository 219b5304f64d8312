"""First-order reliability of a design: which rows are in doubt, by whom, and the mass to hold back.

Every row is taken as normal, with the mean and the deviation that independent inputs give it to
first order in their even variables; its reliability index is mean over deviation. Of each group of
rows the one of least index stands for the group.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy.stats import norm

from mdo.arrays import Floats
from mdo.defend.drawn_inputs import DrawnDesigns, rows_of_groups
from mdo.defend.slopes import InputSlopes, mass_with
from mdo.defend.uncertain import Uncertain, of_inputs
from mdo.model.system import OBJECTIVE
from mdo.optimise.optimum import Optimum
from mdo.optimise.problem import DesignProblem

CONFIDENCE = 0.95
DOUBT = 0.05  # probability of failing from which a requirement that no variable moves is told
FLAT = 1e-12
BACKED_OFF = "each binding row alone at 95 %, at least"


class Reserve(NamedTuple):
    """Mass to hold back against the inputs, what the rows cost to first order [kg].

    Attributes
    ----------
    deviation
        Standard deviation of the re-optimised mass.
    mass
        95 % point of the re-optimised mass: in 95 of 100 cases a design of this mass would do, if
        the inputs were known before it is drawn.
    known
        That less the mass of the optimum.
    solved
        Re-optimised mass at the likeliest inputs of that point, no slopes; NaN where no design is
        feasible there, so that no mass of reserve suffices.
    backed_off
        What it costs to draw the design before the inputs are known, so that each row with a
        multiplier holds with a probability of 95 % by itself: multipliers times the distance. Rows
        that come to bind on the way are not in it: a lower bound.
    unpriced
        Requirements in doubt (5 % or more) that no design variable moves: no mass buys them.
    """

    deviation: float
    mass: float
    known: float
    solved: float
    backed_off: float
    unpriced: tuple[str, ...]


def variance_shares(spreads: Floats) -> Floats:
    """Share of each input in the variance of a result; zeros where nothing moves it.

    ``spreads`` : standard deviation of the result by each input alone, with sign or without,
    (inputs,); NaN where they are.
    """
    parts = np.asarray(spreads) ** 2
    total = parts.sum()
    return np.asarray(parts / total if total != 0.0 else parts)


def mass_spreads(
    inputs: tuple[Uncertain, ...], slopes: InputSlopes, low: Floats, high: Floats
) -> Floats:
    """Deviation of the re-optimised mass by each input alone [kg], (inputs,).

    The mass of the design as it is is taken from end to end of the range (exact for what adds mass
    only, up to the curve of a logarithm); what the rows cost on top is linear at the value.

    Parameters
    ----------
    inputs, slopes : the inputs, and slopes by them
    low, high : mass of the design as it is at the ends of the range [kg], (inputs,)
    """
    rows = of_inputs(inputs, "deviation") * (slopes.optimum_mass - slopes.mass)
    return np.asarray((high - low) / np.sqrt(12.0) + rows)


def row_deviations(deviation: Floats, slopes: Floats) -> Floats:
    """Standard deviation of every row to first order, (rows,); ``slopes`` (inputs, rows)."""
    return np.asarray(np.sqrt(((deviation[:, None] * slopes) ** 2).sum(axis=0)))


def group_odds(
    problem: DesignProblem, rows: Floats, slopes: Floats, odds: DrawnDesigns
) -> pd.DataFrame:
    """Reliability of each group of rows, least index first; groups that no input moves left out.

    Parameters
    ----------
    problem : the study
    rows, slopes : counting rows (rows,) and their slopes in the even variables (inputs, rows)
    odds : the design evaluated with drawn inputs

    Returns
    -------
    A line for each group with the row that stands for it, that of least reliability index: group,
    words, position among the counting rows; value of the row now (normalised, >= 0 is good), mean
    and deviation over the inputs; reliability index, and the probability that the row fails if it
    is normal; share of the re-evaluated samples in which the group fails. It is above the
    probability where several rows of the group may fail, and where the row is far from linear.
    """
    mean = rows + of_inputs(odds.inputs, "shift") @ slopes
    spread = row_deviations(of_inputs(odds.inputs, "deviation"), slopes)
    index = np.where(spread > FLAT, mean / np.where(spread > FLAT, spread, 1.0), np.inf)
    standing = {
        group: int(own[index[own].argmin()]) for group, own in rows_of_groups(problem).items()
    }
    standing = {group: row for group, row in standing.items() if np.isfinite(index[row])}
    at, failing = list(standing.values()), odds.failing
    table = pd.DataFrame(
        {
            "group": list(standing),
            "requirement": [problem.describe(problem.counting_labels[row]) for row in at],
            "row": at,
            "value": rows[at],
            "mean": mean[at],
            "deviation": spread[at],
            "reliability": index[at],
            "probability": norm.cdf(-index[at]),
            "counted": [failing.get(group, 0.0) for group in standing],
        }
    )
    return table.sort_values("reliability", kind="stable", ignore_index=True)


def verdict_shares(inputs: tuple[Uncertain, ...], slopes: Floats, doubts: pd.DataFrame) -> Floats:
    """Share of each input in the doubt of the verdict; they add up to one.

    The share in the variance of the row that stands for each group, weighted by how often the group
    fails in the samples (by the probabilities where no sample fails).
    """
    weights = doubts["counted"] if doubts["counted"].sum() > 0.0 else doubts["probability"]
    deviation, shares = of_inputs(inputs, "deviation"), np.zeros(len(inputs))
    for row, weight in zip(doubts["row"], weights, strict=True):
        shares += weight * variance_shares(deviation * slopes[:, row])
    total = shares.sum()
    return shares / total if total > 0.0 else shares


def find_reserve(
    optimum: Optimum,
    odds: DrawnDesigns,
    slopes: InputSlopes,
    spreads: Floats,
    doubts: pd.DataFrame,
) -> Reserve:
    """Reserves of mass, see :class:`Reserve`.

    Parameters
    ----------
    optimum, odds : the optimum, and its design evaluated with drawn inputs
    slopes : by the inputs
    spreads : of the re-optimised mass, see :func:`mass_spreads`
    doubts : what is in doubt, by group
    """
    evaluated = optimum.problem.evaluate(optimum.design)
    moved = np.abs(evaluated.row_slopes).max(axis=1, initial=0.0) > FLAT
    deviation = of_inputs(odds.inputs, "deviation")
    doubtful = doubts[["counted", "probability"]].max(axis=1) >= DOUBT
    masses = odds.of(OBJECTIVE) + odds.moves @ (slopes.optimum_mass - slopes.mass)
    mass = float(np.quantile(masses, CONFIDENCE))
    return Reserve(
        deviation=float(np.linalg.norm(spreads)),
        mass=mass,
        known=mass - optimum.mass,
        solved=_solved(optimum, odds.inputs, slopes.optimum_mass),
        backed_off=backing_off(optimum, odds.inputs, deviation, slopes.rows),
        unpriced=tuple(doubts["requirement"][doubtful & ~moved[doubts["row"]]]),
    )


def backing_off(
    optimum: Optimum, inputs: tuple[Uncertain, ...], deviation: Floats, slopes: Floats
) -> float:
    """Mass for which every row with a multiplier holds with 95 % by itself, first order [kg].

    ``deviation`` : of the inputs, (inputs,); ``slopes`` : of the counting rows, (inputs, rows).
    """
    shift = of_inputs(inputs, "shift")
    distance = float(norm.ppf(CONFIDENCE)) * row_deviations(deviation, slopes) - shift @ slopes
    return float(optimum.multipliers @ distance)


def _solved(optimum: Optimum, inputs: tuple[Uncertain, ...], slopes: Floats) -> float:
    """Re-optimised mass [kg] where a linear mass reaches its 95 % point most likely."""
    deviation = of_inputs(inputs, "deviation")
    size = float(np.linalg.norm(deviation * slopes))
    if not size > 0.0:
        return optimum.mass
    reach = float(norm.ppf(CONFIDENCE)) * deviation**2 * slopes / size
    moves = of_inputs(inputs, "shift") + reach
    fields = {
        entry.path: min(max(entry.stepped(float(move)), entry.low), entry.high)
        for entry, move in zip(inputs, moves, strict=True)
    }
    return mass_with(optimum, fields)


def odds_table(mass: float, odds: DrawnDesigns, reserve: Reserve) -> pd.DataFrame:
    """Odds of the design as drawn and the reserves of mass: name, value, unit, words."""
    (least, most), (light, heavy) = odds.met_ends, odds.quantiles(OBJECTIVE)
    interval = f"95 % interval {least:.3f} to {most:.3f}, {odds.samples} samples"
    drawn = "point of the mass of the design as drawn"
    again = "of the re-optimised mass, its rows to first order"
    lines = [
        ("probability_met", odds.met, "1", f"the design as drawn meets everything; {interval}"),
        ("system_mass", mass, "kg", "of the design"),
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
