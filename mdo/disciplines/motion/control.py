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

from mdo.disciplines.motion.mechanics import load_moment
from mdo.disciplines.motion.records import MotionPlant, MotionState, Number

INTEGRAL_TIMES = 16.0  # of the position time: slow beside the lags that the expected course lacks
INTEGRAL_MOST = 0.05  # [rad] largest integral either way
LOSS_SHARE = 0.8  # of the loss that is made up for ahead: an overshoot is dear, a lack is learned
CLOSE = 0.026  # [rad] error beyond which the integral rests
LEAD = 0.0025  # [rad] most that the wing is expected ahead, where it takes most heat to turn
LEAD_MOST = 0.02  # [rad] and most of all
FAR, NEAR = 0.03, 0.5  # [rad] error beyond which, [K] before the branch until which it waits
RELEASE = 1e-3  # of the rated moment, below which a lock counts as unloaded


class Controller(NamedTuple):
    """What the controller knows and how it is set; K groups, A angles of its tables.

    Model, of one tube. table_angle, table_step [rad]; kelvin_heating, kelvin_cooling (K, A):
    temperature at an angle on either branch [K]; heat (K, A): that turns the wing [J/rad];
    capacity [J/K] of the wall, heater_capacity [J/K], heater_conductance [W/K]; loss (2,):
    conductance to the bay [W/K] and its slope by the excess [W/K**2]; bay [K].
    Rule. temperature_time, position_time [s]: of both loops; caution [K]: before a branch;
    kelvin_max [K]; anti_windup: 1 or 0; dead_band, switch_band [rad]: within the first the wing
    is left alone, beyond the second an overshoot is taken back.
    Sensors. angle_bias, angle_noise, angle_step [rad], angle_gain, kelvin_bias, kelvin_gain (K,),
    kelvin_noise, kelvin_step [K], sensor_lag [s]; gain 0: a sensor that reads nothing.
    Cut-off. cut_off [K] of the heater, cut_off_lag [s], cut_off_present.
    Hold. locks: at both ends of the range; brakes: anywhere; lock_low, lock_high [rad];
    lock_band [rad].
    """

    table_angle: Number
    table_step: Number
    kelvin_heating: Number
    kelvin_cooling: Number
    heat: Number
    capacity: Number
    heater_capacity: Number
    heater_conductance: Number
    loss: Number
    bay: Number
    temperature_time: Number
    position_time: Number
    caution: Number
    kelvin_max: Number
    anti_windup: Number
    dead_band: Number
    switch_band: Number
    angle_bias: Number
    angle_noise: Number
    angle_step: Number
    angle_gain: Number
    kelvin_bias: Number
    kelvin_gain: Number
    kelvin_noise: Number
    kelvin_step: Number
    sensor_lag: Number
    cut_off: Number
    cut_off_lag: Number
    cut_off_present: Number
    locks: Number
    brakes: Number
    lock_low: Number
    lock_high: Number
    lock_band: Number


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

    sensor, heater_sensor [K]; above: what the heater is above its wall, reckoned from the power
    given [K]; power of a tube [W]; expected: angle that the rule of the position loop foresees
    and integral of what the wing misses it by [rad]; turned: 1 while an overshoot is taken back;
    tripped, held: 1 or 0.
    """

    sensor: Array
    heater_sensor: Array
    above: Array
    power: Array
    expected: Array
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


def at_rest(state: MotionState, held: Array) -> Loop:
    """State of a controller that has just been switched on.

    Parameters
    ----------
    state
        Of the wing.
    held
        Whether a lock holds the panel, 1 or 0 [1].

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
    return Loop(near, state.heater, none, none, state.angle, none[0], none[0], none, held + none[0])


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
    """Angle [rad], temperature [K], what a tube loses at it [W] and what its heater holds [J]."""

    angle: Array
    kelvin: Array
    loss: Array
    stored: Array


def _measured(loop: Loop, asked: Asked, state: MotionState, controller: Controller) -> _Measured:
    angle = controller.angle_gain * state.angle + controller.angle_bias
    angle = _quantised(angle + controller.angle_noise * asked.noise[0], controller.angle_step)
    bay, sensors = jnp.asarray(controller.bay), controller
    kelvin = bay + jnp.asarray(sensors.kelvin_gain) * (loop.sensor - bay) + sensors.kelvin_bias
    kelvin = _quantised(kelvin + sensors.kelvin_noise * asked.noise[1:], sensors.kelvin_step)
    excess = jnp.maximum(kelvin - bay, 0.0)
    conductance = jnp.asarray(controller.loss)
    loss = LOSS_SHARE * excess * (conductance[0] + conductance[1] * excess)
    beyond = loop.above - loss / controller.heater_conductance
    return _Measured(angle, kelvin, loss, controller.heater_capacity * beyond)


