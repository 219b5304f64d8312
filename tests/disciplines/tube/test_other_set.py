"""State of the other set: stresses of an independent trial, limits, order of the states."""

import jax.numpy as jnp
import numpy as np
import pytest
from scipy.optimize import brentq

from mdo.alloys import load_card
from mdo.disciplines.tube.other_set import (
    cold_stress,
    detwinning_travel,
    is_just_heated,
    just_heated_stress,
    strain_from_cooling,
    trained,
)

CARD = load_card("nitihf20_set1").record()
STROKES = np.array([0.015, 0.025, 0.035])


@pytest.mark.parametrize(
    ("two_way", "stress"),
    [
        (0.0, [111, 122, 131]),
        (0.005, [99, 115, 127]),
        (0.010, [0, 103, 120]),
        (0.015, [0, 0, 109]),
        (0.020, [0, 0, 9]),
    ],
)
def test_stress_of_a_cold_set_is_that_of_the_trial(two_way, stress):
    # sizing notes, 'Two-way strain': strokes of 1.5, 2.5 and 3.5 %, MPa, no credit for pushing
    card = trained(CARD, two_way)
    formed = strain_from_cooling(0.0, 1.0, card)
    got = np.asarray(cold_stress(STROKES, formed, card)) / 1e6
    assert got == pytest.approx(stress, abs=0.6)


def test_stress_of_a_just_heated_set_is_that_of_the_trial():
    # the same table, cooled under the drive, untrained
    got = np.asarray(just_heated_stress(STROKES, CARD)) / 1e6
    assert got == pytest.approx([35, 54, 77], abs=0.6)


def test_set_that_cooled_under_load_is_wound_on_from_its_strain():
    # root of tau/G_M + max(gamma_0, sqrt3 H_detw(tau)) = gamma by scipy, the equation by hand
    formed = float(strain_from_cooling(40e6, 0.0, CARD))
    sigma = 3**0.5 * 40e6
    over = 1.0 - np.exp(-CARD.strain_rate_constant * (sigma - CARD.strain_threshold_stress))
    assert formed == pytest.approx(3**0.5 * CARD.strain_saturation * over, rel=1e-9)
    for strain in (formed, formed + 0.001, formed + 0.004, formed + 0.02):

        def miss(tau, strain=strain):
            share = np.clip((3**0.5 * tau - 150e6) / 150e6, 0.0, 1.0)
            detwinned = 3**0.5 * CARD.strain_saturation * (1 - np.cos(np.pi * share)) / 2
            return tau / CARD.martensite_shear_modulus + max(formed, detwinned) - strain

        by_library = brentq(miss, -1e9, 2e9, xtol=1e-3)
        got = float(cold_stress(strain, formed, CARD))
        assert got == pytest.approx(by_library, rel=1e-7, abs=0.1)


def test_long_cold_set_resists_most_and_a_trained_one_least():
    strain = jnp.linspace(0.0, 0.05, 101)
    cold = np.asarray(cold_stress(strain, 0.0, CARD))
    warm = np.asarray(just_heated_stress(strain, CARD))
    card = trained(CARD, 0.008)
    taught = np.asarray(cold_stress(strain, strain_from_cooling(0.0, 1.0, card), card))
    assert np.all(cold >= warm - 1.0)
    assert np.all(cold >= taught - 1.0)
    for stress in (cold, warm, taught):
        assert np.all(stress >= 0.0)
        assert np.all(np.diff(stress) >= -1.0)


def test_load_below_zero_orients_nothing():
    # the trained card under a load that pushes the other way: H_min, not less, not more
    card = trained(CARD, 0.01)
    got = np.asarray(strain_from_cooling(np.array([-561e6, 0.0]), 0.0, card))
    assert got == pytest.approx(3**0.5 * 0.01, rel=1e-12)


def test_set_is_just_heated_down_to_its_shifted_start():
    # M_s' = M_s + sqrt3 tau/C_M, by hand 419.15 + 1.732051 x 30/8 K
    line = CARD.martensite_start + 3**0.5 * 30e6 / CARD.martensite_slope
    kelvin = np.array([line - 0.01, line + 0.01])
    assert np.asarray(is_just_heated(kelvin, 30e6, CARD)).tolist() == [False, True]


def test_medium_set_detwins_after_some_seventeen_degrees():
    # ladder notes, section 1, 'Other set': detwinning after about 17 deg of travel, at the outer
    # fibre; that design has r_o 7.171 mm, 573.7 mm of length and 0.900 of gear ratio
    strain = float(detwinning_travel(0.0, 0.0, CARD))
    degrees = np.degrees(strain / (0.90018594 * 7.17132534e-3 / 0.573706027))
    assert degrees == pytest.approx(17.0, abs=1.0)
