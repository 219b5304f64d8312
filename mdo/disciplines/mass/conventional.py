"""Conventional baselines at the same job: geared electric hinge and hydraulic vane actuator.

All masses are for the AIRCRAFT (two hinges moving together), basic, without growth and without the
lock: the same lock and the same growth row are added to SMA system and baseline alike. Hinge, wing
structure and fairing are common to all concepts and in none.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.mass.conventional_assumptions import BaselineAssumptions
from mdo.disciplines.smooth import blended_max

HINGES = 2.0  # of an aircraft; a bench has one


class GearedHinge(NamedTuple):
    """Geared electric hinge, aircraft: lines and sum [kg], peak electrical power [W], energy [J].

    The first six fields are the lines of the sum.
    """

    gear_motor_mass: Array
    brake_mass: Array
    no_back_mass: Array
    housing_mass: Array
    controller_mass: Array
    source_mass: Array
    geared_basic_mass: Array
    geared_peak_power: Array
    geared_fold_energy: Array


class HydraulicHinge(NamedTuple):
    """Hydraulic vane actuators, aircraft: local mass, mass with its share of the system [kg]."""

    swept_volume: Array
    shell_mass: Array
    fluid_mass: Array
    hydraulic_local_mass: Array
    hydraulic_system_mass: Array
    hydraulic_peak_power: Array


def geared_hinge(
    *,
    peak_moment: ArrayLike,
    travel: ArrayLike,
    fold_time: ArrayLike,
    baseline: BaselineAssumptions,
    assemblies: ArrayLike = HINGES,
) -> GearedHinge:
    r"""Mass and power of a geared electric hinge, anchored form.

    .. math:: m = T/TD, \quad P = 1.5\,T\theta/(t\,\eta_g\eta_m)

    Parameters
    ----------
    peak_moment
        Limit hinge moment T of one wing that the actuator moves [N*m], any shape; the sign is
        ignored.
    travel
        Fold angle :math:`\theta` [rad].
    fold_time
        Time t of that motion [s], above zero.
    baseline
        Assumptions; the torque density TD is uncertain by a factor of 1.6 both ways.
    assemblies
        Hinges that move together [1].

    Returns
    -------
    GearedHinge
        Masses [kg], power [W], energy [J] of both hinges.

    Notes
    -----
    Gear and motor together are ``T/TD``; TD is per kilogram of gear AND motor, so no motor mass is
    added to it. Controller and source follow the peak electrical power. The least controller mass
    (0.3 kg) is blended in over 0.03 kg, per hinge.

    Examples
    --------
    80 N*m at 80 N*m/kg through 1 rad in 10 s, efficiency 0.6 x 0.8 (hand: 2 kg, 2 x 12/0.48 W):

    >>> from types import SimpleNamespace
    >>> plain = SimpleNamespace(gear_efficiency=0.6, motor_efficiency=0.8, speed_peak_factor=1.5,
    ...     torque_density=80.0, controller_mass_min=0.3, controller_specific_mass=1e-3,
    ...     brake_share=0.2, no_back_share=0.1, housing_share=0.15, source_specific_mass=1e-3)
    >>> hinge = geared_hinge(peak_moment=80.0, travel=1.0, fold_time=10.0, baseline=plain)
    >>> float(hinge.gear_motor_mass), float(hinge.geared_peak_power)
    (2.0, 50.0)

    References
    ----------
    Derived; torque density and shares are judgement (no source).
    """
    hinges, moment = jnp.asarray(assemblies), jnp.abs(peak_moment)
    work = moment * jnp.abs(travel)
    efficiency = jnp.asarray(baseline.gear_efficiency) * baseline.motor_efficiency
    speed = jnp.asarray(baseline.speed_peak_factor) / jnp.maximum(fold_time, 1e-3)
    power = speed * work / efficiency
    gear_motor = moment / jnp.asarray(baseline.torque_density)
    floor = jnp.asarray(baseline.controller_mass_min)
    controller = blended_max(baseline.controller_specific_mass * power, floor, 0.1 * floor)
    shares = (1.0, baseline.brake_share, baseline.no_back_share, baseline.housing_share)
    gear, brake, no_back, housing = (jnp.asarray(hinges * k * gear_motor) for k in shares)
    source = jnp.asarray(hinges * baseline.source_specific_mass * power)
    return GearedHinge(
        gear_motor_mass=gear,
        brake_mass=brake,
        no_back_mass=no_back,
        housing_mass=housing,
        controller_mass=hinges * controller,
        source_mass=source,
        geared_basic_mass=gear + brake + no_back + housing + hinges * controller + source,
        geared_peak_power=hinges * power,
        geared_fold_energy=hinges * work / efficiency,
    )


def hydraulic_hinge(
    *,
    peak_moment: ArrayLike,
    travel: ArrayLike,
    fold_time: ArrayLike,
    run_length: ArrayLike,
    baseline: BaselineAssumptions,
    assemblies: ArrayLike = HINGES,
) -> HydraulicHinge:
    r"""Mass of hydraulic vane actuators, alone and with their share of the system.

    .. math:: V = T\theta/(p\,\eta), \quad m_{shell} = 2\rho V p/\sigma

    Parameters
    ----------
    peak_moment
        Limit hinge moment T of one wing that the actuator moves [N*m], any shape; the sign is
        ignored.
    travel
        Fold angle :math:`\theta` [rad].
    fold_time
        Time of that motion [s], above zero.
    run_length
        One way, pump to hinge [m].
    baseline
        Assumptions.
    assemblies
        Hinges that move together [1].

    Returns
    -------
    HydraulicHinge
        Swept volume [m**3], masses [kg], power [W] of both hinges.

    Notes
    -----
    Actuator = bare shell x factor, fluid and valve; the system adds supply and return lines and a
    share of the pump.

    Examples
    --------
    565 N*m through 90 deg at 20.7 MPa, efficiency 0.85, 250 MPa (hand: 50.4 cm3, fluid 42.9 g; two
    of each):

    >>> from types import SimpleNamespace
    >>> vane = SimpleNamespace(hydraulic_pressure=20.7e6, hydraulic_efficiency=0.85,
    ...     hydraulic_allowable=250e6, hydraulic_shell_density=7850.0,
    ...     hydraulic_fluid_density=850.0, speed_peak_factor=1.5, hydraulic_shell_factor=2.5,
    ...     hydraulic_valve_mass=0.6, hydraulic_line_mass=0.3, hydraulic_pump_specific_mass=0.8e-3)
    >>> pair = hydraulic_hinge(peak_moment=565.0, travel=jnp.pi / 2, fold_time=60.0, run_length=5.0,
    ...     baseline=vane)
    >>> float(pair.swept_volume) / 2 * 1e6, float(pair.fluid_mass) / 2 * 1e3
    (50.4, 42.9)

    References
    ----------
    Derived (thin shell under pressure); factors are judgement.
    """
    hinges, work = jnp.asarray(assemblies), jnp.abs(peak_moment) * jnp.abs(travel)
    pressure = jnp.asarray(baseline.hydraulic_pressure)
    volume = work / (pressure * baseline.hydraulic_efficiency)
    stress = jnp.asarray(baseline.hydraulic_allowable)
    shell = 2.0 * jnp.asarray(baseline.hydraulic_shell_density) * volume * pressure / stress
    fluid = jnp.asarray(baseline.hydraulic_fluid_density) * volume
    speed = jnp.asarray(baseline.speed_peak_factor) / jnp.maximum(fold_time, 1e-3)
    power = speed * work / baseline.hydraulic_efficiency
    actuator = jnp.asarray(baseline.hydraulic_shell_factor) * shell + fluid
    local = actuator + baseline.hydraulic_valve_mass
    lines = 2.0 * jnp.asarray(baseline.hydraulic_line_mass) * jnp.asarray(run_length)
    pump = jnp.asarray(baseline.hydraulic_pump_specific_mass) * power
    return HydraulicHinge(
        swept_volume=hinges * volume,
        shell_mass=hinges * shell,
        fluid_mass=hinges * fluid,
        hydraulic_local_mass=hinges * local,
        hydraulic_system_mass=hinges * (local + lines + pump),
        hydraulic_peak_power=hinges * power,
    )
