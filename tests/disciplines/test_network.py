"""Heat network: reference tube, independent integration, step and mesh, ledger, derivatives."""

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from jax import export
from scipy.constants import Stefan_Boltzmann
from scipy.integrate import solve_ivp

from mdo.disciplines.heat.energy_balance import wall_difference_bore
from mdo.disciplines.heat.loss import TubeSurface, tube_loss
from mdo.disciplines.heat.network_march import march, solve_chain, start_state, take_step
from mdo.disciplines.heat.network_nodes import (
    CELLS,
    Exchange,
    TubeNetwork,
    enthalpy,
    exchange,
    heat_flows,
)
from mdo.disciplines.heat.network_wall import wall_cells

KELVIN = 273.15
OUTER, INNER, LENGTH = 0.006, 0.004, 0.3  # [m] the reference tube, section 2.1
AREA = 2.0 * np.pi * OUTER * LENGTH
HEAT = 6450.0 * np.pi * (OUTER**2 - INNER**2) * LENGTH  # [kg]
AUSTENITE, MARTENSITE = (80.0 + KELVIN, 30.0), (40.0 + KELVIN, 30.0)  # [K] from, over
AIR = 20.0 + KELVIN
# compiled once for tubes and ladders of the same lengths
marched = jax.jit(march, static_argnames="direction")


def reference_tube(
    window, *, power=0.0, film=12.0, cells=CELLS, conductivity=18.0, added=0.0, joined=True
):
    """The reference tube with a constant film, alone in an endless bay.

    The loss of a surface is film, radiation and ends; the film is made constant by the resistance
    of the sleeve: the surface outside of it is so large that it stays at the temperature of the
    air.
    """
    wall = wall_cells(
        inner_radius=INNER,
        outer_radius=OUTER,
        length=LENGTH,
        conductivity=conductivity,
        cells=cells,
    )
    ones = jnp.ones(cells)
    surface = TubeSurface(1.0, 1e9, 1.0 / (film * AREA), 0.5, 1.0, 1.0, 0.0377, 6.28e-5, 18.0, 0.0)
    # a heater without capacity joined closely: only the wall stores
    thin = 1e-6

    def nodes(first, cell, beside, bay):
        return jnp.concatenate([jnp.array([first]), cell, jnp.array([beside, bay])])

    return TubeNetwork(
        capacity=nodes(thin, wall.share * (HEAT * 470.0 + added), 1.0, 1e9),
        latent=nodes(0.0, wall.share * HEAT * 24.2e3, 0.0, 0.0),
        window_low=nodes(1.0, ones * window[0], 1.0, 1.0),
        window_width=nodes(1.0, ones * window[1], 1.0, 1.0),
        heater_area=jnp.asarray(2.0 * np.pi * INNER * LENGTH),
        heater_gap=jnp.asarray(50e-6),
        gap_emissivity=jnp.asarray(0.5),
        cartridge=jnp.asarray(1.0),
        bond=jnp.asarray(1.0),
        inner_half=wall.inner_half,
        outer_half=jnp.zeros(()) if joined else wall.outer_half,
        wall=wall.conductance * (1e3 if joined else 1.0),
        surface=surface,
        pair_emissivity=jnp.zeros(()),
        neighbours=jnp.ones(()),
        outside=jnp.asarray(1e9),
        outside_temperature=jnp.asarray(AIR),
        power=jnp.asarray(power),
        pressure=jnp.asarray(101_325.0),
        speed=None,
    )


def ladder_between(corners, steps):
    """Temperatures from corner to corner, equal steps in each stretch."""
    stretches = [
        first + (last - first) * np.linspace(0.0, 1.0, count + 1)[1:]
        for first, last, count in zip(corners[:-1], corners[1:], steps, strict=True)
    ]
    return jnp.asarray(np.concatenate([corners[:1], *stretches]))


