"""Knobs turned together with the design: the least relaxation at which every row holds.

A knob is turned along its cost: a number that starts at zero, grows in the easier direction and is
comparable between knobs. Costs are variables of an elastic problem beside those of the design:
minimise ``sum of costs + rho s`` subject to ``rows(x, costs) + s >= 0``. The parameters follow a
knob linearly, so its direction in theta is exact; where they do not, the origin is moved to the
solution and the problem solved again.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from scipy.optimize import nnls

from mdo.arrays import Floats, Indices
from mdo.defend.conflicts.turning_costs import BY_RATIO, cost_of, measure_of, value_at, value_slope
from mdo.optimise.descent import Functions, slsqp
from mdo.optimise.idle_rows import FEASIBLE, beside, distinct
from mdo.optimise.knobs import Knob, parameters_with, turned
from mdo.optimise.newton_end import at_bounds, with_bound_columns
from mdo.optimise.problem import DesignProblem
from mdo.study.reader import StudyError

PENALTY = 300.0  # rho: the slack goes first wherever a row gains 1/300 by a cost of one
BISECTIONS = 8
LINEAR = 1e-9  # relative departure of theta from its line that counts as linear
CONSTANT = 1e-12  # slope below which a row does not move
ITERATIONS, TOLERANCE = 200, 1e-8  # of SLSQP
NEAR = 1e-5  # rows this close to the worst one may hold the slack up
REBASED = 4  # times that the origin is moved where theta is not linear


def _easy_end(problem: DesignProblem, knob: Knob) -> float:
    """Largest cost of a knob that the study may have; 0 where there is no room.

    None either where it has no present value to compare with.
    """
    end = knob.high if knob.easier > 0 else knob.low
    room = math.isfinite(end) and knob.easier * (end - knob.value) > 0.0
    if not room or (measure_of(knob) == BY_RATIO and knob.value <= 0.0):
        return 0.0
    top = cost_of(knob, end)
    if _parameters(problem, knob, top) is not None:
        return top
    good, bad = 0.0, top
    for _ in range(BISECTIONS):
        middle = (good + bad) / 2.0
        if _parameters(problem, knob, middle) is None:
            bad = middle
        else:
            good = middle
    return good


def _parameters(problem: DesignProblem, knob: Knob, cost: float) -> Floats | None:
    """Parameters with a knob at a cost; None where the study may not have it."""
    try:
        return parameters_with(problem, knob.fields(value_at(knob, cost)))
    except StudyError:
        return None


@dataclass(frozen=True)
class Turning:
    """Some knobs of a study, free to turn.

    Attributes
    ----------
    problem
        The study as it is.
    knobs, limits
        What turns, and the largest cost of each.
    origin, theta
        Values of the knobs at which the parameters are known, and the parameters there.
    directions
        Change of the parameters per unit of each knob, shape (knobs, parameters).
    follows
        Whether the parameters follow each knob exactly along its direction.
    """

    problem: DesignProblem
    knobs: tuple[Knob, ...]
    limits: tuple[float, ...]
    origin: Floats
    theta: Floats
    directions: Floats
    follows: tuple[bool, ...]

    @property
    def linear(self) -> bool:
        """Whether the parameters follow all knobs exactly along the directions."""
        return all(self.follows)

    def only(self, numbers: Sequence[int]) -> Turning:
        """Return some of the knobs, free to turn; the others stay as they are."""
        chosen = list(numbers)
        return replace(
            self,
            knobs=tuple(self.knobs[number] for number in chosen),
            limits=tuple(self.limits[number] for number in chosen),
            origin=self.origin[chosen],
            directions=self.directions[chosen],
            follows=tuple(self.follows[number] for number in chosen),
        )

    def values(self, costs: Sequence[float] | Floats) -> Floats:
        """Values of the knobs at costs (SI)."""
        return np.array([value_at(k, float(c)) for k, c in zip(self.knobs, costs, strict=True)])

    def near(self, costs: Sequence[float] | Floats) -> DesignProblem:
        """Problem at costs, by the directions: fast, exact where the turning is linear."""
        moved = (self.values(costs) - self.origin) @ self.directions
        return self.problem.with_theta(self.theta + moved)

    def changed(self, costs: Sequence[float] | Floats) -> DesignProblem:
        """Problem at costs by the shortest way that is exact."""
        return self.near(costs) if self.linear else self.at(self.values(costs))

    def at(self, values: Floats) -> DesignProblem:
        """Problem of the study with its knobs at values (SI)."""
        settings = dict(zip(self.knobs, (float(value) for value in values), strict=True))
        return turned(self.problem, settings)

    def row_slopes(
        self, problem: DesignProblem, x: Floats, costs: Sequence[float] | Floats
    ) -> Floats:
        """Derivatives of the counting rows by the costs at a design, shape (knobs, rows)."""
        if not self.knobs:
            return np.zeros((0, problem.counting.size))
        rates = [value_slope(k, float(c)) for k, c in zip(self.knobs, costs, strict=True)]
        along = self.directions * np.array(rates)[:, None]
        slopes = problem.chain.slopes(x, problem.theta, problem.prelude, along).rows
        return np.asarray(slopes)[:, problem.counting]

    def rebased(self, costs: Sequence[float] | Floats) -> Turning:
        """Turning with its origin at costs."""
        values = self.values(costs)
        return replace(self, origin=values, theta=np.asarray(self.at(values).theta))


def turning(problem: DesignProblem, knobs: Sequence[Knob]) -> Turning:
    """Knobs free to turn, with their directions in the parameters."""
    theta = np.asarray(problem.theta)
    limits = tuple(_easy_end(problem, knob) for knob in knobs)
    directions = np.zeros((len(knobs), theta.size))
    follows = [True] * len(knobs)
    for number, (knob, limit) in enumerate(zip(knobs, limits, strict=True)):
        if limit > 0.0:
            end, part = value_at(knob, limit), value_at(knob, 0.3 * limit)
            at_end, partly = (parameters_with(problem, knob.fields(v)) for v in (end, part))
            directions[number] = (at_end - theta) / (end - knob.value)
            off = np.abs(theta + directions[number] * (part - knob.value) - partly)
            follows[number] = bool((off <= LINEAR * (np.abs(partly) + 1e-3)).all())
    origin = np.array([knob.value for knob in knobs])
    return Turning(problem, tuple(knobs), limits, origin, theta, directions, tuple(follows))


class Relaxed(NamedTuple):
    """Design and costs at which the rows hold but for a slack."""

    design: Floats
    costs: Floats
    slack: float


class _Rows:
    """Rows of a turning over scaled design and costs, with derivatives; each point once."""

    def __init__(self, turning: Turning, start: Floats, rows: Indices) -> None:
        self.turning, self.rows = turning, rows
        self._whole = turning.problem.scale(start)
        self._free = np.flatnonzero(turning.problem.active)
        self._seen: tuple[bytes, Floats, Floats] | None = None

    def split(self, y: Floats) -> tuple[Floats, Floats]:
        """Design vector and costs of the variables."""
        problem = self.turning.problem
        whole = self._whole.copy()
        whole[self._free] = y[: self._free.size]
        design = problem.clip(problem.unscale(whole))
        return design, y[self._free.size :]

    def __call__(self, y: Floats) -> tuple[Floats, Floats]:
        """Rows, shape (rows,), and their derivatives, shape (rows, variables)."""
        key = y.tobytes()
        if self._seen is None or self._seen[0] != key:
            x, costs = self.split(y)
            problem = self.turning.near(costs)
            value = problem.evaluate(x)
            turned_slopes = self.turning.row_slopes(problem, x, costs)[:, self.rows].T
            slopes = np.hstack([value.row_slopes[self.rows], turned_slopes])
            self._seen = (key, value.rows[self.rows], slopes)
        return self._seen[1], self._seen[2]


def rows_in_play(turning: Turning, x: Floats) -> Indices:
    """Positions among the counting rows of those worth giving to a solver.

    Rows with equal values and equal slopes in design and knobs at two designs are one row said
    twice. A row that no design variable moves counts where a knob moves it or where it fails.
    """
    nothing = np.zeros(len(turning.knobs))
    problem = turning.near(nothing)
    first, second = problem.evaluate(x), problem.evaluate(beside(problem, x))
    moved = turning.row_slopes(problem, x, nothing)
    unique = distinct([first.rows, second.rows, first.row_slopes, moved.T])
    slopes = np.hstack([first.row_slopes, second.row_slopes, moved.T])
    matters = (np.abs(slopes).max(axis=1) > CONSTANT) | (first.rows < -FEASIBLE)
    return np.intersect1d(unique, np.flatnonzero(matters))


def least_relaxation(
    turning: Turning, start: Floats, costs: Sequence[float] | Floats, rows: Indices
) -> Relaxed:
    """Least sum of costs at which the rows hold, else the least slack, from one start.

    Parameters
    ----------
    turning : what may turn
    start, costs : first design and first costs
    rows : positions among the counting rows of those to hold
    """
    relaxed = _elastic(turning, start, np.asarray(costs, dtype=float), rows)
    for _ in range(REBASED):
        if turning.linear or not turning.knobs:
            break
        turning = turning.rebased(relaxed.costs)
        before, relaxed = relaxed, _elastic(turning, relaxed.design, relaxed.costs, rows)
        if np.abs(relaxed.costs - before.costs).max() <= 1e-7:
            break
    return relaxed


def _elastic(turning: Turning, start: Floats, costs: Floats, rows: Indices) -> Relaxed:
    call = _Rows(turning, start, rows)
    problem = turning.problem
    active = problem.active
    lower = np.append(problem.scale(problem.lower)[active], np.zeros(costs.size))
    upper = np.append(problem.scale(problem.upper)[active], turning.limits)
    y = np.clip(np.append(problem.scale(start)[active], costs), lower, upper)
    weights = np.append(np.zeros(active.sum()), np.ones(costs.size))
    functions = Functions(
        lambda v: float(weights @ v), lambda _: weights, lambda v: call(v)[0], lambda v: call(v)[1]
    )
    result = slsqp(
        functions, y, lower, upper,
        penalty=PENALTY, iterations=ITERATIONS, tolerance=TOLERANCE,
    )  # fmt: skip
    best = np.clip(result.x[:-1], lower, upper)
    design, reached = call.split(best)
    return Relaxed(design, reached, max(0.0, -float(call(best)[0].min())))


class Certificate(NamedTuple):
    """Why the slack of a least relaxation cannot be less with these costs.

    Attributes
    ----------
    weights
        Of the counting rows, sum 1: the weighted rows have no slope in the design, so no design
        makes all of them better at once.
    gains
        What a unit of cost of each knob takes off the slack, to first order.
    residual
        Norm of the weighted slope that is left.
    """

    weights: Floats
    gains: Floats
    residual: float


def certify(turning: Turning, at: Relaxed, rows: Indices, free: Sequence[int]) -> Certificate:
    """Weights of the rows that hold the slack up at a least relaxation, by least squares.

    Parameters
    ----------
    turning, at : what may turn and the least relaxation; gains are those of all its knobs
    rows : positions among the counting rows of those to hold
    free : places of the knobs whose costs were variables, where a slack is left: the weights
        leave no gain to them, but for what the costs themselves weigh
    """
    x, costs, _ = at
    problem = turning.near(costs)
    value = problem.evaluate(x)
    slopes = turning.row_slopes(problem, x, costs)
    worst = float(value.rows[rows].min())
    tight = rows[value.rows[rows] <= worst + NEAR]
    low, high = at_bounds(problem, x)
    own = list(free)
    paid, ends = costs[own], np.array(turning.limits)[own]
    low = np.append(low, paid <= NEAR)
    high = np.append(high, paid >= ends * (1.0 - NEAR))
    matrix = np.vstack([value.row_slopes[tight].T, slopes[own][:, tight]])
    matrix = with_bound_columns(matrix, low, high)
    right = np.append(np.zeros(problem.active.sum()), np.full(len(own), 1.0 / PENALTY))
    total = np.zeros((1, matrix.shape[1]))
    total[0, : tight.size] = 1.0
    solution, _ = nnls(np.vstack([matrix, total]), np.append(right, 1.0))
    share = max(float(solution[: tight.size].sum()), 1e-30)
    weights = np.zeros(value.rows.size)
    weights[tight] = solution[: tight.size] / share
    left = matrix @ solution / share - right
    return Certificate(weights, slopes @ weights, float(np.linalg.norm(left)))
