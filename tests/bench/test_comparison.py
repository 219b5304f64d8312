"""A log beside its prediction: figures against closed forms and scipy, causes that are known."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy import signal

from mdo.bench.comparison import agreement, compare, delay
from mdo.bench.log import read_log
from mdo.bench.made_log import Faults, made_log, write_log
from mdo.bench.replay import noise_of
from tests.bench.first_order import PARAMETERS, TRUE, log_of, replay_of

TIME = np.linspace(0.0, 400.0, 4001)
NOMINAL = np.array([one.value for one in PARAMETERS])
QUIET = Faults(noise=0.0)


def first_order(course: np.ndarray, tau: float) -> np.ndarray:
    """Lag by scipy's own simulation of 1/(tau s + 1)."""
    return signal.lsim(([1.0], [tau, 1.0]), course, TIME)[1]


@pytest.mark.parametrize("tau", [0.5, 3.0])
def test_delay_of_a_first_order_lag_is_that_of_its_phase(tau: float) -> None:
    omega = 2 * np.pi / 40.0  # ten whole periods; hand: phase lag atan(omega tau)/omega
    course = np.sin(omega * TIME)
    late = np.sin(omega * TIME - np.arctan(omega * tau)) / np.hypot(1.0, omega * tau)
    assert delay(TIME, late, course) == pytest.approx(np.arctan(omega * tau) / omega, abs=2e-3)
    assert delay(TIME, course, late) == pytest.approx(-np.arctan(omega * tau) / omega, abs=2e-3)
    settled = first_order(course, tau)
    assert delay(TIME[1000:], settled[1000:], course[1000:]) == pytest.approx(
        np.arctan(omega * tau) / omega, rel=0.02
    )


def test_residual_of_a_lagged_ramp_is_slope_times_time_constant() -> None:
    lagged = first_order(
        0.2 * TIME, 5.0
    )  # hand: -0.2*5*(1 - exp(-t/5)), mean square in closed form
    edge = np.full(TIME.size, np.inf)
    found = agreement("torque", TIME, lagged, 0.2 * TIME, (-edge, edge))
    square = 1 - 2 * 5 / 400 * (1 - np.exp(-80)) + 5 / 800 * (1 - np.exp(-160))
    assert found.rms == pytest.approx(np.sqrt(square), rel=2e-4)
    assert found.largest == pytest.approx(-1.0, rel=1e-6)
    assert found.inside == 1.0


def test_delay_is_found_beside_offset_and_noise() -> None:
    rng = np.random.default_rng(3)
    course = np.cumsum(rng.standard_normal(TIME.size))
    course = signal.filtfilt(*signal.butter(2, 0.02), course)
    late = np.interp(TIME - 2.34, TIME, course) + 100.0 + 0.01 * rng.standard_normal(TIME.size)
    assert delay(TIME, late, course) == pytest.approx(2.34, abs=0.03)
    assert delay(TIME, course, course) == 0.0
    assert np.isnan(delay(TIME, course, np.zeros(TIME.size)))


def test_noise_is_found_under_a_course() -> None:
    rng = np.random.default_rng(5)
    noisy = np.sin(TIME / 30.0) + 0.02 * rng.standard_normal(TIME.size)
    assert noise_of(noisy) == pytest.approx(0.02, rel=0.05)


def test_unit_within_its_ranges_lies_in_the_band_and_needs_no_cause() -> None:
    log = log_of(NOMINAL, Faults(noise=0.01), seed=1)
    found = compare(replay_of(log))
    assert all(found.agrees)
    assert all(one.inside > 0.95 for one in found.agreements)
    assert found.causes == ()


def test_band_in_which_anything_would_lie_judges_nothing() -> None:
    found = compare(replay_of(log_of(TRUE, Faults(noise=0.002), seed=1)))
    angle = found.agreements[0]
    # hand: root mean square of the band of the figure, against what the prediction moves
    assert angle.width == pytest.approx(np.sqrt(np.mean((found.high[0] - found.low[0]) ** 2)))
    assert angle.width > 0.5 * np.ptp(found.predicted[0])
    assert angle.inside > 0.9
    assert (found.agrees[0], found.too_wide[0]) == (False, True)
    known = tuple(
        one._replace(low=true - 0.1 * one.spread, high=true + 0.1 * one.spread, value=true)
        for one, true in zip(PARAMETERS, TRUE, strict=True)
    )
    narrow = compare(replay_of(log_of(TRUE, Faults(noise=0.002), seed=1), known))
    assert narrow.agrees == (True, True)
    assert narrow.too_wide == (False, False)


def test_band_has_its_share_of_the_units_drawn_like_it() -> None:
    replay = replay_of(log_of(NOMINAL, QUIET, seed=1))
    found = compare(replay, lanes=300)
    units = replay.lanes(300, seed=1)
    moves = np.ptp(units, axis=0) > 1e-9
    inside = ((units >= found.low) & (units <= found.high)).mean(axis=0)[moves]
    assert inside.mean() == pytest.approx(0.95, abs=0.03)


@pytest.mark.parametrize(("number", "shift"), [(0, 0.05), (1, -4.0), (4, 0.1)])
def test_input_that_was_changed_is_named_with_its_shift(number: int, shift: float) -> None:
    values = NOMINAL.copy()
    values[number] += shift
    log = log_of(values, Faults(noise=0.002), seed=2)
    first = compare(replay_of(log)).causes[0]
    assert (first.kind, first.name) == ("input", PARAMETERS[number].name)
    assert first.shift == pytest.approx(shift, rel=0.1)
    assert first.ranges == pytest.approx(shift / PARAMETERS[number].spread, rel=0.1)
    assert first.explained > 0.9


def test_wrong_zero_of_a_sensor_is_told_from_an_input() -> None:
    faults = Faults(noise=0.002, zero={"measured_angle": 0.1})
    first = compare(replay_of(log_of(NOMINAL, faults, seed=4))).causes[0]
    assert (first.kind, first.name) == ("zero of sensor", "measured_angle")
    assert first.shift == pytest.approx(0.1, rel=0.05)


def test_late_sensor_is_told_from_an_input() -> None:
    log = log_of(NOMINAL, Faults(noise=0.002), seed=4)
    late = np.interp(log.time - 2.0, log.time, log.channels["measured_angle"])
    log = log._replace(channels={**log.channels, "measured_angle": late})
    found = compare(replay_of(log))
    assert (found.causes[0].kind, found.causes[0].name) == ("delay of sensor", "measured_angle")
    assert found.causes[0].shift == pytest.approx(2.0, rel=0.1)
    assert [one.delay for one in found.agreements] == pytest.approx([2.0, 0.0], abs=0.2)


def test_made_log_is_written_and_read_back(tmp_path: Path) -> None:
    log = log_of(TRUE, Faults(missing=0.01), seed=7, samples=200)
    write_log(log, tmp_path / "made.csv")
    back = read_log(tmp_path / "made.csv")
    np.testing.assert_allclose(back.time, log.time, atol=1e-6)
    for name, values in log.channels.items():
        np.testing.assert_allclose(back.channels[name], values, rtol=1e-7, atol=1e-7)


def test_lag_of_a_made_log_is_that_of_scipy() -> None:
    course = np.sin(TIME / 20.0) + 300.0
    made = made_log(TIME, {"torque": course}, Faults(noise=0.0, lag=6.0), seed=0).channels["torque"]
    np.testing.assert_allclose(made, first_order(course - 300.0, 6.0) + 300.0, atol=1e-9)
