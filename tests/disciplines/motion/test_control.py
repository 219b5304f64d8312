"""What the controller takes a wing for: one that turns, one that waits, one that is there."""

from types import SimpleNamespace

import jax.numpy as jnp
import numpy as np

from mdo.disciplines.motion.control import _holds, _task
from mdo.disciplines.motion.records import Drive
from mdo.disciplines.motion.step import advance
from tests.disciplines.motion_plants import hot_state, tube_plant

CONTROLLER = SimpleNamespace(switch_band=np.radians(0.3), dead_band=np.radians(0.02))
ASKED = SimpleNamespace(rests=jnp.asarray(1.0), way=jnp.asarray(1.0))
SHARE = 0.2 / 40.0  # a sample of 0.2 s, forgotten in 40 s


def waited(angles):
    """Whether the wing is taken for one that waits, at each of some angles [rad] left to turn."""
    loop, found = SimpleNamespace(most=0.0, turned=0.0, rests=0.0), []
    for left in angles:
        task = _task(loop, ASKED, jnp.asarray(left), CONTROLLER, SHARE)
        loop = SimpleNamespace(most=task.most, turned=task.turned, rests=task.rests)
        found.append(bool(task.waits))
    return found


def test_a_wing_that_only_shifts_as_a_brake_lets_go_waits_again():
    # 0.2 deg at once, then it stands: after 40 s ln(0.2/0.17) = 6 s, by hand
    shifted = [np.radians(9.0)] * 5 + [np.radians(8.8)] * 300
    found = waited(shifted)
    assert found[:5] == [True] * 5
    assert not found[6]
    again = 5 + int(np.log(np.radians(0.2) / 0.003) * 40.0 / 0.2)
    assert abs(found.index(True, 6) - again) <= 2
    assert all(found[again + 2 :])


def test_a_wing_that_stands_waits_again_however_far_it_sprang():
    # 2 deg as the brake lets go: the last 0.006 rad count, half of them after 40 s ln 2, by hand
    found = waited([np.radians(9.0)] * 5 + [np.radians(7.0)] * 300)
    assert not found[6]
    assert abs(found.index(True, 6) - 5 - np.log(2.0) * 40.0 / 0.2) <= 2


def test_a_wing_that_turns_does_not_wait():
    # 0.1 deg/s until 0.3 deg are left
    left = np.radians(np.arange(9.0, 0.3, -0.02))
    assert not any(waited(left)[20:])


def gripped(left, moved, held=0.0):
    """Part of a sample in which a brake holds, by what is left and was turned in the last [deg]."""
    controller = SimpleNamespace(
        locks=0.0, lock_low=-9.0, lock_high=9.0, lock_band=np.radians(0.2), brakes=1.0,
        dead_band=np.radians(0.02),
    )  # fmt: skip
    asked = SimpleNamespace(angle=jnp.asarray(0.0), rests=jnp.asarray(1.0), way=jnp.asarray(1.0))
    plant, angle = tube_plant(load_steady=np.full(3, 100.0)), -np.radians(left)
    loop = SimpleNamespace(angle=angle - np.radians(moved), held=jnp.asarray(held))
    state = hot_state(plant, 300.0, angle)
    return float(_holds(loop, asked, jnp.asarray(angle), state, plant, controller))


def test_a_brake_grips_when_the_wing_gets_there():
    # at 0.2 deg a sample it needs a quarter of the next one for 0.05 deg (by hand)
    assert np.isclose(gripped(0.05, 0.2), 0.75)
    assert gripped(0.25, 0.2) == 0.0  # not there within the next one
    assert gripped(0.01, 0.0) == 1.0  # within the dead band
    assert gripped(-0.5, 0.2) == 1.0  # past it
    assert gripped(0.5, 0.0, held=1e-6) == 0.0  # one that turns the right way is let go


def test_a_wing_turns_at_its_rate_until_the_brake_grips():
    # 0.1 rad/s for a quarter of 0.2 s, then it stands (by hand); heat is booked as ever
    plant, none = tube_plant(load_steady=np.full(3, 100.0)), jnp.zeros(())
    start = hot_state(plant, 430.0)._replace(rate=np.asarray(0.1))
    after, _, off = advance(start, Drive(jnp.zeros(1), none, none, jnp.asarray(0.75)), plant, 0.2)
    assert np.isclose(float(after.angle), 0.005)
    assert float(after.rate) == 0.0
    assert float(off) < 1e-8
