"""Closed-form heat balance: the tube of the reference, textbook bodies, guards."""

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from jax.test_util import check_grads
from scipy.integrate import solve_ivp

from mdo.disciplines.heat import energy_balance

# TUBE-A of reference 2.1: OD 12, ID 8, L 300 mm, NiTi; As/Af/Ms/Mf = 80/110/70/40 degC
OUTER, INNER, LENGTH = 0.006, 0.004, 0.3
MASS = 6450.0 * np.pi * (OUTER**2 - INNER**2) * LENGTH
CAPACITY = MASS * 470.0
LATENT = MASS * 24.2e3
AREA = 2.0 * np.pi * OUTER * LENGTH
BAY = 20.0


def heat_up(power, film, added=0.0):
    """Time from 20 to 110 degC."""
    loss, capacity = film * AREA, CAPACITY + added
    return sum(
        energy_balance.segment_time(
            heat=jnp.asarray(heat),
            conductance=loss,
            span=end - start,
            reach=power / loss - (end - BAY),
        )
        for start, end, heat in [
            (20.0, 80.0, capacity * 60.0),
            (80.0, 110.0, capacity * 30.0 + LATENT),
        ]
    )


def cool_down(film, added=0.0, finish=40.0, bay=BAY):
    """Time from 110 degC to ``finish``."""
    loss, capacity = film * AREA, CAPACITY + added
    return sum(
        energy_balance.segment_time(
            heat=jnp.asarray(heat), conductance=loss, span=start - end, reach=end - bay
        )
        for start, end, heat in [
            (110.0, 70.0, capacity * 40.0),
            (70.0, finish, capacity * (70.0 - finish) + LATENT),
        ]
    )


def test_tube_a_has_the_published_heat():
    # reference 2.1: m c 57.14 J/K, 5142.8 + 2942.2 = 8085.0 J
    heat = CAPACITY * 90.0 + LATENT
    assert pytest.approx(57.14, abs=0.005) == CAPACITY
    assert heat == pytest.approx(8085.0, abs=0.1)


def test_tube_a_heats_up_as_tm13():
    assert heat_up(200.0, 12.0) == pytest.approx(42.03, abs=0.005)


def test_tube_a_without_loss_takes_energy_over_power():
    # TM-18: exact 40.425 s adiabatic
    assert heat_up(200.0, 1e-9) == pytest.approx(40.425, abs=5e-4)


@pytest.mark.parametrize(("film", "time"), [(12.0, 1295.0), (40.0, 388.6), (97.0, 160.3)])
def test_tube_a_cools_as_tm13(film, time):
    assert cool_down(film) == pytest.approx(time, rel=5e-4)


@pytest.mark.parametrize(
    ("added", "heat", "cool"),
    [  # TM-32, reference 2.1, table of added hardware
        (4.98, 44.34, (1351.0, 405.2, 167.1)),
        (48.9, 64.74, (1837.0, 551.2, 227.3)),
        (68.1, 73.65, (2050.0, 615.0, 253.6)),
    ],
)
def test_added_hardware_slows_tube_a_as_tm32(added, heat, cool):
    assert heat_up(200.0, 12.0, added) == pytest.approx(heat, rel=2e-3)
    for film, time in zip((12.0, 40.0, 97.0), cool, strict=True):
        assert cool_down(film, added) == pytest.approx(time, rel=2e-3)


def test_segments_agree_with_an_integrator():
    # scipy's solve_ivp on the lumped equation with the same piecewise-linear latent heat
    loss = 12.0 * AREA

    def slope(_, state):
        latent = LATENT / 30.0 if state[0] >= 80.0 else 0.0
        return [(200.0 - loss * (state[0] - BAY)) / (CAPACITY + latent)]

    def reached(_, state):
        return state[0] - 110.0

    reached.terminal = True
    solved = solve_ivp(slope, (0.0, 200.0), [20.0], events=reached, rtol=1e-9, max_step=0.05)
    assert heat_up(200.0, 12.0) == pytest.approx(solved.t_events[0][0], rel=1e-5)


