"""Loads of each leg: levels, envelope, hand values, symmetry, derivatives."""

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from mdo.disciplines.environment import environment
from mdo.disciplines.loads import assembly as module
from mdo.disciplines.loads.fold_factors import axis_incidence
from mdo.disciplines.loads.planform import planform_from_breakpoints
from mdo.disciplines.loads.strip import strip_aerodynamics
from mdo.disciplines.loads.table import table_loads
from mdo.disciplines.records import Statics

from . import panel_case as case


@jax.jit
def run(legs, planform, vehicle, aero, fold_angle):
    air = environment(legs=legs)
    panel = strip_aerodynamics(
        planform, vehicle, aero, mach=legs.mach, airborne=legs.airborne, fold_angle=fold_angle
    )
    return module.assemble_rows(
        panel, legs, planform, vehicle, aero, air_density=air.air_density,
        true_airspeed=air.true_airspeed, fold_angle=fold_angle,
    )  # fmt: skip


def strip(
    legs=case.LEGS, vehicle=case.VEHICLE, aero=case.AERO, fold_angle=None, planform=case.PLANFORM
):
    angle = case.angles(legs) if fold_angle is None else jnp.asarray(fold_angle)
    if angle.shape[1] < 7:  # one shape, one compile
        angle = jnp.pad(angle, ((0, 0), (0, 7 - angle.shape[1])), mode="edge")
    return run(legs, planform, vehicle, aero, angle)


def airborne(**fields):
    count = len(next(iter(fields.values())))
    base = {"airborne": [1.0] * count, "load_factor": [1.0] * count, "mach": [0.6] * count}
    return case.make_legs(**(base | fields))


def test_level_table_returns_the_users_moments_and_adds_the_mass():
    angle = case.angles(case.LEGS)
    statics = Statics(jax.tree.map(lambda leaf: jnp.asarray(leaf)[:1], case.LEGS))
    common = {"legs": case.LEGS, "planform": case.PLANFORM, "aero": case.AERO, "fold_angle": angle}
    common |= {
        "statics": statics,
        "static_table_low": jnp.zeros(1),
        "static_table_high": jnp.ones(1),
    }
    low, high = -10.0 * jnp.ones_like(angle), 20.0 * jnp.ones_like(angle)
    table = jax.jit(table_loads)(
        **common, vehicle=case.VEHICLE, table_moment_low=low, table_moment_high=high
    )
    weight = 5.1 * 9.80665 * 0.24 * case.LEGS.load_factor[:, None] * np.cos(angle)
    np.testing.assert_allclose(table.steady_moment_low, low - weight, rtol=1e-10)
    np.testing.assert_allclose(table.steady_moment_high, high - weight, rtol=1e-10)
    np.testing.assert_allclose(table.air_moment_half_width, 15.0)  # of -10 to 20, by hand
    np.testing.assert_allclose(table.panel_incidence_moment, 5.0)
    assert np.all(np.asarray(table.lift_moment_arm) == 0.0)
    assert np.all(np.asarray(table.load_uncertainty) == 0.10)


def test_supersonic_example_has_the_reference_order_of_magnitude():
    # reference section 5: 1 g at Mach 1.4, 279 N*m flat and 267 N*m at 70 deg at the same lift, by
    # panels; level band +-15 %
    lift = 1000.0 * 9.80665
    arm = strip().lift_moment_arm[1] * lift
    assert arm[0] == pytest.approx(279.0, rel=0.15)
    assert arm[-1] == pytest.approx(267.0, rel=0.15)


def test_gravity_example_matches_the_reference():
    assert strip().steady_moment_low[2, 0] == pytest.approx(-12.0, abs=0.05)  # 12 N*m, section 5


def test_lift_arm_is_even_in_the_fold_angle():
    angle = case.angles(case.LEGS)
    up, down = strip(fold_angle=angle), strip(fold_angle=-angle)
    np.testing.assert_allclose(up.lift_moment_arm, down.lift_moment_arm, rtol=1e-13)
    np.testing.assert_allclose(up.lift_normal_fraction, down.lift_normal_fraction, rtol=1e-13)


def test_relief_at_constant_lift_is_far_from_cosine():
    legs = airborne(mach=[0.4])
    arm = strip(legs, fold_angle=jnp.radians(jnp.array([[0.0, 60.0, 90.0]]))).lift_moment_arm[0]
    assert arm[1] / arm[0] > 0.85  # reference section 1.3: 0.93 to 0.99 at aspect ratio 2, 60 deg
    assert arm[2] / arm[0] > 0.70


