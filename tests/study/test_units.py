"""Conversions against exact definitions: NIST SP 811 (2008), appendix B (from memory)."""

from __future__ import annotations

import math
import time

import pytest

from mdo.quantities import QUANTITIES
from mdo.study.units import UnitError, parse_quantity, to_trade

SI_UNITS = sorted({quantity.unit for quantity in QUANTITIES.values()})
INCH, POUND, GRAVITY = 0.0254, 0.45359237, 9.80665


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [
        ("3600 in*lbf", "N*m", 3600 * INCH * POUND * GRAVITY),
        ("90 deg", "rad", math.pi / 2),
        ("120 degC", "K", 393.15),
        ("-40 degF", "K", 233.15),
        ("40 kft", "m", 12192.0),
        ("30 kt", "m/s", 30 * 1852 / 3600),
        ("270 V", "V", 270.0),
        ("1,600 kg", "kg", 1600.0),
        ("7.2 m2", "m**2", 7.2),
        ("7.2 m²", "m**2", 7.2),
        ("7.2 m^2", "m**2", 7.2),
        ("6 W/cm2", "W/m**2", 6e4),
        ("150 Wh/kg", "J/kg", 540e3),
        ("0.2 W/(m*degC)", "W/(m*K)", 0.2),
        ("20 ksi", "Pa", 20e3 * POUND * GRAVITY / INCH**2),
        ("-35°", "rad", math.radians(-35)),
        ("\u221235 deg", "rad", math.radians(-35)),
        ("50 °C", "K", 323.15),
        ("50 deg C", "K", 323.15),
        ("25 %", "1", 0.25),
        ("0.25", "1", 0.25),
        ("1.2kW", "W", 1200.0),
        (".5 mm", "m", 0.0005),
        ("1e-3 km", "m", 1.0),
        ("90 deg/s", "rad/s", math.pi / 2),
        ("10 rpm", "rad/s", 10 * 2 * math.pi / 60),
        ("2 N*m/deg", "N*m/rad", 2 * 180 / math.pi),
        ("0 N*m", "N*m", 0.0),
    ],
)
def test_quantity_converts_to_si(text: str, unit: str, expected: float) -> None:
    assert parse_quantity(text, unit) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "unit", "message"),
    [
        ("45", "kg", r'missing unit, got .45., expected a quantity with a unit of kg .*"45 kg"'),
        ("45 s", "kg", "wrong dimension, got unit 's', expected a quantity with a unit of kg"),
        ("45 C", "K", 'degrees Celsius are written "degC"'),
        ("45 kgg", "kg", "unknown unit, got 'kgg'"),
        ("nan m", "m", "not a finite number"),
        ("inf m", "m", "not a finite number"),
        ("1e999 m", "m", "not a finite number"),
        ("m", "m", "not a quantity"),
        ("1_600 kg", "kg", "not a quantity"),
        ("1_0", "1", "not a quantity"),
        ("١٠ kg", "kg", "not a quantity"),
        ("1٠ kg", "kg", "not a quantity|unknown unit"),
        ("１２ mm", "m", "not a quantity"),
        ("3,5 mm", "m", "not a quantity|unknown unit"),
        ("3 m", "rad", "wrong dimension"),
        ("3 %", "rad", "wrong dimension"),
        ("3 deg", "1", "wrong dimension"),
        ("3 Hz", "rad/s", "wrong dimension"),
        ("3 N*m", "N*m/rad", "wrong dimension"),
        ("3 " + "m*" * 50 + "m", "m", "unknown unit"),
        ("3 m**1e9", "m", "wrong dimension|unknown unit"),
        ("3 __import__('os')", "m", "unknown unit"),
        ("3 (((((", "m", "unknown unit"),
        ("3 m; 4 m", "m", "unknown unit"),
    ],
)
def test_text_that_is_no_such_quantity_is_refused(text: str, unit: str, message: str) -> None:
    with pytest.raises(UnitError, match=message):
        parse_quantity(text, unit)


def test_temperature_difference_refuses_degrees_celsius() -> None:
    with pytest.raises(UnitError, match=r'difference cannot be in degC.*"10 K"'):
        parse_quantity("10 degC", "K", difference=True)
    assert parse_quantity("10 delta_degF", "K", difference=True) == pytest.approx(10 / 1.8)


@pytest.mark.parametrize("unit", [unit for unit in SI_UNITS if unit != "1"])
def test_si_unit_keeps_its_own_numbers(unit: str) -> None:
    assert parse_quantity(f"1.25 {unit}", unit) == 1.25


@pytest.mark.parametrize("system", ["si", "us"])
@pytest.mark.parametrize("unit", SI_UNITS)
def test_trade_units_convert_back_to_the_same_number(unit: str, system: str) -> None:
    value, trade = to_trade(123.4, unit, system)
    back = parse_quantity(f"{value!r} {trade if trade != '1' else ''}", unit)
    assert back == pytest.approx(123.4, rel=1e-12)


def test_a_thousand_quantities_take_less_than_a_fifth_of_a_second() -> None:
    parse_quantity("1 mm", "m")
    start = time.perf_counter()
    for number in range(1000):
        parse_quantity(f"{number} mm", "m")
    assert time.perf_counter() - start < 0.2
