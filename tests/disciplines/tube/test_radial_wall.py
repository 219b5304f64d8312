"""Wall resolved over the radius: textbook torsion, published points, roots, derivatives."""

from functools import partial
from itertools import pairwise

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from jax import export
from scipy.optimize import brentq

from mdo.alloys import load_card
from mdo.disciplines.records import Alloy
from mdo.disciplines.tube import phases, radial_twist, sma, torsion
from mdo.disciplines.tube.hot import hot_strain
from mdo.disciplines.tube.radial_twist import cold_twist_under, hot_twist_under, twist_under
from mdo.disciplines.tube.radial_wall import hot_wall_stress, mean_stress, wall_points

REF1 = jax.tree.map(float, load_card("ref1").record())
CARDS = ("ref1", "nitihf20_set1", "nitihf20_set2", "niti_actuator")
TUBE = torsion.section(0.010, 0.2)  # ro 10, ri 8 mm: check cases C1, C12, C13
LENGTH = 0.5
RESIDUAL = 1e-9  # of 100 MPa and of 0.01 of strain
# compiled once for walls of as many points, whatever the alloy
cold_under, hot_under = jax.jit(cold_twist_under), jax.jit(hot_twist_under)


def torque(law, *, inner, outer, twist_rate, points=8):
    """Torque of a tube [N*m], law of stress over strain, with the module's own points."""
    section = torsion.section(outer, 1.0 - inner / outer)
    wall = wall_points(1.0 - inner / outer, points)
    strain = np.asarray(wall.ratio) * float(section.effective_radius) * twist_rate
    return float(torsion.torque(mean_stress(jnp.asarray(law(strain)), wall), section))


def split_torque(law, *, inner, outer, twist_rate, kinks, points=8):
    """The same, cut where the strain passes a kink of the law."""
    radii = np.clip([inner, *(kink / twist_rate for kink in kinks), outer], inner, outer)
    return sum(
        torque(law, inner=low, outer=high, twist_rate=twist_rate, points=points)
        for low, high in pairwise(radii)
        if high > low
    )


def plastic(yield_stress, modulus):
    return lambda strain: np.minimum(modulus * strain, yield_stress)


def trilinear(strain):
    """C4: 25 GPa to 150 MPa, 1 GPa to a strain of 0.046, then 15 GPa."""
    flat = 150e6 + 1e9 * (strain - 0.006)
    return np.where(
        strain < 0.006,
        25e9 * strain,
        np.where(strain < 0.046, flat, 190e6 + 15e9 * (strain - 0.046)),
    )


def test_elastic_wall_is_that_of_c1():
    # C1 (textbook): 84.16799 N*m, 90.7571 MPa and 3.490659e-3 at the outer fibre at 10 deg
    wall = wall_points(0.2)
    strain = np.radians(10.0) * float(TUBE.effective_radius) / LENGTH
    stress = hot_wall_stress(strain, 430.0, jnp.zeros(wall.ratio.shape), wall, REF1)
    assert float(stress[-1]) == pytest.approx(90.7571e6, rel=1e-6)
    assert strain * float(wall.ratio[-1]) == pytest.approx(3.490659e-3, rel=1e-6)
    moment = torsion.torque(mean_stress(stress, wall), TUBE)
    assert float(moment) == pytest.approx(84.16799, rel=1e-6)


def test_plastic_bar_and_tube_are_those_of_c2_and_c3():
    # C2, C3 (Timoshenko): solid R 5 mm at 200 MPa, core 2.5 mm; tube 10/6 mm at 150 MPa, core 8 mm
    bar, strain = plastic(200e6, 25e9), 200e6 / 25e9
    rate = strain / 0.0025
    got = split_torque(bar, inner=0.0, outer=0.005, twist_rate=rate, kinks=[strain])
    assert got == pytest.approx(50.72363, rel=1e-6)
    tube, strain = plastic(150e6, 25e9), 150e6 / 25e9
    assert strain / 0.008 == pytest.approx(0.3 / 0.4)
    given = {"inner": 0.006, "outer": 0.010, "twist_rate": 0.75}
    assert split_torque(tube, **given, kinks=[strain]) == pytest.approx(235.7765, rel=1e-6)
    # 16 points across the kink: 2e-3 allowed
    assert torque(tube, **given, points=16) == pytest.approx(235.7765, rel=2e-3)


