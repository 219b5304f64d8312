"""Discipline entry `comparison`: the conventional hinges that would do the same job.

Fair comparison: the same legs with the same moments, angles and times both ways, the same torque
margin, folds of a sortie, lock, hinge sensors, fasteners and growth row, each with its share of the
source. Hinge, wing structure and fairing are in none.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.electric.assumptions import PowerAssumptions
from mdo.disciplines.electric.wiring import wire_mass
from mdo.disciplines.mass.assumptions import MassAssumptions
from mdo.disciplines.mass.conventional import geared_classes, geared_hinge, hydraulic_hinge
from mdo.disciplines.mass.conventional_assumptions import BaselineAssumptions
from mdo.disciplines.mass.growth import MassClasses, growth_mass, growth_rates
from mdo.disciplines.mass.mechanism import fastener_mass, sensor_mass
from mdo.disciplines.records import GEARED_LINES, LOCK, WINGS, Legs, Requirements, Supply

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
        runs over.
    overrun_moment
        Least resisting moment [N*m], (legs, angles); what runs over goes through gear or vane to
        the no-back.
    fold_angle
        Fold angle [rad], (legs, angles).
    travel_low, travel_high
        Ends of the travel of all legs, trim included [rad]: a vane sweeps it.
    mass_lines
        Basic lines of the SMA actuator [kg]; its lock is everyone's lock.
    bundle_length, bundle_height, bundle_width
        Envelope of the bundle of one wing [m].
    legs, supply, requirements, mass_assumptions, power_assumptions, baseline
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
    a = mass_assumptions
    moves = jnp.asarray(legs.moves)
    resisting = jnp.maximum(required_moment, 0.0)
    factored = jnp.max(resisting, axis=-1) * (1.0 + jnp.asarray(legs.torque_margin_required))
    works = jnp.maximum(moves, jnp.asarray(legs.holds))
    running = jnp.max(moves * jnp.max(-overrun_moment, axis=-1))
    moment = jnp.maximum(jnp.max(works * factored), requirements.overrun_factor * running)
    travel = jnp.abs(jnp.asarray(legs.angle_to) - jnp.asarray(legs.angle_from))
    time = jnp.maximum(jnp.asarray(legs.time_limit) - requirements.dead_time, MIN_TIME)
    # the moment sizes the gear once; power follows the leg with the largest moment x travel / time
    demand = moves * factored * travel / time
    hardest = jnp.argmax(demand)
    work = demand[hardest] * time[hardest]
    # same work and time at the moment that sizes the gear: a shorter travel
    travel_at_moment = work / jnp.maximum(moment, 1e-9)
    geared = geared_hinge(
        peak_moment=moment, travel=travel_at_moment, fold_time=time[hardest], baseline=baseline
    )
    lock = mass_lines[LOCK]
    sensors = WINGS * sensor_mass(0.0, a)
    own = jnp.stack(geared[:6])
    fasteners = fastener_mass(jnp.sum(own[:4]) + lock + sensors, a)
    classes = geared_classes(geared)
    classes = classes._replace(
        mechanisms=classes.mechanisms + lock, instrumentation=sensors, brackets=fasteners
    )
    lines = jnp.concatenate([own, jnp.stack([lock, sensors, fasteners])])
    mass = jnp.sum(lines) + growth_mass(classes, a)
    efficiency = jnp.asarray(baseline.gear_efficiency) * baseline.motor_efficiency
    leg_work = jnp.abs(jnp.trapezoid(resisting, fold_angle, axis=-1)) * moves
    returning = jnp.asarray(legs.is_return)
    sortie = jnp.asarray(supply.folds_per_sortie) * (
        jnp.max(leg_work * (1.0 - returning)) + jnp.max(leg_work * returning)
    )
    swept = travel_high - travel_low
    fluid = hydraulic_hinge(
        peak_moment=moment,
        travel=swept,
        fold_time=swept * time[hardest] / jnp.maximum(travel_at_moment, 1e-9),
        run_length=supply.run_length,
        baseline=baseline,
    )
    local = fluid.hydraulic_local_mass
    system = fluid.hydraulic_system_mass - local
    fluid_fasteners = fastener_mass(local + lock + sensors, a)
    zero = jnp.zeros_like(local)

    def grown(mechanisms: Array, structure: Array) -> Array:
        parts = MassClasses(
            structure=structure,
            brackets=fluid_fasteners,
            battery=zero,
            thermal=zero,
            mechanisms=mechanisms + lock,
            harness=zero,
            instrumentation=sensors,
            electronics=zero,
        )
        basic = mechanisms + structure + lock + sensors + fluid_fasteners
        return basic + growth_mass(parts, a)

    envelope = WINGS * bundle_length * bundle_height * bundle_width
    return Comparison(
        baseline_moment=moment,
        geared_lines=lines,
        geared_growth=lines * growth_rates(GEARED_LINES.values(), own[4], a),
        least_wire_mass=WINGS
        * wire_mass(
            area=power_assumptions.wire_area_min,
            loop_length=2.0 * jnp.asarray(supply.run_length),
            density=power_assumptions.wire_density,
            insulation_factor=power_assumptions.wire_insulation_factor,
            installation_factor=power_assumptions.wire_installation_factor,
        ),
        geared_mass=mass,
        geared_power=geared.geared_peak_power,
        geared_sortie_energy=WINGS * sortie / efficiency,
        geared_volume=jnp.sum(own[:4]) / jnp.asarray(baseline.packing_density),
        hydraulic_mass=grown(local, system),
        hydraulic_mass_local=grown(local, zero),
        hydraulic_power=fluid.hydraulic_peak_power,
        actuator_volume=envelope,
    )
