"""How far a prediction is from what was measured: residuals, delay, share inside of a band."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.signal import correlate

from mdo.bench.log_cells import Numbers

DELAY_SHARE = 0.25  # of the time of a log, the longest delay that is looked for; judgement
GRID_MAX = 50_000  # samples of the even grid of a delay
TOLD = 0.01  # share of what does not correlate that a delay has to mend; judgement


class Agreement(NamedTuple):
    """One series of a log against its prediction, SI.

    Attributes
    ----------
    samples
        Samples compared.
    mean, rms, largest
        Of the residuals, measured less predicted; ``largest`` keeps its sign.
    largest_time
        When it was [s].
    delay
        By which the log follows the prediction [s]; NaN where nothing moves.
    inside
        Share of the samples inside of the predicted band [1].
    width, course
        Root mean square of the width of the band; from the least to the most that is predicted.
    """

    label: str
    samples: int
    mean: float
    rms: float
    largest: float
    largest_time: float
    delay: float
    inside: float
    width: float
    course: float


def agreement(
    label: str, time: Numbers, measured: Numbers, predicted: Numbers, band: tuple[Numbers, Numbers]
) -> Agreement:
    """Compare one series with its prediction.

    Parameters
    ----------
    label : of the series
    time, measured, predicted : (N,), NaN where a sample is missing
    band : lower and upper edge, (N,)
    """
    there = np.isfinite(measured)
    residual = (measured - predicted)[there]
    worst = int(np.argmax(np.abs(residual)))
    inside = (measured >= band[0]) & (measured <= band[1])
    return Agreement(
        label,
        int(there.sum()),
        float(residual.mean()),
        float(np.sqrt(np.mean(residual**2))),
        float(residual[worst]),
        float(time[there][worst]),
        delay(time[there], measured[there], predicted[there]),
        float(inside[there].mean()),
        float(np.sqrt(np.mean((band[1] - band[0])[there] ** 2))),
        float(np.ptp(predicted[there])),
    )


def delay(time: Numbers, measured: Numbers, predicted: Numbers) -> float:
    r"""Time by which one course follows another: where they correlate best.

    .. math:: \max_d \mathrm{corr}[m(t + d),\, p(t)]

    Parameters
    ----------
    time, measured, predicted : (N,), time rising

    Returns
    -------
    Delay [s], above zero where the log is late; NaN where a course does not move, 0 where shifting
    explains next to nothing.

    Notes
    -----
    The coefficient is that of each overlap, so that neither an offset, a gain nor an end counts; a
    parabola through the best three gives parts of a sample.

    References
    ----------
    Derived (cross-correlation of any text on signals).
    """
    count = min(len(time), GRID_MAX)
    grid = np.linspace(time[0], time[-1], count)
    m, p = (np.interp(grid, time, of) for of in (measured, predicted))
    if np.ptp(m) == 0.0 or np.ptp(p) == 0.0 or count < 3:
        return float("nan")
    m, p = (m - m.mean()) / np.std(m), (p - p.mean()) / np.std(p)
    most = max(int(DELAY_SHARE * count), 1)
    lags = np.arange(-most, most + 1)
    late, early = np.maximum(lags, 0), np.maximum(-lags, 0)
    pairs = count - np.abs(lags)

    def mean(values: Numbers, start: Numbers) -> Numbers:
        total = np.concatenate([[0.0], np.cumsum(values)])
        return np.asarray((total[start + pairs] - total[start]) / pairs)

    together = correlate(m, p, method="fft")[lags + count - 1] / pairs
    covariance = together - mean(m, late) * mean(p, early)
    variances = (mean(m**2, late) - mean(m, late) ** 2) * (mean(p**2, early) - mean(p, early) ** 2)
    apart = 1.0 - covariance / np.sqrt(np.maximum(variances, 1e-12))
    least, step = float(apart.min()), grid[1] - grid[0]
    near = apart <= least + TOLD * (apart[most] - least)  # of a cycle that repeats, the first
    dips = near & (apart <= np.roll(apart, 1)) & (apart <= np.roll(apart, -1))
    best = int(np.flatnonzero(dips)[np.argmin(np.abs(lags[dips]))])
    if apart[most] - apart[best] < max(TOLD * apart[most], 1e-9):
        return 0.0
    part = 0.0
    if 0 < best < len(lags) - 1:
        left, here, right = apart[best - 1 : best + 2]
        bend = left - 2.0 * here + right
        part = 0.5 * (left - right) / bend if bend > 0.0 else 0.0
    return float((lags[best] + part) * step)