def test_lumped_sphere_of_tm12():
    # [S59]: D 1 mm, k 35, rho 8500, c 320, h 210: Bi .0010, b .463 1/s, 99 % in 9.94 s
    radius = 5e-4
    volume, area = 4 / 3 * np.pi * radius**3, 4 * np.pi * radius**2
    constant = 8500.0 * 320.0 * volume / (210.0 * area)
    assert 210.0 * radius / 3 / 35.0 == pytest.approx(0.0010, abs=5e-5)
    assert 1.0 / constant == pytest.approx(0.463, abs=5e-4)
    assert constant * np.log(100.0) == pytest.approx(9.94, rel=5e-3)
    # the same through a cooling segment of 99 K of 100 K
    heat = 8500.0 * 320.0 * volume * 99.0
    time = energy_balance.segment_time(
        heat=jnp.asarray(heat), conductance=210.0 * area, span=99.0, reach=1.0
    )
    assert time == pytest.approx(9.94, rel=5e-3)


def test_lumped_sphere_of_lienhard():
    # [S60] prints 1.116 s: rho 9300, c 180, h 250, D 1 mm
    volume_over_area = 1e-3 / 6
    share = 1.0 - np.exp(-1.0)  # of the way to the air, after one time constant
    constant = energy_balance.segment_time(
        heat=jnp.asarray(9300.0 * 180.0 * volume_over_area * share * 100.0),
        conductance=250.0,
        span=share * 100.0,
        reach=(1.0 - share) * 100.0,
    )
    assert constant == pytest.approx(1.116, rel=1e-3)


def test_wall_difference_of_tm16():
    shape = {"flux": 5e4, "inner_radius": INNER, "outer_radius": OUTER}
    assert energy_balance.wall_difference_bore(**shape, conductivity=18.0) == pytest.approx(
        2.5537, abs=5e-5
    )
    assert energy_balance.wall_difference_bore(**shape, conductivity=8.6) == pytest.approx(
        5.345, abs=5e-4
    )
    # mean rise in 5 s, 32.99 K
    rate = 2.0 * 5e4 * INNER / (6450.0 * 470.0 * (OUTER**2 - INNER**2))
    assert 5.0 * rate == pytest.approx(32.99, abs=0.005)


@pytest.mark.parametrize("outside", [False, True])
def test_wall_difference_agrees_with_a_radial_grid(outside):
    # quasi-steady conduction solved by finite volumes of the test's own, 400 cells
    conductivity, flux, cells = 8.6, 3e4, 400
    faces = np.linspace(INNER, OUTER, cells + 1)
    centres = (faces[1:] + faces[:-1]) / 2
    area = np.pi * (faces[1:] ** 2 - faces[:-1] ** 2)
    entering = 2.0 * np.pi * flux * (OUTER if outside else INNER)
    stored = entering * np.cumsum(area) / np.sum(area)
    crossing = -stored[:-1] if outside else entering - stored[:-1]
    steps = crossing * np.log(centres[1:] / centres[:-1]) / (2.0 * np.pi * conductivity)
    near, ratio = (OUTER, OUTER / centres[-1]) if outside else (INNER, centres[0] / INNER)
    edge = flux * near * np.log(ratio) / conductivity
    grid = abs(np.sum(steps)) + edge
    function = (
        energy_balance.wall_difference_wrap if outside else energy_balance.wall_difference_bore
    )
    closed = function(flux=flux, inner_radius=INNER, outer_radius=OUTER, conductivity=8.6)
    assert closed == pytest.approx(grid, rel=2e-3)


def test_both_wall_differences_tend_to_the_thin_wall():
    thin = {"flux": 1e4, "inner_radius": 0.1, "outer_radius": 0.1001, "conductivity": 10.0}
    rule = 1e4 * 1e-4 / (2.0 * 10.0)
    assert energy_balance.wall_difference_bore(**thin) == pytest.approx(rule, rel=1e-3)
    assert energy_balance.wall_difference_wrap(**thin) == pytest.approx(rule, rel=1e-3)


@pytest.mark.parametrize(
    ("thickness", "film"), [(0.0, 12.0), (0.001, 9.8), (0.002, 8.3), (0.005, 6.0), (0.010, 4.4)]
)
def test_sleeve_reduces_the_film_as_tabulated(thickness, film):
    # reference 2.8: effective h on OD 12 mm, k 0.03, h 12
    sleeve = energy_balance.sleeve_resistance(
        inner_radius=OUTER, thickness=thickness, length=LENGTH, conductivity=0.03
    )
    outside = 1.0 / (12.0 * 2.0 * np.pi * (OUTER + thickness) * LENGTH)
    assert 1.0 / (sleeve + outside) / AREA == pytest.approx(film, abs=0.05)


