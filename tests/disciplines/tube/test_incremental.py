"""Wall marched along a path: published cycle, minor loops, drift, single path against radial."""

import jax
import jax.numpy as jnp
import numpy as np
import pytest

from mdo.alloys import load_card
from mdo.disciplines.tube import torsion
from mdo.disciplines.tube.driven_march import march_driven
from mdo.disciplines.tube.incremental import (
    State,
    austenite,
    march_under,
    next_point,
    next_strain,
    next_stress,
)
from mdo.disciplines.tube.radial_twist import cold_twist_under
from mdo.disciplines.tube.radial_wall import mean_stress, wall_points

# the published cycle has no detwinning: its stresses are set out of reach
NEVER = {"detwinning_start_stress": 5e9, "detwinning_finish_stress": 6e9}
REF1 = jax.tree.map(float, load_card("ref1").record())._replace(**NEVER)
NITIHF = jax.tree.map(float, load_card("nitihf20_set1").record())
WALL, TUBE = wall_points(0.2, 10), torsion.section(0.010, 0.2)  # ro 10, ri 8 mm: C12
TO_DEGREES = np.degrees(0.5 / float(TUBE.effective_radius))
MEAN = 100.0 / float(TUBE.area * TUBE.effective_radius)  # of 100 N*m
COOL, HEAT = np.arange(430.0, 299.5, -1.0), np.arange(301.0, 430.5, 1.0)
MARCH = jax.jit(march_under)


def outer_stress_ratio(march, wall, mean):
    """Largest outer-fibre stress of a march over the elastic one T r_o / J of a mean stress."""
    elastic = mean * wall.ratio[-1] / mean_stress(wall.ratio, wall)
    return jnp.max(jnp.abs(march.states.stress[..., -1])) / elastic


def under(mean, kelvin, card=REF1, wall=WALL, start=None):
    start = austenite(wall) if start is None else start
    return MARCH(np.full(kelvin.size, mean), kelvin, start, wall, card)


@pytest.fixture(scope="module")
def cycle():
    return under(MEAN, np.concatenate([COOL, HEAT]))


def test_constant_torque_cycle_is_that_of_c12(cycle):
    # C12: twist in deg on cooling and heating, 0.2 %
    twist = dict(zip(COOL, np.asarray(cycle.strain)[: COOL.size] * TO_DEGREES, strict=True))
    heated = dict(zip(HEAT, np.asarray(cycle.strain)[COOL.size :] * TO_DEGREES, strict=True))
    cooling = {430: 11.8810, 360: 27.50, 355: 76.66, 350: 130.88, 345: 154.19, 340: 157.69,
               300: 159.03}  # fmt: skip
    heating = {385: 154.05, 390: 130.49, 395: 76.42, 400: 27.44, 405: 11.98}
    for kelvin, degrees in cooling.items():
        assert twist[kelvin] == pytest.approx(degrees, rel=2e-3), kelvin
    for kelvin, degrees in heating.items():
        assert heated[kelvin] == pytest.approx(degrees, rel=2e-3), kelvin
    assert np.asarray(cycle.residual).max() < 1e-9


def test_cold_stress_of_c12_runs_from_43_to_151_mpa(cycle):
    # inner and outer of 24 Gauss points 43.3 and 150.9 MPa, 3 %; the total form says 76 to 120
    fine = under(MEAN, np.arange(430.0, 299.9, -0.25), wall=wall_points(0.2, 24))
    ends = np.asarray(fine.states.stress)[-1, [0, -2]]
    assert ends == pytest.approx([43.3e6, 150.9e6], rel=0.01)
    volume = np.asarray(WALL.share / WALL.ratio) / float((WALL.share / WALL.ratio).sum())
    fraction = np.asarray(cycle.states.fraction) @ volume
    # C12 prints area-mean fractions: 355 K 0.4363, 350 K 0.8019 on cooling
    at = [list(COOL).index(kelvin) for kelvin in (355, 350)]
    assert fraction[at] == pytest.approx([0.4363, 0.8019], abs=2e-3)


def test_single_load_path_is_that_of_the_total_form(cycle):
    # research note: the two forms agree to 0.1 % in twist; asked 0.2 %
    cold = cold_twist_under(MEAN, WALL, REF1)
    assert float(cycle.strain[COOL.size - 1]) == pytest.approx(float(cold.strain), rel=2e-3)


def test_thin_wall_has_the_stress_of_the_total_form():
    # 3 % of stress over a thin wall (t/r_o 0.01), total form against the path
    wall = wall_points(0.01, 10)
    path = under(MEAN, COOL, wall=wall)
    cold = cold_twist_under(MEAN, wall, REF1)
    assert float(path.strain[-1]) == pytest.approx(float(cold.strain), rel=2e-3)
    stress = np.asarray(path.states.stress)[-1]
    assert stress == pytest.approx(np.asarray(cold.stress), rel=0.03)


