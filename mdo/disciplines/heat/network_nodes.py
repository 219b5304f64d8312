"""Nodes of one heated tube in its bay: capacities, latent heat, conductances between them.

Order of the nodes: heater, wall cells from the bore outwards, one tube of the other set, bay. All
that the set shares is divided by its tubes, so that every number is that of one tube.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
import numpy as np
from jax import Array

from mdo.disciplines.heat.hardware import BORE_LEAST
from mdo.disciplines.heat.heater import gap_conductance
from mdo.disciplines.heat.loss import TubeSurface, tube_loss
from mdo.disciplines.heat.radiation import radiative_coefficient
from mdo.disciplines.smooth import smooth_step

CELLS = 3  # of the wall; twice as many move the times of a nearly solid tube by less than 0.1 %
COLDEST, HOTTEST = 150.0, 2000.0  # [K] range in which the properties of air are asked
WINDOW_LEAST = 0.1  # [K] least width of a transformation, met only where nothing turns


class TubeNetwork(NamedTuple):
    """One tube in its bay with the tube beside it.

    Of each node: capacity [J/K], latent heat [J], window_low and window_width of the transformation
    [K]. heater_area [m**2], heater_gap [m], gap_emissivity and cartridge [1], bond [W/K]: heater to
    wall. inner_half, outer_half [K/W]: from the middle of the first and last cell to their surface;
    wall [W/K] between cells. surface and pair_emissivity [1]: to the bay and to the other set;
    neighbours [1]: its tubes per tube. outside [W/K], outside_temperature [K]: of the bay. power
    [W], pressure [Pa], speed [m/s] or None.
    """

    capacity: Array
    latent: Array
    window_low: Array
    window_width: Array
    heater_area: Array
    heater_gap: Array
    gap_emissivity: Array
    cartridge: Array
    bond: Array
    inner_half: Array
    outer_half: Array
    wall: Array
    surface: TubeSurface
    pair_emissivity: Array
    neighbours: Array
    outside: Array
    outside_temperature: Array
    power: Array
    pressure: Array
    speed: Array | None


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

    .. math:: G = \frac{2\pi k L}{\ln(r_{i+1}/r_i)}

    Parameters
    ----------
    inner_radius, outer_radius
        Of the wall [m].
    length
        Heated length :math:`L` [m].
    conductivity
        :math:`k` [W/(m*K)].
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
    through = 2.0 * jnp.pi * conductivity * length
    return WallCells(
        share=area / (outer_radius**2 - inner**2),
        conductance=through / jnp.log(middles[1:] / middles[:-1]),
        inner_half=jnp.log(middles[0] / inner) / through,
        outer_half=jnp.log(outer_radius / middles[-1]) / through,
    )


def austenite_fraction(temperature: Array, network: TubeNetwork) -> Array:
    r"""Share of each node that is austenite, cosine kinetics.

    .. math:: \tfrac12\left[1-\cos\pi\frac{T-T_1}{T_2-T_1}\right]

    Parameters
    ----------
    temperature
        Of each node [K].
    network
        Windows of the transformation.

    Returns
    -------
    Array
        Fraction [1].

    References
    ----------
    Liang and Rogers 1990 (from memory); reference thermal-power-mass, section 1.2.
    """
    return smooth_step((temperature - network.window_low) / network.window_width)


def enthalpy(temperature: Array, network: TubeNetwork) -> Array:
    """Heat of each node over 0 K, latent heat with it.

    .. math:: C T + L a(T)

    Parameters
    ----------
    temperature
        Of each node [K].
    network
        Capacities, latent heat and windows.

    Returns
    -------
    Array
        Heat [J].

    References
    ----------
    Enthalpy method, Voller 1985, IMA J. Numer. Anal. 5, 201 (first page seen).
    """
    turned = network.latent * austenite_fraction(temperature, network)
    return network.capacity * temperature + turned


def apparent_capacity(temperature: Array, network: TubeNetwork) -> Array:
    r"""Slope of the enthalpy of each node.

    .. math:: C + L\,\frac{\pi}{2\,\Delta T}\sin\pi\frac{T-T_1}{\Delta T}

    Parameters
    ----------
    temperature
        Of each node [K].
    network
        Capacities, latent heat and windows.

    Returns
    -------
    Array
        Capacity [J/K].

    References
    ----------
    Derived (slope of :func:`enthalpy`).
    """
    place = jnp.clip((temperature - network.window_low) / network.window_width, 0.0, 1.0)
    slope = jnp.pi / (2.0 * network.window_width) * jnp.sin(jnp.pi * place)
    return network.capacity + network.latent * slope


def incidence(cells: int) -> np.ndarray:
    """Which nodes each conductance joins, in the order of :func:`conductances`.

    Parameters
    ----------
    cells
        Number of wall cells.

    Returns
    -------
    numpy.ndarray
        Plus and minus one [1], shape (conductances, nodes).

    Examples
    --------
    >>> incidence(1).astype(int)[0].tolist()
    [1, -1, 0, 0]

    References
    ----------
    Derived.
    """
    first, last, other, bay = 1, cells, cells + 1, cells + 2
    pairs = [(0, first), (0, last)]
    pairs += [(cell, cell + 1) for cell in range(first, last)]
    pairs += [(last, bay), (0, bay), (last, other), (0, other), (other, bay)]
    joins = np.zeros((len(pairs), cells + 3))
    for row, (one, two) in enumerate(pairs):
        joins[row, one], joins[row, two] = 1.0, -1.0
    return joins


def conductances(temperature: Array, network: TubeNetwork) -> Array:
    r"""Conductances between the nodes at their temperatures.

    .. math:: G_{bay} = \frac{1}{1/UA(T) + R_{half}},\quad
        G_{pair} = \frac{1}{1/(\varepsilon_p A h_r) + R_{sleeve}(1+1/n)}

    Parameters
    ----------
    temperature
        Of each node [K].
    network
        The tube in its bay.

    Returns
    -------
    Array
        Conductances [W/K], in the order of the rows of :func:`incidence`.

    Notes
    -----
    A cartridge gives its heat to the first cell and the last cell loses it; a wrap gives it to the
    last cell and loses it itself. The surface of the sleeve has no capacity of its own: half of its
    heat is in the wall, as at the level `balance`.

    References
    ----------
    :func:`mdo.disciplines.heat.loss.tube_loss`,
    :func:`mdo.disciplines.heat.heater.gap_conductance`.
    """
    asked = jnp.clip(temperature, COLDEST, HOTTEST)
    heater, first, last, other, bay = (asked[place] for place in (0, 1, -3, -2, -1))
    inside = network.cartridge
    gap = network.heater_area * gap_conductance(
        temperature=(heater + first) / 2.0,
        pressure=network.pressure,
        gap=network.heater_gap,
        emissivity=network.gap_emissivity,
    )
    outer = jnp.where(inside > 0.5, last, heater)
    loss = tube_loss(
        tube_temperature=jnp.stack([outer, other]),
        air_temperature=bay,
        pressure=network.pressure,
        speed=network.speed,
        surface=network.surface,
    )
    half = jnp.where(inside > 0.5, network.outer_half, 0.0)
    to_bay = loss.conductance[0] / (1.0 + loss.conductance[0] * half)
    bare = network.surface.area * network.pair_emissivity
    radiated = bare * radiative_coefficient(*loss.surface_temperature)
    sleeves = network.surface.sleeve_resistance * (1.0 + 1.0 / network.neighbours)
    to_other = radiated / (1.0 + radiated * (sleeves + half))
    single = [
        inside * gap / (1.0 + gap * network.inner_half),
        (1.0 - inside) * network.bond / (1.0 + network.bond * network.outer_half),
    ]
    outwards = [
        inside * to_bay,
        (1.0 - inside) * to_bay,
        inside * to_other,
        (1.0 - inside) * to_other,
        network.neighbours * loss.conductance[1],
    ]
    return jnp.concatenate([jnp.stack(single), network.wall, jnp.stack(outwards)])


def exchange_matrix(temperature: Array, network: TubeNetwork) -> Array:
    """Matrix of the heat that leaves each node per kelvin of each node, the outside with it.

    Parameters
    ----------
    temperature
        Of each node [K], at which the conductances are taken.
    network
        The tube in its bay.

    Returns
    -------
    Array
        Matrix [W/K], symmetric.

    References
    ----------
    Derived (heat balance of each node).
    """
    joins = incidence(temperature.shape[0] - 3)
    matrix = jnp.asarray(joins.T) @ (conductances(temperature, network)[:, None] * joins)
    return matrix.at[-1, -1].add(network.outside)


def supplied_heat(network: TubeNetwork) -> Array:
    """Heat that each node gets from beyond the network: the heater's, and from outside the bay.

    Parameters
    ----------
    network
        The tube in its bay.

    Returns
    -------
    Array
        Heat [W], one per node; with the outside at its temperature.

    References
    ----------
    Derived.
    """
    supplied = jnp.zeros_like(network.capacity).at[0].set(network.power)
    return supplied.at[-1].set(network.outside * network.outside_temperature)
