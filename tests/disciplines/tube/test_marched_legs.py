"""Up set of the medium vehicle as it first landed, wound and then driving, along its path."""

from types import SimpleNamespace

import jax
import numpy as np
import pytest

from mdo.alloys import load_card
from mdo.disciplines.tube import incremental, phases, sma, torsion
from mdo.disciplines.tube.driven_march import march_driven
from mdo.disciplines.tube.incremental import March, austenite, march_under
from mdo.disciplines.tube.marched_legs import (
    ABOVE,
    BELOW,
    COLD,
    COOLING_STEPS,
    LegPath,
    _inside,
    _outer,
    _wound_share,
    cooling_stress,
    march_legs,
)
from mdo.disciplines.tube.radial_twist import cold_twist_under
from mdo.disciplines.tube.radial_wall import wall_points

CARD = jax.tree.map(float, load_card("nitihf20_set1").record())
RATIO = 0.706461568  # wall over outer radius; r_o 7.171 mm over 573.7 mm, gear ratio 0.900
SECTION = torsion.section(7.17132534e-3, RATIO)
WALL = wall_points(RATIO)
# folding by 100 deg in wind: twist left, and mean stress of the unfactored moments [MPa], which
# the level radial gives at 11 angles
TO_STRAIN = float(SECTION.effective_radius) / 0.573706027
ANGLE = np.linspace(0.0, np.radians(100.0), 11)
STRAIN = (2.61576457 - 0.90018594 * (ANGLE + 0.72867496)) * TO_STRAIN
STRESS = 1e6 * np.array(
    [85.991, 89.569, 92.988, 95.992, 98.613, 100.900, 102.916, 104.738, 106.454, 108.162, 109.968]
)
BAY, HOT = 240.0, 573.0


def path(**given):
    """Leg of one set whose moments, per unit of its arm, are the stresses."""
    alone = {
        "driver_strain": STRAIN, "other_strain": STRAIN[::-1], "wound_stress": 0.0 * STRAIN,
        "driver_arm": 1.0, "other_arm": 1.0, "load_moment": STRESS, "factored_moment": STRESS,
        "cold_temperature": BAY, "hot_temperature": HOT, "other_present": 0.0, "other_cold": 0.0,
        "wound_cold": 0.0, "wound_by_load": 0.0,
    }  # fmt: skip
    return LegPath(**{name: np.asarray(value) for name, value in (alone | given).items()})


@pytest.fixture(scope="module")
def run():
    compiled = jax.jit(march_legs)
    return lambda **given: jax.tree.map(np.asarray, compiled(path(**given), RATIO, CARD))


@pytest.mark.slow
def test_outer_stress_on_the_hot_path_is_that_of_the_trial(run):
    # ladder notes, section 1: 126 MPa on the hot path of a pair where 1.4 T r_o/J says 202
    for wound_cold in (0.0, 1.0):
        leg = run(wound_cold=wound_cold)
        assert leg.driven_outer_stress == pytest.approx(126e6, rel=0.01)
        assert leg.residual < 1e-4
    rule = float(torsion.outer_stress(STRESS.max(), SECTION))
    assert rule == pytest.approx(202e6, rel=5e-3)


def test_set_that_cooled_before_it_is_wound_must_be_detwinned(run):
    # sizing notes, table of strokes: 111 MPa at 1.5 % cold, 35 MPa cooled under the drive
    cold = run(other_present=1.0, other_cold=1.0, load_moment=STRESS / 4).cold_moment
    assert cold[-1] == pytest.approx(115e6, rel=0.02)
    assert cold[-1] > 3 * 35e6
    # the table has one stress in the wall; ladder notes: this wall resists up to 8 % more
    driven = float(jax.jit(cooling_stress)(0.015, WALL, CARD))
    assert driven == pytest.approx(1.08 * 35e6, rel=0.02)
    steps = np.linspace(STRAIN[-1], STRAIN[0], 61)
    march = jax.jit(march_driven)(steps, np.full(61, COLD), austenite(WALL), WALL, CARD, (BAY, HOT))
    assert np.all(np.diff(np.asarray(march.states.transformed), axis=0) >= -1e-15)
    assert np.all(np.asarray(march.temperature) == BAY)


def test_one_constant_stress_winds_a_set_by_its_strain():
    # reference sma-tubes, 1.2: over a cooling at constant torque the forms agree within 1.1 % of
    # twist for a solid bar; the march of the stress that was found ends at the strain asked for
    asked = 0.02
    found = float(jax.jit(cooling_stress)(asked, WALL, CARD))
    course = np.linspace(CARD.martensite_start + 80.0, CARD.martensite_finish - 5.0, 400)
    end = march_under(np.full(400, found), course, austenite(WALL), WALL, CARD)
    assert float(end.strain[-1]) == pytest.approx(asked, rel=5e-3)
    ends = CARD.martensite_start + ABOVE, CARD.martensite_finish - BELOW
    coarse = np.linspace(*ends, COOLING_STEPS)
    end = march_under(np.full(COOLING_STEPS, found), coarse, austenite(WALL), WALL, CARD)
    assert float(end.strain[-1]) == pytest.approx(asked, rel=1e-4)  # over the steps of the search
    total = cold_twist_under(found, WALL, CARD)
    assert float(total.strain) == pytest.approx(asked, rel=0.03)


