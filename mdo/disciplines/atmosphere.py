"""Standard atmosphere, off-standard day and recovery temperature.

Altitude is geopotential unless a name says otherwise. An off-standard day shifts the temperature at
a given pressure altitude; it never changes the pressure.
"""

from __future__ import annotations

import math
from bisect import bisect
from typing import NamedTuple

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

STANDARD_GRAVITY = 9.80665  # m/s2, U.S. Standard Atmosphere, 1976, table 2
GAS_CONSTANT = 287.05287  # J/(kg K) for air, same source (R*/M0)
HEAT_RATIO = 1.4  # same source

# Layers of the U.S. Standard Atmosphere, 1976, table 4: base height [m], lapse [K/m]
_BASE_HEIGHT = (0.0, 11_000.0, 20_000.0, 32_000.0, 47_000.0, 51_000.0, 71_000.0)
_LAPSE = (-6.5e-3, 0.0, 1.0e-3, 2.8e-3, 0.0, -2.8e-3, -2.0e-3)
_SEA_LEVEL_TEMPERATURE = 288.15
_SEA_LEVEL_PRESSURE = 101_325.0
SEA_LEVEL_SPEED_OF_SOUND = math.sqrt(HEAT_RATIO * GAS_CONSTANT * _SEA_LEVEL_TEMPERATURE)  # m/s
_TURBULENT_RECOVERY_FACTOR = 0.89  # Pr^(1/3), Eckert; from memory


class AirState(NamedTuple):
    """Static state of the air: temperature [K], pressure [Pa], density [kg/m**3], sound [m/s]."""

    temperature: Array
    pressure: Array
    density: Array
    speed_of_sound: Array


def _layer_bases() -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Temperature [K] and pressure [Pa] at the base of each layer, integrated upwards."""
    temperature, pressure = [_SEA_LEVEL_TEMPERATURE], [_SEA_LEVEL_PRESSURE]
    for layer, lapse in enumerate(_LAPSE[:-1]):
        rise = _BASE_HEIGHT[layer + 1] - _BASE_HEIGHT[layer]
        base = temperature[-1]
        top = base + lapse * rise
        if lapse:
            ratio = (top / base) ** (-STANDARD_GRAVITY / (GAS_CONSTANT * lapse))
        else:
            ratio = math.exp(-STANDARD_GRAVITY * rise / (GAS_CONSTANT * base))
        temperature.append(top)
        pressure.append(pressure[-1] * ratio)
    return tuple(temperature), tuple(pressure)


_BASE_TEMPERATURE, _BASE_PRESSURE = _layer_bases()


def standard_pressure(altitude: float) -> float:
    r"""Static pressure of the standard day as a plain number, for what reads a study.

    .. math:: p = p_b (T/T_b)^{-g_0/(R L)} \quad\text{or}\quad p_b e^{-g_0 (H-H_b)/(R T_b)}

    Parameters
    ----------
    altitude
        Geopotential altitude :math:`H` [m], valid -5 km to 84 km.

    Returns
    -------
    float
        Pressure [Pa].

    References
    ----------
    U.S. Standard Atmosphere, 1976, equations 33a and 33b.
    """
    layer = max(bisect(_BASE_HEIGHT, altitude) - 1, 0)
    base, lapse, rise = _BASE_TEMPERATURE[layer], _LAPSE[layer], altitude - _BASE_HEIGHT[layer]
    exponent = math.log1p(lapse * rise / base) / lapse if lapse else rise / base
    return _BASE_PRESSURE[layer] * math.exp(-STANDARD_GRAVITY / GAS_CONSTANT * exponent)


def standard_atmosphere(altitude: ArrayLike, temperature_offset: ArrayLike = 0.0) -> AirState:
    r"""State of the air at a pressure altitude on a standard or shifted day.

    .. math:: p = p_b (T/T_b)^{-g_0/(R L)} \quad\text{or}\quad p_b e^{-g_0 (H-H_b)/(R T_b)}

    Parameters
    ----------
    altitude
        Geopotential (pressure) altitude :math:`H` [m], valid -5 km to 84 km.
    temperature_offset
        Added to the standard temperature at that pressure [K].

    Returns
    -------
    AirState
        Temperature [K], pressure [Pa], density [kg/m**3], speed of sound [m/s].

    Examples
    --------
    20 km in the table: 216.650 K, 54.748 mb (5474.9 Pa with all digits), 0.088035 kg/m3.

    >>> air = standard_atmosphere(20_000.0)
    >>> float(air.temperature), float(air.pressure), float(air.density)
    (216.650, 5474.9, 0.088035)

    References
    ----------
    U.S. Standard Atmosphere, 1976, equations 23, 33a and 33b.
    """
    height = jnp.asarray(altitude, dtype=float)
    layer = jnp.clip(jnp.searchsorted(jnp.array(_BASE_HEIGHT), height, side="right") - 1, 0, 6)
    base_temperature = jnp.array(_BASE_TEMPERATURE)[layer]
    base_pressure = jnp.array(_BASE_PRESSURE)[layer]
    lapse = jnp.array(_LAPSE)[layer]
    rise = height - jnp.array(_BASE_HEIGHT)[layer]
    standard = base_temperature + lapse * rise
    isothermal = lapse == 0.0
    safe_lapse = jnp.where(isothermal, 1.0, lapse)
    gradient_exponent = jnp.log(standard / base_temperature) / safe_lapse
    exponent = jnp.where(isothermal, rise / base_temperature, gradient_exponent)
    pressure = base_pressure * jnp.exp(-STANDARD_GRAVITY / GAS_CONSTANT * exponent)
    temperature = standard + temperature_offset
    return AirState(
        temperature=temperature,
        pressure=pressure,
        density=pressure / (GAS_CONSTANT * temperature),
        speed_of_sound=jnp.sqrt(HEAT_RATIO * GAS_CONSTANT * temperature),
    )


def recovery_temperature(
    temperature: ArrayLike, mach: ArrayLike, recovery_factor: ArrayLike = _TURBULENT_RECOVERY_FACTOR
) -> Array:
    r"""Adiabatic wall temperature of a surface in the stream.

    .. math:: T_r = T (1 + r \tfrac{\gamma-1}{2} M^2)

    Parameters
    ----------
    temperature
        Static temperature :math:`T` [K].
    mach
        Mach number [1].
    recovery_factor
        :math:`r` [1], 0.89 turbulent, 0.845 laminar, 1 for the total temperature.

    Returns
    -------
    Array
        :math:`T_r` [K].

    Examples
    --------
    Mach 2 at 216.65 K (hand: 216.65 x 1.712):

    >>> float(recovery_temperature(216.65, 2.0))
    370.90

    References
    ----------
    Eckert 1955 (from memory); 0.890 measured within 0.5 % at Mach 2.9, Gruenewald 1953, report
    2742.
    """
    rise = jnp.asarray(recovery_factor) * 0.5 * (HEAT_RATIO - 1.0) * jnp.asarray(mach) ** 2
    return jnp.asarray(temperature) * (1.0 + rise)
