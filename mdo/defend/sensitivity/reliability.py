"""First-order reliability of a design: which rows are in doubt, by whom, and the mass to hold back.

Every row is taken as normal, with the mean and the deviation that independent inputs give it to
first order in their even variables; its reliability index is mean over deviation. Of each group of
rows the one of least index stands for the group.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from mdo.defend.sensitivity.design_odds import Odds
from mdo.defend.uncertain import Uncertain
from mdo.optimise.knobs import with_fields
from mdo.optimise.optimum import Optimum, reoptimise
from mdo.optimise.problem import DesignProblem
from mdo.study.reader import StudyError

Floats = NDArray[np.float64]
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


def deviations(inputs: tuple[Uncertain, ...]) -> Floats:
    """Standard deviation of every input in its even variable."""
    return np.array([one.deviation for one in inputs])


def variance_shares(inputs: tuple[Uncertain, ...], slopes: Floats) -> Floats:
    """Share of each input in the variance of a linear result; zeros where nothing moves it.

    ``slopes`` in the even variables, (inputs,); NaN where they are.
    """
    parts = (deviations(inputs) * slopes) ** 2
    total = parts.sum()
    return np.asarray(parts / total if total != 0.0 else parts)


def row_deviations(deviation: Floats, slopes: Floats) -> Floats:
    """Standard deviation of every row to first order, (rows,); ``slopes`` (inputs, rows)."""
    return np.asarray(np.sqrt(((deviation[:, None] * slopes) ** 2).sum(axis=0)))


def group_odds(
    problem: DesignProblem,
    inputs: tuple[Uncertain, ...],
    rows: Floats,
    slopes: Floats,
    odds: Odds,
) -> tuple[GroupOdds, ...]:
    """Reliability of each group of rows, least index first; groups that no input moves left out.

    Parameters
    ----------
    problem, inputs : the study and what is uncertain
    rows, slopes : counting rows (rows,) and their slopes in the even variables (inputs, rows)
    odds : re-evaluated samples
    """
    mean = rows + np.array([one.shift for one in inputs]) @ slopes
    spread = row_deviations(deviations(inputs), slopes)
    index = np.where(spread > FLAT, mean / np.where(spread > FLAT, spread, 1.0), np.inf)
    labels = problem.counting_labels
    found = []
    for group, own in rows_of_groups(problem).items():
        row = int(own[index[own].argmin()])
        if not np.isfinite(index[row]):
            continue
        found.append(
            GroupOdds(
                group=group,
                requirement=problem.describe(labels[row]),
                row=row,
                value=float(rows[row]),
                mean=float(mean[row]),
                deviation=float(spread[row]),
                reliability=float(index[row]),
                probability=float(norm.cdf(-index[row])),
                counted=odds.failing.get(group, 0.0),
            )
        )
    return tuple(sorted(found, key=lambda one: one.reliability))


def verdict_shares(
    inputs: tuple[Uncertain, ...], slopes: Floats, of_groups: tuple[GroupOdds, ...]
) -> Floats:
    """Share of each input in the doubt of the verdict; they add up to one.

    The share in the variance of the row that stands for each group, weighted by how often the group
    fails in the samples (by the probabilities where no sample fails).
    """
    weights = np.array([one.counted for one in of_groups])
    if not weights.sum() > 0.0:
        weights = np.array([one.probability for one in of_groups])
    shares = np.zeros(len(inputs))
    for one, weight in zip(of_groups, weights, strict=True):
        shares += weight * variance_shares(inputs, slopes[:, one.row])
    total = shares.sum()
    return shares / total if total > 0.0 else shares


def find_reserve(
    problem: DesignProblem,
    optimum: Optimum,
    inputs: tuple[Uncertain, ...],
    *,
    optimum_slopes: Floats,
    binding_slopes: Floats,
    of_groups: tuple[GroupOdds, ...],
    odds: Odds,
) -> Reserve:
    """Reserves of mass, see :class:`Reserve`; NaN where there is no feasible optimum.

    Parameters
    ----------
    problem, optimum, inputs : the study, its optimum, what is uncertain
    optimum_slopes : of the re-optimised mass, (inputs,), in the even variables
    binding_slopes : of the counting rows at the optimum, (inputs, rows)
    of_groups, odds : what is in doubt
    """
    moved = np.abs(problem.evaluate(optimum.design).row_slopes).max(axis=1, initial=0.0) > FLAT
    unpriced = tuple(
        one.requirement
        for one in of_groups
        if max(one.counted, one.probability) >= DOUBT and not moved[one.row]
    )
    if not optimum.feasible:
        nothing = float("nan")
        return Reserve(nothing, nothing, nothing, nothing, nothing, unpriced)
    deviation = deviations(inputs)
    mass = float(np.quantile(optimum.mass + odds.moves @ optimum_slopes, CONFIDENCE))
    return Reserve(
        deviation=float(np.linalg.norm(deviation * optimum_slopes)),
        mass=mass,
        known=mass - optimum.mass,
        solved=_solved(problem, optimum, inputs, optimum_slopes),
        backed_off=backing_off(optimum, inputs, deviation, binding_slopes),
        unpriced=unpriced,
    )


def backing_off(
    optimum: Optimum, inputs: tuple[Uncertain, ...], deviation: Floats, slopes: Floats
) -> float:
    """Mass for which every row with a multiplier holds with 95 % by itself, first order [kg].

    ``deviation`` : of the inputs, (inputs,); ``slopes`` : of the counting rows, (inputs, rows).
    """
    shift = np.array([one.shift for one in inputs])
    distance = float(norm.ppf(CONFIDENCE)) * row_deviations(deviation, slopes) - shift @ slopes
    return float(optimum.multipliers @ distance)


def rows_of_groups(problem: DesignProblem) -> dict[str, NDArray[np.intp]]:
    """Positions of the counting rows of each group."""
    labels = problem.counting_labels
    names = np.array([label.group for label in labels])
    return {name: np.flatnonzero(names == name) for name in dict.fromkeys(names.tolist())}


def _solved(
    problem: DesignProblem, optimum: Optimum, inputs: tuple[Uncertain, ...], slopes: Floats
) -> float:
    """Re-optimised mass [kg] where a linear mass reaches its 95 % point most likely."""
    deviation = deviations(inputs)
    norm_of = float(np.linalg.norm(deviation * slopes))
    if not norm_of > 0.0:
        return optimum.mass
    shift = np.array([one.shift for one in inputs])
    move = shift + float(norm.ppf(CONFIDENCE)) * deviation**2 * slopes / norm_of
    fields = {}
    for one, step in zip(inputs, move, strict=True):
        value = one.value * float(np.exp(step)) if one.logarithmic else one.value + float(step)
        fields[one.path] = min(max(value, one.low), one.high)
    try:
        there = with_fields(problem, fields)
    except StudyError:
        return float("nan")
    found = reoptimise(there, optimum, starts=0)
    return found.mass if found.feasible else float("nan")
