"""What a log leaves open is named, and a test that shows it closes it."""

from __future__ import annotations

import numpy as np
import pytest

from mdo.bench.fit import Fit, fit
from mdo.bench.identify import alike, directions, separations
from mdo.bench.replay import Parameter, Replay
from tests.bench.first_order import TRUE, Faults, log_of

SLOPE = Parameter("slope", 1.0, 0.5, 1.5, "1")
OFFSET = Parameter("offset", 0.0, -1.0, 1.0, "1")
SCALE = Parameter("scale", 1.0, 0.5, 1.5, "1")


def fitted(alike_by: float) -> Fit:
    """Slope times scale, which no log of one course can tell apart but for a small extra."""
    log = log_of(TRUE, Faults(noise=0.0), seed=0, samples=200)
    rng = np.random.default_rng(1)
    course = 10.0 * np.sin(log.time / 20.0)

    def torque(values):
        slope, offset, scale = values
        return {"torque": slope * scale * course + offset + alike_by * scale * course**2}

    made = np.asarray(torque(np.array([1.05, 0.3, 1.0]))["torque"])
    log = log._replace(channels={"torque": made + 0.05 * rng.standard_normal(made.size)})
    return fit(Replay(log, (SLOPE, OFFSET, SCALE), torque), ["slope", "offset", "scale"])


def test_product_of_two_parameters_is_open_in_their_ratio() -> None:
    found = fitted(0.0)
    worst = directions(found)[0]
    assert worst.is_open
    assert set(worst.names) == {"slope", "scale"}
    assert np.sign(worst.weights[0]) == -np.sign(worst.weights[2])
    assert [(one.first, one.second) for one in alike(found)] == [("slope", "scale")]
    assert alike(found)[0].correlation == pytest.approx(-1.0, abs=0.01)
    assert not directions(found)[1].is_open


def test_log_that_tells_both_apart_leaves_nothing_open() -> None:
    found = fitted(0.1)
    assert not any(one.is_open for one in directions(found))
    assert alike(found) == []


def test_test_that_shows_one_of_the_two_is_the_best() -> None:
    found = fitted(0.0)
    tests = {
        "the same again": found.slopes,
        "offset alone": np.array([[0.0, 50.0, 0.0]]),
        "scale alone": np.array([[0.0, 0.0, 50.0]]),
    }
    ranked = separations(found, tests)
    assert ranked[0].test == "scale alone"
    assert ranked[0].left < 0.1
    assert all(one.left > 0.9 for one in ranked[1:])
