"""What each leg demands of the sets: hand sums, symmetry, scaling, locked strain, return stress."""

from types import SimpleNamespace

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from mdo.disciplines.tube import hot
from mdo.disciplines.tube.demand import _lost
from mdo.disciplines.tube.levers import factored
from mdo.disciplines.tube.uniform import dragging_stress, uniform_demand

from . import actuator_case as case

RO, WALL, LENGTH, GEAR, EFFICIENCY = 0.006, 0.4, 0.4, 1.1, 0.85
RI = RO * (1 - WALL)
VOLUME_ARM = 2.0 / 3.0 * np.pi * (RO**3 - RI**3)  # [m3] torque over uniform stress
EFFECTIVE = VOLUME_ARM / (np.pi * (RO**2 - RI**2))
TO_STRAIN = EFFECTIVE / LENGTH
MARGIN = case.LEGS.torque_margin_required[:, None]
G_M, G_A = 12e9, 26e9  # REF-1


def cold_stress_by_hand(gamma):
    """Root of tau/G_M + sqrt3 0.03 (1 - exp(-0.01 sqrt3 tau[MPa])) = gamma (REF-1)."""

    def miss(tau):
        strain = tau / G_M + 3**0.5 * 0.03 * (1 - np.exp(-0.01e-6 * 3**0.5 * max(tau, 0.0)))
        return strain - gamma

    return brentq(miss, -1e10, 1e10, xtol=1e-3, rtol=1e-14)


def strains_by_hand(pre_twist):
    """Strain of the up and of the down set in every leg and angle."""
    up = (pre_twist[0] - GEAR * (case.ANGLES + 0.7)) * TO_STRAIN
    down = (pre_twist[1] - GEAR * (1.6 - case.ANGLES)) * TO_STRAIN
    return up, down


def test_pair_demands_what_a_sum_by_hand_says():
    got = case.run()
    up, down = strains_by_hand([2.9, 2.8])
    pushes_up = case.BASE["pushes_up"][:, None] > 0.5
    driver, other = np.where(pushes_up, up, down), np.where(pushes_up, down, up)
    cold = np.vectorize(cold_stress_by_hand)(other)
    n_driver = np.where(pushes_up, 6.0, 9.0)
    n_other = np.where(pushes_up, 9.0, 6.0)
    # a cold set is dragged through the gears: its moment is divided by their efficiency
    cold_moment = GEAR / EFFICIENCY * n_other * VOLUME_ARM * cold
    need = case.BASE["required_moment"]
    stress = ((1 + MARGIN) * need + cold_moment) / (GEAR * EFFICIENCY * VOLUME_ARM * n_driver)
    # the smoothed threshold of H_cool is within 1e-3 Pa of its kink at zero stress
    assert got["tube_strain"] == pytest.approx(driver, rel=1e-12)
    assert got["cold_moment"] == pytest.approx(cold_moment, rel=1e-7, abs=1e-6)
    assert got["required_stress"] == pytest.approx(stress, rel=1e-7)
    held = GEAR * EFFICIENCY * n_other * VOLUME_ARM * cold
    assert got["holding_moment"] == pytest.approx(held, rel=1e-7, abs=1e-6)
    operating = (need + cold_moment) / (GEAR * EFFICIENCY * VOLUME_ARM * n_driver)
    # smooth maximum: never low, high by 1e-4 of 100 MPa at most
    excess = got["leg_stress"] - operating.max(axis=1)
    assert np.all((excess > -20.0) & (excess < 1.01e4))
    swept = np.array([1.5, 1.5, 1.2, 1.2, 0.0])
    # beside the outer stress in the life: both at the outer fibre
    assert got["stroke_strain"] == pytest.approx(GEAR * swept * RO / LENGTH, rel=1e-12)
    mean = ((need + cold_moment)[:, 1:] + (need + cold_moment)[:, :-1]).mean(axis=1) / 2
    assert got["actuator_work"] == pytest.approx(mean * swept / EFFICIENCY, rel=1e-7)


