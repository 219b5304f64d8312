"""Rounding: against plain loops over whole numbers, the wire table and the sheet by hand."""

from __future__ import annotations

import itertools
import math
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest

from mdo.defend.order.tubes import rounding_table, stock_table
from mdo.defend.verdict import INFEASIBLE, judge
from mdo.disciplines.mass.structure import housing_wall
from mdo.optimise.knobs import with_fields
from mdo.optimise.optimum import Optimum, find_optimum
from mdo.optimise.problem import DesignProblem, make_problem
from mdo.optimise.whole_tubes.branching import Discrete
from mdo.optimise.whole_tubes.rounding import Rounded, round_design, whole_counts
from mdo.optimise.whole_tubes.standard_parts import Bought, buy_sheets, feeder, next_sheet, walls
from mdo.report.words.summary import summary_text
from mdo.report.words.summary_data import summary_dict
from mdo.run.design_analyses import optimum_analysis
from mdo.study.reader import StudyError
from mdo.study.study import load_study

pytestmark = pytest.mark.slow  # a minute of optima

SMALL = Path(__file__).parents[2] / "studies" / "deck_small.toml"
# The optimum has 1.21 tubes in the up set: there is no room for two, and one does not work.
TIGHT = {"design.tube_count.up.upper": 1.9}
ROOM = {
    "requirements.fold_time": "90 s",
    "vehicle.wing[1].thickness_ratio": 0.21,
    "vehicle.wing[2].thickness_ratio": 0.21,
    "actuator.declared_life_stress": "210 MPa",
}
TUBES = [(0.0060, 0.0010), (0.0064, 0.0012), (0.0070, 0.0012), (0.0066, 0.0014), (0.0100, 0.0030)]
FEW = [TUBES[0], TUBES[1], TUBES[4]]  # the last one is too thick for the wing
SLEEVES = [0.0, 0.0005, 0.001, 0.0015, 0.002]
SHEETS = [0.0010, 0.0016, 0.0020]
UP, DOWN = 3, 4  # places of the counts in the design vector


class Roomy(NamedTuple):
    problem: DesignProblem
    optimum: Optimum


@pytest.fixture(scope="module")
def roomy() -> Roomy:
    problem = make_problem(load_study(SMALL).with_values(ROOM))
    return Roomy(problem, find_optimum(problem, starts=2))


@pytest.fixture(scope="module")
def bought(roomy: Roomy) -> Rounded:
    return round_design(
        roomy.problem, roomy.optimum, tubes=FEW, sleeves=SLEEVES, wires=True, sheets=SHEETS
    )


def frozen_study(changes: dict[str, Any], starts: int, near: Optimum) -> Optimum:
    """Optimum of the study with variables frozen by the study file's own means."""
    problem = make_problem(load_study(SMALL).with_values({**ROOM, **changes}))
    first = np.clip(near.design, problem.lower, problem.upper)
    return find_optimum(problem, starts=starts, first=first)


def brute_force(near: Optimum, ups: range, downs: range, starts: int = 0, **fixed: Any) -> float:
    """Least mass over a box of whole counts, every pair re-optimised."""
    masses = [math.inf]
    for up, down in itertools.product(ups, downs):
        changes = {"design.tube_count.up.value": up, "design.tube_count.down.value": down}
        found = frozen_study({**changes, **fixed}, starts, near)
        if found.feasible:
            masses.append(found.mass)
    return min(masses)


def test_branching_equals_a_loop_over_whole_counts(roomy: Roomy) -> None:
    rounded = round_design(roomy.problem, roomy.optimum)
    looped = brute_force(roomy.optimum, range(1, 4), range(1, 4))
    assert rounded.feasible
    assert rounded.mass == pytest.approx(looped, rel=1e-6)
    assert rounded.claim.startswith("not proved")


@pytest.mark.slow
def test_branching_equals_a_loop_over_tubes_and_a_whole_box(roomy: Roomy) -> None:
    rounded = round_design(roomy.problem, roomy.optimum, tubes=TUBES)
    masses = []
    for diameter, wall in TUBES:
        size = {
            "design.tube_outer_radius.value": f"{diameter / 2.0!r} m",
            "design.wall_ratio.value": 2.0 * wall / diameter,
        }
        masses.append(brute_force(roomy.optimum, range(1, 4), range(1, 4), **size))
    assert rounded.mass == pytest.approx(min(masses), rel=1e-6)
    assert "5 stock tubes, 1 to 400 tubes in the up set" in rounded.claim


