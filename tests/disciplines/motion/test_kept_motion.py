"""Kept numbers of the moving wing: laws, a step, control, supply, branches, margins, short folds.

The numbers are the tool's own (see tests/kept_numbers.py): no proof, a fence. The wing is made up:
three groups in two sets and three cells, no field at 0, 1 or a default that hides a term; then the
same with switches thrown, so that both sides of every choice are met. Residuals are not kept.
"""

from __future__ import annotations

from functools import partial
from pathlib import Path

import jax
import jax.numpy as jnp
import numpy as np
import pytest

from mdo.disciplines.motion import branches, cells, control, margins, mechanics, simulate, supply
from mdo.disciplines.motion import step as one_step
from mdo.disciplines.motion.controller import Asked, Loop
from mdo.disciplines.motion.records import Drive, Flows, MotionState
from tests.disciplines.made_up_wing import (
    CONTROLLER,
    PLANT,
    SAMPLE,
    STARTS,
    STEP,
    SWITCHED,
    K,
    cold,
    heated,
    some_state,
    wing,
)  # fmt: skip
from tests.kept_numbers import RELATIVE, hold, main

FILE = Path(__file__).with_name("kept_motion.json")
ANGLES = np.array([-0.9, -0.41, 0.02, 0.33, 0.6, 1.3])


def laws():
    found = jax.jit(lambda *states: dict(some_laws(*states)))
    return found(some_state(), wing(-0.3, (1.0, 0.0, 0.0)))


def some_laws(state, other):
    mean = np.array([[-90e6, -0.4e6, 0.0], [0.7e6, 30e6, 120e6]])
    shares = [(0.0, 0.0), (0.7, -0.4), (-0.9, 0.6)]
    hot = state.cells + np.linspace(-45.0, 50.0, 9).reshape(3, 3)
    before = cells.state_of_cells(state)
    alloy = cells.alloy_of(PLANT)
    yield "strain", [mechanics.twist_strain(angle, PLANT) for angle in ANGLES]
    yield "given_way", [mechanics.given_way(jnp.asarray(at), PLANT) for at in mean]
    at = [-0.8, 0.3, 2.0, 3.9, 5.6]
    yield "table", [mechanics.table_at(jnp.asarray(PLANT.loss), jnp.asarray(x)) for x in at]
    yield "load", [mechanics.load_moment(x, *s, PLANT) for s in shares for x in jnp.asarray(ANGLES)]
    yield "moment", [mechanics.group_moment(jnp.asarray(at), PLANT) for at in mean]
    turned = [(jnp.asarray(at), way) for at in mean for way in (1.0, -1.0)]
    yield "kept", [mechanics.kept_share(at, way, PLANT) for at, way in turned]
    yield "stored", mechanics.stored_energy(state, PLANT)
    stress = jnp.stack([state.stress * 1.25, state.stress * -0.35])
    yield "law", jax.vmap(lambda at: cells.local_law(at, hot, before, alloy))(stress)
    yield "seen", simulate.seen_of(state, state.heater - 3.0, jnp.arange(1.0, 4.0), PLANT)
    sums = Flows(*(jnp.asarray(x) for x in (900.0, 350.0, -40.0)))
    yield "ledger", simulate._ledger(other, state, sums, PLANT)
    gone = Flows(*(jnp.asarray(x) for x in (3.0, -70.0, 5.0)))
    yield "ledger_cold", simulate._ledger(state, other, gone, PLANT)


def supplies():
    asked = np.array([[120.0, 90.0, 70.0], [395.0, 0.0, 420.0], [330.0, 370.0, 210.0]])
    for name, plant in {"plain": PLANT, "switched": SWITCHED}.items():
        plants = [plant, plant._replace(power_available=350.0), plant._replace(at_once=0.9)]
        limits = [supply.power_limit(jnp.asarray(v), plant) for v in (0.83, 1.09)]
        yield name, [limits, [
            supply.shared_power(jnp.asarray(at), limits[0], p) for p in plants for at in asked
        ]]  # fmt: skip


def starts():
    for detwinned in (0.0, 0.35, 1.0):
        for angle in (-0.44, 0.3, 0.83):
            state = cold(PLANT, angle, 311.0, detwinned)
            yield f"{detwinned}_{angle}", state
            yield (
                f"{detwinned}_{angle}_hot",
                heated(PLANT, state, np.array([0.0, 1, 1]), 391.0, detwinned),
            )


