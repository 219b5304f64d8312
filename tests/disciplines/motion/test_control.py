"""What the controller takes a wing for: one that turns, one that waits, one that is there."""

from types import SimpleNamespace

import jax
import jax.numpy as jnp
import numpy as np
import pytest

from mdo.disciplines.motion import simulate
from mdo.disciplines.motion.control import _holds, _Measured, _missing, _task, decide, sense
from mdo.disciplines.motion.controller import Asked, Controller, Loop
from mdo.disciplines.motion.margins import LoopNumbers, position_loop, temperature_loop
from mdo.disciplines.motion.records import Drive
from mdo.disciplines.motion.step import advance
from tests.disciplines.motion_plants import hot_state, tube_plant

CONTROLLER = SimpleNamespace(switch_band=np.radians(0.3), dead_band=np.radians(0.02))
ASKED = SimpleNamespace(rests=jnp.asarray(1.0), way=jnp.asarray(1.0))
WHOLE = Controller(
    table_angle=-2.0, table_step=1.0, kelvin_heating=np.array([[380.0, 390.0, 400.0]]),
    kelvin_cooling=np.array([[350.0, 360.0, 370.0]]), heat_up=np.array([[1000.0, 1200.0, 1400.0]]),
    heat_down=np.array([[-900.0, -1100.0, -1300.0]]), heat_taken=np.zeros((1, 3)),
    capacity=50.0, heater_capacity=20.0, heater_conductance=10.0, loss=np.array([0.5, 0.002]),
    bay=293.0, temperature_time=10.0, position_time=40.0, caution=2.0, kelvin_max=460.0,
    anti_windup=1.0, dead_band=np.radians(0.02), switch_band=np.radians(0.3), angle_bias=0.0,
    angle_noise=0.0, angle_step=0.0, angle_gain=1.0, kelvin_bias=0.0, kelvin_gain=np.ones(1),
    kelvin_noise=0.0, kelvin_step=0.0, sensor_lag=1.0, cut_off=500.0, cut_off_lag=1.0,
    cut_off_present=0.0, locks=0.0, brakes=0.0, lock_low=-9.0, lock_high=9.0,
    lock_band=np.radians(0.2),
)  # fmt: skip
QUICK = WHOLE._replace(
    position_time=2.5, temperature_time=1.25, sensor_lag=1.5, heat_up=np.full((1, 3), 1200.0),
    heat_taken=np.array([[0.0, 300.0, 600.0]]),
)  # fmt: skip
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
    # one that has come and is sent on stands
    assert waited([0.0, np.radians(1.0)]) == [False, True]


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


def test_an_overshoot_is_taken_back_as_what_is_left_on_the_other_side():
    # symmetry: past its command by an angle, a wing has that angle left to turn the other way
    loop = SimpleNamespace(most=0.0, turned=0.0, rests=0.0)
    past = _task(loop, ASKED, jnp.asarray(-0.02), CONTROLLER, SHARE)
    other = ASKED.__class__(rests=jnp.asarray(1.0), way=jnp.asarray(-1.0))
    short = _task(loop, other, jnp.asarray(-0.02), CONTROLLER, SHARE)
    assert float(past.way) == float(short.way) == -1.0
    assert float(past.turned) == 1.0
    assert float(short.turned) == 0.0
    assert float(past.most) == float(short.most) > 0.0
    assert float(past.rests) == float(short.rests) == 0.0
    # less than the band for it is left alone
    little = _task(loop, ASKED, jnp.asarray(-0.004), CONTROLLER, SHARE)
    assert float(little.way) == 1.0
    assert float(little.rests) == 1.0


