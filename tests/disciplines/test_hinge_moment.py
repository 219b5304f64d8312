"""Required and overrunning moments: direction, credit rules, hand values, derivatives."""

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from jax.test_util import check_grads

from mdo.disciplines.loads import hinge_moment as module
from mdo.disciplines.loads.assembly import RowLoads

from . import panel_case as case

G = 9.80665


def run(legs, *, vehicle=case.VEHICLE, fold_angle=None, **values):
    """One call with uniform loads; every value not given is zero."""
    angle = case.angles(legs) if fold_angle is None else fold_angle
    names = ("low", "high", "arm", "force", "damping", "inertia", "incidence", "air", "unsure")
    full = dict.fromkeys(names, 0.0) | {"time": 10.0, "mass": 1000.0} | values
    return call(legs, vehicle, angle, full)


@jax.jit
def call(legs, vehicle, angle, value):
    ones, column = jnp.ones_like(angle), jnp.ones(angle.shape[0])
    rows = dict.fromkeys(RowLoads._fields, 0.0 * ones) | {
        "lift_moment_arm": value["arm"] * ones,
        "lift_normal_fraction": 5.0 * value["arm"] * ones,
        "steady_moment_low": value["low"] * ones,
        "steady_moment_high": value["high"] * ones,
        "steady_normal_force": value["force"] * ones,
        "damping_per_rate": value["damping"] * ones,
        "moving_inertia": value["inertia"] * column,
        "chordwise_centre": 0.25 * column,
        "panel_incidence_moment": value["incidence"] * ones,
        "air_moment_half_width": value["air"] * ones,
        "load_uncertainty": 0.1 * value["unsure"] * column,
        "incidence_uncertainty": 0.25 * value["unsure"] * column,
        "damping_uncertainty": 0.2 * value["unsure"] * column,
        "friction_uncertainty": 0.5 * value["unsure"] * column,
    }
    return module.hinge_moment(
        vehicle_mass=jnp.asarray(value["mass"]),
        motion_time=value["time"] * column,
        rows=RowLoads(**rows),
        fold_angle=angle,
        legs=legs,
        planform=case.PLANFORM,
        vehicle=vehicle,
        requirements=case.REQUIREMENTS,
        aero=case.AERO,
    )


CLEAN = case.VEHICLE._replace(bearing_friction=0.0, seal_moment=0.0, skin_stiffness=0.0)


def leg(direction, start=0.0, end=1.0, **fields):
    return case.make_legs(
        direction=[direction], angle_from=[start], angle_to=[end], load_factor=[1.0], **fields
    )


@pytest.mark.parametrize(
    ("direction", "required", "overrun"), [(1.0, 30.0, -50.0), (-1.0, 50.0, -30.0)]
)
def test_worst_and_best_end_follow_the_direction(direction, required, overrun):
    # envelope -30 to +50 N*m (up positive): up-drive resists -30 and may be pushed by 50
    found = run(leg(direction), low=-30.0, high=50.0, vehicle=CLEAN)
    np.testing.assert_allclose(found.required_moment, required)
    np.testing.assert_allclose(found.overrun_moment, overrun)


def test_mirrored_leg_has_the_same_requirement():
    up = run(leg(1.0), low=-30.0, high=50.0, force=200.0, damping=3.0, inertia=2.0)
    down = run(leg(-1.0, 0.0, -1.0), low=-50.0, high=30.0, force=200.0, damping=3.0, inertia=2.0)
    np.testing.assert_allclose(up.required_moment, down.required_moment, rtol=1e-13)
    np.testing.assert_allclose(up.overrun_moment, down.overrun_moment, rtol=1e-13)


def test_lift_adds_with_the_load_factor_and_mass_fraction():
    legs = leg(-1.0, airborne=[1.0])._replace(load_factor=jnp.array([2.0]))
    legs = legs._replace(mass_fraction=jnp.array([0.8]))
    found = run(legs, arm=0.02, vehicle=CLEAN)
    np.testing.assert_allclose(found.required_moment, 0.02 * 2.0 * 0.8 * 1000.0 * G, rtol=1e-12)
    deck = run(leg(-1.0), arm=0.02, vehicle=CLEAN)
    np.testing.assert_allclose(deck.moment_high, 0.0)


def test_friction_is_debited_with_its_factor_and_never_assists():
    bare = run(leg(1.0), low=-30.0, high=50.0, force=500.0, vehicle=CLEAN)
    rough = run(leg(1.0), low=-30.0, high=50.0, force=500.0,
                vehicle=case.VEHICLE._replace(skin_stiffness=0.0))  # fmt: skip
    np.testing.assert_allclose(
        rough.required_moment - bare.required_moment, 1.2 * rough.friction_moment
    )
    np.testing.assert_allclose(rough.overrun_moment, bare.overrun_moment)
    assert np.all(rough.friction_moment > 1.0)


def test_skin_resists_with_the_factor_and_assists_without():
    stiff = CLEAN._replace(skin_stiffness=10.0, skin_free_angle=0.5)
    found = run(leg(1.0), vehicle=stiff, fold_angle=jnp.array([[0.2, 0.5, 1.0]]))
    np.testing.assert_allclose(found.required_moment[0], [-3.0, 0.0, 1.2 * 5.0], atol=1e-12)
    np.testing.assert_allclose(found.overrun_moment[0], [-3.0, 0.0, 0.0], atol=1e-12)