def test_everything_bought_is_on_its_list(roomy: Roomy, bought: Rounded) -> None:
    design = dict(zip(bought.problem.labels, bought.design, strict=True))
    radius, ratio = design["tube_outer_radius"], design["wall_ratio"]
    assert any(
        2.0 * radius == pytest.approx(tube[0]) and ratio * radius == pytest.approx(tube[1])
        for tube in FEW
    )
    assert design["tube_count.up"] == round(design["tube_count.up"])
    assert design["tube_count.down"] == round(design["tube_count.down"])
    assert min(abs(design["insulation_thickness"] - sleeve) for sleeve in SLEEVES) < 1e-12
    assert set(bought.sheets.values()) <= set(SHEETS)
    assert bought.feasible
    # judged by the rows of the study itself, wire and sheet as free as before
    rows = roomy.problem.evaluate(bought.design).rows
    assert rows.min() >= -1e-6
    assert bought.problem.evaluate(bought.design).rows.min() >= -1e-6
    # whatever makes a problem anew keeps what was bought
    turned = with_fields(bought.problem, {"requirements.life_factor": 3.9})
    assert turned.fixed == bought.problem.fixed
    again = find_optimum(turned, starts=0, first=bought.design)
    assert whole_counts(again) == whole_counts(bought.optimum)
    wire = turned.assembled.parameters["power_assumptions"].wire_area_min
    assert bought.feeder is not None
    assert wire == bought.feeder.area


def test_rounding_never_makes_lighter_and_prices_add_up(bought: Rounded) -> None:
    table = rounding_table(bought)
    assert list(table["step"]) == [
        "continuous optimum", "whole counts", "stock tube", "sleeve", "wire", "sheet", "all steps",
    ]  # fmt: skip
    prices = table["price"][:-1]
    assert (prices >= -1e-6 * bought.relaxed_mass).all()
    assert prices.sum() == pytest.approx(bought.mass - bought.relaxed_mass, rel=1e-9)
    assert bought.mass > bought.relaxed_mass
    assert table["system_mass"].iloc[-1] == bought.mass


def test_every_stock_tube_is_accounted_for(bought: Rounded) -> None:
    table = stock_table(bought)
    assert len(table) == len(FEW)
    assert table["words"].str.len().min() > 0
    relaxed = table["relaxed_mass"].dropna()
    assert (relaxed >= bought.relaxed_mass * (1.0 - 1e-9)).all()
    assert table["system_mass"].min() >= relaxed.min()


def test_gauge_is_the_smallest_of_the_table(bought: Rounded) -> None:
    # AC 43.13-1B table 11-9, typed in again: gauge -> ohm per 1000 ft, amperes at 200 degC
    rows = {18: (6.23, 12), 16: (4.81, 14), 14: (3.06, 18), 12: (2.02, 25), 10: (1.26, 32)}
    current = float(bought.problem.values(bought.design, "feeder_current")["feeder_current"])
    supply = bought.problem.study.supply
    celsius = (
        float(bought.problem.assembled.parameters["power_assumptions"].wire_temperature) - 273.15
    )
    suits = []
    for gauge, (resistance, amperes) in rows.items():
        warm = resistance / 304.8 * (234.5 + celsius) / 254.5
        drop = current * 2.0 * supply.run_length * warm
        if current <= amperes and drop <= supply.allowed_drop:
            suits.append(gauge)
    assert bought.feeder is not None
    assert bought.feeder.suits
    assert bought.feeder.cables == 1
    assert bought.feeder.gauge == max(suits)
    area = float(bought.problem.values(bought.design, "wire_area")["wire_area"])
    assert area == pytest.approx(bought.feeder.area, rel=2e-3)


def test_cables_run_in_parallel_where_no_gauge_does(roomy: Roomy) -> None:
    study = load_study(SMALL).with_values(
        {"supply.run_length": "100 m", "supply.allowed_drop": "0.3 V", **ROOM}
    )
    found = feeder(make_problem(study), roomy.optimum.design)
    assert found.cables > 1
    assert found.suits
    assert "in parallel" in found.words


def test_wall_of_the_housing_is_that_of_its_function(roomy: Roomy) -> None:
    problem, x = roomy.problem, roomy.optimum.design
    parameters = problem.assembled.parameters
    names = ("bundle_width", "bundle_height", "bundle_length", "travel_high", "travel_low")
    v = {name: float(value) for name, value in problem.values(x, *names).items()}
    outer, inner = x[0], x[0] * (1.0 - x[1])
    torque = 2.0 / 3.0 * math.pi * (outer**3 - inner**3) * x[5:7] * x[UP : DOWN + 1]
    width, height = v["bundle_width"], v["bundle_height"]
    radius = (2.0 * (width * height) ** 2 / (math.pi * 2.0 * (width + height))) ** (1.0 / 3.0)
    for floor in (1e-6, 1.2e-3):
        mass = parameters["mass_assumptions"]._replace(housing_thickness_min=floor)
        expected = housing_wall(
            torque.max(),
            radius=radius,
            length=v["bundle_length"],
            windup=parameters["requirements"].windup_limit
            * x[problem.labels.index("gear_ratio")]
            * (v["travel_high"] - v["travel_low"]),
            mass=mass,
        )
        (housing,) = walls(problem, x)
        measured = housing.needed if floor < 1e-4 else housing.wall
        assert measured == pytest.approx(float(expected), rel=0.02)