@pytest.mark.parametrize(
    ("inner", "degrees", "moment"),
    [(0.0, 20, 40.74315), (0.0, 60, 51.87935), (0.0035, 20, 27.37245), (0.0035, 60, 36.49430)],
)
def test_trilinear_loading_is_that_of_c4(inner, degrees, moment):
    given = {"inner": inner, "outer": 0.005, "twist_rate": np.radians(degrees) / 0.1}
    got = split_torque(trilinear, **given, kinks=[0.006, 0.046])
    assert got == pytest.approx(moment, rel=1e-5)


def test_points_across_a_sharp_kink_err_as_in_c4():
    # C4: 16 points not split at the kinks give 51.748 N*m, 0.25 % low
    got = torque(trilinear, inner=0.0, outer=0.005, twist_rate=np.radians(60) / 0.1, points=16)
    assert got == pytest.approx(51.748, abs=1e-3)


@pytest.mark.parametrize(
    ("inner", "elastic"), [(0.0, 0.5), (0.5, 0.625), (0.8, 0.82), (0.9, 0.905)]
)
def test_elastic_utilisation_is_that_of_c7(inner, elastic):
    # C7: volume mean of tau gamma over that of the outer fibre, (1 + beta^2)/2
    wall = wall_points(1.0 - inner)
    volume = np.asarray(wall.share / wall.ratio)
    used = np.sum(volume * (wall.ratio / wall.ratio[-1]) ** 2) / volume.sum()
    assert used == pytest.approx(elastic, abs=1e-12)


def test_cold_and_hot_twist_are_those_of_c12():
    # C12, total form: twist and stress at inner and outer fibre at 50 and 100 N*m, tolerance 1e-5
    wall = wall_points(0.2)
    mean = np.array([50.0, 100.0]) / float(TUBE.area * TUBE.effective_radius)
    cold = cold_under(mean, wall, REF1)
    to_degrees = np.degrees(LENGTH / float(TUBE.effective_radius))
    assert np.asarray(cold.strain) * to_degrees == pytest.approx([106.4021, 158.936], rel=1e-5)
    assert np.asarray(cold.stress[:, -1]) == pytest.approx([56.501e6, 120.098e6], rel=1e-5)
    inner = np.asarray(cold.strain) * 0.8 * float(wall.ratio[-1])
    at_inner = sma.martensite_stress(inner, REF1, 0.0)
    assert np.asarray(at_inner) == pytest.approx([40.768e6, 76.061e6], rel=1e-5)
    hot = hot_under(mean, 430.0, jnp.zeros(wall.ratio.shape), wall, REF1)
    assert np.asarray(hot.strain) * to_degrees == pytest.approx([5.9405, 11.8810], rel=1e-5)
    stroke = np.asarray(cold.strain - hot.strain) * to_degrees
    assert stroke == pytest.approx([100.4616, 147.055], rel=1e-5)
    # C13: the closed form of one stress gives 101.0871 and 148.3854 deg, within 1 % of these
    uniform = sma.martensite_strain(mean, REF1, 0.0) - mean / REF1.austenite_shear_modulus
    assert np.asarray(uniform) * to_degrees == pytest.approx([101.0871, 148.3854], rel=1e-5)
    assert np.asarray(uniform) * to_degrees == pytest.approx(stroke, rel=0.01)


@pytest.mark.parametrize(
    ("points", "miss"), [(2, -1.32e-2), (3, 7.3e-6), (4, 6.0e-7), (6, -5.5e-11)]
)
def test_tube_needs_the_points_of_c19(points, miss):
    # C19: residual of the torque at the converged twist of C12, of 100 N*m
    mean = 100.0 / float(TUBE.area * TUBE.effective_radius)
    twist = cold_under(mean, wall_points(0.2, 16), REF1).strain
    coarse = wall_points(0.2, points)
    stress = sma.martensite_stress(twist * coarse.ratio, REF1, 0.0)
    moment = float(torsion.torque(mean_stress(stress, coarse), TUBE))
    assert moment - 100.0 == pytest.approx(miss, rel=0.05, abs=2e-11)