def test_a_lacking_loss_is_learned_through_two_equal_lags():
    # both poles of the observer at tau = 4 x 40 s (as it is declared): a step w of the loss is
    # answered by w (1 - (1 + t/tau) exp(-t/tau)), from control theory
    sample, lag, modelled, lacks, flow = 0.2, 160.0, 50.0, 8.0, 58.0
    whole = WHOLE.capacity + WHOLE.heater_capacity
    true = whole * 390.0
    heat, missing, drives = jnp.asarray([true]), jnp.zeros(1), jnp.asarray([True])
    for count in range(1, 1601):
        true += sample * (flow - modelled - lacks)
        loop = SimpleNamespace(heat=heat + sample * (flow - modelled - missing), missing=missing,
                               above=jnp.asarray([flow / WHOLE.heater_conductance]))  # fmt: skip
        seen = _Measured(jnp.asarray(-1.0), jnp.asarray([true / whole]), jnp.asarray([modelled]))
        missing, heat = _missing(loop, seen, drives, WHOLE, jnp.asarray(sample))
        if count in {200, 800, 1600}:
            late = count * sample / lag
            wanted = lacks * (1.0 - (1.0 + late) * np.exp(-late))
            assert np.isclose(float(missing[0]), wanted, rtol=0.02)
    # a group that does not drive begins anew, from what is seen
    idle, heat = _missing(loop, seen, ~drives, WHOLE, jnp.asarray(sample))
    assert float(idle[0]) == 0.0
    assert np.isclose(float(heat[0]), true)
    # while far more flows in than is lost, nothing is learned
    flooded = SimpleNamespace(heat=heat + 100.0, missing=missing, above=jnp.asarray([20.0]))
    kept, _ = _missing(flooded, seen, drives, WHOLE, jnp.asarray(sample))
    assert float(kept[0]) == float(missing[0])


def turning(left, way, rests=0.0, rate=0.0):
    """State, loop and command of a wing at -1 rad and 390 K, `left` [rad] from its command.

    Its heater is 6 K above the wall: 60 W flow; 5 W of loss are known to lack.
    """
    one, zero = jnp.ones(1), jnp.zeros(())
    state = hot_state(tube_plant(), 390.0, -1.0)
    loop = Loop(
        sensor=390.0 * one, heater_sensor=396.0 * one, above=6.0 * one, power=60.0 * one,
        heat=70.0 * 390.0 * one, missing=5.0 * one, rest=0.0 * one, rests=zero, most=zero + 1.0,
        turned=zero, tripped=0.0 * one, held=zero, angle=zero - 1.0,
    )  # fmt: skip
    asked = Asked(*(jnp.asarray(part) for part in (left - 1.0, rate, way, rests, np.zeros(2), 1.0)))
    return state, loop, asked


def asked_power(*given, **changes):
    """Power [W] and state of the loop of that wing."""
    state, loop, asked = turning(*given, **changes)
    limit, plant = jnp.full(1, 500.0), tube_plant()
    new = decide(loop, asked, state, limit, plant, WHOLE, jnp.asarray(0.2))
    return float(new.power[0]), new


def test_power_on_a_branch_is_that_of_the_equation_by_hand():
    # loss 0.8 x 97 K x (0.5 + 0.002 x 97) = 53.854 W, and 5 W; the heater holds 20 J/K x
    # (6 - 58.854/10) K = 2.291 J too much; 0.2 rad x 1200 J/rad in 40 s, 0.01 rad/s x 1200 J/rad
    watts, new = asked_power(0.2, 1.0, rate=0.01)
    assert np.isclose(watts, 58.8544 + 12.0 + (240.0 - 2.2912) / 40.0, atol=1e-6)
    assert np.isclose(float(new.missing[0]), 5.0)
    assert np.isclose(float(new.heat[0]), 70.0 * 390.0 + 0.2 * (60.0 - 58.8544))
    # heater of 20 J/K behind 10 W/K: 2 s; its new steady rise is that of the power
    rise = 6.0 + (watts / 10.0 - 6.0) * (1.0 - np.exp(-0.2 / 2.0))
    assert np.isclose(float(new.above[0]), rise)


def test_what_a_wing_had_left_is_forgotten_in_four_times_its_time():
    # 0.2 rad are left of 0.2 + 0.004: after a sample of 0.2 s exp(-0.2/(4 x 40)) of the rest
    state, loop, asked = turning(0.2, 1.0)
    loop = loop._replace(most=jnp.asarray(0.204))
    new = decide(loop, asked, state, jnp.full(1, 500.0), tube_plant(), WHOLE, jnp.asarray(0.2))
    assert float(new.most) == pytest.approx(0.2 + 0.004 * np.exp(-0.2 / 160.0), abs=1e-9)


