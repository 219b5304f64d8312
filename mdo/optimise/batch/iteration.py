"""One iteration of sequential quadratic programming, of one lane.

The problem of a lane is ``min f(z), c(z) >= 0, l <= z <= u``. The Hessian of the Lagrangian is a
damped BFGS matrix (Powell 1978); steps are judged by the exact penalty ``f + rho max(0, -c)``, with
a second-order correction against the Maratos effect; the subproblem is elastic, so that a lane
without a feasible point ends at the least violation (Nocedal & Wright, Numerical Optimization, 2nd
ed., ch. 17.2, 18.3 to 18.5, all from memory). Rows far from their limits are left out of the
subproblem: only the ``k`` nearest are given to it.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
from jax import Array

from mdo.optimise.batch.quadratic import Qp, QpSolution, solve_qp

EMPTY, RUNNING, OPTIMAL, INFEASIBLE, STALLED, LIMIT = range(6)
DAMPED = 0.2  # Powell's share
SUFFICIENT = 1e-4  # of the predicted decrease
NOISE = 3e-12  # of the merit, relative
FLAT = 1e-11  # slope of a row that counts as none
STUCK = 0.1  # share of a violation below whose gain the penalty is raised
_FAR = 1e3  # value given to rows that are left out
STIFF = 1e10  # largest weight of a row in the second-order correction


class Options(NamedTuple):
    """What the user may choose; all relative to scaled variables and rows.

    Attributes
    ----------
    nearest
        Rows given to the subproblem.
    reach
        Largest change of a variable in one step.
    penalty, penalty_most
        First and largest weight of the violation.
    feasible
        Largest violation that counts as feasible.
    optimal
        KKT residual that counts as optimal.
    least
        Share of a violation that a step must promise to take away, else it is the least one.
    iterations
        Most iterations of a lane.
    """

    nearest: int = 64
    reach: float = 1.0
    penalty: float = 10.0
    penalty_most: float = 1e4
    feasible: float = 1e-8
    optimal: float = 1e-7
    least: float = 1e-3
    iterations: int = 100


class Limits(NamedTuple):
    """Bounds of the variables and which rows count, of one lane."""

    lower: Any
    upper: Any
    counts: Any


class Value(NamedTuple):
    """Objective and rows at a point."""

    f: Array
    c: Array


class Slope(NamedTuple):
    """Derivatives of objective and rows, shapes (n,) and (m, n)."""

    g: Array
    J: Array


class Memory(NamedTuple):
    """What a lane carries from one iteration to the next."""

    z: Array
    before: Array  # point of the last iteration
    slope_before: Array  # gradient of the Lagrangian there, with the multipliers below
    multipliers: Array  # of all rows
    H: Array
    updates: Array  # of H since it was last reset
    rho: Array
    radius: Array  # largest change of a variable in the next step
    iterations: Array
    fresh: Array  # no iteration yet


class Proposal(NamedTuple):
    """A step and what is known at the point it starts from."""

    d: Array
    merit: Array
    promise: Array  # predicted decrease of the merit
    near: Array  # rows given to the subproblem
    A: Array
    weight: Array  # stiffness of these rows in the correction
    bound_weight: Array
    residual: Array
    violation: Array
    status: Array


def begin(z: Array, rows: int, options: Options, H: Array | None = None) -> Memory:
    """Memory of a lane that starts at a point, with the Hessian of a neighbour where there is one.

    A Hessian without entries that are not zero counts as none.
    """
    n = z.size
    given = jnp.zeros((n, n)) if H is None else jnp.asarray(H)
    zero = jnp.zeros(n)
    return Memory(
        z=z, before=z, slope_before=zero, multipliers=jnp.zeros(rows), H=given,
        updates=given.any().astype(int), rho=jnp.array(options.penalty),
        radius=jnp.array(options.reach), iterations=jnp.array(0), fresh=jnp.array(True),
    )  # fmt: skip


def violation_of(c: Array, counts: Array) -> Array:
    """Largest violation of the rows that count."""
    return jnp.maximum(0.0, -jnp.where(counts, c, jnp.inf).min())


def merit_of(value: Value, counts: Array, rho: Array) -> Array:
    """Exact penalty; infinite where a value is not a number."""
    merit = value.f + rho * violation_of(value.c, counts)
    fine = jnp.isfinite(merit) & jnp.isfinite(jnp.where(counts, value.c, 0.0)).all()
    return jnp.where(fine, merit, jnp.inf)


def propose(
    memory: Memory, value: Value, slope: Slope, limits: Limits, options: Options
) -> tuple[Memory, Proposal]:
    """Update the Hessian, solve the subproblem, judge the point."""
    free = limits.upper > limits.lower
    slope = Slope(jnp.where(free, slope.g, 0.0), jnp.where(free, slope.J, 0.0))
    memory = memory._replace(H=_updated(memory, slope, free))
    near, A, c = _nearest(value, slope, limits.counts, options.nearest)
    qp = Qp(
        memory.H, slope.g, A, c,
        lower=jnp.where(free, jnp.maximum(limits.lower - memory.z, -memory.radius), -1.0),
        upper=jnp.where(free, jnp.minimum(limits.upper - memory.z, memory.radius), 1.0),
        rho=memory.rho,
    )  # fmt: skip
    end = solve_qp(qp)
    d = jnp.where(free, end.d, 0.0)
    multipliers = jnp.zeros_like(value.c).at[near].set(jnp.where(c >= _FAR, 0.0, end.rows))
    violation = violation_of(value.c, limits.counts)
    residual = _residual(end, qp, slope, c, violation)
    residual = jnp.where(jnp.isfinite(value.f), residual, jnp.inf)  # no optimum without a value
    promise = -slope.g @ d + memory.rho * (violation - end.s)
    status, rho = _judged(memory, end, residual, violation, multipliers.sum(), options)
    room = jnp.maximum(jnp.minimum(end.d - qp.lower, qp.upper - end.d), 1e-10)
    proposal = Proposal(
        d=d, merit=value.f + rho * violation,
        promise=promise + (rho - memory.rho) * (violation - end.s), near=near, A=A,
        weight=jnp.minimum(end.rows / end.distance, STIFF),
        bound_weight=(end.at_lower + end.at_upper) / room,
        residual=residual, violation=violation, status=status,
    )  # fmt: skip
    memory = memory._replace(
        before=memory.z, slope_before=slope.g - slope.J.T @ multipliers, multipliers=multipliers,
        updates=memory.updates + ~memory.fresh, rho=rho, iterations=memory.iterations + 1,
        fresh=jnp.array(False),
    )  # fmt: skip
    return memory, proposal


def _nearest(value: Value, slope: Slope, counts: Array, k: int) -> tuple[Array, Array, Array]:
    """The k rows nearest to their limits in the scaled variables, with slopes and values."""
    steep = jnp.linalg.norm(slope.J, axis=1)
    use = counts & (steep > FLAT)
    distance = jnp.where(use, value.c / jnp.maximum(steep, FLAT), jnp.inf)
    _, near = jax.lax.top_k(-distance, min(k, value.c.size))
    kept = use[near]
    A = jnp.where(kept[:, None], slope.J[near], 0.0)
    return near, A, jnp.where(kept, jnp.minimum(value.c[near], _FAR), _FAR)


def _updated(memory: Memory, slope: Slope, free: Array) -> Array:
    """Damped BFGS update of the Hessian; identity of the size of the gradient at first."""
    n = memory.z.size
    first = jnp.eye(n) * jnp.maximum(1.0, jnp.linalg.norm(slope.g))
    s = jnp.where(free, memory.z - memory.before, 0.0)
    y = slope.g - slope.J.T @ memory.multipliers - memory.slope_before
    ss, sy = s @ s, s @ y
    size = jnp.clip((y @ y) / jnp.maximum(sy, 1e-300), 1e-4, 1e6)
    begun = jnp.where((memory.updates == 0) & (sy > 1e-3 * ss), jnp.eye(n) * size, memory.H)
    image = begun @ s
    curve = s @ image
    share = jnp.where(sy >= DAMPED * curve, 1.0, (1.0 - DAMPED) * curve / (curve - sy))
    r = share * y + (1.0 - share) * image
    new = begun - jnp.outer(image, image) / curve + jnp.outer(r, r) / (s @ r)
    fine = (ss > 1e-24) & jnp.isfinite(new).all()
    first = jnp.where(memory.updates > 0, memory.H, first)
    return jnp.where(memory.fresh, first, jnp.where(fine, new, memory.H))


def _residual(end: QpSolution, qp: Qp, slope: Slope, c: Array, violation: Array) -> Array:
    """Error of the optimality conditions of the elastic problem at the start of the step."""
    gradient = slope.g - qp.A.T @ end.rows - end.at_lower + end.at_upper
    of_rows = jnp.where(c >= _FAR, 0.0, end.rows * (c + violation))
    pairs = jnp.concatenate([of_rows, end.at_lower * -qp.lower, end.at_upper * qp.upper])
    size = jnp.maximum(1.0, jnp.abs(slope.g).max())
    return jnp.maximum(jnp.abs(gradient).max(), jnp.abs(pairs).max()) / size


def _judged(
    memory: Memory,
    end: QpSolution,
    residual: Array,
    violation: Array,
    weight: Array,
    options: Options,
) -> tuple[Array, Array]:
    """Status of the lane, and the penalty to go on with."""
    holds = violation <= options.feasible
    gain = (violation - end.s) / jnp.minimum(1.0, memory.radius)
    stuck = ~holds & (gain < STUCK * violation)
    least = ~holds & (gain <= options.least * violation)
    most = options.penalty_most
    status = jnp.where(holds & (residual <= options.optimal), OPTIMAL, RUNNING)
    status = jnp.where(least & (memory.rho >= most), INFEASIBLE, status)
    over = memory.iterations + 1 >= options.iterations
    status = jnp.where((status == RUNNING) & over, LIMIT, status)
    raised = jnp.where(stuck, jnp.minimum(memory.rho * 10.0, most), memory.rho)
    eased = jnp.maximum(options.penalty, 3.0 * weight)
    return status, jnp.where(holds & (raised > eased), eased, raised)


def correction(memory: Memory, proposal: Proposal, value: Value, ahead: Value) -> Array:
    """Second-order correction of a step: meets the active rows as they are at its end.

    At a share ``a`` of the step the correction is worth ``a**2`` of itself: the trial points lie on
    an arc along the rows (Mayne & Polak, Math. Prog. Study 16, 1982, from memory).
    """
    n = memory.z.size
    left = ahead.c[proposal.near] - value.c[proposal.near] - proposal.A @ proposal.d
    weighted = proposal.A.T * proposal.weight
    matrix = memory.H + weighted @ proposal.A + jnp.diag(proposal.bound_weight)
    step = -jnp.linalg.solve(matrix + 1e-12 * jnp.eye(n), weighted @ left)
    size, most = jnp.linalg.norm(step), jnp.linalg.norm(proposal.d)
    return jnp.where(jnp.isfinite(step).all(), step * jnp.minimum(1.0, most / size), 0.0)
