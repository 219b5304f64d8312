"""Constant-pressure panels of the half wing with its image, above Mach 1.

Each element is a trapezoid of constant pressure in linear supersonic flow: four sectors without
ends, in closed form, that begin at its corners.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
import numpy as np
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.loads.vortex_lattice import element_lines
from mdo.disciplines.loads.wing_mesh import ElementLoads, Mesh, Trace, symmetric_strengths

TIP_INSET = 0.18  # part of the last strip left out; by convergence of the hinge moment
_CONTROL = 0.95  # place of the control point in an element's chord; least biased on deltas
_SMALL = 1e-300  # keeps what a branch does not use finite


class Velocity(NamedTuple):
    """Velocities of a sector of unit pressure velocity along its trace and its normal [1]."""

    along: Array
    normal: Array


def sector_velocity(x: Array, y: Array, z: Array, *, slope: Array, beta: ArrayLike) -> Velocity:
    r"""Velocity of a flat sector of constant pressure behind one edge, to the right of its corner.

    .. math:: \pi v = -t\theta + \frac{z D}{r^2}, \quad
              \pi w = -\frac{y D}{r^2} - t\,\mathrm{acosh}\frac{x}{\beta r} - T, \quad
              D = \sqrt{x^2 - \beta^2 r^2}

    Parameters
    ----------
    x, y, z
        From the corner along the flow, along the trace, and up [m], any shape.
    slope
        :math:`t = dx/dy` of the edge [1].
    beta
        :math:`\sqrt{M^2-1}` [1].

    Returns
    -------
    Velocity
        Over the velocity :math:`u` along the flow on the upper face, [1].

    Notes
    -----
    :math:`\theta` and :math:`T` as the reference has them, for edges slower and faster than sound;
    behind the plane wave of a fast edge and outside the Mach cone of its corner the flow is that of
    an edge without ends; elsewhere there is none.

    Examples
    --------
    Far inside an unswept sector at beta 1: downwash -u (hand: Ackeret):

    >>> far = sector_velocity(jnp.asarray(1.0), jnp.asarray(9.0), jnp.asarray(0.0),
    ...     slope=jnp.asarray(0.0), beta=1.0)
    >>> float(far.normal)
    -1.0

    References
    ----------
    Reference hinge-moment, section 2.3 (derived); Ackeret 1925 (from memory).
    """
    square = y**2 + z**2
    below = x**2 - beta**2 * square
    inside = (x > 0.0) & (below > 0.0)
    # outside the cone safe numbers stand in: their results are not used, nor their derivatives
    depth = jnp.sqrt(jnp.where(inside, below, 1.0))
    square = jnp.where(inside, square, 1.0)
    theta = jnp.arctan2(
        jnp.where(inside, z * depth, 0.0), jnp.where(inside, slope * square - x * y, 1.0)
    )
    cone = jnp.where(inside, x, 1.0)
    spread = jnp.log((cone + depth) / (beta * jnp.sqrt(square)))
    edge = slope * x - beta**2 * y
    behind = x - slope * y
    excess = slope**2 - beta**2
    fast = excess < 0.0
    fast_root = jnp.sqrt(jnp.where(fast, -excess, 1.0))
    slow_root = jnp.sqrt(jnp.where(excess > 0.0, excess, 1.0))
    fast_turn = fast_root * jnp.arctan2(
        jnp.where(inside & fast, fast_root * depth, 0.0), jnp.where(inside & fast, edge, 1.0)
    )
    slow = inside & (excess > 0.0)
    below_line = beta**2 * (behind**2 + excess * z**2)
    ratio = (jnp.abs(edge) + slow_root * depth) / jnp.sqrt(
        jnp.where(slow, below_line, 1.0) + _SMALL
    )
    slow_turn = -slow_root * jnp.sign(edge) * jnp.log(jnp.where(slow, ratio, 1.0))
    turn = jnp.where(fast, fast_turn, jnp.where(excess > 0.0, slow_turn, 0.0))
    up = jnp.where(z >= 0.0, 1.0, -1.0)
    plane = ~inside & fast & (edge < 0.0) & (behind > fast_root * jnp.abs(z))
    along = jnp.where(inside, (-slope * theta + z * depth / square) / jnp.pi, 0.0)
    normal = jnp.where(inside, -(y * depth / square + slope * spread + turn) / jnp.pi, 0.0)
    return Velocity(
        along=jnp.where(plane, -slope * up, along), normal=jnp.where(plane, -fast_root, normal)
    )


def panel_influence(
    mesh: Mesh, trace: Trace, rows: int, *, beta: ArrayLike, mirrored: bool
) -> Array:
    """Normal velocity at each control point of each element of unit pressure velocity.

    Parameters
    ----------
    mesh, trace
        Half wing, flat and folded.
    rows
        Rows along the chord.
    beta
        Square root of M**2 - 1 [1].
    mirrored
        Whether the elements are those of the other wing, in the sense of equal lift.

    Returns
    -------
    Array
        [1], shape ``(elements, elements)``, elements row by row.

    References
    ----------
    Reference hinge-moment, section 2.3 (derived).
    """
    lines = element_lines(mesh, np.arange(rows + 1) / rows)
    edge_control = element_lines(mesh, (np.arange(rows) + _CONTROL) / rows)
    control = 0.5 * (edge_control[:, 1:] + edge_control[:, :-1])
    slope = jnp.diff(lines, axis=1) / trace.width
    side = -1.0 if mirrored else 1.0
    target_y, target_n = side * trace.y, side * trace.normal_y
    # direction of each source strip along its trace: (normal_z, -normal_y)
    turn_normal = target_n[:, None] * trace.normal_y + trace.normal_z[:, None] * trace.normal_z
    turn_along = target_n[:, None] * trace.normal_z - trace.normal_z[:, None] * trace.normal_y

    def corner(place: slice) -> Array:
        """Of the sectors that begin at the inner or the outer corners of all lines."""
        x = control[:, :, None, None] - lines[:, place]
        right = target_y[:, None] - trace.edge_y[place]
        high = trace.z[:, None] - trace.edge_z[place]
        y = right * trace.normal_z - high * trace.normal_y
        z = right * trace.normal_y + high * trace.normal_z
        flow = sector_velocity(x, y[:, None, :], z[:, None, :], slope=slope, beta=beta)
        return flow.along * turn_along[:, None, :] + flow.normal * turn_normal[:, None, :]

    sectors = corner(slice(None, -1)) - corner(slice(1, None))
    count = rows * trace.width.size
    return (sectors[..., :-1, :] - sectors[..., 1:, :]).reshape(count, count)


def panel_loads(
    mesh: Mesh, trace: Trace, washes: Array, *, rows: int, mach: ArrayLike
) -> ElementLoads:
    r"""Normal forces of all elements for every wash.

    .. math:: A\,u = -w, \quad \frac Nq = 4 u\,S

    Parameters
    ----------
    mesh, trace
        Half wing, flat and folded.
    washes
        Normal velocity over the flight speed of each strip [1], shape ``(washes, strips)``, in the
        order of :data:`mdo.disciplines.loads.wing_mesh.WASHES`.
    rows
        Rows along the chord.
    mach
        Above 1 [1], one number.

    Returns
    -------
    ElementLoads
        Forces per dynamic pressure and unit wash, [m**2] for a wash of [1].

    Notes
    -----
    Thin, attached, small angles, some Mach 1.2 to 3.

    References
    ----------
    Reference hinge-moment, section 2.3 (derived).
    """
    beta = jnp.sqrt(jnp.asarray(mach) ** 2 - 1.0)
    own = panel_influence(mesh, trace, rows, beta=beta, mirrored=False)
    other = panel_influence(mesh, trace, rows, beta=beta, mirrored=True)
    pressure = symmetric_strengths(own, other, washes, rows)
    inner, outer = mesh.chord[:-1], mesh.chord[1:]
    area = trace.width * (inner + outer) / (2.0 * rows)
    force = 4.0 * pressure.T.reshape(-1, rows, trace.width.size) * area
    start = mesh.inboard[:-1] + mesh.outboard[:-1] - mesh.inboard[-1]
    arm = start + trace.width * (inner + 2.0 * outer) / (3.0 * (inner + outer))
    return ElementLoads(force, arm, (jnp.arange(rows) + 0.5) / rows)