def test_wound_by_load_the_worst_outer_stress_is_the_cold_one(run):
    # ladder notes, section 1, constant torque: cold outer stress 1.63 times the elastic at 50 MPa
    # mean shear; 1.11 at 110 MPa with the detwinning of the card (2.00 without, test_incremental)
    for mean, ratio in ((50e6, 1.63), (110e6, 1.11)):
        course = np.linspace(CARD.martensite_start + 120.0, CARD.martensite_finish - 5.0, 300)
        cold = march_under(np.full(300, mean), course, austenite(WALL), WALL, CARD).strain
        strain = np.linspace(float(cold[-1]), float(cold[0]), 11)
        load = np.full(11, mean)
        leg = run(driver_strain=strain, other_strain=strain[::-1], wound_stress=load,
                  load_moment=load, factored_moment=load, wound_by_load=1.0)  # fmt: skip
        elastic = float(torsion.outer_stress(mean, SECTION)) / torsion.OUTER_STRESS_FACTOR
        worst = max(leg.wound_outer_stress, leg.driven_outer_stress)
        assert worst / elastic == pytest.approx(ratio, rel=0.05)


def test_legs_are_marched_as_arrays_and_not_traced_again_for_each(monkeypatch):
    """Mapped over the legs the march was 20,700 operations (12,600 as arrays, 10,300 of them
    beside the cosine steps, which are left out here), and took three times to trace."""
    for module in (incremental, phases, sma):
        monkeypatch.setattr(module, "smooth_step", lambda place: place)
    legs = jax.tree.map(lambda part: np.stack([part] * 12), path())
    traced = jax.make_jaxpr(march_legs)(legs, RATIO, CARD)
    assert operations(traced.jaxpr) < 10_650
    assert operations(traced.jaxpr) < 1.1 * operations(jax.make_jaxpr(march_legs)(
        path(), RATIO, CARD).jaxpr)  # fmt: skip


def operations(jaxpr):
    """Operations of a traced function, those of its loops and branches included."""
    inner = [
        getattr(part, "jaxpr", part)
        for line in jaxpr.eqns
        for value in line.params.values()
        for part in (value if isinstance(value, tuple | list) else [value])
    ]
    return len(jaxpr.eqns) + sum(operations(one) for one in inner if hasattr(one, "eqns"))


@pytest.mark.parametrize(("stress", "whole"), [(0.0, False), (150e6, True)])
def test_a_trained_set_without_load_is_wound_by_its_two_way_strain_alone(stress, whole):
    # sqrt3 f_H H_min at every radius (Lagoudas et al. 2012, from memory); to the step of the march
    alloy = CARD._replace(strain_min=0.012)
    laid = 3.0**0.5 * alloy.strain_factor * 0.012
    thin, by = wall_points(0.05), np.full(61, stress)
    strain = np.linspace(0.0, 2.0 * laid, 61)
    march = march_driven(strain, by, austenite(thin), thin, alloy, (BAY, HOT))
    share = float(_wound_share(march, by, BAY))
    assert share == (1.0 if whole else pytest.approx(0.5, abs=0.03))
    if not whole:  # further, it would take a load
        assert np.all(np.asarray(march.mean_stress)[36:] > 1e6)


def test_share_wound_and_miss_of_a_march_by_hand():
    # from 1 to 4 %, stuck cold from 3 % on: two thirds; at the ends of the range no miss counts
    kelvin, strain = np.array([HOT, 300.0, BAY, BAY]), np.array([0.01, 0.02, 0.03, 0.04])
    reached, miss = np.array([50e6, 50e6, 51e6, 60e6]), np.array([0.3, 0.1, 0.2, 0.4])
    march = March(kelvin, strain, reached, None, miss)
    assert float(_wound_share(march, 50e6, BAY)) == pytest.approx(2.0 / 3.0, rel=1e-12)
    assert float(_inside(march, BAY, HOT)) == 0.1


def test_outer_stress_is_that_of_the_fibre_farthest_out_whatever_its_sign():
    # steps first, then points from the bore to the outside
    stress = np.array([[50e6, 70e6, 60e6], [20e6, 90e6, -80e6]])
    march = March(None, None, None, SimpleNamespace(stress=stress), None)
    assert float(_outer(march)) == 80e6


def test_a_set_that_is_not_there_has_no_stress_and_resists_nothing(run):
    alone = run()
    assert alone.other_outer_stress == 0.0
    assert np.all(alone.cold_moment == 0.0)
    assert run(other_present=1.0).other_outer_stress > 0.0


def test_the_other_set_is_a_load_like_any_other(run):
    # invariant: what its cold tubes resist, given as a load of the same size, is driven alike
    pair = run(
        other_present=1.0, other_cold=1.0, load_moment=STRESS / 4, factored_moment=STRESS / 3
    )
    alone = run(
        load_moment=STRESS / 4 + pair.cold_moment, factored_moment=STRESS / 3 + pair.cold_moment
    )
    assert np.all(pair.cold_moment[1:] > 20e6)
    np.testing.assert_allclose(pair.required_strain, alone.required_strain, rtol=5e-3)
    np.testing.assert_allclose(pair.hot_stress, alone.hot_stress, rtol=5e-3)
    assert pair.driven_outer_stress == pytest.approx(alone.driven_outer_stress, rel=5e-3)