def test_inertia_matches_the_reference_example():
    # section 1.6: I_h 40 kg m2, 90 deg in 10 s: 3.6 N*m
    found = run(leg(1.0, 0.0, np.pi / 2), inertia=40.0, vehicle=CLEAN)
    np.testing.assert_allclose(found.inertia_moment, 3.63, atol=0.01)
    np.testing.assert_allclose(found.overrun_moment, -found.inertia_moment)


def test_damping_uses_the_peak_rate():
    found = run(leg(-1.0, 0.0, -np.pi / 2), damping=4.0, time=5.0, vehicle=CLEAN)
    # 90 deg in 5 s: peak 0.59 rad/s, reference section 3.1
    np.testing.assert_allclose(found.damping_moment, 4.0 * 0.589, atol=2e-3)


def test_motion_time_is_never_a_credit():
    slow, fast = (
        run(leg(-1.0), low=-30.0, high=-20.0, damping=50.0, inertia=3.0, time=time, vehicle=CLEAN)
        for time in (60.0, 3.0)
    )
    assert np.all(fast.required_moment > slow.required_moment)
    assert np.all(fast.overrun_moment < slow.overrun_moment)


def test_holding_leg_has_the_larger_magnitude_and_no_friction():
    found = run(leg(0.0, 0.7, 0.7), low=-30.0, high=50.0, force=500.0, inertia=3.0)
    np.testing.assert_allclose(found.required_moment, 50.0, rtol=1e-4)
    np.testing.assert_allclose(found.overrun_moment, found.required_moment)
    assert np.all(np.asarray(found.friction_moment) == 0.0)


def test_smooth_magnitude_is_biased_high_by_less_than_1e_4():
    low = jnp.array([-50.0, -50.0, 0.0, -1.0, 20.0])
    high = jnp.array([50.0, 49.9, 0.0, 80.0, 30.0])
    exact = np.maximum(np.abs(low), np.abs(high))
    found = module.smooth_magnitude(low, high)
    assert np.all(found >= exact)
    assert np.all(found <= exact * (1 + 1e-4) + 1e-9)


def six(mass, time, arm, low, force, inertia):
    found = run(case.LEGS, mass=mass, time=time, arm=arm, low=low, high=low + 40.0, force=force,
                damping=5.0, inertia=inertia)  # fmt: skip
    return found.required_moment, found.overrun_moment


def test_gradients_match_differences_in_six_parameters():
    # case F37
    point = (1000.0, 12.0, 0.02, -25.0, 300.0, 0.5)
    check_grads(six, point, order=1, modes=("fwd", "rev"), rtol=1e-6, atol=1e-5)


def test_gradients_are_finite_at_rest_on_deck():
    def total(mass, force):
        return jnp.sum(run(leg(1.0), mass=mass, force=force, arm=0.0).required_moment)

    assert np.all(np.isfinite(jax.grad(total, argnums=(0, 1))(1000.0, 0.0)))


def test_vmap_over_designs_equals_loop():
    mass, time = jnp.array([900.0, 1000.0, 1250.0]), jnp.array([5.0, 20.0, 80.0])

    def required(m, t):
        return run(case.LEGS, mass=m, time=t, arm=0.02, low=-30.0, high=10.0, force=50.0,
                   damping=4.0, inertia=0.5).required_moment  # fmt: skip

    together = jax.vmap(required)(mass, time)
    for index in range(3):
        np.testing.assert_allclose(together[index], required(mass[index], time[index]), rtol=1e-13)


def test_band_is_joined_from_independent_parts():
    # JCGM 100:2008, section 5.1.2: u_c^2 = sum (c_i u_i)^2; parts of 3, 4 and 12 give 13 (hand)
    parts = (jnp.array([3.0]), jnp.array([-4.0]), jnp.array([12.0]))
    assert float(module.joined_band(*parts)[0]) == pytest.approx(13.0, rel=1e-12)


def test_band_does_not_vanish_where_the_net_moment_does():
    # hand: lift 0.02 m x 1000 kg x g against incidence of the same size; 10 % of the one and 25 %
    # of the other stay, with 10 % of 30 N*m of gust
    lift = 0.02 * 1000.0 * G
    parts = {"arm": 0.02, "low": -lift, "high": -lift, "incidence": -lift, "air": 30.0}
    got = run(leg(1.0, airborne=[1.0]), vehicle=CLEAN, unsure=1.0, **parts)
    assert np.asarray(got.moment_low) == pytest.approx(0.0, abs=1e-9)
    by_hand = np.sqrt((0.1 * lift) ** 2 + (0.25 * lift) ** 2 + 3.0**2)
    assert np.asarray(got.moment_band) == pytest.approx(by_hand, rel=1e-10)


def test_band_counts_friction_and_damping_beside_the_air():
    # hand: seal 1 N*m x 50 %, damping 1.875 D / T x 20 % for 1 rad in 10 s
    still = run(leg(1.0), damping=40.0, unsure=1.0, vehicle=CLEAN._replace(seal_moment=1.0))
    by_hand = np.hypot(0.5 * 1.0, 0.2 * 1.875 * 40.0 / 10.0)
    assert np.asarray(still.moment_band) == pytest.approx(by_hand, rel=1e-10)
