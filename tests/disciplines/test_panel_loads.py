"""Mass, motion, friction and wind loads against hand values and particle sums."""

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from jax.test_util import check_grads

from mdo.disciplines.atmosphere import standard_atmosphere
from mdo.disciplines.loads import fold_factors, panel_resistance, wind
from mdo.disciplines.loads import panel_inertia as panel

KNOT = 1852.0 / 3600.0


def test_peaks_of_the_motion_match_case_a5():
    # minimum jerk: 10 t^3 - 15 t^4 + 6 t^5, Flash and Hogan 1985 (from memory)
    motion = np.polynomial.Polynomial([0.0, 0.0, 0.0, 10.0, -15.0, 6.0])
    tau = np.linspace(0.0, 1.0, 200_001)
    rate, acceleration = motion.deriv(1)(tau), motion.deriv(2)(tau)
    assert np.max(rate) == pytest.approx(panel_resistance.PEAK_RATE, abs=1e-9)
    assert np.max(acceleration) == pytest.approx(panel_resistance.PEAK_ACCELERATION, abs=1e-8)
    assert pytest.approx(1.875, abs=1e-5) == panel_resistance.PEAK_RATE
    assert pytest.approx(5.77350, abs=1e-5) == panel_resistance.PEAK_ACCELERATION


def gravity(bank, roll=0.0, angle=60.0, offset=0.0, pitch=0.0):
    return panel.attitude_moment(
        fold_angle=jnp.radians(angle),
        panel_mass=10.0,
        panel_centre=0.5,
        panel_offset=offset,
        bank=np.radians(bank),
        deck_roll=np.radians(roll),
        pitch=np.radians(pitch),
    )


def test_pendulum_matches_case_a6():
    assert gravity(0.0).low == pytest.approx(-24.517, abs=1e-3)
    assert gravity(60.0).low == pytest.approx(-49.033, abs=1e-3)
    inverted = panel.inertial_moment(
        fold_angle=np.radians(60.0),
        panel_mass=10.0,
        panel_centre=0.5,
        panel_offset=0.0,
        load_factor=-1.0,
        side_load_factor=0.0,
    )
    assert inverted == pytest.approx(24.517, abs=1e-3)


@pytest.mark.parametrize("angle", [-80.0, -5.0, 0.0, 40.0, 90.0, 110.0])
def test_rolling_deck_covers_every_bank(angle):
    found = gravity(3.0, roll=12.0, angle=angle, offset=0.05, pitch=4.0)
    bank, pitch = np.radians(np.linspace(-9.0, 15.0, 20_001)), np.radians(4.0)
    each = panel.inertial_moment(
        fold_angle=jnp.radians(angle),
        panel_mass=10.0,
        panel_centre=0.5,
        panel_offset=0.05,
        load_factor=np.cos(bank) * np.cos(pitch),
        side_load_factor=-np.sin(bank) * np.cos(pitch),
    )
    assert found.low == pytest.approx(float(each.min()), rel=1e-6, abs=1e-4)
    assert found.high == pytest.approx(float(each.max()), rel=1e-6, abs=1e-4)


def test_inertia_matches_a_finite_difference_particle_sum():
    # case A7: particles of the panel on a rolling aircraft, positions differenced twice in time
    rng = np.random.default_rng(7)
    mass = rng.uniform(0.1, 1.0, 12)
    along, normal = rng.uniform(0.0, 1.0, 12), rng.uniform(-0.1, 0.1, 12)
    station, height = 1.4, 0.3
    roll_rate, roll_acceleration, rate, acceleration, angle0 = 0.8, 1.7, 0.9, -2.1, 0.7
    load, side = 1.3, -0.2

    def position(time):
        angle = angle0 + rate * time + 0.5 * acceleration * time**2
        bank = roll_rate * time + 0.5 * roll_acceleration * time**2
        y = station + along * np.cos(angle) - normal * np.sin(angle)
        z = height + along * np.sin(angle) + normal * np.cos(angle)
        # right wing down: right is turned towards down
        return y * np.cos(bank) + z * np.sin(bank), -y * np.sin(bank) + z * np.cos(bank)

    step = 1e-4
    before, now, after = position(-step), position(0.0), position(step)
    relative = [(a - 2 * b + c) / step**2 for a, b, c in zip(before, now, after, strict=True)]
    total_y = relative[0] + 9.80665 * side
    total_z = relative[1] + 9.80665 * load
    arm_y, arm_z = now[0] - station, now[1] - height
    expected = -np.sum(mass * (arm_y * total_z - arm_z * total_y))

    total = mass.sum()
    body = {
        "fold_angle": angle0,
        "panel_mass": total,
        "panel_centre": np.sum(mass * along) / total,
        "panel_offset": np.sum(mass * normal) / total,
    }
    own = np.sum(mass * (along**2 + normal**2))
    found = (
        panel.inertial_moment(**body, load_factor=load, side_load_factor=side)
        + roll_acceleration
        * panel.roll_acceleration_inertia(
            **body, panel_inertia=own, fold_station=station, hinge_height=height
        )
        + panel.centrifugal_moment(
            **body, fold_station=station, hinge_height=height, roll_rate=roll_rate
        )
        - own * acceleration
    )
    assert found == pytest.approx(expected, rel=1e-6)


