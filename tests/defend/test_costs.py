"""Requirement costs against linear programmes solved again and optima found again.

The references are outside the module: scipy's linear programmes for intervals of degenerate
problems, differences of re-optimised masses for the costs of a study, rows evaluated at
re-optimised designs for the ranges.
"""

from __future__ import annotations

import copy
import importlib.util
import math
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import NamedTuple

import jax
import numpy as np
import pytest
from scipy.optimize import linprog

from mdo.defend.costs import ranges
from mdo.defend.costs.active_set import active_set_of, first_zero, follow
from mdo.defend.costs.multiplier_interval import multiplier_interval
from mdo.defend.costs.multipliers import (
    CHANGE,
    INFEASIBLE,
    LIMIT,
    NONE,
    NOT_SOUGHT,
    Cost,
    CostRange,
    costs_table,
    find_costs,
)
from mdo.defend.costs.ranges import find_range, find_ranges, knob_at, reach
from mdo.defend.tables.design import life_stress_price
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.knob_list import all_knobs, levers_of
from mdo.optimise.knobs import Knob, Move, direction, turned
from mdo.optimise.optimum import Optimum, find_optimum
from mdo.optimise.problem import DesignProblem, make_problem
from mdo.optimise.reoptimise import reoptimise
from mdo.study.study import load_study, study_from_dict

ROOT = Path(__file__).parents[2]

# A life stress at which the optima of the shipped studies stand on more limits; loads in closed
# form, whose slopes cost a thousandth (those of the shipped level: the costs at forty points).
SHORT = {
    "actuator.declared_life_stress": "180 MPa",
    "fidelity.optimise.hinge_moment": "strip",
}
POWER = "supply.power_available"


class Solved(NamedTuple):
    """A study, its optimum, its knobs and its costs by name."""

    problem: DesignProblem
    optimum: Optimum
    knobs: dict[str, Knob]
    costs: dict[str, Cost]


def solved(problem: DesignProblem, *names: str) -> Solved:
    optimum = find_optimum(problem, starts=2)
    assert optimum.feasible
    knobs = {knob.name: knob for knob in all_knobs(problem) + levers_of(problem)}
    found = find_costs(optimum, [knobs[name] for name in names] if names else None)
    return Solved(problem, optimum, knobs, {cost.knob.name: cost for cost in found})


@pytest.fixture(scope="module")
def small() -> Solved:
    study = load_study(ROOT / "studies" / "deck_small.toml")
    return solved(make_problem(study.with_values(SHORT)))


def mass_at(case: Solved, knob: Knob, value: float) -> float:
    best = reoptimise(turned(case.problem, {knob: value}), case.optimum.design, starts=0)
    assert best.feasible
    return best.mass


# ---- Intervals of multipliers: problems whose answer is known or found by scipy.


def test_two_rows_that_say_the_same_give_the_one_sided_slopes():
    # min x with x >= p and x >= 1, at p = 1: dearer for p above 1, nothing gained below
    found = multiplier_interval(np.array([[1.0, 1.0]]), np.array([1.0]), np.array([1.0, 0.0]))
    assert (found.low, found.high) == pytest.approx((0.0, 1.0), abs=1e-9)


def test_knob_that_moves_both_copies_has_one_cost():
    found = multiplier_interval(np.array([[1.0, 1.0]]), np.array([1.0]), np.array([1.0, 1.0]))
    assert found.low == found.high == pytest.approx(1.0)


def test_three_rows_through_one_point_give_the_interval_worked_by_hand():
    # min x + y with x >= p, y >= 1, x + y >= 3 p - 1 at p = 1: l1 + l3 = 1 = l2 + l3, so that the
    # cost l1 + 3 l3 = 1 + 2 l3 lies between 1 (l3 = 0) and 3 (l3 = 1)
    columns = np.array([[1.0, 0.0, 1.0], [0.0, 1.0, 1.0]])
    found = multiplier_interval(columns, np.array([1.0, 1.0]), np.array([1.0, 0.0, 3.0]))
    assert (found.low, found.high) == pytest.approx((1.0, 3.0), abs=1e-9)
    assert found.at_low == pytest.approx([1.0, 1.0, 0.0], abs=1e-9)
    assert found.at_high == pytest.approx([0.0, 0.0, 1.0], abs=1e-9)


def test_scale_of_the_rows_does_not_matter():
    columns = np.array([[1.0, 0.0, 1.0], [0.0, 1.0, 1.0]])
    sizes = np.array([1e6, 1e-5, 1.0])
    found = multiplier_interval(
        columns * sizes, np.array([1.0, 1.0]), np.array([1.0, 0.0, 3.0]) * sizes
    )
    assert (found.low, found.high) == pytest.approx((1.0, 3.0), abs=1e-8)


