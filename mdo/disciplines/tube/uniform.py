"""Tube sets at the hinge, fidelity `uniform`: what each leg demands of stress and strain.

One uniform shear stress per tube, closed form. At a given stress and temperature the strain of a
tube is explicit and rises with the stress, so "the available moment reaches the factored required
moment" is the same statement as "the strain at the stress that the factored requirement needs does
not exceed the twist that is left". The optimiser works on the second form: every leg and angle is a
row, none is hidden behind a maximum. The exact margin A/R - 1, for the report, solves the stress.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.levels import TubeLevel
from mdo.disciplines.records import Alloy, Choices, Legs, real_legs
from mdo.disciplines.smooth import blended_max, blended_min, smooth_max, smooth_min
from mdo.disciplines.tube import hot, phases, sma, torsion
from mdo.disciplines.tube.levers import factored, levers, stress_cap
from mdo.disciplines.tube.record import TubeDemand, TubeStates
from mdo.disciplines.tube.roles import OPPOSED
from mdo.disciplines.tube.travel import pick, set_twist, spring_moment_over_travel
from mdo.disciplines.tube.uniform_answer import uniform_answer

STRESS_SCALE = 100e6  # [Pa] order of the stresses, for the smooth extremes


NEVER = 1e9  # [Pa] stand-in of a leg that does not count in a smooth minimum


class ReturnStress(NamedTuple):
    """Smallest stress under which each set is cooled, and the same over all load returns."""

    per_set: Array
    by_load: Array


def smallest_return_stress(
    *,
    pushes_up: Array,
    heated: Array,
    returned_by_load: Array,
    legs: Legs,
    choices: Choices,
    load_stress: Array,
    cold_stress: Array,
) -> ReturnStress:
    """Smallest shear stress during the return of each set [Pa]; 0 where a set has no return.

    Parameters
    ----------
    pushes_up, heated, returned_by_load : who drives, true or false, (legs,)
    legs, choices : which legs are returns, configuration and return mode
    load_stress : stress of the tubes in legs returned by load or spring, (legs, angles)
    cold_stress : stress of the cold set that the driver twists, (legs, angles)
    """
    real = real_legs(legs, load_stress)
    by_load = smooth_min(
        jnp.where(returned_by_load[:, None], load_stress, NEVER).ravel(),
        scale=STRESS_SCALE,
        axis=0,
        where=real.ravel(),
    )
    by_load = jnp.where(by_load > NEVER / 2, 0.0, by_load)
    cooled = heated & (jnp.asarray(legs.is_return) > 0.5)
    masks = jnp.stack([cooled & ~pushes_up, cooled & pushes_up])[:, :, None]
    by_set = smooth_min(
        jnp.where(masks, cold_stress[None], NEVER).reshape(2, -1),
        scale=STRESS_SCALE,
        axis=1,
        where=jnp.stack([real.ravel()] * 2),
    )
    under_load = jnp.asarray(choices.return_mode) < 0.5
    by_set = jnp.where(under_load & (by_set < NEVER / 2), by_set, 0.0)
    opposed = jnp.asarray(choices.configuration) == OPPOSED
    return ReturnStress(jnp.where(opposed, by_set, by_load), by_load)


def dragging_stress(strain: Array, alloy: Alloy) -> Array:
    """Stress of a cold tube that the others unwind from where it stands [Pa].

    Elastic (G_M) up to the stress that finishes detwinning, then flat: the upper bound of what it
    can resist before its martensite is reoriented the other way. Corner rounded over 5 MPa.
    """
    plateau = jnp.asarray(alloy.detwinning_finish_stress) / phases.ROOT3
    return blended_min(alloy.martensite_shear_modulus * strain, plateau, 5e6)


def uniform_demand(
    *,
    tube_outer_radius: Array,
    wall_ratio: Array,
    tube_length: Array,
    tube_count: Array,
    operating_stress: Array,
    gear_ratio: Array,
    pre_twist: Array,
    hot_temperature: Array,
    spring_moment: Array,
    spring_rate: Array,
    fold_angle: Array,
    travel_low: Array,
    travel_high: Array,
    required_moment: Array,
    pushes_up: Array,
    heated: Array,
    returned_by_load: Array,
    transmission_efficiency: Array,
    legs: Legs,
    choices: Choices,
    alloy: Alloy,
) -> TubeDemand:
    """Stress and strain that each leg and angle demands of the sets (one wing).

    Parameters
    ----------
    tube_outer_radius, tube_length : [m]; wall_ratio t/ro; gear_ratio tube twist over fold angle
    tube_count, operating_stress [Pa], pre_twist [rad] : per set (up, down), shape (2,)
    hot_temperature : [K] at the end of heating
    spring_moment, spring_rate : [N*m], [N*m/rad] at the hinge (spring_return)
    fold_angle : [rad], shape (legs, angles)
    travel_low, travel_high : [rad]
    required_moment : R [N*m] at limit load, signed for the direction of the leg, (legs, angles)
    pushes_up, heated, returned_by_load : who drives each leg, 1 or 0, (legs,)
    transmission_efficiency : tube torque to hinge moment, sharing and joints included
    legs, choices, alloy : records

    Returns
    -------
    TubeDemand : stresses [Pa], strains at r_w, moments at the hinge [N*m]

    Notes
    -----
    In an opposed pair the other set imposes the cold strain, so what is locked in when a set starts
    to drive is the strain it has there less its elastic part; in the one-set forms it is H_cool at
    the smallest stress of all returns by load or spring.
    """
    section = torsion.section(tube_outer_radius, wall_ratio)
    opposed = jnp.asarray(choices.configuration) == OPPOSED
    retwist = jnp.where(opposed, choices.return_mode, 0.0)
    is_heated = heated > 0.5
    up = pushes_up[:, None] > 0.5
    lever = levers(
        section=section,
        tube_length=tube_length,
        gear_ratio=gear_ratio,
        efficiency=transmission_efficiency,
    )

    def strain_of(pushes_up: Array) -> Array:
        return lever.to_strain * set_twist(
            fold_angle=fold_angle,
            pushes_up=pushes_up,
            pre_twist=pre_twist,
            gear_ratio=gear_ratio,
            travel_low=travel_low,
            travel_high=travel_high,
        )

    driver_strain, other_strain = strain_of(up), strain_of(~up)
    dragged_strain = gear_ratio * lever.to_strain * jnp.abs(fold_angle - fold_angle[:, :1])
    columns = jnp.concatenate([other_strain, driver_strain[:, :1]], axis=1)
    cold_columns = sma.martensite_stress(columns, alloy, retwist)
    cold_stress, driver_cold_stress = cold_columns[:, :-1], cold_columns[:, -1]
    drag_stress = dragging_stress(dragged_strain, alloy)
    counts = jnp.asarray(choices.set_present) * tube_count
    driver_count = jnp.maximum(pick(counts, up), 1e-3)
    # a set unwound past its zero would push along: no credit for that
    resisting = blended_max(cold_stress, 0.0, 1e6)
    cold_moment = jnp.where(opposed, lever.drag * pick(counts, ~up) * resisting, 0.0)
    spring = spring_moment_over_travel(
        fold_angle=fold_angle,
        choices=choices,
        spring_moment=spring_moment,
        spring_rate=spring_rate,
        travel_low=travel_low,
        travel_high=travel_high,
    )
    internal = cold_moment + jnp.where(is_heated[:, None], spring, -spring)
    margin = jnp.asarray(legs.torque_margin_required)[:, None]
    asked = factored(required_moment, margin)
    demand = asked + internal
    operating_moment = required_moment + internal
    required_stress = demand / (lever.drive * driver_count)
    failed_stress = (operating_moment + lever.drag * drag_stress) / (
        lever.drive * jnp.maximum(driver_count - 1.0, 1e-3)
    )
    load_stress = -demand / (lever.drag * jnp.maximum(jnp.sum(counts), 1e-3))
    smallest = smallest_return_stress(
        pushes_up=pushes_up > 0.5,
        heated=is_heated,
        returned_by_load=returned_by_load > 0.5,
        legs=legs,
        choices=choices,
        load_stress=load_stress,
        cold_stress=cold_stress,
    )
    kinematic = driver_strain[:, 0] - driver_cold_stress / alloy.martensite_shear_modulus
    under_load = sma.transformation_strain_cooling(smallest.by_load, alloy)
    locked = jnp.where(opposed, kinematic, under_load)
    cooling = phases.phase_temperatures(smallest.per_set, alloy)
    operating_stress_of_leg = operating_moment / (lever.drive * driver_count)
    swept = jnp.abs(fold_angle[:, -1] - fold_angle[:, 0])
    leg_stress = smooth_max(operating_stress_of_leg, scale=STRESS_SCALE, axis=-1)
    leg_outer_stress = torsion.outer_stress(jnp.maximum(leg_stress, 0.0), section)
    stroke_strain = gear_ratio * swept * lever.to_strain
    mean_moment = jnp.mean((operating_moment[:, 1:] + operating_moment[:, :-1]) / 2, axis=-1)
    return TubeDemand(
        tube_strain=driver_strain,
        cold_moment=cold_moment,
        internal_moment=internal,
        factored_moment=asked,
        required_stress=required_stress,
        required_strain=hot.hot_strain(required_stress, hot_temperature, locked[:, None], alloy),
        failed_stress=failed_stress,
        failed_strain=hot.hot_strain(failed_stress, hot_temperature, locked[:, None], alloy),
        return_stress=load_stress,
        return_strain=sma.martensite_strain(load_stress, alloy, 0.0),
        return_needed_strain=other_strain,
        holding_moment=lever.drive * pick(counts, ~up) * cold_stress + jnp.abs(spring),
        locked_strain=locked,
        smallest_return_stress=smallest.per_set,
        cooling_start=cooling.martensite_start,
        cooling_finish=cooling.martensite_finish,
        leg_stress=leg_stress,
        leg_outer_stress=leg_outer_stress,
        leg_work_density=leg_outer_stress * stroke_strain,
        stroke_strain=stroke_strain,
        actuator_work=jnp.where(is_heated, mean_moment * swept / transmission_efficiency, 0.0),
        outer_stress_operating=torsion.outer_stress(operating_stress, section),
        outer_strain_max=pre_twist * tube_outer_radius / tube_length,
        rated_moment=lever.drive * operating_stress,
        stress_cap=stress_cap(section, alloy),
    )


def uniform_states(*, operating_stress: Array, hot_temperature: Array, alloy: Alloy) -> TubeStates:
    """Transformation temperatures of each set at its operating stress, shape (2,).

    Parameters
    ----------
    operating_stress : uniform shear stress of each set [Pa], shape (2,)
    hot_temperature : temperature at the end of heating [K]
    alloy : card

    Returns
    -------
    TubeStates : ``heated_fraction`` = 1 - xi on the heating envelope at the hot temperature
    """
    shifted = phases.phase_temperatures(operating_stress, alloy)
    return TubeStates(
        heating_start=shifted.austenite_start,
        heating_finish=shifted.austenite_finish,
        holding_start=shifted.martensite_start,
        heated_fraction=1.0
        - phases.martensite_fraction_heating(hot_temperature, operating_stress, alloy),
    )


LEVEL = TubeLevel(states=uniform_states, demand=uniform_demand, answer=uniform_answer)
