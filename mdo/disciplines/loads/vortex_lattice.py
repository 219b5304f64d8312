"""Non-planar vortex lattice of the half wing with its image, below Mach 1.

One horseshoe per element, its bound vortex at a quarter of the element's chord, the wake straight
along the flow. Compressibility by stretching the chord alone.
"""

from __future__ import annotations

import jax.numpy as jnp
import numpy as np
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.loads.wing_mesh import ElementLoads, Mesh, Trace, symmetric_strengths

TIP_INSET = 0.25  # part of the last strip left out; by convergence of the hinge moment
_BOUND, _CONTROL = 0.25, 0.75  # places of vortex and control point in an element's chord
_FOUR_PI = 4.0 * np.pi


def element_lines(mesh: Mesh, fraction: ArrayLike) -> Array:
    """Chordwise places of lines of constant chord fraction at the strip edges.

    Parameters
    ----------
    mesh
        Half wing.
    fraction
        Of the chord [1], shape ``(lines,)``.

    Returns
    -------
    Array
        [m], shape ``(lines, strips + 1)``.

    Examples
    --------
    >>> mesh = Mesh(inboard=jnp.zeros(2), outboard=jnp.zeros(2),
    ...     leading_edge=jnp.array([0.0, 1.0]), chord=jnp.array([2.0, 1.0]))
    >>> [float(x) for x in element_lines(mesh, jnp.array([0.5]))[0]]
    [1.0, 1.5]

    References
    ----------
    Derived (geometry).
    """
    return mesh.leading_edge + jnp.asarray(fraction)[:, None] * mesh.chord


def bound_velocity(
    inner: tuple[Array, Array, Array],
    outer: tuple[Array, Array, Array],
    normal: tuple[Array, Array],
) -> Array:
    r"""Velocity along a normal in the y-z plane, of a straight vortex of unit circulation.

    .. math:: \frac{1}{4\pi} \frac{n \cdot (r_1 \times r_2)}{|r_1||r_2| + r_1 \cdot r_2}
              \left(\frac{1}{|r_1|} + \frac{1}{|r_2|}\right)

    Parameters
    ----------
    inner, outer
        :math:`r_1, r_2`: from the inner and the outer end to the point [m], any shape.
    normal
        y and z of the normal [1].

    Returns
    -------
    Array
        [1/m].

    Notes
    -----
    In this form it is regular on the extension of the vortex: no core is needed.

    Examples
    --------
    A vortex from (0, -1, 0) to (0, 1, 0), 1 m ahead of the point: downwash by hand
    2 cos 45 deg/(4 pi) = 0.1125:

    >>> one, zero = jnp.asarray(1.0), jnp.asarray(0.0)
    >>> float(bound_velocity((one, one, zero), (one, -one, zero), (zero, one)))
    -0.1125

    References
    ----------
    Biot and Savart (textbook, from memory); derived for this form.
    """
    (x1, y1, z1), (x2, y2, z2) = inner, outer
    first = jnp.sqrt(x1**2 + y1**2 + z1**2)
    second = jnp.sqrt(x2**2 + y2**2 + z2**2)
    cross = normal[0] * (z1 * x2 - x1 * z2) + normal[1] * (x1 * y2 - y1 * x2)
    product = first * second
    inverse = (first + second) / (product * (product + x1 * x2 + y1 * y2 + z1 * z2))
    return cross * inverse / _FOUR_PI


def trailing_velocity(start: tuple[Array, Array, Array], normal: tuple[Array, Array]) -> Array:
    r"""Velocity along a normal in the y-z plane, of a vortex from a point downstream without end.

    .. math:: \frac{1}{4\pi} \frac{n_z \Delta y - n_y \Delta z}{\Delta y^2 + \Delta z^2}
              \left(1 + \frac{\Delta x}{|r|}\right)

    Parameters
    ----------
    start
        From its start to the point [m], any shape.
    normal
        y and z of the normal [1].

    Returns
    -------
    Array
        [1/m]; circulation along the flow.

    Examples
    --------
    Beside its start half of a vortex without ends, 1/(4 pi):

    >>> one, zero = jnp.asarray(1.0), jnp.asarray(0.0)
    >>> float(trailing_velocity((zero, one, zero), (zero, one)))
    0.0796

    References
    ----------
    Biot and Savart (textbook, from memory).
    """
    x, y, z = start
    square = y**2 + z**2
    along = 1.0 + x / jnp.sqrt(x**2 + square)
    return (normal[1] * y - normal[0] * z) * along / (square * _FOUR_PI)


