"""Rows that a solver is not given: copies of others, and rows that no design moves.

Two rows may be alike, and a row flat, about one design and not elsewhere. So a row is said to fail
whatever the design only where it does all over the bounds, and whoever leaves out copies looks at
every row again where the solver ends (:func:`mdo.optimise.optimum.find_optimum`).
"""

from __future__ import annotations

import numpy as np

from mdo.arrays import Floats, Indices
from mdo.optimise.problem import DesignProblem

FEASIBLE = 1e-6  # largest violation of a normalised row that counts as feasible
SPREAD_OUT = (0.0, 0.2, 0.5, 0.8)  # shares of the bounds at which rows are compared
SCATTERED = 64  # designs all over the bounds at which rows flat between those are compared again
SEED = 0  # of them
CONSTANT = 1e-9


def given_rows(problem: DesignProblem, x: Floats) -> tuple[Indices, Indices]:
    """Counting rows to give to a solver from a design on, and rows that fail whatever the design.

    A row that fails and is flat where a start stands, but not all over the bounds (a return with so
    many tubes that their stress vanishes), is given: while everything else is relaxed by as much,
    the solver moves to lighter designs, until the row has a slope.
    """
    keep, flat = distinct_rows(problem, x)
    blocked = np.intersect1d(flat, blocked_rows(problem)) if flat.size else flat
    return np.union1d(keep, np.setdiff1d(flat, blocked)), blocked


def distinct_rows(problem: DesignProblem, x: Floats) -> tuple[Indices, Indices]:
    """Counting rows that differ about a design and move there, and rows that fail and do not move.

    Rows with equal values and slopes at two designs are one row said twice (two cases in the same
    bay, say): the copies only make multipliers ambiguous. Rows without slope are constants. Both
    hold about the design only. There it is all that optimality takes: rows left out have the value
    and slope of one that is kept, or no slope. A solver that goes on from there must take what it
    ends at as a start again (a trust region does at each step), or look at every row.
    """
    first = problem.evaluate(x)
    second = problem.evaluate(beside(problem, x))
    steepest = np.maximum(np.abs(first.row_slopes), np.abs(second.row_slopes)).max(axis=1)
    constant = steepest < 1e-12
    unique = distinct([first.rows, second.rows, first.row_slopes])
    keep = np.setdiff1d(unique, np.flatnonzero(constant))
    return keep, np.flatnonzero(constant & (first.rows < -FEASIBLE))


def distinct(columns: list[Floats]) -> Indices:
    """Positions of rows that differ in some column, the first one of every set of copies."""
    rows = np.round(np.column_stack(columns), 10) + 0.0  # no zero is below zero
    first: dict[bytes, int] = {}
    for place, row in enumerate(rows):
        first.setdefault(row.tobytes(), place)
    return np.fromiter(first.values(), dtype=np.intp)


def beside(problem: DesignProblem, x: Floats) -> Floats:
    """Another design near a given one, all active variables moved by unequal steps."""
    shift = np.where(problem.active, 0.03, 0.0) * np.cos(np.arange(x.size))
    return problem.clip(problem.unscale(problem.scale(x) + shift))


def rows_that_differ(problem: DesignProblem, x: Floats) -> Indices:
    """Counting rows of which none is a copy of another about a design and at others far from it.

    For a solver that is not looked after: what is left out holds wherever one that is kept does.
    """
    spread = _rows_at(problem, _spread_out(problem))
    here = problem.evaluate(x)
    moves = (np.abs(here.row_slopes).max(axis=1) >= 1e-12) | (np.ptp(spread, axis=0) > CONSTANT)
    unique = distinct([here.rows, *spread, here.row_slopes])
    return np.setdiff1d(unique, np.flatnonzero(~moves))


def blocked_rows(problem: DesignProblem) -> Indices:
    """Positions among the counting rows of those that fail by the same at every design looked at.

    No optimisation: rows without slope are compared at designs spread over the bounds, since a row
    may be flat at one of them only. Where some are flat along the middle of the bounds (a return
    with so many tubes that their stress vanishes), they are compared at designs all over them.
    """
    rows = _rows_at(problem, _spread_out(problem))
    if (failing := _failing(rows)).size:
        from scipy.stats import qmc  # slow to import, seldom needed

        sequence = qmc.Sobol(problem.lower.size, scramble=True, rng=SEED)
        failing = _failing(np.vstack([rows, _rows_at(problem, sequence.random(SCATTERED))]))
    return failing


def _spread_out(problem: DesignProblem) -> Floats:
    return np.repeat(np.array(SPREAD_OUT)[:, np.newaxis], problem.lower.size, axis=1)


def _rows_at(problem: DesignProblem, shares: Floats) -> Floats:
    """Counting rows at designs given by shares of the scaled bounds."""
    lower, upper = problem.scale(problem.lower), problem.scale(problem.upper)
    designs = problem.unscale(lower + shares * (upper - lower))
    return np.array([problem.values_only(design)[1] for design in designs])


def _failing(rows: Floats) -> Indices:
    """Positions of rows that fail by the same at every design."""
    return np.flatnonzero((np.ptp(rows, axis=0) <= CONSTANT) & (rows[0] < -FEASIBLE))
