r"""Controller of the fold: a position loop and a temperature loop, both in terms of heat.

A tube that transforms hardly changes its temperature (where the load falls with the angle, it even
cools as the wing moves on): what turns the wing by a degree is heat. So the position loop asks for
the heat of what is left to turn, less what the heater still holds; the temperature loop brings a
tube through the dead zone of its hysteresis to just before the branch that is wanted, known from
the model (inverse hysteresis), and keeps it below its limit. A cut-off with a sensor and switch of
its own stands behind them; a lock or brake holds without power.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.motion.controller import Asked, Controller, Loop
from mdo.disciplines.motion.mechanics import load_moment
from mdo.disciplines.motion.records import MotionPlant, MotionState
from mdo.disciplines.motion.supply import shared_power

OBSERVER_TIMES = 4.0  # of the position time: slow beside the loop that it serves
LOSS_SHARE = 0.8  # of the loss that is made up for ahead: an overshoot is dear, a lack is learned
MOST_FLOW = 2.5  # of the loss: what flows into a tube while its loss is learned
MOVED = 0.003  # [rad] more than lash and noise: the wing turns
REST_KELVIN = 1.0  # [K] off the branch that a wing rests: ten times the noise of its sensor
RELEASE = 1e-3  # of the rated moment, below which a lock counts as unloaded


def at_rest(state: MotionState, held: Array, controller: Controller) -> Loop:
    """State of a controller that has just been switched on.

    Parameters
    ----------
    state
        Of the wing.
    held
        Whether a lock holds the panel, 1 or 0 [1].
    controller
        Record.

    Returns
    -------
    Loop
        Sensors at the temperature of what they measure.

    References
    ----------
    Derived.
    """
    near = state.cells[:, -1]
    none = jnp.zeros_like(near)
    heat = _heat(state.angle, near, controller)
    zero = none[0]
    return Loop(
        sensor=near, heater_sensor=state.heater, above=none, power=none, heat=heat, missing=none,
        rest=near, rests=zero, most=zero, turned=zero, tripped=none, held=held + zero,
        angle=state.angle + zero,
    )  # fmt: skip


def _heat(angle: Array, kelvin: Array, controller: Controller) -> Array:
    """Heat of each tube by what is measured: wall and heater, and what transformed [J]."""
    taken, _ = _of_table(jnp.asarray(controller.heat_taken), angle, controller)
    whole: Array = (controller.capacity + controller.heater_capacity) * kelvin + taken
    return whole


def _quantised(value: Array, step: Array) -> Array:
    whole = jnp.where(step > 0.0, step, 1.0)
    return jnp.where(step > 0.0, jnp.round(value / whole) * whole, value)


def _of_table(table: Array, angle: Array, controller: Controller) -> tuple[Array, Array]:
    """Value of each group at an angle and its slope [1/rad], (K,)."""
    last = table.shape[-1] - 1
    place = jnp.clip((angle - controller.table_angle) / controller.table_step, 0.0, last)
    low = jnp.minimum(jnp.floor(place), last - 1.0)
    index = low.astype(int)
    first, second = jnp.take(table, index, axis=-1), jnp.take(table, index + 1, axis=-1)
    return first + (second - first) * (place - low), (second - first) / controller.table_step


def sense(loop: Loop, state: MotionState, controller: Controller, step: Array) -> Loop:
    """Sensors after one step: first-order lags, exact for a held temperature.

    Parameters
    ----------
    loop, state, controller
        Records.
    step
        Length of the step [s].

    Returns
    -------
    Loop
        With its sensors moved, and the cut-off tripped where the heater is too hot.

    References
    ----------
    Derived; reference thermal-power-mass, section 3.3.
    """
    outside = state.cells[:, -1]
    near = loop.sensor + (outside - loop.sensor) * -jnp.expm1(-step / controller.sensor_lag)
    hot = loop.heater_sensor + (state.heater - loop.heater_sensor) * -jnp.expm1(
        -step / controller.cut_off_lag
    )
    over = (hot > controller.cut_off) & (jnp.asarray(controller.cut_off_present) > 0.5)
    return loop._replace(
        sensor=near, heater_sensor=hot, tripped=jnp.maximum(loop.tripped, over * 1.0)
    )


class _Measured(NamedTuple):
    """Angle [rad], temperature [K], and what a tube loses at it by the model [W]."""

    angle: Array
    kelvin: Array
    loss: Array


def _measured(loop: Loop, asked: Asked, state: MotionState, controller: Controller) -> _Measured:
    angle = controller.angle_gain * state.angle + controller.angle_bias
    angle = _quantised(angle + controller.angle_noise * asked.noise[0], controller.angle_step)
    bay, sensors = jnp.asarray(controller.bay), controller
    kelvin = bay + jnp.asarray(sensors.kelvin_gain) * (loop.sensor - bay) + sensors.kelvin_bias
    kelvin = _quantised(kelvin + sensors.kelvin_noise * asked.noise[1:], sensors.kelvin_step)
    excess = jnp.maximum(kelvin - bay, 0.0)
    conductance = jnp.asarray(controller.loss)
    loss = LOSS_SHARE * excess * (conductance[0] + conductance[1] * excess)
    return _Measured(angle, kelvin, loss)


def decide(
    loop: Loop, asked: Asked, state: MotionState, limit: Array, plant: MotionPlant,
    controller: Controller, sample: Array,
) -> Loop:  # fmt: skip
    r"""One sample of the controller.

    .. math:: u_\varphi = UA(T-T_b) + w + H\dot r + \frac{H e - C_h \Delta_h}{\lambda},\quad
        u_T = UA(T-T_b) + w + \frac{C (T_r - T) - C_h \Delta_h}{\lambda_T}

    Parameters
    ----------
    loop, asked, state, plant, controller
        Records.
    limit
        Largest power of a tube of each group [W], (K,).
    sample
        Sample time [s].

    Returns
    -------
    Loop
        With power, missing loss, branch and lock as decided; unchanged between samples.

    Notes
    -----
    H is the heat that turns the wing, :math:`C_h\Delta_h` what the heater holds beyond what flows
    through it steadily, reckoned from the power. Heater and tube without other lags give the poles
    -1/lambda and -1/tau of the heater, whatever lambda is. w is the loss that the model lacks: an
    observer of the heat of the tube finds it, in the dead zone as on a branch, from what flowed in
    at the power that was really given, so it does not wind up at a limit. A wing that has come to
    its command rests: its tubes keep a temperature 1 K off the branch, where nothing turns it.

    References
    ----------
    Derived; reference thermal-power-mass, section 3.2; sma-tubes, section 1.4 (holding). Observer
    of a disturbance: Franklin, Powell, Workman, from memory.
    """
    side = jnp.asarray(plant.side)
    seen = _measured(loop, asked, state, controller)
    error = asked.angle - seen.angle
    share = -jnp.expm1(-sample / (OBSERVER_TIMES * controller.position_time))
    task = _task(loop, asked, error, controller, share)
    # one set alone cools to come back; of a pair the other one pulls back
    drives = jnp.all(side == side[0]) | (side == task.way)
    warms = side * task.way  # (K,): 1 where a group turns the wing by warming, -1 by cooling
    begins = (task.rests > 0.5) & (loop.rests < 0.5)
    rest = jnp.where(begins, seen.kelvin - REST_KELVIN * warms, loop.rest)

    missing, heat_seen = _missing(loop, seen, drives, controller, sample)
    loss = seen.loss + missing
    beyond = loop.above - loss / controller.heater_conductance
    stored = controller.heater_capacity * beyond
    heating, _ = _of_table(jnp.asarray(controller.kelvin_heating), seen.angle, controller)
    cooling, _ = _of_table(jnp.asarray(controller.kelvin_cooling), seen.angle, controller)
    table = jnp.where(warms[:, None] > 0.0, controller.heat_up, jnp.asarray(controller.heat_down))
    heat, _ = _of_table(table, seen.angle, controller)
    # what has not begun to turn is brought on as by the heat of the middle of the travel
    heat = jnp.where(task.waits, jnp.maximum(heat, jnp.mean(table, axis=-1)), heat)
    wanted = heat * side * error - stored
    power = loss + heat * side * asked.rate + wanted / controller.position_time

    def towards(kelvin: Array) -> Array:
        gap = controller.capacity * (kelvin - seen.kelvin) - stored
        watts: Array = loss + gap / controller.temperature_time
        return watts

    highest = jnp.asarray(controller.kelvin_max)
    reached = jnp.minimum(heating, highest) - controller.caution
    power = jnp.where((warms > 0.0) & task.waits, jnp.maximum(power, towards(reached)), power)
    lowered = jnp.minimum(power, towards(cooling + controller.caution))
    power = jnp.where((warms < 0.0) & task.waits, lowered, power)
    power = jnp.where(task.rests > 0.5, towards(rest), power)
    power = jnp.minimum(power, towards(highest))
    given = jnp.where(drives, jnp.clip(power, 0.0, limit), 0.0)

    held = _holds(loop, asked, seen.angle, state, plant, controller)
    there = (asked.rests > 0.5) & (jnp.abs(error) < controller.lock_band)
    given = jnp.where((held > 0.5) & there, 0.0, given)
    given = shared_power(given, limit, plant)
    lag = controller.heater_capacity / controller.heater_conductance
    settled = given / controller.heater_conductance
    above = loop.above + (settled - loop.above) * -jnp.expm1(-sample / lag)
    # without anti-windup the observer takes what was asked for as given
    told = jnp.where(jnp.asarray(controller.anti_windup) > 0.5, 0.0, power - given)
    flow = controller.heater_conductance * loop.above + told
    expected = heat_seen + sample * (flow - loss)
    new = loop._replace(
        above=above, power=given, heat=expected, missing=missing, rest=rest,
        rests=task.rests, most=task.most, turned=task.turned, held=held, angle=seen.angle,
    )  # fmt: skip
    kept = asked.acts > 0.5
    return Loop(*(jnp.where(kept, after, before) for after, before in zip(new, loop, strict=True)))


class _Task(NamedTuple):
    """Way that the wing is to turn; rests, most and turned of the loop; whether it still waits."""

    way: Array
    rests: Array
    most: Array
    turned: Array
    waits: Array


def _task(loop: Loop, asked: Asked, error: Array, controller: Controller, share: Array) -> _Task:
    """What is to be done about an error [rad]: turn on, turn back, or leave the wing alone.

    share: of what it has turned that is forgotten in a sample.
    """
    resting = asked.rests > 0.5
    overshot = jnp.where(resting, -asked.way * error, 0.0)
    back = jnp.where(overshot > controller.switch_band, 1.0, loop.turned)
    turned = jnp.where(overshot > 0.0, back, 0.0)
    way = asked.way * (1.0 - 2.0 * turned)
    left = way * error
    near = jnp.where(loop.rests > 0.5, 2.0, 0.5) * controller.dead_band
    # a unit may turn colder than the model has it: while it is seen to turn, heat alone counts;
    # one that only shifts as a brake lets go is not on its way
    kept = jnp.clip(loop.most - share * (loop.most - left), left, left + 2.0 * MOVED)
    most = jnp.where(left <= near, 0.0, kept)
    waits = (left > controller.switch_band) & (most - left < MOVED)
    return _Task(way, (resting & (left <= near)) * 1.0, most, turned, waits)


def _missing(
    loop: Loop, seen: _Measured, drives: Array, controller: Controller, sample: Array
) -> tuple[Array, Array]:
    """Loss that the model lacks [W], and the heat of each tube as corrected by the sensors [J].

    Both poles of the observer are at its time. It begins anew in a group that does not drive, and
    waits where a group takes up far more than it loses: an error of its capacity would pass for
    loss.
    """
    share = -jnp.expm1(-sample / (OBSERVER_TIMES * controller.position_time))
    heat = _heat(seen.angle, seen.kelvin, controller)
    miss = heat - loop.heat
    missing = loop.missing - share**2 / sample * miss
    saved = jnp.asarray(controller.anti_windup) > 0.5
    missing = jnp.where(saved, jnp.clip(missing, -seen.loss, seen.loss), missing)
    corrected = loop.heat + share * (2.0 - share) * miss
    flow = controller.heater_conductance * loop.above
    learns = drives & ((flow < MOST_FLOW * seen.loss) | ~saved)
    kept = jnp.where(drives, loop.missing, 0.0)
    return jnp.where(learns, missing, kept), jnp.where(learns, corrected, heat)


def _holds(
    loop: Loop, asked: Asked, angle: Array, state: MotionState, plant: MotionPlant,
    controller: Controller,
) -> Array:  # fmt: skip
    """Part of the sample in which lock or brake holds: at its angle at rest, until it is unloaded.

    A lock under load cannot be drawn: it waits until tubes and load together turn towards the
    command. A brake is timed within the sample: a wing that would be past its command by the next
    one, at the rate of the last, is gripped when it gets there; one that is past it, at once.
    """
    low = jnp.abs(asked.angle - controller.lock_low) < controller.lock_band
    high = jnp.abs(asked.angle - controller.lock_high) < controller.lock_band
    brakes, resting = jnp.asarray(controller.brakes) > 0.5, asked.rests > 0.5
    here = ((low | high) & (jnp.asarray(controller.locks) > 0.5)) | brakes
    error = asked.angle - angle
    band = jnp.where(brakes, controller.dead_band, controller.lock_band)
    there = here & resting & (jnp.abs(error) < band)
    stays = here & resting & (jnp.abs(error) < controller.lock_band)
    left, moved = asked.way * error, asked.way * (angle - loop.angle)
    passes = brakes & resting & (left < moved)
    timed = 1.0 - jnp.clip(left / jnp.where(moved > 0.0, moved, 1.0), 0.0, 1.0)
    grips = jnp.where(there, 1.0, jnp.where(passes, timed, 0.0))
    mean = jnp.sum(plant.wall_share * state.stress, axis=-1)
    arm = plant.gear_ratio * plant.torque_per_stress * jnp.asarray(plant.torque_count)
    none = jnp.zeros(())
    load, _ = load_moment(state.angle, none, none, plant)
    net = load + jnp.sum(jnp.asarray(plant.side) * arm * mean)
    rated = jnp.sum(arm) * 100e6
    free = (jnp.sign(error) * net > -RELEASE * rated) & (jnp.abs(error) > 1e-4)
    return jnp.where(loop.held > 0.0, ~(free & ~stays) * 1.0, grips)
