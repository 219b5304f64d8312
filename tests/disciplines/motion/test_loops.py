"""Margins of the loops against closed forms, and the rise of the position loop."""

import jax
import numpy as np
import pytest

from mdo.disciplines.motion.margins import (
    Linear,
    frequencies,
    is_stable,
    linear_step,
    margins,
    responses,
    unstable_poles,
)
from mdo.disciplines.motion.records import Drive
from tests.disciplines.motion_plants import MASS, SPECIFIC, hot_state, tube_plant


def test_margins_of_an_integrator_with_delay_are_the_closed_form():
    # k/s exp(-sT): gain margin pi/(2 k T), phase margin 90 deg - k T (any text, from memory)
    for gain, delay in ((0.3, 0.7), (1.0, 0.5), (2.0, 0.1)):
        omega = np.geomspace(0.05 * gain, 3.0 * np.pi / (2.0 * delay), 400_000)
        found = margins(omega, gain * np.exp(-1j * omega * delay) / (1j * omega))
        assert found[0] == pytest.approx(20 * np.log10(np.pi / (2 * gain * delay)), rel=1e-6)
        assert found[1] == pytest.approx(90.0 - np.degrees(gain * delay), rel=1e-6)


def test_response_of_a_sampled_lag_is_its_z_transform():
    # x' = (P - x)/tau sampled by implicit Euler: (h/tau)/(1 + h/tau - 1/z) (by hand)
    step, tau = 0.2, 3.0
    kept = 1.0 / (1.0 + step / tau)
    lag = Linear(
        matrix=np.array([[kept, 0.0], [0.0, 0.5]]), power=np.array([kept * step / tau, 0.0]),
        angle=np.array([1.0, 0.0]), kelvin=np.array([0.0, 1.0]),
    )  # fmt: skip
    omega = np.geomspace(1e-3, 10.0, 50)
    turn = np.exp(1j * omega * step)
    angle, kelvin = responses(lag, omega, step)
    assert np.allclose(angle, kept * step / tau / (turn - kept), rtol=1e-9)
    assert np.allclose(kelvin, 0.0)


def test_response_of_a_heated_tube_is_that_of_its_lag():
    # C24, C25: 1.5708 W/K, 171.4 J/K; its step is implicit (z-transform as above)
    plant, step, none = tube_plant(load_steady=np.zeros(3)), 0.5, np.zeros(())
    idle = Drive(np.zeros(1), none, none, none)
    linear = jax.jit(linear_step, static_argnums=4)(hot_state(plant, 430.0), idle, plant, step, 0)
    omega, loss = np.geomspace(1e-3, 0.1, 20), 50.0 * 0.03141593
    kept = 1.0 / (1.0 + step * loss / (MASS * SPECIFIC))
    lag = (1.0 - kept) / loss / (np.exp(1j * omega * step) - kept)
    angle, kelvin = responses(Linear(*map(np.asarray, linear)), omega, step)
    assert np.allclose(kelvin, lag, rtol=1e-3)
    assert np.allclose(angle, 0.0)


def test_pole_cancellation_rises_in_2_197_times_its_time():
    # TM-27: closed loop 1/(lam s + 1), lam 10 s: 10 to 90 % in 21.97 s
    omega = np.geomspace(1e-4, 1.0, 2000)
    _, phase = margins(omega, 1.0 / (10j * omega))
    time = np.linspace(0.0, 100.0, 100_001)
    course = 1.0 - np.exp(-time / 10.0)
    rise = np.interp(0.9, course, time) - np.interp(0.1, course, time)
    assert rise == pytest.approx(21.97, rel=5e-3)
    assert phase == pytest.approx(90.0, rel=1e-6)


@pytest.mark.parametrize(
    ("pole", "gain", "stable"),
    [(1.0, 0.5, True), (1.0, 2.5, False), (1.1, 0.05, False), (1.1, 0.5, True), (1.1, 2.2, False)],
)
def test_encirclements_tell_what_the_pole_of_the_closed_loop_tells(pole, gain, stable):
    # k/(z - p) closes to the pole p - k (by hand)
    assert (abs(pole - gain) < 1.0) is stable
    step = Linear(np.array([[pole]]), np.array([gain]), np.array([1.0]), np.array([0.0]))
    loop, _ = responses(step, frequencies(0.2), 0.2)
    assert unstable_poles(step, 0.2) == (pole > 1.0)
    assert is_stable(loop, unstable_poles(step, 0.2)) is stable
