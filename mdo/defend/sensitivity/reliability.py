"""First-order reliability of a design: which rows are in doubt, by whom, and the mass to hold back.

Every row is taken as normal, with the mean and the deviation that independent inputs give it to
first order in their even variables; its reliability index is mean over deviation. Of each group of
rows the one of least index stands for the group.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.stats import norm

from mdo.arrays import Floats
from mdo.defend.drawn_inputs import DrawnDesigns, rows_of_groups
from mdo.defend.slopes import mass_with
from mdo.defend.uncertain import Uncertain, of_inputs
from mdo.optimise.optimum import Optimum
from mdo.optimise.problem import DesignProblem

CONFIDENCE = 0.95
DOUBT = 0.05  # probability of failing from which a requirement that no variable moves is told
FLAT = 1e-12


class GroupOdds(NamedTuple):
    """The row that stands for its group: that of least reliability index.

    Attributes
    ----------
    group, requirement, row
        Group, words, and position among the counting rows.
    value, mean, deviation
        Of the row now (normalised, >= 0 is good), and over the inputs.
    index, probability
        Reliability index, and the probability that the row fails if it is normal.
    counted
        Share of the re-evaluated samples in which the group fails. It is above the probability
        where several rows of the group may fail, and where the row is far from linear.
    """

    group: str
    requirement: str
    row: int
    value: float
    mean: float
    deviation: float
    reliability: float
    probability: float
    counted: float


class Reserve(NamedTuple):
    """Mass to hold back against the inputs, to first order about the optimum [kg].

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


def variance_shares(inputs: tuple[Uncertain, ...], slopes: Floats) -> Floats:
    """Share of each input in the variance of a linear result; zeros where nothing moves it.

    ``slopes`` in the even variables, (inputs,); NaN where they are.
    """
    parts = (of_inputs(inputs, "deviation") * slopes) ** 2
    total = parts.sum()
    return np.asarray(parts / total if total != 0.0 else parts)


def row_deviations(deviation: Floats, slopes: Floats) -> Floats:
    """Standard deviation of every row to first order, (rows,); ``slopes`` (inputs, rows)."""
    return np.asarray(np.sqrt(((deviation[:, None] * slopes) ** 2).sum(axis=0)))


def group_odds(
    problem: DesignProblem, rows: Floats, slopes: Floats, odds: DrawnDesigns
) -> tuple[GroupOdds, ...]:
    """Reliability of each group of rows, least index first; groups that no input moves left out.

    Parameters
    ----------
    problem : the study
    rows, slopes : counting rows (rows,) and their slopes in the even variables (inputs, rows)
    odds : the design evaluated with drawn inputs
    """
    mean = rows + of_inputs(odds.inputs, "shift") @ slopes
    spread = row_deviations(of_inputs(odds.inputs, "deviation"), slopes)
    index = np.where(spread > FLAT, mean / np.where(spread > FLAT, spread, 1.0), np.inf)
    failing = odds.failing
    groups = []
    for group, own in rows_of_groups(problem).items():
        row = int(own[index[own].argmin()])
        if np.isfinite(index[row]):
            label = problem.counting_labels[row]
            value, middle, deviation, reliability = (
                float(numbers[row]) for numbers in (rows, mean, spread, index)
            )
            probability = float(norm.cdf(-reliability))
            words = problem.describe(label)
            groups.append(
                GroupOdds(
                    group, words, row, value, middle, deviation, reliability, probability,
                    failing.get(group, 0.0),
                )
            )  # fmt: skip
    return tuple(sorted(groups, key=lambda group: group.reliability))


def verdict_shares(
    inputs: tuple[Uncertain, ...], slopes: Floats, of_groups: tuple[GroupOdds, ...]
) -> Floats:
    """Share of each input in the doubt of the verdict; they add up to one.

    The share in the variance of the row that stands for each group, weighted by how often the group
    fails in the samples (by the probabilities where no sample fails).
    """
    weights = np.array([group.counted for group in of_groups])
    if not weights.sum() > 0.0:
        weights = np.array([group.probability for group in of_groups])
    shares = np.zeros(len(inputs))
    for group, weight in zip(of_groups, weights, strict=True):
        shares += weight * variance_shares(inputs, slopes[:, group.row])
    total = shares.sum()
    return shares / total if total > 0.0 else shares


def find_reserve(
    optimum: Optimum,
    odds: DrawnDesigns,
    mass_slopes: Floats,
    row_slopes: Floats,
    of_groups: tuple[GroupOdds, ...],
) -> Reserve:
    """Reserves of mass, see :class:`Reserve`.

    Parameters
    ----------
    optimum, odds : the optimum, and its design evaluated with drawn inputs
    mass_slopes : of the re-optimised mass, (inputs,), in the even variables
    row_slopes : of the counting rows, (inputs, rows)
    of_groups : what is in doubt
    """
    evaluated = optimum.problem.evaluate(optimum.design)
    moved = np.abs(evaluated.row_slopes).max(axis=1, initial=0.0) > FLAT
    deviation = of_inputs(odds.inputs, "deviation")
    mass = float(np.quantile(optimum.mass + odds.moves @ mass_slopes, CONFIDENCE))
    return Reserve(
        deviation=float(np.linalg.norm(deviation * mass_slopes)),
        mass=mass,
        known=mass - optimum.mass,
        solved=_solved(optimum, odds.inputs, mass_slopes),
        backed_off=backing_off(optimum, odds.inputs, deviation, row_slopes),
        unpriced=tuple(
            group.requirement
            for group in of_groups
            if max(group.counted, group.probability) >= DOUBT and not moved[group.row]
        ),
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
