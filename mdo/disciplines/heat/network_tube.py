"""One tube of a set as a network of nodes: its share of the bay and of the other set."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.assumptions import ThermalAssumptions
from mdo.disciplines.heat.hardware import TubeHardware
from mdo.disciplines.heat.network_nodes import WINDOW_LEAST, TubeNetwork
from mdo.disciplines.heat.network_wall import WallByPhase, wall_cells
from mdo.disciplines.heat.radiation import effective_emissivity
from mdo.disciplines.heat.stage import COUNT_LEAST
from mdo.disciplines.records import Alloy, Choices
from mdo.disciplines.smooth import blended_max, blended_min

NOTHING_BESIDE = 1e-6  # [1] tubes beside each one where there is no other set
VIEW_BLEND = 0.01  # [1] width of the blend at half of what a tube sees of the bay


class Turning(NamedTuple):
    """Transformation of a tube: from [K], over [K], latent heat of what turns [J]."""

    low: Array
    width: Array
    latent: Array


class Body(NamedTuple):
    """A tube with heater, sleeve and fittings: its capacity [J/K], its transformation."""

    capacity: Array
    turning: Turning


class Surroundings(NamedTuple):
    """Outside of the bay [K], air pressure [Pa], speed of blown air [m/s] or None."""

    outside: Array
    pressure: Array
    speed: Array | None


class Sets(NamedTuple):
    """Tubes of this set and of the other one, zero where a set is absent [1]."""

    this: Array
    other: Array


def present_sets(tube_count: Array, choices: Choices) -> Sets:
    """Tubes of each set and of the other set.

    Parameters
    ----------
    tube_count
        Of each set [1], shape (2,).
    choices
        Record: set_present.

    Returns
    -------
    Sets
        Counts [1], shape (2,).

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> sets = present_sets(jnp.array([4.0, 6.0]), SimpleNamespace(set_present=[1.0, 0.0]))
    >>> sets.this.tolist(), sets.other.tolist()
    ([4.0, 0.0], [0.0, 4.0])

    References
    ----------
    Derived.
    """
    count = tube_count * jnp.asarray(choices.set_present)
    return Sets(count, count[::-1])


def neighbour_view(exposure: Array, sets: Sets, assumed: ThermalAssumptions) -> Array:
    r"""View factor of a tube to the other set, taken from what it sees of the bay.

    .. math:: F_n = \min(F_{n,0}, F/2)

    Parameters
    ----------
    exposure
        View factor F of the tube to all beyond its own set [1].
    sets
        Tubes of both sets [1].
    assumed
        Record: neighbour_view.

    Returns
    -------
    Array
        View factor [1]; zero where there is no other set.

    Examples
    --------
    Half of 0.2 is less than 0.15 (hand):

    >>> from types import SimpleNamespace
    >>> float(neighbour_view(0.2, Sets(4.0, 4.0), SimpleNamespace(neighbour_view=0.15)))
    0.1

    References
    ----------
    Derived (view factors of a tube sum to one); that half of it is left is judgement.
    """
    seen = blended_min(assumed.neighbour_view, exposure / 2.0, VIEW_BLEND)
    return jnp.where(jnp.asarray(sets.other) > COUNT_LEAST, seen, 0.0)


def pair_emissivity(emissivity: Array, view: Array) -> Array:
    r"""Exchange of two equal grey surfaces that see each other.

    .. math:: \varepsilon_p = \left[2\frac{1-\varepsilon}{\varepsilon} + \frac1{F}\right]^{-1}

    Parameters
    ----------
    emissivity
        Of both [1].
    view
        View factor F from one to the other [1].

    Returns
    -------
    Array
        Effective emissivity on the area of one [1].

    Examples
    --------
    One half of each (hand: 1/(2 + 2)):

    >>> float(pair_emissivity(0.5, 0.5))
    0.25

    References
    ----------
    Two-surface grey enclosure, Incropera and DeWitt, equation 13.18 (from memory).
    """
    return view / (1.0 + 2.0 * view * (1.0 - emissivity) / emissivity)


def _nodes(cartridge: Array, own: Array, cell: Array, beside: Array, bay: Array) -> Array:
    """Chain of nodes: heater inside or around the cells of the wall, the other set, the bay."""
    inside = jnp.concatenate([jnp.append(own, cell), jnp.stack([beside, bay])])
    around = jnp.concatenate([jnp.append(cell, own), jnp.stack([beside, bay])])
    return jnp.where(cartridge > 0.5, inside, around)


def _turning_nodes(
    cartridge: Array, share: Array, turning: Turning, other: Turning, per_tube: Array
) -> dict[str, Array]:
    """Latent heat of the nodes, and the window of temperature in which they turn."""
    nothing, spread = jnp.zeros(()), jnp.ones_like(share)
    low, width = (
        _nodes(cartridge, own, spread * own, beside, own)
        for own, beside in ((turning.low, other.low), (turning.width, other.width))
    )
    latent = (nothing, share * turning.latent, per_tube * other.latent, nothing)
    return {
        "latent": _nodes(cartridge, *latent),
        "window_low": low,
        "window_width": blended_max(width, WINDOW_LEAST, WINDOW_LEAST),
    }


def tube_network(
    *,
    hardware: TubeHardware,
    own: Body,
    other: Body,
    power: Array,
    sets: Sets,
    surroundings: Surroundings,
    exposure: Array,
    alloy: Alloy,
    choices: Choices,
    assumed: ThermalAssumptions,
    cells: int,
    by_phase: bool = False,
) -> TubeNetwork:
    """Nodes of one tube, of the tubes of the other set beside it, and its share of the bay.

    Parameters
    ----------
    hardware
        One tube of the set.
    own, other
        What a tube of this set holds, and one of the other.
    power
        Heater power of the tube [W].
    sets
        Tubes of both [1].
    surroundings
        Outside of the bay.
    exposure
        View factor of the tube to all beyond its own set [1].
    alloy, choices, assumed
        Records.
    cells
        Cells of the wall [1].
    by_phase
        Whether each cell conducts as its phase [1].

    Returns
    -------
    TubeNetwork
        Of one tube.

    Notes
    -----
    What is no heater is spread over the wall by section. The wall conducts as the poorer phase
    unless by phase, as both levels that march have it. An absent set counts as one tube alone in
    the bay, and beside it is nothing.

    References
    ----------
    Derived; reference thermal-power-mass, sections 2.2, 2.3, 2.5 (bay node) and 2.7.
    """
    cartridge = jnp.asarray(choices.heater)
    wall = wall_cells(
        inner_radius=hardware.inner_radius,
        outer_radius=hardware.outer_radius,
        length=hardware.length,
        conductivity=jnp.asarray(alloy.conductivity_martensite),
        cells=cells,
    )
    count = jnp.where(sets.this > COUNT_LEAST, sets.this, 1.0)
    both = (sets.this > COUNT_LEAST) & (sets.other > COUNT_LEAST)
    per_tube = jnp.where(both, sets.other, NOTHING_BESIDE * count) / count
    heater, area = _heater(hardware, cartridge, assumed)
    view = neighbour_view(exposure, sets, assumed)
    emissivity = jnp.asarray(choices.emissivity)
    outside = assumed.bay_conductance / count

    bay = assumed.bay_capacity / count
    walls, beside = wall.share * (own.capacity - heater), per_tube * other.capacity
    return TubeNetwork(
        capacity=_nodes(cartridge, heater, walls, beside, bay),
        **_turning_nodes(cartridge, wall.share, own.turning, other.turning, per_tube),
        heater_area=area,
        heater_gap=jnp.asarray(assumed.heater_gap),
        gap_emissivity=jnp.asarray(assumed.gap_emissivity),
        cartridge=cartridge,
        bond=area * assumed.adhesive_conductivity / assumed.adhesive_thickness,
        inner_half=wall.inner_half,
        outer_half=wall.outer_half,
        wall=wall.conductance,
        surface=hardware.surface._replace(
            emissivity=effective_emissivity(emissivity, exposure - view)
        ),
        pair_emissivity=pair_emissivity(emissivity, view),
        neighbours=per_tube,
        outside=outside,
        outside_temperature=surroundings.outside,
        power=power,
        pressure=surroundings.pressure,
        speed=surroundings.speed,
        by_phase=_wall_by_phase(hardware, alloy) if by_phase else None,
    )


def _heater(
    hardware: TubeHardware, cartridge: Array, assumed: ThermalAssumptions
) -> tuple[Array, Array]:
    """Heat capacity of a heater [J/K] and its surface towards the tube [m**2]."""
    inside = cartridge > 0.5
    specific = jnp.where(inside, assumed.cartridge_specific_heat, assumed.wrap_specific_heat)
    radius = jnp.where(inside, hardware.heater_radius, hardware.outer_radius)
    mass = hardware.heater_mass - assumed.heater_lead_mass
    return mass * specific, 2.0 * jnp.pi * radius * hardware.length


def _wall_by_phase(hardware: TubeHardware, alloy: Alloy) -> WallByPhase:
    return WallByPhase(
        hardware.inner_radius,
        hardware.outer_radius,
        hardware.length,
        jnp.asarray(alloy.conductivity_martensite),
        jnp.asarray(alloy.conductivity_austenite),
    )
