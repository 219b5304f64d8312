"""Loads of a folded wing by lifting surfaces, at any Mach number.

A vortex lattice up to Mach 0.85, constant-pressure panels from the end of the transonic range, two
cubics between.
"""

from __future__ import annotations

from typing import NamedTuple

import jax
import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.loads import constant_pressure_panels, vortex_lattice
from mdo.disciplines.loads.constant_pressure_panels import panel_loads
from mdo.disciplines.loads.flight_points import solved_once
from mdo.disciplines.loads.lift_slope import TRANSONIC_START
from mdo.disciplines.loads.supersonic_slope import transonic_end
from mdo.disciplines.loads.transonic import sonic_scale, transonic_cubics
from mdo.disciplines.loads.vortex_lattice import lattice_loads
from mdo.disciplines.loads.wing_mesh import (
    SYMMETRIC,
    WASHES,
    ElementLoads,
    Mesh,
    MeshSize,
    Trace,
    folded_trace,
    normal_washes,
    wing_mesh,
)
from mdo.disciplines.records import Planform

SUBSONIC_MESH = MeshSize(chordwise=4, inner=12, outer=8)
SUPERSONIC_MESH = MeshSize(chordwise=8, inner=12, outer=8)
_SONIC = 0.999  # Mach number whose lattice stands for the slender wing at Mach 1
_STEP = 1e-3  # of the Mach number, for the slopes at the ends of the transonic range


class Wing(NamedTuple):
    """What the aerodynamics of a wing depend on, beside Mach number and fold angle."""

    planform: Planform
    hinge_height: ArrayLike
    section_lift_efficiency: ArrayLike


class WingLoads(NamedTuple):
    """Loads of the right panel and lift of both wings, per dynamic pressure and unit wash.

    In the order of :data:`mdo.disciplines.loads.wing_mesh.WASHES`, shape ``(6,)``: ``moment``
    [m**3] and ``force`` [m**2] for a wash of [1]; ``lift`` [m**2] is nought where the two wings are
    loaded against each other. ``centre`` is the moment of the panel's force under incidence about
    the leading edges, in chords [m**2].
    """

    moment: Array
    force: Array
    lift: Array
    centre: Array


def summed(elements: ElementLoads, trace: Trace) -> WingLoads:
    """Add the forces of the elements up.

    Parameters
    ----------
    elements
        Forces and where they act.
    trace
        Folded wing.

    Returns
    -------
    WingLoads
        [m**3] and [m**2] per wash of [1].

    References
    ----------
    Reference hinge-moment, section 0 (derived): forces normal to the panel, streamwise axis.
    """
    strips = jnp.sum(elements.force, axis=1)
    panel = strips * trace.outer
    lift = 2.0 * jnp.sum(strips * trace.normal_z, axis=1)
    rows = jnp.sum(elements.force[0] * trace.outer, axis=1)
    return WingLoads(
        moment=jnp.sum(panel * elements.arm, axis=1),
        force=jnp.sum(panel, axis=1),
        lift=jnp.where(jnp.arange(len(WASHES)) < SYMMETRIC, lift, 0.0),
        centre=jnp.sum(rows * elements.chord_fraction),
    )


def subsonic_elements(
    wing: Wing, mach: ArrayLike, fold_angle: ArrayLike, size: MeshSize
) -> tuple[ElementLoads, Mesh, Trace]:
    """Mesh a wing and load its elements by the vortex lattice.

    Parameters
    ----------
    wing
        Planform and what else counts.
    mach
        Below 1 [1], one number.
    fold_angle
        [rad], one number.
    size
        Of the mesh.

    Returns
    -------
    tuple
        Forces of the elements [m**2] per wash of [1], the mesh, and its folded trace.

    References
    ----------
    :func:`mdo.disciplines.loads.vortex_lattice.lattice_loads`.
    """
    mesh, trace, washes = _meshed(wing, fold_angle, size, vortex_lattice.TIP_INSET)
    efficiency = wing.section_lift_efficiency
    elements = lattice_loads(
        mesh, trace, washes, rows=size.chordwise, mach=mach, section_lift_efficiency=efficiency
    )
    return elements, mesh, trace


def supersonic_elements(
    wing: Wing, mach: ArrayLike, fold_angle: ArrayLike, size: MeshSize
) -> tuple[ElementLoads, Mesh, Trace]:
    """Mesh a wing and load its elements by constant-pressure panels.

    Parameters
    ----------
    wing
        Planform and what else counts; the section efficiency has no part above Mach 1.
    mach
        Above 1 [1], one number.
    fold_angle
        [rad], one number.
    size
        Of the mesh.

    Returns
    -------
    tuple
        Forces of the elements [m**2] per wash of [1], the mesh, and its folded trace.

    References
    ----------
    :func:`mdo.disciplines.loads.constant_pressure_panels.panel_loads`.
    """
    mesh, trace, washes = _meshed(wing, fold_angle, size, constant_pressure_panels.TIP_INSET)
    return panel_loads(mesh, trace, washes, rows=size.chordwise, mach=mach), mesh, trace


def _meshed(
    wing: Wing, fold_angle: ArrayLike, size: MeshSize, tip_inset: float
) -> tuple[Mesh, Trace, Array]:
    """Mesh, folded trace and washes of a wing."""
    mesh = wing_mesh(wing.planform, size, tip_inset=tip_inset)
    trace = folded_trace(mesh, fold_angle)
    return mesh, trace, normal_washes(wing.planform, mesh, trace, hinge_height=wing.hinge_height)


