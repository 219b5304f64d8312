"""Cells of a wall against closed forms of transient conduction, with and without latent heat."""

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import erf, j0, j1

from mdo.disciplines.heat.loss import TubeSurface
from mdo.disciplines.heat.network_march import start_state, take_step
from mdo.disciplines.heat.network_nodes import TubeNetwork, exchange
from mdo.disciplines.heat.network_wall import wall_cells

CELLS = 20
DENSITY, HEAT = 6450.0, 470.0  # [kg/m3], [J/(kg K)] of NiTi


def bare_wall(inner, outer, *, conductivity, volume_heat, film, air, latent=0.0, window=(1.0, 1.0)):
    """Wall of 1 m that loses heat on its outside alone, by a constant film."""
    area = 2.0 * np.pi * outer
    wall = wall_cells(
        inner_radius=inner, outer_radius=outer, length=1.0, conductivity=conductivity, cells=CELLS
    )
    volume = np.pi * (outer**2 - inner**2)
    # outside of a sleeve the surface is so large that it stays at the temperature of the air
    surface = TubeSurface(1.0, 1e12, 1.0 / (film * area), 0.5, 1.0, 1.0, 0.0377, 6.28e-5, 18.0, 0.0)

    def nodes(first, cell, beside, bay):
        return jnp.concatenate([jnp.array([first]), cell, jnp.array([beside, bay])])

    ones = jnp.ones(CELLS)
    return TubeNetwork(
        capacity=nodes(1e-6, wall.share * volume * volume_heat, 1.0, 1e12),
        latent=nodes(0.0, wall.share * volume * latent, 0.0, 0.0),
        window_low=nodes(1.0, ones * window[0], 1.0, 1.0),
        window_width=nodes(1.0, ones * window[1], 1.0, 1.0),
        heater_area=jnp.asarray(1e-6),
        heater_gap=jnp.asarray(50e-6),
        gap_emissivity=jnp.asarray(0.5),
        cartridge=jnp.asarray(1.0),
        bond=jnp.asarray(1.0),
        inner_half=wall.inner_half,
        outer_half=wall.outer_half,
        wall=wall.conductance,
        surface=surface,
        pair_emissivity=jnp.zeros(()),
        neighbours=jnp.ones(()),
        outside=jnp.asarray(1e12),
        outside_temperature=jnp.asarray(air),
        power=jnp.zeros(()),
        pressure=jnp.asarray(101_325.0),
        speed=None,
    )


@jax.jit
def stepped(network, start, steps):
    """State after steps of the given lengths."""

    def advance(state, step):
        between = exchange(state.temperature, network)
        return take_step(state, step, state.change, between, network), None

    return jax.lax.scan(advance, start_state(start, network), steps)[0]


def at_rest(hot, air):
    return jnp.full(CELLS + 3, hot).at[-2:].set(air)


def test_long_cylinder_in_a_film_cools_as_the_series():
    # TM-05; Cengel, problem 11-41: the worked solution keeps one term of the series (390 degC),
    # the whole series gives 385.7 degC at the centre and 325.7 degC at the surface
    radius, conductivity, film, hot, air, time = 0.175, 14.9, 60.0, 673.15, 423.15, 1200.0
    network = bare_wall(
        1e-6, radius, conductivity=conductivity, volume_heat=7900.0 * 477.0, film=film, air=air
    )
    end = stepped(network, at_rest(hot, air), jnp.full(400, time / 400))
    wall = np.asarray(end.temperature[1:-2]) - 273.15
    out = (wall[-1] + 273.15 - air) / (
        1.0 + film * 2.0 * np.pi * radius * float(network.outer_half)
    )
    assert wall[0] == pytest.approx(385.7, abs=0.2)
    assert air - 273.15 + out == pytest.approx(325.7, abs=0.2)

    biot = film * radius / conductivity
    fourier = conductivity / (7900.0 * 477.0) * time / radius**2
    ends = np.arange(1, 20) * np.pi
    roots = [brentq(lambda x: x * j1(x) - biot * j0(x), a, b)
             for a, b in zip(np.r_[1e-9, ends], ends, strict=False)]  # fmt: skip
    centre = sum(2.0 / x * j1(x) / (j0(x) ** 2 + j1(x) ** 2) * np.exp(-(x**2) * fourier)
                 for x in np.asarray(roots))  # fmt: skip
    assert wall[0] == pytest.approx(air - 273.15 + (hot - air) * centre, abs=0.1)


@pytest.mark.parametrize(
    ("stefan", "parameter"), [(0.5, 0.464786), (1.0, 0.620063), (2.0, 0.800601)]
)
def test_front_of_the_transformation_moves_as_the_stefan_problem(stefan, parameter):
    # C28 and TM-17; Carslaw and Jaeger: lambda exp(lambda^2) erf(lambda) = Ste / sqrt(pi)
    assert parameter * np.exp(parameter**2) * erf(parameter) == pytest.approx(
        stefan / np.sqrt(np.pi), rel=1e-5
    )
    conductivity, drop, finish = 18.0, 100.0, 350.0
    thickness, radius = 0.01, 10.0  # [m] so large a tube is a plane wall
    diffusivity = conductivity / (DENSITY * HEAT)
    time = (0.5 * thickness / (2.0 * parameter)) ** 2 / diffusivity  # the front is half way
    network = bare_wall(
        radius - thickness, radius, conductivity=conductivity, volume_heat=DENSITY * HEAT,
        film=1e7, air=finish - drop, latent=DENSITY * HEAT * drop / stefan, window=(finish, 0.5),
    )  # fmt: skip
    # the wall turns within half a kelvin: fine steps, the finest where the front starts
    steps = np.diff(np.linspace(0.0, 1.0, 401) ** 2) * time
    end = stepped(network, at_rest(finish + 0.5, finish - drop), jnp.asarray(steps))
    cold, wall = slice(1, -2), np.asarray(end.temperature)
    begin = start_state(at_rest(finish + 0.5, finish - drop), network).heat
    sensible = network.capacity * (finish + 0.5 - wall)
    share = np.asarray((begin - end.heat - sensible) / network.latent)[cold]
    assert share.mean() == pytest.approx(0.5, rel=0.01)
