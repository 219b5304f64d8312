"""Wiring against AC 43.13-1B (section numbers as the reference quotes them)."""

import itertools

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from jax.test_util import check_grads
from scipy.interpolate import PchipInterpolator

from mdo.disciplines.electric import gauges, wiring

FOOT = 0.3048  # [m]
COLD = 293.15  # [K], temperature of the resistance table
RATINGS = (378.15, 423.15, 473.15)  # [K] 105, 150, 200 degC


def drop(gauge, current, feet):
    index = list(gauges.GAUGE).index(gauge)
    return current * gauges.RESISTANCE_PER_LENGTH[index] * feet * FOOT


def test_table_has_the_sums_of_the_printed_columns():
    # AC 43.13-1B 1998, table 11-9, its columns added up: ohm per 1000 ft, circular mils, and
    # amperes at 105, 150 and 200 degC
    sums = gauges.GAUGE_TABLE[:, 1:].sum(axis=0)
    assert sums == pytest.approx([73.73, 364947, 554.5, 830, 1054], rel=1e-12)
    assert gauges.RATING.tolist() == list(RATINGS)


@pytest.mark.parametrize(
    ("gauge", "current", "feet", "volts", "tolerance"),
    [
        (6, 20.0, 107.0, 0.942, 1e-3),  # TM-19
        (4, 20.0, 90.0, 0.504, 1e-3),
        (12, 20.0, 88.0, 3.555, 1e-3),  # the circular prints 3.60
        (14, 20.0, 100.0, 6.12, 1e-3),
        (10, 20.0, 39.0, 0.983, 1e-3),  # TM-19b
        (10, 20.0, 19.5, 0.491, 1e-3),  # the circular prints 0.366, an arithmetic slip
        (10, 20.0, 156.0, 3.931, 1e-3),
        (10, 20.0, 273.0, 6.880, 1e-3),
    ],
)
def test_drop_of_the_worked_lines(gauge, current, feet, volts, tolerance):
    assert drop(gauge, current, feet) == pytest.approx(volts, rel=tolerance)


def test_copied_slip_of_the_circular_is_rejected():
    assert abs(drop(10, 20.0, 19.5) - 0.366) > 0.1


def test_temperature_correction_of_tm19c():
    assert 1.0 / gauges.temperature_factor(373.15) == pytest.approx(0.7608, abs=5e-5)
    assert gauges.temperature_factor(COLD) == pytest.approx(1.0)


def test_conductor_masses_of_the_table():
    # reference 2.11, grams per metre of conductor at 8.9 g/cm3
    published = [2.1, 3.4, 5.5, 8.6, 10.9, 17.3, 26.5, 42.2, 76.6, 121, 192, 300, 368, 471]
    np.testing.assert_allclose(gauges.AREA * 8900.0 * 1000.0, published, rtol=0.025)


@pytest.mark.parametrize(("volts", "gauge", "dropped"), [(28.0, 8, 0.87), (270.0, 20, 1.27)])
def test_worked_feeder_of_1057_watt(volts, gauge, dropped):
    # reference 2.11: 10 m loop, 150 degC wire; 1 V allowed at 28 V, 7 V at 270 V
    choice = gauges.choose_gauge(
        current=1057.0 / volts,
        loop_length=10.0,
        allowed_drop=1.0 if volts < 100.0 else 7.0,
        temperature=COLD,
        rating=423.15,
    )
    if volts > 100.0:  # the gauge asked for is the mechanical minimum; ampacity alone allows 24 AWG
        assert choice.gauge >= gauge
        index = list(gauges.GAUGE).index(gauge)
        drop_there = 1057.0 / volts * gauges.RESISTANCE_PER_LENGTH[index] * 10.0
        assert drop_there == pytest.approx(dropped, abs=0.005)
    else:
        assert choice.gauge == gauge
        assert choice.drop == pytest.approx(dropped, abs=0.005)
    assert bool(choice.suits)


def test_gauges_are_the_sizes_of_ac_43_13_1b():
    # table 11-9 (from memory): even sizes from 24 on, then 1 and 1/0
    assert gauges.GAUGE.tolist() == [*range(24, 0, -2), 1, 0]


def test_amperes_are_those_of_ac_43_13_1b():
    # table 11-9, by reference 2.11: 105, 150 and 200 degC
    published = """2.5/4/5 3/5/6 4/7/9 6/9/12 7/11/14 10/14/18 13/19/25 17/26/32 38/57/71
        50/76/97 68/103/133 95/141/179 113/166/210 128/192/243"""
    amperes = [[float(one) for one in row.split("/")] for row in published.split()]
    np.testing.assert_array_equal(gauges.AMPACITY, amperes)