def subsonic_loads(
    wing: Wing, mach: ArrayLike, fold_angle: ArrayLike, *, size: MeshSize = SUBSONIC_MESH
) -> WingLoads:
    """Loads by the vortex lattice.

    Parameters
    ----------
    wing
        Planform and what else counts.
    mach
        Below 1 [1], one number.
    fold_angle
        [rad], one number.
    size
        Of the mesh.

    Returns
    -------
    WingLoads
        [m**3] and [m**2] per wash of [1].

    Examples
    --------
    Rectangle of aspect ratio 4 and chord 1, outer 40 %: hinge moment per incidence 0.719 flat
    (converged 0.727), and at 60 deg 0.73 of it:

    >>> from mdo.disciplines.loads.planform import planform_from_breakpoints
    >>> wing = Wing(planform_from_breakpoints(station=[0.0, 2.0], leading_edge=[0.0, 0.0],
    ...     chord=[1.0, 1.0], twist=[0.0, 0.0], thickness_ratio=[0.1, 0.1], fold_station=1.2),
    ...     hinge_height=0.0, section_lift_efficiency=1.0)
    >>> flat = float(subsonic_loads(wing, 0.0, 0.0).moment[0])
    >>> flat, float(subsonic_loads(wing, 0.0, jnp.pi / 3).moment[0]) / flat
    (0.722, 0.730)

    References
    ----------
    Reference hinge-moment, section 2.1 (derived).
    """
    elements, _, trace = subsonic_elements(wing, mach, fold_angle, size)
    return summed(elements, trace)


def supersonic_loads(
    wing: Wing, mach: ArrayLike, fold_angle: ArrayLike, *, size: MeshSize = SUPERSONIC_MESH
) -> WingLoads:
    """Loads by constant-pressure panels.

    Parameters
    ----------
    wing
        Planform and what else counts; the section efficiency has no part above Mach 1.
    mach
        Above 1 [1], one number.
    fold_angle
        [rad], one number.
    size
        Of the mesh.

    Returns
    -------
    WingLoads
        [m**3] and [m**2] per wash of [1].

    Examples
    --------
    Rectangle of chord 1, fold at 2 m, panel 2.2 m, Mach sqrt(2): exact 7.7300 flat.

    >>> from mdo.disciplines.loads.planform import planform_from_breakpoints
    >>> wing = Wing(planform_from_breakpoints(station=[0.0, 4.2], leading_edge=[0.0, 0.0],
    ...     chord=[1.0, 1.0], twist=[0.0, 0.0], thickness_ratio=[0.1, 0.1], fold_station=2.0),
    ...     hinge_height=0.0, section_lift_efficiency=1.0)
    >>> float(supersonic_loads(wing, 2.0**0.5, 0.0).moment[0])
    7.71

    References
    ----------
    Reference hinge-moment, sections 1.5 and 2.3 (derived).
    """
    elements, _, trace = supersonic_elements(wing, mach, fold_angle, size)
    return summed(elements, trace)


def loads_at(wing: Wing, mach: Array, fold_angle: Array) -> WingLoads:
    """Loads by the method of the Mach number: one point of flight, no blend.

    Parameters
    ----------
    wing
        Planform and what else counts.
    mach
        Not 1 [1], one number.
    fold_angle
        [rad], one number.

    Returns
    -------
    WingLoads
        [m**3] and [m**2] per wash of [1].

    References
    ----------
    :func:`subsonic_loads`, :func:`supersonic_loads`.
    """
    result: WingLoads = jax.lax.cond(
        mach < 1.0,
        lambda: subsonic_loads(wing, jnp.minimum(mach, _SONIC), fold_angle),
        lambda: supersonic_loads(wing, jnp.maximum(mach, 1.0 / _SONIC), fold_angle),
    )
    return result


_loads_of_points = solved_once(loads_at)


def blended_loads(wing: Wing, mach: Array, fold_angle: Array) -> WingLoads:
    r"""Loads at any Mach number, continuous with their slope in it.

    Parameters
    ----------
    wing
        Planform and what else counts.
    mach
        [1], shape ``(points,)``.
    fold_angle
        [rad], shape ``(points,)``.

    Returns
    -------
    WingLoads
        Of each point, [m**3] and [m**2] per wash of [1].

    Notes
    -----
    Between Mach 0.85 and :func:`mdo.disciplines.loads.lift_slope.transonic_end` two cubics per load
    meet at Mach 1 with slope zero, in the value of the slender wing, scaled down where its lift is
    more than 1.15 times that of either end: no theory, +-25 %. Slopes of the ends are differences
    over 0.001 of the Mach number.

    References
    ----------
    Reference hinge-moment, section 1.4; judgement.
    """
    start, end = TRANSONIC_START, transonic_end(wing.planform.aspect_ratio)
    blended = (mach > start) & (mach < end)
    ends = jnp.stack([jnp.asarray(m) for m in (start - _STEP, start, _SONIC, end, end + _STEP)])
    points = jnp.where(blended, ends[:, None], mach)
    angles = jnp.broadcast_to(fold_angle, points.shape)
    nodes = _loads_of_points(wing, points.ravel(), angles.ravel())
    nodes = jax.tree.map(lambda leaf: leaf.reshape(*points.shape, *leaf.shape[1:]), nodes)
    low, sonic, high = (nodes.lift[place, :, 0] for place in (1, 2, 3))
    scale = sonic_scale(low, sonic, high)

    def between(node: Array) -> Array:
        before, low, sonic, high, after = node
        column = (slice(None), *(None,) * (low.ndim - 1))
        cubics = transonic_cubics(
            mach[column],
            start=(start, low, (low - before) / _STEP),
            sonic=sonic * scale[column],
            end=(end, high, (after - high) / _STEP),
        )
        return jnp.where(blended[column], cubics, low)

    return WingLoads(*map(between, nodes))