def test_fin_loses_as_tabulated():
    # reference 2.8: 1.81 W per end of TUBE-A at 80 K, h 12, k 18
    fin = energy_balance.fin_conductance(
        film_coefficient=12.0,
        perimeter=2.0 * np.pi * OUTER,
        conductivity=18.0,
        area=np.pi * (OUTER**2 - INNER**2),
    )
    assert 80.0 * fin == pytest.approx(1.81, abs=0.005)


def test_ledger_closes_from_the_temperature_course():
    # TM-30: the loss is integrated over time, not taken from the balance of the ends
    for heat, span, start, power in [(3428.0, 60.0, 0.0, 200.0), (4656.0, 30.0, 60.0, 30.0)]:
        loss = jnp.asarray(12.0 * AREA)
        time = energy_balance.segment_time(
            heat=jnp.asarray(heat), conductance=loss, span=span, reach=power / loss - start - span
        )
        lost = energy_balance.segment_loss(
            time=time,
            heat=jnp.asarray(heat),
            conductance=loss,
            span=span,
            excess=jnp.asarray(start),
            power=jnp.asarray(power),
        )
        assert lost > 0.0
        assert abs(power * time - heat - lost) / (power * time) < 1e-9


def test_valid_segments_are_untouched_by_the_guard():
    loss = 12.0 * AREA
    for reach in (0.5, 0.6, 5.0, 500.0):
        plain = 5000.0 / (loss * 60.0) * np.log((reach + 60.0) / reach)
        time = energy_balance.segment_time(
            heat=jnp.asarray(5000.0), conductance=loss, span=60.0, reach=reach
        )
        assert time == pytest.approx(plain, rel=1e-12)


def test_impossible_segments_are_finite_rising_and_smooth():
    reach = jnp.linspace(5.0, -300.0, 4000)
    times = jax.vmap(
        lambda a: energy_balance.segment_time(heat=5000.0, conductance=0.1, span=60.0, reach=a)
    )(reach)
    assert np.all(np.isfinite(times))
    assert np.all(np.diff(times) > 0.0)
    slope = jax.grad(
        lambda a: energy_balance.segment_time(heat=5000.0, conductance=0.1, span=60.0, reach=a)
    )
    for kink in (0.5, 0.5 - 60.0):
        assert slope(kink - 1e-6) == pytest.approx(float(slope(kink + 1e-6)), rel=1e-4)


def test_impossible_case_takes_far_longer_than_any_limit():
    # a bay 10 K above Mf: the reference asks for about 1e3 times the limit, growing
    assert cool_down(12.0, finish=40.0, bay=50.0) > 3e4
    assert heat_up(8.0, 12.0) > 1e4


def test_empty_segment_takes_only_its_heat():
    time = energy_balance.segment_time(
        heat=jnp.asarray(100.0), conductance=0.1, span=0.0, reach=50.0
    )
    assert time == pytest.approx(100.0 / (0.1 * 50.0), rel=1e-6)
    none = energy_balance.segment_time(heat=jnp.asarray(0.0), conductance=0.1, span=0.0, reach=5.0)
    assert none == 0.0


@pytest.mark.parametrize("reach", [40.0, 2.0, -20.0])
def test_segment_gradients(reach):
    def time(x):
        return energy_balance.segment_time(
            heat=5000.0 * x[0], conductance=0.1 * x[1], span=60.0 * x[2], reach=reach * x[3]
        )

    check_grads(time, (jnp.ones(4),), order=1, modes=("fwd", "rev"), rtol=1e-5)


def test_segment_vmap_equals_loop():
    reach = jnp.array([-5.0, 0.2, 3.0, 80.0])

    def time(a):
        return energy_balance.segment_time(heat=5000.0, conductance=0.1, span=60.0, reach=a)

    np.testing.assert_allclose(jax.vmap(time)(reach), [time(a) for a in reach], rtol=1e-14)