def test_variable_pinned_from_both_sides_cannot_be_made_harder():
    # min x with x >= 1 and x <= p at p = 1: no x is left for a smaller p, a larger one is no gain
    found = multiplier_interval(np.array([[1.0, -1.0]]), np.array([1.0]), np.array([0.0, -1.0]))
    assert found.low == -math.inf
    assert found.high == pytest.approx(0.0, abs=1e-9)


def test_constant_row_at_its_limit_cannot_be_made_harder():
    # a gate that no design can move, exactly met: 1 - p >= 0 at p = 1
    found = multiplier_interval(np.array([[1.0, 0.0]]), np.array([1.0]), np.array([0.0, 1.0]))
    assert found.low == pytest.approx(0.0, abs=1e-9)
    assert found.high == math.inf


def test_independent_rows_give_one_number():
    columns = np.array([[2.0, 0.0], [1.0, 4.0]])
    multipliers = np.linalg.solve(columns, [2.0, 3.0])
    found = multiplier_interval(columns, np.array([2.0, 3.0]), np.array([5.0, 7.0]))
    assert found.low == found.high == pytest.approx(float(multipliers @ [5.0, 7.0]))


@pytest.mark.parametrize("seed", range(12))
def test_interval_of_a_degenerate_vertex_is_the_slope_both_ways_of_the_programme_solved_again(seed):
    generator = np.random.default_rng(seed)
    normals = generator.normal(size=(7, 3))  # seven planes through one point in space
    gradient = normals.T @ generator.uniform(0.1, 1.0, 7)
    turn = generator.normal(size=7)  # how each plane moves with the knob
    point = generator.normal(size=3)

    def least(change: float) -> float:
        limits = normals @ point + turn * change
        answer = linprog(gradient, -normals, -limits, bounds=[(None, None)] * 3)
        return float(answer.fun) if answer.status == 0 else math.inf  # infeasible

    found = multiplier_interval(normals.T, gradient, turn)
    step = 1e-3  # exact: the least is piecewise linear
    assert found.high == pytest.approx((least(step) - least(0.0)) / step, abs=1e-6)
    assert found.low == pytest.approx((least(0.0) - least(-step)) / step, abs=1e-6)


# ---- Costs of a study.


@pytest.mark.parametrize(
    ("name", "share"),
    [
        ("fold_time", 1e-4),
        ("torque_margin", 1e-4),
        ("flight_load_factor", 1e-5),
        ("dead_time", 1e-3),
        ("return_time", 1e-3),
    ],
)
def test_cost_equals_the_difference_of_optima_found_again(small, name, share):
    knob = small.knobs[name]
    step = share * knob.value
    difference = mass_at(small, knob, knob.value + step) - mass_at(small, knob, knob.value - step)
    assert small.costs[name].unique
    assert small.costs[name].low == pytest.approx(difference / (2.0 * step), rel=1e-5)


def test_dead_time_costs_what_fold_time_does_and_saves_holding(small):
    # a second of dead time is a second less to heat in; a second less of fold time is one more to
    # hold hot in while the warmed set cools, which dead time is not
    dead, fold = small.costs["dead_time"].low, small.costs["fold_time"].low
    assert 0.0 < dead < -fold


def test_pitch_of_the_hinge_axis_costs_the_difference_of_optima_found_again(small):
    knob, step = small.knobs["hinge_axis_pitch"], 1e-5
    difference = mass_at(small, knob, step) - mass_at(small, knob, -step)
    cost = small.costs["hinge_axis_pitch"]
    assert cost.low == pytest.approx(difference / (2.0 * step), rel=1e-4)
    assert cost.tightening > 0.0
    assert cost.note.startswith("dearer as it rises" if difference > 0.0 else "dearer as it falls")


def test_price_of_life_stress_is_its_cost(small):
    optimum = small.optimum
    at = Appraisal("optimum", small.problem, optimum.design,
                   small.problem.values(optimum.design), optimum, "test")  # fmt: skip
    cost = small.costs["declared_life_stress"]
    assert cost.tightening > 0.0
    assert life_stress_price(at) == pytest.approx(cost.tightening, rel=1e-6)