def hysteresis():
    found = jax.jit(branches.inverse_hysteresis)(
        PLANT, np.array([-0.33, 0.71]), np.array([310.0, 455.0]), 0.4
    )
    return {name: part[..., ::6] for name, part in found._asdict().items() if name != "missed"}


@jax.jit
def parts_of_a_step(at, state, drive, plant, step):
    frozen = one_step._frozen(state, drive, plant)
    walls, local = one_step._eliminate(at, state, drive, frozen, plant, step)
    hinge = one_step._hinge(at, walls, state, drive, frozen, plant, step)
    change, off = one_step._round(at, state, drive, frozen, plant, step)
    added = [one_step._added(at, change, share) for share in (1.0, 0.25)]
    state, flows = one_step._after(at, state, drive, frozen, plant, step)
    return {
        "frozen": frozen,
        "walls": walls,
        "local": local,
        "hinge": hinge,
        "change": change,
        "off": off,
        "added": added,
        "after": state,
        "flows": flows,
        "rate": state.rate,
    }


SOME = ("hinge", "off", "flows", "rate")


def steps():
    state = some_state()
    a = np.linspace(-1.0, 1.0, 9).reshape(3, 3)
    drive = Drive(jnp.array([240.0, 35.0, 110.0]), *map(jnp.asarray, (0.4, -0.3, 0.0)))
    guess = one_step._Guess(
        heater=state.heater + np.array([3.0, -2.0, 5.0]), cells=state.cells + 2.0 * a,
        stress=state.stress + 3e6 * a, strain=state.twist_strain + np.array([2e-4, -1e-4, 3e-4]),
        angle=jnp.asarray(0.0),
    )  # fmt: skip
    lighter = PLANT._replace(load_factor=-1.4)
    steep = PLANT._replace(load_steady=np.array([-9e3, -3e3, 3e3, 9e3, 15e3]))
    near = PLANT._replace(stop_low=0.2, stop_high=0.222)
    for name, moved, plant, held in (
        ("up", 0.011, PLANT, 0.0), ("down", -0.007, PLANT, 0.0), ("still", 0.0, PLANT, 0.0),
        ("still_up", 0.0, lighter, 0.0), ("gripped", 0.011, lighter, 0.7),
        ("held", -0.004, PLANT, 1.0), ("at_heater", 0.004, SWITCHED, 0.0),
        ("at_stop", 0.0119, near, 0.0), ("at_low", -0.012, near, 0.0),
        ("stuck", 0.0, PLANT._replace(friction_factor=60.0), 0.0),
        ("unstable", 0.0, steep, 0.0), ("unstable_down", -0.005, steep, 0.0),
        ("rough", 0.02, PLANT._replace(friction=-PLANT.friction), 0.0),
    ):  # fmt: skip
        at = guess._replace(angle=state.angle + moved)
        if plant is steep:  # strains that fit, so that what is off is the hinge alone
            gives, _ = mechanics.given_way(jnp.sum(PLANT.wall_share * at.stress, axis=-1), PLANT)
            at = at._replace(strain=mechanics.twist_strain(at.angle, PLANT) - gives)
        found = parts_of_a_step(at, state, drive._replace(held=jnp.asarray(held)), plant, STEP)
        whole = name in {"up", "at_heater"}  # of the others what the hinge makes of it
        yield name, {key: found[key] for key in (found if whole else SOME)}
    wild = one_step._Guess(*(jnp.asarray(x) for x in (30.0, 70.0, 9e7, 0.01, 0.2)))
    for name, by in (("hot", 1.0), ("tense", 0.1), ("calm", 1e-3)):
        change = wild._replace(cells=wild.cells * by, stress=wild.stress * max(by, 1e-3))
        yield name, one_step._added(guess, change, 0.5)


REPLAY = jax.jit(lambda plant, power, start: simulate.replay(plant, power, start, time_step=STEP))


def course(history, every=7):
    """What is kept of a course: some steps of it, without the residuals."""
    fields = history._asdict()
    ledger = fields.pop("ledger")._asdict()
    fields.pop("residual")
    ledger.pop("residual")
    kept = {name: part[every - 1 :: every] for name, part in fields.items()}
    return kept | {"ledger": np.stack(list(ledger.values()))}


