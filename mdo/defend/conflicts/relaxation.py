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
from numpy.typing import NDArray
from scipy.optimize import minimize, nnls

from mdo.defend.conflicts.turning_costs import BY_RATIO, cost_of, measure_of, value_at, value_slope
from mdo.optimise.knobs import Knob, turned
from mdo.optimise.newton_end import at_bounds
from mdo.optimise.optimum import FEASIBLE
from mdo.optimise.problem import DesignProblem
from mdo.study.reader import StudyError

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
PENALTY = 300.0  # rho: the slack goes first wherever a row gains 1/300 by a cost of one
BISECTIONS = 8
LINEAR = 1e-9  # relative departure of theta from its line that counts as linear
CONSTANT = 1e-12  # slope below which a row does not move
ITERATIONS, TOLERANCE = 200, 1e-8  # of SLSQP
NEAR = 1e-5  # rows this close to the worst one may hold the slack up
REBASED = 4  # times that the origin is moved where theta is not linear


class _End(NamedTuple):
    """Easy end of a knob's range, as far as the study may go: cost, and the parameters there."""

    cost: float
    theta: Floats


def _easy_end(problem: DesignProblem, knob: Knob) -> _End:
    """End of the room of a knob; cost 0 where it has none or no present value to compare with."""
    present = _End(0.0, np.asarray(problem.theta))
    end = knob.high if knob.easier > 0 else knob.low
    room = math.isfinite(end) and knob.easier * (end - knob.value) > 0.0
    if not room or (measure_of(knob) == BY_RATIO and knob.value <= 0.0):
        return present
    top = cost_of(knob, end)
    theta = _parameters(problem, knob, top)
    if theta is not None:
        return _End(top, theta)
    good, bad = present, top
    for _ in range(BISECTIONS):
        middle = (good.cost + bad) / 2.0
        theta = _parameters(problem, knob, middle)
        if theta is None:
            bad = middle
        else:
            good = _End(middle, theta)
    return good


