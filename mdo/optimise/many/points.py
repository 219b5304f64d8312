"""Points of the axes of one study, solved by the batch in one process."""

from __future__ import annotations

from functools import cache, lru_cache
from typing import NamedTuple

import jax
import numpy as np

from mdo.arrays import Booleans, Floats, Indices
from mdo.model.chain import Chain
from mdo.optimise.axes import Axis, Parameters, ParametricProblem, ends_of, written_axes
from mdo.optimise.batch.functions import Compiled, Problems, compile_lanes, placed
from mdo.optimise.batch.iteration import Options, Value
from mdo.optimise.batch.solve import Solution, solve
from mdo.optimise.blocks import block_size, in_blocks
from mdo.optimise.many.model import OUTPUTS, Goal, Lane, least_mass, many_model
from mdo.optimise.problem import DesignProblem
from mdo.optimise.problem_text import options_in, problem_context

WIDTH = 32  # lanes: what stays in the cache of a core
WIDE, NARROW = 16384, 512  # lanes that fill an accelerator, and for the last few problems
OPTIONS = Options(optimal=1e-6, least=1e-2, iterations=60)
FEW = 4  # fills of the narrow lanes that are no more work than the wide ones
# Columns of the longest times of all legs, and the rows that they are read from.
TIMES = {"fold_time_longest": "fold_time_row", "return_time_longest": "return_time_row"}
SMALL_STEP = 1e-4  # of the range of an axis, in central differences of the rows


class PointSolver(NamedTuple):
    """What a process needs to solve points of the axes of one study, made once.

    Attributes
    ----------
    parametric
        The study over its axes.
    variables
        Places of those that move in the design vector.
    lanes, narrow
        Compiled functions; narrow ones for the last few problems on an accelerator.
    """

    parametric: ParametricProblem
    variables: tuple[int, ...]
    lanes: Compiled
    narrow: Compiled | None

    @property
    def problem(self) -> DesignProblem:
        """The study in the middle of its axes."""
        return self.parametric.problem

    @property
    def active(self) -> Booleans:
        """Variables that move."""
        return np.isin(np.arange(len(self.problem.labels)), self.variables)

    @property
    def bounds(self) -> tuple[Floats, Floats]:
        """Bounds of the design vector; variables without meaning stay where the study has them."""
        lower, upper = self.problem.lower.copy(), self.problem.upper.copy()
        fixed = self.active & ~self.problem.active
        middle = np.sqrt(np.maximum(lower, 1e-9) * np.maximum(upper, 1e-9))
        lower[fixed] = upper[fixed] = np.where(lower == upper, lower, middle)[fixed]
        return lower, upper


class Solved(NamedTuple):
    """Points with their ends, :data:`OUTPUTS` there and the longest times of :data:`TIMES`."""

    parameters: Parameters
    end: Solution
    designs: Floats
    outputs: Floats
    times: Floats


def point_context(
    problem: DesignProblem, axes: tuple[Axis, ...], active: Booleans, width: int | None = None
) -> str:
    """Text from which another process makes the same solver."""
    moved = np.flatnonzero(active).tolist()
    return problem_context(
        problem, {"axes": written_axes(axes), "active": moved, "width": width or lane_count()}
    )


def lane_count() -> int:
    """Lanes that suit the device that JAX finds."""
    return block_size(WIDTH, WIDE)


@lru_cache(maxsize=64)
def point_solver(context: str) -> PointSolver:
    """Solver of a context, made once per process."""
    options, parametric = options_in(context), ParametricProblem.of_context(context)
    variables, width = tuple(options["active"]), options["width"]
    chain = parametric.problem.chain
    narrow = _lanes(chain, variables, NARROW) if width > NARROW else None
    return PointSolver(parametric, variables, _lanes(chain, variables, width), narrow)


@cache
def _lanes(chain: Chain, variables: tuple[int, ...], width: int) -> Compiled:
    """Lanes of the compiled chain for these variables; one compile serves every study of it."""
    return Compiled(many_model(chain, np.array(variables)), width=width, options=OPTIONS)


