"""Tube sets at the hinge, at any level: what each leg demands of stress and strain.

At a given mean stress and temperature the strain of a tube rises with the stress, so "the available
moment reaches the factored required moment" is the same statement as "the strain at the stress that
the factored requirement needs does not exceed the twist that is left". The optimiser works on the
second form: every leg and angle is a row, none is hidden behind a maximum. What differs between the
levels is the law of the section alone (:mod:`mdo.disciplines.tube.section_law`).
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.records import Alloy, Choices, Legs, real_legs
from mdo.disciplines.smooth import blended_max, smooth_max, smooth_min
from mdo.disciplines.tube import phases, torsion
from mdo.disciplines.tube.levers import drag_along_path, factored, stress_cap
from mdo.disciplines.tube.record import TubeDemand
from mdo.disciplines.tube.roles import OPPOSED
from mdo.disciplines.tube.section_law import Built, DrivenTubes, LawOf, SectionLaw, built
from mdo.disciplines.tube.travel import pick, set_twist, spring_moment_over_travel

STRESS_SCALE = 100e6  # [Pa] order of the stresses, for the smooth extremes
MOST_LOST = 0.9  # share of the stroke, at which a design fails anyway
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
    """Smallest shear stress during the return of each set; 0 where a set has no return.

    Parameters
    ----------
    pushes_up, heated, returned_by_load
        Who drives, true or false [1], shape (legs,).
    legs, choices
        Which legs are returns, configuration and return mode.
    load_stress
        Of the tubes in legs returned by load or spring [Pa], shape (legs, angles).
    cold_stress
        Of the cold set that the driver twists [Pa], shape (legs, angles).

    Returns
    -------
    ReturnStress
        [Pa].

    References
    ----------
    Derived (definition of the return).
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


class Twists(NamedTuple):
    """Strains at r_w over each leg [1], (legs, angles): driver, other set, one failed tube."""

    driver: Array
    other: Array
    dragged: Array


def _twists(tubes: DrivenTubes, own: Built, pre_twist: Array, fold_angle: Array) -> Twists:
    """Twists as strain at r_w [1], (legs, angles)."""

    def of_set(pushes_up: Array) -> Array:
        return own.lever.to_strain * set_twist(
            fold_angle=fold_angle,
            pushes_up=pushes_up,
            pre_twist=pre_twist,
            gear_ratio=tubes.gear_ratio,
            travel_low=tubes.travel_low,
            travel_high=tubes.travel_high,
        )

    turned = jnp.abs(fold_angle - fold_angle[:, :1])
    dragged = tubes.gear_ratio * own.lever.to_strain * turned
    return Twists(of_set(own.up), of_set(~own.up), dragged)


def _cold_states(legs: Legs, choices: Choices) -> tuple[Array, Array]:
    """Whether the other set, and the driver when it was wound, are detwinned when cold; (legs,)."""
    pair = jnp.asarray(choices.configuration) == OPPOSED
    mode = jnp.asarray(choices.return_mode)
    return tuple(jnp.where(pair, jnp.maximum(mode, own), 0.0) for own in
                 (legs.other_cold, legs.wound_cold))  # type: ignore[return-value]  # fmt: skip


def _lost(
    twists: Twists, path_strain: Array, legs: Legs, alloy: Alloy, up: Array, heated: Array
) -> Array:
    """Strain that the driver of each leg lacks at the end of the life [1], (legs, angles).

    ``stroke(N) = stroke_1 (1 - d log10 N)`` for the twist moved in the leg, and what it keeps.
    """
    folds = jnp.asarray(legs.folds_per_life) * legs.moves * heated
    of_up = up[:, 0].astype(float)
    per_set = jnp.stack([jnp.sum(of_up * folds), jnp.sum((1.0 - of_up) * folds)])
    count = pick(per_set, up)
    share = jnp.asarray(alloy.stroke_loss) * jnp.log10(jnp.maximum(count, 1.0))
    share = jnp.minimum(share, MOST_LOST)
    kept = phases.ROOT3 * jnp.asarray(alloy.residual_strain_rate) * count
    # a return that a load drives has the fields of its case, and nothing of a march
    return heated[:, None] * path_strain + twists.dragged * share / (1.0 - share) + kept