def test_uncertainty_and_transonic_flag_follow_the_regime():
    legs = airborne(mach=[0.0, 0.5, 0.95, 1.1, 1.6, 2.0], airborne=[0, 1, 1, 1, 1, 1])
    found = strip(legs, fold_angle=jnp.zeros((6, 2)))
    np.testing.assert_allclose(found.load_uncertainty, [0.30, 0.10, 0.25, 0.25, 0.15, 0.15])
    np.testing.assert_allclose(found.transonic, [0, 0, 1, 1, 0, 0])
    # by the strip, the panel's own incidence is as uncertain as it is declared, in any regime
    np.testing.assert_allclose(found.incidence_uncertainty, case.AERO.uncertainty_incidence)


def test_deck_wind_has_both_signs_and_its_hand_value():
    legs = case.make_legs(wind_speed=[15.0], load_factor=[1.0])
    found = strip(legs, fold_angle=jnp.full((1, 2), jnp.pi / 2))
    p = case.PLANFORM
    hand = 0.75 * 0.5 * 1.225 * 15.0**2 * p.panel_area * 2 * p.panel_centroid
    np.testing.assert_allclose(found.steady_moment_high, hand, rtol=1e-4)
    np.testing.assert_allclose(found.steady_moment_low, -hand, rtol=1e-4)
    # the force with that moment at the centroid
    np.testing.assert_allclose(found.steady_normal_force, hand / p.panel_centroid, rtol=1e-4)
    plate = strip(legs, aero=case.AERO._replace(wind_model=1.0), fold_angle=jnp.zeros((1, 2)))
    assert plate.steady_moment_high[0, 0] + 12.0 < 0.7 * hand


def test_wind_is_ignored_in_flight_and_gust_on_deck_at_rest():
    calm, windy = strip(airborne(mach=[0.5])), strip(airborne(mach=[0.5], wind_speed=[20.0]))
    np.testing.assert_array_equal(calm.steady_moment_high, windy.steady_moment_high)
    deck = strip(case.make_legs(load_factor=[1.0], gust_speed=[9.0]))
    np.testing.assert_allclose(deck.steady_moment_high, deck.steady_moment_low)


@pytest.mark.parametrize("factor", [1.0, 0.7])
def test_gust_on_a_flat_panel_has_its_hand_value(factor):
    # dM = 0.5 rho V K U S CLa (b/2) h, 14 CFR 23.341 (round the clock: only alpha when flat)
    aero = case.AERO._replace(gust_factor=factor)
    gust = strip(airborne(mach=[0.6], gust_speed=[5.0]), aero=aero, fold_angle=jnp.zeros((1, 1)))
    half = 0.5 * (gust.steady_moment_high - gust.steady_moment_low)[0, 0]
    B = np.sqrt(1 - 0.36)
    group = (2.5 / 0.95) ** 2 * (B**2 + np.tan(case.PLANFORM.half_chord_sweep) ** 2)
    slope = 2 * np.pi * 2.5 / (2 + np.sqrt(4 + group))
    expected = 0.5 * 1.225 * 0.6 * 340.294 * 5.0 * 4.0 * slope * gust.lift_moment_arm[0, 0]
    assert half == pytest.approx(factor * float(expected), rel=1e-4)


def hand_slope(aspect, mach=0.6):
    """Lift slope by the handbook form (DATCOM, from memory), wing and panel swept alike."""
    group = (aspect / 0.95) ** 2 * (1 - mach**2 + np.tan(case.PLANFORM.half_chord_sweep) ** 2)
    return 2 * np.pi * aspect / (2 + np.sqrt(4 + group))


def hand_share():
    """Share of the lift on the flat panel at 30 deg of sweep: two thirds of the way to Schrenk."""
    outer = 0.35 * case.HALF * case.ROOT * (0.5125 + 0.25) / 2  # chord at the fold: 1 - 0.65 x 0.75
    elliptic = (np.arccos(0.65) - 0.65 * np.sqrt(1 - 0.65**2)) / np.pi
    return outer, 2 / 3 * (0.5 * outer / 4.0 + 0.5 * elliptic) + 1 / 3 * elliptic


