"""Records of the controller of the fold: what it knows, what it is asked, what it keeps."""

from __future__ import annotations

from typing import NamedTuple

from jax import Array

from mdo.disciplines.motion.records import Number


class Controller(NamedTuple):
    """What the controller knows and how it is set; K groups, A angles of its tables.

    Model, of one tube. table_angle, table_step [rad]; kelvin_heating, kelvin_cooling (K, A):
    temperature at an angle on either branch [K]; heat_up, heat_down (K, A): that turns the wing by
    warming and by cooling [J/rad]; heat_taken (K, A): latent, from the low end to an angle [J];
    capacity [J/K] of the wall, heater_capacity [J/K], heater_conductance [W/K]; loss (2,):
    conductance to the bay [W/K] and its slope by the excess [W/K**2]; bay [K].
    Rule. temperature_time, position_time [s]: of both loops; caution [K]: before a branch;
    kelvin_max [K]; anti_windup: 1 or 0; dead_band, switch_band [rad]: within the first the wing
    rests, beyond the second an overshoot is taken back.
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
    heat_up: Number
    heat_down: Number
    heat_taken: Number
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


class Loop(NamedTuple):
    """State of the controller, by group (K,) but for the scalars.

    sensor, heater_sensor [K]; above: what the heater is above its wall, reckoned from the power
    given [K]; power of a tube [W]; heat: what a tube is expected to hold, from what flowed into it
    [J]; missing: loss that the model lacks [W]; rest: temperature that it rests at [K]; rests:
    1 while the wing is left alone; most: what was left to turn before it moved [rad]; turned: 1
    while an overshoot is taken back; tripped: 1 or 0; held: last part of the sample in which a lock
    or brake holds [1]; angle: measured in the last sample [rad].
    """

    sensor: Array
    heater_sensor: Array
    above: Array
    power: Array
    heat: Array
    missing: Array
    rest: Array
    rests: Array
    most: Array
    turned: Array
    tripped: Array
    held: Array
    angle: Array


class Asked(NamedTuple):
    """One sample: commanded angle, rate, way, rests, noise, whether the controller acts."""

    angle: Array
    rate: Array
    way: Array
    rests: Array
    noise: Array
    acts: Array
