"""What folding does to the vehicle: directional stability, drag due to lift, aerodynamic centre.

Loads of the folded wing as in level `lattice`, summed for the whole wing; drag due to lift below
Mach 1 in the Trefftz plane, behind the folded trace.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import jax
import jax.numpy as jnp
import numpy as np
from jax import Array
from jax.typing import ArrayLike

from mdo.arrays import Floats
from mdo.disciplines.loads.lifting_surfaces import (
    SUBSONIC_MESH,
    Wing,
    subsonic_elements,
    supersonic_elements,
)
from mdo.disciplines.loads.vortex_lattice import element_lines
from mdo.disciplines.loads.wing_mesh import (
    WASHES,
    ElementLoads,
    Mesh,
    MeshSize,
    Trace,
    folded_trace,
)
from mdo.disciplines.records import Planform

CROSS_FLOW_STRIPS = 30  # of the inner wing and of the panel: 0.1 % of the apparent area
# Coarser than that of the hinge moment: within 4 % of its side force and 0.5 % of its drag
SUPERSONIC_MESH = MeshSize(chordwise=4, inner=8, outer=6)
_INCIDENCE, _SIDESLIP = WASHES.index("incidence"), WASHES.index("sideslip")


class WingBenefit(NamedTuple):
    """Slopes of both wings per dynamic pressure, and drag due to lift, at one point of flight.

    ``lift`` [m**2] per incidence; ``lift_centre`` [m] aft of the root's leading edge;
    ``side_force`` [m**2], ``side_moment`` [m**3] about the root's leading edge, nose into the wind
    positive, and ``roll_moment`` [m**3], right wing down positive, per sideslip (wind from the
    right); ``span_square`` [m**2]: lift squared over drag due to lift and dynamic pressure, and
    ``span_square_least`` that of the load of least drag, nan above Mach 1.
    """

    lift: Array
    lift_centre: Array
    side_force: Array
    side_moment: Array
    roll_moment: Array
    span_square: Array
    span_square_least: Array


def cross_flow_trace(planform: Planform, fold_angle: ArrayLike, count: int) -> Trace:
    """Trace of the folded wing with strips that crowd at the fold and at the tip.

    Parameters
    ----------
    planform
        Its fold station and panel span.
    fold_angle
        [rad], one number.
    count
        Strips of the inner wing and of the panel.

    Returns
    -------
    Trace
        [m]; each strip's point is that of the middle angle of the cosine distribution, on which
        the elliptic load of a flat wing is exact.

    References
    ----------
    Reference hinge-moment, section 2.2 (derived).
    """
    edge, middle = np.arange(count + 1) / count, (np.arange(count) + 0.5) / count
    inner, outer = jnp.asarray(planform.fold_station), jnp.asarray(planform.panel_span)
    zero, one = np.zeros(count), np.ones(count)

    def inward(part: Floats) -> Floats:
        return np.sin(0.5 * np.pi * part)

    def outward(part: Floats) -> Floats:
        return 0.5 * (1.0 - np.cos(np.pi * part))

    edges = Mesh(
        inboard=inner * np.concatenate([inward(edge), one]),
        outboard=outer * np.concatenate([zero, outward(edge)]),
        leading_edge=jnp.zeros(2 * count + 1),
        chord=jnp.ones(2 * count + 1),
    )
    trace = folded_trace(edges, fold_angle)
    inboard = inner * np.concatenate([inward(middle), one])
    outboard = outer * np.concatenate([zero, outward(middle)])
    return trace._replace(
        y=inboard + outboard * jnp.cos(fold_angle), z=outboard * jnp.sin(fold_angle)
    )


def trefftz_influence(trace: Trace) -> Array:
    r"""Normal velocity far behind the wing at each strip, of unit circulation of each strip.

    .. math:: \frac{1}{2\pi} \frac{n_z \Delta y - n_y \Delta z}{\Delta y^2 + \Delta z^2}

    Parameters
    ----------
    trace
        Right half; the other one mirrors it.

    Returns
    -------
    Array
        [1/m], shape ``(strips, strips)``.

    References
    ----------
    Biot and Savart in the plane (textbook, from memory); reference hinge-moment, section 2.2.
    """

    def edges(side: float) -> Array:
        y = side * trace.y[:, None] - trace.edge_y
        z = trace.z[:, None] - trace.edge_z
        turned = trace.normal_z[:, None] * y - side * trace.normal_y[:, None] * z
        return turned / (2.0 * jnp.pi * (y**2 + z**2))

    both = edges(1.0) + edges(-1.0)
    return both[:, 1:] - both[:, :-1]


def apparent_area(trace: Trace) -> Array:
    r"""Apparent area of a folded trace: drag due to lift of the load of least drag.

    .. math:: A = 2 \sum \Gamma\,\Delta s\,n_z, \quad W \Gamma = -n_z, \quad
              e = \frac{A}{\pi b^2/4}

    Parameters
    ----------
    trace
        Right half of the wing seen from behind.

    Returns
    -------
    Array
        :math:`A` [m**2]; over that of a flat wing of the span it is the span efficiency.

    Examples
    --------
    A flat wing of span 2 m has pi (textbook: a circle on the span):

    >>> from types import SimpleNamespace
    >>> wing = SimpleNamespace(fold_station=0.6, panel_span=0.4)
    >>> float(apparent_area(cross_flow_trace(wing, 0.0, 40)))
    3.14

    References
    ----------
    Munk 1921, TR 121 (from memory); reference hinge-moment, section 2.2.
    """
    load = jnp.linalg.solve(trefftz_influence(trace), -trace.normal_z)
    return 2.0 * jnp.sum(load * trace.width * trace.normal_z)


def lift_square_over_drag(trace: Trace, circulation: Array) -> Array:
    r"""Lift squared over drag and dynamic pressure of a given load.

    .. math:: \frac{L^2}{q D_i} = \frac{2 \left(2\sum \Gamma\,\Delta s\,n_z\right)^2}
              {-\sum \Gamma\,\Delta s\,(W\Gamma)}

    Parameters
    ----------
    trace
        Right half.
    circulation
        Of each strip, any unit, shape ``(strips,)``.

    Returns
    -------
    Array
        [m**2]; :math:`\pi b^2 e`.

    References
    ----------
    Reference hinge-moment, section 2.2 (derived).
    """
    lift = 2.0 * jnp.sum(circulation * trace.width * trace.normal_z)
    drag = -jnp.sum(circulation * trace.width * (trefftz_influence(trace) @ circulation))
    return 2.0 * lift**2 / drag


def _summed(
    elements: ElementLoads, mesh: Mesh, trace: Trace, hinge_height: ArrayLike
) -> WingBenefit:
    """Sums over both wings; drag without suction."""
    lines = element_lines(mesh, elements.chord_fraction)
    place = 0.5 * (lines[:, 1:] + lines[:, :-1])
    force = elements.force[jnp.array([_INCIDENCE, _SIDESLIP])]
    strips = jnp.sum(force, axis=1)
    lift = 2.0 * jnp.sum(strips[0] * trace.normal_z)
    lever = trace.normal_z * trace.y - trace.normal_y * (trace.z + jnp.asarray(hinge_height))
    return WingBenefit(
        lift=lift,
        lift_centre=2.0 * jnp.sum(force[0] * place * trace.normal_z) / lift,
        side_force=2.0 * jnp.sum(strips[1] * trace.normal_y),
        side_moment=-2.0 * jnp.sum(force[1] * place * trace.normal_y),
        roll_moment=-2.0 * jnp.sum(strips[1] * lever),
        span_square=lift,
        span_square_least=jnp.full_like(lift, jnp.nan),
    )


def subsonic_benefit(
    wing: Wing, mach: ArrayLike, fold_angle: ArrayLike, *, size: MeshSize = SUBSONIC_MESH
) -> WingBenefit:
    """Slopes and induced drag of the folded wing by the vortex lattice.

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
    WingBenefit
        Per dynamic pressure; drag of the untwisted wing's own load.

    References
    ----------
    Reference hinge-moment, sections 2.1, 2.2 and 6 (derived).
    """
    elements, mesh, trace = subsonic_elements(wing, mach, fold_angle, size)
    slopes = _summed(elements, mesh, trace, wing.hinge_height)
    circulation = jnp.sum(elements.force[_INCIDENCE], axis=0) / trace.width
    least = apparent_area(cross_flow_trace(wing.planform, fold_angle, CROSS_FLOW_STRIPS))
    return slopes._replace(
        span_square=lift_square_over_drag(trace, circulation), span_square_least=4.0 * least
    )


def supersonic_benefit(
    wing: Wing, mach: ArrayLike, fold_angle: ArrayLike, *, size: MeshSize = SUPERSONIC_MESH
) -> WingBenefit:
    """Slopes and drag due to lift of the folded wing by constant-pressure panels.

    Parameters
    ----------
    wing
        Planform and what else counts.
    mach
        Above 1 [1], one number.
    fold_angle
        [rad], one number.
    size
        Of the mesh.

    Returns
    -------
    WingBenefit
        Per dynamic pressure; drag without leading-edge suction: lift times incidence.

    References
    ----------
    Reference hinge-moment, sections 2.3 and 6 (derived).
    """
    elements, mesh, trace = supersonic_elements(wing, mach, fold_angle, size)
    return _summed(elements, mesh, trace, wing.hinge_height)


def points_at(function: Callable[..., WingBenefit]) -> Callable[..., WingBenefit]:
    """Compile a method for many points of fold angle and fold fraction at one Mach number.

    Parameters
    ----------
    function
        :func:`subsonic_benefit` or :func:`supersonic_benefit`.

    Returns
    -------
    Callable
        Of a wing, a Mach number [1], fold angles [rad] and fold fractions [1], both of shape
        ``(points,)``; its results have that shape. The fraction of the wing itself is not used.

    References
    ----------
    Derived (geometry).
    """

    def points(wing: Wing, mach: Array, folds: Array, fractions: Array) -> WingBenefit:
        half = 0.5 * jnp.asarray(wing.planform.span)

        def point(at: tuple[Array, Array]) -> WingBenefit:
            fold, fraction = at
            planform = wing.planform._replace(
                fold_station=(1.0 - fraction) * half, panel_span=fraction * half
            )
            return function(wing._replace(planform=planform), mach, fold)

        result: WingBenefit = jax.lax.map(point, (folds, fractions))
        return result

    compiled: Callable[..., WingBenefit] = jax.jit(points)
    return compiled


subsonic_points, supersonic_points = points_at(subsonic_benefit), points_at(supersonic_benefit)
