"""Radiation and view factors: published values, exact sums and a ray casting of the test's own."""

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from jax.test_util import check_grads

from mdo.disciplines.heat import radiation


def cast_rays(centres, *, rays, seed):
    """Fraction of cosine-distributed rays from a unit-diameter cylinder that hit nothing."""
    generator = np.random.default_rng(seed)
    at = generator.uniform(0.0, 2.0 * np.pi, rays)
    lean = np.arcsin(generator.uniform(-1.0, 1.0, rays))  # Lambert's law in the plane
    origin = 0.5 * np.stack([np.cos(at), np.sin(at)])
    ray = np.stack([np.cos(at + lean), np.sin(at + lean)])
    free = np.ones(rays, dtype=bool)
    for centre in np.asarray(centres):
        to = centre[:, None] - origin
        along = np.sum(to * ray, axis=0)
        miss = np.sum(to * to, axis=0) - along**2
        hit = (along > 0.0) & (miss < 0.25)
        free &= ~hit
    return np.mean(free)


def hexagon(pitch):
    turn = np.arange(6) * np.pi / 3
    return pitch * np.stack([np.cos(turn), np.sin(turn)], axis=1)


def square(pitch):
    steps = [(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1) if (i, j) != (0, 0)]
    return pitch * np.array(steps, dtype=float)


@pytest.mark.parametrize(
    ("emissivity", "rod"), [(0.1, 538.60), (0.2, 519.01), (0.5, 506.52), (0.9, 502.71)]
)
def test_rod_in_a_tube_reaches_published_temperature(emissivity, rod):
    # TM-07 [S55]: rod 50 mm with 20 kW/m3 in a 60 mm tube at 773 K, evacuated
    power = 20e3 * np.pi / 4 * 0.05**2
    per_drive = radiation.concentric_exchange(
        inner_radius=0.025,
        outer_radius=0.030,
        inner_temperature=1.0,
        outer_temperature=0.0,
        inner_emissivity=emissivity,
        outer_emissivity=emissivity,
    )
    temperature = (power / per_drive + 773.0**4) ** 0.25
    assert temperature - 273.15 == pytest.approx(rod, abs=0.01)


CRYOGENIC = {
    "inner_radius": 0.010,
    "outer_radius": 0.025,
    "inner_temperature": 77.0,
    "outer_temperature": 300.0,
    "inner_emissivity": 0.02,
    "outer_emissivity": 0.05,
}


def test_cryogenic_line_gains_half_a_watt_per_metre():
    # TM-08: inputs [S56] Incropera 13.63; 0.499 W/m
    assert -radiation.concentric_exchange(**CRYOGENIC) == pytest.approx(0.499, rel=0.01)


def test_shield_halves_the_gain_of_the_cryogenic_line():
    # TM-08: 0.252 W/m (-49.6 %)
    shield = {"shield_radius": 0.0175, "shield_emissivity": 0.02}
    assert -radiation.shielded_exchange(**CRYOGENIC, **shield) == pytest.approx(0.252, rel=0.01)


def test_copied_answer_of_the_oxygen_line_is_rejected():
    # TM-08b: 0.839 W/m; the printed 7.66 W/m [S57] is wrong
    gain = -radiation.concentric_exchange(
        inner_radius=0.015,
        outer_radius=0.025,
        inner_temperature=85.0,
        outer_temperature=290.0,
        inner_emissivity=0.03,
        outer_emissivity=0.05,
    )
    assert gain == pytest.approx(0.839, rel=0.01)
    assert abs(gain - 7.66) > 6.0


def test_shield_in_the_wall_changes_nothing_but_its_own_resistance():
    # a black shield at the inner surface adds one resistance of black concentric faces
    black = CRYOGENIC | {"inner_emissivity": 1.0, "outer_emissivity": 1.0}
    one = radiation.concentric_exchange(**black)
    both = radiation.shielded_exchange(**black, shield_radius=0.010, shield_emissivity=1.0)
    assert both == pytest.approx(float(one) / 2.0)


@pytest.mark.parametrize(
    ("pitch", "factor"),
    [(1.0, 0.181690), (1.25, 0.136012), (1.5, 0.110696), (2.0, 0.081376), (3.0, 0.053560)],
)
def test_parallel_cylinders_match_tm09(pitch, factor):
    assert radiation.pair_view_factor(jnp.asarray(pitch)) == pytest.approx(factor, abs=1e-6)


def test_touching_row_lets_two_over_pi_escape():
    assert radiation.row_escape(jnp.asarray(1.0)) == pytest.approx(2.0 / np.pi, rel=1e-14)


