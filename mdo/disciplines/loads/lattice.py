"""Level `lattice` of the hinge moment: panel aerodynamics from lifting surfaces.

No design variable reaches it: it is solved once per study, once for each Mach number and fold angle
that differ.
"""

from __future__ import annotations

import jax
import jax.numpy as jnp
from jax.typing import ArrayLike

from mdo.disciplines.levels import LoadsLevel
from mdo.disciplines.loads.assumptions import AeroAssumptions
from mdo.disciplines.loads.entries import loads_by
from mdo.disciplines.loads.lifting_surfaces import Wing, blended_loads
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
    column = jnp.broadcast_to(jnp.asarray(mach)[:, None], fold_angle.shape)
    wing = Wing(planform, vehicle.hinge_height, vehicle.section_lift_efficiency)
    points = blended_loads(wing, column.ravel(), fold_angle.ravel())
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


lattice_loads_of_rows = by_names(
    loads_by, lattice_aerodynamics, name="lattice_loads_of_rows", module=__name__
)
LEVEL = LoadsLevel(loads=lattice_loads_of_rows)