@pytest.mark.parametrize(("points", "miss"), [(4, 1.9e-3), (6, 1.7e-4), (8, -5.3e-6), (12, 1.8e-9)])
def test_solid_bar_needs_the_points_of_c19(points, miss):
    # C19: solid bar of 25 N*m, R 5 mm (its elastic outer stress is 127 MPa); 167 MPa in total form
    bar = torsion.section(0.005, 1.0)
    cold = cold_under(25.0 / float(bar.area * bar.effective_radius), wall_points(1.0, 32), REF1)
    assert float(cold.stress[-1]) == pytest.approx(167e6, rel=3e-3)
    coarse = wall_points(1.0, points)
    stress = sma.martensite_stress(cold.strain * coarse.ratio, REF1, 0.0)
    moment = float(torsion.torque(mean_stress(stress, coarse), bar))
    assert moment - 25.0 == pytest.approx(miss, rel=0.05)


def brinson():
    fields = {key: field.value for key, field in load_card("niti_brinson").fields.items()}
    blank = dict.fromkeys(Alloy._fields, np.nan) | {"strain_factor": 1.0, "slope_factor": 1.0}
    return Alloy(**(blank | fields))._replace(
        strain_min=0.0, martensite_shear_modulus=26.3e9 / 2.66, strain_threshold_stress=0.0,
        strain_rate_constant=1e-8,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("inner", "moments"),
    [(0.0, [3.62867, 4.03358, 4.52137]), (0.0024, [1.82013, 2.02527, 2.30497])],
)
def test_twinned_martensite_in_torsion_is_that_of_c20(inner, moments):
    # C20 (Brinson 1993 set, 5 degC): solid R 3 mm and tube 3/2.4 mm at outer strains of 2, 5, 10 %
    card, ends = brinson(), [0.00583936, 0.1277261]
    for strain, moment in zip([0.02, 0.05, 0.10], moments, strict=True):
        got = split_torque(
            lambda gamma: np.asarray(sma.martensite_stress(gamma, card, 1.0)),
            inner=inner,
            outer=0.003,
            twist_rate=strain / 0.003,
            kinks=ends,
            points=24,
        )
        assert got == pytest.approx(moment, rel=1e-4)


def random_walls(card, count, seed):
    """Locked-in strains as a pair leaves them, temperatures from A_s to far above A_f, stresses."""
    generator = np.random.default_rng(seed)
    walls = jax.vmap(wall_points)(generator.uniform(0.05, 0.75, count))
    start = generator.uniform(0.0, 0.04, (count, 1)) * np.asarray(walls.ratio)
    locked = start - sma.martensite_stress(start, card, 0.0) / card.martensite_shear_modulus
    hot = card.austenite_finish + generator.uniform(-20.0, 70.0, count)
    stress = generator.uniform(-20e6, 250e6, count)
    line = card.austenite_slope * (hot - card.austenite_finish) / phases.ROOT3
    # a third of them at the kink itself: the mean stress on the line of A_f
    stress[::3] = line[::3] * generator.uniform(0.98, 1.02, stress[::3].size)
    return walls, locked, hot, stress


@jax.jit
@partial(jax.vmap, in_axes=(0, 0, 0, 0, None))
def roots(wall, locked, temperature, stress, card):
    hot = hot_twist_under(stress, temperature, locked, wall, card)
    cold = cold_twist_under(stress, wall, card)
    back = mean_stress(hot_wall_stress(hot.strain, temperature, locked, wall, card), wall)
    again = mean_stress(sma.martensite_stress(cold.strain * wall.ratio, card, 0.0), wall)
    return hot.residual, cold.residual, back - stress, again - stress


@pytest.mark.parametrize("name", CARDS)
def test_roots_of_ten_thousand_walls_leave_no_residual(name):
    card = jax.tree.map(float, load_card(name).record())
    walls, locked, hot, stress = random_walls(card, 10_000, 20261129)
    found = roots(walls, locked, hot, stress, card)
    hot_rest, cold_rest, back, again = map(np.asarray, found)
    assert hot_rest.max() < RESIDUAL
    assert cold_rest.max() < RESIDUAL
    # through the inverse, which knows nothing of the root of the twist
    assert np.abs(back).max() < 1e-6 * 100e6
    assert np.abs(again).max() < 1e-6 * 100e6


