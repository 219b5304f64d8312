"""Nodes of one heated tube in its bay: capacities, latent heat, conductances between them.

Order of the nodes: the chain of the tube (a cartridge and the cells of the wall outwards; a wrap
comes after them), one tube of the other set, the bay. So the last of the chain is always what
loses heat. All that the set shares is divided by its tubes: every number is that of one tube.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.heater import gap_conductance
from mdo.disciplines.heat.loss import TubeSurface, tube_loss
from mdo.disciplines.heat.network_wall import WallByPhase, WallCells, wall_cells
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
    [W], pressure [Pa], speed [m/s] or None; by_phase, the wall where it conducts as its phase.
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
    by_phase: WallByPhase | None = None

    @property
    def inside(self) -> Array:
        """Whether the heater is a cartridge."""
        return self.cartridge > 0.5


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


class Exchange(NamedTuple):
    """Conductances between nodes [W/K].

    Along the chain (n,); from its last node to the bay and to the other set; from that to the bay.
    """

    chain: Array
    to_bay: Array
    to_other: Array
    beside: Array


def _wall_of_phases(temperature: Array, network: TubeNetwork, wall: WallByPhase) -> WallCells:
    """Cells of a wall that conduct as their phases."""
    turned = austenite_fraction(temperature, network)
    of_cells = jnp.where(network.inside, turned[1:-2], turned[:-3])
    return wall_cells(
        inner_radius=wall.inner_radius,
        outer_radius=wall.outer_radius,
        length=wall.length,
        conductivity=wall.martensite + of_cells * (wall.austenite - wall.martensite),
        cells=of_cells.shape[0],
    )


def exchange(temperature: Array, network: TubeNetwork) -> Exchange:
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
    Exchange
        Conductances [W/K].

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
    heater, first, bay = asked[0], asked[1], asked[-1]
    inside = network.inside
    gap = network.heater_area * gap_conductance(
        temperature=(heater + first) / 2.0,
        pressure=network.pressure,
        gap=network.heater_gap,
        emissivity=network.gap_emissivity,
    )
    loss = tube_loss(
        tube_temperature=asked[-3:-1],
        air_temperature=bay,
        pressure=network.pressure,
        speed=network.speed,
        surface=network.surface,
    )
    inner_half, outer_half, wall = network.inner_half, network.outer_half, network.wall
    if network.by_phase is not None:
        _, wall, inner_half, outer_half = _wall_of_phases(temperature, network, network.by_phase)
    half = jnp.where(inside, outer_half, 0.0)
    radiated = network.surface.area * network.pair_emissivity
    radiated *= radiative_coefficient(*loss.surface_temperature)
    sleeves = network.surface.sleeve_resistance * (1.0 + 1.0 / network.neighbours)
    inner = gap / (1.0 + gap * inner_half)
    bonded = network.bond / (1.0 + network.bond * outer_half)
    return Exchange(
        chain=jnp.where(inside, jnp.append(inner, wall), jnp.append(wall, bonded)),
        to_bay=loss.conductance[0] / (1.0 + loss.conductance[0] * half),
        to_other=radiated / (1.0 + radiated * (sleeves + half)),
        beside=network.neighbours * loss.conductance[1],
    )


def heat_flows(temperature: Array, between: Exchange, network: TubeNetwork) -> Array:
    """Heat that each node gains: from its neighbours, the heater, and from outside the bay.

    Parameters
    ----------
    temperature
        Of each node [K].
    between
        Conductances.
    network
        The tube in its bay.

    Returns
    -------
    Array
        Heat [W], one per node.

    References
    ----------
    Derived (heat balance of each node).
    """
    last, other, bay = temperature[-3], temperature[-2], temperature[-1]
    along = between.chain * (temperature[:-3] - temperature[1:-2])
    to_bay, to_other = between.to_bay * (last - bay), between.to_other * (last - other)
    beside = between.beside * (other - bay)
    zero = jnp.zeros(1)
    chain = jnp.concatenate([zero, along]) - jnp.concatenate([along, zero])
    first = (jnp.arange(chain.shape[0]) == 0) * 1.0
    chain += network.power * jnp.where(network.inside, first, first[::-1])
    ends = jnp.stack([to_other - beside, to_bay + beside - leaving(bay, network)])
    return jnp.concatenate([chain.at[-1].add(-to_bay - to_other), ends])


def leaving(bay: Array, network: TubeNetwork) -> Array:
    r"""Heat that leaves the bay.

    .. math:: G\,(T_b - T_{outside})

    Parameters
    ----------
    bay
        Temperature of the bay [K].
    network
        The tube in its bay.

    Returns
    -------
    Array
        Heat [W].

    References
    ----------
    Derived.
    """
    return network.outside * (bay - network.outside_temperature)
