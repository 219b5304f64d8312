"""A step of the fold under control, and its course with the power of a log given instead."""

from __future__ import annotations

from typing import Any

import jax
import jax.numpy as jnp
from jax import Array

from mdo.disciplines.motion.control import decide, sense
from mdo.disciplines.motion.controller import Asked, Controller, Loop
from mdo.disciplines.motion.mechanics import group_moment, load_moment, stored_energy
from mdo.disciplines.motion.records import (
    Drive,
    Flows,
    Ledger,
    MotionHistory,
    MotionPlant,
    MotionState,
)
from mdo.disciplines.motion.step import advance
from mdo.disciplines.motion.supply import power_limit, shared_power


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


def _ledger(start: MotionState, end: MotionState, sums: Flows, plant: MotionPlant) -> Ledger:
    stored = stored_energy(end, plant) - stored_energy(start, plant)
    miss = sums.given + sums.work - sums.lost - stored
    scale = jnp.maximum(sums.given, jnp.abs(stored)) + jnp.abs(sums.lost) + 1e-9
    return Ledger(*sums, stored, jnp.abs(miss) / scale)


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


def replay(
    plant: MotionPlant, power: Array, start: MotionState, *, time_step: Array | float
) -> MotionHistory:
    """Course of one wing whose heater power is known, as of a log; no controller, a steady load.

    Parameters
    ----------
    plant
        Record.
    power
        Power of each group, all of its tubes [W], (N, K), constant over a step.
    start
        State at the start.
    time_step
        Step [s].

    Returns
    -------
    MotionHistory
        Course [s], [rad], [N*m], [K], [W].

    References
    ----------
    :func:`mdo.disciplines.motion.step.advance`.
    """
    step, none = jnp.asarray(time_step), jnp.zeros(())
    count = jnp.maximum(jnp.asarray(plant.count), 1e-9)

    def one(carry: tuple[MotionState, Flows], watts: Array) -> tuple[Any, Any]:
        state, sums = carry
        drive = Drive(watts / count, none, none, none)
        state, flows, off = advance(state, drive, plant, step)
        seen = seen_of(state, state.cells[:, -1], drive.power, plant) | {"residual": off}
        return (state, Flows(*map(jnp.add, sums, flows))), seen

    (end, sums), seen = jax.lax.scan(one, (start, Flows(none, none, none)), power)
    return MotionHistory(**seen, ledger=_ledger(start, end, sums, plant))