@pytest.mark.parametrize("name", CARDS)
def test_points_of_a_hot_wall_obey_their_law(name):
    card = load_card(name).record()
    generator = np.random.default_rng(3)
    count = 20_000
    strain = generator.uniform(-0.01, 0.08, count)
    locked = generator.uniform(0.0, 0.08, count) * (generator.random(count) > 0.1)
    hot = card.austenite_finish + generator.uniform(-60.0, 60.0, count)
    point = wall_points(1e-9, 1)._replace(ratio=jnp.ones(1), share=jnp.ones(1))
    stress = hot_wall_stress(strain, hot[:, None], locked[:, None], point, card)[:, 0]
    miss = np.asarray(hot_strain(stress, hot, locked, card)) - strain
    assert np.abs(miss).max() < 1e-14


def stress_by_hand(gamma, temperature, locked, card):
    """Root of tau/G(xi) + locked xi = gamma by scipy, the equations written out once more."""

    def miss(tau):
        shift = 3**0.5 * max(tau, 0.0) / (card.austenite_slope * card.slope_factor)
        place = (card.austenite_finish + shift - temperature) / (
            card.austenite_finish - card.austenite_start
        )
        xi = (1.0 - np.cos(np.pi * min(max(place, 0.0), 1.0))) / 2.0
        soft = (1.0 - xi) / card.austenite_shear_modulus + xi / card.martensite_shear_modulus
        return tau * soft + locked * xi - gamma

    return brentq(miss, -1e10, 1e10, xtol=1e-3, rtol=1e-14)


@pytest.mark.parametrize("wall_ratio", [0.1, 0.7])
def test_roots_are_those_of_a_library(wall_ratio):
    # nested scipy.optimize.brentq, the points and weights of numpy over the radius
    card = jax.tree.map(float, load_card("nitihf20_set1").record())
    nodes, weights = np.polynomial.legendre.leggauss(8)
    inner = 1.0 - wall_ratio
    radius = (1.0 + inner) / 2 + wall_ratio / 2 * nodes
    effective = 2.0 / 3.0 * (1.0 - inner**3) / (1.0 - inner**2)
    wall = wall_points(wall_ratio)
    for hot, mean in ((470.0, 110e6), (470.0, 60e6), (480.0, 150e6), (460.0, 90e6), (474.0, 5e6)):

        def excess(strain, hot=hot, mean=mean):
            local = [
                stress_by_hand(strain * r / effective, hot, 0.02 * r / effective, card)
                for r in radius
            ]
            torque = np.sum(weights * wall_ratio / 2 * np.array(local) * radius**2)
            return torque / ((1.0 - inner**3) / 3.0) - mean

        by_library = brentq(excess, -0.01, 0.06, xtol=1e-14)
        ours = hot_under(mean, hot, 0.02 * wall.ratio, wall, card)
        assert float(ours.strain) == pytest.approx(by_library, rel=1e-8)
        outer = stress_by_hand(
            by_library * float(wall.ratio[-1]), hot, 0.02 * float(wall.ratio[-1]), card
        )
        assert float(ours.stress[-1]) == pytest.approx(outer, rel=1e-7)


def test_sharp_kinks_do_not_make_the_twist_cycle():
    # a law of three straight pieces (C4) and its inverse: every torque, from below to above
    def strain(stress, _):
        flat = 0.006 + (stress - 150e6) / 1e9
        steep = 0.046 + (stress - 190e6) / 15e9
        return jnp.where(stress < 150e6, stress / 25e9, jnp.where(stress < 190e6, flat, steep))

    def inverse(gamma, _):
        flat = 150e6 + 1e9 * (gamma - 0.006)
        steep = 190e6 + 15e9 * (gamma - 0.046)
        return jnp.where(gamma < 0.006, 25e9 * gamma, jnp.where(gamma < 0.046, flat, steep))

    mean = np.linspace(-300e6, 400e6, 4001)
    twisted = jax.jit(lambda mean, wall: twist_under(mean, wall, 0.0, strain, inverse))
    for wall_ratio in (0.05, 0.3, 0.75, 1.0):
        wall = wall_points(wall_ratio)
        got = twisted(mean, wall)
        assert np.asarray(got.residual).max() < RESIDUAL
        back = mean_stress(inverse(got.strain[:, None] * wall.ratio, 0.0), wall)
        assert np.asarray(back) == pytest.approx(mean, abs=1.0)


