"""A log beside its prediction: residuals, delay, band; and which input would explain them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from scipy.optimize import lsq_linear
from scipy.signal import correlate

from mdo.bench.log_cells import Numbers
from mdo.bench.replay import LANES_SHARE, Replay, channel_of

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


LANES = 64
INSIDE_AGREES = 0.9  # share of samples in the band from which a series agrees; judgement
WIDE = 0.5  # of what a series is predicted to move, from which its band judges nothing; judgement
AT_NOISE = 1.2  # RMS over the noise up to which it agrees whatever the band; judgement
EXPLAINS = 0.1  # of what is left, that one more cause has to explain to be named; judgement
NEAR = (
    0.98  # of the most that a cause explains, from which an input goes before a sensor; judgement
)
RANGES_MAX = 2.0  # half ranges, by which an input may be shifted to explain something; judgement
CAUSES_MAX = 3
ALONE = 1e-8  # square of what is left of a cause beside others, below which it is one of them
NOISE_WIDTH = 1.96  # standard deviations of the sensor on either side of a band
PARAMETER, ZERO = "input", "zero of sensor"
GAIN, DELAY = "gain of sensor", "delay of sensor"


class Cause(NamedTuple):
    """One input, or a fault of a sensor, that would explain a difference.

    Attributes
    ----------
    kind, name
        ``input`` and its name; or ``zero``, ``gain`` or ``delay of sensor`` and the series.
    shift
        By how much, SI (gain: relative; delay: s).
    ranges
        Shift over half of the known range [1]; NaN for a sensor.
    explained
        Share of the squares of all residuals that go with it and those before it [1].
    """

    kind: str
    name: str
    shift: float
    ranges: float
    explained: float


class Comparison(NamedTuple):
    """A log beside its prediction.

    Attributes
    ----------
    time, labels
        Samples [s] (N,), series (S).
    measured, predicted, low, high
        Series and the band of scatter and noise, SI, (S, N).
    noise
        Standard deviation of the sensor of each series (S,).
    agreements
        One for each series.
    causes
        What would explain the difference, first the one that explains most.
    """

    time: Numbers
    labels: tuple[str, ...]
    measured: Numbers
    predicted: Numbers
    low: Numbers
    high: Numbers
    noise: Numbers
    agreements: tuple[Agreement, ...]
    causes: tuple[Cause, ...]

    @property
    def agrees(self) -> tuple[bool, ...]:
        """Whether each series lies in its band, and that says something."""
        return tuple(
            one.inside >= INSIDE_AGREES and not wide
            for one, wide in zip(self.agreements, self.too_wide, strict=True)
        )

    @property
    def too_wide(self) -> tuple[bool, ...]:
        """Whether each series lies in a band in which nearly anything would."""
        return tuple(
            one.inside >= INSIDE_AGREES
            and one.width > WIDE * one.course
            and one.rms > AT_NOISE * noise
            for one, noise in zip(self.agreements, self.noise, strict=True)
        )


def compare(replay: Replay, *, lanes: int = LANES, seed: int = 0) -> Comparison:
    """Set a log beside its prediction.

    Parameters
    ----------
    replay : the log and what predicts it
    lanes : units with inputs from their ranges that make the band
    seed : of the draw
    """
    time, labels = replay.log.time, tuple(replay.measured)
    measured = np.stack([*replay.measured.values()])
    predicted = replay.predict(replay.nominal)
    spread = np.quantile(replay.lanes(lanes, seed), LANES_SHARE, axis=0)
    noise: Numbers = np.array([*replay.noise.values()])
    edge = NOISE_WIDTH * noise[:, None]
    low = predicted - np.hypot(np.maximum(predicted - spread[0], 0.0), edge)
    high = predicted + np.hypot(np.maximum(spread[1] - predicted, 0.0), edge)
    agreements = tuple(
        agreement(label, time, measured[n], predicted[n], (low[n], high[n]))
        for n, label in enumerate(labels)
    )
    causes = explain(replay, measured - predicted, predicted)
    return Comparison(time, labels, measured, predicted, low, high, noise, agreements, causes)


def explain(replay: Replay, residual: Numbers, predicted: Numbers) -> tuple[Cause, ...]:
    """Inputs and faults of sensors that explain residuals, by forward selection.

    Parameters
    ----------
    replay : the log and what predicts it
    residual, predicted : (S, N)

    Notes
    -----
    A parameter acts by its exact derivative, a sensor by an offset, a gain or a delay of its own
    series; each step takes whichever explains most beside those taken, all shifts fitted anew.
    """
    there = np.isfinite(residual)
    weight = 1.0 / np.maximum(replay.scale, 1e-30)[:, None]
    target = np.where(there, residual * weight, 0.0).ravel()
    names, columns = _candidates(replay, predicted)
    columns = [np.where(there, column * weight, 0.0).ravel() for column in columns]
    sizes = [max(float(np.linalg.norm(column)), 1e-300) for column in columns]
    columns = [column / size for column, size in zip(columns, sizes, strict=True)]
    shifts_max = [RANGES_MAX * one.spread for one in replay.parameters]
    shifts_max += [np.inf] * (len(columns) - len(shifts_max))
    bounds: Numbers = np.array(shifts_max) * np.array(sizes)
    total = float(target @ target)
    taken: list[int] = []
    causes: tuple[Cause, ...] = ()
    left = target
    while total > 0.0 and len(taken) < CAUSES_MAX:
        beside = [columns[n] for n in taken]
        gains = [
            _gain(column, left, beside, most) for column, most in zip(columns, bounds, strict=True)
        ]
        near = np.flatnonzero(np.asarray(gains) >= NEAR * max(gains))
        best = int(min(near, key=lambda n: (names[n][0] != PARAMETER, -gains[n])))
        if gains[best] < EXPLAINS * total:
            break
        taken.append(best)
        basis = np.stack([columns[n] for n in taken], axis=1)
        limits = bounds[taken]
        parts = lsq_linear(basis, target, (-limits, limits)).x
        left = target - basis @ parts
        shifts = [part / sizes[n] for part, n in zip(parts, taken, strict=True)]
        explained = 1.0 - float(left @ left) / total
        causes = (*causes, Cause(*names[best], 0.0, 0.0, explained))
        causes = tuple(
            one._replace(shift=float(shift), ranges=_ranges(replay, one, float(shift)))
            for one, shift in zip(causes, shifts, strict=True)
        )
    return causes


def _candidates(replay: Replay, predicted: Numbers) -> tuple[list[tuple[str, str]], list[Numbers]]:
    """Names, and effects on all series by a shift of one, (S, N)."""
    slopes = replay.slopes(replay.nominal)
    names = [(PARAMETER, one.name) for one in replay.parameters]
    effects = [slopes[:, :, n] for n in range(len(names))]
    for n, label in enumerate(replay.measured):
        course = np.gradient(predicted[n], replay.log.time)
        for kind, effect in ((ZERO, 1.0), (GAIN, predicted[n]), (DELAY, -course)):
            if kind == GAIN and channel_of(label) == "tube_temperature":
                continue  # a thermometer has no zero from which a gain would count
            own = np.zeros_like(predicted)
            own[n] = effect
            names.append((kind, label))
            effects.append(own)
    return names, effects


def _gain(column: Numbers, left: Numbers, taken: Sequence[Numbers], most: float) -> float:
    """Squares that one more column explains beside others, its shift within a bound."""
    if taken:
        basis = np.stack(taken, axis=1)
        column = column - basis @ np.linalg.lstsq(basis, column, rcond=None)[0]
    size = float(column @ column)
    shift = float(np.clip((column @ left) / max(size, ALONE), -most, most))
    return shift * (2.0 * float(column @ left) - shift * size)


def _ranges(replay: Replay, cause: Cause, shift: float) -> float:
    spreads = {one.name: one.spread for one in replay.parameters}
    return shift / spreads[cause.name] if cause.kind == PARAMETER else float("nan")
