"""A fixed number of lanes kept busy from a queue of problems.

The functions of a lane are compiled for one width and never again: a lane whose problem has ended
takes the next one, and idle lanes repeat their last point. Steps that the full step does not
settle are tried at several shares at once, packed into batches of the same width. What is large
stays where the model is computed; of a lane that has ended it is fetched when the lane gets its
next problem.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import jax
import numpy as np

from mdo.arrays import Booleans, Floats, Indices
from mdo.optimise.batch.functions import Compiled, Problems, blank, placed, split_memory
from mdo.optimise.batch.iteration import (
    EMPTY,
    NOISE,
    RUNNING,
    STALLED,
    SUFFICIENT,
    Limits,
    Memory,
    Proposal,
    Value,
)
from mdo.optimise.blocks import in_blocks

SHARES = np.array([1.0, 0.5, 0.2, 0.05, 0.01, 0.001])  # of a step that fails without correction
GROUPS = (1, 3)  # of these, tried together
IDLE = 16  # one lane of so many has to be idle before lanes are refilled
GROW = 4.0  # times a full step: the most of the next one
SHORTEST = 5e-3  # least reach, of the first
LAST = 10.0  # times the noise: what a last step may lose that can gain no more than it
SHRINK = 0.1  # least share of a step to which the next one is held


class Solution(NamedTuple):
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


class _Lanes(NamedTuple):
    """What the lanes are at: next problem of the queue, then first axis of every array: the lane.

    ``unread`` are lanes that have ended and whose end was not fetched.
    """

    queue: int
    problem: Indices
    live: Booleans
    unread: Booleans
    memory: Memory
    limits: Limits
    data: Any


def solve(own: Compiled, problems: Problems, narrow: Compiled | None = None) -> Solution:
    """Solve all problems; the last ones go on in narrower lanes of the same model."""
    count, n = problems.start.shape
    rows = problems.counts.shape[1]
    shapes = (n,), (), (), (), (rows,), (n, n)  # of each problem in a solution, in its order
    status, iterations = np.full(count, EMPTY, dtype=np.intp), np.zeros(count, dtype=np.intp)
    numbers = [np.zeros((count, *shape)) for shape in shapes]
    solution = Solution._make([*numbers, status, iterations])
    everything = placed((problems.data, problems.counts))
    none = np.zeros(own.width, dtype=bool)
    nothing = Limits(problems.lower[:0], problems.upper[:0], problems.counts[:0])
    memory = split_memory(blank(own.width, n, rows))
    lanes = _Lanes(0, np.zeros(own.width, dtype=np.intp), none, none, memory, nothing, None)
    lanes = _refilled(own, problems, everything, lanes, solution)
    while lanes.live.any():
        lanes = _iterated(own, lanes, solution)
        if not lanes.live.any() or (~lanes.live).sum() >= max(1, own.width // IDLE):
            lanes = _refilled(own, problems, everything, lanes, solution)
        if narrow and lanes.queue == count and lanes.live.sum() <= narrow.width:
            lanes, own, narrow = _narrowed(narrow, everything, lanes, solution), narrow, None
    return solution


def _refilled(
    own: Compiled, problems: Problems, everything: Any, lanes: _Lanes, solution: Solution
) -> _Lanes:
    """Fetch what has ended and give the idle lanes the next problems."""
    lanes = _fetched(lanes, solution)
    fresh = np.flatnonzero(~lanes.live)[: len(problems.start) - lanes.queue]
    if fresh.size == 0:
        return lanes
    take, live, begun = lanes.problem.copy(), lanes.live.copy(), np.zeros(own.width, dtype=bool)
    take[fresh] = np.arange(lanes.queue, lanes.queue + fresh.size)
    live[fresh] = begun[fresh] = True
    lower, upper = problems.lower[take], problems.upper[take]
    starts = np.clip(problems.start[take], lower, upper)
    n, known = starts.shape[1], problems.hessian
    hessians = np.zeros((take.size, n, n)) if known is None else known[take]
    data, counts = own.gather(everything, take)
    memory = split_memory(own.fill(lanes.memory, begun, starts, hessians))
    return lanes._replace(
        queue=lanes.queue + fresh.size, problem=take, live=live, memory=memory,
        limits=Limits(lower, upper, counts), data=data,
    )  # fmt: skip


def _narrowed(narrow: Compiled, everything: Any, lanes: _Lanes, solution: Solution) -> _Lanes:
    """Lanes that still work, in fewer lanes; the others are fetched."""
    lanes = _fetched(lanes, solution)
    kept = np.resize(np.flatnonzero(lanes.live), narrow.width)
    data, counts = narrow.gather(everything, lanes.problem[kept])
    live = np.arange(narrow.width) < int(lanes.live.sum())
    memory = split_memory(jax.tree.map(lambda a: np.asarray(a)[kept], lanes.memory))
    limits = Limits(lanes.limits.lower[kept], lanes.limits.upper[kept], counts)
    unread = np.zeros(narrow.width, dtype=bool)
    return _Lanes(lanes.queue, lanes.problem[kept], live, unread, memory, limits, data)


def _fetched(lanes: _Lanes, solution: Solution) -> _Lanes:
    """Keep what the lanes that have ended remember."""
    ended = np.flatnonzero(lanes.unread)
    if ended.size == 0:
        return lanes
    at, memory = lanes.problem[ended], lanes.memory
    for values, kept in (
        (solution.z, memory.before), (solution.multipliers, memory.multipliers),
        (solution.hessian, memory.H), (solution.iterations, memory.iterations),
    ):  # fmt: skip
        values[at] = np.asarray(kept)[ended]
    return lanes._replace(unread=np.zeros(lanes.live.size, dtype=bool))


def _iterated(own: Compiled, lanes: _Lanes, solution: Solution) -> _Lanes:
    """One iteration of every lane; notes what has ended."""
    value, slope = own.model.slopes(lanes.memory.z, lanes.data)
    memory, proposal = own.propose(lanes.memory, value, slope, lanes.limits, lanes.live)
    lanes = lanes._replace(memory=memory)
    status = np.asarray(proposal.status).copy()
    going = lanes.live & (status == RUNNING)
    z, share = _stepped(own, lanes, value, proposal, going)
    updates, fresh = np.array(memory.updates), np.array(memory.fresh)
    failed = going & (share == 0.0)
    status[failed & (updates == 0)] = STALLED
    reset = failed & (updates != 0)  # try once more without the Hessian
    fresh[reset] = True
    updates[reset] = 0
    size = np.abs(np.asarray(proposal.d)).max(axis=1)
    radius = _reach(np.asarray(memory.radius), share, size, own.options.reach)
    ended = lanes.live & (status != RUNNING)
    for values, found in (
        (solution.f, value.f), (solution.violation, proposal.violation),
        (solution.residual, proposal.residual), (solution.status, status),
    ):  # fmt: skip
        values[lanes.problem[ended]] = np.asarray(found)[ended]
    small: dict[str, Any] = {"z": z, "radius": radius, "updates": updates, "fresh": fresh}
    return lanes._replace(
        memory=memory._replace(**small), live=lanes.live & ~ended, unread=lanes.unread | ended
    )


def _stepped(
    own: Compiled, lanes: _Lanes, value: Value, proposal: Proposal, going: Booleans
) -> tuple[Floats, Floats]:
    """Points of the lanes after a step, and the shares of it that were taken, 0 where none.

    A share ``a`` is taken where the merit falls by at least ``SUFFICIENT * a`` of what the step
    promises (Armijo's rule), but for the noise of the merit.
    """
    memory, limits = lanes.memory, lanes.limits
    merit, promise = np.asarray(proposal.merit), np.asarray(proposal.promise)
    noise = NOISE * (1.0 + np.abs(merit) + np.asarray(memory.rho))
    d, z = np.asarray(proposal.d), np.array(memory.z)
    full = np.clip(z + d, limits.lower, limits.upper)
    ahead = own.model.values(full, lanes.data)
    after = np.asarray(own.merit(ahead, limits.counts, memory.rho))
    slack = np.where(promise > noise, noise - SUFFICIENT * promise, LAST * noise)
    whole = going & (after <= merit + slack)
    waiting = np.flatnonzero(going & ~whole & (promise > noise))
    taken = whole.astype(float)
    if waiting.size:
        bend = np.asarray(own.correction(memory, proposal, value, ahead))
        most = merit - SUFFICIENT * promise[None, :] * SHARES[:, None]
        for shares in np.split(np.arange(SHARES.size), GROUPS):
            share = SHARES[shares][:, None, None]  # along an arc: the correction by its square
            arc = z[waiting] + share * d[waiting] + share**2 * bend[waiting]
            trial = np.clip(arc, limits.lower[waiting], limits.upper[waiting])
            good = _merits(own, lanes, trial, waiting) <= most[shares][:, waiting]
            met, first = good.any(axis=0), good.argmax(axis=0)
            z[waiting[met]] = trial[first[met], np.flatnonzero(met)]
            taken[waiting[met]] = SHARES[shares][first[met]]
            waiting = waiting[~met]
            if waiting.size == 0:
                break
    z[whole] = full[whole]
    return z, taken


def _merits(own: Compiled, lanes: _Lanes, trial: Floats, owners: Indices) -> Floats:
    """Merits of trial points, shape (shares, lanes), in batches of the width."""
    points, owner = trial.reshape(-1, trial.shape[-1]), np.tile(owners, trial.shape[0])
    kept = (lanes.data, lanes.limits.counts, lanes.memory.rho)

    def merits(chosen: Indices) -> Any:
        data, counts, rho = own.gather(kept, owner[chosen])
        return own.merit(own.model.values(points[chosen], data), counts, rho)

    found: Floats = in_blocks(merits, owner.size, own.width)
    return found.reshape(trial.shape[:2])


def _reach(radius: Floats, share: Floats, size: Floats, most: float) -> Floats:
    """Reach of the next steps: some full steps, else about what this one came to."""
    longer = np.minimum(np.maximum(radius, GROW * size), most)
    shorter = np.maximum(np.maximum(2.0 * share, SHRINK) * size, SHORTEST * most)
    return np.asarray(np.where(share == 1.0, longer, np.minimum(radius, shorter)))
