"""Heaters: gap, flux limit, sheath, mass, against the tables of the reference."""

import fluids
import jax
import jax.numpy as jnp
import numpy as np
import pytest
from jax.test_util import check_grads
from scipy.optimize import brentq

from mdo.disciplines.heat import heater
from mdo.disciplines.heat.convection import air_film
from mdo.disciplines.records import Supply

SEA_LEVEL = 101325.0  # [Pa]


def supply(low, high, regulated=0.0):
    zero = dict.fromkeys(Supply._fields, 0.0)
    return Supply(
        **zero | {"low_voltage_ratio": low, "high_voltage_ratio": high, "regulated": regulated}
    )


@pytest.mark.parametrize(
    ("nominal", "low", "high", "ratios"),
    [  # reference 2.11, steady utilisation limits (MIL-STD-704F, from memory)
        (28.0, 22.0, 29.0, (0.617, 1.073)),
        (270.0, 250.0, 280.0, (0.857, 1.075)),
        (115.0, 108.0, 118.0, (0.882, 1.053)),
    ],
)
def test_heater_power_follows_the_square_of_the_voltage(nominal, low, high, ratios):
    assert heater.line_power_ratios(supply(low / nominal, high / nominal)) == pytest.approx(
        ratios, abs=5e-4
    )


def test_regulated_supply_holds_true_power():
    assert heater.line_power_ratios(supply(0.8, 1.1, regulated=1.0)) == (1.0, 1.0)


def test_mean_free_path_of_dry_air():
    # 65.43 nm at 20 degC, 1 atm: Jennings, J. Aerosol Sci. 19 (1988) 159 (from memory)
    assert heater.mean_free_path(293.15, SEA_LEVEL) == pytest.approx(65.43e-9, rel=0.01)


def test_gap_loses_a_tenth_at_twenty_kilometres():
    # reference 2.2: 10 % of h_g at 20 km for 50 um
    thin = fluids.ATMOSPHERE_1976(20000.0).P
    state = {"temperature": 300.0, "gap": 50e-6, "emissivity": 0.0}
    ratio = heater.gap_conductance(pressure=thin, **state) / heater.gap_conductance(
        pressure=SEA_LEVEL, **state
    )
    assert ratio == pytest.approx(0.9, abs=0.02)


@pytest.mark.parametrize(
    ("gap", "conductance", "rise"),
    [(20e-6, 2250.0, 22.0), (50e-6, 900.0, 53.0), (75e-6, 600.0, 78.0), (100e-6, 450.0, 101.0)],
)
def test_gap_conductance_of_the_reference(gap, conductance, rise):
    # reference 2.2: k_gas 0.045, no jump; rise at 5 W/cm2 with radiation of dark faces
    warm = brentq(lambda t: float(air_film(t, SEA_LEVEL).conductivity) - 0.045, 400.0, 800.0)
    state = {"temperature": warm, "pressure": 1e12, "gap": gap}
    gas = heater.gap_conductance(**state, emissivity=0.0)
    assert gas == pytest.approx(conductance, rel=1e-3)
    both = heater.gap_conductance(**state, emissivity=0.9)
    assert 5e4 / both == pytest.approx(rise, abs=1.5)


def test_winding_is_hotter_than_the_sheath_as_published():
    # reference 2.10: 28 K at 5 W/cm2, R_h 5 mm; k 2 to 3 W/mK
    resistance = heater.winding_resistance(
        heater_radius=0.005, winding_radius_ratio=0.75, conductivity=2.5
    )
    assert 5e4 * resistance == pytest.approx(28.0, abs=1.0)


LIMIT = {
    "conductance": jnp.asarray(900.0),
    "inner_resistance": 5.75e-4,
    "heater_temperature_max": 1033.0,
    "tube_temperature": jnp.asarray(400.0),
}


def test_flux_limit_keeps_the_heater_at_its_limit():
    # solved for q: at q_max winding resistance and gap together use the whole difference
    limit = heater.flux_limit(**LIMIT, design_flux=1e9)
    assert limit / 900.0 + limit * 5.75e-4 == pytest.approx(1033.0 - 400.0)


def test_flux_limit_is_the_design_flux_where_the_gap_allows_more():
    assert heater.flux_limit(**LIMIT, design_flux=6e4) == pytest.approx(6e4, rel=1e-12)


def test_flux_limit_stays_positive_for_a_tube_hotter_than_its_heater():
    hot = LIMIT | {"tube_temperature": jnp.asarray(1200.0)}
    assert heater.flux_limit(**hot, design_flux=6e4) == pytest.approx(100.0)


def test_flux_limit_falls_with_tube_temperature():
    slope = jax.grad(
        lambda t: heater.flux_limit(**LIMIT | {"tube_temperature": t}, design_flux=1e6)
    )
    assert slope(400.0) < 0.0


def test_cartridge_mass_of_the_reference():
    # reference 2.1: 7.9 x 300 mm at 4750 kg/m3 is 69.8 g, 48.9 J/K at 700 J/kgK
    mass = heater.cartridge_mass(radius=0.00395, length=0.3, density=4750.0)
    assert mass == pytest.approx(0.0698, abs=1e-4)
    assert 700.0 * mass == pytest.approx(48.9, abs=0.05)


def test_wrap_mass_of_the_reference():
    # reference 2.1: 0.40 kg/m2 on TUBE-A is 4.5 g, 4.98 J/K at 1100 J/kgK
    mass = heater.wrap_mass(radius=0.006, length=0.3, areal_mass=0.40)
    assert mass == pytest.approx(0.0045, abs=5e-5)
    assert 1100.0 * mass == pytest.approx(4.98, abs=0.005)


def test_gap_gradients():
    def conductance(x):
        return heater.gap_conductance(
            temperature=500.0 * x[0], pressure=2e4 * x[1], gap=5e-5 * x[2], emissivity=0.5 * x[3]
        )

    check_grads(conductance, (jnp.ones(4),), order=1, modes=("fwd", "rev"), rtol=1e-5)


def test_gap_vmap_equals_loop():
    gaps = jnp.array([2e-5, 5e-5, 1e-4])

    def conductance(gap):
        return heater.gap_conductance(
            temperature=500.0, pressure=SEA_LEVEL, gap=gap, emissivity=0.5
        )

    np.testing.assert_allclose(jax.vmap(conductance)(gaps), [conductance(g) for g in gaps])