def test_thicker_sheet_costs_the_mass_of_the_housing(roomy: Roomy) -> None:
    thin = buy_sheets(Bought(roomy.optimum), [0.0012])
    thick = buy_sheets(Bought(roomy.optimum), [0.0024])
    assert thin.sheets == {"housing": 0.0012}
    assert thick.sheets == {"housing": 0.0024}
    line = 7  # housing, of both wings, without growth
    lines = [
        one.optimum.problem.values(one.optimum.design, "mass_lines")["mass_lines"]
        for one in (thin, thick)
    ]
    assert lines[1][line] / lines[0][line] == pytest.approx(2.0, rel=0.05)
    assert thin.optimum.mass == pytest.approx(roomy.optimum.mass, rel=1e-6)
    assert thick.optimum.mass - thin.optimum.mass > lines[0][line]


def test_sheets_and_thin_lists() -> None:
    assert next_sheet([0.002, 0.001, 0.0016], 0.0012) == 0.0016
    assert next_sheet([0.001], 0.001) == 0.001
    assert next_sheet([0.001], 0.0012) is None


def test_study_without_room_has_no_whole_numbers_and_says_why() -> None:
    problem = make_problem(load_study(SMALL).with_values(TIGHT))
    optimum = find_optimum(problem, starts=1)
    rounded = round_design(problem, optimum)
    assert optimum.feasible
    assert not rounded.feasible
    assert rounded.causes
    assert "no design of whole numbers was found" in rounded.claim
    assert whole_counts(rounded.optimum)["up"] == 1
    # the nearest miss really is one
    assert problem.evaluate(rounded.design).rows.min() < -1e-4


def test_optimum_without_whole_tubes_is_infeasible_and_shows_its_bound() -> None:
    problem = make_problem(load_study(SMALL).with_values({**TIGHT, "analysis.optimum.starts": 1}))
    found = optimum_analysis(problem, lambda _: None)
    assert judge(found).level == INFEASIBLE
    assert found.bound is not None
    assert not found.continuous.violated
    text = " ".join(summary_text(found).split())
    assert (
        "no design in whole tubes was found: the bound, counts and sizes free, is feasible" in text
    )
    assert f"bound, counts and sizes free: {found.continuous.mass:.4g} kg" in text
    assert "not for ordering" in text
    assert summary_dict(found)["bound"]["system_mass"] == found.continuous.mass


def test_counts_without_a_whole_number_are_an_error(roomy: Roomy) -> None:
    lower, upper = roomy.problem.lower.copy(), roomy.problem.upper.copy()
    lower[UP], upper[UP] = 3.2, 3.8
    tight = roomy.problem.bounded(lower, upper)
    with pytest.raises(StudyError, match=r"no whole number between 3\.2 and 3\.8"):
        round_design(tight, roomy.optimum)


def test_tube_beyond_the_bounds_is_an_error_or_said(roomy: Roomy) -> None:
    giant = (0.2, 0.01)
    with pytest.raises(StudyError, match="200 x 10 mm: outside of the bounds"):
        round_design(roomy.problem, roomy.optimum, tubes=[giant])


def test_frozen_variables_do_not_move(roomy: Roomy) -> None:
    fixed = roomy.problem.freezing({UP: 4.0, DOWN: 5.0})
    assert not fixed.active[UP]
    assert not fixed.active[DOWN]
    assert fixed.frozen[UP] == 4.0
    found = find_optimum(fixed, starts=0, first=np.clip(roomy.optimum.design, fixed.lower, 9e9))
    assert found.design[UP] == 4.0
    assert found.design[DOWN] == 5.0


def test_neighbours_on_a_list() -> None:
    lists = Discrete({0: np.array([1.0, 2.0, 5.0]), 1: np.array([0.0, 0.001])})
    assert lists.around(0, 2.0 + 1e-9) == (2.0, 2.0)
    assert lists.around(0, 3.0) == (2.0, 5.0)
    assert lists.around(0, 0.2) == (1.0, 1.0)
    assert lists.between(np.array([2.0, 0.0])) is None
    assert lists.between(np.array([2.0, 0.0004])) == 1
    assert lists.between(np.array([3.5, 0.0001])) == 0
