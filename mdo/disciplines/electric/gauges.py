"""Aircraft wire gauges: table, continuous rating as a curve, choice of a gauge."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
import numpy as np
from jax import Array
from numpy.typing import NDArray

FOOT = 0.3048  # [m]
CIRCULAR_MIL = 5.067e-10  # [m**2] pi/4 (0.001 in)^2
COPPER_OFFSET = 234.5  # [degC] AC 43.13-1B, temperature correction of copper
COPPER_REFERENCE = 20.0  # [degC] temperature of the resistance table
ZERO_CELSIUS = 273.15  # [K]
# AC 43.13-1B table 11-9, tin-plated copper: gauge, largest ohm per 1000 ft at 20 degC, circular
# mils, continuous amperes in a bundle at 60,000 ft, 70 degC, for wire rated 105 / 150 / 200 degC.
GAUGE_TABLE: NDArray[np.float64] = np.array(
    [
        [24, 28.40, 475, 2.5, 4, 5],
        [22, 16.20, 755, 3, 5, 6],
        [20, 9.88, 1216, 4, 7, 9],
        [18, 6.23, 1900, 6, 9, 12],
        [16, 4.81, 2426, 7, 11, 14],
        [14, 3.06, 3831, 10, 14, 18],
        [12, 2.02, 5874, 13, 19, 25],
        [10, 1.26, 9354, 17, 26, 32],
        [8, 0.70, 16983, 38, 57, 71],
        [6, 0.44, 26818, 50, 76, 97],
        [4, 0.28, 42615, 68, 103, 133],
        [2, 0.18, 66500, 95, 141, 179],
        [1, 0.15, 81700, 113, 166, 210],
        [0, 0.12, 104500, 128, 192, 243],
    ]
)
GAUGE = GAUGE_TABLE[:, 0]
RESISTANCE_PER_LENGTH = GAUGE_TABLE[:, 1] / (1000.0 * FOOT)  # [ohm/m]
AREA = GAUGE_TABLE[:, 2] * CIRCULAR_MIL  # [m**2]
AMPACITY = GAUGE_TABLE[:, 3:]  # [A]
RATING = np.array([105.0, 150.0, 200.0]) + ZERO_CELSIUS  # [K]
RESISTIVITY = float(np.max((RESISTANCE_PER_LENGTH * AREA)[1:]))  # [ohm*m] worst of 22 AWG and up


def _monotone_slopes(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """Slopes of a monotone cubic through rising data (Fritsch and Butland 1984, from memory).

    The last slope is one: beyond the table cables run in parallel, area in proportion to current.
    """
    step, secant = np.diff(x), np.diff(y) / np.diff(x)
    before, after = 2.0 * step[1:] + step[:-1], step[1:] + 2.0 * step[:-1]
    inner = (before + after) / (before / secant[:-1] + after / secant[1:])
    return np.concatenate([secant[:1], inner, [1.0]])


class _Curve(NamedTuple):
    """Monotone cubic of ln(area) over ln(current) for one wire rating."""

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    slope: NDArray[np.float64]


def _curves() -> tuple[_Curve, ...]:
    """One curve for each rating of the table."""
    y = np.log(AREA)
    return tuple(_Curve(x, y, _monotone_slopes(x, y)) for x in np.log(AMPACITY).T)


CURVES = _curves()


def _evaluate(curve: _Curve, x: Array) -> Array:
    """Cubic Hermite inside the table, straight in the logarithms outside (C1)."""
    knots, values, slopes = (jnp.asarray(part) for part in curve)
    inside = jnp.clip(x, knots[0], knots[-1])
    cell = jnp.clip(jnp.searchsorted(knots, inside, side="right") - 1, 0, knots.size - 2)
    step = knots[cell + 1] - knots[cell]
    u = (inside - knots[cell]) / step
    cubic = (
        values[cell] * (1.0 + 2.0 * u) * (1.0 - u) ** 2
        + values[cell + 1] * u**2 * (3.0 - 2.0 * u)
        + step * u * (1.0 - u) * (slopes[cell] * (1.0 - u) - slopes[cell + 1] * u)
    )
    outside = x - inside
    return cubic + outside * jnp.where(outside > 0.0, slopes[-1], slopes[0])


def temperature_factor(temperature: Array) -> Array:
    r"""Copper resistance at a temperature over that at 20 degC.

    .. math:: (234.5+t)/254.5, \quad t \text{ in degC}

    Parameters
    ----------
    temperature
        Temperature of the conductor [K], any shape.

    Returns
    -------
    Array
        Factor [1].

    Examples
    --------
    100 degC (hand: 334.5/254.5; its inverse is the 0.761 of the source's run length):

    >>> float(temperature_factor(373.15))
    1.31434

    References
    ----------
    AC 43.13-1B 1998, section 11-67 (its length factor 254.5/(234.5 + t) is the inverse).
    """
    return (COPPER_OFFSET + temperature - ZERO_CELSIUS) / (COPPER_OFFSET + COPPER_REFERENCE)


def ampacity_area(current: Array, rating: Array) -> Array:
    """Conductor area whose continuous rating is a current, a monotone cubic of the table.

    Parameters
    ----------
    current
        Current [A], not negative, any shape.
    rating
        Temperature rating of the wire [K]; between the table's columns the logarithm of the area is
        interpolated, outside the nearest column holds.

    Returns
    -------
    Array
        Area [m**2]. It passes through every gauge; beyond the largest it is proportional.

    Examples
    --------
    26 A in wire of 150 degC: gauge 10, 9354 circular mils (hand: 4.740 mm2).

    >>> float(ampacity_area(jnp.asarray(26.0), jnp.asarray(423.15))) * 1e6
    4.740

    References
    ----------
    AC 43.13-1B 1998, table 11-9: bundles, 60,000 ft, 70 degC, so conservative elsewhere.
    """
    positive = current > 1e-6
    logarithm = jnp.log(jnp.where(positive, current, 1e-6))
    columns = jnp.stack([_evaluate(curve, logarithm) for curve in CURVES])
    place = jnp.interp(jnp.asarray(rating), jnp.asarray(RATING), jnp.arange(3.0))
    weights = jnp.maximum(1.0 - jnp.abs(place - jnp.arange(3.0)), 0.0)
    return jnp.exp(jnp.tensordot(weights, columns, axes=1))


class GaugeChoice(NamedTuple):
    """Smallest gauge that suits one feeder: AWG number [1], area [m**2], drop [V], suits (bool)."""

    gauge: Array
    area: Array
    drop: Array
    suits: Array


def choose_gauge(
    *, current: Array, loop_length: Array, allowed_drop: Array, temperature: Array, rating: Array
) -> GaugeChoice:
    """Smallest gauge of the table with both ampacity and drop in order.

    Parameters
    ----------
    current
        Current [A], scalar.
    loop_length
        Out and return [m].
    allowed_drop
        Voltage drop [V].
    temperature
        Temperature of the conductor [K].
    rating
        Rating of the insulation [K]; the column of the highest rating not above it counts.

    Returns
    -------
    GaugeChoice
        Gauge [1], area [m**2], drop [V]. ``suits`` is false where even the largest gauge does not
        do; then the largest is returned.

    Examples
    --------
    37.75 A (1057 W at 28 V) over a loop of 10 m with 1 V: gauge 8 drops 0.87 V (hand).

    >>> chosen = choose_gauge(current=37.75, loop_length=10.0, allowed_drop=1.0, temperature=293.15,
    ...     rating=423.15)
    >>> int(chosen.gauge), float(chosen.drop), bool(chosen.suits)
    (8, 0.87, True)

    References
    ----------
    AC 43.13-1B 1998, sections 11-66 to 11-68 and table 11-9.
    """
    resistance = jnp.asarray(RESISTANCE_PER_LENGTH) * loop_length * temperature_factor(temperature)
    drop = current * resistance
    column = jnp.clip(jnp.sum(jnp.asarray(RATING) <= rating + 1e-6) - 1, 0, 2)
    suits = (drop <= allowed_drop) & (jnp.asarray(AMPACITY)[:, column] >= current)
    index = jnp.where(jnp.any(suits), jnp.argmax(suits), GAUGE.size - 1)
    return GaugeChoice(
        gauge=jnp.asarray(GAUGE)[index],
        area=jnp.asarray(AREA)[index],
        drop=drop[index],
        suits=suits[index],
    )
