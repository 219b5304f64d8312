r"""Controller of the fold: temperature loop within a position loop, led by inverse hysteresis.

The temperature at which the wing stands at an angle is known from the model, on the way there by
heating and on the way back by cooling. The position loop corrects it, with the slope of the branch
as its gain; the temperature loop gives the power. A cut-off with a sensor and switch of its own
stands behind them, and a lock or brake holds without power.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.motion.records import MotionPlant, MotionState
from mdo.disciplines.records import Scalar

NEVER = 0.0  # [K] what a group is asked for that does not drive
FLATTEST = 20.0  # [K/rad] least slope of a branch, so that no gain runs away
STEEPEST = 400.0  # [K/rad] largest one, at the ends of a branch
RELEASE = 1e-3  # of the rated moment, below which a lock counts as unloaded


class Controller(NamedTuple):
    """What the controller knows and how it is set; K groups, A angles of its tables.

    Model. table_angle, table_step [rad]; kelvin_heating, kelvin_cooling (K, A): temperature of
    each group at an angle on either branch [K]; capacity (K, A): of a tube with what turns [J/K];
    loss (2,): conductance to the bay [W/K] and its slope by the excess [W/K**2]; bay [K].
    Rule. temperature_time, position_time [s]: of both loops; lead_time, filter_time [s]: of the
    heater's lag and its filter; caution [K]: below the model at the start; kelvin_max [K];
    anti_windup: 1 or 0; dead_band, switch_band [rad]: the integral rests, the branch is changed.
    Sensors. angle_bias, angle_noise, angle_step [rad], angle_gain, kelvin_bias, kelvin_gain (K,),
    kelvin_noise, kelvin_step [K], sensor_lag [s]; gain 0: a sensor that reads nothing.
    Cut-off. cut_off [K] of the heater, cut_off_lag [s], cut_off_present.
    Hold. locks: at both ends of the range; brakes: anywhere; lock_low, lock_high [rad];
    lock_band [rad].
    """

    table_angle: Scalar
    table_step: Scalar
    kelvin_heating: Scalar
    kelvin_cooling: Scalar
    capacity: Scalar
    loss: Scalar
    bay: Scalar
    temperature_time: Scalar
    position_time: Scalar
    lead_time: Scalar
    filter_time: Scalar
    caution: Scalar
    kelvin_max: Scalar
    anti_windup: Scalar
    dead_band: Scalar
    switch_band: Scalar
    angle_bias: Scalar
    angle_noise: Scalar
    angle_step: Scalar
    angle_gain: Scalar
    kelvin_bias: Scalar
    kelvin_gain: Scalar
    kelvin_noise: Scalar
    kelvin_step: Scalar
    sensor_lag: Scalar
    cut_off: Scalar
    cut_off_lag: Scalar
    cut_off_present: Scalar
    locks: Scalar
    brakes: Scalar
    lock_low: Scalar
    lock_high: Scalar
    lock_band: Scalar


class Command(NamedTuple):
    """What is asked for: time_step [s]; in each step (N,) angle [rad], rate [rad/s], way.

    way: 1 up, -1 down, the last one where it holds; rests: 1 where it holds; samples: 1 where the
    controller acts; noise (N, 1 + K): standard normal, of the angle and of the temperatures.
    """

    time_step: Array
    angle: Array
    rate: Array
    way: Array
    rests: Array
    samples: Array
    noise: Array


class Loop(NamedTuple):
    """State of the controller, by group (K,) but for the scalars.

    sensor, heater_sensor, slow (of the lead) [K]; power of a tube [W]; integral [K]; branch: 1
    where the commanded way was changed to correct an overshoot; tripped, held: 1 or 0.
    """

    sensor: Array
    heater_sensor: Array
    slow: Array
    power: Array
    integral: Array
    turned: Array
    tripped: Array
    held: Array


class Asked(NamedTuple):
    """One sample: commanded angle, rate, way, rests, noise, whether the controller acts."""

    angle: Array
    rate: Array
    way: Array
    rests: Array
    noise: Array
    acts: Array


def at_rest(state: MotionState, controller: Controller, held: Array) -> Loop:
    """State of a controller that has just been switched on.

    Parameters
    ----------
    state, controller
        Records.
    held
        Whether a lock holds the panel, 1 or 0.

    Returns
    -------
    Loop
        Sensors at the temperature of what they measure.

    References
    ----------
    Derived.
    """
    mean = jnp.mean(state.cells, axis=-1)
    none = jnp.zeros_like(mean)
    return Loop(mean, state.heater, mean, none, -jnp.asarray(controller.caution) + 0.0 * mean[0],
                none[0], none, jnp.asarray(held) + 0.0 * mean[0])  # fmt: skip


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
    Reference thermal-power-mass, section 3.3.
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


def decide(
    loop: Loop, asked: Asked, state: MotionState, limit: Array, plant: MotionPlant,
    controller: Controller, sample: Array,
) -> Loop:  # fmt: skip
    r"""One sample of the controller.

    .. math:: T_r = T^*(r) \pm (k_p e + I), \quad u = UA(T_r - T_b) + C'\dot T^*
        + \frac{C'}{\lambda_T}\left[T_r - T - \tau_l \dot T\right]

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
        With power, integral, branch and lock as decided; unchanged between samples.

    Notes
    -----
    With lambda_p of the position loop, ``k_p = lambda_T/(g lambda_p)`` and ``dI/dt = e/(g
    lambda_p)``, g the slope of the branch: the loop is ``1/(lambda_p s)`` where the temperature
    loop is ``1/(lambda_T s + 1)``. The integral rests where the heater is at a limit and would be
    driven further, and follows the limit back.

    References
    ----------
    Reference thermal-power-mass, section 3.2; pole cancellation of check TM-27.
    """
    side, noise = jnp.asarray(plant.side), asked.noise
    angle = controller.angle_gain * state.angle + controller.angle_bias
    angle = _quantised(angle + controller.angle_noise * noise[0], controller.angle_step)
    bay = jnp.asarray(controller.bay)
    kelvin = bay + jnp.asarray(controller.kelvin_gain) * (loop.sensor - bay)
    kelvin = kelvin + controller.kelvin_bias + controller.kelvin_noise * noise[1:]
    kelvin = _quantised(kelvin, controller.kelvin_step)
    slow = loop.slow + (kelvin - loop.slow) * -jnp.expm1(-sample / controller.filter_time)
    rising = (kelvin - slow) / controller.filter_time

    error = asked.angle - angle
    resting = asked.rests > 0.5
    beyond = jnp.where(resting, -asked.way * error, 0.0)  # overshoot of the command
    back = jnp.where(beyond > controller.switch_band, 1.0, loop.turned)
    turned = jnp.where(resting & (beyond > -controller.switch_band), back, 0.0)
    way = asked.way * (1.0 - 2.0 * turned)
    alone = jnp.all(side == side[0])
    drives = alone | (side == asked.way)
    heats = side == way
    hot, hot_slope = _of_table(jnp.asarray(controller.kelvin_heating), asked.angle, controller)
    cool, cool_slope = _of_table(jnp.asarray(controller.kelvin_cooling), asked.angle, controller)
    lead = jnp.where(heats, hot, cool)
    _, hot_here = _of_table(jnp.asarray(controller.kelvin_heating), angle, controller)
    _, cool_here = _of_table(jnp.asarray(controller.kelvin_cooling), angle, controller)
    slope = jnp.clip(jnp.abs(jnp.where(heats, hot_here, cool_here)), FLATTEST, STEEPEST)
    capacity, _ = _of_table(jnp.asarray(controller.capacity), angle, controller)

    shared = jnp.max(jnp.where(drives, slope, 0.0))
    working = jnp.where(jnp.abs(error) > controller.dead_band, error, 0.0) * shared
    upwards = jnp.max(jnp.where(drives, side, -1.0))  # way in which more heat turns the wing
    grow = upwards * working / controller.position_time
    wanted = lead + loop.integral + upwards * working * (
        controller.temperature_time / controller.position_time
    )
    reference = jnp.where(drives, jnp.minimum(wanted, controller.kelvin_max), NEVER)
    excess = jnp.maximum(reference - bay, 0.0)
    loss = jnp.asarray(controller.loss)
    ahead = jnp.where(heats, hot_slope, cool_slope) * asked.rate
    gain = capacity / controller.temperature_time
    power = excess * (loss[0] + loss[1] * excess) + capacity * ahead
    power = power + gain * (reference - kelvin - controller.lead_time * rising)
    given = jnp.where(drives, jnp.clip(power, 0.0, limit), 0.0)

    back_to = jnp.min(jnp.where(drives, (given - power) / gain, jnp.inf))
    forth = jnp.max(jnp.where(drives, (given - power) / gain, -jnp.inf))
    off = jnp.where(back_to < 0.0, back_to, jnp.maximum(forth, 0.0))
    capped = jnp.any(drives & (wanted > controller.kelvin_max))
    stuck = ((off < 0.0) | capped) & (grow > 0.0) | (off > 0.0) & (grow < 0.0)
    calm = jnp.where(stuck, 0.0, grow)
    integral = loop.integral + sample * jnp.where(controller.anti_windup > 0.5, calm, grow)

    held = _holds(loop, asked, angle, state, plant, controller)
    given = jnp.where((held > 0.5) & resting, 0.0, given)
    new = loop._replace(slow=slow, power=given, integral=integral, turned=turned, held=held)
    kept = asked.acts > 0.5
    return Loop(*(jnp.where(kept, after, before) for after, before in zip(new, loop, strict=True)))


def _holds(
    loop: Loop, asked: Asked, angle: Array, state: MotionState, plant: MotionPlant,
    controller: Controller,
) -> Array:  # fmt: skip
    """Whether the lock or brake holds: it grips at its angle at rest, and lets go unloaded.

    A lock under load cannot be drawn: it waits until tubes and load together turn the asked way.
    """
    low = jnp.abs(asked.angle - controller.lock_low) < controller.lock_band
    high = jnp.abs(asked.angle - controller.lock_high) < controller.lock_band
    here = ((low | high) & (controller.locks > 0.5)) | (controller.brakes > 0.5)
    there = jnp.abs(asked.angle - angle) < controller.lock_band
    grips = here & there & (asked.rests > 0.5)
    mean = jnp.sum(plant.wall_share * state.stress, axis=-1)
    arm = plant.gear_ratio * plant.torque_per_stress * jnp.asarray(plant.torque_count)
    place = (state.angle - plant.load_angle) / plant.load_step
    index = jnp.clip(jnp.floor(place), 0.0, jnp.asarray(plant.load_steady).shape[0] - 2.0)
    load = plant.load_factor * jnp.take(jnp.asarray(plant.load_steady), index.astype(int))
    net = load + jnp.sum(jnp.asarray(plant.side) * arm * mean)
    rated = jnp.sum(arm) * 100e6
    free = (asked.way * net > -RELEASE * rated) & (jnp.abs(asked.angle - angle) > 1e-4)
    return jnp.where(loop.held > 0.5, jnp.where(free & ~grips, 0.0, 1.0), grips * 1.0)