def test_ohms_are_those_of_ac_43_13_1b():
    # table 11-9, by reference 2.11: largest, per 1000 ft (304.8 m) at 20 degC
    published = [28.40, 16.20, 9.88, 6.23, 4.81, 3.06, 2.02, 1.26, 0.70, 0.44, 0.28, 0.18, 0.15,
                 0.12]  # fmt: skip
    np.testing.assert_allclose(gauges.RESISTANCE_PER_LENGTH * 304.8, published, rtol=1e-12)


def test_no_gauge_of_the_table_is_said_so():
    choice = gauges.choose_gauge(
        current=400.0, loop_length=10.0, allowed_drop=1.0, temperature=COLD, rating=423.15
    )
    assert not bool(choice.suits)
    assert choice.gauge == 0.0


@pytest.mark.parametrize(("column", "rating"), list(enumerate(RATINGS)))
def test_ampacity_curve_passes_through_every_gauge(column, rating):
    area = gauges.ampacity_area(jnp.asarray(gauges.AMPACITY[:, column]), rating)
    np.testing.assert_allclose(area, gauges.AREA, rtol=1e-12)


def test_ampacity_curve_agrees_with_scipy_inside():
    # same monotone cubic (end slopes differ, so the two outer cells at each end are left out)
    x, y = np.log(gauges.AMPACITY[:, 1]), np.log(gauges.AREA)
    current = np.linspace(gauges.AMPACITY[2, 1], gauges.AMPACITY[-3, 1], 200)
    expected = np.exp(PchipInterpolator(x, y)(np.log(current)))
    np.testing.assert_allclose(
        gauges.ampacity_area(jnp.asarray(current), 423.15), expected, rtol=1e-12
    )


def test_ampacity_area_rises_with_current_and_falls_with_rating():
    current = jnp.linspace(1.0, 600.0, 500)
    areas = [gauges.ampacity_area(current, rating) for rating in (378.15, 400.0, 450.0, 473.15)]
    assert all(np.all(np.diff(area) > 0.0) for area in areas)
    assert all(np.all(a > b) for a, b in itertools.pairwise(areas))


def test_cables_in_parallel_beyond_the_table():
    one = gauges.ampacity_area(jnp.asarray(192.0), 423.15)
    assert gauges.ampacity_area(jnp.asarray(768.0), 423.15) == pytest.approx(4.0 * float(one))


def test_drop_area_is_on_the_safe_side_of_the_table():
    # the resistivity is the worst of the table, so the table's gauge of that area drops less
    index = list(gauges.GAUGE).index(8)
    area = wiring.drop_area(
        current=jnp.asarray(37.75), loop_length=10.0, allowed_drop=0.87, temperature=COLD
    )
    assert gauges.AREA[index] < float(area) < 1.12 * gauges.AREA[index]


def test_larger_area_has_a_bias_below_one_in_a_thousand():
    ratio = np.geomspace(1e-3, 1e3, 2001)
    exact = np.maximum(ratio, 1.0)
    bias = np.asarray(wiring.smooth_larger(jnp.asarray(ratio), jnp.ones(ratio.size))) / exact - 1.0
    assert np.max(np.abs(bias)) < 1e-3
    apart = (ratio < 0.5) | (ratio > 2.0)
    assert np.max(np.abs(bias[apart])) < 1e-6


def test_conductor_area_covers_all_three_demands():
    common = {
        "loop_length": 10.0,
        "allowed_drop": 1.0,
        "temperature": 373.15,
        "rating": 423.15,
        "area_min": 0.383e-6,
    }
    current = jnp.array([0.0, 0.5, 5.0, 40.0, 200.0])
    area = wiring.conductor_area(current=current, **common)
    demands = [
        gauges.ampacity_area(current, 423.15),
        wiring.drop_area(current=current, loop_length=10.0, allowed_drop=1.0, temperature=373.15),
        jnp.full(5, 0.383e-6),
    ]
    np.testing.assert_allclose(area, np.max(demands, axis=0), rtol=1e-3)


def test_high_voltage_saves_conductor_mass_as_the_reference_says():
    # reference 2.11: 8 AWG against 20 AWG, about 14 : 1
    assert gauges.AREA[8] / gauges.AREA[2] == pytest.approx(14.0, rel=0.01)


@pytest.mark.parametrize("current", [4.0, 38.0, 300.0])
def test_conductor_area_gradients(current):
    def scaled(x):
        return 1e6 * wiring.conductor_area(
            current=current * x,
            loop_length=10.0,
            allowed_drop=1.0,
            temperature=373.15,
            rating=450.0,
            area_min=0.383e-6,
        )

    check_grads(scaled, (1.0,), order=1, modes=("fwd", "rev"), rtol=1e-5)
    assert np.isfinite(jax.grad(scaled)(0.0))


def test_ampacity_vmap_equals_loop():
    current = jnp.array([0.0, 3.0, 55.0, 500.0])
    loop = [gauges.ampacity_area(i, 400.0) for i in current]
    batch = jax.vmap(lambda i: gauges.ampacity_area(i, 400.0))(current)
    np.testing.assert_allclose(batch, loop, rtol=1e-14)
