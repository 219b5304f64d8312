"""Discipline entries for cases that nothing moves: locked holds, jams, loss of heat, soaks.

Each is a state at one fold angle. The lock carries it at ultimate load; the gates look at its
temperatures.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import jax
import jax.numpy as jnp
from jax import Array

from mdo.disciplines.atmosphere import STANDARD_GRAVITY
from mdo.disciplines.environment import environment
from mdo.disciplines.loads.assumptions import AeroAssumptions
from mdo.disciplines.loads.hinge_moment import smooth_magnitude
from mdo.disciplines.loads.levels import Loads, loads_strip, loads_table
from mdo.disciplines.records import Legs, Planform, Statics, Vehicle


class AllLoads(NamedTuple):
    """Loads of the legs as :class:`Loads` has them, then those of the static cases (cases,)."""

    lift_moment_arm: Array
    lift_normal_fraction: Array
    steady_moment_low: Array
    steady_moment_high: Array
    steady_normal_force: Array
    damping_per_rate: Array
    moving_inertia: Array
    chordwise_centre: Array
    load_uncertainty: Array
    transonic: Array
    static_lift_arm: Array
    static_moment_low: Array
    static_moment_high: Array


def _together(legs: Legs, statics: Statics, fold_angle: Array) -> tuple[Legs, Array]:
    """Legs and static cases as one set of rows; a static case repeats its one angle."""
    rows = jax.tree.map(
        lambda a, b: jnp.concatenate([jnp.asarray(a), jnp.asarray(b)]), legs, statics.state
    )
    held = jnp.asarray(statics.state.angle_from)[:, None]
    columns = jnp.broadcast_to(held, (held.shape[0], fold_angle.shape[1]))
    return rows, jnp.concatenate([fold_angle, columns])


def _apart(loads: Loads, count: int) -> AllLoads:
    """Loads of all rows split into those of the legs and of the static cases."""
    own = {name: value[:count] for name, value in loads._asdict().items()}
    return AllLoads(
        **own,
        static_lift_arm=loads.lift_moment_arm[count:, 0],
        static_moment_low=loads.steady_moment_low[count:, 0],
        static_moment_high=loads.steady_moment_high[count:, 0],
    )


def all_loads_strip(
    *,
    legs: Legs,
    statics: Statics,
    planform: Planform,
    vehicle: Vehicle,
    aero: AeroAssumptions,
    fold_angle: Array,
) -> AllLoads:
    """Level `strip` for legs and static cases together; see :func:`loads_strip`.

    ``fold_angle`` : of the legs [rad], shape (legs, angles).
    """
    rows, angles = _together(legs, statics, fold_angle)
    air = environment(legs=rows)
    loads = loads_strip(
        legs=rows,
        planform=planform,
        vehicle=vehicle,
        aero=aero,
        fold_angle=angles,
        air_density=air.air_density,
        true_airspeed=air.true_airspeed,
    )
    return _apart(loads, fold_angle.shape[0])


def all_loads_table(
    *,
    legs: Legs,
    statics: Statics,
    planform: Planform,
    vehicle: Vehicle,
    aero: AeroAssumptions,
    fold_angle: Array,
    table_moment_low: Array,
    table_moment_high: Array,
    static_table_low: Array,
    static_table_high: Array,
) -> AllLoads:
    """Level `table` for legs and static cases together; see :func:`loads_table`.

    ``table_moment_*`` [N*m], shape (legs, angles); ``static_table_*`` [N*m], shape (cases,).
    """
    rows, angles = _together(legs, statics, fold_angle)
    air = environment(legs=rows)

    def stacked(moving: Array, held: Array) -> Array:
        column = jnp.asarray(held)[:, None]
        return jnp.concatenate(
            [moving, jnp.broadcast_to(column, (column.shape[0], angles.shape[1]))]
        )

    loads = loads_table(
        legs=rows,
        planform=planform,
        vehicle=vehicle,
        aero=aero,
        fold_angle=angles,
        air_density=air.air_density,
        true_airspeed=air.true_airspeed,
        table_moment_low=stacked(table_moment_low, static_table_low),
        table_moment_high=stacked(table_moment_high, static_table_high),
    )
    return _apart(loads, fold_angle.shape[0])


ALL_LOADS_LEVELS: dict[str, Callable[..., AllLoads]] = {
    "strip": all_loads_strip,
    "table": all_loads_table,
}


class StaticEnvironment(NamedTuple):
    """Hottest bay of each static case [K], shape (cases,)."""

    static_bay_hot: Array


def static_environment(*, statics: Statics) -> StaticEnvironment:
    """Hottest bay of each static case; see :func:`environment`."""
    return StaticEnvironment(environment(legs=statics.state).bay_hot_temperature)


class Lock(NamedTuple):
    """Moment that the lock of one wing carries in each static case [N*m], shape (cases,)."""

    static_held_moment: Array
    lock_moment: Array


def lock(
    *,
    vehicle_mass: Array,
    static_lift_arm: Array,
    static_moment_low: Array,
    static_moment_high: Array,
    statics: Statics,
) -> Lock:
    """Held moment at limit load and lock moment at ultimate load, one wing.

    Parameters
    ----------
    vehicle_mass : of the aircraft [kg]
    static_lift_arm [m], static_moment_low, static_moment_high [N*m] : (cases,)
    statics : states; ``locked`` marks those that the lock carries, ``safety_factor`` ultimate over
        limit

    Returns
    -------
    Lock : ``static_held_moment`` the larger magnitude of the envelope at limit load;
        ``lock_moment`` that times the safety factor, 0 where nothing is locked
    """
    legs = statics.state
    share = jnp.asarray(legs.airborne) * legs.load_factor * legs.mass_fraction
    lift = STANDARD_GRAVITY * vehicle_mass * share
    held = smooth_magnitude(
        static_lift_arm * lift + static_moment_low, static_lift_arm * lift + static_moment_high
    )
    return Lock(
        static_held_moment=held,
        lock_moment=jnp.asarray(legs.locked) * legs.safety_factor * held,
    )
