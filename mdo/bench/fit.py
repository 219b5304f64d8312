"""Parameters fitted to a log: bounded least squares, intervals by profile likelihood, hold-out.

Residuals count in the noise of their series. Where they follow one another, as those of a model
that is not quite right do, fewer samples tell something new: intervals widen by that, and to how
far the values move when a quarter of the time is left out.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import OptimizeResult, least_squares
from scipy.stats import f as f_distribution
from scipy.stats import t as student

from mdo.bench.log_cells import Numbers
from mdo.bench.replay import Parameter, Replay
from mdo.study.reader import StudyError

HELD_OUT = 0.3  # share of the time at the end of a log that is never fitted; judgement
LEVEL = 0.95
PARTS = 4  # of the time, one of which is left out in turn
SAMPLES_MAX = 4_000  # of each series that are fitted, thinned evenly
_ENDS_STEPS = 8  # of the search for the end of an interval
_ENDS_CLOSE = 0.01  # relative miss of the root of the threshold where it ends
_NOTHING = 1e-8  # what is known of a parameter that the log says nothing about, in half ranges
_FOLLOWS = 0.1  # correlation of neighbours up to which residuals count as independent
_WHOLE = {"xtol": 1e-9, "ftol": 1e-10, "gtol": 1e-10, "max_nfev": 100}
_ROUGH = {"xtol": 1e-5, "ftol": 1e-7, "gtol": 1e-8, "max_nfev": 15}  # costs to 1 % of a limit
Say = Callable[[str], None]


class Fitted(NamedTuple):
    """One fitted parameter, SI; an open end of an interval is that of the range.

    ``moves`` is the standard deviation by which it moves when a part of the time is left out.
    """

    parameter: Parameter
    value: float
    low: float
    high: float
    open_low: bool
    open_high: bool
    moves: float = 0.0

    @property
    def narrowed(self) -> float:
        """Width of the interval over that of the range [1]."""
        return (self.high - self.low) / (2.0 * self.parameter.spread)


class Fit(NamedTuple):
    """Parameters fitted to a log.

    Attributes
    ----------
    fitted
        One for each parameter.
    values
        Values of all parameters of the replay, the fitted ones among them, (P,).
    slopes
        Derivatives of residuals counted in noise by the parameters counted in half ranges, (R, F).
    noise
        RMS of the residuals of each series, (S,).
    widened
        By which intervals are wider since residuals follow one another [1].
    error, error_before, held_out_error
        RMS of residuals over the noise from sample to sample: fitted part before and after, and the
        part that was never fitted; NaN without one [1].
    fitted_until
        Time [s].
    message
        Why the search ended.
    """

    fitted: tuple[Fitted, ...]
    values: Numbers
    slopes: Numbers
    noise: Numbers
    widened: float
    error: float
    error_before: float
    held_out_error: float
    fitted_until: float
    message: str


def fit(
    replay: Replay, names: Sequence[str], *, held_out: float = HELD_OUT, say: Say | None = None
) -> Fit:
    """Fit some parameters of a replay to its log.

    Parameters
    ----------
    replay : the log and what predicts it
    names : parameters that are fitted; the others keep their values
    held_out : share of the time at the end that is not fitted
    say : told what is being done

    Raises
    ------
    StudyError
        If a name is none of the parameters, or samples are fewer than parameters.
    """
    known = [one.name for one in replay.parameters]
    if unknown := [name for name in names if name not in known] or not names:
        raise StudyError(
            [f"fit: got {unknown if names else 'no parameter'}, expected some of {known}"]
        )
    places = np.array([known.index(name) for name in names])
    problem = _Problem(replay, places, held_out)
    said = say or (lambda _: None)
    said(f"Fitting {', '.join(names)} to {int(problem.kept.sum())} samples")
    start = np.zeros(len(places))
    found = problem.solve(start)
    problem.reweigh(found.x)
    found = problem.solve(found.x)
    widened = problem.widened(found.x)
    least = float(2.0 * found.cost)
    free = max(int(problem.kept.sum()) / widened**2 - len(places), 1.0)
    limit = f_distribution.ppf(LEVEL, 1, free) * widened**2
    moves = problem.moves(found)
    apart = student.ppf((1.0 + LEVEL) / 2.0, PARTS - 1) * moves if widened > 1.0 else 0.0 * moves
    fitted = []
    for n, name in enumerate(names):
        said(f"Interval of {name}")
        ends = (problem.end(found, n, way, least, limit) for way in (-1, 1))
        low, high = (problem.at_least(n, end, found.x[n] + way * apart[n], way)
                     for end, way in zip(ends, (-1, 1), strict=True))  # fmt: skip
        fitted.append(problem.in_units(n, found.x[n], low, high, float(moves[n])))
    noise = problem.noise
    problem.noise = np.asarray(replay.scale)
    error, error_before = (problem.rms(u) for u in (found.x, start))
    return Fit(
        tuple(fitted), problem.values(found.x), np.asarray(found.jac), noise, widened, error,
        error_before, problem.rms(found.x, held_out=True), problem.until, str(found.message),
    )  # fmt: skip


class _Problem:
    """Residuals of a log by parameters counted in half ranges from where they were."""

    def __init__(self, replay: Replay, places: NDArray[np.intp], held_out: float) -> None:
        self._replay, self._places = replay, places
        measured = np.stack([*replay.measured.values()])
        time = replay.log.time
        self.until = float(time[0] + (1.0 - held_out) * (time[-1] - time[0]))
        thin = np.zeros(len(time), dtype=bool)
        thin[:: max(1, int(np.ceil((time <= self.until).sum() / SAMPLES_MAX)))] = True
        there = np.isfinite(measured)
        self.kept = there & thin & (time <= self.until)
        self._held_out = there & (time > self.until)
        self._measured = np.where(there, measured, 0.0)
        if self.kept.sum() <= len(places):
            raise StudyError(
                [f"fit: got {int(self.kept.sum())} samples, expected more than {len(places)}"]
            )
        self.noise = np.asarray(replay.scale)
        self._spreads = replay.spreads[places]
        ends = [(one.low, one.high) for one in (replay.parameters[n] for n in places)]
        self.bounds = (np.array(ends).T - replay.nominal[places]) / self._spreads

    def values(self, u: Numbers) -> Numbers:
        """Values of all parameters."""
        values = self._replay.nominal.copy()
        values[self._places] += u * self._spreads
        return values

    def residuals(self, u: Numbers) -> Numbers:
        """Predicted less measured, counted in noise, of the samples that are fitted."""
        away = (self._replay.predict(self.values(u)) - self._measured) / self.noise[:, None]
        return np.asarray(away[self.kept])

    def slopes(self, u: Numbers) -> Numbers:
        """Exact derivatives of the residuals."""
        slopes = self._replay.slopes(self.values(u), of=self._places)
        return np.asarray((slopes * self._spreads / self.noise[:, None, None])[self.kept])

    def solve(self, u: Numbers, fixed: int | None = None) -> OptimizeResult:
        """Least squares from a point, all parameters or all but one; then only to the interval."""
        free = np.array([n for n in range(len(u)) if n != fixed], dtype=int)
        if not len(free):
            cost = 0.5 * float(np.sum(self.residuals(u) ** 2))
            return OptimizeResult(x=u, cost=cost)

        def whole(part: Numbers) -> Numbers:
            at = u.copy()
            at[free] = part
            return at

        low, high = self.bounds[:, free]
        inside = np.clip(u[free], low + 1e-9 * (high - low), high - 1e-9 * (high - low))
        ends: dict[str, Any] = _WHOLE if fixed is None else _ROUGH
        found = least_squares(
            lambda part: self.residuals(whole(part)), inside,
            lambda part: self.slopes(whole(part))[:, free], (low, high), x_scale="jac", **ends,
        )  # fmt: skip
        found.x = whole(found.x)
        return found

    def reweigh(self, u: Numbers) -> None:
        """Count each series in the RMS of its residuals."""
        away = self._replay.predict(self.values(u)) - self._measured
        kept = np.maximum(self.kept.sum(axis=1), 1)
        rms = np.sqrt(np.sum(np.where(self.kept, away, 0.0) ** 2, axis=1) / kept)
        self.noise = np.maximum(rms, 1e-12)

    def rms(self, u: Numbers, *, held_out: bool = False) -> float:
        """RMS of the residuals over the noise; NaN where there are none."""
        which = self._held_out if held_out else self.kept
        away = (self._replay.predict(self.values(u)) - self._measured) / self.noise[:, None]
        return float(np.sqrt(np.mean(away[which] ** 2))) if which.any() else float("nan")

    def widened(self, u: Numbers) -> float:
        r"""By which intervals widen since residuals follow one another.

        .. math:: \sqrt{1 + 2\sum_k \rho_k}

        The sum ends where the correlation first falls below zero; of all series, the mean by their
        samples. Residuals whose neighbours hardly correlate count as independent.
        """
        away = self._replay.predict(self.values(u)) - self._measured
        times, counts = [], []
        for row, kept in zip(away, self.kept, strict=True):
            own = row[kept]
            if len(own) < 3 or np.ptp(own) == 0.0:
                continue
            size = 2 * len(own)
            power = np.abs(np.fft.rfft(own, size)) ** 2
            rho = np.fft.irfft(power, size)[: len(own)]
            rho = rho / rho[0]
            last = int(np.argmax(rho < 0.0)) if (rho < 0.0).any() else len(rho)
            follows = rho[1] > max(_FOLLOWS, 3.0 / np.sqrt(len(own)))
            times.append(1.0 + 2.0 * float(rho[1:last].sum()) if follows else 1.0)
            counts.append(len(own))
        return float(np.sqrt(np.average(times, weights=counts))) if times else 1.0

    def end(
        self, found: OptimizeResult, n: int, way: int, least: float, limit: float
    ) -> tuple[float, bool]:
        """End of an interval, and whether it is open: the end of the range.

        The square root of what the least sum of squares rises by is nearly a straight line of the
        parameter: the secant finds where it is that of the limit.
        """
        bound = float(self.bounds[int(way > 0), n])
        curvature = found.jac.T @ found.jac
        covariance = np.linalg.inv(curvature + _NOTHING * np.eye(len(curvature)))
        deviation, along = float(np.sqrt(covariance[n, n])), covariance[:, n] / covariance[n, n]
        wanted = float(np.sqrt(limit))
        at, risen = float(found.x[n]), 0.0
        step = way * wanted * deviation
        here = at
        for _ in range(_ENDS_STEPS):
            here = float(np.clip(at + step, min(at, bound), max(at, bound)))
            moved = found.x + along * (here - found.x[n])
            moved = np.clip(moved, *self.bounds)
            moved[n] = here
            rise = 2.0 * float(self.solve(moved, fixed=n).cost) - least
            root = float(np.sqrt(max(rise, 0.0)))
            if here == bound and root < wanted:
                return bound, True
            if abs(root - wanted) < _ENDS_CLOSE * wanted or here == at:
                break
            grown = (root - risen) / (here - at)
            if root < wanted:
                at, risen = here, root
            step = (wanted - risen) / grown if grown * way > 0.0 else step / 2.0
        return here, False

    def moves(self, found: OptimizeResult) -> Numbers:
        r"""Standard deviation of each parameter by leaving out one of some parts of the time.

        .. math:: s^2 = \frac{K-1}{K}\sum_k(\theta_{-k} - \bar\theta)^2

        Each by one linear step from the fit (jackknife; Efron and Stein 1981, from memory).
        """
        slopes, residuals = self.slopes(found.x), self.residuals(found.x)
        time = np.broadcast_to(self._replay.log.time, self.kept.shape)[self.kept]
        part = np.minimum((PARTS * time / self.until).astype(int), PARTS - 1)
        moved = []
        for rest in (part != k for k in range(PARTS)):
            curved = slopes[rest].T @ slopes[rest] + _NOTHING * np.eye(slopes.shape[1])
            moved.append(-np.linalg.solve(curved, slopes[rest].T @ residuals[rest]))
        return np.asarray(np.std(moved, axis=0) * np.sqrt(PARTS - 1.0))

    def at_least(
        self, n: int, end: tuple[float, bool], other: float, way: int
    ) -> tuple[float, bool]:
        """End of an interval that reaches at least to another place, but not beyond the range."""
        if way * other <= way * end[0]:
            return end
        bound = float(self.bounds[int(way > 0), n])
        return (bound, True) if way * other >= way * bound else (other, False)

    def in_units(
        self, n: int, u: float, low: tuple[float, bool], high: tuple[float, bool], moves: float
    ) -> Fitted:
        """Parameter with its interval in SI."""
        one, spread = self._replay.parameters[self._places[n]], self._spreads[n]
        value, start, end = (one.value + at * spread for at in (u, low[0], high[0]))
        return Fitted(
            one, float(value), float(start), float(end), low[1], high[1], float(moves * spread)
        )
