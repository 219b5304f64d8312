"""What it costs to turn a knob: a relative change that is comparable between knobs.

The cost is 0 at the present value and grows in the easier direction. Temperatures by their change
over 10 K (as the rows are scaled), a torque margin by the factor that it puts on the moment, what
may go down to zero by its change over the present value, all else by the logarithm of its ratio;
for small changes all but the first are the relative change.
"""

from __future__ import annotations

import math

from mdo.optimise.knobs import Knob

KELVIN = 10.0  # [K] change of a temperature that costs one
BY_RATIO = "logarithm of the ratio"
BY_CHANGE = "change over the present value"
BY_KELVIN = "change over 10 K"
BY_FACTOR = "logarithm of the ratio of 1 + margin"


def measure_of(knob: Knob) -> str:
    """How the cost of turning a knob is measured, in words."""
    if knob.unit == "K":
        return BY_KELVIN
    if knob.name == "torque_margin":
        return BY_FACTOR
    return BY_CHANGE if knob.easier < 0 and knob.low <= 0.0 else BY_RATIO


def _scaled(knob: Knob) -> tuple[float, float]:
    """Size that a change is taken over, and the shift of a logarithm (NaN: linear)."""
    kind = measure_of(knob)
    if kind in (BY_KELVIN, BY_CHANGE):
        return (KELVIN if kind == BY_KELVIN else knob.value), math.nan
    shift = 1.0 if kind == BY_FACTOR else 0.0
    return knob.value + shift, shift


def cost_of(knob: Knob, value: float) -> float:
    """Cost of turning a knob to a value (SI): 0 at its present one, positive where easier."""
    size, shift = _scaled(knob)
    if math.isnan(shift):
        return knob.easier * (value - knob.value) / size
    return knob.easier * math.log((value + shift) / size)


def value_at(knob: Knob, cost: float) -> float:
    """Value of a knob (SI) at a cost, within its range: the inverse of :func:`cost_of`."""
    size, shift = _scaled(knob)
    if measure_of(knob) == BY_CHANGE:
        value = knob.value * (1.0 + knob.easier * cost)
    elif math.isnan(shift):
        value = knob.value + knob.easier * cost * size
    else:
        value = size * math.exp(knob.easier * cost) - shift
    return float(min(max(value, knob.low), knob.high))


def value_slope(knob: Knob, cost: float) -> float:
    """Derivative of :func:`value_at`."""
    size, shift = _scaled(knob)
    return knob.easier * size * (1.0 if math.isnan(shift) else math.exp(knob.easier * cost))
