"""One chunk of points: solved, told apart, and written down as columns."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mdo.model.requirements import REQUIREMENTS
from mdo.optimise.batch.iteration import INFEASIBLE, OPTIMAL
from mdo.optimise.batch.lanes import Ends
from mdo.optimise.many.count_check import counts_exist
from mdo.optimise.many.model import OUTPUTS, Goal
from mdo.optimise.many.solver import Bench, bench_in
from mdo.results.work import Columns

Floats = NDArray[np.float64]
FEASIBLE, NONE, OPEN = "feasible", "infeasible", "not settled"
SETTLED = 1e-5  # KKT residual with which a lane that can gain nothing more counts as an optimum
HOLDS = 1e-8
CARRIES = 1e-5  # share of the largest multiplier from which a row is active
BLAMED = 0.02  # share of the multipliers of a violation from which a row is a reason


def solve_chunk(context: str, payload: Mapping[str, Any]) -> Columns:
    """Solve the points of a chunk.

    Parameters
    ----------
    context : of :func:`mdo.optimise.many.solver.bench_context`
    payload : ``points``, ``designs``, ``hessians`` (rows of lower triangles, zeros where unknown),
        ``weights``, ``limits``, ``costs`` (whether the slopes along the axes are wanted)
    """
    bench = bench_in(context)
    points = np.asarray(payload["points"], dtype=float)
    goal = Goal(np.asarray(payload["weights"]), np.asarray(payload["limits"]))
    hessian = symmetric(np.asarray(payload["hessians"]), int(bench.active.sum()))
    solved = bench.solve(points, np.asarray(payload["designs"]), goal, hessian)
    ends = solved.ends
    status = statuses(ends)
    blocks = titles(bench, ends.multipliers, BLAMED)
    slopes = np.full((len(points), len(bench.turner.axes)), np.nan)
    good = status == FEASIBLE
    if payload["costs"] and good.any():
        slopes[good] = bench.costs(points, solved, goal)[good]
    labels = [f"x.{label}" for label in bench.problem.labels]
    costs = [f"cost.{axis.name}" for axis in bench.turner.axes]
    return {
        "status": list(status),
        "objective": ends.f,
        "violation": ends.violation,
        "kkt_residual": ends.residual,
        "iterations": ends.iterations,
        "counts_exist": counts_exist(bench, solved.parameters, solved.designs),
        "active": titles(bench, ends.multipliers, CARRIES),
        "reason": _reasons(status, blocks),
        "blocks": blocks,
        **{name: solved.outputs[:, n] for n, name in enumerate(OUTPUTS)},
        **{name: solved.designs[:, n] for n, name in enumerate(labels)},
        **dict(zip(costs, slopes.T, strict=True)),
        **limit_costs(ends.multipliers, goal.limits, good),
        **{f"hessian.{n}": column for n, column in enumerate(packed(ends.hessian).T)},
    }


def limit_costs(multipliers: Floats, limits: Floats, good: NDArray[np.bool_]) -> dict[str, Floats]:
    """Slopes of the optimal objective along limits of the outputs, SI; 0 where there is none."""
    weights = multipliers[:, -len(OUTPUTS) :]
    slopes = np.where(np.isfinite(limits), -weights / limits, 0.0)
    slopes[~good] = np.nan
    return {f"cost.limit.{name}": slopes[:, n] for n, name in enumerate(OUTPUTS)}


def statuses(ends: Ends) -> NDArray[np.str_]:
    """Say of every end whether it is a feasible optimum, the least violation, or neither."""
    settled = (ends.residual <= SETTLED) & (ends.violation <= HOLDS)
    found = np.where((ends.status == OPTIMAL) | settled, FEASIBLE, OPEN)
    return np.asarray(np.where(ends.status == INFEASIBLE, NONE, found))


def titles(bench: Bench, multipliers: Floats, share: float) -> list[str]:
    """Words for the rows that carry at least a share of the largest multiplier, heaviest first."""
    names = [label.group for label in bench.problem.rows.labels]
    groups = list(dict.fromkeys(names))
    member = np.array([groups.index(name) for name in names])
    weights = np.zeros((len(multipliers), len(groups)))
    for group in range(len(groups)):
        weights[:, group] = multipliers[:, : member.size][:, member == group].sum(axis=1)
    limited = multipliers[:, member.size :]
    words = [REQUIREMENTS[name].title for name in groups] + [f"Limit of {n}" for n in OUTPUTS]
    weights = np.hstack([weights, limited])
    said = []
    for row in weights:
        order = np.argsort(-row, kind="stable")
        most = max(float(row.max(initial=0.0)), 1e-300)
        said.append("; ".join(words[n] for n in order if row[n] > share * most))
    return said


def _reasons(status: NDArray[np.str_], blocks: list[str]) -> list[str]:
    """Why there is no feasible optimum: what stands against each other, or that it is open."""
    known = {FEASIBLE: "", OPEN: "the optimiser did not settle"}
    return [known.get(str(one), words) for one, words in zip(status, blocks, strict=True)]


def triangle(size: int) -> int:
    """Entries of a lower triangle."""
    return size * (size + 1) // 2


def packed(matrices: Floats) -> Floats:
    """Lower triangles of symmetric matrices, one row each."""
    rows, columns = np.tril_indices(matrices.shape[1])
    return matrices[:, rows, columns]


def symmetric(rows: Floats, size: int) -> Floats:
    """Symmetric matrices of their lower triangles."""
    where = np.tril_indices(size)
    found = np.zeros((len(rows), size, size))
    found[:, where[0], where[1]] = rows
    found[:, where[1], where[0]] = rows
    return found