def folds():
    ramp = np.linspace(0.4, 1.0, 30)[:, None]
    fast, weak = np.array([430.0, 390.0, 20.0]), np.array([25.0, 15.0, 1300.0])
    for name, start, power, plant in (
        ("up", "up", fast, PLANT), ("down", "down", weak, PLANT),
        ("cools", "up", 0.0 * fast, PLANT),
        ("up_at_heater", "up", fast, SWITCHED),
        ("up_to_stop", "up", fast, PLANT._replace(stop_high=0.12)),
        ("down_to_stop", "down", weak, PLANT._replace(stop_low=0.355, inertia=15.0)),
        ("stuck", "up", fast, PLANT._replace(friction_factor=30.0)),
        ("light", "down", weak, PLANT._replace(inertia=1e-3, damping=0.2, load_factor=-0.8)),
    ):  # fmt: skip
        yield name, course(REPLAY(plant, power * ramp, wing(*STARTS[start], plant=plant)))


@jax.jit
def controlled(plant, controller, state, loop, asked, given):
    """Course under control, and what the controller made of it."""
    none = jnp.zeros(())

    def one(carry, at):
        state, loop = carry
        state, loop, flows, drive, _ = simulate.closed_loop(
            state, loop, *at, plant, controller, jnp.asarray(STEP), jnp.asarray(SAMPLE)
        )
        seen = {"angle": state.angle, "loop": loop, "flows": jnp.stack(flows), "drive": drive}
        return (state, loop), seen | {"cells": state.cells[:, 1]}

    loop = control.at_rest(state, none, controller)._replace(**loop)
    _, seen = jax.lax.scan(one, (state, loop), (asked, given))
    return jax.tree.map(lambda part: part[4::8], seen)


def commands(start, end, rate, count=30):
    """Commands along a ramp, a new sample in every second step, with noise that is drawn once."""
    time = STEP * np.arange(count)
    way = np.sign(end - start)
    angle = start + way * np.minimum(rate * time, abs(end - start))
    rests = (np.abs(angle - end) < 1e-9) * 1.0
    noise = np.random.default_rng(5).normal(size=(count, 1 + K))
    acts = (np.arange(count) % 2 == 0) * 1.0
    asked = Asked(angle, way * rate * (1.0 - rests), np.full(count, way), rests, noise, acts)
    return asked, (0.5 * np.sin(time), 0.4 * np.cos(time), 1.0 - 0.004 * time)


def controlled_folds():
    brake, lock = {"brakes": 1.0}, {"locks": 1.0}
    raw = {"angle_step": 0.0, "kelvin_step": 0.0, "anti_windup": 0.0, "cut_off_present": 0.0}
    for name, start, rate, plant, changes, loop in (
        ("up", "up", 0.02, {}, {}, {}), ("down", "down", 0.02, {}, {}, {}),
        ("up_raw", "up", 0.05, {"in_order": 1.0}, raw, {}),
        ("down_braked", "down", 0.2, {}, brake, {}), ("up_braked", "up", 0.2, {}, brake, {}),
        ("locked", "up", 0.03, {}, lock | {"lock_low": 0.1, "lock_high": 0.19}, {"held": 1.0}),
        ("jammed", "up", 0.02, {"jammed_from": 6.0}, {}, {}),
        ("dead", "down", 0.02, {"dead_from": 6.0}, {}, {}),
        ("stuck_on", "up", 0.02, {"stuck_on": np.array([0.0, 0.0, 1.0])}, {"cut_off": 390.0}, {}),
        ("one_set", "up", 0.03, {"side": np.ones(K), "start_angle": PLANT.start_angle - 0.1}, raw,
         {}),
    ):  # fmt: skip
        one = PLANT._replace(**plant)
        angle, warm = STARTS[start]
        end = angle + (0.097 if start == "up" else -0.089)
        held = {key: jnp.asarray(value) for key, value in loop.items()}
        yield name, controlled(
            one, CONTROLLER._replace(**changes), wing(angle, warm, plant=one), held,
            *commands(angle, end, rate),
        )  # fmt: skip


@jax.jit
def decided(loop, asked, state, limit, plant, controller):
    error = asked.angle - state.angle
    seen = control._measured(loop, asked, state, controller)
    return {
        "loop": control.decide(loop, asked, state, limit, plant, controller, jnp.asarray(SAMPLE)),
        "seen": seen,
        "task": control._task(loop, asked, error, controller, jnp.asarray(0.07)),
        "holds": control._holds(loop, asked, state.angle, state, plant, controller),
        "sense": control.sense(loop, state, controller, STEP),
    }