def test_gust_and_sideslip_press_an_upright_panel_with_their_hand_force():
    # round the clock: sqrt(N_alpha^2 + N_beta^2) per radian, N_alpha = CLa S x share x K_N90 (the
    # fit of right_angle_factors by hand), N_beta = a(1.5 A_o) S_o: derived, Helmbold form of a
    area, share = hand_share()
    fold = 0.35 * case.HALF
    own = fold**2 / area
    root = np.sqrt(1 - 0.6**2)
    factor = (0.955 - 0.679 * 0.35) / (1 + root * (0.187 * own + 0.034 * 2.5))
    alpha = hand_slope(2.5) * 4.0 * share * factor
    beta = hand_slope(1.5 * own) * area
    upright = jnp.full((1, 1), jnp.pi / 2)
    speed = 0.6 * 340.294
    gust = strip(airborne(mach=[0.6], gust_speed=[5.0]), fold_angle=upright)
    hand = 0.5 * 1.225 * speed * 5.0 * np.hypot(alpha, beta)
    assert float(gust.steady_normal_force[0, 0]) == pytest.approx(hand, rel=1e-4)
    slip = strip(airborne(mach=[0.6], sideslip=[0.05]), fold_angle=upright)
    hand = 0.5 * 1.225 * speed**2 * 0.05 * beta
    assert float(slip.steady_normal_force[0, 0]) == pytest.approx(hand, rel=1e-4)


@pytest.mark.parametrize("degrees", [0.0, 90.0])
def test_roll_rate_presses_the_strips_of_a_panel_with_their_hand_moment(degrees):
    # strips at s of the hinge move by p (y_f cos(phi) + h sin(phi) + s): 0.5 rho V a c(s) of it
    # each, a by the handbook form for the panel's own aspect ratio (derived; integrals by hand)
    span, phi, height = 0.35 * case.HALF, np.radians(degrees), 0.3
    root, tip = 0.5125 * case.ROOT, 0.25 * case.ROOT
    area = span * (root + tip) / 2
    first = span**2 * (root / 2 + (tip - root) / 3)
    second = span**3 * (root / 3 + (tip - root) / 4)
    arm = 0.65 * case.HALF * np.cos(phi) + height * np.sin(phi)
    speed, rate = 0.6 * 340.294, 0.4
    hand = 0.5 * 1.225 * speed * rate * hand_slope(span**2 / area) * (arm * first + second)
    vehicle = case.VEHICLE._replace(hinge_height=height)
    rolls = strip(airborne(roll_rate=[rate]), vehicle=vehicle, fold_angle=jnp.full((1, 1), phi))
    assert float(rolls.air_moment_half_width[0, 0]) == pytest.approx(hand, rel=1e-3)


@pytest.mark.parametrize(
    "field", ["gust_speed", "sideslip", "roll_rate", "roll_acceleration", "wind_speed", "deck_roll"]
)
def test_every_amplitude_widens_the_envelope(field):
    deck = field in {"wind_speed", "deck_roll"}
    make = case.make_legs if deck else airborne
    base = {"load_factor": [1.0], "mach": [0.0 if deck else 0.6]}
    angle = jnp.full((1, 1), 0.9)
    calm = strip(make(**base), fold_angle=angle)
    rough = strip(make(**base, **{field: [0.3]}), fold_angle=angle)
    assert np.all(rough.steady_moment_high > calm.steady_moment_high)
    assert np.all(rough.steady_moment_low < calm.steady_moment_low)


def test_twist_is_fixed_in_the_panel_and_trimmed():
    # at 90 deg the panel lifts nothing: the twist moment is q m_eps eps in full, not times cosine
    legs = airborne(mach=[0.5])
    angle = jnp.full((1, 1), jnp.pi / 2)
    twisted = case.PLANFORM._replace(panel_incidence=-0.03)
    change = (
        strip(legs, fold_angle=angle, planform=twisted).steady_moment_low
        - strip(legs, fold_angle=angle).steady_moment_low
    )
    flat_change = (
        strip(legs, fold_angle=0.0 * angle, planform=twisted).steady_moment_low
        - strip(legs, fold_angle=0.0 * angle).steady_moment_low
    )
    assert (
        change[0, 0] < flat_change[0, 0] < 0.0
    )  # washout unloads; flat, the wing incidence gives some back