def stroke(network, start, corners, steps, *, last=True):
    """Time of a stroke of the reference tube."""
    nodes = network.capacity.shape[0]
    begin = jnp.full(nodes, start).at[-2:].set(AIR)
    place = nodes - 3 if last else 1
    return marched(
        start=begin,
        ladder=ladder_between(corners, steps),
        event=(jnp.arange(nodes) == place) * 1.0,
        direction=1.0 if corners[-1] > corners[0] else -1.0,
        network=network,
    )


@pytest.mark.parametrize(
    ("film", "added", "seconds"),
    [  # reference thermal-power-mass, TM-13: cosine kinetics, independent calculation, 0.2 %
        (12.0, 0.0, 1276.0),
        (40.0, 0.0, 382.8),
        (97.0, 0.0, 157.8),
    ],
)
def test_reference_tube_cools_as_tabled(film, added, seconds):
    network = reference_tube(MARTENSITE, film=film, added=added)
    corners = (110.0 + KELVIN, 70.0 + KELVIN, 40.0 + KELVIN)
    course = stroke(network, corners[0], corners, (16, 32), last=False)
    assert course.time[-1] == pytest.approx(seconds, rel=0.002)


def test_reference_tube_heats_as_tabled():
    # reference thermal-power-mass, TM-13: 42.03 s at 200 W and 12 W/(m2 K), 0.2 %
    network = reference_tube(AUSTENITE, power=200.0)
    corners = (AIR, 80.0 + KELVIN, 110.0 + KELVIN)
    course = stroke(network, AIR, corners, (16, 32))
    assert course.time[-1] == pytest.approx(42.03, rel=0.002)


def test_no_heat_of_the_transformation_is_lost_between_steps():
    # reference TM-18: 200 W, adiabatic, exact 40.425 s; a step over As' may lose latent heat
    network = reference_tube(AUSTENITE, power=200.0, film=1e-9)
    course = stroke(network, AIR, (AIR, 110.0 + KELVIN), (4,))
    assert course.time[-1] == pytest.approx(40.425, abs=0.05)


@pytest.mark.parametrize(("conductivity", "kelvin"), [(18.0, 2.5537), (8.6, 5.345)])
def test_wall_difference_at_constant_flux(conductivity, kelvin):
    # reference TM-16: 5 W/cm2 in the bore; difference between the surfaces, exact by hand
    power = 5e4 * 2.0 * np.pi * INNER * LENGTH
    network = reference_tube(
        AUSTENITE, power=power, film=1e-9, conductivity=conductivity, joined=False, cells=12
    )._replace(latent=jnp.zeros(15))
    course = stroke(network, AIR, (AIR, AIR + 60.0), (60,))
    wall = course.end.temperature[1:-2]
    inner = wall[0] + power * float(network.inner_half)
    # the outer surface is insulated: what the last half cell stores bends the course a little
    width = (OUTER - INNER) / 12.0
    across = 5e4 * INNER / conductivity * width / OUTER * width / (OUTER**2 - INNER**2) * OUTER / 4
    assert inner - wall[-1] + across == pytest.approx(kelvin, rel=0.005)
    exact = wall_difference_bore(
        flux=5e4, inner_radius=INNER, outer_radius=OUTER, conductivity=conductivity
    )
    assert float(exact) == pytest.approx(kelvin, rel=1e-3)


def free_convection(latent=True):
    """A tube with every exchange: film and radiation by temperature, neighbours, a small bay."""
    base = reference_tube(MARTENSITE, joined=False)
    bare = TubeSurface(2.0 * OUTER, AREA, 0.0, 0.5, 0.8, 1.0, 0.0377, 6.28e-5, 18.0, 0.05)
    capacity = base.capacity.at[0].set(20.0).at[-2].set(70.0).at[-1].set(800.0)
    return base._replace(
        capacity=capacity,
        latent=base.latent if latent else 0.0 * base.latent,
        surface=bare,
        pair_emissivity=jnp.asarray(0.1),
        outside=jnp.asarray(3.0),
    )