def drawn(rng):
    """A state, loop, command and controller, drawn; angles about the bands, switches thrown."""

    def near(low, high):
        return rng.choice([-1.0, 1.0]) * np.exp(rng.uniform(np.log(low), np.log(high)))

    def one(share):
        return float(rng.random() < share)

    state = some_state()
    angle = rng.uniform(-0.3, 0.7)
    state = state._replace(
        angle=jnp.asarray(angle), stress=state.stress * rng.uniform(-0.3, 1.2, (K, 1)),
        cells=state.cells + rng.uniform(-30.0, 30.0, (K, 1)),
        heater=state.heater + rng.uniform(-30.0, 30.0, K),
    )  # fmt: skip
    controller = CONTROLLER._replace(
        brakes=one(0.4), locks=one(0.5), anti_windup=one(0.6), cut_off_present=one(0.6),
        angle_step=0.0007 * one(0.5), kelvin_step=0.25 * one(0.5),
        kelvin_max=rng.choice([452.0, 385.0]), angle_bias=1e-5, angle_noise=1e-5,
        angle_gain=1.00002,
    )  # fmt: skip
    way, rests = rng.choice([-1.0, 1.0]), one(0.6)
    there = angle + near(5e-5, 0.3)
    if one(0.5):
        end = controller.lock_low if way < 0 else controller.lock_high
        angle, there = end + near(5e-5, 0.05), end
        state = state._replace(angle=jnp.asarray(angle))
    kelvin = np.asarray(state.cells[:, -1])
    heat = np.asarray(control._heat(state.angle, kelvin, controller))
    loop = Loop(
        sensor=kelvin + rng.normal(0.0, 2.0, K), heater_sensor=kelvin + rng.uniform(0.0, 60.0, K),
        above=rng.uniform(0.0, 35.0, K), power=rng.uniform(0.0, 300.0, K),
        heat=heat + rng.normal(0.0, 400.0, K), missing=rng.normal(0.0, 15.0, K),
        rest=kelvin - 3.0, rests=one(0.5), most=way * (there - angle) + abs(near(1e-3, 0.02)),
        turned=one(0.3), tripped=np.array([one(0.2) for _ in range(K)]), held=one(0.4),
        angle=angle - way * near(1e-4, 0.02),
    )  # fmt: skip
    asked = Asked(there, way * 0.013, way, rests, rng.normal(size=1 + K), one(0.9))
    side = PLANT.side if one(0.7) else way * np.ones(K)
    plant = PLANT._replace(side=side, load_factor=rng.uniform(-1.0, 2.0))
    limit = rng.uniform(100.0, 500.0, K)
    arrays = jax.tree.map(jnp.asarray, (loop, asked))
    return *arrays, state, limit, plant, controller


def decisions():
    rng = np.random.default_rng(11)
    found = [decided(*drawn(rng)) for _ in range(60)]
    yield "drawn", jax.tree.map(lambda *parts: np.stack(parts), *found)
    yield "at_rest", control.at_rest(some_state(), jnp.asarray(0.7), CONTROLLER)
    table = jnp.asarray(CONTROLLER.heat_up)
    yield "table", [control._of_table(table, jnp.asarray(x), CONTROLLER) for x in ANGLES]


UNITS = MotionState(100.0, 100.0, 100.0, 1.0, 0.01, 1e8, 1.0, 1.0, 0.01, 1.0)
NUMBERS = margins.LoopNumbers(
    heat=1450.0, latent=380.0, capacity=57.0, heater_capacity=6.6, heater_conductance=7.9,
    loss_slope=1.9, temperature_time=6.5, position_time=11.0, sensor_lag=1.7, sample=SAMPLE,
)  # fmt: skip


