"""What a process needs to solve points: axes, solver and derivatives, made once."""

from __future__ import annotations

from functools import cached_property, lru_cache
from typing import Any, NamedTuple

import jax
import numpy as np
from numpy.typing import NDArray

from mdo.model.chain import Chain
from mdo.optimise.axes import Axis, Parameters, Turner, axes_of
from mdo.optimise.batch.iteration import Options
from mdo.optimise.batch.lanes import Ends, Solver
from mdo.optimise.batch.memory import placed
from mdo.optimise.blocks import block_size, blocks
from mdo.optimise.many.model import Box, Goal, Lane, least_mass, many_model, many_problems
from mdo.optimise.problem import DesignProblem
from mdo.optimise.problem_text import options_in, problem_context, problem_in
from mdo.study.units import as_written

Floats = NDArray[np.float64]
Booleans = NDArray[np.bool_]
WIDTH = 32  # lanes: what stays in the cache of a core
WIDE, NARROW = 16384, 512  # lanes that fill an accelerator, and for the last few problems
OPTIONS = Options(optimal=1e-6, least=1e-2, iterations=60)
FEW = 4  # fills of the narrow lanes that are no more work than the wide ones
SMALL_STEP = 1e-4  # of the range of an axis, in central differences of the rows


class Solved(NamedTuple):
    """Points with their ends; ``outputs`` are those of :data:`OUTPUTS` at the end."""

    parameters: Parameters
    ends: Ends
    designs: Floats
    outputs: Floats


def bench_context(
    problem: DesignProblem, axes: tuple[Axis, ...], active: Booleans, width: int | None = None
) -> str:
    """Text from which another process makes the same bench."""
    texts = {
        axis.name: [as_written(end, axis.unit) for end in (axis.low, axis.high)] for axis in axes
    }
    moved = np.flatnonzero(active).tolist()
    options = {"axes": texts, "active": moved, "width": width or lanes()}
    return problem_context(problem, options)


def lanes() -> int:
    """Lanes that suit the device that JAX finds."""
    return block_size(WIDTH, WIDE)


@lru_cache(maxsize=64)
def bench_in(context: str) -> Bench:
    """Bench of a context, made once per process."""
    options = options_in(context)
    problem = problem_in(context)
    ends = {name: (low, high) for name, (low, high) in options["axes"].items()}
    return Bench(
        Turner(problem, axes_of(problem, ends, "axes")), options["active"], options["width"]
    )


_COMPILED: set[Solver] = set()
_SOLVERS: dict[tuple[Any, ...], Solver] = {}


def solver_for(problem: DesignProblem, places: tuple[int, ...], width: int) -> Solver:
    """Solver of the compiled chain for these variables; one compile serves every study of it."""
    key = (id(problem.chain), places, width)
    if key not in _SOLVERS:
        active = np.zeros(len(problem.labels), dtype=bool)
        active[list(places)] = True
        _SOLVERS[key] = Solver(many_model(problem, active), width=width, options=OPTIONS)
    return _SOLVERS[key]


