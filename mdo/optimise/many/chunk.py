"""One chunk of points: solved, told apart, and written down as columns.

Verdicts are checked by the count problem (see :mod:`mdo.optimise.starts`): with tube, stress and
twist of a design given, the tubes that each set needs against loads and the drag of the other set
are a linear problem; where it has no solution no number of such tubes works.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

import jax
import numpy as np

from mdo.arrays import Booleans, Floats, Indices
from mdo.model.chain import Chain
from mdo.model.layout import design_labels
from mdo.model.requirements import REQUIREMENTS
from mdo.model.system import OBJECTIVE
from mdo.optimise.axes import Parameters
from mdo.optimise.batch.iteration import INFEASIBLE as LEAST_VIOLATION
from mdo.optimise.batch.iteration import OPTIMAL
from mdo.optimise.batch.solve import Solution
from mdo.optimise.blocks import block_size, in_blocks
from mdo.optimise.levels.interpolation import EXACT, Interpolation
from mdo.optimise.many.model import OUTPUTS, Goal
from mdo.optimise.many.points import PointSolver, Solved, axis_costs, point_solver, solve_points
from mdo.optimise.many.solution import HOLDS, Optima, Words, columns_of
from mdo.optimise.starts import FEW, PROBED, least_counts
from mdo.optimise.status import FEASIBLE, INFEASIBLE, OPEN, SETTLED
from mdo.results.work import Columns

CARRIES = 1e-5  # share of the largest multiplier from which a row is active
BLAMED = 0.02  # share of the multipliers of a violation from which a row is a reason
BLOCK, WIDE_BLOCK = 64, 4096


def solve_chunk(context: str, payload: Mapping[str, Any]) -> Columns:
    """Solve the points of a chunk.

    Parameters
    ----------
    context : of :func:`mdo.optimise.many.points.point_context`
    payload : ``points``, ``designs``, ``hessians`` (rows of lower triangles, zeros where unknown),
        ``weights``, ``limits``, ``costs`` (whether the slopes along the axes are wanted), and the
        arrays of an interpolation of corrections where there is one
    """
    solver = point_solver(context)
    interpolation = Interpolation.sent(payload)
    solver = solver._replace(parametric=solver.parametric.interpolating(interpolation))
    points = np.asarray(payload["points"], dtype=float)
    goal = Goal(np.asarray(payload["weights"]), np.asarray(payload["limits"]))
    hessian = symmetric(np.asarray(payload["hessians"]), len(solver.variables))
    solved = solve_points(solver, points, np.asarray(payload["designs"]), goal, hessian)
    end = solved.end
    status = statuses(end)
    good = status == FEASIBLE
    blocks = titles(solver, end.multipliers, BLAMED)
    costs, harder = np.full((2, len(points), len(solver.parametric.axes)), np.nan)
    if payload["costs"]:
        of_objective, of_violation = axis_costs(solver, points, solved, goal)
        costs[good], harder[~good] = of_objective[good], of_violation[~good]
    reason = np.where(status == OPEN, "the optimiser did not settle", blocks)
    optima = Optima(
        status=status, reason=np.where(good, "", reason).astype(object),
        active=titles(solver, end.multipliers, CARRIES), blocks=blocks,
        objective=end.f, violation=end.violation, kkt_residual=end.residual,
        iterations=end.iterations,
        counts_exist=counts_exist(solver.problem.chain, solved.parameters, solved.designs),
        outputs=solved.outputs, times=solved.times, designs=solved.designs,
        costs=costs, harder=harder, limit_costs=limit_costs(end.multipliers, goal.limits, good),
        hessians=packed(end.hessian), bound=_bounds(interpolation, points, solved, goal),
    )  # fmt: skip
    return columns_of(optima)


def _bounds(
    interpolation: Interpolation | None, points: Floats, solved: Solved, goal: Goal
) -> Floats:
    """Bounds on the error of the objective by what is interpolated."""
    if interpolation is None:
        return np.zeros(len(points))
    counts, end = solved.parameters.counts, solved.end
    of_mass = goal.weights[:, [OUTPUTS.index(OBJECTIVE)]]
    carried = np.hstack([of_mass, -end.multipliers[:, : counts.shape[1]]])
    bounds = interpolation.bounds(points, carried, counts)
    return np.where(np.isfinite(end.f), bounds + EXACT * np.abs(end.f), np.inf)


def limit_costs(multipliers: Floats, limits: Floats, good: Booleans) -> Floats:
    """Slopes of the optimal objective along limits of the outputs, SI; 0 where there is none."""
    slopes = np.where(np.isfinite(limits), -multipliers[:, -len(OUTPUTS) :] / limits, 0.0)
    return np.where(good[:, None], slopes, np.nan)


def statuses(end: Solution) -> Words:
    """Say of every end whether it is a feasible optimum, the least violation, or neither."""
    settled = (end.residual <= SETTLED) & (end.violation <= HOLDS)
    status = np.where((end.status == OPTIMAL) | settled, FEASIBLE, OPEN)
    return np.where(end.status == LEAST_VIOLATION, INFEASIBLE, status).astype(object)


def titles(solver: PointSolver, multipliers: Floats, share: float) -> Words:
    """Titles of the rows that carry at least a share of the largest multiplier, heaviest first."""
    names = np.array([label.group for label in solver.problem.rows.labels])
    groups = [*dict.fromkeys(names)]
    rows, limits = np.split(multipliers, [names.size], axis=1)
    table = np.column_stack([*(rows[:, names == name].sum(axis=1) for name in groups), limits])
    words = [REQUIREMENTS[name].title for name in groups] + [f"Limit of {n}" for n in OUTPUTS]
    said = np.empty(len(table), dtype=object)
    for place, row in enumerate(table):
        least = share * max(float(row.max(initial=0.0)), 1e-300)
        order = np.argsort(-row, kind="stable")
        said[place] = "; ".join(words[n] for n in order if row[n] > least)
    return said


def packed(matrices: Floats) -> Floats:
    """Lower triangles of symmetric matrices, one row each."""
    rows, columns = np.tril_indices(matrices.shape[1])
    return matrices[:, rows, columns]


def symmetric(rows: Floats, size: int) -> Floats:
    """Symmetric matrices of their lower triangles."""
    row, column = np.tril_indices(size)
    matrices = np.zeros((len(rows), size, size))
    matrices[:, row, column] = matrices[:, column, row] = rows
    return matrices


@lru_cache(maxsize=4)
def _probes(chain: Chain) -> Any:
    def probed(x: Any, theta: Any, prelude: Any) -> dict[str, Any]:
        values = chain.evaluate_chain(x, theta, prelude)
        return {name: values[name] for name in PROBED}

    return chain.compiled("probes of the count problem", jax.vmap(probed))


def counts_exist(chain: Chain, parameters: Parameters, designs: Floats) -> Booleans:
    """Whether counts of the two sets exist for the tubes of each design."""
    probes = designs.copy()
    probes[:, [label.startswith("tube_count") for label in design_labels()]] = FEW

    def solvable(places: Indices) -> Booleans:
        chosen = parameters.take(places)
        values = _probes(chain)(probes[places], chosen.theta, chosen.prelude)
        return least_counts(jax.tree.map(np.asarray, values))[1]

    exist: Booleans = in_blocks(solvable, len(designs), block_size(BLOCK, WIDE_BLOCK))
    return exist
