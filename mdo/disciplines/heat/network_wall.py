"""Wall of a tube in cells through its thickness: radial finite volumes and what conducts."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.hardware import BORE_LEAST


class WallByPhase(NamedTuple):
    """Wall of which each cell conducts as its phase.

    inner_radius, outer_radius, length [m]; martensite and austenite: conductivities [W/(m*K)].
    """

    inner_radius: Array
    outer_radius: Array
    length: Array
    martensite: Array
    austenite: Array


class WallCells(NamedTuple):
    """Wall of a tube in cells of equal thickness.

    share of the section [1] of each; conductance between neighbours [W/K]; resistance of the inner
    and of the outer half cell [K/W].
    """

    share: Array
    conductance: Array
    inner_half: Array
    outer_half: Array


def wall_cells(
    *, inner_radius: Array, outer_radius: Array, length: Array, conductivity: Array, cells: int
) -> WallCells:
    r"""Cells of equal thickness through a wall, and what conducts between them.

    .. math:: \frac1G = \frac{\ln(r_f/r_i)}{2\pi k_i L} + \frac{\ln(r_{i+1}/r_f)}{2\pi k_{i+1} L}

    Parameters
    ----------
    inner_radius, outer_radius
        Of the wall [m].
    length
        Heated length :math:`L` [m].
    conductivity
        :math:`k` of the wall, or of each cell [W/(m*K)].
    cells
        Number of cells.

    Returns
    -------
    WallCells
        Shares [1], conductances [W/K], resistances [K/W].

    Examples
    --------
    One cell from 1 to 3 mm, 1/(2 pi) m, 1 W/(m K): half cells of ln 2 and ln 1.5 (hand).

    >>> one = wall_cells(inner_radius=0.001, outer_radius=0.003, length=0.5 / jnp.pi,
    ...     conductivity=1.0, cells=1)
    >>> float(one.inner_half), float(one.outer_half)
    (0.693147, 0.405465)

    References
    ----------
    Derived (conduction in a hollow cylinder); reference thermal-power-mass, section 2.3.
    """
    inner = jnp.maximum(inner_radius, BORE_LEAST)
    faces = inner + (outer_radius - inner) * jnp.linspace(0.0, 1.0, cells + 1)
    middles = (faces[1:] + faces[:-1]) / 2.0
    area = faces[1:] ** 2 - faces[:-1] ** 2
    through = 2.0 * jnp.pi * conductivity * length * jnp.ones(cells)
    inwards = jnp.log(middles / faces[:-1]) / through
    outwards = jnp.log(faces[1:] / middles) / through
    return WallCells(
        share=area / (outer_radius**2 - inner**2),
        conductance=1.0 / (outwards[:-1] + inwards[1:]),
        inner_half=inwards[0],
        outer_half=outwards[-1],
    )
