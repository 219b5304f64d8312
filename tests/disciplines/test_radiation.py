"""Radiation of tubes: exact sums and the reference's table."""

import pytest

from mdo.disciplines.heat import radiation


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
