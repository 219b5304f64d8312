"""Failure states against numbers worked out by hand at optima of the shipped studies."""

from __future__ import annotations

import math

import numpy as np
import pytest

import mdo
from mdo.explore.failures import (
    earliest_runaway,
    failure_states,
    failures_table,
    heater_lag,
    rolling_moment,
)
from mdo.explore.problem import make_problem
from mdo.explore.requirement_lines import Facts
from mdo.runner import optimum_analysis


@pytest.fixture(scope="module")
def appraisal():
    study = mdo.load_study("studies/deck_medium.toml")
    quick = study.with_values({"analysis.optimum.starts": 1})
    return optimum_analysis(make_problem(quick), lambda _: None)


def lines_of(appraisal, failure):
    return [one for one in failure_states(appraisal) if one.failure == failure]


def test_every_failure_that_is_asked_for_has_a_line(appraisal):
    asked = {"one tube", "one heater open", "one heater stuck on", "one sensor", "bus lost",
             "jam with heat on", "asymmetry"}  # fmt: skip
    table = failures_table(failure_states(appraisal))
    assert set(table["failure"]) == asked
    assert set(table["standing"]) <= {"required", "reported only"}
    assert (table["note"].str.len() > 10).all()


def test_judged_lines_hold_where_their_margin_is_positive(appraisal):
    for one in failure_states(appraisal):
        if one.holds:
            slack = 1e-6 * (1.0 + abs(one.limit))
            assert (one.holds == "yes") == (one.margin >= -slack)
        else:
            assert math.isnan(one.margin)


def test_tubes_failed_makes_the_margin_a_requirement(appraisal):
    (line,) = lines_of(appraisal, "one tube")
    assert line.standing == "reported only"
    assert "requirements.tubes_failed" in line.note


def test_runaway_heats_the_alloy_alone(appraisal):
    # by hand: m c dT / P of one set, P at high line and upper tolerance
    facts, d = Facts(appraisal), appraisal.design
    outer = float(d["tube_outer_radius"])
    inner = outer * (1.0 - float(d["wall_ratio"]))
    mass = math.pi * (outer**2 - inner**2) * float(d["tube_length"]) * 8850.0
    mass *= float(d["tube_count"][0])
    power = float(d["heater_power"][0]) * (280.0 / 270.0) ** 2 * 1.05
    expected = mass * 330.0 * (573.15 - float(d["hot_temperature"])) / power
    assert earliest_runaway(facts, 0) == pytest.approx(expected, rel=1e-9)


def test_lag_of_heaters_is_that_of_the_energy_balance(appraisal):
    # lumped heating by hand: C dT/dt = P - UA (T - T_bay), C from the model's own time; times of
    # +5 % and -10 % heaters at the low line, 250 V of 270 V, without the transformation's plateau
    facts = Facts(appraisal)
    lag = heater_lag(facts)[0]
    cold = 243.15
    rise = float(appraisal.design["hot_temperature"]) - cold
    loss = float(appraisal.values["loss_conductance_hot"][0, 0])
    nominal = float(appraisal.design["heater_power"][0]) * (250.0 / 270.0) ** 2
    weak, strong = 0.9 * nominal, 1.05 * nominal
    # half of the loss is what a linear rise loses on the way; exact lumped solution as reference
    slow = -math.log(1.0 - loss * rise / weak)
    fast = -math.log(1.0 - loss * rise / strong)
    time = float(appraisal.values["heat_time"][0, 0]) - 1.0
    assert lag == pytest.approx(time * (1.0 - fast / slow), rel=0.02)


def test_rolling_moment_by_hand(appraisal):
    # flat panel against one at +50 deg: F (y_f cos + arm), F normal to the panel
    facts, values = Facts(appraisal), appraisal.values
    leg = facts.leg_names.index("overrun")
    lift = 9.80665 * float(values["closed_vehicle_mass"]) * 1.05 * 0.9
    station = 0.7 * 3.2863
    ends = []
    for place, angle in ((0, 0.0), (-1, math.radians(50.0))):
        force = lift * values["lift_normal_fraction"][leg, place]
        hinge = lift * values["lift_moment_arm"][leg, place]
        ends.append(force * station * math.cos(angle) + hinge)
    assert rolling_moment(facts)[leg] == pytest.approx(abs(ends[1] - ends[0]), rel=1e-3)


def test_jam_stress_is_that_of_full_recovery(appraisal):
    # Clausius-Clapeyron by hand: C_A (T_hot - As)/sqrt3, 1.4 T r_o/J at the outer fibre
    line = lines_of(appraisal, "jam with heat on")[0]
    slope, start = 8.0e6, 433.15
    stall = slope * (float(appraisal.design["hot_temperature"]) - start) / math.sqrt(3.0)
    outer = float(appraisal.design["tube_outer_radius"])
    inner = outer * (1.0 - float(appraisal.design["wall_ratio"]))
    torque = 2.0 * math.pi / 3.0 * (outer**3 - inner**3) * stall
    expected = 1.4 * torque * outer / (math.pi / 2.0 * (outer**4 - inner**4))
    assert line.value == pytest.approx(expected, rel=1e-6)
    assert line.holds == "no"


def test_differences_of_angle_never_exceed_the_travel(appraisal):
    line = lines_of(appraisal, "asymmetry")[0]
    assert 0.0 < line.value <= np.radians(100.0) * (1.0 + 1e-12)


def test_return_by_load_is_not_a_runaway():
    study = mdo.load_study("studies/deck_medium_flight_only.toml")
    quick = study.with_values({"analysis.optimum.starts": 1})
    found = optimum_analysis(make_problem(quick), lambda _: None)
    assert all(one.holds != "no" for one in lines_of(found, "bus lost"))
