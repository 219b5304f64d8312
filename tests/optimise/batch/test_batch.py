"""The batched optimiser on published problems, and its parts on problems with known answers."""

import jax
import jax.numpy as jnp
import numpy as np
import pytest

from mdo.optimise.batch.iteration import INFEASIBLE, OPTIMAL, Options
from mdo.optimise.batch.lanes import Solver, best_of
from mdo.optimise.batch.quadratic import Qp, solve_qp

from .hock_schittkowski import MODEL, PROBLEMS, VARIABLES, Problem, all_problems

OPTIONS = Options(
    nearest=8, reach=10.0, penalty=10.0, penalty_most=1e6, iterations=200, optimal=1e-7
)
# Printed starting points from which a method of descent ends at another local optimum, known for
# these: a second start is what finds the printed one.
OTHER_VALLEY = {2: ((1.2, 1.6), 4.941229318), 20: ((0.5, 0.9), 40.19872981)}


@pytest.fixture(scope="module")
def solver():
    return Solver(MODEL, width=16, options=OPTIONS)


@pytest.fixture(scope="module")
def ends(solver):
    return solver.solve(all_problems())


def close(value, printed):
    return value == pytest.approx(printed, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("place", range(len(PROBLEMS)), ids=[f"HS{p.number}" for p in PROBLEMS])
def test_printed_optimum_is_reached(ends, place):
    problem = PROBLEMS[place]
    assert ends.status[place] == OPTIMAL
    assert ends.violation[place] <= OPTIONS.feasible
    assert ends.residual[place] <= OPTIONS.optimal
    if problem.number in OTHER_VALLEY:
        assert close(ends.f[place], OTHER_VALLEY[problem.number][1])
    else:
        assert close(ends.f[place], problem.optimum)


def test_second_start_finds_the_printed_optimum(solver):
    chosen = tuple(p._replace(start=OTHER_VALLEY[p.number][0])
                   for p in PROBLEMS if p.number in OTHER_VALLEY)  # fmt: skip
    problems = all_problems(chosen)
    ends = solver.solve(problems)
    for f, problem in zip(ends.f, chosen, strict=True):
        assert close(f, problem.optimum)


def test_best_of_several_starts(ends, solver):
    place = [p.number for p in PROBLEMS].index(2)
    two = jax.tree.map(lambda a: a[[place, place]], all_problems())
    start = two.start.copy()
    start[1, :2] = OTHER_VALLEY[2][0]
    found = best_of(solver.solve(two._replace(start=start)), np.array([0, 0]))
    assert found.f.shape == (1,)
    assert close(found.f[0], PROBLEMS[place].optimum)


def test_lanes_are_refilled_and_order_does_not_matter(ends, solver):
    problems = all_problems()
    order = np.arange(len(PROBLEMS))[::-1]
    turned = jax.tree.map(lambda a: a[order], problems)
    again = solver.solve(turned)
    np.testing.assert_allclose(again.f[order], ends.f, rtol=1e-9, atol=1e-9)
    assert (again.status[order] == ends.status).all()


def test_compiles_once(solver):
    before = solver.propose._cache_size(), solver.slopes._cache_size()
    solver.solve(all_problems(PROBLEMS[:3]))
    assert (solver.propose._cache_size(), solver.slopes._cache_size()) == before == (1, 1)


def test_multipliers_are_the_slopes_of_the_optimum(ends):
    """HS43: multipliers 1, 0, 2 of its three rows (from memory)."""
    place = [p.number for p in PROBLEMS].index(43)
    np.testing.assert_allclose(ends.multipliers[place, :3], [1.0, 0.0, 2.0], atol=1e-4)


def test_warm_start_with_hessian_needs_fewer_iterations(ends, solver):
    place = [p.number for p in PROBLEMS].index(100)
    problems = jax.tree.map(lambda a: a[[place]], all_problems())
    near = problems._replace(start=ends.z[[place]] * 1.001, hessian=ends.hessian[[place]])
    again = solver.solve(near)
    assert again.status[0] == OPTIMAL
    assert again.iterations[0] < ends.iterations[place] / 2
    assert close(again.f[0], PROBLEMS[place].optimum)


def test_infeasible_problem_ends_at_its_least_violation(solver):
    """HS24 with bounds that leave no point: x2 >= 4 where the rows want x2 <= x1 / sqrt(3)."""
    place = [p.number for p in PROBLEMS].index(24)
    problems = jax.tree.map(lambda a: a[[place]], all_problems())
    lower, upper = problems.lower.copy(), problems.upper.copy()
    lower[0, :2], upper[0, :2] = (0.0, 4.0), (1.0, 9.0)
    start = problems.start.copy()
    start[0, :2] = (0.5, 6.0)
    ends = solver.solve(problems._replace(lower=lower, upper=upper, start=start))
    assert ends.status[0] == INFEASIBLE
    # rows at (x1, 4): x1 / sqrt(3) - 4 and 6 - x1 - 4 sqrt(3); the first fails most, at x1 = 1
    assert ends.violation[0] == pytest.approx(4.0 - 1.0 / np.sqrt(3.0), rel=1e-3)


def qp(**changes):
    n, k = 2, 1
    plain = Qp(
        H=jnp.eye(n), g=jnp.zeros(n), A=jnp.ones((k, n)), c=-jnp.ones(k),
        lower=-jnp.ones(n) * 5, upper=jnp.ones(n) * 5, rho=jnp.array(100.0),
    )  # fmt: skip
    return plain._replace(**changes)


def test_qp_meets_a_row():
    """Nearest point to the origin on x + y = 1; its multiplier is 1/2."""
    end = solve_qp(qp())
    np.testing.assert_allclose(end.d, [0.5, 0.5], atol=1e-9)
    np.testing.assert_allclose(end.rows, [0.5], atol=1e-8)
    assert end.s < 1e-9


def test_qp_meets_a_bound():
    end = solve_qp(qp(upper=jnp.array([0.2, 5.0])))
    np.testing.assert_allclose(end.d, [0.2, 0.8], atol=1e-9)
    np.testing.assert_allclose(end.at_upper[0], 0.6, atol=1e-8)


def test_qp_without_a_point_has_the_least_violation():
    """x >= 1 and -x >= 1 contradict each other by 1 each."""
    end = solve_qp(qp(A=jnp.array([[1.0, 0.0], [-1.0, 0.0]]), c=-jnp.ones(2)))
    np.testing.assert_allclose(end.s, 1.0, atol=1e-8)
    np.testing.assert_allclose(end.d, 0.0, atol=1e-8)


def test_frozen_variable_stays(solver):
    place = [p.number for p in PROBLEMS].index(12)
    problems = jax.tree.map(lambda a: a[[place]], all_problems())
    lower, upper = problems.lower.copy(), problems.upper.copy()
    lower[0, 0] = upper[0, 0] = 1.0
    ends = solver.solve(problems._replace(lower=lower, upper=upper))
    # min y^2 - 8 y - 6.5 with y^2 <= 21, at y = 4
    assert ends.z[0, 0] == 1.0
    assert close(ends.f[0], -22.5)


def test_every_problem_fits_the_padding():
    for problem in PROBLEMS:
        assert isinstance(problem, Problem)
        assert len(problem.start) <= VARIABLES