@pytest.mark.parametrize("degrees", [0.0, 50.0])
def test_washes_of_both_panels_are_trimmed_by_the_wing(degrees):
    # q S_o a(1.5 A_o) eps at the centroid of the flat load; the wing gives back what both panels
    # lift, 2 cos(phi) of it, at the arm of its own lift (by hand; toe out by sin(phi))
    legs, phi, wash = airborne(mach=[0.6]), np.radians(degrees), 0.02
    angle = jnp.array([[phi, 0.0]])
    plain = strip(legs, fold_angle=angle)
    area, _ = hand_share()
    pressed = 0.5 * 1.225 * (0.6 * 340.294) ** 2 * wash * area
    pressed *= hand_slope(1.5 * (0.35 * case.HALF) ** 2 / area)
    arm, flat = float(plain.lift_moment_arm[0, 0]), float(plain.lift_moment_arm[0, 1])
    centroid = flat / float(plain.lift_normal_fraction[0, 1])
    hand = pressed * (centroid - 2.0 * np.cos(phi) * arm)
    twisted = strip(legs, fold_angle=angle, planform=case.PLANFORM._replace(panel_incidence=wash))
    toed = strip(legs, fold_angle=angle, vehicle=case.VEHICLE._replace(toe_angle=wash))
    for changed, share in ((twisted, 1.0), (toed, np.sin(phi))):
        change = float((changed.steady_moment_low - plain.steady_moment_low)[0, 0])
        assert change == pytest.approx(share * hand, rel=1e-4, abs=1e-9)


def test_panel_loses_the_pitch_of_its_axis_as_it_folds():
    # rotation of the chord about the axis by hand: axis along x tilted nose up by eps, the panel's
    # chord along x in the datum; Rodrigues by scipy, incidence = angle of the wind to the panel
    pitch, wash = np.radians(1.5), np.radians(-2.0)
    axis = np.array([np.cos(pitch), 0.0, -np.sin(pitch)])  # aft, right, up
    normal = np.array([np.sin(wash), 0.0, np.cos(wash)])
    for angle in (-0.6, 0.0, 0.9, np.pi / 2):
        turned = Rotation.from_rotvec(-angle * axis).apply(normal)
        exact = np.arcsin(turned[0])  # of a wind along the datum
        law = wash + float(axis_incidence(pitch, angle))
        assert law == pytest.approx(exact, abs=1e-4)  # small angles


@pytest.mark.parametrize(("degrees", "moment"), [(50.0, 92.0), (-35.0, 45.0)])
def test_axis_along_the_root_chord_moves_the_moment_as_an_independent_trial_found(degrees, moment):
    # wing 6.573 m, taper 0.7, washout 4 deg, fold at 70 %, Mach 0.55 at 3,000 m: required moment
    # 148 and 187 N*m with a constant incidence, 56 and 142 with the axis along the root chord
    # (ladder notes, trial of the strip). Constant is an axis pitched as the inboard wing (hand:
    # e_panel - e_inner (1 - cos) - e_inner cos)
    wing = planform_from_breakpoints(
        station=[0.0, 3.2863],
        leading_edge=[0.0, 0.20],
        chord=[1.2887, 0.9021],
        twist=np.radians([0.0, -4.0]),
        thickness_ratio=[0.18, 0.18],
        fold_station=0.7 * 3.2863,
    )
    legs = airborne(mach=[0.55], altitude=[3000.0])
    angle = jnp.full((1, 1), np.radians(degrees))
    constant = case.VEHICLE._replace(hinge_axis_pitch=wing.inner_incidence)
    change = (
        strip(legs, vehicle=constant, fold_angle=angle, planform=wing).steady_moment_low
        - strip(legs, fold_angle=angle, planform=wing).steady_moment_low
    )
    assert float(change[0, 0]) == pytest.approx(moment, abs=1.0)


def test_toe_out_loads_an_up_folded_panel():
    legs = airborne(mach=[0.5])
    toed = case.VEHICLE._replace(toe_angle=np.radians(2.0))
    angle = jnp.array([[-0.8, 0.8]])
    change = (
        strip(legs, vehicle=toed, fold_angle=angle).steady_moment_low
        - strip(legs, fold_angle=angle).steady_moment_low
    )
    assert change[0, 1] > 0.0 > change[0, 0]
    assert change[0, 1] == pytest.approx(-float(change[0, 0]), rel=1e-12)


def test_thickness_moment_is_odd_and_has_its_hand_value():
    aero = case.AERO._replace(thickness_moment_coefficient=0.02)
    legs = airborne(mach=[1.4], altitude=[12192.0])
    angle = jnp.array([[-jnp.pi / 2, 0.0, jnp.pi / 2]])
    change = (
        strip(legs, aero=aero, fold_angle=angle).steady_moment_low
        - strip(legs, fold_angle=angle).steady_moment_low
    )
    volume = case.PLANFORM.panel_area * case.PLANFORM.panel_span
    hand = 0.02 * 25730.0 * volume
    np.testing.assert_allclose(change[0, :3], [-hand, 0.0, hand], rtol=1e-4, atol=1e-9)