def test_walls_side_by_side_are_twisted_in_a_handful_of_turns(monkeypatch):
    # each alone takes 4 or 5 turns; one that is there must not be halved away while others go on
    monkeypatch.setattr(radial_twist, "TURNS", 8)
    card, wall = load_card("nitihf20_set1").record(), wall_points(0.5)
    stress = jnp.linspace(-20e6, 180e6, 300)
    locked = jnp.linspace(0.01, 0.06, 300)[:, None] * wall.ratio
    for found in (
        hot_twist_under(stress, 440.0, locked, wall, card),
        cold_twist_under(stress, wall, card),
    ):
        assert float(found.residual.max()) < RESIDUAL


def test_thin_wall_has_one_stress():
    wall = wall_points(1e-4)
    hot_twist = jax.jit(lambda *at: hot_twist_under(*at[:2], 0.03 * wall.ratio, wall, at[2]).strain)
    cold_twist = jax.jit(lambda mean, card: cold_twist_under(mean, wall, card).strain)
    for name in CARDS:
        card = jax.tree.map(float, load_card(name).record())
        mean = np.linspace(5e6, 200e6, 40)
        hot = card.austenite_finish + 15.0
        ours = hot_twist(mean, hot, card)
        assert np.asarray(ours) == pytest.approx(
            np.asarray(hot_strain(mean, hot, 0.03, card)), rel=1e-3
        )
        ours = cold_twist(mean, card)
        assert np.asarray(ours) == pytest.approx(
            np.asarray(sma.martensite_strain(mean, card, 0.0)), rel=1e-3
        )


def roots_in(x, mean, card):
    """Both twists and both stresses, of order one, in wall, load, temperature, card and lock."""
    wall = wall_points(0.5 * x[0])
    changed = card._replace(
        strain_saturation=card.strain_saturation * x[3],
        austenite_slope=card.austenite_slope * x[4],
        martensite_shear_modulus=card.martensite_shear_modulus * x[5],
    )
    start = 0.018 * x[6] * wall.ratio
    cold = sma.martensite_stress(start, changed, 0.0)
    locked = start - cold / changed.martensite_shear_modulus
    hot = hot_twist_under(mean * x[1], 474.0 * x[2], locked, wall, changed)
    cold_set = cold_twist_under(mean * x[1], wall, changed)
    exerted = hot_wall_stress(0.004 * x[6], 474.0 * x[2], locked, wall, changed)
    parts = [100 * hot.strain, hot.stress[-1] / 1e8, 100 * cold_set.strain]
    return jnp.array([*parts, mean_stress(exerted, wall) / 1e8])


@jax.jit
def value_and_slopes(x, mean, card):
    value, push = jax.linearize(lambda at: roots_in(at, mean, card), x)
    return value, jax.vmap(push, out_axes=-1)(jnp.eye(x.size))


@pytest.mark.parametrize("mean", [60e6, 110e6, 170e6])
def test_twist_has_its_derivatives(mean):
    card = jax.tree.map(float, load_card("nitihf20_set1").record())
    _, exact = value_and_slopes(jnp.ones(7), mean, card)
    step = 1e-6
    nudges = jnp.concatenate([jnp.eye(7), -jnp.eye(7)]) * step
    ends = [np.asarray(value_and_slopes(1.0 + nudge, mean, card)[0]) for nudge in nudges]
    central = ((np.stack(ends[:7]) - np.stack(ends[7:])) / (2 * step)).T
    assert np.abs(np.asarray(exact) - central).max() < 1e-6 * np.abs(np.asarray(exact)).max()


def test_derivative_survives_linearisation_batches_and_export():
    card = load_card("nitihf20_set1").record()
    wall = wall_points(0.6)

    def strain(mean):
        return hot_twist_under(mean, 474.0, 0.02 * wall.ratio, wall, card).strain

    def both(mean):
        value, push = jax.linearize(strain, mean)
        return value, push(jnp.ones_like(mean))

    mean = jnp.linspace(20e6, 180e6, 9)
    whole = jax.jit(both)(mean)
    one_by_one = jax.vmap(both)(mean)
    kept = export.deserialize(export.export(jax.jit(both))(mean).serialize())
    for got in (one_by_one, kept.call(mean)):
        for ours, reference in zip(got, whole, strict=True):
            assert np.asarray(ours) == pytest.approx(np.asarray(reference), rel=1e-12)
