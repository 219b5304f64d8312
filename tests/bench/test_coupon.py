"""Virtual coupons: published cycle, closed forms of the readings, what a laboratory would fit."""

from __future__ import annotations

import jax
import numpy as np
import pandas as pd
import pytest

from mdo.alloys import load_card
from mdo.bench.coupon import FORCE, TORQUE, coupon_tables, coupon_worth, read_cycle
from mdo.disciplines.tube import torsion
from mdo.model.coupon import constant_force, constant_torque, isothermal_twist
from mdo.report.words.bench_log import NOT_VALUED, worth_lines

NEVER = {"detwinning_start_stress": 5e9, "detwinning_finish_stress": 6e9}
REF1 = jax.tree.map(float, load_card("ref1").record())._replace(**NEVER)
TUBE = torsion.section(0.010, 0.2)  # ro 10, ri 8 mm
MEAN = 100.0 / float(TUBE.area * TUBE.effective_radius)  # of 100 N*m
TANGENT = 0.5 - 1.0 / np.pi  # where the steepest tangent of (1 - cos pi x)/2 meets 0
ENDS = (280.0, 460.0)


def test_constant_torque_cycle_is_the_published_one() -> None:
    # check case C12 (incremental): twist 159.03 deg cold, 11.88 deg hot, of 0.5 m
    found = constant_torque(np.full(5, MEAN), (300.0, 430.0), 0.2, REF1)
    degrees = np.degrees(found.strain[0] * 0.5 / float(TUBE.effective_radius))
    assert degrees[0] == pytest.approx(11.881, rel=2e-3)
    assert degrees[160] == pytest.approx(159.03, rel=2e-3)
    assert read_cycle(found.path, found.strain[0]).residual_strain == pytest.approx(0, abs=1e-9)


def test_readings_of_a_bar_are_those_of_the_cosine() -> None:
    # one point: strain is linear in the fraction, whose cosine law has tangents in closed form
    stress = np.array([60e6, 100e6, 150e6, 200e6, 250e6])  # five as elsewhere: one compile
    found = constant_force(stress, ENDS, REF1)
    for level, strain in zip(stress, found.strain, strict=True):
        read = read_cycle(found.path, strain)
        start = REF1.martensite_start + level / REF1.martensite_slope
        width = REF1.martensite_start - REF1.martensite_finish
        assert read.martensite_start == pytest.approx(start - TANGENT * width, abs=0.3)
        assert read.martensite_finish == pytest.approx(start - (1 - TANGENT) * width, abs=0.3)
        start = REF1.austenite_start + level / REF1.austenite_slope
        width = REF1.austenite_finish - REF1.austenite_start
        assert read.austenite_start == pytest.approx(start + TANGENT * width, abs=0.3)
        assert read.austenite_finish == pytest.approx(start + (1 - TANGENT) * width, abs=0.3)
        rate, most = REF1.strain_rate_constant, REF1.strain_saturation
        laid = REF1.strain_min + (most - REF1.strain_min) * (
            1 - np.exp(-rate * max(level - REF1.strain_threshold_stress, 0.0))
        )
        hot = level / (2 * REF1.austenite_shear_modulus * (1 + REF1.poisson_ratio))
        cold = level / REF1.martensite_young_modulus + laid
        assert read.actuation_strain == pytest.approx(cold - hot, rel=1e-6)


def test_hot_tube_twists_elastically_and_cold_one_keeps_its_twist() -> None:
    card = REF1._replace(detwinning_start_stress=100e6, detwinning_finish_stress=200e6)
    found = isothermal_twist(np.array([290.0, 450.0]), 150e6, 460.0, 0.2, card)
    cold, hot = found.strain
    # textbook: twist T L/(G J), here as strain at r_w
    elastic = 150e6 * TUBE.area * TUBE.effective_radius**2 / TUBE.polar_moment
    assert hot[79] == pytest.approx(float(elastic) / card.austenite_shear_modulus, rel=1e-6)
    assert hot[-1] == pytest.approx(0.0, abs=1e-9)
    assert cold[-1] > 0.8 * np.sqrt(3) * card.strain_saturation


def test_laboratory_finds_the_slopes_and_reads_temperatures_inside_of_those_of_the_card() -> None:
    tables = coupon_tables(REF1, 0.2, 150e6)
    assert len(tables["coupon_readings"]) == 10
    card = tables["coupon_card"].set_index(["test", "field"])
    for test in (TORQUE, FORCE):
        slopes = card.loc[test].filter(like="slope", axis=0)
        np.testing.assert_allclose(slopes["read"], slopes["of_card"], rtol=0.05)
    force = card.loc[FORCE]
    assert force.loc["austenite_start", "read"] > force.loc["austenite_start", "of_card"]
    assert force.loc["austenite_finish", "read"] < force.loc["austenite_finish", "of_card"]
    cycles = tables["coupon_cycles"]
    assert set(cycles["test"]) == {TORQUE, FORCE}
    assert np.isfinite(cycles["coupon_strain"]).all()


def test_cycle_that_does_not_move_has_no_temperatures() -> None:
    path = np.concatenate([np.linspace(400, 300, 50), np.linspace(302, 400, 49)])
    read = read_cycle(path, np.full(99, 0.01))
    assert np.isnan(read.martensite_start)
    assert read.actuation_strain == 0.0


def test_kilograms_of_a_coupon_are_those_of_the_stored_tables() -> None:
    # by hand: what a defence and an assurance say of two inputs of the card, one of no coupon
    inputs = ["alloy.strain_factor", "alloy.strain_saturation", "assumptions.mass.growth"]
    ends = {"optimum_mass_low": [1.5, 0.2, 3.0], "optimum_mass_high": [-0.5, 0.6, -3.0]}
    stored = {
        "sensitivity": pd.DataFrame({"input": inputs, **ends}),
        "test_plan": pd.DataFrame({"input": inputs[:1], "mass_worth": [0.7]}),
        "assurance_inputs": pd.DataFrame({"input": inputs, "saved": [np.nan, 0.3, 9.0]}),
    }
    found = coupon_worth(stored)
    assert found[["test", "input"]].to_numpy().tolist() == [
        [TORQUE, inputs[0]], [FORCE, inputs[1]],
    ]  # fmt: skip
    assert found["stake"].to_numpy() == pytest.approx([2.0, 0.4])
    assert found["mass_worth"].iloc[0] == 0.7
    assert found["saved"].iloc[1] == 0.3
    lines = list(worth_lines({"coupon_worth": found}))
    assert lines[0] == (
        "constant torque settles alloy.strain_factor (2 kg between the ends of its range, 0.7 kg "
        "off the 95 % point of the mass by the test plan)."
    )
    assert list(worth_lines({"coupon_worth": coupon_worth({})})) == [NOT_VALUED]