def test_tightening_adds_mass_and_relaxing_saves_it(small):
    for name, cost in small.costs.items():
        # but for the time in which a warmed set cools: its driver holds hot for all of it
        if name != "return_time":
            assert cost.tightening >= cost.relaxing >= 0.0
    assert small.costs["return_time"].relaxing < 0.0 < small.costs["return_time"].low
    fold_time, moments = small.costs["fold_time"], small.costs["moment_scale"]
    assert fold_time.low < 0.0 < fold_time.tightening
    assert moments.tightening == pytest.approx(0.01 * moments.high)


def test_requirement_with_room_costs_nothing_and_says_so(small):
    cost = small.costs["power_available"]
    assert cost.none
    assert cost.note == NONE
    assert cost.tightening == cost.relaxing == 0.0
    knob = cost.knob
    assert mass_at(small, knob, 0.999 * knob.value) == pytest.approx(small.optimum.mass, rel=1e-9)


def test_knob_at_the_end_of_its_range_cannot_be_relaxed(small):
    cost = small.costs["added_moment"]
    assert cost.knob.value == cost.knob.low
    assert not cost.can_relax
    assert "cannot be relaxed" in cost.note
    step = 1e-4
    ahead = (mass_at(small, cost.knob, step) - small.optimum.mass) / step
    assert cost.high == pytest.approx(ahead, rel=1e-2)  # one-sided: error of the order of the step


def test_declared_life_that_is_used_up_leaves_no_design_for_more_folds(small):
    # declared: 10,000 cycles; asked for: 1,000 folds with a factor of 10
    cost = small.costs["folds"]
    assert (cost.low, cost.high) == (0.0, math.inf)
    assert "no design would be left" in cost.note
    assert cost.carried_by == "Life (Miner) (up set)"
    more = turned(small.problem, {cost.knob: 1001.0})
    assert reoptimise(more, small.optimum.design).blocked.size == 1
    found = find_range(small.optimum, cost)
    assert (found.high.value, found.high.why) == (1000.0, INFEASIBLE)


def test_parts_of_a_cost_add_up_and_name_their_rows(small):
    for cost in small.costs.values():
        if not cost.none:
            assert sum(one.amount for one in cost.carriers) == pytest.approx(cost.high, rel=1e-6)
            assert cost.carriers[0].text in cost.carried_by
    assert "Fold time (flight_fold, fold)" in small.costs["fold_time"].carried_by
    assert "Mass of the same design" in small.costs["controller_channel_mass"].carried_by
    assert small.costs["power_available"].carried_by == ""


def test_what_moves_the_loads_and_what_does_not_are_arguments_of_one_kind(small):
    # of two kinds, the slope of the whole chain is compiled twice
    along = direction(small.problem, small.knobs["moment_scale"])
    turned = small.problem.chain.prelude.slope(small.problem.theta, along)
    assert {type(leaf) for leaf in jax.tree.leaves(turned)} == {np.ndarray}


def test_infeasible_study_has_no_costs(small):
    with pytest.raises(ValueError, match="the study is infeasible"):
        find_costs(replace(small.optimum, feasible=False))


def test_table_is_per_step_and_dearest_first(small):
    table = costs_table(tuple(small.costs.values()))
    assert list(table["tightening"]) == sorted(table["tightening"], key=abs, reverse=True)
    row = table.set_index("name").loc["fold_time"]
    assert row["per"] == "10 s"
    assert row["cost_low"] == pytest.approx(10.0 * small.costs["fold_time"].low)
    row = table.set_index("name").loc["torque_margin"]
    assert row["cost_high"] == pytest.approx(0.05 * small.costs["torque_margin"].high)
    assert math.isnan(row["range_low"])
    assert row["range_low_end"] == ""


# ---- The same case twice under two names: degenerate by construction.


@pytest.fixture(scope="module")
def twice() -> Solved:
    """The medium study with its calm stow replaced by its windy one under another name."""
    study = load_study(ROOT / "studies" / "deck_medium.toml").with_values(SHORT)
    content = copy.deepcopy(dict(study.content))
    cases = {case["id"]: case for case in content["case"]}
    again = {**cases["stow_wind"], "id": "stow_again"}
    content["case"] = [again if case["id"] == "stow_calm" else case for case in content["case"]]
    return solved(make_problem(study_from_dict(content)), "deck_wind")


def wind_of(case: Solved, name: str) -> Knob:
    both = case.knobs["deck_wind"]
    return replace(both, name=name, moves=(Move(f"case.{name}.wind_speed", both.value),))