def test_moment_scale_multiplies_aerodynamics_only():
    legs, toed = airborne(mach=[0.6], gust_speed=[4.0]), case.VEHICLE._replace(toe_angle=0.05)
    one, two = (strip(legs, toed, case.AERO._replace(moment_scale=scale)) for scale in (1.0, 1.2))
    for name in ("lift_moment_arm", "panel_incidence_moment", "air_moment_half_width"):
        np.testing.assert_allclose(getattr(two, name), 1.2 * np.asarray(getattr(one, name)))
    width_one = one.steady_moment_high - one.steady_moment_low
    np.testing.assert_allclose(two.steady_moment_high - two.steady_moment_low, 1.2 * width_one)
    assert np.all(np.asarray(width_one) > 1.0)
    # the envelope is the steady part plus and minus the half width
    np.testing.assert_allclose(2.0 * two.air_moment_half_width, 1.2 * width_one)
    middle = (two.steady_moment_high + two.steady_moment_low) / 2.0 - two.mass_moment_low
    np.testing.assert_allclose(two.panel_incidence_moment, middle, atol=1e-12)


def test_apparent_mass_is_added_to_the_panel():
    found = strip(case.make_legs(load_factor=[1.0])).moving_inertia[0]
    assert found == pytest.approx(0.4 + 1.225 * case.PLANFORM.panel_apparent_inertia, rel=1e-4)


def test_load_gradients_are_finite_and_match_differences_at_every_mach_number():
    mach = jnp.array([0.0, 0.6, 0.93, 1.07, 1.5, 2.0])
    ones = jnp.ones(6)
    legs = airborne(mach=mach, altitude=9000.0 * ones, sideslip=0.03 * ones)
    angle = jnp.tile(jnp.linspace(-1.2, 1.5, 7), (6, 1))

    def total(mach, gust_speed, load_factor):
        moved = legs._replace(mach=mach, gust_speed=gust_speed, load_factor=load_factor)
        found = strip(moved, fold_angle=angle)
        return 1e3 * jnp.sum(found.lift_moment_arm) + jnp.sum(found.steady_moment_high)

    gradient = jax.jit(jax.grad(total, argnums=(0, 1, 2)))
    point = [mach, 3.0 * ones, 1.2 * ones]
    found = gradient(*point)
    for index in range(3):
        for leg in range(1, 6):
            step = 1e-6 * jnp.eye(6)[leg]
            above = total(*point[:index], point[index] + step, *point[index + 1 :])
            below = total(*point[:index], point[index] - step, *point[index + 1 :])
            expected = float(above - below) / 2e-6
            assert found[index][leg] == pytest.approx(expected, rel=1e-5, abs=1e-4)
    # at the joints of the formulas, where differences mean little
    joints = gradient(jnp.array([0.0, 0.85, 1.0, 1.0198, 1.15, 1.07703]), *point[1:])
    assert all(np.all(np.isfinite(item)) for item in joints)


def test_legs_together_equal_legs_alone():
    together = strip()
    angle = case.angles(case.LEGS)
    for leg in range(4):
        alone = strip(
            case.LEGS._make(jnp.asarray(v)[leg : leg + 1] for v in case.LEGS),
            fold_angle=angle[leg : leg + 1],
        )
        for both, one in zip(together, alone, strict=True):
            np.testing.assert_allclose(both[leg], one[0], rtol=1e-12, atol=1e-12)


def test_bay_temperature_follows_the_prescription_or_the_soak_rule():
    # T_bay = f T_r + (1 - f) T_structure, reference thermal-power-mass 2.5; T_r 292.2 K from
    # hinge-moment section 4 (Mach 1.4, 40,000 ft)
    legs = case.make_legs(
        mach=[1.4, 1.4, 0.0],
        altitude=[12192.0, 12192.0, 0.0],
        bay_prescribed=[1.0, 0.0, 1.0],
        bay_cold=[250.0, 0.0, 255.0],
        bay_hot=[320.0, 0.0, 328.0],
        bay_soak_factor=[0.3, 0.3, 0.3],
        structure_temperature=[270.0, 270.0, 270.0],
        soak=[0.0, 0.0, 1.0],
        soak_temperature=[0.0, 0.0, 344.0],
    )
    found = environment(legs=legs)
    soaked = 0.3 * 292.2 + 0.7 * 270.0
    np.testing.assert_allclose(found.bay_cold_temperature, [250.0, soaked, 255.0], atol=0.05)
    np.testing.assert_allclose(found.bay_hot_temperature, [320.0, soaked, 344.0], atol=0.05)
    assert found.dynamic_pressure[0] == pytest.approx(25730.0, abs=1.0)