def horseshoe_influence(mesh: Mesh, trace: Trace, rows: int, *, mirrored: bool) -> Array:
    """Normal velocity at each control point of unit circulation of each horseshoe.

    Parameters
    ----------
    mesh, trace
        Half wing, chordwise lengths already stretched.
    rows
        Rows along the chord.
    mirrored
        Whether the horseshoes are those of the other wing, in the sense of equal lift: its field
        at a point is the mirrored field of this wing at the mirrored point.

    Returns
    -------
    Array
        [1/m], shape ``(elements, elements)``, elements row by row.

    References
    ----------
    Reference hinge-moment, section 2.1 (derived).
    """
    row = np.arange(rows)
    corner = element_lines(mesh, (row + _BOUND) / rows)
    edge_control = element_lines(mesh, (row + _CONTROL) / rows)
    side = -1.0 if mirrored else 1.0
    # axes: control row, control strip, vortex row, vortex edge
    x = (0.5 * (edge_control[:, 1:] + edge_control[:, :-1]))[:, :, None, None] - corner
    y = (side * trace.y[:, None] - trace.edge_y)[None, :, None, :]
    z = (trace.z[:, None] - trace.edge_z)[None, :, None, :]
    normal = ((side * trace.normal_y)[None, :, None, None], trace.normal_z[None, :, None, None])
    trailing = trailing_velocity((x, y, z), normal)
    bound = bound_velocity(
        (x[..., :-1], y[..., :-1], z[..., :-1]), (x[..., 1:], y[..., 1:], z[..., 1:]), normal
    )
    influence = bound + trailing[..., 1:] - trailing[..., :-1]
    count = rows * trace.width.size
    return influence.reshape(count, count)


def section_loss(mesh: Mesh, trace: Trace, rows: int, efficiency: ArrayLike) -> Array:
    r"""Wash that a section with less than the ideal slope loses, per circulation of its strip.

    .. math:: -\frac{1/\kappa - 1}{\pi c \cos\Lambda}

    Parameters
    ----------
    mesh, trace
        Half wing, chordwise lengths already stretched.
    rows
        Rows along the chord.
    efficiency
        :math:`\kappa`, section slope over the ideal one [1].

    Returns
    -------
    Array
        [1/m], shape ``(elements, elements)``: the same for all elements of a strip.

    Notes
    -----
    A wing without ends then has the slope :math:`2\pi\kappa\cos\Lambda`, as in the closed form.

    References
    ----------
    Derived; :func:`mdo.disciplines.loads.lift_slope.subsonic_lift_slope` for its meaning.
    """
    middle = mesh.leading_edge + 0.5 * mesh.chord
    slope = jnp.diff(middle) / trace.width
    chord = 0.5 * (mesh.chord[1:] + mesh.chord[:-1])
    loss = (1.0 / jnp.asarray(efficiency) - 1.0) * jnp.sqrt(1.0 + slope**2) / (jnp.pi * chord)
    return jnp.tile(-jnp.diag(loss), (rows, rows))


def lattice_loads(
    mesh: Mesh,
    trace: Trace,
    washes: Array,
    *,
    rows: int,
    mach: ArrayLike,
    section_lift_efficiency: ArrayLike,
) -> ElementLoads:
    r"""Normal forces of all elements for every wash.

    .. math:: A\,\Gamma = -w, \quad \frac Nq = 2 \Gamma\,\Delta s, \quad
              x' = x/\sqrt{1 - M^2}

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
        Below 1 [1], one number.
    section_lift_efficiency
        Section slope over :math:`2\pi/B` [1]; 1 is the lattice as it is.

    Returns
    -------
    ElementLoads
        Forces per dynamic pressure and unit wash, [m**2] for a wash of [1].

    Notes
    -----
    Thin, attached, small angles, wake along the flow. Stretching reaches the chord alone: not y, z,
    normals, washes or circulation. Panels must not come closer than a strip to the inner wing:
    beyond some 110 deg of fold the result means nothing.

    References
    ----------
    Reference hinge-moment, section 2.1; Goethert's rule (textbook, from memory).
    """
    stretch = 1.0 / jnp.sqrt(1.0 - jnp.asarray(mach) ** 2)
    mesh = mesh._replace(leading_edge=stretch * mesh.leading_edge, chord=stretch * mesh.chord)
    own = horseshoe_influence(mesh, trace, rows, mirrored=False)
    own += section_loss(mesh, trace, rows, section_lift_efficiency)
    other = horseshoe_influence(mesh, trace, rows, mirrored=True)
    circulation = symmetric_strengths(own, other, washes, rows)
    force = 2.0 * circulation.T.reshape(-1, rows, trace.width.size) * trace.width
    station = mesh.inboard + mesh.outboard
    arm = 0.5 * (station[1:] + station[:-1]) - mesh.inboard[-1]
    return ElementLoads(force, arm, (jnp.arange(rows) + _BOUND) / rows)