def decide(
    loop: Loop, asked: Asked, state: MotionState, limit: Array, plant: MotionPlant,
    controller: Controller, sample: Array,
) -> Loop:  # fmt: skip
    r"""One sample of the controller.

    .. math:: u_\varphi = UA(T-T_b) + H\dot r + \frac{H (e + I) - C_h \Delta_h}{\lambda},\quad
        u_T = UA(T-T_b) + \frac{C (T_r - T) - C_h \Delta_h}{\lambda_T}

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
    H is the heat that turns the wing, :math:`C_h\Delta_h` what the heater holds beyond what flows
    through it steadily, reckoned from the power. Heater and tube without other lags give the poles
    -1/lambda and -1/tau of the heater, whatever lambda is. The integral is of what the wing misses
    the course ``(r - y)/lambda`` by, over 16 lambda, so it does not overshoot where the model is
    right; it is bounded, and begins anew where the heater is at a limit.

    References
    ----------
    Derived; reference thermal-power-mass, section 3.2; sma-tubes, section 1.4 (holding).
    """
    side = jnp.asarray(plant.side)
    seen = _measured(loop, asked, state, controller)
    error = asked.angle - seen.angle
    resting = asked.rests > 0.5
    overshot = jnp.where(resting, -asked.way * error, 0.0)
    back = jnp.where(overshot > controller.switch_band, 1.0, loop.turned)
    turned = jnp.where(overshot > 0.0, back, 0.0)
    # one set alone cools to come back; of a pair the other one pulls back
    drives = jnp.all(side == side[0]) | (side == asked.way * (1.0 - 2.0 * turned))
    ahead = jnp.where(drives, side * error, 0.0)  # (K,): what the group still has to turn

    heating, _ = _of_table(jnp.asarray(controller.kelvin_heating), seen.angle, controller)
    cooling, _ = _of_table(jnp.asarray(controller.kelvin_cooling), seen.angle, controller)
    heat, _ = _of_table(jnp.asarray(controller.heat), seen.angle, controller)
    calm = jnp.sign(ahead) * jnp.maximum(jnp.abs(ahead) - controller.dead_band, 0.0)
    wanted = heat * (calm + side * loop.integral) - seen.stored
    power = seen.loss + heat * side * asked.rate + wanted / controller.position_time

    def towards(kelvin: Array) -> Array:
        gap = controller.capacity * (kelvin - seen.kelvin) - seen.stored
        watts: Array = seen.loss + gap / controller.temperature_time
        return watts

    reached = jnp.minimum(heating, controller.kelvin_max) - controller.caution
    power = jnp.where(calm > 0.0, jnp.maximum(power, towards(reached)), power)
    falls = (calm < 0.0) & (~resting | (turned > 0.5))
    power = jnp.where(falls, jnp.minimum(power, towards(cooling + controller.caution)), power)
    power = jnp.minimum(power, towards(jnp.asarray(controller.kelvin_max)))
    given = jnp.where(drives, jnp.clip(power, 0.0, limit), 0.0)

    saved = jnp.asarray(controller.anti_windup) > 0.5
    stuck = jnp.any(drives & ((power > limit) | (power < 0.0))) | (turned > 0.5)
    short = seen.kelvin < heating - NEAR  # of the branch: nothing turns
    waits = jnp.any(drives & short & ((ahead > FAR) | (resting & (ahead < 0.0))))
    expected, learned = _learned(loop, asked, seen.angle, stuck | waits, controller, sample)
    most = jnp.where(saved, INTEGRAL_MOST, jnp.inf)
    integral = jnp.clip(loop.integral + learned, -most, most)
    held = _holds(loop, asked, seen.angle, state, plant, controller)
    there = jnp.abs(error) < controller.lock_band
    given = jnp.where((held > 0.5) & resting & there, 0.0, given)
    lag = controller.heater_capacity / controller.heater_conductance
    settled = given / controller.heater_conductance
    above = loop.above + (settled - loop.above) * -jnp.expm1(-sample / lag)
    new = loop._replace(
        above=above, power=given, expected=expected, integral=integral, turned=turned, held=held
    )
    kept = asked.acts > 0.5
    return Loop(*(jnp.where(kept, after, before) for after, before in zip(new, loop, strict=True)))


def _learned(
    loop: Loop, asked: Asked, angle: Array, rests: Array, controller: Controller, sample: Array
) -> tuple[Array, Array]:
    """Expected course, and what the integral grows by; both rest where told to."""
    expected = loop.expected + sample * asked.rate
    expected = expected + (asked.angle - expected) * -jnp.expm1(-sample / controller.position_time)
    saved = jnp.asarray(controller.anti_windup) > 0.5
    table = jnp.asarray(controller.heat)[0]
    heat, _ = _of_table(table[None], angle, controller)
    lead = jnp.where(saved, jnp.where(rests, 0.0, LEAD * jnp.max(table) / heat[0]), jnp.inf)
    lead = jnp.minimum(lead, jnp.where(saved, LEAD_MOST, jnp.inf))
    expected = jnp.clip(expected, angle - lead, angle + lead)
    grow = (expected - angle) / (INTEGRAL_TIMES * controller.position_time)
    error = jnp.abs(asked.angle - angle)
    near = (error < CLOSE) | ~(jnp.asarray(controller.anti_windup) > 0.5)
    grow = jnp.where((error > controller.dead_band) & near, grow, 0.0)
    return expected, sample * grow


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
    none = jnp.zeros(())
    load, _ = load_moment(state.angle, none, none, plant)
    net = load + jnp.sum(jnp.asarray(plant.side) * arm * mean)
    rated = jnp.sum(arm) * 100e6
    free = (asked.way * net > -RELEASE * rated) & (jnp.abs(asked.angle - angle) > 1e-4)
    return jnp.where(loop.held > 0.5, jnp.where(free & ~grips, 0.0, 1.0), grips * 1.0)
