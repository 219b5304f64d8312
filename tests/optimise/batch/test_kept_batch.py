"""Kept numbers of the batched optimiser: subproblems, steps, penalties, iterations, ends of lanes.

The numbers are the tool's own (see tests/kept_numbers.py): no proof, a fence. Seven made-up
problems of one model, one of them without a feasible point, with a frozen variable, active bounds,
rows that do not count and rows of no slope. What an interior point leaves of numbers that are zero
stands in one array with such as are not, so that it is nothing beside them.
"""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import jax
import jax.numpy as jnp
import numpy as np
import pytest

from mdo.optimise.batch import functions, iteration, quadratic
from mdo.optimise.batch import solve as lanes_of
from mdo.optimise.batch.functions import Compiled, Model, Problems
from mdo.optimise.batch.iteration import Limits, Options, Slope, Value
from mdo.optimise.batch.quadratic import Qp
from tests.kept_numbers import RELATIVE, hold, main

FILE = Path(__file__).with_name("kept_batch.json")
N, ROWS = 4, 6
OPTIONS = Options(
    nearest=5, reach=0.7, penalty=3.0, penalty_most=3e3, feasible=1e-8, optimal=1e-6, least=2e-3,
    iterations=40,
)  # fmt: skip


def value_of(z, data):
    """A curved valley over rows that bend; data shifts both; nothing beyond a cliff."""
    a, b, c, d = z
    valley = (1.3 - a) ** 2 + data[4] * (b - 0.6 * a**2) ** 2 + 0.7 * (c - 0.4 * b) ** 2
    rows = jnp.stack([
        data[0] - a**2 - 0.8 * b**2 - c * d, 0.9 * a + jnp.sin(b) + 0.4 * d - data[1],
        jnp.exp(0.3 * c) - 0.5 * a * d - data[2], 4.1 - a - b - c - d, data[3] + 0.0 * a,
        0.3 * (b + 7.0) ** 1.5 - 0.2 * c,
    ])  # fmt: skip
    whole = valley + 0.3 * d**4 + 0.45 * a * c - 0.6 * d
    return Value(jnp.where(a > data[5], jnp.nan, whole), rows)


def slopes_of(z, data):
    slope = jax.jacfwd(value_of)(z, data)
    return value_of(z, data), Slope(slope.f, slope.c)


def made_model():
    values, slopes = jax.jit(jax.vmap(value_of)), jax.jit(jax.vmap(slopes_of))

    def compiling(z, data):
        yield lambda: values(z, data)
        yield lambda: slopes(z, data)

    return Model(values, slopes, compiling)


DATA = np.array([
    [2.2, 0.35, 0.8, 1.0, 6.0, 9.0], [1.1, 0.9, 1.3, -1.0, 1.5, 9.0],
    [3.4, -0.2, 1.1, 2.0, 1.5, 9.0], [0.6, 1.7, 1.6, 0.5, 1.5, 9.0],
    [1.7, 1.2, 0.9, -0.3, 3.0, 9.0], [2.2, 0.3, 0.7, 1.0, 2.0, 0.52],
    [2.3, 0.2, 0.6, 1.0, 2.0, -0.6],
])  # fmt: skip
COUNTS = np.ones((len(DATA), ROWS), dtype=bool)
COUNTS[1, 4] = COUNTS[2, 3] = COUNTS[4, 4] = False
WIDE = np.array([1.0, 1.1, 0.9, 1.0, 1.2, 1.3, 1.0])[:, None]
LOWER = np.array([[-1.4, -0.9, -1.1, -1.3]]) * WIDE
UPPER = np.array([[1.6, 1.9, 1.2, 0.65]]) * np.array([1.0, 0.6, 1.3, 0.8, 1.0, 1.1, 1.2])[:, None]
START = np.array([
    [-1.2, 0.95, 0.4, 0.3], [0.2, -0.7, 0.9, -0.4], [1.9, 0.3, -0.8, 0.5], [-0.6, 0.5, 0.1, 0.2],
    [-1.0, 1.5, -0.9, -1.2], [0.1, 0.4, 0.2, 0.3], [-0.6, 0.4, 0.2, 0.1],
])  # fmt: skip
LOWER[2, 3] = UPPER[2, 3] = 0.31  # frozen
PROBLEMS = Problems(START, LOWER, UPPER, COUNTS, DATA)
ORDER = np.array([0, 6, 5, 3, 1, 4, 2])


