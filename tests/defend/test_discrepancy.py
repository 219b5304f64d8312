"""Discrepancy between levels: values, place, ratio, and kilograms by the multiplier of the row."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from mdo.defend.discrepancy import (
    discrepancy_table,
    largest,
    verification_facts,
    verification_table,
)
from mdo.defend.record import read_record, record_text
from mdo.defend.verdict import marched_short
from mdo.optimise.appraisal import NeighbourLevel, neighbour_levels
from mdo.optimise.problem import make_problem
from mdo.optimise.verify import verify


@pytest.fixture(scope="module")
def marched(medium):
    found = verify(medium.problem, medium.x, medium.values)
    beside = NeighbourLevel("tube", "incremental", {**medium.values, **found.values})
    return replace(medium, verification=found, neighbours=(beside,))


def test_slower_heat_costs_its_multiplier_times_the_logarithm(optimum):
    # hand: the row of a time is ln(limit/time), so 1 % more time is ln 1.01 less
    slower = {**optimum.values, "heat_time": 1.01 * optimum.values["heat_time"]}
    at_rows = {row.label: row for row in optimum.rows}
    table = discrepancy_table(
        replace(optimum, neighbours=(NeighbourLevel("heat", "slower", slower),))
    )
    lines = list(table.itertuples())
    assert {line.group for line in lines} <= {"fold_time_row", "return_time_row", "warm_up",
                                              "return_heat_row"}  # fmt: skip
    top = lines[0]
    assert top.group == "fold_time_row"
    assert (top.level, top.neighbour) == ("balance", "slower")
    assert top.ratio == pytest.approx(1.01, rel=1e-12)
    legs = optimum.problem.assembled.legs
    multiplier = max(
        row.multiplier
        for label, row in at_rows.items()
        if label.group == "fold_time_row" and legs[label.leg].case == top.case
    )
    assert top.row_change == pytest.approx(-math.log(1.01), rel=1e-9)
    assert top.mass_change == pytest.approx(multiplier * math.log(1.01), rel=1e-9)
    assert all(abs(line.mass_change) <= top.mass_change for line in lines)
    assert f"{top.mass_change:+.2g} kg" in largest(table)


def test_lines_hold_what_both_levels_say(marched):
    table = discrepancy_table(marched)
    assert set(table["neighbour"]) == {"incremental"}
    assert {"drive_strain", "declared_stress", "torque_margin"} <= set(table["group"])
    assert table["mass_change"].isna().all()  # nothing was optimised
    legs = [leg.label for leg in marched.problem.assembled.legs]
    angles = marched.problem.assembled.parameters["fold_angle"]
    for line in table[table["group"] == "drive_strain"].itertuples():
        leg = legs.index(f"{line.case}, {line.leg}" if f"{line.case}, {line.leg}" in legs
                         else line.case)  # fmt: skip
        angle = int(np.argmin(abs(angles[leg] - line.fold_angle)))
        assert line.value == marched.values["required_strain"][leg, angle]
        assert line.neighbour_value == marched.verification.march.required_strain[leg, angle]
    words = largest(table)
    assert "at incremental" in words
    assert "at radial" in words
    assert largest(table[:0]) == ""


def test_verified_legs_name_their_factor_and_what_falls_short(marched):
    table = verification_table(marched).set_index("leg")
    worst = table[["driven_outer_stress", "wound_outer_stress"]].max(axis=1)
    ratio = (worst / table["level_outer_stress"])[table["level_outer_stress"] > 1e6]
    factor = table["outer_stress_factor"]
    assert factor.dropna().to_numpy() == pytest.approx(ratio.to_numpy(), rel=1e-12)
    short = marched_short(marched)
    margin = table.loc["stow_wind, fold", "torque_margin_marched"]
    needed = 0.2  # of the fixture
    assert any("stow_wind, fold" in item for item in short) == (margin < needed - 0.005)
    assert len(verification_facts(marched)["legs"]) == len(table)


def test_record_keeps_the_verification(marched, tmp_path):
    again = read_record(record_text(marched), marched.study.text, tmp_path)
    assert verification_table(again).equals(verification_table(marched))
    assert marched_short(again) == marched_short(marched)


@pytest.mark.slow
def test_neighbours_are_the_levels_next_to_those_of_the_study(medium):
    found = verify(medium.problem, medium.x, medium.values)
    beside = list(neighbour_levels(medium.problem, medium.x, medium.values, found))
    assert [(one.discipline, one.level) for one in beside][:3] == [
        ("hinge_moment", "strip"), ("tube", "uniform"), ("tube", "incremental"),
    ]  # fmt: skip
    level = make_problem(medium.study.with_values({"fidelity.optimise.tube": "uniform"}))
    uniform = level.values(medium.x)
    for name, value in beside[1].values.items():
        assert value == pytest.approx(uniform[name], rel=1e-9, abs=1e-9, nan_ok=True), name
    elastic = uniform["leg_stress"] * uniform["elastic_stress_ratio"]
    driven = found.driven & (uniform["leg_stress"] > 0.0)
    assert uniform["leg_outer_stress"][driven] == pytest.approx(1.4 * elastic[driven], rel=1e-6)