def test_one_of_two_cases_that_ask_the_same_costs_but_saves_nothing(twice):
    knobs = [wind_of(twice, name) for name in ("stow_wind", "stow_again")]
    both = twice.costs["deck_wind"]
    assert both.unique
    assert both.high > 1.0
    for cost in find_costs(twice.optimum, knobs):
        assert not cost.unique
        assert cost.low == 0.0
        assert cost.relaxing == 0.0
        assert cost.high == pytest.approx(both.high, rel=1e-6)
        assert "gains nothing" in cost.note
        assert cost.knob.name in cost.carried_by


def test_one_sided_costs_are_the_one_sided_differences_of_optima(twice):
    knob = wind_of(twice, "stow_wind")
    cost = find_costs(twice.optimum, [knob])[0]
    step = 1e-4 * knob.value
    ahead = (mass_at(twice, knob, knob.value + step) - twice.optimum.mass) / step
    behind = (twice.optimum.mass - mass_at(twice, knob, knob.value - step)) / step
    assert cost.high == pytest.approx(ahead, rel=1e-3)
    assert behind == pytest.approx(0.0, abs=1e-5 * ahead)


def test_degenerate_cost_has_no_range_on_either_side(twice):
    knob = wind_of(twice, "stow_wind")
    cost = find_costs(twice.optimum, [knob])[0]
    found = find_range(twice.optimum, cost)
    assert found.low.value == found.high.value == knob.value
    assert found.low.why == found.high.why == CHANGE
    assert "stow_wind" in found.low.text
    assert "stow_again" in found.high.text
    assert (found.low.cost, found.high.cost) == (cost.low, cost.high)


# ---- Ranges.


def test_first_zero_is_the_first_root_of_the_parabolas():
    curves = [np.polynomial.Polynomial.fromroots(roots) for roots in ([3.0, 9.0], [5.0, -4.0])]
    curves += [np.polynomial.Polynomial([4.0, 0.0, 1.0]), -curves.pop()]  # no root; (5 - x)(x + 4)
    places = np.array([1.0, 0.0, 1.5])
    values = np.array([[curve(place) for curve in curves] for place in places])
    assert first_zero(places, values, 10.0) == pytest.approx(3.0)
    assert first_zero(places, values[:, 1:], 10.0) == pytest.approx(5.0)
    assert first_zero(places, values[:, 1:], -10.0) == pytest.approx(-4.0)
    assert first_zero(places, values[:, 1:2], 10.0) is None
    assert first_zero(places, values, 2.9) is None
    assert first_zero(places[:2], np.array([[4.0], [6.0]]), 10.0) == pytest.approx(3.0)


def test_held_active_set_leads_to_the_optimum_until_it_changes(small):
    knob = small.knobs["fold_time"]
    kept = active_set_of(small.optimum)
    inside = turned(small.problem, {knob: 174.0})
    held = follow(inside, small.optimum.design, kept)
    best = reoptimise(inside, small.optimum.design, starts=0)
    assert held is not None
    assert held.signs.min() > 0.0
    moved = small.problem.active
    assert held.design[moved] == pytest.approx(best.design[moved], rel=1e-6)
    beyond = follow(turned(small.problem, {knob: 90.0}), held.design, kept)
    assert beyond is not None
    assert beyond.signs.min() < 0.0


@pytest.fixture(scope="module")
def fold_range(small) -> CostRange:
    solve, solved = ranges._Optima.solve, []

    def counted(self, *given):
        solved.append(given)
        return solve(self, *given)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ranges._Optima, "solve", counted)
        both = find_range(small.optimum, small.costs["fold_time"])
    assert 1 <= len(solved) <= 16
    return both


def limits_at(case: Solved, knob: Knob, value: float) -> set[str]:
    """Rows at their limit at the optimum found again, in words."""
    problem = turned(case.problem, {knob: value})
    best = reoptimise(problem, case.optimum.design, starts=0)
    rows = problem.evaluate(best.design).rows
    return {problem.describe(problem.counting_labels[i]) for i in np.flatnonzero(rows < 1e-6)}


def test_range_ends_where_the_active_set_changes(small, fold_range):
    knob, found = small.knobs["fold_time"], fold_range
    here = limits_at(small, knob, knob.value)
    low = found.low.value
    assert 90.0 < low < knob.value
    assert limits_at(small, knob, low + 0.01 * (knob.value - low)) == here
    new = limits_at(small, knob, low - 0.015 * (knob.value - low)) - here
    assert new
    assert all(text in found.low.text for text in new)
    # the other way one row comes to its limit while others leave theirs
    beyond = limits_at(small, knob, found.high.value + 0.015 * (found.high.value - knob.value))
    assert beyond ^ here
    assert all(text in found.high.text for text in beyond ^ here)