class Bench:
    """Solves points of the axes of one study.

    Parameters
    ----------
    turner : axes of the study
    places : variables that move, by their place in the design vector
    width : lanes
    """

    def __init__(self, turner: Turner, places: list[int], width: int) -> None:
        self.turner, self.problem = turner, turner.problem
        self.places = tuple(places)
        self.solver = solver_for(self.problem, self.places, width)
        self.narrow = solver_for(self.problem, self.places, NARROW) if width > NARROW else None

    @property
    def chain(self) -> Chain:
        """The compiled chain."""
        return self.problem.chain

    @cached_property
    def active(self) -> Booleans:
        """Variables that move."""
        found = np.zeros(len(self.problem.labels), dtype=bool)
        found[list(self.places)] = True
        return found

    def box(self, count: int) -> Box:
        """Bounds of the points; variables without meaning stay where the study has them."""
        lower, upper = self.problem.lower, self.problem.upper
        fixed = self.active & ~self.problem.active
        lower, upper = lower.copy(), upper.copy()
        middle = np.sqrt(np.maximum(lower, 1e-9) * np.maximum(upper, 1e-9))
        lower[fixed] = upper[fixed] = np.where(lower == upper, lower, middle)[fixed]
        return Box(np.tile(lower, (count, 1)), np.tile(upper, (count, 1)))

    def solve(
        self, points: Floats, designs: Floats, goal: Goal, hessian: Floats | None = None
    ) -> Solved:
        """Solve points, each from a design and the Hessian of a neighbour."""
        parameters = self.turner.parameters(points)
        box = self.box(len(points))
        problems = many_problems(self.problem, self.active, parameters, box, goal, designs, hessian)
        few = self.narrow is not None and len(points) <= FEW * NARROW
        solver = self.narrow if self.narrow is not None and few else self.solver
        ends = solver.solve(problems, None if few else self.narrow)
        scaled = self.problem.scale(problems.data.x)
        scaled[:, self.active] = ends.z
        found = np.clip(self.problem.unscale(scaled), box.lower, box.upper)
        found[:, ~self.active] = problems.data.x[:, ~self.active]
        return Solved(parameters, ends, found, self.outputs(ends.z, problems.data))

    def compile(self) -> None:
        """Compile all functions of the solver, on all cores at once; the first time only."""
        if self.solver in _COMPILED:
            return
        _COMPILED.add(self.solver)
        point = self.turner.middle[None, :]
        box = self.box(1)
        middle = self.problem.unscale(
            0.5 * (self.problem.scale(box.lower) + self.problem.scale(box.upper))
        )
        problems = many_problems(
            self.problem,
            self.active,
            self.turner.parameters(point),
            box,
            least_mass(1, 1.0),
            middle,
        )
        for solver in (self.solver, self.narrow):
            if solver is not None:
                solver.compile(problems)

    def outputs(self, z: Floats, data: Lane) -> Floats:
        """Outputs that can be minimised, at scaled variables: their rows against a limit of one."""
        ones = np.ones_like(np.asarray(data.limits))
        rows = self.rows(z, data._replace(limits=ones))[1]
        return np.asarray(np.exp(-rows[:, -ones.shape[1] :]))

    def rows(self, z: Floats, data: Lane) -> tuple[Floats, Floats]:
        """Objective and rows of many designs, in batches of the solver's width."""
        f, c = [], []
        for chosen, kept in blocks(len(z), self.solver.width):
            block = placed(jax.tree.map(lambda a, t=chosen: a[t], data))
            value = self.solver.values(z[chosen], block)
            f.append(np.asarray(value.f)[:kept])
            c.append(np.asarray(value.c)[:kept])
        return np.concatenate(f), np.concatenate(c)

    def costs(self, points: Floats, solved: Solved, goal: Goal) -> Floats:
        """Slopes of the optimal objective along the axes, shape (n, axes), SI.

        Slope of the Lagrangian at a fixed design, by central differences of its exact values: their
        error is of the order of the step squared, 1e-8.
        """
        columns = []
        for number, axis in enumerate(self.turner.axes):
            step = SMALL_STEP * (axis.high - axis.low)
            ends = []
            for sign in (1.0, -1.0):
                moved = points.copy()
                moved[:, number] += sign * step
                ends.append(self._lagrangian(self.turner.parameters(moved), solved, goal))
            columns.append((ends[0] - ends[1]) / (2.0 * step))
        return np.array(columns).T.reshape(len(points), len(self.turner.axes))

    def _lagrangian(self, parameters: Parameters, solved: Solved, goal: Goal) -> Floats:
        data = Lane(solved.designs, parameters.theta, parameters.prelude, *goal)
        f, c = self.rows(solved.ends.z, data)
        return np.asarray(f - np.einsum("nm,nm->n", solved.ends.multipliers, c))
