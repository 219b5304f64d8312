r"""The quantile of the worst requirement over samples, and its slopes.

All requirements hold with a probability :math:`P` exactly where the :math:`1 - P` quantile of the
worst of them is not negative; unlike the probability, it has a slope far from where it is wanted.
It is estimated by a weighted sum of the order statistics :math:`x_{(i)}` of all samples,

.. math:: Q = \sum_i x_{(i)} \left[I_{i/n}(a, b) - I_{(i-1)/n}(a, b)\right],
   \quad a = (n + 1)(1 - P),\ b = (n + 1) P

with the regularised incomplete beta function :math:`I` (Harrell and Davis, Biometrika 69, 1982,
635, from memory): smoother over the design than one order statistic. Which row is the worst is
decided in units of its own standard deviation over the samples, so that a row that hardly varies
has no more weight than one that varies much.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.special import betainc

from mdo.arrays import Floats, Indices

FAR = 3.0  # rows are cut off here, both ways: a number that says 'never' is not to rule a deviation
STILL = 1e-4  # deviation of a row below which it is taken at its worst sample


class Worst(NamedTuple):
    """The quantile of the worst row, and what carries it.

    Attributes
    ----------
    quantile
        In deviations of a row; not negative where the probability is reached.
    weights
        Of each sample in it.
    row
        Which row is the worst in each sample.
    """

    quantile: float
    weights: Floats
    row: Indices


def order_weights(count: int, share: float) -> Floats:
    """Weights of the order statistics, ascending, in the quantile of a share; they add up to 1."""
    a, b = (count + 1) * share, (count + 1) * (1.0 - share)
    return np.asarray(np.diff(betainc(a, b, np.arange(count + 1) / count)))


def deviations(rows: Floats) -> Floats:
    """Standard deviation of each row over the samples, cut off far from the limit."""
    return np.asarray(np.clip(rows, -FAR, FAR).std(axis=0))


def worst_of(rows: Floats, deviation: Floats, ordered: Floats) -> Worst:
    """Quantile of the worst row, shape (samples, rows), by the weights of the order statistics."""
    standard = rows / deviation
    row = standard.argmin(axis=1)
    least = standard[np.arange(len(rows)), row]
    order = least.argsort(kind="stable")
    weights = np.empty(len(rows))
    weights[order] = ordered
    return Worst(float(weights @ least), weights, row)
