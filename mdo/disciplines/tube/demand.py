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
from mdo.disciplines.tube.levers import Levers, factored, levers, stress_cap
from mdo.disciplines.tube.record import TubeDemand
from mdo.disciplines.tube.roles import OPPOSED
from mdo.disciplines.tube.section_law import LawOf, SectionLaw, by_law
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
    cooled = heated & (jnp.asarray(legs.is_return) + legs.other_cold + legs.other_warmed > 0.5)
    masks = jnp.stack([cooled & ~pushes_up, cooled & pushes_up])[:, :, None]
    # under no credited load: long cold, cooled free, or a trained set that pushes along
    free = jnp.maximum(choices.return_mode, jnp.asarray(legs.other_cold))[:, None]
    loaded = jnp.where(free > 0.5, 0.0, cold_stress)
    by_set = smooth_min(
        jnp.where(masks, loaded[None], NEVER).reshape(2, -1),
        scale=STRESS_SCALE,
        axis=1,
        where=jnp.stack([real.ravel()] * 2),
    )
    by_set = jnp.maximum(jnp.where(by_set < NEVER / 2, by_set, 0.0), 0.0)
    opposed = jnp.asarray(choices.configuration) == OPPOSED
    return ReturnStress(jnp.where(opposed, by_set, by_load), by_load)


class Tubes(NamedTuple):
    """Tubes of one wing and their law: what every moment and strain comes from."""

    law: SectionLaw
    lever: Levers
    counts: Array
    outer_radius: Array
    length: Array
    gear_ratio: Array
    pre_twist: Array


class Twists(NamedTuple):
    """Strains at r_w over each leg [1], (legs, angles): driver, other set, one failed tube."""

    driver: Array
    other: Array
    dragged: Array


def _twists(
    tubes: Tubes, fold_angle: Array, travel_low: Array, travel_high: Array, up: Array
) -> Twists:
    """Strains of the sets by the kinematics of the hinge."""

    def of_set(pushes_up: Array) -> Array:
        return tubes.lever.to_strain * set_twist(
            fold_angle=fold_angle,
            pushes_up=pushes_up,
            pre_twist=tubes.pre_twist,
            gear_ratio=tubes.gear_ratio,
            travel_low=travel_low,
            travel_high=travel_high,
        )

    turned = jnp.abs(fold_angle - fold_angle[:, :1])
    return Twists(of_set(up), of_set(~up), tubes.gear_ratio * tubes.lever.to_strain * turned)


def _cold_states(legs: Legs, choices: Choices) -> tuple[Array, Array]:
    """Whether the other set, and the driver when it was wound, are detwinned when cold; (legs,)."""
    pair = jnp.asarray(choices.configuration) == OPPOSED
    mode = jnp.asarray(choices.return_mode)
    return tuple(jnp.where(pair, jnp.maximum(mode, own), 0.0) for own in
                 (legs.other_cold, legs.wound_cold))  # type: ignore[return-value]  # fmt: skip


def _stresses(
    tubes: Tubes, twists: Twists, asked: Array, operating: Array, internal: Array, up: Array
) -> dict[str, Array]:
    """Mean stresses that moments at the hinge ask of the tubes [Pa]."""
    lever, count = tubes.lever, jnp.maximum(pick(tubes.counts, up), 1e-3)
    demand, drag = asked + internal, lever.drag * tubes.law.drag(twists.dragged)
    left = lever.drive * jnp.maximum(count - 1.0, 1e-3)
    return {
        "required_stress": demand / (lever.drive * count),
        "failed_stress": (operating + drag) / left,
        "return_stress": -demand / (lever.drag * jnp.maximum(jnp.sum(tubes.counts), 1e-3)),
        "leg_stress": smooth_max(operating / (lever.drive * count), scale=STRESS_SCALE, axis=-1),
    }


def _hot_strains(
    tubes: Tubes, stresses: dict[str, Array], temperature: Array, locked: Array
) -> dict[str, Array]:
    """Strains that the stresses need of hot tubes, and the outer stress of each leg."""
    leg = jnp.maximum(stresses["leg_stress"], 0.0)[:, None]
    columns = [stresses["required_stress"], stresses["failed_stress"], leg]
    strain, outer = tubes.law.hot_under(
        jnp.concatenate(columns, axis=1), temperature, locked[:, None]
    )
    required, failed = jnp.split(strain[:, :-1], 2, axis=1)
    return {
        "required_strain": required,
        "failed_strain": failed,
        "leg_outer_stress": outer[:, -1],
    }