def test_minor_loops_close_on_the_limit_cycle_of_c16():
    # C16: 395 K 76.415 then 76.344, 300 K 159.05 then 158.88 deg; limit 76.310 and 158.791 deg
    once = [np.arange(301.0, 395.5, 1.0), np.arange(394.0, 299.5, -1.0)]
    kelvin = np.concatenate([COOL, *(once * 8)])
    twist = np.asarray(under(MEAN, kelvin).strain) * TO_DEGREES
    hot, cold = twist[kelvin == 395.0][1:], twist[kelvin == 300.0]
    assert hot[:2] == pytest.approx([76.415, 76.344], rel=2e-3)
    assert cold[:2] == pytest.approx([159.05, 158.88], rel=2e-3)
    assert hot[-1] == pytest.approx(76.310, abs=1e-3)
    assert cold[-1] == pytest.approx(158.791, abs=1e-3)


def test_loop_is_forty_kelvin_wide_and_gives_back_the_work(cycle):
    # C22: mid-width (As + Af - Ms - Mf)/2 = 40 K; net work at constant torque is zero
    strain = np.asarray(cycle.strain)
    half = (strain.max() + strain.min()) / 2
    down = np.interp(half, strain[: COOL.size], COOL)
    up = np.interp(-half, -strain[COOL.size :], HEAT)
    assert up - down == pytest.approx(40.0, rel=2e-3)
    assert strain[-1] == pytest.approx(strain[0], rel=1e-9)


@pytest.mark.slow
def test_hundred_thousand_idle_steps_do_not_creep(cycle):
    half = jax.tree.map(lambda values: values[80], cycle.states)
    idle = under(MEAN, np.full(100_000, COOL[80]), start=half)
    assert np.ptp(np.asarray(idle.strain)) < 1e-12
    assert float(idle.strain[-1]) == pytest.approx(float(cycle.strain[80]), rel=1e-9)


def test_outer_stress_of_a_constant_torque_is_that_of_the_trial():
    # ladder notes, section 1: cold over elastic outer stress, worst on the path, of the medium
    # tube at 18, 50 and 110 MPa mean shear: 1.00, 1.63, 2.00. The trial had no detwinning.
    wall, kelvin = wall_points(0.706461568, 10), np.arange(520.0, 340.0, -1.0)
    for card, ratios in (
        (NITIHF._replace(**NEVER), [1.00, 1.63, 2.00]),
        # with the detwinning of the card a fibre above 300 MPa tensile gives way: corrected here
        (NITIHF, [1.00, 1.63, 1.11]),
    ):
        for mean, ratio in zip([18e6, 50e6, 110e6], ratios, strict=True):
            path = under(mean, kelvin, card=card, wall=wall)
            assert float(outer_stress_ratio(path, wall, mean)) == pytest.approx(ratio, abs=0.02)


def test_twinned_martensite_detwins_for_good():
    # Brinson's cosine: half of H_sat at 225 MPa tensile, kept when the load is gone
    start = State(jnp.ones(3), jnp.zeros(3), jnp.zeros(3))
    point = wall_points(1e-6, 2)
    mean = np.array([50e6, 225e6 / 3**0.5, 0.0, 225e6 / 3**0.5, 100e6])
    path = MARCH(mean, np.full(5, 300.0), start, point, NITIHF)
    half = 3**0.5 * NITIHF.strain_saturation / 2
    transformed = np.asarray(path.states.transformed)[:, 0]
    assert transformed == pytest.approx([0.0, half, half, half, half], rel=1e-3, abs=1e-9)


def test_stress_and_strain_of_a_step_are_inverse():
    generator = np.random.default_rng(5)
    count = 4000
    fraction = generator.random(count)
    before = State(fraction, fraction * generator.uniform(0.0, 0.05, count), jnp.zeros(count))
    kelvin = generator.uniform(300.0, 520.0, count)
    strain = generator.uniform(-0.005, 0.07, count)
    stress = jax.jit(next_stress)(strain, kelvin, before, NITIHF)
    back = np.asarray(next_strain(stress, kelvin, before, NITIHF))
    assert np.abs(back - strain).max() < 1e-9


def test_driven_march_finds_the_temperature_of_each_twist(cycle):
    # the cooling part of C12 turned round: at its twists the torque needs its temperatures
    chosen = np.array([list(COOL).index(kelvin) for kelvin in (358, 355, 352, 350, 347)])
    strain = np.asarray(cycle.strain)[chosen]
    path = jax.jit(march_driven)(
        strain, np.full(5, MEAN), austenite(WALL), WALL, REF1, (300.0, 430.0)
    )
    assert np.asarray(path.temperature) == pytest.approx(COOL[chosen], abs=0.3)
    assert np.asarray(path.residual).max() < 1e-6
    means = np.asarray(mean_stress(path.states.stress, WALL))
    assert means == pytest.approx(MEAN, rel=1e-6)


def test_a_stress_against_the_training_does_not_raise_m_s():
    # by hand: half transformed without stress; along the training M_s is shifted by sqrt3 tau/C
    trained = REF1._replace(strain_min=0.02)
    half = (REF1.martensite_start + REF1.martensite_finish) / 2.0
    none = State(jnp.zeros(()), jnp.zeros(()), jnp.zeros(()))
    of = [
        float(next_point(jnp.asarray(tau), half, none, card).fraction)
        for card, tau in ((trained, -20e6), (trained, 0.0), (trained, 20e6), (REF1, -20e6))
    ]
    assert of[0] == of[1] == pytest.approx(0.5)
    assert of[2] == of[3] > 0.5  # untrained, both ways are alike
