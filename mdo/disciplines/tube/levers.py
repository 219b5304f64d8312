"""From stress of a tube to moment at the hinge: the factored moment asked there, drag of a path."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.records import Alloy
from mdo.disciplines.tube import torsion

DRAG_SHARE = 0.05  # of the largest drag of a leg, on which a factor of the path acts at least


def stress_cap(section: torsion.Section, alloy: Alloy) -> Array:
    """Uniform stress at which the outer fibre reaches the allowable one.

    Parameters
    ----------
    section
        Of a tube.
    alloy
        Record: its allowable shear stress.

    Returns
    -------
    Array
        [Pa].

    Examples
    --------
    A rod under one stress has 4/3 of it at its outer fibre where it is elastic, 1.4 times that with
    what a path leaves (hand):

    >>> from types import SimpleNamespace
    >>> allowed = SimpleNamespace(allowable_shear_stress=300e6)
    >>> float(stress_cap(torsion.section(0.005, 1.0), allowed)) / 1e6
    160.7

    References
    ----------
    :func:`mdo.disciplines.tube.torsion.outer_stress`.
    """
    return jnp.asarray(alloy.allowable_shear_stress) / torsion.outer_stress(1.0, section)


def factored(moment: ArrayLike, margin: ArrayLike) -> Array:
    """Required moment with its margin: ``(1 + m) R`` where R resists, R itself where it assists.

    Parameters
    ----------
    moment
        R [N*m], above zero where it resists.
    margin
        m [1].

    Returns
    -------
    Array
        [N*m].

    Examples
    --------
    >>> [float(moment) for moment in factored(jnp.array([100.0, -50.0]), 0.25)]
    [125.0, -50.0]

    References
    ----------
    Derived (definition of the margin).
    """
    value = jnp.asarray(moment)
    return jnp.where(value > 0.0, (1.0 + jnp.asarray(margin)) * value, value)


class Levers(NamedTuple):
    """From tube stress and strain to moments at the hinge, one wing.

    ``drive``, ``drag``: hinge moment per tube and mean stress [m**3], driving and dragged;
    ``to_strain``: strain at r_w per twist [1/rad].
    """

    drive: Array
    drag: Array
    to_strain: Array


def levers(
    *,
    section: torsion.Section,
    tube_length: Array,
    gear_ratio: Array,
    efficiency: Array,
    drag_efficiency: Array,
) -> Levers:
    """Hinge moment per tube and stress, driving and dragged; strain at r_w per twist.

    Parameters
    ----------
    section
        Of a tube.
    tube_length
        Active length [m].
    gear_ratio
        Tube twist over fold angle [1].
    efficiency
        Tube torque to hinge moment [1].
    drag_efficiency
        The same of tubes that are dragged [1].

    Returns
    -------
    Levers
        [m**3] and [1/rad].

    Examples
    --------
    A rod of 3 mm radius under one stress has 2/3 pi r^3 = 56.5 mm3 and r_w = 2 mm (hand):

    >>> lever = levers(section=torsion.section(0.003, 1.0), tube_length=0.2, gear_ratio=1.0,
    ...     efficiency=1.0, drag_efficiency=0.5)
    >>> float(lever.drive) * 1e9, float(lever.drag) * 1e9, float(lever.to_strain)
    (56.5, 113.1, 0.0100)

    References
    ----------
    Derived (virtual work of tube and hinge); :func:`mdo.disciplines.tube.torsion.section`.
    """
    arm = gear_ratio * section.area * section.effective_radius
    return Levers(arm * efficiency, arm / drag_efficiency, section.effective_radius / tube_length)


def drag_along_path(level_drag: ArrayLike, path_drag_factor: ArrayLike) -> Array:
    r"""Drag of the set that is wound, with that of its path over that of its level.

    .. math:: M = M_l + (f - 1)\max(M_l, M_0), \quad M_0 = 0.05 \max_\varphi M_l

    Parameters
    ----------
    level_drag
        Drag of the level by itself :math:`M_l` [N*m], shape (legs, angles).
    path_drag_factor
        Factor :math:`f` [1], of the same shape.

    Returns
    -------
    Array
        Drag :math:`M` [N*m], of the same shape.

    Notes
    -----
    Where a leg starts the level may have next to none, where the path has some: there the factor is
    one on a share of the largest drag of the leg (judgement).

    Examples
    --------
    >>> drag_along_path([[0.0, 10.0]], [[3.0, 1.2]]).tolist()
    [[1.0, 12.0]]

    References
    ----------
    Derived (definition of the factor).
    """
    drag = jnp.asarray(level_drag)
    return drag + (jnp.asarray(path_drag_factor) - 1.0) * jnp.maximum(drag, least_drag(drag))


def least_drag(level_drag: Array) -> Array:
    """Drag that a factor of the path acts on at least [N*m], shape (legs, 1).

    Parameters
    ----------
    level_drag
        Drag of the level by itself [N*m], shape (legs, angles).

    Returns
    -------
    Array
        Share of the largest of the leg [N*m].

    References
    ----------
    Derived (see :func:`drag_along_path`).
    """
    # gathered, not reduced: the slope of a compiled maximum is 0/0 where it is computed twice, and
    # differs by a round-off
    largest = jnp.argmax(level_drag, axis=-1, keepdims=True)
    return DRAG_SHARE * jnp.take_along_axis(level_drag, largest, axis=-1)