def _life_and_work(
    tubes: Tubes, fold_angle: Array, operating: Array, outer_stress: Array, heated: Array
) -> dict[str, Array]:
    """Strain of each stroke, its work density for the life, and its work through `heated`."""
    swept = jnp.abs(fold_angle[:, -1] - fold_angle[:, 0])
    # beside the outer stress in the life: both at the outer fibre
    strain = tubes.gear_ratio * swept * tubes.outer_radius / tubes.length
    mean = jnp.mean((operating[:, 1:] + operating[:, :-1]) / 2, axis=-1)
    return {
        "stroke_strain": strain,
        "leg_work_density": outer_stress * strain,
        "actuator_work": heated * mean * swept,
    }


def tube_demand(
    law_of: LawOf,
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
    drag_efficiency: Array,
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
    drag_efficiency
        The same of tubes that are dragged, without sharing [1].
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
    lever = levers(
        section=section,
        tube_length=tube_length,
        gear_ratio=gear_ratio,
        efficiency=transmission_efficiency,
        drag_efficiency=drag_efficiency,
    )
    law = law_of(section, wall_ratio, alloy)
    counts = jnp.asarray(choices.set_present) * tube_count
    tubes = Tubes(law, lever, counts, tube_outer_radius, tube_length, gear_ratio, pre_twist)
    opposed = jnp.asarray(choices.configuration) == OPPOSED
    up = pushes_up[:, None] > 0.5
    twists = _twists(tubes, fold_angle, travel_low, travel_high, up)
    cold_other, cold_driver = _cold_states(legs, choices)
    cold_stress = law.cold_stress(twists.other, cold_other[:, None])
    # a set unwound past its zero would push along: no credit for that
    resisting = lever.drag * pick(counts, ~up) * blended_max(cold_stress, 0.0, 1e6)
    cold_moment = jnp.where(opposed, resisting, 0.0)
    spring = spring_moment_over_travel(
        fold_angle=fold_angle,
        choices=choices,
        spring_moment=spring_moment,
        spring_rate=spring_rate,
        travel_low=travel_low,
        travel_high=travel_high,
    )
    internal = cold_moment + jnp.where(heated[:, None] > 0.5, spring, -spring)
    asked = factored(required_moment, jnp.asarray(legs.torque_margin_required)[:, None])
    operating = required_moment + internal
    stresses = _stresses(tubes, twists, asked, operating, internal, up)
    load_stress = stresses["return_stress"]
    smallest = smallest_return_stress(
        pushes_up=pushes_up > 0.5,
        heated=heated > 0.5,
        returned_by_load=returned_by_load > 0.5,
        legs=legs,
        choices=choices,
        load_stress=load_stress,
        cold_stress=cold_stress,
    )
    # one call for all that cools under load: strain of each return, and what the least locks
    returned, formed = law.cold_under(jnp.append(load_stress.ravel(), smallest.by_load))
    locked = jnp.where(opposed, law.cold_lock(twists.driver[:, 0], cold_driver), formed[-1])
    strains = _hot_strains(tubes, stresses, hot_temperature, locked)
    cooling = phases.phase_temperatures(smallest.per_set, alloy)
    share = jnp.where(heated > 0.5, 1.0 / transmission_efficiency, 0.0)
    return TubeDemand(
        **stresses,
        **strains,
        **_life_and_work(tubes, fold_angle, operating, strains["leg_outer_stress"], share),
        tube_strain=twists.driver,
        cold_moment=cold_moment,
        internal_moment=internal,
        factored_moment=asked,
        return_strain=returned[:-1].reshape(load_stress.shape),
        return_needed_strain=twists.other,
        holding_moment=lever.drive * pick(counts, ~up) * cold_stress + jnp.abs(spring),
        locked_strain=locked,
        smallest_return_stress=smallest.per_set,
        cooling_start=cooling.martensite_start,
        cooling_finish=cooling.martensite_finish,
        outer_stress_operating=torsion.outer_stress(operating_stress, section),
        outer_strain_max=pre_twist * tube_outer_radius / tube_length,
        rated_moment=lever.drive * operating_stress,
        stress_cap=stress_cap(section, alloy),
    )


def demand_by(law_of: LawOf, name: str) -> Callable[..., TubeDemand]:
    """Demand of the legs by the law of a level, under a name of its own."""
    return by_law(tube_demand, law_of, name)