def test_cooling_agrees_with_an_independent_integrator():
    # reference library: scipy's BDF on the same nodes, temperatures instead of heat
    network = free_convection()
    nodes = network.capacity.shape[0]
    start = jnp.full(nodes, 110.0 + KELVIN).at[-1].set(AIR)
    flows = jax.jit(lambda t: heat_flows(t, exchange(t, network), network))
    slope = jax.jit(jax.jacfwd(lambda t: enthalpy(t, network)))

    def rate(_, t):
        gained = np.asarray(flows(jnp.asarray(t)))
        return gained / np.diag(np.asarray(slope(jnp.asarray(t))))

    def reached(_, t):
        return t[1] - MARTENSITE[0]

    reached.terminal = True
    solved = solve_ivp(
        rate, (0.0, 1e5), np.asarray(start), method="BDF", events=reached, rtol=1e-7, max_step=20.0
    )
    corners = (110.0 + KELVIN, 70.0 + KELVIN, MARTENSITE[0])
    course = marched(
        start=start,
        ladder=ladder_between(corners, (8, 8)),
        event=(jnp.arange(nodes) == 1) * 1.0,
        direction=-1.0,
        network=network,
    )
    assert course.time[-1] == pytest.approx(solved.t_events[0][0], rel=5e-4)
    assert float(jnp.max(course.bay)) == pytest.approx(solved.y[-1].max(), abs=0.02)


def test_idle_nodes_do_not_creep():
    # invariant: at rest nothing changes, over 100,000 steps
    network = free_convection()
    rest = jnp.full(network.capacity.shape[0], AIR)
    step = jnp.asarray(30.0)

    def creep(network):
        def idle(state, _):
            between = exchange(state.temperature, network)
            return take_step(state, step, 0.0 * state.change, between, network), None

        return idle

    idle = creep(network)
    end = jax.jit(lambda: jax.lax.scan(idle, start_state(rest, network), length=100_000)[0])()
    assert np.abs(np.asarray(end.temperature) - AIR).max() < 1e-6
    assert abs(float(end.lost)) < 1e-6 * float(jnp.sum(network.capacity)) * AIR
    # and a tube held by its heater comes to rest at P / G over the air, by hand: no drift there
    held = reference_tube(AUSTENITE, power=10.0)
    start = start_state(jnp.full(held.capacity.shape[0], AIR), held)
    end = jax.jit(lambda: jax.lax.scan(creep(held), start, length=1000)[0])()
    assert float(end.temperature[-3]) == pytest.approx(AIR + 10.0 / (12.0 * AREA), abs=1e-3)


@pytest.mark.parametrize("cartridge", [1.0, 0.0])
def test_loss_of_the_network_is_that_of_a_tube(cartridge):
    # what leaves the last node of the chain is the loss of a tube, in series with its half cell
    network = free_convection()._replace(cartridge=jnp.asarray(cartridge))
    warm = jnp.full(network.capacity.shape[0], 360.0).at[-1].set(AIR)
    between = exchange(warm, network)
    loss = tube_loss(
        tube_temperature=jnp.asarray(360.0),
        air_temperature=jnp.asarray(AIR),
        pressure=jnp.asarray(101_325.0),
        speed=None,
        surface=network.surface,
    ).conductance
    series = float(1.0 / (1.0 / loss + cartridge * network.outer_half))
    assert float(between.to_bay) == pytest.approx(series, rel=1e-12)
    if not cartridge:  # a wrap reaches the wall through its bond and half a cell in series
        bonded = 1.0 / (1.0 / float(network.bond) + float(network.outer_half))
        assert float(between.chain[-1]) == pytest.approx(bonded, rel=1e-12)
    # heat only moves: what all nodes gain is what the heater gives and what comes from outside
    heated = network._replace(power=jnp.asarray(55.0))
    flows = heat_flows(warm, exchange(warm, heated), heated)
    gained = 55.0 - float(network.outside) * (AIR - float(network.outside_temperature))
    assert float(jnp.sum(flows)) == pytest.approx(gained, rel=1e-9)
    assert float(flows[0 if cartridge else -3]) > 0.0


