"""What is set beside a log: a prediction at the times of its samples, as a function of parameters.

Comparison and fit know no physics: they are given parameters with what is known of them, and a
function of their values. Channels with a column for each tube count as one series a column.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from copy import copy
from functools import cached_property
from typing import Any, NamedTuple

import jax
import numpy as np
from numpy.typing import NDArray

from mdo.bench.log import Log
from mdo.bench.log_cells import CHANNELS, MANY, OUTPUTS, Numbers
from mdo.model.kept import kept

LANES_SHARE = (0.025, 0.975)  # of the scatter that a band leaves out on either side
SPAN_SHARE = 0.005  # of the span of a series: no residual smaller than that counts; judgement
DRAWS = 20  # for each lane, most
_MAD = 1.4826  # standard deviation over median absolute deviation of a normal distribution
Function = Callable[..., Mapping[str, Any]]


class Parameter(NamedTuple):
    """One input of a prediction: name, value, range in which it is known to lie, SI unit, words."""

    name: str
    value: float
    low: float
    high: float
    unit: str
    meaning: str = ""

    @property
    def spread(self) -> float:
        """Half of the range: a shift by one is to its end from the middle."""
        return (self.high - self.low) / 2.0


class Replay:
    """A prediction at the samples of a log.

    Parameters
    ----------
    log : the log
    parameters : inputs that are known within a range
    function : of the values of the parameters (P,) and of the inputs, to channels as those of the
        log; of JAX
    level : what the prediction is made with, in words
    inputs : what the log drives the prediction with
    times : of the prediction [s], (T,), from the first to the last sample; those of the log if None
    identity : what the function is, so that its compiled code is kept; None keeps nothing
    sound : whether values of all parameters agree with one another; every draw does if None

    Attributes
    ----------
    measured
        Series of the log by label, (N,), NaN where a sample is missing.
    noise
        Standard deviation of each series from one sample to the next, by label.
    """

    def __init__(
        self,
        log: Log,
        parameters: tuple[Parameter, ...],
        function: Function,
        level: str = "",
        inputs: tuple[Any, ...] = (),
        times: Numbers | None = None,
        identity: str | None = None,
        sound: Callable[[Numbers], bool] | None = None,
    ) -> None:
        self._sound = sound or (lambda _: True)
        self.log, self.parameters, self.level, self.inputs = log, parameters, level, inputs
        self.measured, self.noise = _measured(log)

        self._between = None if times is None else _between(times, log.time)
        labels = tuple(self.measured)

        def stacked(values: Any, inputs: Any) -> Any:
            predicted = as_series(function(values, *inputs), jax.numpy)
            return jax.numpy.stack([predicted[label] for label in labels])

        whole = None if identity is None else f"{identity} {' '.join(labels)}"
        self._stacked = kept(stacked, whole)

        def along(values: Any, inputs: Any, ways: Any) -> Any:
            def one(way: Any) -> Any:
                return jax.jvp(lambda at: stacked(at, inputs), (values,), (way,))[1]

            return jax.numpy.moveaxis(jax.vmap(one)(ways), 0, -1)

        self._along = kept(along, None if whole is None else f"{whole} slopes")

    def beside(self, log: Log) -> Replay:
        """The same prediction beside another log of the same times, inputs and channels."""
        other = copy(self)
        other.log, (other.measured, other.noise) = log, _measured(log)
        other.__dict__.pop("scale", None)
        return other

    @cached_property
    def nominal(self) -> Numbers:
        """Values of the parameters before anything is fitted, (P,)."""
        return np.array([one.value for one in self.parameters])

    @cached_property
    def spreads(self) -> Numbers:
        """Half ranges of the parameters, (P,)."""
        return np.array([one.spread for one in self.parameters])

    def predict(self, values: Numbers) -> Numbers:
        """Series at values of the parameters, (S, N)."""
        return self._at_samples(self._stacked(values, self.inputs))

    def slopes(self, values: Numbers, *inputs: Any, of: NDArray[np.intp] | None = None) -> Numbers:
        """Exact derivatives of the series by some parameters (all if None), (S, N, P).

        Under other inputs where they are given.
        """
        ways = np.eye(len(self.parameters))
        ways = ways if of is None else ways[of]
        return self._at_samples(self._along(values, inputs or self.inputs, ways))

    def _at_samples(self, series: Any) -> Numbers:
        """Series (S, T, ...) at the samples of the log, straight between times."""
        values = np.asarray(series)
        if self._between is None:
            return values
        before, share = self._between
        share = share.reshape(-1, *[1] * (values.ndim - 2))
        return np.asarray(values[:, before] * (1.0 - share) + values[:, before + 1] * share)

    def lanes(self, count: int, seed: int) -> Numbers:
        """Predictions with parameters drawn evenly from their ranges, (count, S, N).

        Draws that contradict themselves are drawn anew.
        """
        low = np.array([one.low for one in self.parameters])
        high = np.array([one.high for one in self.parameters])
        drawn = np.random.default_rng(seed).uniform(low, high, (DRAWS * count, len(low)))
        sound = [values for values in drawn if self._sound(values)] or [self.nominal]
        return np.stack([self.predict(values) for values in sound[:count]])

    @cached_property
    def scale(self) -> Numbers:
        """What a residual of each series is counted in: its noise, or a small share of its span."""
        spans = [np.nanmax(values) - np.nanmin(values) for values in self.measured.values()]
        return np.maximum([*self.noise.values()], SPAN_SHARE * np.asarray(spans))


def _between(times: Numbers, samples: Numbers) -> tuple[Any, Numbers]:
    """Time before each sample, and its share of the way to the next."""
    before = np.clip(np.searchsorted(times, samples, side="right") - 1, 0, len(times) - 2)
    share = (samples - times[before]) / (times[before + 1] - times[before])
    return before, np.clip(share, 0.0, 1.0)


def _measured(log: Log) -> tuple[dict[str, Numbers], dict[str, float]]:
    """Series of a log and the noise of each."""
    measured = as_series({name: log.channels[name] for name in OUTPUTS if name in log.channels})
    return measured, {label: noise_of(values) for label, values in measured.items()}


def as_series(channels: Mapping[str, Any], xp: Any = np) -> dict[str, Any]:
    """Series by label: one for each column of a channel that has several."""
    series = {}
    for name, values in channels.items():
        columns = xp.asarray(values)
        if name not in MANY:
            series[name] = columns
            continue
        for tube in range(columns.shape[1]):
            series[f"{name} {tube + 1}"] = columns[:, tube]
    return series


def channel_of(label: str) -> str:
    """Channel of a series."""
    return label.partition(" ")[0]


def title_of(label: str) -> str:
    """Title of a series."""
    name, _, tube = label.partition(" ")
    return f"{CHANNELS[name].title} {tube}".strip()


def noise_of(values: Numbers) -> float:
    r"""Standard deviation of what changes from sample to sample, by second differences.

    .. math:: \sigma = 1.4826\,\mathrm{median}|x_{n-1} - 2 x_n + x_{n+1}|/\sqrt6

    Parameters
    ----------
    values : series with NaN where samples are missing

    Notes
    -----
    A smooth course adds its curvature; coarse steps of a digital sensor may give zero.

    References
    ----------
    Derived: a second difference of white noise has six times its variance.
    """
    bends = np.abs(np.diff(values, 2))
    bends = bends[np.isfinite(bends)]
    return float(_MAD * np.median(bends) / np.sqrt(6.0)) if bends.size else 0.0