def ends(found):
    """Solution of a subproblem, what is zero beside what is not."""
    return {
        "step": jnp.append(found.d, found.s), "distance": found.distance, "steps": found.steps,
        "multipliers": jnp.concatenate([found.rows, found.at_lower, found.at_upper]),
    }  # fmt: skip


def subproblems():
    """Feasible, contradictory, bounded and indefinite; of the first also what a step is made of."""
    rng = np.random.default_rng(2)
    root, A = rng.normal(size=(N, N)), rng.normal(size=(5, N))
    plain = Qp(
        H=root @ root.T + 0.3 * np.eye(N), g=2.0 * rng.normal(size=N), A=A,
        c=np.array([-0.4, 0.3, 0.05, 1.4, -0.2]), lower=np.array([-0.9, -0.5, -1.3, -0.7]),
        upper=np.array([0.6, 0.8, 0.35, 1.1]), rho=13.0,
    )  # fmt: skip
    cases = {
        "plain": plain, "tight": plain._replace(lower=0.2 * plain.lower, upper=0.15 * plain.upper),
        "without": plain._replace(A=np.vstack([A[:1], -A[:1], A[2:]]), c=plain.c - 0.5),
        "cheap": plain._replace(rho=0.4), "far": plain._replace(c=plain.c + 3.0, g=9.0 * plain.g),
        "bent": plain._replace(H=plain.H - 2.5 * np.eye(N)),
    }  # fmt: skip
    rng = np.random.default_rng(10)
    root, A = rng.normal(size=(N, N)), rng.normal(size=(5, N))
    stubborn = Qp(  # rows of very different size: ends at the most steps, wherever that is
        H=root @ root.T + 0.3 * np.eye(N), g=50.0 * rng.normal(size=N),
        A=A * np.array([1e4, 1e-4, 1.0, 1e3, 1e-2])[:, None],
        c=np.array([-400.0, 2e-4, 0.05, 900.0, -300.0]), lower=np.full(N, -3e-3),
        upper=np.full(N, 3e-3), rho=9e3,
    )  # fmt: skip
    solved, inside = jax.jit(lambda qp: ends(quadratic.solve_qp(qp))), jax.jit(inside_of)
    return (
        {name: solved(qp) for name, qp in cases.items()}
        | {f"{name}_inside": inside(cases[name]) for name in ("plain", "without")}
        | {"stubborn": solved(stubborn)["steps"]}
    )


def inside_of(qp):
    qp = jax.tree.map(jnp.asarray, qp)
    form = quadratic._Form(qp)
    start = form.start()
    size = start.w.size
    at = start._replace(
        y=start.y + 0.01 * jnp.arange(1.0, N + 2), w=start.w * jnp.linspace(0.8, 1.3, size),
        lam=start.lam * jnp.linspace(1.2, 0.7, size),
    )  # fmt: skip
    weight = at.lam / at.w
    factor = form.factor(weight)
    close = at._replace(w=form.rows(at.y) + form.h, lam=1e-12 * at.lam)
    return {
        "start": start, "factor": factor, "rows": form.rows(at.y), "size": form.size,
        "adjoint": form.rows_adjoint(at.lam), "first": form.advance(at),
        "direction": form._direction(at, factor, at.w * at.lam), "solved": form._solved(close),
        "longest": quadratic._longest(at.w, at.w * jnp.linspace(-1.7, 0.6, size)),
        "whole": quadratic._longest(at.w, 0.3 * at.w),
    }  # fmt: skip


def kept_of(proposal):
    """What is kept of a proposal: not its stiffness, which is one over nothing at active rows."""
    kept = proposal._asdict()
    weight, room = kept.pop("weight"), kept.pop("bound_weight")
    return kept | {"stiff": weight >= iteration.STIFF, "soft": room < 1.0}


@jax.jit
def proposed(memory, z, data, limits):
    value, slope = slopes_of(z, data)
    memory, proposal = iteration.propose(memory._replace(z=z), value, slope, limits, OPTIONS)
    ahead = value_of(z + proposal.d, data)
    return memory, {
        "memory": memory, "proposal": kept_of(proposal),
        "nearest": iteration._nearest(value, slope, limits.counts, OPTIONS.nearest),
        "merit": iteration.merit_of(ahead, limits.counts, memory.rho),
    }  # fmt: skip