def test_strain_locked_in_an_opposed_set_is_what_the_other_left_less_its_elastic_part():
    got = case.run()
    start = got["tube_strain"][:, 0]
    by_hand = [gamma - cold_stress_by_hand(gamma) / G_M for gamma in start]
    assert got["locked_strain"] == pytest.approx(by_hand, rel=1e-6)


def test_strain_locked_in_one_set_is_that_of_the_smallest_return_stress():
    got = case.run(**case.ONE_SET)
    need = case.ONE_SET["required_moment"][[1, 2]]
    stress = -need * EFFICIENCY / (GEAR * 6.0 * VOLUME_ARM)
    least = stress.min()
    locked = 3**0.5 * 0.03 * (1 - np.exp(-0.01e-6 * 3**0.5 * least))
    # the smooth minimum is low by 1e-4 of 100 MPa at most
    assert got["smallest_return_stress"] == pytest.approx([least] * 2, abs=1.01e4)
    assert got["smallest_return_stress"].max() <= least + 20.0
    assert got["locked_strain"] == pytest.approx([locked] * 5, rel=3e-4)
    assert got["cooling_finish"] == pytest.approx([320.0 + 3**0.5 * least / 7e6] * 2, abs=3e-3)
    assert got["cooling_start"] - got["cooling_finish"] == pytest.approx([20.0] * 2, rel=1e-12)
    returned = stress / G_M + 3**0.5 * 0.03 * (1 - np.exp(-0.01e-6 * 3**0.5 * stress))
    assert got["return_strain"][[1, 2]] == pytest.approx(returned, rel=1e-6)
    up, _ = strains_by_hand([2.9, 2.8])
    assert got["return_needed_strain"][[1, 2]] == pytest.approx(up[[1, 2]], rel=1e-12)


def test_pair_cools_under_the_least_stress_at_which_its_return_winds_it():
    got = case.run()
    up, down = strains_by_hand([2.9, 2.8])
    # leg 1 returns downward: the up set is wound; leg 3 returns upward: the down set is wound
    least = [cold_stress_by_hand(up[1].min()), cold_stress_by_hand(down[3].min())]
    assert got["smallest_return_stress"] == pytest.approx(least, abs=1.01e4)


def other_sets(**states):
    """The pair with the state of the other set given per leg (all motions alike)."""
    moves = np.asarray(case.LEGS.moves)
    return case.run(
        legs=case.LEGS._replace(**{name: value * moves for name, value in states.items()})
    )


def test_set_long_cold_resists_on_its_detwinning_curve():
    # hand: tau/G_M + sqrt3 0.03 x (1 - cos(pi share))/2 = gamma, share from 100 to 200 MPa tensile
    # (REF-1 stand-ins); just heated it follows H_cool, what test_pair_demands... sums by hand
    hot, cold = case.run(), other_sets(other_cold=1.0)
    up, down = strains_by_hand([2.9, 2.8])
    pushes_up = case.BASE["pushes_up"][:, None] > 0.5
    other = np.where(pushes_up, down, up)[:4]
    n_other = np.where(pushes_up, 9.0, 6.0)[:4]

    def by_hand(gamma):
        def miss(tau):
            share = np.clip((3**0.5 * tau - 100e6) / 100e6, 0.0, 1.0)
            return tau / G_M + 3**0.5 * 0.03 * (1 - np.cos(np.pi * share)) / 2 - gamma

        return brentq(miss, -1e10, 1e10, xtol=1e-3, rtol=1e-14)

    stress = np.vectorize(by_hand)(other)
    moment = GEAR / EFFICIENCY * n_other * VOLUME_ARM * stress
    assert np.all(stress > 1e6)  # none is unwound past its zero
    assert cold["cold_moment"][:4] == pytest.approx(moment, rel=1e-6)
    assert np.all(cold["cold_moment"][:4] > hot["cold_moment"][:4])
    # long cold, a set is credited with no load while it cooled (leg 4 holds: no state)
    assert cold["smallest_return_stress"].tolist() == [0.0, 0.0]
    assert cold["cold_moment"][4] == pytest.approx(hot["cold_moment"][4], rel=1e-12)


