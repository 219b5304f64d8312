"""Parameters recovered from made logs; intervals against scipy and by how often they hold."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import curve_fit
from scipy.stats import t as student

from mdo.bench.fit import LEVEL, Fit, fit
from mdo.bench.made_log import Faults, made_log
from mdo.bench.replay import Parameter, Replay
from mdo.study import StudyError
from tests.bench.first_order import (
    CAPACITY,
    OFF,
    ON,
    PARAMETERS,
    POWER,
    TRUE,
    courses,
    log_of,
    replay_of,
)

NAMES = [one.name for one in PARAMETERS]
NOMINAL = np.array([one.value for one in PARAMETERS])


@cache
def shared() -> Replay:
    """One compiled replay for every seed: the times are the same."""
    return replay_of(log_of(TRUE, Faults(), seed=0, samples=300))


def replay_of_seed(seed: int, faults: Faults) -> Replay:
    return shared().beside(log_of(TRUE, faults, seed=seed, samples=300))


def covered(seeds: range) -> tuple[float, list[Fit]]:
    fits = [fit(replay_of_seed(seed, Faults(noise=0.01)), NAMES) for seed in seeds]
    inside = [
        one.low <= true <= one.high
        for found in fits
        for one, true in zip(found.fitted, TRUE, strict=True)
    ]
    return float(np.mean(inside)), fits


def test_parameters_are_recovered_exactly_without_noise() -> None:
    found = fit(replay_of_seed(0, Faults(noise=0.0)), NAMES)
    np.testing.assert_allclose([one.value for one in found.fitted], TRUE, rtol=1e-6)


def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    share, fits = covered(range(10))
    assert share >= 0.84  # 50 intervals: 95 % less three standard deviations of a binomial
    for found in fits:
        assert found.held_out_error < 1.3 * found.error
        assert found.error < found.error_before
        assert found.widened == 1.0


@pytest.mark.slow
def test_coverage_of_a_hundred_seeds() -> None:
    share, fits = covered(range(100))
    assert 0.90 <= share <= 0.99
    assert max(found.held_out_error / found.error for found in fits) <= 1.3


def test_interval_of_a_straight_line_is_that_of_student() -> None:
    log = log_of(TRUE, Faults(noise=0.01), seed=3, samples=200)
    rng = np.random.default_rng(9)
    line = 2.0 + 0.01 * log.time + 0.1 * rng.standard_normal(log.time.size)
    log = log._replace(channels={"torque": line})
    parameters = (Parameter("start", 1.0, -5.0, 9.0, "N*m"), Parameter("rise", 0.0, -1.0, 1.0, "1"))
    replay = Replay(log, parameters, lambda v: {"torque": v[0] + v[1] * log.time})
    found = fit(replay, ["start", "rise"], held_out=0.0)
    best, covariance = curve_fit(lambda x, a, b: a + b * x, log.time, line)
    half = student.ppf(0.5 + LEVEL / 2, 198) * np.sqrt(np.diag(covariance))
    np.testing.assert_allclose([one.value for one in found.fitted], best, rtol=1e-5)
    np.testing.assert_allclose([one.high - one.value for one in found.fitted], half, rtol=0.02)
    np.testing.assert_allclose([one.value - one.low for one in found.fitted], half, rtol=0.02)


def test_residuals_that_follow_one_another_widen_the_intervals() -> None:
    narrow = fit(replay_of_seed(2, Faults(noise=0.005)), ["film", "bay"])
    log = log_of(TRUE, Faults(noise=0.005), seed=2, samples=300)
    slow = 3.0 * np.sin(log.time / 9.0)[:, None]
    log.channels["tube_temperature"][:] += slow  # type: ignore[index]
    wide = fit(replay_of(log), ["film", "bay"])
    assert wide.widened > 2.0
    assert wide.fitted[0].narrowed > 2.0 * narrow.fitted[0].narrowed


def two_nodes(time: np.ndarray, heater: float = 15.0, gap: float = 8.0) -> dict[str, np.ndarray]:
    """Heater and tube apart, by scipy: what the level of one capacity does not have."""
    film, bay, start, finish, stroke = TRUE

    def rate(at: float, kelvin: np.ndarray) -> list[float]:
        between = gap * (kelvin[0] - kelvin[1])
        power = POWER if ON < at < OFF else 0.0
        lost = film * (kelvin[1] - bay)
        return [(power - between) / heater, (between - lost) / (CAPACITY - heater)]

    run = solve_ivp(rate, (0.0, time[-1]), [bay, bay], t_eval=time, max_step=0.5, rtol=1e-8)
    x = np.clip((run.y[1] - start) / (finish - start), 0.0, 1.0)
    return {
        "tube_temperature": run.y[1][:, None],
        "measured_angle": stroke * (1.0 - np.cos(np.pi * x)) / 2.0,
    }


def test_log_of_a_dearer_level_widens_the_intervals_to_its_bias() -> None:
    time = shared().log.time
    made = two_nodes(time)
    inside = []
    for seed in range(6):
        log = made_log(time, made, Faults(noise=0.01), seed=seed)
        found = fit(shared().beside(log), NAMES)
        assert found.widened > 2.0
        film = found.fitted[0]
        assert 0.3 < abs(film.value - TRUE[0]) / film.moves < 3.0  # the bias that is stated
        pairs = zip(found.fitted, TRUE, strict=True)
        inside += [one.low <= true <= one.high for one, true in pairs]
    assert np.mean(inside) >= 0.9


def test_range_is_an_open_end_where_the_log_says_nothing() -> None:
    nothing = (*PARAMETERS, Parameter("elsewhere", 1.0, 0.0, 2.0, "1"))
    log = log_of(TRUE, Faults(noise=0.01), seed=5)
    replay = Replay(log, nothing, lambda values: courses(log.time, values[:5]))
    found = fit(replay, ["film", "elsewhere"]).fitted[1]
    assert (found.open_low, found.open_high) == (True, True)
    assert (found.low, found.high) == pytest.approx((0.0, 2.0))
    assert found.narrowed == pytest.approx(1.0)


def test_what_is_never_fitted_changes_nothing() -> None:
    replay = replay_of_seed(1, Faults(noise=0.01))
    found = fit(replay, ["film"])
    late = replay.log.time > found.fitted_until
    assert late.mean() == pytest.approx(0.3, abs=0.01)
    replay.measured["measured_angle"][late] += 0.3
    changed = fit(replay, ["film"])
    assert changed.fitted == found.fitted
    assert changed.held_out_error > 2.0 * found.held_out_error


def test_unknown_parameter_is_refused() -> None:
    with pytest.raises(StudyError, match="expected some of"):
        fit(shared(), ["colour"])
    with pytest.raises(StudyError, match="no parameter"):
        fit(shared(), [])