def proposals():
    """Three iterations without a search of each problem: Hessian updated, damped, left alone."""
    for lane in range(5):
        z, memory = START[lane], iteration.begin(jnp.asarray(START[lane]), ROWS, OPTIONS)
        limits = Limits(LOWER[lane], UPPER[lane], COUNTS[lane])
        for count, share in enumerate((0.4, 0.05, -0.3)):
            memory, found = proposed(memory, jnp.asarray(z), DATA[lane], limits)
            z = z + share * np.asarray(found["proposal"]["d"])
            yield f"{lane}_{count}", found


@jax.jit
def parts(memory, proposal, value, slope, ahead, end, qp, free, numbers):
    violation, weight = numbers
    return {
        "updated": iteration._updated(memory, slope, free),
        "correction": iteration.correction(memory, proposal, value, ahead),
        "residual": iteration._residual(end, qp, slope, value.c, violation),
        "judged": iteration._judged(memory, end, 0.3 * weight, violation, weight, OPTIONS),
    }


def drawn_parts():
    """Parts of an iteration at numbers that are drawn, with nothing at its balance."""
    rng = np.random.default_rng(8)
    for count in range(16):
        vector, rows = (lambda: rng.normal(size=N)), (lambda: rng.normal(size=ROWS))
        root, A = rng.normal(size=(N, N)), rng.normal(size=(ROWS, N))
        H = root @ root.T + 0.2 * np.eye(N)
        z = vector()
        memory = iteration.Memory(
            z=z, before=z - rng.choice([1.0, 1e-13]) * vector(), slope_before=vector(),
            multipliers=rows() ** 2, H=H, updates=rng.integers(0, 3),
            rho=rng.choice([3.0, 40.0, 3e3]), radius=rng.choice([0.2, 0.7, 4.0]),
            iterations=rng.choice([5, 38, 39]), fresh=rng.random() < 0.2,
        )  # fmt: skip
        d = vector()
        proposal = iteration.Proposal(
            d=d, merit=1.0, promise=0.5, near=np.arange(ROWS)[::-1], A=A, weight=10.0 * rows() ** 2,
            bound_weight=vector() ** 2, residual=0.1, violation=0.2, status=1,
        )  # fmt: skip
        c = rows()
        c[0] = rng.choice([1.0, 1e3])
        ahead = Value(0.3, c[::-1].copy() + (A @ d)[::-1] + 0.01 * rows())
        lower, upper = -(vector() ** 2), vector() ** 2
        qp = Qp(H, vector(), A, c, lower, upper, 5.0)
        violation = rng.choice([0.0, 1e-9, 0.05, 0.6])
        left = violation * rng.choice([0.2, 0.93, 0.97, 0.9995, 1.0])
        end = quadratic.QpSolution(d, left, rows() ** 2, vector() ** 2, vector() ** 2, rows(), 3)
        weight = np.asarray(rng.choice([1e-8, 0.2, 4.0]))
        free = np.array([True, True, count % 3 > 0, True])
        args = (memory, proposal, Value(0.2, c), Slope(vector(), A), ahead, end, qp)
        yield str(count), parts(*jax.tree.map(jnp.asarray, args), free, (violation, weight))


EITHER = (0.98, 1.02)  # of a threshold, by its number in the rules


def edges():
    """Rules of an iteration at both sides of their thresholds."""
    one, zero = jnp.ones(N), jnp.zeros(N)
    begun = iteration.begin(zero, ROWS, OPTIONS)._replace(fresh=jnp.asarray(False))
    nearest = jax.jit(lambda J: iteration._nearest(value, Slope(one, J), COUNTS[0], ROWS))
    judged = jax.jit(
        lambda memory, left: iteration._judged(
            memory, SimpleNamespace(s=left), 0.3, jnp.asarray(0.6), jnp.asarray(0.2), OPTIONS
        )
    )
    updated = jax.jit(
        lambda memory, y: iteration._updated(memory, Slope(y, jnp.zeros((ROWS, N))), one > 0.0)
    )
    value = Value(jnp.asarray(0.2), jnp.arange(1.0, ROWS + 1.0))
    along, across = jnp.array([0.6, 0.0, 0.8, 0.0]), jnp.array([0.8, 0.0, -0.6, 0.0])
    for by in EITHER:
        flat = jnp.ones((ROWS, N)).at[2].set(jnp.array([1e-11 * by, 0.0, 0.0, 0.0]))
        yield f"flat_{by}", nearest(flat)[1:]
        for name, share, rho in (("stuck", 0.1, 40.0), ("least", 2e-3, 3e3)):
            memory = begun._replace(radius=jnp.asarray(4.0), rho=jnp.asarray(rho))
            yield f"{name}_{by}", judged(memory, jnp.asarray(0.6 * (1.0 - share * by)))
        moved = begun._replace(z=0.3 * along, H=jnp.diag(jnp.arange(1.0, N + 1)))
        yield f"begun_{by}", updated(moved, 0.3 * (1e-3 * by * along + 0.2 * across))
        yield f"steep_{by}", updated(moved, 3e5 * (along + across) * by)
        yield f"short_{by}", updated(moved._replace(z=1e-12 * by**0.5 * along), 1e-12 * along)