def test_driver_wound_cold_locks_in_its_detwinned_strain():
    # hand: what is left of the strain without stress/G_M, the stress by the cosine of REF-1
    got = other_sets(wound_cold=1.0)
    plain = case.run()
    start = got["tube_strain"][:4, 0]

    def miss(tau, gamma):
        share = np.clip((3**0.5 * tau - 100e6) / 100e6, 0.0, 1.0)
        return tau / G_M + 3**0.5 * 0.03 * (1 - np.cos(np.pi * share)) / 2 - gamma

    by_hand = [g - brentq(miss, -1e10, 1e10, args=(g,), xtol=1e-3) / G_M for g in start]
    assert got["locked_strain"][:4] == pytest.approx(by_hand, rel=1e-6)
    assert np.all(got["locked_strain"][:4] < plain["locked_strain"][:4])
    assert got["cold_moment"] == pytest.approx(plain["cold_moment"], rel=1e-12)


def test_trained_set_that_would_push_along_cools_under_no_stress():
    # hand: a two-way strain of 2.9 % (sqrt3: 5 % in shear) exceeds the strain that the other set
    # imposes at the least wound end; its stress is then below zero, and none is credited
    trained = case.ALLOY._replace(strain_min=0.029)
    up, down = strains_by_hand([2.9, 2.8])
    assert max(up[1].min(), down[3].min()) < 3**0.5 * 0.029
    got = case.run(alloy=trained)
    assert got["smallest_return_stress"] == pytest.approx([0.0, 0.0], abs=1e-9)
    assert got["cooling_finish"] == pytest.approx([320.0, 320.0], rel=1e-12)
    assert np.all(got["cold_moment"] >= 0.0)


def test_pair_that_is_wound_cold_needs_detwinning_and_gets_no_shift():
    mode = case.CHOICES._replace(return_mode=1.0)
    got = case.run(choices=mode)
    assert got["smallest_return_stress"].tolist() == [0.0, 0.0]
    assert got["cooling_finish"] == pytest.approx([320.0, 320.0], rel=1e-15)
    strain = got["return_needed_strain"]
    stress = got["holding_moment"] / (
        GEAR * EFFICIENCY * VOLUME_ARM * np.where(case.BASE["pushes_up"] > 0.5, 9.0, 6.0)[:, None]
    )
    # strain is that of Brinson's cosine between 100 and 200 MPa tensile (REF-1 stand-ins)
    share = np.clip((3**0.5 * stress / 1e6 - 100.0) / 100.0, 0.0, 1.0)
    by_hand = stress / G_M + 3**0.5 * 0.03 * (1 - np.cos(np.pi * share)) / 2
    assert by_hand == pytest.approx(strain, rel=1e-9)


def test_load_that_does_not_bring_the_panel_back_cools_nothing_under_stress():
    need = np.abs(case.ONE_SET["required_moment"])
    got = case.run(**case.ONE_SET | {"required_moment": need})
    assert got["return_strain"][[1, 2]].max() < 0.0
    assert (got["return_strain"] - got["return_needed_strain"])[[1, 2]].max() < 0.0


def test_spring_resists_the_driven_motion_and_drives_the_way_back():
    sprung = case.ONE_SET["choices"]._replace(configuration=case.SPRING_RETURN)
    got = case.run(**case.ONE_SET | {"choices": sprung})
    spring = 40.0 + 6.0 * (case.ANGLES + 0.7)
    assert got["internal_moment"][[0, 3]] == pytest.approx(spring[[0, 3]], rel=1e-12)
    assert got["internal_moment"][[1, 2]] == pytest.approx(-spring[[1, 2]], rel=1e-12)
    need = case.ONE_SET["required_moment"][[1, 2]]
    stress = (spring[[1, 2]] - need) * EFFICIENCY / (GEAR * 6.0 * VOLUME_ARM)
    assert got["return_stress"][[1, 2]] == pytest.approx(stress, rel=1e-9)
    assert got["cold_moment"].tolist() == np.zeros(case.SHAPE).tolist()