def solve_points(
    solver: PointSolver, points: Floats, designs: Floats, goal: Goal, hessian: Floats | None = None
) -> Solved:
    """Solve points, each from a design and the Hessian of a neighbour."""
    problem, active = solver.problem, solver.active
    parameters = solver.parametric.parameters(points)
    problems = _posed(solver, parameters, goal, designs, hessian)
    if solver.narrow is not None and len(points) <= FEW * NARROW:
        end = solve(solver.narrow, problems)
    else:
        end = solve(solver.lanes, problems, solver.narrow)
    scaled = problem.scale(problems.data.x)
    scaled[:, active] = end.z
    reached = np.clip(problem.unscale(scaled), *solver.bounds)
    reached[:, ~active] = problems.data.x[:, ~active]
    # the rows of the outputs against a limit of one are the outputs
    against_one = problems.data._replace(limits=np.ones_like(goal.limits))
    rows, limited = np.split(_rows(solver, end.z, against_one).c, [-len(OUTPUTS)], axis=1)
    times = longest_times(problem, parameters.theta, rows, parameters.counts)
    return Solved(parameters, end, reached, np.exp(-limited), times)


_COMPILED: set[Compiled] = set()


def compile_points(solver: PointSolver) -> None:
    """Compile all functions of a solver, on all cores at once; the first time only."""
    problem, (lower, upper) = solver.problem, solver.bounds
    middle = problem.unscale(0.5 * (problem.scale(lower) + problem.scale(upper)))
    for lanes in {solver.lanes, solver.narrow or solver.lanes} - _COMPILED:
        parameters = solver.parametric.parameters(solver.parametric.middle[None, :])
        compile_lanes(lanes, _posed(solver, parameters, least_mass(1, 1.0), middle[None, :]))
        _COMPILED.add(lanes)


def _posed(
    solver: PointSolver,
    parameters: Parameters,
    goal: Goal,
    designs: Floats,
    hessian: Floats | None = None,
) -> Problems:
    """Points as problems of one batch, each from its own design.

    Parameters
    ----------
    solver, parameters, goal : of the points
    designs : starts, shape (n, design)
    hessian : from neighbours, shape (n, active, active); zeros where unknown
    """
    problem, active, (lower, upper) = solver.problem, solver.active, solver.bounds
    low, high = (np.tile(problem.scale(end)[active], (len(designs), 1)) for end in (lower, upper))
    start = np.clip(problem.scale(designs)[:, active], low, high)
    counts = np.hstack([parameters.counts, np.isfinite(goal.limits)])
    theta, prelude, _ = parameters
    data = Lane(np.clip(designs, lower, upper), theta, prelude, *goal)
    return Problems(start, low, high, counts, data, hessian)


def longest_times(problem: DesignProblem, theta: Floats, rows: Floats, counts: Booleans) -> Floats:
    """Longest times of the legs whose rows of time count, NaN where there are none.

    Parameters
    ----------
    problem : any study of the chain
    theta, rows, counts : parameters, rows and which of them count, first axis: the point
    """
    limits = np.asarray(problem.chain.unpack(theta)["legs"].time_limit)
    found = []
    for group in TIMES.values():
        own = [label.group == group for label in problem.rows.labels]
        times = np.where(counts[:, own], limits * np.exp(-rows[:, own]), -np.inf).max(axis=1)
        found.append(np.where(counts[:, own].any(axis=1), times, np.nan))
    return np.column_stack(found)


def _rows(solver: PointSolver, z: Floats, data: Lane) -> Value:
    """Objective and rows of many designs, in batches of the width of the lanes."""

    def valued(places: Indices) -> Value:
        return solver.lanes.model.values(z[places], placed(jax.tree.map(lambda a: a[places], data)))

    value: Value = in_blocks(valued, len(z), solver.lanes.width)
    return value


def axis_costs(
    solver: PointSolver, points: Floats, solved: Solved, goal: Goal
) -> tuple[Floats, Floats]:
    """Slopes along the axes of the optimal objective and of the least violation, SI.

    Slopes of the Lagrangian at a fixed design, by central differences of its exact values: their
    error is of the order of the step squared, 1e-8. Where no design is feasible the multipliers, as
    shares of their sum, are those of the least violation. Shapes (n, axes).
    """
    multipliers = solved.end.multipliers
    most = np.maximum(multipliers.sum(axis=1), np.finfo(float).tiny)

    def values(moved: Floats) -> Floats:
        parameters = solver.parametric.parameters(moved)
        data = Lane(solved.designs, parameters.theta, parameters.prelude, *goal)
        f, c = _rows(solver, solved.end.z, data)
        held = np.einsum("nm,nm->n", multipliers, c)
        return np.stack([f - held, -held / most])

    low, high = ends_of(solver.parametric.axes)
    slopes = np.empty((2, len(points), low.size))
    for number, step in enumerate(np.diag(SMALL_STEP * (high - low))):
        ahead, behind = values(points + step), values(points - step)
        slopes[:, :, number] = (ahead - behind) / (2.0 * step[number])
    return slopes[0], slopes[1]
