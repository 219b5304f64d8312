r"""Exponents of a family: least squares on logarithms, with intervals, and what theory says.

For ``y = a s^b`` the slope of ``ln y`` over ``ln s`` is fitted; its standard error is

.. math:: s_b^2 = \frac{\sum(y_i-\hat y_i)^2}{(n-2)\sum(x_i-\bar x)^2} ,

and the interval is ``b +- t s_b`` with Student's t at 97.5 % and ``n - 2`` degrees of freedom
(Draper and Smith, Applied Regression Analysis, 3rd ed., section 1.4, from memory). The residuals
are no noise but the bend of the curve: a wide interval says that there is no one exponent.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.stats import t as student

from mdo.arrays import Floats
from mdo.explore.scaling.family import FULL
from mdo.study.scaling_laws import LAWS

CONFIDENCE = 0.95
LEAST = 2  # sizes of a slope; of an interval one more


class Slope(NamedTuple):
    """Fitted exponent with the ends of its interval."""

    exponent: float
    low: float
    high: float
    sizes: int


def fit(sizes: Floats, values: Floats) -> Slope:
    """Exponent of positive values over sizes; NaN with fewer than two, no interval below three."""
    good = np.isfinite(values) & (values > 0.0)
    x, y = np.log(sizes[good]), np.log(values[good])
    n = int(good.sum())
    if n < LEAST or np.ptp(x) == 0.0:
        return Slope(np.nan, np.nan, np.nan, n)
    off = x - x.mean()
    slope = float(off @ y / (off @ off))
    if n == LEAST:
        return Slope(slope, np.nan, np.nan, n)
    residual = y - y.mean() - slope * off
    error = float(np.sqrt(residual @ residual / (n - 2) / (off @ off)))
    half = float(student.ppf(0.5 + CONFIDENCE / 2.0, n - 2)) * error
    return Slope(slope, slope - half, slope + half, n)


def theory(law: str, mode: str, quantity: str) -> float:
    """Exponent that the law demands; NaN where it demands none.

    In full mode it is that of the law, with times at their limits: what the optima would have if
    nothing in them had a size of its own. In pure mode times and powers are those of a body that
    stores heat in its volume and loses it through its surface.
    """
    rule = LAWS[law]
    length = rule.moment / 3.0
    known = {
        "vehicle_mass": rule.mass,
        "required_moment_max": rule.moment,
        "actuator_work_max": rule.moment,
        "system_mass": rule.moment,
        "alloy_mass": rule.moment,
        "sortie_energy": rule.moment,
        "leg_work_density_max": 0.0,
    }
    if mode == FULL:
        known |= {"peak_power": rule.power, "fold_time": rule.time, "return_time": rule.time}
    else:
        known |= {
            "peak_power": 2.0 * length, "fold_time": length, "return_time": length,
            "tube_count": 0.0, "tube_outer_radius": length, "tube_length": length,
            "bundle_length": length, "gear_ratio": 0.0,
        }  # fmt: skip
    return known.get(quantity, float("nan"))
