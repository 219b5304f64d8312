"""A fixed number of lanes kept busy from a queue of problems.

The functions of a lane are compiled for one width and never again: a lane whose problem has ended
takes the next one, and idle lanes repeat their last point. Steps that the full step does not
settle are tried at several shares at once, packed into batches of the same width.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import Any, NamedTuple

import jax
import numpy as np
from numpy.typing import NDArray

from mdo.explore.batch.sqp import (
    EMPTY,
    NOISE,
    RUNNING,
    STALLED,
    SUFFICIENT,
    Limits,
    Options,
    Proposal,
    Slope,
    Value,
    begin,
    correction,
    merit_of,
    propose,
)
from mdo.model.compile_cache import compiler_options

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
SHARES = np.array([1.0, 0.5, 0.2, 0.05, 0.01, 0.001])  # of a step that fails without correction
DEFAULT = Options()
GROW = 4.0  # times a full step: the most of the next one
SHORTEST = 5e-3  # least reach, of the first
SHRINK = 0.1  # least share of a step to which the next one is held


class Model(NamedTuple):
    """Functions of a batch, compiled: ``values(z, data)`` and ``slopes(z, data)``.

    ``compiling(z, data)`` gives calls that compile them, each alone.
    """

    values: Callable[[Any, Any], Value]
    slopes: Callable[[Any, Any], tuple[Value, Slope]]
    compiling: Callable[[Any, Any], list[Callable[[], Any]]]


def compiled(values: Callable[[Any, Any], Value], slopes: Callable[[Any, Any], Any]) -> Model:
    """Model of functions of one lane that can be traced."""
    options = compiler_options()
    valued = jax.jit(jax.vmap(values), compiler_options=options)
    sloped = jax.jit(jax.vmap(slopes), compiler_options=options)
    return Model(
        valued, sloped, lambda z, data: [partial(valued, z, data), partial(sloped, z, data)]
    )


class Problems(NamedTuple):
    """Many problems of one model; first axis of every array: the problem.

    Attributes
    ----------
    start, lower, upper
        Starting point and bounds of the scaled variables; equal bounds freeze a variable.
    counts
        Rows that count.
    data
        Whatever else the model needs, a tree of arrays.
    hessian
        Of the Lagrangian, from a neighbour (:attr:`Ends.hessian`); zeros or None where unknown.
    """

    start: Floats
    lower: Floats
    upper: Floats
    counts: NDArray[np.bool_]
    data: Any
    hessian: Floats | None = None


class Ends(NamedTuple):
    """Where the problems ended, first axis: the problem.

    Attributes
    ----------
    z, f
        Point and objective.
    violation
        Largest violation of a row; the least one where ``status`` is INFEASIBLE.
    residual
        Error of the optimality conditions (of the elastic problem), relative to the gradient.
    multipliers
        Of all rows.
    hessian
        Quasi-Newton matrix of the Lagrangian, a start for neighbours.
    status
        OPTIMAL, INFEASIBLE, STALLED or LIMIT.
    iterations
        Of the quadratic programming, one gradient each.
    """

    z: Floats
    f: Floats
    violation: Floats
    residual: Floats
    multipliers: Floats
    hessian: Floats
    status: Indices
    iterations: Indices


class Solver:
    """Solver of problems of one model, compiled for one width.

    Parameters
    ----------
    model : functions of a batch
    width : lanes
    options : tolerances and weights
    """

    def __init__(self, model: Model, *, width: int = 64, options: Options = DEFAULT) -> None:
        self.width, self.options = width, options
        self.model = model
        self.values, self.slopes = model.values, model.slopes
        self.propose = jax.jit(jax.vmap(partial(propose, options=options)))
        self.correction = jax.jit(jax.vmap(correction))
        self.merit = jax.jit(jax.vmap(merit_of))
        self.spent = {"slopes": 0, "values": 0}

    def compile(self, problems: Problems) -> None:
        """Compile everything for problems of this kind, on all cores at once."""
        lanes = np.resize(np.arange(len(problems.start)), self.width)
        z, data = problems.start[lanes], jax.tree.map(lambda a: a[lanes], problems.data)
        n, rows = z.shape[1], problems.counts.shape[1]
        limits = Limits(problems.lower[lanes], problems.upper[lanes], problems.counts[lanes])
        first = begin(z[0], rows, self.options)
        memory = jax.tree.map(lambda a: np.stack([np.asarray(a)] * self.width), first)
        value = Value(np.zeros(self.width), np.zeros((self.width, rows)))  # type: ignore[arg-type]
        slope = Slope(np.zeros((self.width, n)), np.zeros((self.width, rows, n)))  # type: ignore[arg-type]

        def correcting() -> None:
            _, proposal = self.propose(memory, value, slope, limits)
            self.correction(memory, proposal, value, value)

        calls = [
            *self.model.compiling(z, data),
            correcting,
            partial(self.merit, value, limits.counts, memory.rho),
        ]
        with ThreadPoolExecutor(os.cpu_count()) as pool:
            list(pool.map(lambda call: call(), calls))

    def solve(self, problems: Problems, progress: Callable[[int], None] | None = None) -> Ends:
        """Solve all problems; ``progress`` is told how many have ended."""
        run = _Run(self, problems)
        while run.busy:
            run.iterate()
            if progress:
                progress(int((run.ends.status != EMPTY).sum()))
        return run.ends


def best_of(ends: Ends, owner: Indices, *, tolerance: float = 1e-6) -> Ends:
    """Best end of every problem that had several starts.

    Feasible before not, then the least objective; without a feasible end the least violation.

    Parameters
    ----------
    ends : of all starts
    owner : number of the problem of each start, from 0
    tolerance : largest violation of a feasible end
    """
    feasible = ends.violation <= tolerance
    rank = np.where(feasible, ends.f, ends.violation)
    order = np.lexsort((rank, ~feasible, owner))
    first = order[np.unique(owner[order], return_index=True)[1]]
    best: Ends = jax.tree.map(lambda field: field[first], ends)
    return best


class _Run:
    """State of one call: queue, lanes, what has ended."""

    def __init__(self, solver: Solver, problems: Problems) -> None:
        self.solver, self.problems = solver, problems
        count, n = problems.start.shape
        rows = problems.counts.shape[1]
        self.queue: Iterator[int] = iter(range(count))
        self.index = np.zeros(solver.width, dtype=np.intp)
        self.live = np.zeros(solver.width, dtype=bool)
        self.ends = Ends(
            z=np.full((count, n), np.nan),
            f=np.full(count, np.nan),
            violation=np.full(count, np.nan),
            residual=np.full(count, np.nan),
            multipliers=np.zeros((count, rows)),
            hessian=np.zeros((count, n, n)),
            status=np.full(count, EMPTY, dtype=np.intp),
            iterations=np.zeros(count, dtype=np.intp),
        )
        first = begin(problems.start[0], rows, solver.options)
        self.memory = jax.tree.map(lambda a: np.stack([np.asarray(a)] * solver.width), first)
        self._refill()

    @property
    def busy(self) -> bool:
        """Whether a lane still works."""
        return bool(self.live.any())

    def _refill(self) -> None:
        """Give every idle lane the next problem."""
        rows = self.problems.counts.shape[1]
        for lane in np.flatnonzero(~self.live):
            number = next(self.queue, None)
            if number is None:
                break
            self.index[lane], self.live[lane] = number, True
            start = np.clip(
                self.problems.start[number],
                self.problems.lower[number],
                self.problems.upper[number],
            )
            known = self.problems.hessian
            given = None if known is None else known[number]
            fresh = begin(start, rows, self.solver.options, given)
            for own, new in zip(self.memory, fresh, strict=True):
                own[lane] = new
        take = self.index
        self.data = jax.tree.map(lambda a: a[take], self.problems.data)
        self.limits = Limits(
            self.problems.lower[take], self.problems.upper[take], self.problems.counts[take]
        )

    def iterate(self) -> None:
        """One iteration of every lane."""
        solver = self.solver
        value, slope = solver.slopes(self.memory.z, self.data)
        solver.spent["slopes"] += 1
        memory, proposal = solver.propose(self.memory, value, slope, self.limits)
        self.memory = jax.tree.map(np.array, memory)
        status = np.asarray(proposal.status).copy()
        going = self.live & (status == RUNNING)
        settled = self._step(value, proposal, going)
        stalled = going & ~settled & (self.memory.updates == 0)
        status[stalled] = STALLED
        reset = going & ~settled & ~stalled
        self.memory.fresh[reset] = True
        self.memory.updates[reset] = 0
        self._harvest(value, proposal, status)

    def _step(self, value: Value, proposal: Proposal, going: NDArray[np.bool_]) -> Any:
        """Move the lanes; returns those that found a better point."""
        solver, memory = self.solver, self.memory
        merit, promise = np.asarray(proposal.merit), np.asarray(proposal.promise)
        noise = NOISE * (1.0 + np.abs(merit))
        d, z = np.asarray(proposal.d), memory.z.copy()
        ahead = solver.values(self._inside(z + d, slice(None)), self.data)
        solver.spent["values"] += 1
        after = np.asarray(solver.merit(ahead, self.limits.counts, memory.rho))
        whole = going & (after <= merit - SUFFICIENT * promise + noise)
        memory.z[whole] = self._inside(z + d, slice(None))[whole]
        waiting = np.flatnonzero(going & ~whole & (promise > noise))
        size = np.abs(d).max(axis=1)
        if waiting.size == 0:
            return self._settle(whole, whole.astype(float), size)
        bend = np.asarray(solver.correction(memory, proposal, value, ahead))[waiting]
        share = SHARES[:, None, None]
        trial = self._inside(z[waiting] + share * d[waiting] + share**2 * bend, waiting)
        after = self._merits(trial, waiting)
        enough = merit[waiting] - SUFFICIENT * SHARES[:, None] * promise[waiting]
        good = after <= enough
        found = good.any(axis=0)
        first = good.argmax(axis=0)
        memory.z[waiting[found]] = trial[first, np.arange(waiting.size)][found]
        taken = whole.astype(float)
        taken[waiting] = np.where(found, SHARES[first], 0.0)
        whole[waiting] = found
        return self._settle(whole, taken, size)

    def _settle(self, moved: Any, share: Floats, size: Floats) -> Any:
        """Set the reach of the next steps: some full steps, else about what this one came to."""
        memory, most = self.memory, self.solver.options.reach
        longer = np.minimum(np.maximum(memory.radius, GROW * size), most)
        shorter = np.maximum(np.maximum(2.0 * share, SHRINK) * size, SHORTEST * most)
        memory.radius[:] = np.where(share == 1.0, longer, np.minimum(memory.radius, shorter))
        return moved

    def _inside(self, z: Floats, lanes: Any) -> Floats:
        return np.clip(z, self.limits.lower[lanes], self.limits.upper[lanes])

    def _merits(self, trial: Floats, lanes: Indices) -> Floats:
        """Merits of trial points, shape (shares, lanes), in batches of the solver's width."""
        width = self.solver.width
        points = trial.reshape(-1, trial.shape[-1])
        owner = np.tile(lanes, trial.shape[0])
        merits = np.empty(owner.size)
        for at in range(0, owner.size, width):
            chosen = np.resize(np.arange(at, min(at + width, owner.size)), width)
            lane = owner[chosen]
            data = jax.tree.map(lambda a, take=lane: a[take], self.data)
            value = self.solver.values(points[chosen], data)
            self.solver.spent["values"] += 1
            merits[chosen] = self.solver.merit(
                value, self.limits.counts[lane], self.memory.rho[lane]
            )
        return merits.reshape(trial.shape[:2])

    def _harvest(self, value: Value, proposal: Proposal, status: Indices) -> None:
        """Keep what has ended and refill its lanes."""
        ended = np.flatnonzero(self.live & (status != RUNNING))
        if ended.size == 0:
            return
        at, memory = self.index[ended], self.memory
        found = Ends(
            z=memory.before,
            f=np.asarray(value.f),
            violation=np.asarray(proposal.violation),
            residual=np.asarray(proposal.residual),
            multipliers=memory.multipliers,
            hessian=memory.H,
            status=status,
            iterations=memory.iterations,
        )
        for own, new in zip(self.ends, found, strict=True):
            own[at] = new[ended]
        self.live[ended] = False
        self._refill()