@pytest.mark.slow
def test_range_ends_where_a_variable_comes_to_its_bound(small):
    # the gear ratio rises with the time to fold: that is no row, but it ends the range
    gear = small.problem.labels.index("gear_ratio")
    bound = 1.002 * float(small.optimum.design[gear])
    held = make_problem(small.problem.study.with_values({"design.gear_ratio": {"upper": bound}}))
    case = solved(held, "fold_time")
    knob = case.knobs["fold_time"]
    found = find_range(case.optimum, case.costs["fold_time"])
    assert "gear ratio at its upper bound" in found.high.text
    beyond = found.high.value + 0.015 * (found.high.value - knob.value)
    best = reoptimise(turned(case.problem, {knob: beyond}), case.optimum.design, starts=0)
    assert best.design[gear] == pytest.approx(bound, rel=1e-6)
    assert case.optimum.design[gear] < 0.9999 * bound


def test_cost_at_the_end_of_its_range_is_that_of_a_study_asked_there(small, fold_range):
    knob, end = small.knobs["fold_time"], fold_range.low
    step = 2e-4 * end.value
    ahead, behind = (mass_at(small, knob, end.value + n * step) for n in (2, 1))
    # a difference on the unchanged side, half a step and more from the end
    assert end.cost == pytest.approx((ahead - behind) / step, rel=5e-3)


def test_range_stops_where_the_knob_does(small):
    cost = small.costs["overrun_factor"]
    farthest, limited = reach(cost, small.optimum.mass, -1.0)
    assert (farthest, limited) == (cost.knob.low, True)
    end = find_range(small.optimum, cost).low
    assert (end.value, end.why) == (cost.knob.low, LIMIT)


def test_reach_is_bounded_by_value_mass_and_kelvins(small):
    cost, hot = small.costs["fold_time"], small.costs["bay_hot"]
    assert reach(cost, 1e9, 1.0)[0] == pytest.approx(1.5 * cost.knob.value)
    assert reach(cost, 0.5, 1.0)[0] == pytest.approx(cost.knob.value + 0.15 / abs(cost.low))
    assert reach(hot, 1e9, -1.0) == (hot.knob.value - 50.0, False)
    moment = replace(small.costs["added_moment"], low=0.0, high=0.0)  # value and cost of nothing
    assert reach(moment, 1.0, 1.0) == (100.0, False)


def test_knob_moved_along_gives_the_same_fields(small):
    knob = small.knobs["deck_wind"]
    assert knob_at(knob, 9.0).fields(10.0) == pytest.approx(knob.fields(10.0))


def test_costs_of_nothing_are_given_no_range(small):
    costs = (small.costs["power_available"], small.costs["dead_time"])
    told: list[str] = []
    found = find_ranges(small.optimum, costs, told.append)
    assert found[0].range is NOT_SOUGHT
    assert found[1].range is not NOT_SOUGHT
    assert told == ["Range of cost 1 of 1: Dead time"]
    row = costs_table(found).set_index("name").loc["dead_time"]
    assert row["range_low"] < small.knobs["dead_time"].value < row["range_high"]


@pytest.mark.slow
def test_range_that_ends_in_infeasibility_says_so():
    study = load_study(ROOT / "studies" / "deck_small.toml")
    short, last = (  # the last power with a design lies between 201.5 and 201.8 W
        solved(make_problem(study.with_values({**SHORT, POWER: f"{power} W"})), "power_available")
        for power in (202.3, 201.78)
    )
    cost = last.costs["power_available"]
    end = find_range(last.optimum, cost).low
    assert end.why == INFEASIBLE
    assert "no design" in end.text
    assert end.cost < 5.0 * short.costs["power_available"].low  # it rises towards the wall
    wall = turned(last.problem, {cost.knob: 201.5})
    assert not find_optimum(wall, starts=4, first=last.optimum.design).feasible


@pytest.mark.slow
@pytest.mark.parametrize("name", ["deck_small", "deck_medium", "deck_large"])
def test_costs_at_forty_requirement_points(name):
    benchmark = benchmark_module()
    problem = make_problem(load_study(ROOT / "studies" / f"{name}.toml"))
    report = benchmark.compare(
        problem, find_optimum(problem, starts=2), points=40, checked=("fold_time", "deck_wind")
    )
    errors = [one.error for one in report.same]
    assert report.points >= 30
    assert max(errors) <= 1e-3
    assert float(np.median(errors)) <= 1e-5


def benchmark_module() -> ModuleType:
    path = ROOT / "benchmarks" / "requirement_costs.py"
    spec = importlib.util.spec_from_file_location("requirement_costs", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