def _stresses(
    own: Built, twists: Twists, asked: Array, operating: Array, internal: Array
) -> dict[str, Array]:
    """Mean stresses that moments at the hinge ask of the tubes [Pa]."""
    lever, count = own.lever, jnp.maximum(pick(own.counts, own.up), 1e-3)
    demand, drag = asked + internal, lever.drag * own.law.drag(twists.dragged)
    left = lever.drive * jnp.maximum(count - 1.0, 1e-3)
    return {
        "required_stress": demand / (lever.drive * count),
        "failed_stress": (operating + drag) / left,
        "return_stress": -demand / (lever.drag * jnp.maximum(jnp.sum(own.counts), 1e-3)),
        "leg_stress": smooth_max(operating / (lever.drive * count), scale=STRESS_SCALE, axis=-1),
    }


def _hot_strains(
    law: SectionLaw, stresses: dict[str, Array], temperature: Array, locked: Array, legs: Legs
) -> dict[str, Array]:
    """Strains that the stresses need of hot tubes, and the outer stress of each leg."""
    leg = jnp.maximum(stresses["leg_stress"], 0.0)[:, None]
    columns = [stresses["required_stress"], stresses["failed_stress"], leg]
    strain, outer = law.hot_under(jnp.concatenate(columns, axis=1), temperature, locked[:, None])
    required, failed = jnp.split(strain[:, :-1], 2, axis=1)
    return {
        "required_strain": required,
        "failed_strain": failed,
        "leg_outer_stress": jnp.asarray(legs.outer_stress_factor) * outer[:, -1],
    }


def _drag(own: Built, choices: Choices, cold_stress: Array) -> Array:
    """Moment of the other set of a pair against the driver [N*m], (legs, angles)."""
    # a set unwound past its zero would push along: no credit for that
    resisting = own.lever.drag * pick(own.counts, ~own.up) * blended_max(cold_stress, 0.0, 1e6)
    return jnp.where(jnp.asarray(choices.configuration) == OPPOSED, resisting, 0.0)


def _life_and_work(
    tubes: DrivenTubes, fold_angle: Array, operating: Array, outer_stress: Array, heated: Array
) -> dict[str, Array]:
    """Strain of each stroke, its work density for the life, and its work where it is heated."""
    swept = jnp.abs(fold_angle[:, -1] - fold_angle[:, 0])
    # beside the outer stress in the life: both at the outer fibre
    strain = tubes.gear_ratio * swept * tubes.tube_outer_radius / tubes.tube_length
    mean = jnp.mean((operating[:, 1:] + operating[:, :-1]) / 2, axis=-1)
    share = jnp.where(heated > 0.5, 1.0 / tubes.transmission_efficiency, 0.0)
    return {
        "stroke_strain": strain,
        "leg_work_density": outer_stress * strain,
        "actuator_work": share * mean * swept,
    }


def _cooled(
    own: Built,
    twists: Twists,
    smallest: ReturnStress,
    load_stress: Array,
    driver: Array,
    tubes: DrivenTubes,
) -> dict[str, Array]:
    """Strain of each return, what is locked in when a leg starts, and Ms', Mf' of each set."""
    # one call for all that cools under load: strain of each return, and what the least locks
    returned, formed = own.law.cold_under(jnp.append(load_stress.ravel(), smallest.by_load))
    opposed = jnp.asarray(tubes.choices.configuration) == OPPOSED
    locked = own.law.cold_lock(twists.driver[:, 0], driver)
    cooling = phases.phase_temperatures(smallest.per_set, tubes.alloy)
    return {
        "return_strain": returned[:-1].reshape(load_stress.shape),
        "locked_strain": jnp.where(opposed, locked, formed[-1]),
        "smallest_return_stress": smallest.per_set,
        "cooling_start": cooling.martensite_start,
        "cooling_finish": cooling.martensite_finish,
    }