def test_row_of_five_agrees_with_ray_casting():
    # TM-10: middle tube of five touching, 2/pi +- 0.003
    row = [(-2.0, 0.0), (-1.0, 0.0), (1.0, 0.0), (2.0, 0.0)]
    assert cast_rays(row, rays=200_000, seed=1) == pytest.approx(2.0 / np.pi, abs=0.003)


def test_touching_bundles_let_nothing_escape():
    # TM-10: exact zero; the plain sum of six pairs is 1.09
    assert radiation.hexagonal_escape(jnp.asarray(1.0)) == pytest.approx(0.0, abs=1e-14)
    assert radiation.square_escape(jnp.asarray(1.0)) == pytest.approx(0.0, abs=1e-14)
    assert 6.0 * radiation.pair_view_factor(jnp.asarray(1.0)) > 1.05


@pytest.mark.parametrize("pitch", [1.0, 1.02, 1.05, 1.1, 1.1547, 1.25, 1.5, 2.0])
def test_hexagonal_escape_agrees_with_ray_casting(pitch):
    rays = cast_rays(hexagon(pitch), rays=200_000, seed=2)
    assert radiation.hexagonal_escape(jnp.asarray(pitch)) == pytest.approx(rays, abs=0.003)


@pytest.mark.parametrize("pitch", [1.0, 1.05, 1.2, 1.3, 1.42, 1.6, 2.0])
def test_square_escape_agrees_with_ray_casting(pitch):
    rays = cast_rays(square(pitch), rays=200_000, seed=3)
    assert radiation.square_escape(jnp.asarray(pitch)) == pytest.approx(rays, abs=0.003)


def test_hexagonal_escape_at_the_pitch_of_the_reference():
    # reference 2.7: 0.185 at X = 1.25 by ray casting
    assert radiation.hexagonal_escape(jnp.asarray(1.25)) == pytest.approx(0.184, abs=0.002)


@pytest.mark.parametrize(
    ("escape", "joint"),
    [(radiation.hexagonal_escape, 2.0 / 3.0**0.5), (radiation.square_escape, 2.0**0.5)],
)
def test_escape_is_continuous_with_equal_slopes_and_rises(escape, joint):
    near = jnp.array([joint - 1e-7, joint + 1e-7])
    values = jax.vmap(escape)(near)
    slopes = jax.vmap(jax.grad(escape))(near)
    assert values[0] == pytest.approx(float(values[1]), abs=1e-6)
    assert slopes[0] == pytest.approx(float(slopes[1]), abs=1e-5)
    curve = escape(jnp.linspace(1.0, 4.0, 200))
    assert np.all(np.diff(curve) > 0.0)
    assert np.all(curve <= 1.0)


def test_escape_has_a_finite_slope_where_tubes_touch():
    for escape in (radiation.row_escape, radiation.hexagonal_escape, radiation.square_escape):
        assert np.isfinite(jax.grad(escape)(1.0))


def test_effective_emissivity_is_the_grey_enclosure_of_equal_tubes():
    # exact solve of J = eps sigma T^4 + (1 - eps)(F J), bay black at 0 K, unit sigma T^4
    emissivity, escape = 0.6, 0.3
    radiosity = emissivity / (1.0 - (1.0 - emissivity) * (1.0 - escape))
    assert radiation.effective_emissivity(emissivity, escape) == pytest.approx(escape * radiosity)
    assert radiation.effective_emissivity(0.8, 1.0) == pytest.approx(0.8)


@pytest.mark.parametrize(("emissivity", "film"), [(0.8, 6.8), (0.3, 2.55)])
def test_radiative_coefficient_of_the_altitude_table(emissivity, film):
    # reference 2.6: surface 100 degC, surroundings 20 degC
    value = emissivity * radiation.radiative_coefficient(373.15, 293.15)
    assert value == pytest.approx(film, rel=0.01)


def test_radiative_coefficient_is_exact():
    hot, cold = 400.0, 300.0
    value = radiation.radiative_coefficient(hot, cold) * (hot - cold)
    assert value == pytest.approx(radiation.STEFAN_BOLTZMANN * (hot**4 - cold**4))


@pytest.mark.parametrize("pitch", [1.05, 1.3, 1.8])
def test_escape_gradients(pitch):
    for escape in (radiation.hexagonal_escape, radiation.square_escape):
        check_grads(escape, (pitch,), order=1, modes=("fwd", "rev"), rtol=1e-5)


def test_escape_vmap_equals_loop():
    pitch = jnp.linspace(1.0, 3.0, 9)
    loop = [radiation.square_escape(x) for x in pitch]
    np.testing.assert_allclose(
        jax.vmap(radiation.square_escape)(pitch), loop, rtol=1e-14, atol=1e-15
    )