def mirrored(given):
    """The same actuator seen in a mirror: angles and sides change sign."""
    swap = {name: given[name][::-1] for name in ("tube_count", "operating_stress", "pre_twist")}
    choices = given["choices"]
    turned = {
        "fold_angle": -given["fold_angle"],
        "travel_low": -given["travel_high"],
        "travel_high": -given["travel_low"],
        "pushes_up": 1.0 - given["pushes_up"],
        "legs": given["legs"]._replace(direction=-given["legs"].direction),
        "choices": choices._replace(
            drive_side=-choices.drive_side, set_present=choices.set_present[::-1]
        ),
    }
    return given | swap | turned


@pytest.mark.parametrize("form", ["opposed", "load_return", "spring_return"])
def test_mirrored_actuator_gives_mirrored_results(form):
    given = case.BASE | ({} if form == "opposed" else case.ONE_SET)
    if form == "spring_return":
        given["choices"] = given["choices"]._replace(configuration=case.SPRING_RETURN)
    one, other = case.run(**given), case.run(**mirrored(given))
    per_set = {
        "smallest_return_stress", "cooling_start", "cooling_finish", "outer_stress_operating",
        "outer_strain_max", "rated_moment", "stall_moment",
    }  # fmt: skip
    for name, value in one.items():
        expected = value[::-1] if name in per_set else value
        assert other[name] == pytest.approx(expected, rel=1e-9, abs=1e-9), name


@settings(max_examples=25, deadline=None)
@given(factor=st.floats(0.3, 4.0), form=st.sampled_from(["opposed", "load_return"]))
def test_lengths_scaled_with_the_counts_kept_scale_the_moments_by_their_cube(factor, form):
    base = case.BASE | ({} if form == "opposed" else case.ONE_SET)
    one = case.run(**base)
    other = case.run(
        **base
        | {
            "tube_outer_radius": factor * base["tube_outer_radius"],
            "tube_length": factor * base["tube_length"],
            "required_moment": factor**3 * base["required_moment"],
        }
    )
    same = (
        "tube_strain", "required_stress", "required_strain", "failed_strain", "locked_strain",
        "return_strain", "torque_margin", "drive_strain", "stroke_strain", "hot_stress",
    )  # fmt: skip
    for name in same:
        assert other[name] == pytest.approx(one[name], rel=1e-8, abs=1e-10), name
    for name in ("available_moment", "cold_moment", "holding_moment", "actuator_work"):
        assert other[name] == pytest.approx(factor**3 * one[name], rel=1e-8, abs=1e-9), name


@settings(max_examples=25, deadline=None)
@given(more=st.floats(1.0, 3.0))
def test_larger_load_needs_more_stress_and_more_strain(more):
    one = case.run()
    other = case.run(required_moment=more * case.BASE["required_moment"])
    assert np.all(other["required_stress"] >= one["required_stress"])
    assert np.all(other["required_strain"] >= one["required_strain"] - 1e-15)
    assert np.all(other["drive_strain"] <= one["drive_strain"] + 1e-12)


def test_margin_factor_is_not_a_credit_where_the_load_helps():
    got = factored(jnp.array([-10.0, 0.0, 10.0]), 0.25)
    assert np.asarray(got).tolist() == [-10.0, 0.0, 12.5]


def test_lost_tube_drags_elastically_up_to_the_end_of_its_plateau():
    # G_M gamma up to sigma_f/sqrt3 = 115.47 MPa (REF-1), corner rounded by 5/4 MPa at most
    strain = np.array([0.0, 0.002, 0.009, 0.0096225, 0.02])
    exact = np.minimum(G_M * strain, 200e6 / 3**0.5)
    short = exact - np.asarray(dragging_stress(strain, case.ALLOY))
    assert short[[0, 1, 2, 4]] == pytest.approx([0.0] * 4, abs=1.0)
    assert short[3] == pytest.approx(5e6 / 4, rel=1e-3)