def loops():
    rolling = PLANT._replace(friction_factor=1e-3)
    state = wing(-0.2, (1.0, 1.0, 0.0), plant=rolling)
    drive = Drive(jnp.array([330.0, 270.0, 4.0]), *map(jnp.asarray, (0.2, -0.3, 0.0)))
    linear = jax.jit(margins.linear_step, static_argnums=4)(state, drive, rolling, SAMPLE, 1)
    linear = margins.Linear(*map(np.asarray, linear))
    parts = zip(state, UNITS, strict=True)
    flat = np.concatenate([np.full(np.size(part), unit) for part, unit in parts])
    scaled = linear.matrix * flat / flat[:, None]  # rows and columns in units of the state
    shares = np.random.default_rng(7).uniform(0.5, 1.5, (2, flat.size))
    yield "linear", [scaled @ shares[0], shares[1] @ scaled, linear.power / flat]
    yield "rows", [linear.angle @ flat, linear.kelvin @ np.arange(flat.size)]
    omega = margins.frequencies(SAMPLE)[::25]
    yield "omega", omega
    rng = np.random.default_rng(3)
    full = margins.Linear(0.4 * rng.normal(size=(4, 4)), *rng.normal(size=(3, 4)))
    defective = full._replace(matrix=np.diag(np.full(4, 0.9)) + np.diag(np.full(3, 0.3), 1))
    for name, plant in {"wing": linear, "full": full, "defective": defective}.items():
        angle, kelvin = margins.responses(plant, omega, SAMPLE)
        yield name, {"angle": angle, "kelvin": kelvin}
    both = 2e-4 * angle, 0.01 * kelvin
    for name, loop in (
        ("position", margins.position_loop(*both, omega, NUMBERS)),
        ("temperature", margins.temperature_loop(both[1], omega, NUMBERS)),
    ):
        yield name, loop
    w = np.geomspace(1e-3, 3.0, 300)
    for gain in (0.4, 1.3, 30.0):
        loop = gain * np.exp(-1.9j * w) * (1.0 + 0.4j * w) / (1j * w * (1.0 + 3j * w))
        yield f"margins_{gain}", margins.margins(w, loop)
        yield f"stable_{gain}", [margins.is_stable(loop, count) for count in (0, 1)]
    growth = np.exp(1e-3 * SAMPLE * EITHER)
    yield (
        "growing",
        [margins.unstable_poles(full._replace(matrix=one * np.eye(2)), SAMPLE) for one in growth],
    )
    yield (
        "unstable",
        [
            margins.unstable_poles(full._replace(matrix=full.matrix * by), SAMPLE)
            for by in (1, 2, 4)
        ],
    )


EITHER = np.array([0.98, 1.02])  # of a threshold, by its number in the rules


def edges():
    """Rules of the controller at both sides of their thresholds."""
    rng = np.random.default_rng(17)
    loop, asked, state, _, plant, _ = drawn(rng)
    asked, loop = asked._replace(way=jnp.asarray(1.0)), loop._replace(turned=jnp.asarray(0.0))

    @jax.jit
    @jax.vmap
    def task(left, by, rests, resting):
        before = loop._replace(most=left + by * 0.003 / 0.93, rests=rests)
        return control._task(before, asked._replace(rests=resting), left, CONTROLLER, 0.07)

    dead, switch = 0.006, 0.027
    left = np.outer([0.5 * dead, 2.0 * dead, switch, -switch], EITHER).ravel()
    yield "task", task(*map(np.ravel, np.meshgrid(left, EITHER, [0.0, 1.0], [0.0, 1.0])))

    @jax.jit
    @jax.vmap
    def missing(flow):
        seen = control._Measured(jnp.asarray(0.3), jnp.full(K, 388.0), jnp.array([90.0, 120, 150]))
        before = loop._replace(above=flow * seen.loss / CONTROLLER.heater_conductance)
        return control._missing(before, seen, jnp.full(K, True), CONTROLLER, jnp.asarray(SAMPLE))

    yield "missing", missing(2.5 * EITHER)
    arm = PLANT.gear_ratio * PLANT.torque_per_stress * np.sum(PLANT.torque_count)
    bare = state._replace(stress=0.0 * state.stress)
    load, _ = mechanics.load_moment(state.angle, 0.0, 0.0, plant._replace(load_factor=1.0))

    @jax.jit
    @jax.vmap
    def holds(error, net):
        at = asked._replace(angle=state.angle + error, rests=jnp.asarray(0.0))
        under = plant._replace(load_factor=net * arm * 100e6 / load)
        held = loop._replace(held=jnp.asarray(1.0))
        return control._holds(held, at, state.angle, bare, under, CONTROLLER)

    error = np.outer([-1e-4, 1e-4, -0.05, 0.05], EITHER).ravel()
    yield "holds", holds(*map(np.ravel, np.meshgrid(error, np.outer([-1e-3, 1e-3], EITHER))))


def of(named):
    return dict(named())


PARTS = {
    "laws": laws, "supplies": partial(of, supplies), "starts": partial(of, starts),
    "hysteresis": hysteresis, "steps": partial(of, steps), "folds": partial(of, folds),
    "decisions": partial(of, decisions), "edges": partial(of, edges),
    "controlled": partial(of, controlled_folds),
    "loops": partial(of, loops),
}  # fmt: skip


# A march under a torque ends within 50 Pa of some 100 MPa (`driven_march.NEAR`).
HELD = {"hysteresis": 1e-6}


@pytest.mark.parametrize("part", PARTS)
def test_numbers_are_those_that_are_kept(part):
    hold(FILE, part, PARTS[part](), HELD.get(part, RELATIVE))


if __name__ == "__main__":
    main(FILE, PARTS)
