"""Exact margins against the rows of the optimiser: two statements of one thing."""

import numpy as np
import pytest

from . import actuator_case as case

NEEDED = case.LEGS.torque_margin_required[:, None]


def random_design(rng):
    """A design over wide bounds, good and bad ones alike."""
    return {
        "tube_outer_radius": rng.uniform(0.003, 0.012),
        "wall_ratio": rng.uniform(0.1, 0.7),
        "tube_length": rng.uniform(0.15, 0.9),
        "tube_count": rng.uniform(1.5, 25.0, 2),
        "gear_ratio": rng.uniform(0.5, 3.0),
        "pre_twist": rng.uniform(1.0, 7.0, 2),
        "hot_temperature": rng.uniform(350.0, 470.0),
        "required_moment": rng.uniform(5.0, 200.0, (5, 1)) + rng.uniform(-8.0, 8.0, case.SHAPE),
    }


@pytest.fixture(scope="module")
def random_results():
    rng = np.random.default_rng(7)
    return [case.run(**random_design(rng)) for _ in range(400)]


def stacked(results, name):
    return np.stack([np.broadcast_to(one[name], case.SHAPE) for one in results])


def test_margin_reaches_what_is_required_exactly_where_the_rows_hold(random_results):
    margin = stacked(random_results, "torque_margin") - NEEDED
    strain = stacked(random_results, "drive_strain")
    room = stacked(random_results, "stress_cap") - stacked(random_results, "required_stress")
    good = (strain >= 0.0) & (room >= 0.0)
    clear = (np.abs(strain) > 1e-9) & (np.abs(room) > 1.0)
    assert np.array_equal((margin >= 0.0)[clear], good[clear])
    assert 100 < good.sum() < good.size - 100  # both answers occur


def test_margin_with_a_lost_tube_is_positive_exactly_where_its_rows_hold(random_results):
    margin = stacked(random_results, "torque_margin_failed")
    strain, stress = (
        stacked(random_results, name) for name in ("failed_strain_row", "failed_stress_row")
    )
    good = (strain >= 0.0) & (stress >= 0.0)
    clear = (np.abs(strain) > 1e-9) & (np.abs(stress) > 1e-9)
    assert np.array_equal((margin >= 0.0)[clear], good[clear])
    assert 100 < good.sum() < good.size - 100


def test_load_that_uses_the_margin_up_leaves_no_strain():
    # a weak hot state, so that no stress is capped
    free = {"hot_temperature": 385.0, "pre_twist": np.array([2.6, 2.6])}
    first = case.run(**free)
    uncapped = first["hot_stress"] < 0.999 * first["stress_cap"]
    resists = first["available_moment"] > 1.0
    assert (uncapped & resists).sum() > 10
    limit = np.where(resists, first["available_moment"] / (1.0 + NEEDED), 1.0)
    second = case.run(**free, required_moment=limit)
    use = uncapped & resists
    assert second["torque_margin"][use] == pytest.approx(
        np.broadcast_to(NEEDED, case.SHAPE)[use], rel=1e-12
    )
    assert np.abs(second["drive_strain"][use]).max() < 1e-9
    assert second["required_stress"][use] == pytest.approx(second["hot_stress"][use], rel=1e-9)


def test_available_moment_is_that_of_the_heated_tubes_less_the_cold_set_and_spring():
    got = case.run()
    outer, inner = 0.006, 0.0036
    torque = 2 / 3 * np.pi * (outer**3 - inner**3) * got["hot_stress"]
    count = np.where(case.BASE["pushes_up"] > 0.5, 6.0, 9.0)[:, None]
    by_hand = 1.1 * 0.85 * count * torque - got["internal_moment"]
    assert got["available_moment"] == pytest.approx(by_hand, rel=1e-12)
    need = case.BASE["required_moment"]
    assert got["torque_margin"] == pytest.approx(by_hand / need - 1.0, rel=1e-12)
    # upper band: A/(R (1 + u)) - 1 with u = 0.2
    assert got["torque_margin_upper_band"] == pytest.approx(by_hand / (1.2 * need) - 1, rel=1e-12)


def test_hot_stress_stops_where_the_outer_fibre_reaches_the_allowable():
    got = case.run(hot_temperature=600.0, pre_twist=np.array([8.0, 8.0]))
    # 1.4 tau A r_w r_o/J = 173.2 MPa (REF-1 stand-in), by hand
    outer, inner = 0.006, 0.0036
    polar = np.pi / 2 * (outer**4 - inner**4)
    unit = 1.4 * (2 / 3 * np.pi * (outer**3 - inner**3)) * outer / polar
    assert got["hot_stress"] == pytest.approx(np.full(case.SHAPE, 173.2e6 / unit), rel=1e-12)


def test_blocked_tube_rises_by_the_slope_per_kelvin_above_austenite_start():
    # stall (sma-tubes 1.4): C_A/sqrt3 per K past As = 360 K
    got = case.run(hot_temperature=420.0)
    assert float(got["stall_stress"]) == pytest.approx(7e6 / 3**0.5 * 60.0, rel=1e-12)


def test_cold_set_that_stalls_a_motion_the_load_assists_is_no_margin():
    # R slightly below zero, but the other set is wound hard: A < R, nothing moves
    need = np.full(case.SHAPE, -1.0)
    got = case.run(required_moment=need, pre_twist=np.array([2.2, 2.2]), hot_temperature=365.0)
    stalls = got["available_moment"] < need
    assert stalls.any()
    assert np.array_equal(stalls, got["drive_strain"] < 0.0)
    assert np.all(got["torque_margin"][stalls] == -1.0)
    assert np.all(got["torque_margin"][~stalls] == 1e6)


def test_no_resistance_reads_as_such():
    need = -np.abs(case.BASE["required_moment"])
    got = case.run(**case.ONE_SET | {"required_moment": need})
    for name in ("torque_margin", "torque_margin_upper_band", "torque_margin_failed"):
        assert np.all(got[name][[0, 3]] == 1e6)  # the legs that the set drives


def test_exhausted_twist_never_pushes():
    # a set unwound past its zero cannot push, whatever the temperature
    for kelvin in np.linspace(340.0, 460.0, 25):
        got = case.run(pre_twist=np.array([0.4, 0.4]), hot_temperature=kelvin)
        spent = got["tube_strain"] < 0.0
        assert spent.sum() > 5
        assert np.all(got["hot_stress"][spent] < 0.0)
