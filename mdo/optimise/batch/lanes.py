"""A fixed number of lanes kept busy from a queue of problems.

The functions of a lane are compiled for one width and never again: a lane whose problem has ended
takes the next one, and idle lanes repeat their last point. Steps that the full step does not
settle are tried at several shares at once, packed into batches of the same width.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from itertools import chain
from typing import Any, NamedTuple

import jax
import numpy as np
from numpy.typing import NDArray

from mdo.model.compile_cache import compiler_options
from mdo.optimise.batch.iteration import (
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
    correction,
    merit_of,
)
from mdo.optimise.batch.memory import advance, blank, filled, gathered, placed, split_memory

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Flags = NDArray[np.bool_]
SHARES = np.array([1.0, 0.5, 0.2, 0.05, 0.01, 0.001])  # of a step that fails without correction
GROUPS = (1, 3)  # of these, tried together
DEFAULT = Options()
IDLE = 16  # one lane of so many has to be idle before lanes are refilled
GROW = 4.0  # times a full step: the most of the next one
SHORTEST = 5e-3  # least reach, of the first
LAST = 10.0  # times the noise: what a last step may lose that can gain no more than it
SHRINK = 0.1  # least share of a step to which the next one is held


class Model(NamedTuple):
    """Functions of a batch, compiled: ``values(z, data)`` and ``slopes(z, data)``.

    ``compiling(z, data)`` gives calls that compile them, each alone, as soon as it can be made.
    """

    values: Callable[[Any, Any], Value]
    slopes: Callable[[Any, Any], tuple[Value, Slope]]
    compiling: Callable[[Any, Any], Iterable[Callable[[], Any]]]


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
        self.propose = jax.jit(partial(advance, options=options))
        self.correction = jax.jit(jax.vmap(correction))
        self.merit = jax.jit(jax.vmap(merit_of))
        self.fill = jax.jit(partial(filled, options=options))
        self.gather = jax.jit(gathered)
        self.spent = {"slopes": 0, "values": 0}

    def compile(self, problems: Problems) -> None:
        """Compile everything for problems of this kind, on all cores at once."""
        lanes = np.resize(np.arange(len(problems.start)), self.width)
        z, data = problems.start[lanes], jax.tree.map(lambda a: a[lanes], problems.data)
        n, rows = z.shape[1], problems.counts.shape[1]
        data, counts = placed((data, problems.counts[lanes]))
        limits = Limits(problems.lower[lanes], problems.upper[lanes], counts)
        memory = split_memory(blank(self.width, n, rows))
        value = Value(*placed((np.zeros(self.width), np.zeros((self.width, rows)))))
        slope = Slope(*placed((np.zeros((self.width, n)), np.zeros((self.width, rows, n)))))
        live = np.ones(self.width, dtype=bool)

        def correcting() -> None:
            ahead, proposal = self.propose(memory, value, slope, limits, live)
            self.correction(ahead, proposal, value, value)

        own: list[Callable[[], Any]] = [
            correcting,
            partial(self.merit, value, counts, memory.rho),
            partial(self.gather, (data, counts, memory.rho), lanes),
            partial(self.fill, memory, live, z, memory.H),
        ]
        with ThreadPoolExecutor(os.cpu_count()) as pool:
            begun = [pool.submit(call) for call in chain(self.model.compiling(z, data), own)]
            for one in begun:
                one.result()

    def solve(self, problems: Problems, narrow: Solver | None = None) -> Ends:
        """Solve all problems; the last ones go on in a narrower solver of the same model."""
        run = _Run(self, problems)
        while run.busy:
            run.iterate()
            if narrow and run.queue == len(problems.start) and run.live.sum() <= narrow.width:
                run.narrow(narrow)
                narrow = None
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
    """State of one call: queue, lanes, what has ended.

    What is large stays where the model is computed; of a lane that has ended it is fetched when
    the lane gets its next problem.
    """

    def __init__(self, solver: Solver, problems: Problems) -> None:
        self.solver, self.problems = solver, problems
        count, n = problems.start.shape
        rows = problems.counts.shape[1]
        width = solver.width
        self.queue = 0  # next problem
        self.limits: Limits
        self.index = np.zeros(width, dtype=np.intp)
        self.live = np.zeros(width, dtype=bool)
        self.waiting = np.zeros(width, dtype=bool)  # ended, not fetched
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
        self.memory = split_memory(blank(width, n, rows))
        self.everything = placed((problems.data, problems.counts))
        self._refill()

    def narrow(self, solver: Solver) -> None:
        """Go on with fewer lanes: those that still work, the others are fetched."""
        self._fetch()
        lanes = np.resize(np.flatnonzero(self.live), solver.width)
        count = int(self.live.sum())
        self.solver = solver
        self.memory = split_memory(jax.tree.map(lambda a: np.asarray(a)[lanes], self.memory))
        self.index = self.index[lanes]
        self.live = np.arange(solver.width) < count
        self.waiting = np.zeros(solver.width, dtype=bool)
        self.limits = jax.tree.map(lambda a: a[lanes], self.limits)
        self.data, self.counts = solver.gather(self.everything, self.index)

    @property
    def busy(self) -> bool:
        """Whether a lane still works."""
        return bool(self.live.any())

    def _refill(self) -> None:
        """Fetch what has ended and give the idle lanes the next problems."""
        self._fetch()
        problems = self.problems
        idle = np.flatnonzero(~self.live)
        lanes = idle[: len(problems.start) - self.queue]
        if lanes.size == 0:
            return
        numbers = np.arange(self.queue, self.queue + lanes.size)
        self.queue += lanes.size
        self.index[lanes] = numbers
        self.live[lanes] = True
        fresh = np.zeros(self.live.size, dtype=bool)
        fresh[lanes] = True
        take = self.index
        starts = np.clip(problems.start, problems.lower, problems.upper)[take]
        n = starts.shape[1]
        known = problems.hessian
        hessians = np.zeros((take.size, n, n)) if known is None else known[take]
        self.memory = split_memory(self.solver.fill(self.memory, fresh, starts, hessians))
        self.limits = Limits(problems.lower[take], problems.upper[take], problems.counts[take])
        self.data, self.counts = self.solver.gather(self.everything, take)

    def iterate(self) -> None:
        """One iteration of every lane."""
        solver = self.solver
        value, slope = solver.slopes(self.memory.z, self.data)
        solver.spent["slopes"] += 1
        limits = self.limits._replace(counts=self.counts)
        self.memory, proposal = solver.propose(self.memory, value, slope, limits, self.live)
        status = np.asarray(proposal.status).copy()
        going = self.live & (status == RUNNING)
        settled, z, radius = self._step(value, proposal, going)
        updates, fresh = np.array(self.memory.updates), np.array(self.memory.fresh)
        stalled = going & ~settled & (updates == 0)
        status[stalled] = STALLED
        reset = going & ~settled & ~stalled
        fresh[reset] = True
        updates[reset] = 0
        small: dict[str, Any] = {"z": z, "radius": radius, "updates": updates, "fresh": fresh}
        self.memory = self.memory._replace(**small)
        self._note(value, proposal, status)

    def _step(self, value: Value, proposal: Proposal, going: Flags) -> tuple[Flags, Floats, Floats]:
        """Move the lanes; returns those that found a better point, the points, the next reach."""
        solver, memory = self.solver, self.memory
        merit, promise = np.asarray(proposal.merit), np.asarray(proposal.promise)
        noise = NOISE * (1.0 + np.abs(merit) + np.asarray(memory.rho))
        d, z = np.asarray(proposal.d), np.array(memory.z)
        full = self._inside(z + d, slice(None))
        ahead = solver.values(full, self.data)
        solver.spent["values"] += 1
        after = np.asarray(solver.merit(ahead, self.counts, memory.rho))
        slack = np.where(promise > noise, noise - SUFFICIENT * promise, LAST * noise)
        whole = going & (after <= merit + slack)
        waiting = np.flatnonzero(going & ~whole & (promise > noise))
        taken = whole.astype(float)
        if waiting.size:
            bend = np.asarray(solver.correction(memory, proposal, value, ahead))
            most = merit - SUFFICIENT * promise[None, :] * SHARES[:, None]
            for shares in np.split(np.arange(SHARES.size), GROUPS):
                trial = self._arc(z, d, bend, waiting, SHARES[shares])
                good = self._merits(trial, waiting) <= most[shares][:, waiting]
                found, first = good.any(axis=0), good.argmax(axis=0)
                lanes = waiting[found]
                z[lanes] = trial[first[found], np.flatnonzero(found)]
                taken[lanes] = SHARES[shares][first[found]]
                waiting = waiting[~found]
                if waiting.size == 0:
                    break
        z[whole] = full[whole]
        return taken > 0.0, z, self._reach(taken, np.abs(d).max(axis=1))

    def _arc(self, z: Floats, d: Floats, bend: Floats, lanes: Indices, shares: Floats) -> Floats:
        """Trial points of some lanes along their arcs, shape (shares, lanes, variables)."""
        share = shares[:, None, None]
        return self._inside(z[lanes] + share * d[lanes] + share**2 * bend[lanes], lanes)

    def _reach(self, share: Floats, size: Floats) -> Floats:
        """Reach of the next steps: some full steps, else about what this one came to."""
        radius, most = np.asarray(self.memory.radius), self.solver.options.reach
        longer = np.minimum(np.maximum(radius, GROW * size), most)
        shorter = np.maximum(np.maximum(2.0 * share, SHRINK) * size, SHORTEST * most)
        return np.asarray(np.where(share == 1.0, longer, np.minimum(radius, shorter)))

    def _inside(self, z: Floats, lanes: Any) -> Floats:
        return np.clip(z, self.limits.lower[lanes], self.limits.upper[lanes])

    def _merits(self, trial: Floats, lanes: Indices) -> Floats:
        """Merits of trial points, shape (shares, lanes), in batches of the solver's width."""
        width = self.solver.width
        points = trial.reshape(-1, trial.shape[-1])
        owner = np.tile(lanes, trial.shape[0])
        merits = np.empty(owner.size)
        kept = (self.data, self.counts, self.memory.rho)
        for at in range(0, owner.size, width):
            chosen = np.resize(np.arange(at, min(at + width, owner.size)), width)
            data, counts, rho = self.solver.gather(kept, owner[chosen])
            value = self.solver.values(points[chosen], data)
            self.solver.spent["values"] += 1
            merits[chosen] = self.solver.merit(value, counts, rho)
        return merits.reshape(trial.shape[:2])

    def _note(self, value: Value, proposal: Proposal, status: Indices) -> None:
        """Note what has ended; lanes are refilled once enough of them are idle."""
        ended = np.flatnonzero(self.live & (status != RUNNING))
        if ended.size:
            at = self.index[ended]
            self.ends.f[at] = np.asarray(value.f)[ended]
            self.ends.violation[at] = np.asarray(proposal.violation)[ended]
            self.ends.residual[at] = np.asarray(proposal.residual)[ended]
            self.ends.status[at] = status[ended]
            self.live[ended] = False
            self.waiting[ended] = True
        if not self.live.any() or (~self.live).sum() >= max(1, self.live.size // IDLE):
            self._refill()

    def _fetch(self) -> None:
        """Keep what the lanes that have ended remember."""
        lanes = np.flatnonzero(self.waiting)
        if lanes.size == 0:
            return
        at, memory = self.index[lanes], self.memory
        self.ends.z[at] = np.asarray(memory.before)[lanes]
        self.ends.multipliers[at] = np.asarray(memory.multipliers)[lanes]
        self.ends.hessian[at] = np.asarray(memory.H)[lanes]
        self.ends.iterations[at] = np.asarray(memory.iterations)[lanes]
        self.waiting[lanes] = False
