"""Atmosphere against the standard's tables, an independent library and hand values."""

import jax
import numpy as np
import pytest
from ambiance import Atmosphere
from jax.test_util import check_grads

from mdo.disciplines import atmosphere
from mdo.disciplines.heat.convection import air_film

HEIGHTS = np.array([-2000.0, 0.0, 5000.0, 10999.0, 11001.0, 15240.0, 20000.0, 21336.0, 32000.0,
                    40000.0, 47500.0, 60000.0, 75000.0])  # fmt: skip


EARTH = 6_356_766.0  # m, effective radius of the U.S. Standard Atmosphere, 1976


def geopotential(height):
    return EARTH * height / (EARTH + height)  # equation 18 of the standard


def geometric(height):
    return EARTH * height / (EARTH - height)


# Reference hinge-moment, cases A1 and A2 and section 4 (U.S. Standard Atmosphere, 1976)
@pytest.mark.parametrize(
    ("height", "temperature", "pressure", "density", "sound"),
    [
        (0.0, 288.150, 101325.0, 1.2250, 340.294),
        (5000.0, 255.650, 54019.9, 0.736116, 320.529),
        (11000.0, 216.650, 22632.0, 0.363918, 295.069),
        (12192.0, 216.650, 18753.9, 0.301558, 295.069),
        (20000.0, 216.650, 5474.88, 0.0880347, 295.069),
        (21336.0, 217.986, 4437.7, 0.070920, 295.978),
        (32000.0, 228.650, 868.01, 0.013225, 303.131),
    ],
)
def test_standard_atmosphere_matches_the_tables(height, temperature, pressure, density, sound):
    state = atmosphere.standard_atmosphere(height)
    assert state.temperature == pytest.approx(temperature, abs=1e-3)
    assert state.pressure == pytest.approx(pressure, rel=1e-4)
    assert state.density == pytest.approx(density, rel=1e-4)
    assert state.speed_of_sound == pytest.approx(sound, abs=2e-3)


def test_standard_atmosphere_matches_ambiance():
    # ambiance 1.3 (ICAO 7488, the same layers), as an independent implementation
    other = Atmosphere(np.asarray(geometric(HEIGHTS)))
    state = atmosphere.standard_atmosphere(HEIGHTS)
    np.testing.assert_allclose(state.temperature, other.temperature, rtol=1e-6)
    np.testing.assert_allclose(state.pressure, other.pressure, rtol=1e-5)
    np.testing.assert_allclose(state.density, other.density, rtol=1e-5)
    np.testing.assert_allclose(state.speed_of_sound, other.speed_of_sound, rtol=1e-5)


def test_air_properties_match_ambiance():
    heights = np.array([0.0, 5000.0, 11000.0, 20000.0])
    other = Atmosphere(np.asarray(geometric(heights)))
    air = air_film(other.temperature, other.pressure)
    np.testing.assert_allclose(air.viscosity, other.dynamic_viscosity, rtol=1e-4)
    # the leading constants of the two standards (1976: 2.64638e-3, ICAO 7488: 2.648151e-3) differ
    ratio = 2.64638e-3 / 2.648151e-3
    np.testing.assert_allclose(air.conductivity, other.thermal_conductivity * ratio, rtol=1e-5)
    np.testing.assert_allclose(air.density, other.density, rtol=1e-5)


def test_specific_heat_and_prandtl_match_handbook_tables():
    # air at 250, 300, 350, 400 K: usual heat-transfer tables, from memory
    air = air_film(np.array([250.0, 300.0, 350.0, 400.0]), 101325.0)
    np.testing.assert_allclose(air.specific_heat, [1006.0, 1007.0, 1009.0, 1014.0], rtol=4e-3)
    np.testing.assert_allclose(air.prandtl, [0.720, 0.707, 0.700, 0.690], rtol=2e-2)


def test_pressure_at_a_geometric_altitude_matches_case_a3():
    assert geopotential(20000.0) == pytest.approx(19937.27, abs=1e-2)
    pressure = atmosphere.standard_atmosphere(geopotential(15240.0)).pressure
    assert pressure / 6894.757 == pytest.approx(1.692, abs=5e-4)  # psi, published table


def test_recovery_temperature_matches_case_a4():
    assert atmosphere.recovery_temperature(216.65, 2.0, 1.0) == pytest.approx(389.97, abs=0.01)
    assert atmosphere.recovery_temperature(216.65, 2.0) == pytest.approx(370.90, abs=0.01)
    assert atmosphere.recovery_temperature(218.808, 0.8) == pytest.approx(243.7, abs=0.05)


def test_dynamic_pressure_at_mach_1p4_and_40_kft():
    state = atmosphere.standard_atmosphere(12192.0)
    pressure = 0.5 * state.density * (1.4 * state.speed_of_sound) ** 2
    assert pressure == pytest.approx(25730.0, abs=1.0)  # case A4


def test_hot_day_moves_temperature_and_density_but_not_pressure():
    cold, hot = atmosphere.standard_atmosphere(3000.0), atmosphere.standard_atmosphere(3000.0, 30.0)
    assert hot.pressure == cold.pressure
    assert hot.temperature == pytest.approx(float(cold.temperature) + 30.0)
    assert hot.density * hot.temperature == pytest.approx(
        float(cold.density * cold.temperature), rel=1e-12
    )


def test_standard_atmosphere_gradients_match_differences():
    def pressures(height):
        return atmosphere.standard_atmosphere(height, 5.0)

    for height in (3000.0, 15000.0, 25000.0):
        check_grads(pressures, (height,), order=1, modes=("fwd", "rev"), rtol=1e-5, atol=1e-9)


def test_standard_atmosphere_vmap_equals_loop():
    together = jax.vmap(lambda height: atmosphere.standard_atmosphere(height).pressure)(HEIGHTS)
    single = [float(atmosphere.standard_atmosphere(height).pressure) for height in HEIGHTS]
    np.testing.assert_allclose(together, single, rtol=1e-14)


@pytest.mark.parametrize("height", [-500.0, 0.0, 5_000.0, 11_000.0, 15_240.0, 25_000.0, 30_000.0])
def test_plain_pressure_is_that_of_the_state_of_the_air(height):
    state = atmosphere.standard_atmosphere(height)
    assert atmosphere.standard_pressure(height) == pytest.approx(float(state.pressure), rel=1e-12)
    assert pytest.approx(340.294, rel=1e-6) == atmosphere.SEA_LEVEL_SPEED_OF_SOUND  # table 4
