"""Loads of legs and static cases of a level, made of the panel aerodynamics that it gives."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import jax
import jax.numpy as jnp
from jax import Array

from mdo.disciplines.environment import environment
from mdo.disciplines.loads.assembly import RowLoads, assemble_rows
from mdo.disciplines.loads.assumptions import AeroAssumptions
from mdo.disciplines.loads.panel_aerodynamics import PanelAerodynamics
from mdo.disciplines.records import Legs, Planform, Statics, Vehicle
from mdo.disciplines.wiring import gathered


class Loads(NamedTuple):
    """Loads of the legs, then those of the static cases, shape ``(cases,)``."""

    legs: RowLoads
    static_lift_arm: Array
    static_moment_low: Array
    static_moment_high: Array
    static_mass_moment_low: Array
    static_mass_moment_high: Array


def rows_together(legs: Legs, statics: Statics, fold_angle: Array) -> tuple[Legs, Array]:
    """Legs and static cases as one set of rows; a static case repeats its one angle.

    Parameters
    ----------
    legs, statics
        Records, shapes ``(legs,)`` and ``(cases,)``.
    fold_angle
        Of the legs [rad], shape ``(legs, angles)``.

    Returns
    -------
    tuple
        Their states, shape ``(rows,)``, and angles [rad], shape ``(rows, angles)``.

    References
    ----------
    Derived (no equation).
    """
    rows = jax.tree.map(
        lambda a, b: jnp.concatenate([jnp.asarray(a), jnp.asarray(b)]), legs, statics.state
    )
    held = jnp.asarray(statics.state.angle_from)[:, None]
    columns = jnp.broadcast_to(held, (held.shape[0], fold_angle.shape[1]))
    return rows, jnp.concatenate([fold_angle, columns])


def rows_apart(rows: RowLoads, leg_count: int) -> Loads:
    """Loads of all rows split into those of the legs and of the static cases.

    Parameters
    ----------
    rows
        Loads of the legs, then of the static cases.
    leg_count
        How many legs there are.

    Returns
    -------
    Loads
        Moments [N*m].

    References
    ----------
    Derived (no equation).
    """
    return Loads(
        legs=RowLoads(*(value[:leg_count] for value in rows)),
        static_lift_arm=rows.lift_moment_arm[leg_count:, 0],
        static_moment_low=rows.steady_moment_low[leg_count:, 0],
        static_moment_high=rows.steady_moment_high[leg_count:, 0],
        static_mass_moment_low=rows.mass_moment_low[leg_count:, 0],
        static_mass_moment_high=rows.mass_moment_high[leg_count:, 0],
    )


@gathered
class LoadCase(NamedTuple):
    """What the loads of every level come from.

    Attributes
    ----------
    legs, statics, planform, vehicle, aero
        Records.
    fold_angle
        Of the legs [rad], shape ``(legs, angles)``.
    """

    legs: Legs
    statics: Statics
    planform: Planform
    vehicle: Vehicle
    aero: AeroAssumptions
    fold_angle: Array


def loads_by(aerodynamics: Callable[..., PanelAerodynamics], *, case: LoadCase) -> Loads:
    """Loads of legs and static cases from the panel aerodynamics of a level.

    Parameters
    ----------
    aerodynamics
        Function of a level that gives the panel aerodynamics of rows.
    case
        Legs, static cases and what is the same in all.

    Returns
    -------
    Loads
        Moments [N*m], arms [m], forces [N].

    References
    ----------
    :func:`assemble_rows`, on the rows of :func:`rows_together`.
    """
    rows, angles = rows_together(case.legs, case.statics, case.fold_angle)
    air = environment(legs=rows)
    records = (case.planform, case.vehicle, case.aero)
    panel = aerodynamics(*records, mach=rows.mach, airborne=rows.airborne, fold_angle=angles)
    loads = assemble_rows(
        panel,
        rows,
        *records,
        air_density=air.air_density,
        true_airspeed=air.true_airspeed,
        fold_angle=angles,
    )
    return rows_apart(loads, case.fold_angle.shape[0])