def tube_demand(
    law_of: LawOf,
    *,
    tubes: DrivenTubes,
    pre_twist: Array,
    spring_moment: Array,
    spring_rate: Array,
    fold_angle: Array,
    path_strain: Array,
    path_drag_factor: Array,
    heated: Array,
    returned_by_load: Array,
    legs: Legs,
) -> TubeDemand:
    """Stress and strain that each leg and angle demands of the sets (one wing).

    Parameters
    ----------
    law_of
        Law of the section, of a level.
    tubes
        Tubes, what they turn and how far.
    pre_twist
        Twist of each set where it starts to drive [rad], shape (2,).
    spring_moment
        Spring at the hinge where the travel starts [N*m] (spring_return).
    spring_rate
        Its rate [N*m/rad].
    fold_angle
        Fold angle [rad], shape (legs, angles).
    path_strain, path_drag_factor
        Of a march: strain that the driver lacks along its path beside its level [1], drag of the
        set that it winds (see :func:`mdo.disciplines.tube.levers.drag_along_path`) [1]; 0 and 1
        of none, shape (legs, angles).
    heated, returned_by_load
        Legs that a heated set drives, that load or spring drive, 1 or 0 [1], shape (legs,).
    legs
        Record.

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
    own = built(law_of, tubes)
    choices, law, lever = tubes.choices, own.law, own.lever
    twists = _twists(tubes, own, pre_twist, fold_angle)
    cold_other, cold_driver = _cold_states(legs, choices)
    cold_stress = law.cold_stress(twists.other, cold_other[:, None])
    other_count = pick(own.counts, ~own.up)
    cold_moment = drag_along_path(_drag(own, choices, cold_stress), path_drag_factor)
    spring = spring_moment_over_travel(
        fold_angle=fold_angle,
        choices=choices,
        spring_moment=spring_moment,
        spring_rate=spring_rate,
        travel_low=tubes.travel_low,
        travel_high=tubes.travel_high,
    )
    internal = cold_moment + jnp.where(heated[:, None] > 0.5, spring, -spring)
    asked = factored(tubes.required_moment, jnp.asarray(legs.torque_margin_required)[:, None])
    operating = tubes.required_moment + internal
    stresses = _stresses(own, twists, asked, operating, internal)
    smallest = smallest_return_stress(
        pushes_up=own.up[:, 0],
        heated=heated > 0.5,
        returned_by_load=returned_by_load > 0.5,
        legs=legs,
        choices=choices,
        load_stress=stresses["return_stress"],
        cold_stress=cold_stress,
    )
    cooled = _cooled(own, twists, smallest, stresses["return_stress"], cold_driver, tubes)
    strains = _hot_strains(law, stresses, tubes.hot_temperature, cooled["locked_strain"], legs)
    return TubeDemand(
        **stresses,
        **cooled,
        **strains,
        **_life_and_work(tubes, fold_angle, operating, strains["leg_outer_stress"], heated),
        tube_strain=twists.driver - _lost(twists, path_strain, legs, tubes.alloy, own.up, heated),
        cold_moment=cold_moment,
        internal_moment=internal,
        factored_moment=asked,
        return_needed_strain=twists.other,
        holding_moment=lever.drive * other_count * cold_stress + jnp.abs(spring),
        outer_stress_operating=torsion.outer_stress(tubes.operating_stress, own.section),
        outer_strain_max=pre_twist * tubes.tube_outer_radius / tubes.tube_length,
        rated_moment=lever.drive * tubes.operating_stress,
        stress_cap=stress_cap(own.section, tubes.alloy),
    )
