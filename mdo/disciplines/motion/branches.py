"""Where the wing stands at a temperature: cold starts, and the inverse hysteresis of each group."""

from __future__ import annotations

from typing import NamedTuple

import jax
import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.motion.mechanics import load_moment, twist_strain
from mdo.disciplines.motion.records import MotionPlant, MotionState
from mdo.disciplines.tube.driven_march import march_driven
from mdo.disciplines.tube.incremental import State, next_point, next_stress
from mdo.disciplines.tube.radial_wall import Wall
from mdo.disciplines.tube.sma import martensite_stress

SETTLING = 30  # rounds for the compliance of a cold start; each halves what is left
ANGLES = 61  # of the tables


class Branches(NamedTuple):
    """Inverse hysteresis of each group over the travel, (K, A).

    angle (A,) [rad]; heating, cooling: temperature at which the wing stands there [K]; fraction:
    mean martensite on the heating branch [1]; missed: what the march could not reach [1].
    """

    angle: Array
    heating: Array
    cooling: Array
    fraction: Array
    missed: Array


def cold_start(
    plant: MotionPlant, angle: ArrayLike, temperature: ArrayLike, detwinned: ArrayLike
) -> MotionState:
    """Wing at rest with cold tubes, wound as the levels of total form have them.

    Parameters
    ----------
    plant
        Record.
    angle
        Fold angle [rad].
    temperature
        Of all of it [K], below M_f.
    detwinned
        1 where cold tubes were twisted, 0 where they cooled under load [1].

    Returns
    -------
    MotionState
        State at time zero.

    References
    ----------
    :func:`mdo.disciplines.tube.sma.martensite_stress`.
    """
    whole = twist_strain(jnp.asarray(angle), plant)
    ratio, share = jnp.asarray(plant.wall_ratio), jnp.asarray(plant.wall_share)

    def stress_at(strain: Array) -> Array:
        return martensite_stress(jnp.maximum(strain, 0.0)[:, None] * ratio, plant.alloy, detwinned)

    def settle(_: int, strain: Array) -> Array:
        mean = jnp.sum(share * stress_at(strain), axis=-1)
        closer: Array = 0.5 * (strain + whole - plant.strain_per_twist * plant.compliance * mean)
        return closer

    strain = jax.lax.fori_loop(0, SETTLING, settle, whole)
    wall, stress = jnp.maximum(strain, 0.0)[:, None] * ratio, stress_at(strain)
    same = jnp.zeros_like(whole) + temperature
    none = jnp.zeros(())
    return MotionState(
        heater=same,
        cells=jnp.zeros_like(wall) + temperature,
        bay=none + plant.outside_temperature,
        fraction=jnp.ones_like(wall),
        transformed=wall - stress / plant.alloy.martensite_shear_modulus,
        stress=stress,
        angle=none + angle,
        rate=none,
        twist_strain=strain,
        time=none,
    )


def just_heated(
    plant: MotionPlant, state: MotionState, group: Array, hot: ArrayLike, detwinned: ArrayLike
) -> MotionState:
    """Wing of which one group has just been heated, from where its twist is largest.

    Parameters
    ----------
    plant, state
        Records: the wing, and its state with that group cold.
    group
        1 for a group that is hot [1], (K,).
    hot
        Its temperature [K].
    detwinned
        As for :func:`cold_start` [1].

    Returns
    -------
    MotionState
        State at the same angle.

    References
    ----------
    Derived: the wall is heated from its cold state to the strain that it has now.
    """
    own = [
        cold_start(plant, angle, state.cells[k, 0], detwinned)
        for k, angle in enumerate(jnp.asarray(plant.start_angle))
    ]
    wound = State(*(
        jnp.stack([getattr(one, name)[k] for k, one in enumerate(own)])
        for name in ("fraction", "transformed", "stress")
    ))  # fmt: skip
    wall = state.twist_strain[:, None] * jnp.asarray(plant.wall_ratio)
    stress = next_stress(wall, hot, wound, plant.alloy)
    after = next_point(stress, hot, wound, plant.alloy)
    warm = jnp.asarray(group) > 0.5
    cells = warm[:, None]
    return state._replace(
        heater=jnp.where(warm, hot, state.heater),
        cells=jnp.where(cells, hot, state.cells),
        fraction=jnp.where(cells, after.fraction, state.fraction),
        transformed=jnp.where(cells, after.transformed, state.transformed),
        stress=jnp.where(cells, after.stress, state.stress),
    )


