"""Points of the shipped medium study by the batch, against one optimum at a time.

Slow: the derivatives take half a minute to compile where the cache does not have them.
"""

from pathlib import Path

import jax
import numpy as np
import pytest

import mdo
from mdo.optimise.axes import ParametricProblem, axes_of
from mdo.optimise.batch.iteration import INFEASIBLE
from mdo.optimise.idle_rows import distinct_rows
from mdo.optimise.levels.study_optimum import ITERATIONS, TOLERANCE
from mdo.optimise.many.chunk import statuses
from mdo.optimise.many.model import OUTPUTS, Goal, Lane, least, least_mass
from mdo.optimise.many.optima import Setting, find_optima
from mdo.optimise.many.points import OPTIONS, axis_costs, point_context, point_solver, solve_points
from mdo.optimise.optimum import attempt, find_optimum
from mdo.optimise.problem import make_problem
from mdo.optimise.starts import starting_designs
from mdo.optimise.status import FEASIBLE
from mdo.results.work import Work
from mdo.study import load_study

pytestmark = pytest.mark.slow
STUDY = Path(mdo.__file__).parents[1] / "studies" / "deck_medium.toml"
RANGES = {"fold_time": ("120 s", "480 s"), "power_available": ("6 kW", "12 kW")}


@pytest.fixture(scope="module")
def parametric():
    base = make_problem(load_study(STUDY))
    return ParametricProblem(base, axes_of(base, RANGES, "axes"))


@pytest.fixture(scope="module")
def solver(parametric):
    return point_solver(point_context(parametric.given, parametric.axes, parametric.problem.active))


@pytest.fixture(scope="module")
def optimum(parametric):
    return find_optimum(parametric.problem)


POINTS = np.array([[300.0, 9000.0], [420.0, 7000.0], [120.0, 8000.0]])


@pytest.fixture(scope="module")
def solved(solver, optimum):
    problem = solver.problem
    start = problem.unscale(problem.scale(optimum.design) + 0.02 * problem.active)
    goal = least_mass(len(POINTS), optimum.mass)
    return solve_points(solver, POINTS, np.tile(start, (len(POINTS), 1)), goal)


def test_values_and_slopes_are_those_of_the_chain(solver, optimum, solved):
    """The staged tangents against the chain's own derivatives, compiled as one function."""
    problem = solver.parametric.at(POINTS[0])
    own = problem.evaluate(solved.designs[0])
    z = solved.end.z[:1]
    parameters = solver.parametric.parameters(POINTS[:1])
    width = solver.lanes.width
    goal = least_mass(1, 1.0)
    data = Lane(solved.designs[:1], parameters.theta, parameters.prelude, *goal)
    many = jax.tree.map(lambda a: np.repeat(a, width, axis=0), data)
    value, slope = solver.lanes.model.slopes(np.repeat(z, width, axis=0), many)
    rows = np.asarray(value.c)[0][: problem.rows.counts.size][problem.counting]
    jacobian = np.asarray(slope.J)[0][: problem.rows.counts.size][problem.counting]
    np.testing.assert_allclose(float(value.f[0]), own.objective, rtol=1e-12)
    np.testing.assert_allclose(rows, own.rows, rtol=1e-9, atol=1e-10)
    np.testing.assert_allclose(jacobian, own.row_slopes, rtol=1e-8, atol=1e-8)
    np.testing.assert_allclose(np.asarray(slope.g)[0], own.objective_slope, rtol=1e-9, atol=1e-12)


def test_feasible_optima_agree(solver, optimum, solved):
    found = statuses(solved.end)
    assert list(found[:2]) == [FEASIBLE, FEASIBLE]
    for place in (0, 1):
        alone = find_optimum(solver.parametric.at(POINTS[place]), starts=1, first=optimum.design)
        assert solved.end.f[place] * optimum.mass == pytest.approx(alone.mass, rel=1e-7)
    assert solved.end.residual[:2].max() <= 1e-6


def test_infeasible_point_ends_at_a_least_violation_of_one_at_a_time(solver, optimum):
    """Each end against SLSQP from there: the violation of this point has valleys 9 % apart."""
    short = solver.parametric.at(POINTS[2])
    designs = [optimum.design, *(start.design for start in starting_designs(short, 3))]
    goal = least_mass(len(designs), optimum.mass)
    found = solve_points(
        solver, np.repeat(POINTS[2:], len(designs), axis=0), np.array(designs), goal
    )
    alone = find_optimum(short, starts=3, first=optimum.design)
    assert not alone.feasible
    ended = found.end.status == INFEASIBLE
    assert ended.any()
    # one at a time stops at a weight of 100 on the violation, so it may end a little higher; the
    # batch stops where a step promises to take away less than OPTIONS.least of it
    for x, violation in zip(found.designs[ended], found.end.violation[ended], strict=True):
        keep, _ = distinct_rows(short, x)
        least = attempt(short, x, keep, tolerance=TOLERANCE, iterations=ITERATIONS).violation
        assert 0.97 * least < violation < (1.0 + OPTIONS.least) * least
    # and a poorer valley is not far from the best of all starts
    assert found.end.violation[ended].min() < 1.1 * alone.violation


def test_costs_are_differences_of_optima(solver, optimum, solved):
    goal = least_mass(len(POINTS), optimum.mass)
    costs = axis_costs(solver, POINTS, solved, goal)[0] * optimum.mass
    step = 0.1  # 0.5 s less and another row carries at the first point
    ends = []
    for sign in (1.0, -1.0):
        moved = POINTS.copy()
        moved[:, 0] += sign * step
        ends.append(solve_points(solver, moved, solved.designs, goal, solved.end.hessian).end.f)
    slope = (ends[0] - ends[1]) * optimum.mass / (2.0 * step)
    np.testing.assert_allclose(costs[:2, 0], slope[:2], rtol=1e-3)
    assert (costs[:2, 0] < 0.0).all()


def test_limit_of_an_output_is_kept_and_costs(solver, optimum, solved):
    """Half way from what the lightest design takes to the least there is, at a heavier design."""
    power = OUTPUTS.index("peak_power")
    start, point = solved.designs[1:2], POINTS[1:2]
    lightest = solved.outputs[1, power]
    frugal = solve_points(solver, point, start, least("peak_power", 1, lightest))
    assert statuses(frugal.end)[0] == FEASIBLE
    assert frugal.outputs[0, power] < 0.999 * lightest
    limits = np.full((1, len(OUTPUTS)), np.inf)
    limits[0, power] = 0.5 * (frugal.outputs[0, power] + lightest)
    found = solve_points(solver, point, start, Goal(least_mass(1, optimum.mass).weights, limits))
    assert statuses(found.end)[0] == FEASIBLE
    assert found.outputs[0, power] == pytest.approx(limits[0, power], rel=1e-6)
    assert solved.end.f[1] < found.end.f[0] < frugal.outputs[0, 0] / optimum.mass


def test_levels_find_what_one_at_a_time_finds(parametric, optimum):
    points = np.array([[t, p] for t in np.linspace(260, 480, 6) for p in (7e3, 9e3, 12e3)])
    with Work(None, "0" * 64, scheduler="serial") as work:
        setting = Setting(parametric, parametric.problem.active, work, "points", lambda _: None)
        found = find_optima(setting, points)
    for number in (0, 7, 17):
        alone = find_optimum(parametric.at(points[number]), starts=2)
        assert bool(found.feasible[number]) == alone.feasible
        if alone.feasible:
            assert found.objective[number] == pytest.approx(alone.mass, rel=1e-6)
    assert found.counts_exist[found.feasible].all()
