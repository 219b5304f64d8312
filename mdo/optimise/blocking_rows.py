"""What kills an infeasible design problem: rows that no design meets, or the rows in conflict.

At the design of least violation the rows at the worst value hold each other up: a non-negative sum
of their slopes vanishes. The weights of that sum, which are the multipliers of the elastic problem,
say by how much the violation goes down when each row is eased by one unit.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.optimize import nnls

from mdo.arrays import Floats, Indices
from mdo.model.rows import RowLabel
from mdo.optimise.idle_rows import CONSTANT, blocked_rows
from mdo.optimise.newton_end import at_bounds, with_bound_columns
from mdo.optimise.optimum import Optimum
from mdo.optimise.problem import DesignProblem

CLOSE = 0.02  # rows this close to the worst one may hold it up (a rough solution leaves a spread)
SPREAD = 0.05  # the same, as a share of the worst
LEAST_SHARE = 0.05  # of the weights, to be named
WEIGHT_OF_SUM = 100.0  # of the condition that the weights sum to one


class Cause(NamedTuple):
    """A requirement that makes a problem infeasible.

    Attributes
    ----------
    group
        Kind of row.
    text
        Words for the row of the group that weighs most.
    share
        Share of the weights, 0 to 1: the drop of the violation per unit that the group is eased.
        1 for a row that no design meets.
    value
        Worst value of the group's rows, normalised (negative: violated).
    fixed
        True if no design changes the row.
    """

    group: str
    text: str
    share: float
    value: float
    fixed: bool


def causes_of(optimum: Optimum) -> tuple[Cause, ...]:
    """Causes of an infeasible optimum, the heaviest first; empty if it is feasible.

    Where rows fail whatever the design, they alone are the causes, the worst first.
    """
    if optimum.feasible:
        return ()
    if optimum.blocked.size:
        fixed = np.isin(optimum.blocked, blocked_rows(optimum.problem)).all()
        return blocked_causes(optimum.problem, optimum.design, optimum.blocked, fixed=bool(fixed))
    return conflict_causes(optimum.problem, optimum.design)


def blocked_causes(
    problem: DesignProblem, x: Floats, blocked: Indices, *, fixed: bool = True
) -> tuple[Cause, ...]:
    """Causes from rows that fail, the worst row of each kind.

    Parameters
    ----------
    problem, x : the study and a design
    blocked : positions among the counting rows
    fixed : whether they fail whatever the design
    """
    rows = problem.values_only(x)[1]
    causes: dict[str, Cause] = {}
    for at in sorted(blocked, key=lambda n: float(rows[n])):
        label = problem.counting_labels[at]
        cause = Cause(label.group, problem.describe(label), 1.0, float(rows[at]), fixed)
        causes.setdefault(label.group, cause)
    return tuple(causes.values())


class KindOfRow(NamedTuple):
    """Rows of one kind that carry weight: the heaviest, their places, and the weight of all."""

    heaviest: RowLabel
    places: list[int]
    weight: float


def kinds_of_rows(problem: DesignProblem, weights: Floats) -> list[KindOfRow]:
    """Kinds of rows by the weight of their counting rows, the heaviest kind first."""
    groups: dict[str, list[int]] = {}
    for at in np.flatnonzero(weights > 0.0):
        groups.setdefault(problem.counting_labels[at].group, []).append(int(at))
    kinds = []
    for own in groups.values():
        heaviest = problem.counting_labels[own[int(weights[own].argmax())]]
        kinds.append(KindOfRow(heaviest, own, float(weights[own].sum())))
    return sorted(kinds, key=lambda kind: -kind.weight)


def conflict_causes(problem: DesignProblem, x: Floats) -> tuple[Cause, ...]:
    """Causes at a design of least violation, by the weights of the rows that hold it up.

    Parameters
    ----------
    problem, x : the study and the design of least violation
    """
    value = problem.evaluate(x)
    weights = row_weights(problem, x, value.rows, value.row_slopes)
    return tuple(
        Cause(row.group, problem.describe(row), weight, float(value.rows[places].min()), False)
        for row, places, weight in kinds_of_rows(problem, weights)
        if weight >= LEAST_SHARE
    )


def row_weights(problem: DesignProblem, x: Floats, rows: Floats, slopes: Floats) -> Floats:
    """Weights of the counting rows at a design of least violation, sum one.

    Parameters
    ----------
    problem, x : the study and the design
    rows, slopes : counting rows and their derivatives in the scaled active variables
    """
    worst = float(rows.min())
    reach = min(CLOSE + SPREAD * abs(worst), 0.5 * abs(worst))
    moved = np.abs(slopes).max(axis=1) > CONSTANT
    near = np.flatnonzero((rows <= worst + reach) & moved)
    if near.size == 0:
        return np.zeros(rows.size)
    low, high = at_bounds(problem, x)
    # a row's own size of slope says nothing about its weight: left as it is
    columns = with_bound_columns(slopes[near].T, low, high)
    total = np.zeros((1, columns.shape[1]))
    total[0, : near.size] = WEIGHT_OF_SUM
    goal = np.append(np.zeros(low.size), WEIGHT_OF_SUM)
    solution, _ = nnls(np.vstack([columns, total]), goal)
    weights = np.zeros(rows.size)
    weights[near] = solution[: near.size] / max(float(solution[: near.size].sum()), 1e-30)
    return weights