def inverse_hysteresis(
    plant: MotionPlant, ends: ArrayLike, range_: ArrayLike, detwinned: ArrayLike
) -> Branches:
    """Temperatures at which the wing stands at an angle, heating and cooling, under steady load.

    Parameters
    ----------
    plant
        Record.
    ends
        Lowest and highest angle of the tables [rad], (2,).
    range_
        Coldest and hottest temperature that is looked at [K], (2,).
    detwinned
        As for :func:`cold_start` [1].

    Returns
    -------
    Branches
        Tables over the angles.

    Notes
    -----
    The other set of a pair is cold and resists. Each group is marched to its end, and back from
    there.

    References
    ----------
    :func:`mdo.disciplines.tube.driven_march.march_driven`.
    """
    low, high = jnp.asarray(ends)
    coldest, hottest = jnp.asarray(range_)
    angle = jnp.linspace(low, high, ANGLES)
    cold = jax.vmap(lambda one: cold_start(plant, one, coldest, detwinned))(angle)
    load = jax.vmap(lambda one: load_moment(one, 0.0, 0.0, plant)[0])(angle)  # type: ignore[arg-type]
    places = plant.load_angle + plant.load_step * jnp.arange(jnp.asarray(plant.friction).size)
    friction = plant.friction_factor * jnp.interp(angle, places, jnp.asarray(plant.friction))
    side, wall = jnp.asarray(plant.side), Wall(jnp.asarray(plant.wall_ratio), plant.wall_share)
    arm = plant.gear_ratio * plant.torque_per_stress * jnp.asarray(plant.torque_count)
    pull = arm * jnp.maximum(jnp.sum(wall.share * cold.stress, axis=-1), 0.0)  # (A, K)
    against = jnp.where(side[:, None] != side, 1.0, 0.0)
    resists = (1.0 + jnp.asarray(plant.drag_loss)) * (against @ pull.T)  # (K, A)
    needed = -side[:, None] * load + resists
    beside = (side[:, None] == side) @ arm  # groups of one side carry together
    driving = (needed + friction) / (1.0 - jnp.asarray(plant.drive_loss)) / beside[:, None]
    dragged = (needed - friction) / (1.0 + jnp.asarray(plant.drag_loss)) / beside[:, None]
    gives = plant.strain_per_twist * plant.compliance
    strain = jax.vmap(lambda one: twist_strain(one, plant))(angle).T

    def course(group: tuple[Array, ...]) -> tuple[Array, ...]:
        way, *over = group
        gamma, up, down = (jnp.where(way > 0, part, part[::-1]) for part in over[:3])
        states = [jnp.where(way > 0, part[0], part[-1]) for part in over[3:]]
        span = (coldest, hottest)
        there = march_driven(gamma - gives * up, up, State(*states), wall, plant.alloy, span)
        last = jax.tree.map(lambda part: part[-1], there.states)
        back = march_driven((gamma - gives * down)[::-1], down[::-1], last, wall, plant.alloy, span)
        mean = jnp.sum(wall.share * there.states.fraction, axis=-1)
        found = (there.temperature, back.temperature[::-1], mean, there.residual)
        return tuple(jnp.where(way > 0, part, part[::-1]) for part in found)

    started = (cold.fraction, cold.transformed, cold.stress)
    groups = (side, strain, driving, dragged, *(jnp.moveaxis(part, 1, 0) for part in started))
    return Branches(angle, *jax.lax.map(course, groups))
