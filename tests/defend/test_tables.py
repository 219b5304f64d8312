"""Tables of a result: they agree with the model, name whose numbers they hold, and are complete."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from mdo.defend.choices.combinations import combinations, study_with
from mdo.defend.order.tubes import whole_count
from mdo.defend.tables.design import POWER_LINES, result_tables
from mdo.defend.tables.legs import driving_point
from mdo.defend.tables.requirements import requirement_lines
from mdo.disciplines.electric.gauges import (
    AMPACITY,
    GAUGE,
    RESISTANCE_PER_LENGTH,
    temperature_factor,
)
from mdo.optimise.idle_rows import FEASIBLE
from mdo.quantities import QUANTITIES
from mdo.report.words.summary import violated_lines

OF = {"one wing", "aircraft", "one tube", ""}


@pytest.fixture(scope="module")
def tables(medium):
    return result_tables(medium)


@pytest.fixture(scope="module")
def broken(medium_case):
    """A design that fails on purpose: a third of the heat, thin stress, hot bay for the return."""
    return medium_case.appraise(
        {"requirements.bay_hot": "115 degC"}, heater_power=[700.0, 700.0], tube_count=[3.0, 3.0]
    )


@pytest.mark.parametrize("which", ["medium", "broken", "optimum"])
def test_margins_hold_exactly_where_the_rows_of_the_model_do(which, request):
    appraisal = request.getfixturevalue(which)
    rows = {(r.label.group, r.label.leg, r.label.side, r.label.angle) for r in appraisal.rows}
    lines = [line for line in requirement_lines(appraisal) if not math.isnan(line.row)]
    groups = {(group, leg, side) for group, leg, side, _ in rows}
    assert len(lines) == len(groups)
    for line in lines:
        assert line.holds == (line.row >= -FEASIBLE)
        # thick walls are relieved of buckling by design: the row holds whatever the margin
        if line.group != "buckling" and abs(line.row) > 1e-9:
            assert (line.margin > 0.0) == (line.row > 0.0) or line.group == "driver", line
    assert {line.group for line in lines if not line.holds} == {
        row.label.group for row in appraisal.violated
    }


def test_worst_angle_of_a_line_is_that_of_the_rows(medium):
    legs, angles = medium.problem.assembled.legs, medium.problem.assembled.parameters["fold_angle"]
    lines = [line for line in requirement_lines(medium) if line.group == "drive_strain"]
    assert len(lines) == len(legs)
    for line in lines:
        rows = [row for row in medium.rows if row.label.group == "drive_strain"]
        own = [row for row in rows if legs[row.label.leg].label == line.leg]
        worst = min(own, key=lambda row: row.value)
        assert line.row == worst.value
        assert line.fold_angle == angles[worst.label.leg, worst.label.angle]
        # one unit of the row is 0.01 of strain
        assert line.margin == pytest.approx(0.01 * line.row, abs=1e-12)


def test_physical_values_by_hand(medium, tables):
    lines = tables["compliance"].set_index(["group", "leg"])
    # the fixture gives 700 s to fold
    time = lines.loc[("fold_time_row", "flight_fold, fold")]
    assert time["limit"] == 700.0
    assert time["row"] == pytest.approx(math.log(700.0 / time["value"]), rel=1e-12)
    # return gate: hot bay 50 degC + lot tolerance 10 K + gate 10 K = 70 degC
    gate = lines.loc[("return_temperature", "stow_calm, return")]
    assert gate["limit"] == pytest.approx(343.15)
    # self-start: soak at 71 degC + 10 K + 15 K = 96 degC
    soak = lines.loc[("static_self_start", "hot_soak")]
    assert soak["limit"] == pytest.approx(369.15)
    assert soak["margin"] == pytest.approx(10.0 * soak["row"])
    # slenderness 0.579/(2 x 0.00724)
    assert lines.loc[("slenderness", ""), "value"] == pytest.approx(39.986188, rel=1e-7)
    assert lines.loc[("bus_power", ""), "of"] == "aircraft"
    power = float(medium.values["peak_power"])
    assert lines.loc[("bus_power", ""), "value"] == pytest.approx(power)
    assert lines.loc[("bus_power", ""), "margin"] == pytest.approx(
        medium.study.supply.power_available - power
    )


def test_torque_table_is_the_margins_discipline(medium, tables):
    torque = tables["torque"]
    resists = torque["torque_margin"].notna()
    ratio = torque["available_moment"] / torque["required_moment"] - 1.0
    assert np.allclose(ratio[resists], torque["torque_margin"][resists], rtol=1e-12)
    assert (torque["load_low"] <= torque["load_high"]).all()
    # R of a moving leg is never below the load that resists most; inertia and friction come on top
    moving = torque["leg"] != "dash_hold"
    assert (torque["required_moment"][moving] >= torque["load_high"][moving]).all()
    assert (torque["required_moment_upper_band"] >= torque["required_moment"]).all()


def test_driving_point_has_the_least_margin(medium, tables):
    point = driving_point(medium)
    torque = tables["torque"]
    assert point is not None
    assert point.torque_margin == pytest.approx(torque["torque_margin"].min(), abs=2e-5)


def test_driving_point_of_a_stalled_design_is_its_largest_shortfall(medium_case):
    stalled = medium_case.appraise(tube_count=[1.0, 30.0])
    torque = result_tables(stalled)["torque"]
    beaten = torque[torque["torque_margin"] <= -1.0]
    shortfall = beaten["required_moment"] - beaten["available_moment"]
    worst = torque.loc[shortfall.idxmax()]
    point = driving_point(stalled)
    assert (point.leg, point.fold_angle) == (worst["leg"], worst["fold_angle"])


def test_masses_sum_to_the_system_and_wings_are_half_of_both(medium, tables):
    masses = tables["masses"]
    lines, total = masses.iloc[:-1], masses.iloc[-1]
    assert total["total"] == pytest.approx(medium.mass, rel=1e-12)
    assert lines["basic"].sum() == pytest.approx(float(medium.values["system_mass_basic"]))
    assert lines["total"].is_monotonic_decreasing
    assert set(lines["of"]) == {"aircraft, both wings", "aircraft, shared"}
    both = lines[lines["of"] == "aircraft, both wings"]
    assert np.allclose(2.0 * both["one_wing"], both["total"])
    shared = lines[lines["of"] == "aircraft, shared"]
    assert set(shared["line"]) == {
        "harness", "controller", "power conversion", "battery or generator share",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("count", "whole"), [(4.65, 5), (5.0, 5), (5.0004, 5), (5.01, 6), (0.2, 1)]
)
def test_counts_are_rounded_up(count, whole):
    assert whole_count(count) == whole


def test_order_counts_whole_tubes_and_heats_each_as_designed(medium, tables):
    order = tables["order"].set_index("item")
    assert order.loc["tubes, up set", "value"] == 5
    assert order.loc["tubes, down set", "value"] == 6
    assert order.loc["tubes", "value"] == 22
    assert order.loc["tubes", "of"] == "aircraft"
    assert order.loc["tube outer diameter", "value"] == pytest.approx(0.01448)
    assert order.loc["tube wall", "value"] == pytest.approx(0.66 * 0.00724)
    each = 930.0 / 4.5
    assert order.loc["heater power, tube of the up set", "value"] == pytest.approx(each)
    assert order.loc["heater power, up set", "value"] == pytest.approx(5 * each)


def test_wire_of_the_order_is_the_smallest_gauge_that_does(medium, tables):
    order = tables["order"].set_index("item")
    chosen = int(order.loc["feeder wire of one wing", "words"].split()[1])
    at = int(np.flatnonzero(chosen == GAUGE)[0])
    current = float(medium.values["feeder_current"])
    # 270 V: 10 V allowed; wire rated 200 degC: last column of the table
    loop = 2.0 * medium.study.supply.run_length
    assumed = medium.problem.assembled.parameters["power_assumptions"]
    hot = float(temperature_factor(assumed.wire_temperature))
    drop = current * RESISTANCE_PER_LENGTH * loop * hot
    does = (drop <= 10.0) & (AMPACITY[:, 2] >= current)
    assert does[at]
    assert not does[:at].any()
    assert order.loc["feeder drop", "value"] == pytest.approx(drop[at])


def test_every_mass_and_power_says_whose_it_is(tables):
    assert set(tables["compliance"]["of"]) <= OF
    assert set(tables["order"]["of"]) <= OF
    watts = tables["compliance"][tables["compliance"]["unit"].isin(["W", "N*m", "kg"])]
    assert (watts["of"] != "").all()
    ordered = tables["order"][tables["order"]["unit"].isin(["W", "N*m", "kg", "A"])]
    assert (ordered["of"] != "").all()
    assert (tables["power"]["of"] != "").all()
    powers = tables["design"][tables["design"]["unit"] == "W"]
    assert (powers["of"] == "one wing").all()


def test_columns_that_carry_a_unit_are_quantities(tables):
    # the store writes units by the names of columns: what is no quantity has none
    free = {
        "torque": {
            "leg", "driver", "angle_number", "required_moment_upper_band", "load_low", "load_high",
            "overrun_moment_upper_band",
        },
        "times": {"leg", "driver", "what", "time", "margin", "other_set", "status"},
        "temperatures": {"leg", "cooling_finish_other_set"},
        "sets": {"set"},
        "energy": {"leg", "driver"},
        "life": {"leg", "driver", "basis"},
    }  # fmt: skip
    for name, words in free.items():
        assert set(tables[name].columns) - words <= QUANTITIES.keys(), name
    assert POWER_LINES.keys() <= QUANTITIES.keys()


def test_times_name_their_limit_and_parts(medium, tables):
    times = tables["times"].set_index("leg")
    fold, back = times.loc["flight_fold, fold"], times.loc["flight_fold, return"]
    assert (fold["what"], back["what"]) == ("fold time", "return time")
    assert fold["time"] == fold["heat_time"]
    # cooled under load while the other set heats: the slower of both, here the cooling
    assert back["time"] == back["cool_time"]
    assert times.loc["dash_hold", "what"] == "hold"
    assert math.isnan(times.loc["dash_hold", "time"])


def test_return_times_add_where_a_cold_set_is_wound(medium_case):
    retwist = medium_case.appraise({"actuator.return_mode": "cool_then_retwist"})
    line = result_tables(retwist)["times"].set_index("leg").loc["flight_fold, return"]
    assert line["time"] == pytest.approx(line["heat_time"] + line["cool_time"])


def test_inputs_and_card_are_complete(medium, tables):
    assert len(tables["inputs"]) == len(medium.study.inputs)
    named = tables["inputs"].set_index("path")
    assert named.loc["vehicle.mass", "value"] == 1600.0
    assert named.loc["actuator.brake", "words"] == "true"
    assert set(named["origin"]) == {"file", "default", "judgement"}
    card = medium.problem.assembled.card
    assert list(tables["alloy"]["field"]) == list(card.fields)
    assert tables["alloy"]["judged"].sum() == len(card.judged_fields)


def test_violated_lines_are_the_worst_of_their_group(broken):
    assert broken.violated
    groups = [line.group for line, _ in violated_lines(broken)]
    assert len(groups) == len(set(groups))
    assert set(groups) >= {row.label.group for row in broken.violated}
    for line, count in violated_lines(broken):
        assert not line.holds
        assert count >= 1


def test_tables_of_a_broken_design_are_finite_where_they_must_be(broken):
    compliance = result_tables(broken)["compliance"]
    assert np.isfinite(compliance["limit"]).all()
    assert np.isfinite(compliance["margin"][~compliance["holds"]]).all()


@pytest.mark.slow
def test_one_set_form_has_one_set_everywhere(medium_case):
    # a set alone has no other one: what the cases say of its state is taken out
    form = {"configuration": ["load_return"], "drive_side": ["down"]}
    (choice,) = combinations(medium_case.study, form)
    one_set = replace(medium_case, study=study_with(medium_case.study, choice.whole))
    single = one_set.appraise({"case.dash_hold.reacted_by": "lock"})
    tables = result_tables(single)
    assert list(tables["sets"]["set"]) == ["down"]
    assert not tables["order"]["item"].str.contains("up set").any()
    undriven = tables["torque"][tables["torque"]["driver"] == "load or spring"]
    assert len(undriven)
    assert undriven["available_moment"].isna().all()


def test_margin_of_a_set_whose_only_tube_is_lost_is_that_of_a_stall(medium_case):
    design = medium_case.appraise(tube_count=[1.0, 5.5])
    assert design.values["torque_margin_failed"][0].min() < -1.0  # dragged back: a ratio of nothing
    lines = [line for line in requirement_lines(design) if line.group == "torque_margin_failed"]
    up = [line for line in lines if "stalled" in line.note]
    assert up
    assert {(line.value, line.margin, line.holds) for line in up} == {(-1.0, -1.0, False)}
    # a set that has tubes left says by how much they fall short
    assert any(line.value != -1.0 for line in lines)
