"""Half wing cut into strips and chordwise rows, folded, and the washes that load it.

Both lifting-surface methods of level `lattice` stand on this mesh: strips run along the flow, a
strip edge lies exactly on the fold, rows divide the chord evenly.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
import numpy as np
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.records import Planform

# What can load the wing, in the order of the washes; the first four are the same on both wings,
# the others opposite.
WASHES = ("incidence", "panel", "twist", "rate", "sideslip", "roll")
SYMMETRIC = 4


class MeshSize(NamedTuple):
    """Rows along the chord, and strips of the inner wing and of the panel."""

    chordwise: int = 4
    inner: int = 12
    outer: int = 8


class Mesh(NamedTuple):
    """Edges of the strips of the flat half wing [m], shape ``(strips + 1,)``.

    ``inboard`` + ``outboard`` is the station, ``outboard`` what of it lies beyond the fold.
    """

    inboard: Array
    outboard: Array
    leading_edge: Array
    chord: Array


class Trace(NamedTuple):
    """Folded wing seen from behind [m]: strip edges, their middles, and upper normals [1].

    The fold axis is at height zero; ``arm`` is the distance from it along the panel and ``outer``
    is 1 on the panel and 0 on the inner wing.
    """

    edge_y: Array
    edge_z: Array
    y: Array
    z: Array
    normal_y: Array
    normal_z: Array
    width: Array
    arm: Array
    outer: Array


class ElementLoads(NamedTuple):
    """Normal forces of the elements per dynamic pressure and unit wash, and where they act.

    ``force`` [m**2], shape ``(washes, rows, strips)``; ``arm`` [m], distance of the force from the
    fold along the trace, negative on the inner wing, shape ``(strips,)``; ``chord_fraction`` [1],
    shape ``(rows,)``.
    """

    force: Array
    arm: Array
    chord_fraction: Array


def wing_mesh(planform: Planform, size: MeshSize, *, tip_inset: float) -> Mesh:
    """Even strips on each side of the fold; the outer end of the last one is left out.

    Parameters
    ----------
    planform
        Breakpoints and fold.
    size
        Rows and strips.
    tip_inset
        Part of the last strip that is left out [1]: the load vanishes at the tip as a root, and
        a strip that ends there carries too much.

    Returns
    -------
    Mesh
        Edges of the strips [m].

    Notes
    -----
    Straight between strip edges: a breakpoint inside a strip is cut off.

    Examples
    --------
    Panel from 3 m to the tip at 5 m in two strips, a quarter of the last left out:

    >>> from types import SimpleNamespace
    >>> wing = SimpleNamespace(station=jnp.array([0.0, 5.0]), leading_edge=jnp.zeros(2),
    ...     chord=jnp.ones(2), fold_station=3.0, panel_span=2.0)
    >>> mesh = wing_mesh(wing, MeshSize(chordwise=1, inner=1, outer=2), tip_inset=0.25)
    >>> [float(edge) for edge in mesh.inboard + mesh.outboard]
    [0.0, 3.0, 4.0, 4.75]

    References
    ----------
    Reference hinge-moment, section 2.1 (derived; the inset by convergence).
    """
    inner = np.arange(size.inner + 1) / size.inner
    outer = np.arange(1, size.outer + 1) / size.outer
    outer[-1] -= tip_inset / size.outer
    inboard = jnp.asarray(planform.fold_station) * np.concatenate([inner, np.ones(size.outer)])
    outboard = jnp.asarray(planform.panel_span) * np.concatenate([np.zeros(size.inner + 1), outer])
    station = inboard + outboard
    return Mesh(
        inboard=inboard,
        outboard=outboard,
        leading_edge=jnp.interp(station, planform.station, planform.leading_edge),
        chord=jnp.interp(station, planform.station, planform.chord),
    )


def folded_trace(mesh: Mesh, fold_angle: ArrayLike) -> Trace:
    """Fold the panel about its streamwise axis.

    Parameters
    ----------
    mesh
        Flat half wing.
    fold_angle
        [rad], tip up positive, one number.

    Returns
    -------
    Trace
        Strips seen from behind [m]; lengths along the trace, never over dy.

    Examples
    --------
    One strip of 1 m upright on an inner wing of 2 m:

    >>> mesh = Mesh(inboard=jnp.array([0.0, 2.0, 2.0]), outboard=jnp.array([0.0, 0.0, 1.0]),
    ...     leading_edge=jnp.zeros(3), chord=jnp.ones(3))
    >>> trace = folded_trace(mesh, jnp.pi / 2)
    >>> float(trace.y[1]), float(trace.z[1]), float(trace.normal_y[1]), float(trace.arm[1])
    (2.0, 0.5, -1.0, 0.5)

    References
    ----------
    Reference hinge-moment, section 0 (derived).
    """
    cosine, sine = jnp.cos(fold_angle), jnp.sin(fold_angle)
    y, z = mesh.inboard + mesh.outboard * cosine, mesh.outboard * sine
    inner, outer = jnp.diff(mesh.inboard), jnp.diff(mesh.outboard)
    width = inner + outer
    arm = 0.5 * (mesh.outboard[1:] + mesh.outboard[:-1])
    return Trace(
        edge_y=y,
        edge_z=z,
        y=0.5 * (y[1:] + y[:-1]),
        z=0.5 * (z[1:] + z[:-1]),
        normal_y=-outer * sine / width,
        normal_z=(inner + outer * cosine) / width,
        width=width,
        arm=arm,
        outer=(arm > 0.0).astype(float),
    )


def normal_washes(
    planform: Planform, mesh: Mesh, trace: Trace, *, hinge_height: ArrayLike
) -> Array:
    r"""Normal velocity of the free stream at each strip, over the flight speed, of unit washes.

    .. math:: n_z, \quad 1, \quad \epsilon(s) - \bar\epsilon_i n_z, \quad -(s - y_f), \quad -n_y,
              \quad n_z y - n_y (z + z_f)

    Parameters
    ----------
    planform
        Its twist counts.
    mesh, trace
        Half wing, flat and folded.
    hinge_height
        Of the fold axis above the roll axis [m].

    Returns
    -------
    Array
        In the order of :data:`WASHES`, shape ``(6, strips)``: per incidence [1], per incidence of
        the panel [1], of the built-in twist [rad], per fold rate over speed [m], per sideslip [1],
        per roll rate over speed [m].

    Notes
    -----
    Built-in incidence is fixed to the panel: its wash does not follow the cosine of the fold angle.
    It is taken against the wing incidence at which the inner wing has none in the mean (weighted by
    area): at a given lift this changes nothing, the panel's force then is what its twist makes of
    it. The datum of the twists is that of the breakpoints, along the fold axis.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> wing = SimpleNamespace(station=jnp.array([0.0, 3.0]), twist=jnp.array([0.0, -0.06]))
    >>> mesh = Mesh(inboard=jnp.array([0.0, 2.0, 2.0]), outboard=jnp.array([0.0, 0.0, 1.0]),
    ...     leading_edge=jnp.zeros(3), chord=jnp.ones(3))
    >>> washes = normal_washes(wing, mesh, folded_trace(mesh, jnp.pi / 6), hinge_height=0.0)
    >>> [float(wash) for wash in washes[:, 1]]
    [0.866, 1.0, -0.0327, -0.5, 0.5, 2.23205]

    References
    ----------
    Reference hinge-moment, sections 0 and 2.1 (derived).
    """
    station = mesh.inboard + mesh.outboard
    middle = 0.5 * (station[1:] + station[:-1])
    twist = jnp.interp(middle, planform.station, planform.twist)
    inner = (1.0 - trace.outer) * trace.width * (mesh.chord[1:] + mesh.chord[:-1])
    mean = jnp.sum(inner * twist) / jnp.sum(inner)
    return jnp.stack(
        [
            trace.normal_z,
            trace.outer,
            twist - mean * trace.normal_z,
            -trace.arm,
            -trace.normal_y,
            trace.normal_z * trace.y - trace.normal_y * (trace.z + hinge_height),
        ]
    )


def symmetric_strengths(own: Array, other: Array, washes: Array, rows: int) -> Array:
    """Strengths of the elements of the right wing under each wash, by symmetry of both wings.

    Parameters
    ----------
    own, other
        Normal velocity at each control point per strength of the right and of the left wing, in
        any unit, shape (elements, elements).
    washes
        Normal velocity of the strips that is to be met, in the unit of the others, shape (washes,
        strips).
    rows
        Elements of a strip along the chord [1].

    Returns
    -------
    Array
        Strengths [1], shape (elements, washes).

    References
    ----------
    Derived (symmetry).
    """
    right = -jnp.tile(washes, (1, rows)).T
    same, opposite = right[:, :SYMMETRIC], right[:, SYMMETRIC:]
    parts = [jnp.linalg.solve(own + other, same), jnp.linalg.solve(own - other, opposite)]
    return jnp.concatenate(parts, axis=1)
