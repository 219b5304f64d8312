"""Level `lattice` of the hinge moment: panel aerodynamics from lifting surfaces.

No design variable reaches it: it is solved once per study, once for each Mach number and fold angle
that differ.
"""

from __future__ import annotations

from functools import partial
from typing import Any

import jax
import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.levels import Dear, LoadsLevel
from mdo.disciplines.loads.assumptions import AeroAssumptions
from mdo.disciplines.loads.entries import LoadCase, Loads, loads_by, rows_together
from mdo.disciplines.loads.lifting_surfaces import Wing, WingLoads, blended_loads
from mdo.disciplines.loads.panel_aerodynamics import PanelAerodynamics
from mdo.disciplines.loads.strip import flow_regime
from mdo.disciplines.loads.wing_mesh import WASHES
from mdo.disciplines.records import Planform, Vehicle
from mdo.disciplines.wiring import by_names


def lattice_aerodynamics(
    planform: Planform,
    vehicle: Vehicle,
    aero: AeroAssumptions,
    *,
    mach: ArrayLike,
    airborne: ArrayLike,
    fold_angle: ArrayLike,
    solved: WingLoads | None = None,
) -> PanelAerodynamics:
    r"""Panel aerodynamics from lifting surfaces.

    .. math:: \frac ML = \frac{M_\alpha}{L_\alpha}, \quad \frac NL = \frac{N_\alpha}{L_\alpha}

    Parameters
    ----------
    planform, vehicle, aero
        Wing and panel, section efficiency, assumptions.
    mach
        [1], shape ``(legs,)``.
    airborne
        1 in flight [1], shape ``(legs,)``.
    fold_angle
        [rad], shape ``(legs, angles)``.
    solved
        Loads of the points of :func:`flight_points` [m**3], [m**2], where they are known.

    Returns
    -------
    PanelAerodynamics
        Per dynamic pressure: [m**2], [m**3], [m**4] and ratios, as the record says.

    Notes
    -----
    Twist is that of the whole wing, section by section, in the datum of its breakpoints; what it
    lifts is given beside it. The chordwise centre is that of a leg's angles together.

    References
    ----------
    Reference hinge-moment, sections 1.4 and 2 (derived).
    """
    fold_angle = jnp.asarray(fold_angle)
    if solved is None:
        solved = WingLoads(*solve_points(*flight_points(planform, vehicle, mach, fold_angle)))
    points = solved
    loads = jax.tree.map(lambda leaf: leaf.reshape(*fold_angle.shape, *leaf.shape[1:]), points)
    moment, force, lift = (
        dict(zip(WASHES, jnp.moveaxis(leaf, -1, 0), strict=True))
        for leaf in (loads.moment, loads.force, loads.lift)
    )
    _, uncertainty, transonic = flow_regime(planform, aero, mach=mach, airborne=airborne)
    return PanelAerodynamics(
        lift_moment_arm=moment["incidence"] / lift["incidence"],
        lift_normal_fraction=force["incidence"] / lift["incidence"],
        incidence_moment=moment["incidence"],
        incidence_force=force["incidence"],
        sideslip_moment=moment["sideslip"],
        sideslip_force=force["sideslip"],
        panel_moment=moment["panel"],
        panel_force=force["panel"],
        panel_lift=lift["panel"],
        twist_moment=moment["twist"],
        twist_force=force["twist"],
        twist_lift=lift["twist"],
        roll_moment=moment["roll"],
        rate_moment=-moment["rate"],
        chordwise_centre=jnp.sum(loads.centre, axis=1) / jnp.sum(force["incidence"], axis=1),
        load_uncertainty=uncertainty,
        incidence_uncertainty=uncertainty,
        transonic=transonic,
    )


Points = tuple[tuple[ArrayLike, ...], ArrayLike, ArrayLike, Array, Array]


def flight_points(
    planform: Planform, vehicle: Vehicle, mach: ArrayLike, fold_angle: Array
) -> Points:
    """All that the lifting surfaces are solved for.

    Parameters
    ----------
    planform, vehicle
        Wing and panel, section efficiency.
    mach
        [1], shape ``(legs,)``.
    fold_angle
        [rad], shape ``(legs, angles)``.

    Returns
    -------
    tuple
        Fields of the planform, height of the hinge [m], section efficiency [1], Mach number [1] and
        fold angle [rad] of each point, shape ``(points,)``.

    References
    ----------
    Derived (no equation).
    """
    column = jnp.broadcast_to(jnp.asarray(mach)[:, None], fold_angle.shape)
    wing = (tuple(planform), vehicle.hinge_height, vehicle.section_lift_efficiency)
    return (*wing, column.ravel(), fold_angle.ravel())


def solve_points(
    planform: tuple[ArrayLike, ...],
    hinge_height: ArrayLike,
    section_lift_efficiency: ArrayLike,
    mach: Array,
    fold_angle: Array,
) -> tuple[Array, ...]:
    """Loads of the points of :func:`flight_points`.

    Parameters
    ----------
    planform
        Its fields, in the unit of each.
    hinge_height
        [m].
    section_lift_efficiency
        [1].
    mach
        [1], shape ``(points,)``.
    fold_angle
        [rad], shape ``(points,)``.

    Returns
    -------
    tuple
        Fields of the loads of the wing [m**3], [m**2], each with a leading axis of points.

    References
    ----------
    :func:`mdo.disciplines.loads.lifting_surfaces.blended_loads`.
    """
    wing = Wing(Planform(*planform), hinge_height, section_lift_efficiency)
    return tuple(blended_loads(wing, mach, fold_angle))


def _points_of_rows(*, case: LoadCase) -> Points:
    """Points of the legs and static cases."""
    rows, angles = rows_together(case.legs, case.statics, case.fold_angle)
    return flight_points(case.planform, case.vehicle, rows.mach, angles)


def _loads_with(*, solved: Any, case: LoadCase) -> Loads:
    """Loads of legs and static cases, those of their points known."""
    return loads_by(partial(lattice_aerodynamics, solved=WingLoads(*solved)), case=case)


lattice_loads_of_rows = Dear(
    by_names(_points_of_rows), solve_points, by_names(_loads_with), pointwise=2
)
LEVEL = LoadsLevel(loads=lattice_loads_of_rows)
