"""What the controller takes a wing for: one that turns, one that waits, one that is there."""

from types import SimpleNamespace

import jax.numpy as jnp
import numpy as np

from mdo.disciplines.motion.control import _task

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


def test_a_wing_that_turns_does_not_wait():
    # 0.1 deg/s until 0.3 deg are left
    left = np.radians(np.arange(9.0, 0.3, -0.02))
    assert not any(waited(left)[20:])