def _parameters(problem: DesignProblem, knob: Knob, cost: float) -> Floats | None:
    """Parameters with a knob at a cost; None where the study may not have it."""
    try:
        return np.asarray(turned(problem, {knob: value_at(knob, cost)}).theta)
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
    linear
        Whether the parameters follow the knobs exactly along the directions.
    """

    problem: DesignProblem
    knobs: tuple[Knob, ...]
    limits: tuple[float, ...]
    origin: Floats
    theta: Floats
    directions: Floats
    linear: bool

    def values(self, costs: Sequence[float] | Floats) -> Floats:
        """Values of the knobs at costs (SI)."""
        return np.array([value_at(k, float(c)) for k, c in zip(self.knobs, costs, strict=True)])

    def near(self, costs: Sequence[float] | Floats) -> DesignProblem:
        """Problem at costs, by the directions: fast, exact where the turning is linear."""
        theta = self.theta + (self.values(costs) - self.origin) @ self.directions
        chain = self.problem.chain
        return replace(self.problem, theta=theta, prelude=chain.prelude(theta))

    def exact(self, costs: Sequence[float] | Floats) -> DesignProblem:
        """Problem of the study with its knobs at costs, assembled anew."""
        return self.at(self.values(costs))

    def changed(self, costs: Sequence[float] | Floats) -> DesignProblem:
        """Problem at costs by the shortest way that is exact; its study is the unchanged one."""
        return self.near(costs) if self.linear else self.exact(costs)

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
    limits, directions, linear = [], [], True
    for knob in knobs:
        end = _easy_end(problem, knob)
        limits.append(end.cost)
        if end.cost <= 0.0:
            directions.append(np.zeros_like(theta))
            continue
        slope = (end.theta - theta) / (value_at(knob, end.cost) - knob.value)
        directions.append(slope)
        part = value_at(knob, 0.3 * end.cost)
        partly = np.asarray(turned(problem, {knob: part}).theta)
        off = np.abs(theta + slope * (part - knob.value) - partly)
        linear &= bool((off <= LINEAR * (np.abs(partly) + 1e-9)).all())
    return Turning(
        problem=problem,
        knobs=tuple(knobs),
        limits=tuple(limits),
        origin=np.array([knob.value for knob in knobs]),
        theta=theta,
        directions=np.array(directions).reshape(len(limits), theta.size),
        linear=linear,
    )


def joined(parts: Sequence[Turning]) -> Turning:
    """Turnings of one study as one, from their present values."""
    return Turning(
        parts[0].problem,
        tuple(knob for part in parts for knob in part.knobs),
        tuple(limit for part in parts for limit in part.limits),
        np.concatenate([part.origin for part in parts]),
        parts[0].theta,
        np.concatenate([part.directions for part in parts]),
        all(part.linear for part in parts),
    )


class Relaxed(NamedTuple):
    """Design and costs at which the rows hold but for a slack; how many iterations it took."""

    design: Floats
    costs: Floats
    slack: float
    iterations: int


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
        design = np.clip(problem.unscale(whole), problem.lower, problem.upper)
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
    problem = turning.near(np.zeros(len(turning.knobs)))
    shift = np.where(problem.active, 0.03, 0.0) * np.cos(np.arange(x.size))
    other = problem.unscale(problem.scale(x) + shift)
    first = problem.evaluate(x)
    second = problem.evaluate(np.clip(other, problem.lower, problem.upper))
    moved = turning.row_slopes(problem, x, np.zeros(len(turning.knobs)))
    columns = [first.rows, second.rows, first.row_slopes, moved.T]
    signature = np.round(np.column_stack(columns), 10)
    _, unique = np.unique(signature, axis=0, return_index=True)
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
    found = _elastic(turning, start, np.asarray(costs, dtype=float), rows)
    for _ in range(REBASED):
        if turning.linear or not len(turning.knobs):
            break
        turning = turning.rebased(found.costs)
        again = _elastic(turning, found.design, found.costs, rows)
        settled = np.abs(again.costs - found.costs).max() <= 1e-7
        found = again
        if settled:
            break
    return found


def _elastic(turning: Turning, start: Floats, costs: Floats, rows: Indices) -> Relaxed:
    call = _Rows(turning, start, rows)
    problem = turning.problem
    active = problem.active
    lower = np.append(problem.scale(problem.lower)[active], np.zeros(costs.size))
    upper = np.append(problem.scale(problem.upper)[active], turning.limits)
    y = np.clip(np.append(problem.scale(start)[active], costs), lower, upper)
    slack = max(0.0, -float(call(y)[0].min()))
    weights = np.concatenate([np.zeros(active.sum()), np.ones(costs.size), [PENALTY]])
    ones = np.ones((rows.size, 1))
    result = minimize(
        lambda v: float(weights @ v),
        np.append(y, slack),
        jac=lambda _: weights,
        bounds=[*zip(lower, upper, strict=True), (0.0, None)],
        constraints=[
            {
                "type": "ineq",
                "fun": lambda v: call(v[:-1])[0] + v[-1],
                "jac": lambda v: np.hstack([call(v[:-1])[1], ones]),
            }
        ],
        method="SLSQP",
        options={"maxiter": ITERATIONS, "ftol": TOLERANCE},
    )
    best = np.clip(result.x[:-1], lower, upper)
    design, reached = call.split(best)
    return Relaxed(design, reached, max(0.0, -float(call(best)[0].min())), int(result.nit))


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


def certify(
    turning: Turning,
    costs: Sequence[float] | Floats,
    x: Floats,
    rows: Indices,
    *,
    turned_ones: Sequence[int] = (),
) -> Certificate:
    """Weights of the rows that hold the slack up at a least relaxation, by least squares.

    Parameters
    ----------
    turning, costs : what may turn and where it stands; gains are those of all its knobs
    x, rows : design and rows of the least relaxation
    turned_ones : places of the knobs whose costs were variables, where a slack is left: the weights
        leave no gain to them, but for what the costs themselves weigh
    """
    problem = turning.near(costs)
    value = problem.evaluate(x)
    slopes = turning.row_slopes(problem, x, costs)
    worst = float(value.rows[rows].min())
    tight = rows[value.rows[rows] <= worst + NEAR]
    low, high = at_bounds(problem, x)
    own = list(turned_ones)
    at, ends = np.asarray(costs)[own], np.array(turning.limits)[own]
    low = np.append(low, at <= NEAR)
    high = np.append(high, at >= ends * (1.0 - NEAR))
    unit = np.eye(low.size)
    matrix = np.vstack([value.row_slopes[tight].T, slopes[own][:, tight]])
    matrix = np.hstack([matrix, unit[:, low], -unit[:, high]])
    right = np.append(np.zeros(problem.active.sum()), np.full(len(own), 1.0 / PENALTY))
    total = np.zeros((1, matrix.shape[1]))
    total[0, : tight.size] = 1.0
    solution, _ = nnls(np.vstack([matrix, total]), np.append(right, 1.0))
    share = max(float(solution[: tight.size].sum()), 1e-30)
    weights = np.zeros(value.rows.size)
    weights[tight] = solution[: tight.size] / share
    left = matrix @ solution / share - right
    return Certificate(weights, slopes @ weights, float(np.linalg.norm(left)))
