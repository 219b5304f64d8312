"""Discipline entry `comparison`: the conventional hinges that would do the same job.

Fair comparison: the same legs with the same moments, angles and times both ways, the same torque
margin, folds of a sortie, lock, hinge sensors, fasteners and growth row, each with its share of the
source. Hinge, wing structure and fairing are in none.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.electric.assumptions import PowerAssumptions
from mdo.disciplines.electric.wiring import wire_mass
from mdo.disciplines.mass.assumptions import MassAssumptions
from mdo.disciplines.mass.conventional import GearedHinge, geared_hinge, hydraulic_hinge
from mdo.disciplines.mass.conventional_assumptions import BaselineAssumptions
from mdo.disciplines.mass.growth import growth_mass, growth_rates
from mdo.disciplines.mass.mechanism import fastener_mass, sensor_mass
from mdo.disciplines.records import GEARED_LINES, LOCK, Choices, Legs, Requirements, Supply

MIN_TIME = 1.0  # s, of a motion


class Comparison(NamedTuple):
    """Conventional hinges of the AIRCRAFT beside the SMA actuator; masses with growth [kg].

    ``geared_lines`` (9,) are basic masses in the order of GEARED_LINES [kg], ``geared_growth`` (9,)
    the allowance on each; ``least_wire_mass`` [kg] is basic, of a wire of least area to each hinge;
    powers [W], sortie energy [J], ``baseline_moment`` [N*m]; ``actuator_volume`` is the envelope of
    the SMA bundles of both wings [m**3].
    """

    baseline_moment: Array
    geared_lines: Array
    geared_growth: Array
    least_wire_mass: Array
    geared_mass: Array
    geared_power: Array
    geared_sortie_energy: Array
    geared_volume: Array
    hydraulic_mass: Array
    hydraulic_mass_local: Array
    hydraulic_power: Array
    actuator_volume: Array


class _Demand(NamedTuple):
    """What sizes a conventional hinge: moment [N*m], travel at that moment [rad], its time [s]."""

    moment: Array
    travel: Array
    time: Array


def _demand(
    required_moment: Array, overrun_moment: Array, legs: Legs, requirements: Requirements
) -> _Demand:
    """Largest moment of all legs; the power is that of the leg that takes most.

    The moment sizes the gear once, the power follows the leg with the largest moment x travel /
    time: the same work and time at the moment that sizes the gear is a shorter travel.
    """
    moves = jnp.asarray(legs.moves)
    resisting = jnp.maximum(required_moment, 0.0)
    factored = jnp.max(resisting, axis=-1) * (1.0 + jnp.asarray(legs.torque_margin_required))
    works = jnp.maximum(moves, jnp.asarray(legs.holds))
    running = jnp.max(moves * jnp.max(-overrun_moment, axis=-1))
    moment = jnp.maximum(jnp.max(works * factored), requirements.overrun_factor * running)
    travel = jnp.abs(jnp.asarray(legs.angle_to) - jnp.asarray(legs.angle_from))
    time = jnp.maximum(jnp.asarray(legs.time_limit) - requirements.dead_time, MIN_TIME)
    power = moves * factored * travel / time
    hardest = jnp.argmax(power)
    work = power[hardest] * time[hardest]
    return _Demand(moment, work / jnp.maximum(moment, 1e-9), time[hardest])


def _geared_lines(geared: GearedHinge, lock: Array, sensors: Array, a: MassAssumptions) -> Array:
    """Mass lines of the geared hinge in the order of GEARED_LINES [kg]."""
    own = jnp.stack(geared[:6])
    fasteners = fastener_mass(jnp.sum(own[:4]) + lock + sensors, a)
    return jnp.concatenate([own, jnp.stack([lock, sensors, fasteners])])


def _with_growth(
    local: Array, shared: ArrayLike, lock: Array, sensors: Array, a: MassAssumptions
) -> Array:
    """Mass of a hydraulic hinge with lock, sensors, fasteners and growth [kg]."""
    fasteners = fastener_mass(local + lock + sensors, a)
    masses = {
        "structure": shared,
        "brackets": fasteners,
        "mechanisms": local + lock,
        "instrumentation": sensors,
    }
    basic: Array = local + shared + lock + sensors + fasteners
    return basic + growth_mass(masses, a)


def _sortie_work(required_moment: Array, fold_angle: Array, legs: Legs, supply: Supply) -> Array:
    """Work of the folds of a sortie at one hinge, the hardest fold and the hardest return [J]."""
    work = jnp.abs(jnp.trapezoid(jnp.maximum(required_moment, 0.0), fold_angle, axis=-1))
    work, returning = work * jnp.asarray(legs.moves), jnp.asarray(legs.is_return)
    hardest = jnp.max(work * (1.0 - returning)) + jnp.max(work * returning)
    return jnp.asarray(supply.folds_per_sortie) * hardest


def _least_wire(supply: Supply, assumed: PowerAssumptions) -> Array:
    """Mass of a wire of least area to one hinge and back [kg]."""
    return wire_mass(
        area=assumed.wire_area_min,
        loop_length=2.0 * jnp.asarray(supply.run_length),
        density=assumed.wire_density,
        insulation_factor=assumed.wire_insulation_factor,
        installation_factor=assumed.wire_installation_factor,
    )


def comparison(
    *,
    required_moment: Array,
    overrun_moment: Array,
    fold_angle: Array,
    travel_low: Array,
    travel_high: Array,
    mass_lines: Array,
    bundle_length: Array,
    bundle_height: Array,
    bundle_width: Array,
    legs: Legs,
    choices: Choices,
    supply: Supply,
    requirements: Requirements,
    mass_assumptions: MassAssumptions,
    power_assumptions: PowerAssumptions,
    baseline: BaselineAssumptions,
) -> Comparison:
    """Size a geared electric and a hydraulic hinge for the legs of the actuator.

    Parameters
    ----------
    required_moment
        Resisting moment of each leg at limit load [N*m], (legs, angles); negative where the load
        aids.
    overrun_moment
        Least resisting moment [N*m], (legs, angles); an aiding load goes through gear or vane to
        the no-back.
    fold_angle
        Fold angle [rad], (legs, angles).
    travel_low, travel_high
        Ends of the travel of all legs, trim included [rad]: a vane sweeps it.
    mass_lines
        Basic lines of the SMA actuator [kg]; its lock is everyone's lock.
    bundle_length, bundle_height, bundle_width
        Envelope of the bundle of one wing [m].
    legs, choices, supply, requirements, mass_assumptions, power_assumptions, baseline
        Records.

    Returns
    -------
    Comparison
        Masses [kg], powers [W], energy [J] and volumes [m**3] of the aircraft.

    Notes
    -----
    The hinge must give the factored moment ``R (1 + margin)``, as the SMA actuator must. Power is
    that of the leg that takes most, at the time that the requirement leaves after the dead time.
    Energy follows the work of each leg, not its peak. The geared envelope is its basic mass over a
    packing density.

    References
    ----------
    :mod:`mdo.disciplines.mass.conventional`; the rules of a fair comparison are judgement.
    """
    demand = _demand(required_moment, overrun_moment, legs, requirements)
    wings = jnp.asarray(choices.assemblies)
    geared = geared_hinge(
        peak_moment=demand.moment,
        travel=demand.travel,
        fold_time=demand.time,
        baseline=baseline,
        assemblies=wings,
    )
    lock, sensors = mass_lines[LOCK], wings * sensor_mass(0.0, mass_assumptions)
    lines = _geared_lines(geared, lock, sensors, mass_assumptions)
    growth = lines * growth_rates(GEARED_LINES.values(), lines[4], mass_assumptions)
    efficiency = jnp.asarray(baseline.gear_efficiency) * baseline.motor_efficiency
    work = _sortie_work(required_moment, fold_angle, legs, supply)
    swept = travel_high - travel_low
    fluid = hydraulic_hinge(
        peak_moment=demand.moment,
        travel=swept,
        fold_time=swept * demand.time / jnp.maximum(demand.travel, 1e-9),
        run_length=supply.run_length,
        baseline=baseline,
        assemblies=wings,
    )
    local = fluid.hydraulic_local_mass
    shared = fluid.hydraulic_system_mass - local
    envelope = wings * bundle_length * bundle_height * bundle_width
    return Comparison(
        baseline_moment=demand.moment,
        geared_lines=lines,
        geared_growth=growth,
        least_wire_mass=wings * _least_wire(supply, power_assumptions),
        geared_mass=jnp.sum(lines) + jnp.sum(growth),
        geared_power=geared.geared_peak_power,
        geared_sortie_energy=wings * work / efficiency,
        geared_volume=jnp.sum(lines[:4]) / jnp.asarray(baseline.packing_density),
        hydraulic_mass=_with_growth(local, shared, lock, sensors, mass_assumptions),
        hydraulic_mass_local=_with_growth(local, 0.0, lock, sensors, mass_assumptions),
        hydraulic_power=fluid.hydraulic_peak_power,
        actuator_volume=envelope,
    )
