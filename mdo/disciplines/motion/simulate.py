"""Courses of the fold: under control, and with the power of a log given instead."""

from __future__ import annotations

from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
from jax import Array

from mdo.disciplines.motion.control import at_rest, decide, sense
from mdo.disciplines.motion.controller import Asked, Command, Controller, Loop
from mdo.disciplines.motion.mechanics import group_moment, load_moment, stored_energy
from mdo.disciplines.motion.records import (
    Disturbances,
    Drive,
    Flows,
    Ledger,
    MotionHistory,
    MotionPlant,
    MotionState,
)
from mdo.disciplines.motion.step import advance
from mdo.disciplines.motion.supply import power_limit, shared_power

NO_TIME = 1e-9  # [s]


class _Sums(NamedTuple):
    given: Array
    lost: Array
    work: Array


def calm(steps: int) -> Disturbances:
    """Nothing from outside: steady load, nominal voltage.

    Parameters
    ----------
    steps
        Number of steps.

    Returns
    -------
    Disturbances
        Shares and voltage [1], (N,).

    References
    ----------
    Derived.
    """
    none = jnp.zeros(steps)
    return Disturbances(none, none, none + 1.0)


def seen_of(
    state: MotionState, sensor: Array, power: Array, plant: MotionPlant
) -> dict[str, Array]:
    """What is recorded of a state.

    Parameters
    ----------
    state, plant
        Records.
    sensor
        Temperature that the sensor of each group has [K], (K,).
    power
        Power of a tube of each group [W], (K,).

    Returns
    -------
    dict
        Fields of the record of a course by name [s], [rad], [N*m], [K], [W].

    References
    ----------
    Derived.
    """
    mean, none = jnp.sum(plant.wall_share * state.stress, axis=-1), jnp.zeros(())
    weight = jnp.asarray(plant.cell_capacity) / jnp.sum(jnp.asarray(plant.cell_capacity))
    return {
        "time": state.time,
        "fold_angle": state.angle,
        "fold_rate": state.rate,
        "torque": group_moment(mean, plant),
        "load_moment": load_moment(state.angle, none, none, plant)[0],
        "tube_temperature": jnp.sum(weight * state.cells, axis=-1),
        "heater_temperature": state.heater,
        "sensor_temperature": sensor,
        "heater_power": jnp.asarray(plant.count) * power,
        "martensite": jnp.sum(weight * state.fraction, axis=-1),
        "outer_stress": jnp.max(jnp.abs(state.stress), axis=-1),
        "bay_temperature": state.bay,
    }


def _seen(
    state: MotionState, sensor: Array, power: Array, drive: Drive, plant: MotionPlant
) -> dict[str, Array]:
    load, _ = load_moment(state.angle, drive.air, drive.mass, plant)
    return seen_of(state, sensor, power, plant) | {"load_moment": load}


def _ledger(start: MotionState, end: MotionState, sums: _Sums, plant: MotionPlant) -> Ledger:
    stored = stored_energy(end, plant) - stored_energy(start, plant)
    miss = sums.given + sums.work - sums.lost - stored
    scale = jnp.maximum(sums.given, jnp.abs(stored)) + jnp.abs(sums.lost) + 1e-9
    return Ledger(sums.given, sums.lost, sums.work, stored, jnp.abs(miss) / scale)


def _added(sums: _Sums, flows: Flows) -> _Sums:
    return _Sums(*(total + part for total, part in zip(sums, flows, strict=True)))


def closed_loop(
    state: MotionState, loop: Loop, asked: Asked, given: tuple[Array, Array, Array],
    plant: MotionPlant, controller: Controller, step: Array, sample: Array,
) -> tuple[MotionState, Loop, Flows, Drive, Array]:  # fmt: skip
    """One step of a wing under control.

    Parameters
    ----------
    state, loop, asked, plant, controller
        Records.
    given
        Air and mass loads over their half widths, voltage over nominal [1].
    step, sample
        Step and sample time [s].

    Returns
    -------
    tuple
        State, controller, flows [J], what acted, largest miss [1].

    References
    ----------
    :func:`mdo.disciplines.motion.control.decide`, :func:`mdo.disciplines.motion.step.advance`.
    """
    air, mass, voltage = given
    alive = jnp.where(state.time >= plant.dead_from, 0.0, 1.0)
    limit = power_limit(voltage * alive, plant) * alive
    loop = sense(loop, state, controller, step)
    loop = decide(loop, asked, state, limit, plant, controller, sample)
    power = jnp.minimum(loop.power, limit)
    power = jnp.where(jnp.asarray(plant.stuck_on) > 0.5, limit, power)
    power = shared_power(jnp.where(loop.tripped > 0.5, 0.0, power), limit, plant)
    jammed = state.time >= plant.jammed_from
    drive = Drive(power, air, mass, jnp.maximum(loop.held, jammed * 1.0))
    after, flows, off = advance(state, drive, plant, step, exact=False)
    return after, loop, flows, drive, off


