"""Break-even: walks along made-up laws, and real ones against bisection with cold optima."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from mdo.defend.comparison.break_even import (
    AT_END,
    DENSITY,
    INDIFFERENT,
    NEVER,
    RIVAL,
    TURNS,
    break_even_tables,
    comparison_knobs,
    density_break_even,
    find_break_even,
    range_of,
    sentence,
)
from mdo.defend.comparison.break_even_walk import MOST, Reached, Walk, walk_to
from mdo.defend.uncertain import uncertain_inputs
from mdo.optimise.knobs import turned
from mdo.optimise.optimum import find_optimum
from mdo.optimise.problem import make_problem
from mdo.optimise.reoptimise import NoOptimumError
from mdo.study.study import load_study

pytestmark = pytest.mark.slow  # a minute and more of optima

STUDIES = Path(__file__).parents[2] / "studies"
NAMES = (
    "fold_time",
    "declared_life_stress",
    "controller_channel_mass",
    "torque_margin",
    "power_available",
    "added_moment",
)


def law(difference, stop=math.inf):
    """Walk along a made-up difference, with nothing to be found beyond a value."""

    def find(value, near):
        if abs(value) > stop:
            raise NoOptimumError
        return Reached(value, 10.0 + difference(value), 10.0, near.optimum)

    return Walk(find, find(0.0, Reached(0.0, 0.0, 0.0, None)))


def test_walk_finds_the_root_of_a_law():
    walk = law(lambda p: 4.0 - p - 0.1 * p**2)
    found = walk_to(walk, 10.0)
    assert found.value == pytest.approx(-5.0 + math.sqrt(65.0), abs=2e-3)
    assert walk.optima <= 2 + MOST
    assert found in walk.known


def test_walk_goes_either_way():
    assert walk_to(law(lambda p: -3.0 - p), -9.0).value == pytest.approx(-3.0, abs=1e-3)


def test_walk_finds_a_turn_in_the_middle():
    walk = law(lambda p: (p - 3.0) * (p - 8.0) / 24.0)
    assert walk_to(walk, 10.0).value == pytest.approx(3.0, abs=2e-3)


def test_walk_finds_a_turn_close_by_that_turns_back():
    """Roots of the parabola 0.008 - p + 4 p^2 by hand; only its ends lie on one side."""
    root = (1.0 - math.sqrt(1.0 - 4.0 * 4.0 * 0.008)) / 8.0

    def difference(p):
        return 0.008 - p + 4.0 * p**2

    assert walk_to(law(difference), 10.0) is None
    assert walk_to(law(difference), 10.0, -1.0).value == pytest.approx(root, rel=1e-3)
    # nothing found where the ends are looked at
    assert walk_to(law(difference, stop=0.1), 10.0, -1.0).value == pytest.approx(root, rel=1e-3)
    # what does not turn there does not turn
    flat = law(lambda p: 0.008 - p + 40.0 * p**2)
    assert walk_to(flat, 10.0, -1.0) is None
    away = law(difference)
    assert walk_to(away, 10.0, 1.0) is None  # Newton's step goes the other way
    assert away.optima == 1


def test_walk_says_where_it_came_closest():
    walk = law(lambda p: 5.0 + (p - 5.0) ** 2 / 10.0)
    assert walk_to(walk, 8.0) is None
    assert walk.closest().value == 4.0
    assert walk.closest().difference == pytest.approx(5.1)


def test_of_alike_points_the_nearest_is_the_closest():
    walk = law(lambda p: max(2.0, 8.0 - 4.0 * p))
    assert walk_to(walk, 10.0) is None
    assert walk.closest().value == 5.0


def test_walk_steps_back_to_where_there_is_a_design():
    walk = law(lambda p: 2.0 - p, stop=6.0)
    assert walk_to(walk, 10.0).value == pytest.approx(2.0, abs=1e-3)
    short = law(lambda p: 9.0 - p, stop=6.0)
    assert walk_to(short, 10.0) is None
    assert short.first_stop()[0] > 6.0
    assert short.first_stop()[1] == "no design found"
    assert 5.0 <= short.closest().value <= 6.0
    assert walk_to(law(lambda p: 9.0 - p, stop=0.0), 10.0) is None


def test_walk_gives_up_where_the_way_has_a_gap():
    def find(value, near):
        if 2.0 < value < 4.0:
            raise NoOptimumError
        return Reached(value, 13.0 - value, 10.0, near.optimum)

    walk = Walk(find, Reached(0.0, 13.0, 10.0, None))
    assert walk_to(walk, 6.0) is None
    assert walk.beyond().value == 6.0
    assert walk.first_stop()[0] == pytest.approx(3.0)


@pytest.fixture(scope="session")
def even():
    """Optimum of the flight-only study, the SMA system the heavier one: 37.7 kg against 31.1 kg."""
    return find_optimum(
        make_problem(load_study(STUDIES / "deck_medium_flight_only.toml")), starts=1
    )


@pytest.fixture(scope="session")
def singles(even):
    return single_results(even, NAMES)


def single_results(optimum, names):
    knobs = {knob.name: knob for knob in comparison_knobs(optimum.problem)}
    found = find_break_even(optimum, [knobs[name] for name in names])
    return dict(zip(names, found, strict=True))


def cold(study):
    """Optimum from a cold start, and the difference of the masses there [kg]."""
    found = find_optimum(make_problem(study), starts=1)
    assert found.feasible
    return found, found.mass - float(found.problem.values(found.design, RIVAL)[RIVAL])


@pytest.mark.parametrize(
    ("name", "path", "unit", "rises"),
    [
        ("fold_time", "requirements.fold_time", "s", -1.0),
        ("declared_life_stress", "actuator.declared_life_stress", "Pa", -1.0),
    ],
)
def test_it_turns_where_bisection_says(even, singles, name, path, unit, rises):
    """Bisection over studies of their own, each optimised from a cold start."""
    found = singles[name]
    assert found.outcome == TURNS
    assert found.optima <= 2 + MOST
    study = even.problem.study

    def at(value):
        return cold(study.with_values({path: f"{value!r} {unit}"}))

    low, high = 0.93 * found.value, 1.05 * found.value
    assert rises * at(low)[1] < 0.0 < rises * at(high)[1]
    for _ in range(3):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if rises * at(middle)[1] > 0.0 else (middle, high)
    # what is left of the bracket is 1.5 % of the value
    assert low <= found.value <= high
    assert found.closest.difference == pytest.approx(0.0, abs=0.01)
    optimum, difference = at(found.value)
    assert found.closest.mass == pytest.approx(optimum.mass, rel=1e-5)
    assert difference == pytest.approx(found.closest.difference, abs=1e-3)
    assert "both weigh the same at" in sentence(found)


def test_the_same_time_is_found_from_the_other_side(even, singles):
    """From a fifth more time, where the SMA actuator is the lighter one, back down."""
    longer = {"requirements.fold_time": f"{1.2 * singles['fold_time'].value} s"}
    near, difference = cold(even.problem.study.with_values(longer))
    assert difference < 0.0
    found = single_results(near, ("fold_time",))["fold_time"]
    assert found.outcome == TURNS
    assert found.value == pytest.approx(singles["fold_time"].value, rel=3e-3)


def test_what_turns_close_by_is_not_called_never(even):
    """A margin of 0.1 % more makes the pair the heavier one; beyond 80 % there is no design.

    Against studies of their own on either side, each optimised from a cold start.
    """
    study = even.problem.study.with_values({"requirements.fold_time": "500 s"})
    near, difference = cold(study)
    assert -0.05 < difference < 0.0
    found = single_results(near, ("torque_margin",))["torque_margin"]
    assert found.outcome == TURNS
    assert 0.25 < found.value < 0.26
    step = 0.2 * (found.value - 0.25)
    ends = [
        cold(study.with_values({"requirements.torque_margin": found.value + way * step}))[1]
        for way in (-1.0, 1.0)
    ]
    assert ends[0] < 0.0 < ends[1]


def test_a_lighter_channel_never_turns_it_and_says_by_how_much(even, singles):
    found = singles["controller_channel_mass"]
    assert found.outcome == NEVER
    assert math.isnan(found.value)
    changed = {"assumptions.power.controller_channel_mass": "0.05 kg"}
    _, difference = cold(even.problem.study.with_values(changed))
    assert found.closest.value == pytest.approx(0.05)
    assert found.closest.difference == pytest.approx(difference, rel=1e-4)
    stays = "never, searched to 0.0500 kg; the SMA actuator stays heavier, least by"
    assert stays in sentence(found)


def test_more_margin_helps_the_actuator_as_far_as_there_is_a_design(even):
    """Both pay for the margin; the hinge pays more. Too much of it and no tube carries the load.

    So it is with much time, where heat sizes no tube, and from a margin of 40 % on; the hinge has
    half as much torque again per mass, which makes it the lighter one.
    """
    values = {
        "requirements.fold_time": "700 s",
        "actuator.declared_life_stress": "167 MPa",
        DENSITY: "120 N*m/kg",
    }
    study = even.problem.study.with_values(values)
    ends = [cold(study.with_values({"requirements.torque_margin": m})) for m in (0.4, 0.7)]
    masses = [optimum.mass for optimum, _ in ends]
    rivals = [optimum.mass - difference for optimum, difference in ends]
    assert 0.0 < masses[1] - masses[0] < rivals[1] - rivals[0]
    found = single_results(ends[0][0], ("torque_margin",))["torque_margin"]
    assert found.outcome == NEVER
    assert found.slope < 0.0
    assert found.closest.value > found.now.value
    assert found.stopped_at > found.closest.value
    assert "never, no design found at" in sentence(found)


def test_slope_is_that_of_new_optima_less_that_of_the_hinge(even, singles):
    """Central differences: the SMA system optimised again, the hinge sized again at its design."""
    problem, knob = even.problem, singles["fold_time"].knob
    step = 0.05
    masses, rivals = [], []
    for value in (knob.value - step, knob.value + step):
        other = turned(problem, {knob: value})
        masses.append(find_optimum(other, starts=0, first=even.design).mass)
        rivals.append(float(other.values(even.design, RIVAL)[RIVAL]))
    expected = (masses[1] - masses[0] - rivals[1] + rivals[0]) / (2.0 * step)
    assert singles["fold_time"].slope == pytest.approx(expected, rel=1e-3)


def test_knobs_without_influence_take_no_optimum(singles):
    idle = singles["power_available"]
    assert idle.outcome == INDIFFERENT
    assert idle.optima == 0
    assert "no influence" in sentence(idle)


def test_a_knob_at_its_better_end_says_so(singles):
    moment = singles["added_moment"]
    assert moment.outcome == AT_END
    assert "already at the end of its range that suits the SMA actuator best" in sentence(moment)


def test_torque_density_turns_it_where_its_law_says(even):
    """Gear, brake and housing go by 1/TD, the rest does not: m = a + b/TD from two studies."""
    problem = even.problem
    (density,) = [one for one in uncertain_inputs(problem) if one.path == DENSITY]
    found = density_break_even(even, density)
    assert found.outcome == TURNS
    masses = []
    for value in (60.0, 120.0):
        other = make_problem(problem.study.with_values({DENSITY: f"{value} N*m/kg"}))
        masses.append(float(other.values(even.design, RIVAL)[RIVAL]))
    b = (masses[0] - masses[1]) / (1 / 60.0 - 1 / 120.0)
    a = masses[0] - b / 60.0
    assert found.value == pytest.approx(b / (even.mass - a), rel=1e-3)
    assert "N*m/kg" in sentence(found)
    assert "outside" not in sentence(found)
    narrow = replace(found, knob=replace(found.knob, low=75.0))
    assert "outside its judged range" in sentence(narrow)


@pytest.fixture(scope="module")
def deck_knobs():
    """Knobs of a study whose times are its own, so that the numbers by hand below stay."""
    times = {"requirements.fold_time": "120 s", "case.cold_start.fold_time": "150 s"}
    study = load_study(STUDIES / "deck_medium_deck_only.toml").with_values(times)
    return {knob.name: knob for knob in comparison_knobs(make_problem(study))}


def test_times_of_single_cases_go_along(deck_knobs):
    assert not any("." in name for name in deck_knobs)
    fields = deck_knobs["fold_time"].fields(240.0)
    assert fields["requirements.fold_time"] == 240.0
    assert fields["case.cold_start.fold_time"] == pytest.approx(300.0)  # 2 x 150 s


def test_ranges_are_sensible(deck_knobs):
    hot = deck_knobs["bay_hot"]
    assert range_of(hot, 1.0) == pytest.approx((hot.value - 60.0, hot.value + 60.0))
    assert range_of(deck_knobs["fold_time"], 1.0) == pytest.approx((12.0, 1200.0))
    assert range_of(deck_knobs["deck_wind"], 1.0) == pytest.approx((0.0, 50.0))
    assert range_of(deck_knobs["added_moment"], 100.0) == pytest.approx((0.0, 1000.0))
    price = deck_knobs["generator_specific_mass"]
    assert range_of(price, 1.0) == (price.low, price.high)


def test_table_has_what_turns_first_then_the_nearest_miss(singles):
    table = break_even_tables(tuple(singles.values()))["break_even"]
    assert list(table["outcome"]) == [TURNS, TURNS, NEVER, NEVER, AT_END, INDIFFERENT]
    assert list(table["knob"][2:4]) == ["torque_margin", "controller_channel_mass"]
    assert table["value"].notna().sum() == 2
    assert (table["text"].str.len() > 20).all()


def test_a_study_without_a_design_has_no_break_even(even):
    with pytest.raises(ValueError, match="without a feasible design"):
        find_break_even(replace(even, feasible=False))
