"""How parameters change along one axis: a line, or a curve through Chebyshev nodes.

The curve is the polynomial of the first kind's nodes over the logarithm of the axis: a power of the
size becomes an exponential, whose coefficients fall like those of a Bessel function: 32 of them
hold a fifth power over a factor of 20 to round-off (Trefethen, Approximation Theory and
Approximation Practice, 2013, chapter 8, from memory).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.polynomial import chebyshev

from mdo.arrays import Floats

NODES = 32


class Effect(NamedTuple):
    """How the parameters change along one axis from its middle.

    Attributes
    ----------
    low, high
        Ends of the axis.
    slope
        Shape (parameters,); None where it is a curve.
    curve
        Chebyshev coefficients over the axis, shape (nodes, parameters); of the logarithm of an axis
        that has no zero in it.
    """

    low: float
    high: float
    slope: Floats | None
    curve: Floats | None

    def place(self, values: Floats) -> Floats:
        """Place on the axis, -1 to 1."""
        low, high = self.low, self.high
        if low > 0.0:
            low, high, values = float(np.log(low)), float(np.log(high)), np.log(values)
        return np.asarray((2.0 * values - low - high) / (high - low))

    def at(self, values: Floats) -> Floats:
        """Change of the parameters at values of the axis, shape (n, parameters)."""
        if self.slope is not None:
            return np.asarray((values - 0.5 * (self.low + self.high))[:, None] * self.slope)
        assert self.curve is not None
        return np.asarray(
            chebyshev.chebvander(self.place(values), len(self.curve) - 1) @ self.curve
        )


def line_through(low: float, high: float, first: Floats, last: Floats) -> Effect:
    """Line from the parameters at the low end to those at the high end."""
    return Effect(low, high, (last - first) / (high - low), None)


def nodes_of(low: float, high: float) -> Floats:
    """Values of the axis at which a curve wants the parameters."""
    nodes = chebyshev.chebpts1(NODES)
    if low > 0.0:
        return np.asarray(np.sqrt(low * high) * (high / low) ** (0.5 * nodes))
    return np.asarray(0.5 * (low + high + nodes * (high - low)))


def curve_through(low: float, high: float, changes: Floats) -> Effect:
    """Curve through changes of the parameters at the nodes, shape (nodes, parameters)."""
    basis = chebyshev.chebvander(chebyshev.chebpts1(NODES), NODES - 1)
    return Effect(low, high, None, np.asarray(np.linalg.solve(basis, changes), dtype=float))