def simulate(
    plant: MotionPlant,
    controller: Controller,
    command: Command,
    disturbances: Disturbances,
    start: MotionState,
    *,
    held: Array | float = 0.0,
    sample: Array | float | None = None,
) -> MotionHistory:
    """Course of one wing under control.

    Parameters
    ----------
    plant, controller, command, disturbances
        Records; N steps.
    start
        State at the start.
    held
        Whether a lock holds the panel at the start, 1 or 0 [1].
    sample
        Sample time [s]; that of a step where left out.

    Returns
    -------
    MotionHistory
        Course [s], [rad], [N*m], [K], [W].

    References
    ----------
    :func:`mdo.disciplines.motion.step.advance`.
    """
    step = jnp.asarray(command.time_step)
    every = step if sample is None else jnp.asarray(sample)

    def one(carry: tuple[Any, ...], given: tuple[Any, ...]) -> tuple[Any, Any]:
        state, loop, sums = carry
        asked, outside = given
        state, loop, flows, drive, off = closed_loop(
            state, loop, Asked(*asked), outside, plant, controller, step, every
        )
        seen = _seen(state, loop.sensor, drive.power, drive, plant)
        seen |= {"commanded_angle": asked[0], "voltage": outside[2], "residual": off}
        seen |= {"held": drive.held, "tripped": jnp.max(loop.tripped)}
        return (state, loop, _added(sums, flows)), seen

    asked = (command.angle, command.rate, command.way, command.rests, command.noise)
    given = ((*asked, command.samples), tuple(disturbances))
    nothing = _Sums(*(jnp.zeros(()),) * 3)
    begin = (start, at_rest(start, jnp.asarray(held), controller), nothing)
    (end, _, sums), seen = jax.lax.scan(one, begin, given)
    return MotionHistory(**seen, ledger=_ledger(start, end, sums, plant))


def replay(
    plant: MotionPlant,
    power: Array,
    disturbances: Disturbances,
    start: MotionState,
    *,
    time_step: Array | float,
    held: Array | None = None,
) -> MotionHistory:
    """Course of one wing whose heater power is known, as of a log; no controller.

    Parameters
    ----------
    plant, disturbances
        Records; N steps.
    power
        Power of each group, all of its tubes [W], (N, K), constant over a step.
    start
        State at the start.
    time_step
        Step [s].
    held
        Whether the panel is held in each step [1], (N,); never where left out.

    Returns
    -------
    MotionHistory
        Course [s], [rad], [N*m], [K], [W]; commanded_angle is that of the fold.

    References
    ----------
    :func:`mdo.disciplines.motion.step.advance`.
    """
    step = jnp.asarray(time_step)
    count = jnp.maximum(jnp.asarray(plant.count), 1e-9)
    kept = jnp.zeros(power.shape[0]) if held is None else held

    def one(carry: tuple[Any, ...], given: tuple[Any, ...]) -> tuple[Any, Any]:
        state, sums = carry
        watts, holds, (air, mass, voltage) = given
        drive = Drive(watts / count, air, mass, holds)
        state, flows, off = advance(state, drive, plant, step)
        seen = _seen(state, state.cells[:, -1], drive.power, drive, plant)
        seen |= {"commanded_angle": state.angle, "voltage": voltage, "residual": off}
        seen |= {"held": holds, "tripped": jnp.zeros(())}
        return (state, _added(sums, flows)), seen

    nothing = _Sums(*(jnp.zeros(()),) * 3)
    (end, sums), seen = jax.lax.scan(one, (start, nothing), (power, kept, tuple(disturbances)))
    return MotionHistory(**seen, ledger=_ledger(start, end, sums, plant))