def test_neighbours_are_reached_through_both_sleeves():
    # n tubes beside one share their sleeves side by side: R (1 + 1/n) in series with radiation,
    # sigma (a + b)(a^2 + b^2) between the surfaces, and half a cell (by hand)
    base = free_convection()
    network = base._replace(
        surface=base.surface._replace(sleeve_resistance=0.3), neighbours=jnp.asarray(3.0)
    )
    kelvin = jnp.full(network.capacity.shape[0], 400.0).at[-2].set(340.0).at[-1].set(AIR)
    surface = tube_loss(
        tube_temperature=jnp.asarray([400.0, 340.0]),
        air_temperature=jnp.asarray(AIR),
        pressure=jnp.asarray(101_325.0),
        speed=None,
        surface=network.surface,
    ).surface_temperature
    hot, warm = (float(part) for part in surface)
    radiated = 0.1 * AREA * Stefan_Boltzmann * (hot + warm) * (hot**2 + warm**2)
    series = 1.0 / (1.0 / radiated + 0.3 * 4.0 / 3.0 + float(network.outer_half))
    assert float(exchange(kelvin, network).to_other) == pytest.approx(series, rel=1e-9)


def test_elimination_is_that_of_a_general_solver():
    # reference library: numpy's dense solver on the matrix of the same conductances
    generator = np.random.default_rng(20261129)
    links, rest = generator.uniform(0.1, 50.0, 4), generator.uniform(0.1, 5.0, 3)
    diagonal, right = generator.uniform(1.0, 9.0, 7), generator.normal(size=7)
    between = Exchange(jnp.asarray(links), *(jnp.asarray(part) for part in rest))
    matrix = np.diag(diagonal)
    pairs = [(node, node + 1) for node in range(4)] + [(4, 6), (4, 5), (5, 6)]
    for (one, two), link in zip(pairs, [*links, *rest], strict=True):
        matrix[[one, two], [one, two]] += link
        matrix[[one, two], [two, one]] -= link
    matrix[-1, -1] += 2.5
    solved = solve_chain(jnp.asarray(diagonal), between, jnp.asarray(2.5), jnp.asarray(right))
    np.testing.assert_allclose(solved, np.linalg.solve(matrix, right), rtol=1e-10)


def test_march_survives_export():
    network = free_convection()
    nodes = network.capacity.shape[0]
    ladder = jnp.linspace(380.0, 330.0, 9)

    def time(start):
        return march(
            start=jnp.full(nodes, start).at[-1].set(AIR),
            ladder=ladder,
            event=(jnp.arange(nodes) == 1) * 1.0,
            direction=-1.0,
            network=network,
        ).time[-1]

    both = jax.jit(lambda t: jax.jvp(time, (t,), (jnp.ones(()),)))
    kept = export.deserialize(export.export(both)(jnp.asarray(380.0)).serialize())
    np.testing.assert_allclose(kept.call(jnp.asarray(380.0)), both(jnp.asarray(380.0)), rtol=1e-12)


def test_a_stretch_narrower_than_what_was_missed_takes_no_time_back():
    # a stiff heater: a step back in time would tear its nodes apart; the ladder ends where it stood
    network = reference_tube(AUSTENITE, power=60.0)
    corners = (AIR, 95.0 + KELVIN, 120.0 + KELVIN)
    nodes = network.capacity.shape[0]
    coarse = jnp.asarray([*corners, corners[-1], corners[-1]])
    course, before = (
        marched(
            start=jnp.full(nodes, AIR), ladder=ladder, event=(jnp.arange(nodes) == nodes - 3) * 1.0,
            direction=1.0, network=network,
        )
        for ladder in (coarse, coarse[:3])
    )  # fmt: skip
    assert float(before.end.temperature[-3]) > corners[-1]  # past the aim already
    np.testing.assert_allclose(course.time[2:], before.time[2], rtol=1e-3)
    np.testing.assert_allclose(course.end.temperature, before.end.temperature, rtol=1e-9)
