"""Records of the fold in time: the plant of one wing, its state, what drives it, what comes out.

K groups of tubes (a set, or a part of one with a fault of its own), C cells through the wall of a
tube, in order from the heater. All faults, scatter and choices are numbers, so that one compiled
step serves every plant of the same K and C, and `vmap` runs thousands at once.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from jax import Array

from mdo.disciplines.records import Alloy

Number = Any  # an array of JAX within a compiled step, of NumPy or a float outside


class MotionPlant(NamedTuple):
    """One wing as it moves: tubes, transmission, load, heat, supply.

    Tubes. alloy; transformation_shift (K,) added to all transformation temperatures of a group [K];
    wall_ratio (C,): radius over r_w, wall_share (C,): part in the mean stress [1];
    strain_per_twist [1/rad] at r_w; torque_per_stress [m3] of one tube; count and torque_count (K,)
    tubes that take heat, and that hold torque [1].
    Transmission. side (K,): 1 pushes up, -1 down; gear_ratio [1]; pre_twist (K,) [rad] at
    start_angle (K,) [rad]; drive_loss, drag_loss: share of torque lost driving and dragged [1];
    compliance [rad] of tube twist per stress [1/Pa]; lash [rad], of tube twist.
    Load, over uniform angles from load_angle by load_step [rad]: load_steady, load_air, load_mass,
    friction (A,) [N*m], the second and third half widths of what air and mass do either way;
    damping [N*m*s/rad], inertia [kg*m**2]; friction_factor, load_factor [1]; stop_low, stop_high.
    Heat, of one tube. heater_capacity, cell_capacity (C,) [J/K], cell_latent (C,) [J];
    gap (3,): conductance heater to wall [W/K], quadratic in (T - 400 K)/100 K; gap_factor [1];
    half_inner, half_outer [K/W]: from cell to surface; wall_conductance (C-1,) [W/K];
    loss_at_heater, 1 for a wrap; loss (2, M): loss to the bay [W/K] by its excess, steps of 10 K,
    at loss_bay [K], and its slope with the bay [W/K**2]; film_factor [1]; beside (K, K) [W/K]
    between groups; bay_capacity [J/K], bay_conductance [W/K] of the wing's bay;
    outside_temperature [K].
    Supply. heater_power (K,) nominal, one tube [W]; heater_factor (K,), 0: open; stuck_on (K,);
    voltage_power: power follows the voltage to this power; power_available [W] of the wing;
    sag [1/W]: resistance of the supply over the square of its nominal voltage and over the share
    of the wing; at_once: groups that may draw full power together; in_order, 1: the first group is
    given what it asks for, the next one what is left.
    jammed_from, dead_from [s]: times from which the panel is stuck, and the supply lost.
    """

    alloy: Alloy
    transformation_shift: Number
    wall_ratio: Number
    wall_share: Number
    strain_per_twist: Number
    torque_per_stress: Number
    count: Number
    torque_count: Number
    side: Number
    gear_ratio: Number
    pre_twist: Number
    start_angle: Number
    drive_loss: Number
    drag_loss: Number
    compliance: Number
    lash: Number
    load_angle: Number
    load_step: Number
    load_steady: Number
    load_air: Number
    load_mass: Number
    friction: Number
    damping: Number
    inertia: Number
    friction_factor: Number
    load_factor: Number
    stop_low: Number
    stop_high: Number
    heater_capacity: Number
    cell_capacity: Number
    cell_latent: Number
    gap: Number
    gap_factor: Number
    half_inner: Number
    half_outer: Number
    wall_conductance: Number
    loss_at_heater: Number
    loss: Number
    loss_bay: Number
    film_factor: Number
    beside: Number
    bay_capacity: Number
    bay_conductance: Number
    outside_temperature: Number
    heater_power: Number
    heater_factor: Number
    stuck_on: Number
    voltage_power: Number
    power_available: Number
    sag: Number
    at_once: Number
    in_order: Number
    jammed_from: Number
    dead_from: Number


class MotionState(NamedTuple):
    """State of one wing.

    heater (K,), cells (K, C), bay [K]; fraction, transformed (K, C) [1], stress (K, C) [Pa];
    angle [rad], rate [rad/s]; twist_strain (K,) at r_w [1]; time [s].
    """

    heater: Array
    cells: Array
    bay: Array
    fraction: Array
    transformed: Array
    stress: Array
    angle: Array
    rate: Array
    twist_strain: Array
    time: Array


class Drive(NamedTuple):
    """What acts in a step: power of a tube of each group (K,) [W]; air, mass [1]; held.

    held: last part of the step in which lock, brake or a jam holds the panel, 0 to 1 [1].
    """

    power: Array
    air: Array
    mass: Array
    held: Array


class Flows(NamedTuple):
    """What flowed in one step [J], of the wing: into heaters, out of the bay, work on the tubes."""

    given: Array
    lost: Array
    work: Array


class Ledger(NamedTuple):
    """Energy of a run [J], of the wing: heaters, out of the bay, work on tubes, stored at its end.

    ``residual`` is what does not close over the energy that went in or out [1].
    """

    given: Array
    lost: Array
    work: Array
    stored: Array
    residual: Array


class MotionHistory(NamedTuple):
    """Course of one wing, (N,) over steps, by group (N, K); the state at the end of each step.

    time [s]; fold_angle [rad], fold_rate [rad/s]; torque: moment of each group at the hinge
    without its losses, load_moment [N*m], up positive; tube_temperature: mean of the wall,
    heater_temperature, sensor_temperature, bay_temperature [K]; heater_power of each group [W];
    martensite: mean of the wall [1]; outer_stress: largest of the cells [Pa]; residual: largest
    miss of the step, strain in units of 0.01, temperatures of 1 K, moments of the rated one [1].
    ledger: of the whole run.
    """

    time: Array
    fold_angle: Array
    fold_rate: Array
    torque: Array
    load_moment: Array
    tube_temperature: Array
    heater_temperature: Array
    sensor_temperature: Array
    heater_power: Array
    martensite: Array
    outer_stress: Array
    bay_temperature: Array
    residual: Array
    ledger: Ledger