@pytest.mark.parametrize(
    ("faults", "volts", "tripped", "watts", "held"),
    [
        ({}, 1.0, 0.0, 76.797, 0.0),
        ({"jammed_from": 9.0}, 1.0, 0.0, 76.797, 1.0),
        ({"jammed_from": 11.0, "dead_from": 11.0}, 1.0, 0.0, 76.797, 0.0),
        ({"dead_from": 9.0}, 1.0, 0.0, 0.0, 0.0),
        ({"stuck_on": np.ones(1)}, 0.8, 0.0, 0.64 * 500.0, 0.0),  # Joule: 500 W, by volts squared
        ({"stuck_on": np.ones(1)}, 0.8, 1.0, 0.0, 0.0),
    ],
)
def test_faults_reach_what_acts(monkeypatch, faults, volts, tripped, watts, held):
    # after 10 s: a jam holds, a dead bus and a cut-off give nothing, a stuck switch all there is
    monkeypatch.setattr(simulate, "advance", lambda state, *_, **__: (state, None, 0.0))
    state, loop, asked = turning(0.2, 1.0, rate=0.01)
    state = state._replace(time=np.asarray(10.0), heater=np.full(1, 396.0))
    loop = loop._replace(tripped=jnp.full(1, tripped))
    *_, drive, _ = simulate.closed_loop(
        state, loop, asked, (0.0, 0.0, volts), tube_plant(**faults), WHOLE, 0.2, jnp.asarray(0.2)
    )
    assert float(drive.power[0]) == pytest.approx(watts, rel=1e-4)
    assert float(drive.held) == held


def test_a_wing_that_has_come_rests_one_kelvin_off_its_branch():
    # cooler by 1 K where warming turns it, warmer where cooling does: 50 J/K x 1 K in 10 s
    for way, kelvin in ((1.0, 389.0), (-1.0, 391.0)):
        watts, new = asked_power(0.0, way, rests=1.0)
        assert float(new.rest[0]) == kelvin
        assert float(new.rests) == 1.0
        assert np.isclose(watts, 58.8544 + (50.0 * (kelvin - 390.0) - 2.2912) / 10.0)


def answered(nudge, rests):
    """Change of the power [W], sample by sample, after one of angle [rad] and temperature [K]."""
    state, loop, asked = turning(0.004 * (1.0 - rests), 1.0, rests)
    loop = loop._replace(
        above=jnp.full(1, 5.885),
        rest=jnp.full(1, 390.0),
        rests=loop.rests + rests,
        heat=jnp.full(1, 70.0 * 390.0 + 300.0),
    )

    def one(loop, by):
        at = state._replace(angle=state.angle + by[0], cells=state.cells + by[1])
        new = decide(
            sense(loop, at, QUICK, 0.2), asked, at, jnp.full(1, 500.0), tube_plant(), QUICK,
            jnp.asarray(0.2),
        )  # fmt: skip
        return new, new.power[0]

    run = jax.jit(lambda by: jax.lax.scan(one, loop, by)[1])
    nudges = jnp.zeros((1000, 2)).at[0].set(jnp.asarray(nudge))
    return np.asarray(run(nudges) - run(0.0 * nudges))


@pytest.mark.parametrize(
    ("nudge", "rests"), [((1e-5, 0.0), 0.0), ((0.0, 1e-2), 0.0), ((0.0, 1e-2), 1.0)]
)
def test_loops_are_the_controller_made_linear(nudge, rests):
    # z-transform (definition) of what the controller answers to one sample of its sensors
    numbers = LoopNumbers(
        heat=1200.0, latent=300.0, capacity=50.0, heater_capacity=20.0, heater_conductance=10.0,
        loss_slope=0.8 * (0.5 + 2.0 * 0.002 * 97.0), temperature_time=1.25, position_time=2.5,
        sensor_lag=1.5, sample=0.2,
    )  # fmt: skip
    omega = np.geomspace(0.05, 15.0, 12)
    loop = (
        temperature_loop(nudge[1], omega, numbers) if rests
        else position_loop(*nudge, omega, numbers)
    )  # fmt: skip
    back = np.exp(-0.2j * omega)  # by steps of the answer, which does not die away
    answer = back[:, None] ** np.arange(1000) @ np.diff(answered(nudge, rests), prepend=0.0)
    assert np.allclose(-answer / (1.0 - back), loop, rtol=1e-3, atol=1e-5 * abs(loop).max())
