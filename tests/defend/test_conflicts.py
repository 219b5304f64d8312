"""Conflicts: boundaries against bisection and by hand, pairs, bounds, costs and rounding."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest

import mdo
from mdo.defend.conflicts.conflicts import NO_CONFLICTS, Conflicts, conflicts_table, find_conflicts
from mdo.defend.conflicts.relaxation import least_relaxation, turning
from mdo.defend.conflicts.search import Search, outward
from mdo.defend.conflicts.turning_costs import cost_of, value_at, value_slope
from mdo.optimise.knob_list import all_knobs
from mdo.optimise.knobs import Knob, turned
from mdo.optimise.optimum import Optimum, find_optimum
from mdo.optimise.problem import DesignProblem, make_problem

pytestmark = pytest.mark.slow  # a minute and more of optima

STUDIES = Path(__file__).parents[2] / "studies"
AS, LOT, SOAK = 160.0, 10.0, 120.0  # degC, K, degC: of the card and of the changed studies
HOT = {"requirements.self_start_gate": "55 K", "case.hot_soak.soak_temperature": "120 degC"}
QUICK = {"requirements.fold_time": "40 s"}


class Case(NamedTuple):
    """A study that is infeasible, its optimum and its conflicts."""

    problem: DesignProblem
    optimum: Optimum
    conflicts: Conflicts


def problem_of(name: str, changes: dict[str, Any]) -> DesignProblem:
    return make_problem(mdo.load_study(STUDIES / f"{name}.toml").with_values(changes))


def knobs_of(problem: DesignProblem, *names: str) -> list[Knob]:
    found = {knob.name: knob for knob in all_knobs(problem)}
    return [found[name] for name in names]


def solve(name: str, changes: dict[str, Any], *names: str) -> Case:
    problem = problem_of(name, changes)
    optimum = find_optimum(problem)
    return Case(problem, optimum, find_conflicts(optimum, knobs_of(problem, *names)))


@pytest.fixture(scope="module")
def small() -> DesignProblem:
    return problem_of("deck_small", {})


@pytest.fixture(scope="module")
def feasible(small: DesignProblem) -> Optimum:
    return find_optimum(small, starts=1)


@pytest.fixture(scope="module")
def quick() -> Case:
    return solve("deck_small", QUICK, "fold_time", "return_time", "torque_margin")


@pytest.fixture(scope="module")
def quick_and_hot() -> Case:
    return solve("deck_small", QUICK | HOT, "fold_time", "self_start_gate", "lot_tolerance")


def test_a_feasible_study_has_no_conflicts(small: DesignProblem, feasible: Optimum) -> None:
    assert find_conflicts(feasible) == NO_CONFLICTS
    assert conflicts_table(NO_CONFLICTS).empty


def test_the_relaxation_comes_back_to_the_boundary_of_a_bisection(quick: Case) -> None:
    answer = quick.conflicts.requirements[0]
    assert answer.sufficient
    assert answer.knobs[0].name == "fold_time"
    problem = quick.problem
    good, bad = 90.0, 45.0
    first = find_optimum(turned(problem, {answer.knobs[0]: good}), starts=1)
    assert first.feasible
    near = first.design
    while good / bad > 1.006:
        middle = math.sqrt(good * bad)
        found = find_optimum(turned(problem, {answer.knobs[0]: middle}), starts=0, first=near)
        good, bad = (middle, bad) if found.feasible else (good, middle)
        near = found.design if found.feasible else near
    assert not find_optimum(turned(problem, {answer.knobs[0]: bad}), starts=2).feasible
    assert bad * 0.999 < answer.boundary[0] < good * 1.001
    assert answer.boundary[0] <= answer.settings[0] <= 1.01 * answer.boundary[0]
    assert bad * 0.99 < answer.short[0] < answer.boundary[0]


def test_it_is_feasible_at_the_stated_value_and_not_just_short(quick: Case) -> None:
    answer = quick.conflicts.requirements[0]
    stated = find_optimum(turned(quick.problem, {answer.knobs[0]: answer.settings[0]}), starts=2)
    assert stated.feasible
    assert stated.mass == pytest.approx(answer.mass, rel=1e-4)
    short = find_optimum(turned(quick.problem, {answer.knobs[0]: answer.short[0]}), starts=2)
    assert not short.feasible
    assert answer.short_violation > 1e-6
    assert short.violation >= 0.5 * answer.short_violation


def test_requirements_that_do_not_help_say_so(quick: Case) -> None:
    others = {one.knobs[0].name: one for one in quick.conflicts.requirements[1:]}
    assert not others["return_time"].sufficient
    assert others["return_time"].least_violation == pytest.approx(quick.conflicts.violation)
    margin = others["torque_margin"]
    assert not margin.sufficient
    assert margin.least_at == (0.0,)
    turned_out = turned(quick.problem, {margin.knobs[0]: 0.0})
    end = find_optimum(turned_out, starts=1, first=quick.optimum.design)
    assert not end.feasible
    assert margin.least_violation == pytest.approx(end.violation, rel=0.01)
    assert any("Fold time" in text for text in margin.failing)


def test_violation_is_the_one_of_the_optimum(quick: Case) -> None:
    assert quick.conflicts.violation == pytest.approx(quick.optimum.violation, rel=0.01)
    assert any("Fold time" in text for text in quick.conflicts.core)


def test_a_gate_that_fails_whatever_the_design_is_relaxed_to_the_value_by_hand(
    feasible: Optimum,
) -> None:
    case = solve("deck_small", HOT, "self_start_gate", "fold_time")
    assert case.optimum.blocked.size
    gate, time = case.conflicts.requirements
    assert gate.knobs[0].name == "self_start_gate"
    assert gate.boundary[0] == pytest.approx(AS - LOT - SOAK, abs=1e-4)
    assert gate.settings[0] == pytest.approx(30.0)
    assert gate.mass == pytest.approx(feasible.mass, rel=1e-6)
    assert not time.sufficient
    assert time.least_violation == pytest.approx((SOAK + LOT + 55.0 - AS) / 10.0)
    assert "hot_soak" in time.failing[0]


@pytest.mark.slow
def test_two_that_are_impossible_alone_are_found_together(quick_and_hot: Case) -> None:
    conflicts, problem = quick_and_hot.conflicts, quick_and_hot.problem
    assert not any(one.sufficient for one in conflicts.requirements)
    ends = {"fold_time": 1e4, "self_start_gate": 0.0, "lot_tolerance": 0.0}
    for knob in knobs_of(problem, *ends):
        assert not find_optimum(turned(problem, {knob: ends[knob.name]}), starts=1).feasible
    (pair,) = conflicts.pairs
    assert conflicts.open_pairs == 0
    assert [knob.name for knob in pair.knobs] == ["fold_time", "self_start_gate"]
    assert pair.boundary[1] == pytest.approx(AS - LOT - SOAK, abs=1e-3)
    at = dict(zip(pair.knobs, pair.settings, strict=True))
    assert find_optimum(turned(problem, at), starts=1).feasible
    short = dict(zip(pair.knobs, pair.short, strict=True))
    assert not find_optimum(turned(problem, short), starts=1).feasible


@pytest.mark.slow
def test_the_boundary_of_a_pair_is_that_of_each_with_the_other_free(
    quick: Case, quick_and_hot: Case
) -> None:
    alone, pair = quick.conflicts.requirements[0], quick_and_hot.conflicts.pairs[0]
    assert pair.boundary[0] == pytest.approx(alone.boundary[0], rel=1e-3)
    assert pair.mass == pytest.approx(alone.mass, rel=1e-4)


@pytest.mark.slow
def test_table_has_a_line_per_knob_and_verified_values(quick_and_hot: Case) -> None:
    table = conflicts_table(quick_and_hot.conflicts).set_index(["what", "knob"])
    assert set(table.index.get_level_values("what")) == {"alone", "pair"}
    pair = table.loc["pair"]
    assert pair["answer"].nunique() == 1
    assert pair.loc["fold_time", "change"] == pytest.approx(pair.loc["fold_time", "value"] - 40.0)
    assert pair.loc["self_start_gate", "cost"] == pytest.approx(2.5)
    assert (pair["system_mass"] > 0.0).all()
    assert (pair["violation_short"] > 0.0).all()
    assert (table.loc["alone", "note"] == "not by itself").all()
    assert table.loc["alone", "value"].isna().all()


@pytest.mark.parametrize("name", ["fold_time", "torque_margin", "low_voltage_ratio"])
def test_gains_are_the_slopes_of_the_least_violation(quick: Case, name: str) -> None:
    (knob,) = knobs_of(quick.problem, name)
    search = Search(quick.optimum, [knob])
    cost = 1e-2  # the least violation is found to about 5e-6: a smaller step measures that
    moved = turning(turned(quick.problem, {knob: value_at(knob, cost)}), ())
    starts = (search.designs[0], quick.optimum.design)
    after = min(least_relaxation(moved, x, (), search.rows).slack for x in starts)
    difference = (search.violation - after) / cost
    assert search.certificate.gains[0] == pytest.approx(difference, rel=0.02)
    assert search.certificate.weights.sum() == pytest.approx(1.0)
    assert search.certificate.residual < 1e-4


def test_directions_give_the_parameters_of_the_turned_study(small: DesignProblem) -> None:
    names = ("fold_time", "torque_margin", "bay_hot", "angle_range", "flight_load_factor", "folds")
    for knob in knobs_of(small, *names):
        turn = turning(small, (knob,))
        costs = [0.4 * turn.limits[0]]
        exact = np.asarray(turn.at(turn.values(costs)).theta)
        np.testing.assert_allclose(turn.near(costs).theta, exact, rtol=1e-9, atol=1e-12)
        assert turn.linear


def test_costs_by_hand(small: DesignProblem) -> None:
    fold, margin, hot, wind = knobs_of(small, "fold_time", "torque_margin", "bay_hot", "deck_wind")
    assert cost_of(fold, 2.0 * fold.value) == pytest.approx(math.log(2.0))
    assert cost_of(margin, 0.0) == pytest.approx(math.log(1.25))
    assert cost_of(hot, hot.value - 5.0) == pytest.approx(0.5)
    assert cost_of(wind, 0.25 * wind.value) == pytest.approx(0.75)
    for knob in (fold, margin, hot, wind):
        assert cost_of(knob, value_at(knob, 0.1)) == pytest.approx(0.1)
        slope = (value_at(knob, 0.1001) - value_at(knob, 0.0999)) / 2e-4
        assert value_slope(knob, 0.1) == pytest.approx(slope, rel=1e-6)


def test_stated_values_are_rounded_outward(small: DesignProblem) -> None:
    fold, hot, gate, clearance, load, folds = knobs_of(
        small, "fold_time", "bay_hot", "self_start_gate", "clearance", "flight_load_factor", "folds"
    )
    assert outward(fold, 112.31) == pytest.approx(113.0)
    assert outward(fold, 113.0) == pytest.approx(113.0)
    assert outward(hot, 273.15 + 47.38) == pytest.approx(273.15 + 47.3)  # cooler is easier
    assert outward(gate, 12.345) == pytest.approx(12.3)  # a difference, not a temperature
    assert outward(clearance, 0.00054321) == pytest.approx(0.000543)
    assert outward(load, 0.7535) == pytest.approx(0.753)
    assert outward(folds, 1234.0) == pytest.approx(1230.0)
    assert outward(fold, fold.high) == pytest.approx(fold.high)


@pytest.mark.slow
def test_the_infeasible_medium_study_lacks_both_times() -> None:
    """Its header: a tenth of the time to fold and a third of the time to return."""
    case = solve("deck_medium_infeasible", {}, "fold_time", "return_time", "power_available")
    assert not any(one.sufficient for one in case.conflicts.requirements)
    (pair,) = case.conflicts.pairs
    assert [knob.name for knob in pair.knobs] == ["fold_time", "return_time"]
    fold, back = pair.boundary
    assert 60.0 < fold < 600.0  # deck_medium itself, 600 s and 1800 s, is feasible
    assert 600.0 < back < 1800.0
    at = dict(zip(pair.knobs, pair.settings, strict=True))
    assert find_optimum(turned(case.problem, at), starts=2).feasible
    short = dict(zip(pair.knobs, pair.short, strict=True))
    assert not find_optimum(turned(case.problem, short), starts=2).feasible
