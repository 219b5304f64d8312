"""Tube sets at the hinge, at any level: what each leg demands of stress and strain.

At a given mean stress and temperature the strain of a tube rises with the stress, so "the available
moment reaches the factored required moment" is the same statement as "the strain at the stress that
the factored requirement needs does not exceed the twist that is left". The optimiser works on the
second form: every leg and angle is a row, none is hidden behind a maximum. What differs between the
levels is the law of the section alone (:mod:`mdo.disciplines.tube.section_law`).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.records import Alloy, Choices, Legs, real_legs
from mdo.disciplines.smooth import blended_max, smooth_max, smooth_min
from mdo.disciplines.tube import phases, torsion
from mdo.disciplines.tube.levers import factored, levers, stress_cap
from mdo.disciplines.tube.record import TubeDemand
from mdo.disciplines.tube.roles import OPPOSED
from mdo.disciplines.tube.section_law import LawOf
from mdo.disciplines.tube.travel import pick, set_twist, spring_moment_over_travel

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


def demand_by(law_of: LawOf, name: str) -> Callable[..., TubeDemand]:
    """Demand of the legs by the law of a level, under a name of its own.

    The name, with the module of the law, tells the compiled chains of two levels apart.
    """

    def demand(
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
        tube_outer_radius, tube_length
            Outer radius and active length of a tube [m].
        wall_ratio
            Wall over outer radius [1].
        tube_count
            Tubes of each set (up, down) [1], shape (2,).
        operating_stress
            Mean stress that each set is built for [Pa], shape (2,).
        gear_ratio
            Tube twist over fold angle [1].
        pre_twist
            Twist of each set where it starts to drive [rad], shape (2,).
        hot_temperature
            Temperature at the end of heating [K].
        spring_moment
            Spring at the hinge where the travel starts [N*m] (spring_return).
        spring_rate
            Its rate [N*m/rad].
        fold_angle
            Fold angle [rad], shape (legs, angles).
        travel_low, travel_high
            Ends of the travel [rad].
        required_moment
            Required moment R at limit load, signed for the direction of the leg [N*m], shape
            (legs, angles).
        pushes_up, heated, returned_by_load
            Who drives each leg, 1 or 0 [1], shape (legs,).
        transmission_efficiency
            Tube torque to hinge moment, sharing and joints included [1].
        legs, choices, alloy
            Records.

        Returns
        -------
        TubeDemand
            Stresses [Pa], strains at r_w [1], moments at the hinge [N*m].

        Notes
        -----
        In an opposed pair the other set imposes the cold strain, so what is locked in when a set
        starts to drive is the strain it has there less its elastic part; in the one-set forms it is
        H_cool at the smallest stress of all returns by load or spring.

        References
        ----------
        Derived (definitions of the demand); the law of the section is the level's own.
        """
        section = torsion.section(tube_outer_radius, wall_ratio)
        law = law_of(section, wall_ratio, alloy)
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
        cold_stress = law.cold_stress(other_strain, retwist)
        drag_stress = law.drag(dragged_strain)
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
        # one call for all that cools under load: strain of each return, and what the least locks
        returned, formed = law.cold_under(jnp.append(load_stress.ravel(), smallest.by_load))
        locked = jnp.where(opposed, law.cold_lock(driver_strain[:, 0], retwist), formed[-1])
        cooling = phases.phase_temperatures(smallest.per_set, alloy)
        operating_stress_of_leg = operating_moment / (lever.drive * driver_count)
        swept = jnp.abs(fold_angle[:, -1] - fold_angle[:, 0])
        leg_stress = smooth_max(operating_stress_of_leg, scale=STRESS_SCALE, axis=-1)
        columns = [required_stress, failed_stress, jnp.maximum(leg_stress, 0.0)[:, None]]
        hot_strain, outer_stress = law.hot_under(
            jnp.concatenate(columns, axis=1), hot_temperature, locked[:, None]
        )
        required_strain, failed_strain = jnp.split(hot_strain[:, :-1], 2, axis=1)
        leg_outer_stress = outer_stress[:, -1]
        stroke_strain = gear_ratio * swept * lever.to_strain
        mean_moment = jnp.mean((operating_moment[:, 1:] + operating_moment[:, :-1]) / 2, axis=-1)
        return TubeDemand(
            tube_strain=driver_strain,
            cold_moment=cold_moment,
            internal_moment=internal,
            factored_moment=asked,
            required_stress=required_stress,
            required_strain=required_strain,
            failed_stress=failed_stress,
            failed_strain=failed_strain,
            return_stress=load_stress,
            return_strain=returned[:-1].reshape(load_stress.shape),
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

    demand.__module__ = law_of.__module__
    demand.__qualname__ = demand.__name__ = name
    return demand