def test_failed_tube_is_lost_and_dragged():
    got = case.run()
    driver = np.where(case.BASE["pushes_up"] > 0.5, 6.0, 9.0)[:, None]
    moved = np.abs(case.ANGLES - case.ANGLES[:, :1]) * GEAR * TO_STRAIN
    drag = np.asarray(dragging_stress(moved, case.ALLOY)) * GEAR / EFFICIENCY * VOLUME_ARM
    moment = case.BASE["required_moment"] + got["cold_moment"] + drag
    by_hand = moment / (GEAR * EFFICIENCY * VOLUME_ARM * (driver - 1.0))
    assert got["failed_stress"] == pytest.approx(by_hand, rel=1e-9)


def test_absent_set_and_no_tubes_stay_finite():
    for count in ([6.0, 0.0], [0.0, 0.0], [1.0, 1.0]):
        for base in ({}, case.ONE_SET):
            got = case.run(**base | {"tube_count": np.array(count)})
            for name, value in got.items():
                assert np.all(np.isfinite(value)), (name, count)


def test_demand_has_its_derivatives_in_the_design():
    names = ("tube_outer_radius", "tube_length", "gear_ratio", "pre_twist", "hot_temperature")
    scales = np.array([0.006, 0.4, 1.1, 2.9, 2.8, 100.0])

    @jax.jit
    def rows(x):
        value = scales * x
        parts = [value[0], value[1], value[2], value[3:5], 320 + value[5]]
        design = dict(zip(names, parts, strict=True))
        given = case.inputs() | design
        got = uniform_demand(**case.only(uniform_demand, given))
        strain = got.required_strain - got.tube_strain
        return jnp.concatenate([strain.ravel() * 100, got.required_stress.ravel() / 1e8])

    x = jnp.ones(6)
    exact = jax.jit(jax.jacfwd(rows))(x)
    step = 1e-6
    ends = [(rows(x.at[i].add(step)), rows(x.at[i].add(-step))) for i in range(6)]
    central = np.stack([(high - low) / (2 * step) for high, low in ends], axis=1)
    assert np.abs(np.asarray(exact) - central).max() < 1e-6 * np.abs(central).max()


def test_hold_demands_the_same_at_each_of_its_copies():
    same = np.broadcast_to(case.BASE["required_moment"][4, :1], (1, 5))
    need = np.concatenate([case.BASE["required_moment"][:4], same])
    got = case.run(required_moment=need)
    for name in ("required_stress", "required_strain", "failed_strain", "torque_margin"):
        assert np.ptp(got[name][4]) == 0.0
    assert got["stroke_strain"][4] == got["actuator_work"][4] == 0.0


def test_hot_strain_of_the_demand_is_that_of_the_alloy():
    got = case.run()
    locked = got["locked_strain"][:, None]
    strain = hot.hot_strain(got["required_stress"], 420.0, locked, case.ALLOY)
    assert got["required_strain"] == pytest.approx(np.asarray(strain), rel=1e-12)


def test_outer_strain_is_that_of_the_pre_twist_at_the_outer_fibre():
    # gamma = r theta/L (plane sections stay plane): 6 mm x 2.9 and 2.8 rad over 0.4 m, by hand
    assert case.run()["outer_strain_max"] == pytest.approx([0.0435, 0.042], rel=1e-12)


def test_the_first_fold_loses_no_stroke_and_ten_lose_that_of_one_decade():
    # stroke(N) = stroke_1 (1 - d log10 N), by set: 0.03/0.9 is asked for where 0.03 is left (hand)
    found = _lost(
        SimpleNamespace(dragged=jnp.full((2, 1), 0.03)), 0.0,
        SimpleNamespace(folds_per_life=jnp.array([1.0, 10.0]), moves=jnp.ones(2)),
        SimpleNamespace(stroke_loss=0.1, residual_strain_rate=0.0),
        jnp.array([[True], [False]]), jnp.ones(2),
    )  # fmt: skip
    assert np.ravel(found) == pytest.approx([0.0, 0.03 / 0.9 - 0.03], abs=1e-15)