def test_centrifugal_force_pulls_an_up_folded_panel_to_flat():
    moment = panel.centrifugal_moment(
        fold_angle=0.8,
        panel_mass=5.0,
        panel_centre=0.3,
        panel_offset=0.0,
        fold_station=1.0,
        hinge_height=0.0,
        roll_rate=3.0,
    )
    assert moment == pytest.approx(-5.0 * 9.0 * 1.0 * 0.3 * np.sin(0.8))  # -m p^2 y_f s_c sin(phi)


def test_toe_incidence_matches_case_f36():
    found = np.degrees(fold_factors.toe_incidence(np.radians(10.0), np.radians(30.0)))
    assert found == pytest.approx(4.98, abs=5e-3)


def test_toe_incidence_without_toe_is_wing_incidence_times_cosine():
    found = fold_factors.toe_incidence(0.0, 1.0, 0.1)
    assert np.sin(found) == pytest.approx(np.sin(0.1) * np.cos(1.0))


def test_damping_matches_strip_sum():
    # unit density and speed, rectangle c = 1, w = 2: 0.5 a w^3/3
    found = panel_resistance.damping_per_rate(
        air_density=1.0, true_airspeed=1.0, panel_slope=3.0, panel_damping_integral=8.0 / 3.0
    )
    assert found == pytest.approx(4.0)


def bearing(normal=1000.0, drag=0.0, weight=0.0, offset=0.0):
    return panel_resistance.bearing_friction_moment(
        normal_force=normal,
        drag_force=drag,
        weight_force=weight,
        centre_offset=offset,
        drag_arm=0.3,
        bearing_spacing=0.4,
        bearing_radius=0.01,
        bearing_friction=0.1,
    )


def test_centred_load_gives_coulomb_friction():
    assert bearing() == pytest.approx(0.1 * 0.01 * 1000.0, rel=1e-9)


def test_load_outside_the_bearings_raises_friction():
    # lever: reactions 1.25 and -0.25 of the load for an offset of 0.75 of the spacing
    assert bearing(offset=0.3) == pytest.approx(0.1 * 0.01 * 1500.0, rel=1e-9)
    assert bearing(drag=100.0) > bearing()
    # drag alone on an arm of 0.75 of the spacing: the same lever
    assert bearing(normal=0.0, drag=1000.0) == pytest.approx(0.1 * 0.01 * 1500.0, rel=1e-9)


def test_bearing_friction_is_even_and_differentiable_at_no_load():
    assert bearing(-500.0) == pytest.approx(float(bearing(500.0)))
    assert np.isfinite(jax.grad(bearing)(0.0))


@pytest.mark.parametrize(("speed", "pressure"), [(65.0, 684.87), (60.0, 583.56)])
def test_wind_rule_matches_case_a8(speed, pressure):
    found = wind.wind_moment_rule(
        air_density=1.225,
        wind_speed=speed * KNOT,
        panel_area=1.0,
        panel_centroid=0.5,
        wind_factor=1.0,
    )
    assert found == pytest.approx(pressure, abs=0.05)


def test_wind_rule_matches_the_parked_example():
    # reference section 5, 65 kt parked: 121 N*m on S_o w = 0.427 m2 x 0.553 m
    found = wind.wind_moment_rule(
        air_density=standard_atmosphere(0.0).density,
        wind_speed=65.0 * KNOT,
        panel_area=0.427,
        panel_centroid=0.553 / 2,
        wind_factor=0.75,
    )
    assert found == pytest.approx(121.0, abs=0.5)


def test_wind_on_a_plate_agrees_with_the_rule_broadside():
    # reference section 1.7: a coefficient of 1.5 at half the span reproduces 0.75
    def plate(angle):
        return wind.wind_moment_plate(
            fold_angle=angle,
            air_density=1.225,
            wind_speed=30.0,
            panel_area=2.0,
            wind_arm=0.5,
            panel_slope=3.0,
            wind_upflow=np.radians(10.0),
            wind_plateau=1.5,
        )

    rule = wind.wind_moment_rule(
        air_density=1.225, wind_speed=30.0, panel_area=2.0, panel_centroid=0.5, wind_factor=0.75
    )
    assert plate(np.pi / 2) == pytest.approx(float(rule), rel=0.05)
    assert plate(0.0) < 0.4 * rule
    assert plate(0.7) == pytest.approx(float(plate(-0.7)))


def gravity_moment(angle):
    return panel.inertial_moment(
        fold_angle=angle,
        panel_mass=50.0 / 9.80665,
        panel_centre=1.0,
        panel_offset=0.0,
        load_factor=1.0,
        side_load_factor=0.0,
    )


def test_panel_load_gradients_match_differences():
    check_grads(gravity_moment, (0.6,), order=2, modes=("fwd", "rev"))
    check_grads(bearing, (300.0, 20.0, 5.0, 0.1), order=1, modes=("rev",), rtol=1e-5)


def test_attitude_vmap_equals_loop():
    angles = np.array([-60.0, 0.0, 30.0, 90.0])
    together = jax.vmap(lambda angle: gravity(2.0, 10.0, angle).high)(angles)
    single = [float(gravity(2.0, 10.0, angle).high) for angle in angles]
    np.testing.assert_allclose(together, single, rtol=1e-13)