def merits():
    value = Value(jnp.asarray(0.7), jnp.asarray([0.3, -0.4, jnp.nan, -0.9, 2.0, 0.1]))
    counts = np.array([True, True, False, False, True, True])
    anew = [iteration.begin(jnp.ones(2), 3, OPTIONS, jnp.asarray(H)) for H in np.diag([2.0, 0.0])]
    both = Value(value.f, jnp.nan_to_num(value.c))
    share = np.array([1.0, 1.0, 1.0, 0.5, 0.05, 0.001, 0.0])
    size = np.array([0.02, 0.1, 0.9, 0.3, 0.3, 0.01, 0.4])
    return {
        "violation": [iteration.violation_of(value.c, c) for c in (counts, counts & (value.c > 0))],
        "merit": [iteration.merit_of(v, c, 7.0) for v in (value, both) for c in (counts, ~counts)],
        "defaults": Options(), "begun": anew,
        "reach": lanes_of._reach(np.full(7, 0.15), share, size, 0.7),
        "full": lanes_of._reach(np.full(7, 0.7), share, size, 0.7),
    }  # fmt: skip


def iterated(problems, width, count):
    """First iterations of the lanes, and the solution where some lanes end within them."""
    own = Compiled(made_model(), width=width, options=OPTIONS)
    everything = functions.placed((problems.data, problems.counts))
    none = np.zeros(width, dtype=bool)
    lanes = lanes_of._Lanes(
        0, np.zeros(width, dtype=int), none, none,
        functions.split_memory(functions.blank(width, N, ROWS)),
        Limits(problems.lower[:0], problems.upper[:0], problems.counts[:0]), None,
    )  # fmt: skip
    size = len(problems.start)
    numbers = [np.zeros((size, *s)) for s in ((N,), (), (), (), (ROWS,), (N, N))]
    solution = lanes_of.Solution(*numbers, *np.zeros((2, size), dtype=int))
    lanes, queue = lanes_of._refilled(own, problems, everything, lanes, solution), []
    for at in range(count):
        lanes = lanes_of._iterated(own, lanes, solution)
        if at in {0, 1, 2, 4, 7}:
            yield str(at), lanes.memory
        lanes = lanes_of._refilled(own, problems, everything, lanes, solution)
        queue.append([lanes.queue, *lanes.problem, *lanes.live])
    yield "queue", np.array(queue)


def iterations():
    return dict(iterated(jax.tree.map(lambda a: a[ORDER], PROBLEMS), 3, 24))


ENDS = ("z", "f", "violation", "multipliers", "status", "iterations")


def solutions():
    wide, narrow = (Compiled(made_model(), width=width, options=OPTIONS) for width in (3, 2))
    functions.compile_lanes(wide, PROBLEMS)
    found = lanes_of.solve(wide, PROBLEMS, narrow)
    warm = PROBLEMS._replace(start=0.98 * found.z, hessian=found.hessian)
    for name, end in {"cold": found, "warm": lanes_of.solve(wide, warm)}.items():
        yield name, {part: getattr(end, part) for part in ENDS}


PARTS = {
    "subproblems": subproblems, "proposals": lambda: dict(proposals()),
    "drawn_parts": lambda: dict(drawn_parts()),
    "edges": lambda: dict(edges()), "merits": merits, "iterations": iterations,
    "solutions": lambda: dict(solutions()),
}  # fmt: skip
LOOSE = {"iterations": 1e-6, "solutions": 1e-5}  # the stiff correction, and where lanes end


@pytest.mark.parametrize("part", PARTS)
def test_numbers_are_those_that_are_kept(part):
    hold(FILE, part, PARTS[part](), LOOSE.get(part, RELATIVE))


if __name__ == "__main__":
    main(FILE, PARTS)
