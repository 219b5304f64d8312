"""The fold in time: published cycle, heat by closed forms, ledger, friction, steps, derivatives."""

import jax
import jax.numpy as jnp
import numpy as np
import pytest

from mdo.disciplines.motion.cells import alloy_of
from mdo.disciplines.motion.mechanics import given_way, stored_energy
from mdo.disciplines.motion.records import Drive
from mdo.disciplines.motion.simulate import replay
from mdo.disciplines.motion.step import advance
from tests.disciplines.motion_plants import (
    LATENT,
    MASS,
    REF1,
    SPECIFIC,
    TORQUE,
    hot_state,
    tube_plant,
)

RUN = jax.jit(lambda plant, power, start, step: replay(plant, power, start, time_step=step))
STEPS = 4000


def run(plant, power, start, step):
    power = np.broadcast_to(np.asarray(power, float), (STEPS,))[:, None]
    return jax.tree.map(np.asarray, RUN(plant, power, start, np.asarray(step)))


@pytest.fixture(scope="module")
def cycle():
    # cooled by its loss for 750 s, then heated with 500 W
    power = np.where(np.arange(STEPS) < 3000, 0.0, 500.0)
    return run(tube_plant(), power, hot_state(tube_plant(), 430.0), 0.25)


def test_constant_torque_cycle_is_that_of_c12(cycle):
    # sma-tubes, C12: twist in deg on cooling and heating of the tube under 100 N*m; 0.2 % and what
    # eight cells of the wall leave
    kelvin, twist = cycle.tube_temperature[:, 0], -np.degrees(cycle.fold_angle)
    cooled, heated = slice(5, 3000), slice(3001, None)
    for at, degrees in {360: 27.50, 355: 76.66, 350: 130.88, 345: 154.19, 340: 157.69}.items():
        found = np.interp(-at, -kelvin[cooled], twist[cooled])
        assert found == pytest.approx(degrees, rel=4e-3, abs=0.3), at
    rising = kelvin[heated] > 310
    for at, degrees in {385: 154.05, 390: 130.49, 395: 76.42, 400: 27.44}.items():
        found = np.interp(at, kelvin[heated][rising], twist[heated][rising])
        assert found == pytest.approx(degrees, rel=4e-3, abs=0.3), at
    assert cycle.fold_angle[3] == pytest.approx(-np.radians(11.881), rel=2e-3)  # hot, elastic
    assert cycle.torque[5:] == pytest.approx(np.full_like(cycle.torque[5:], TORQUE), rel=1e-3)


def test_the_ledger_closes_and_every_step_is_solved(cycle):
    # TM-30: time integration 1e-6 of the energy
    assert cycle.ledger.residual < 1e-9
    assert cycle.residual.max() < 1e-8


def test_work_of_a_constant_torque_is_torque_times_angle(cycle):
    # the tubes get what the load loses, less the motion energy (nil at rest): closed form
    work = 100.0 * -(cycle.fold_angle[-1] - 0.0)
    assert cycle.ledger.work == pytest.approx(work, rel=2e-3)


def test_heating_without_loss_and_transformation_is_c24():
    # C24: 0.3647389 kg, 470 J/kgK, 293 to 410 K sensible 20,057 J; with 500 W 40.11 s
    plant = tube_plant(film_factor=0.0, cell_latent=np.zeros(8))
    course = run(plant, 500.0, hot_state(plant, 293.0), 0.0125)
    # the twist of the hot tube takes up under 100 N*m some 10 J; heat of the first step
    reached = np.interp(410.0, course.tube_temperature[:, 0], course.time)
    assert reached == pytest.approx(20_057.0 / 500.0, rel=2e-3)


def test_heating_with_loss_is_the_exponential_of_c25():
    # C25: h 50, A 0.03141593 m2, 500 W from 293 K: 384.744 K after 37.104 s; first order in time
    plant = tube_plant(cell_latent=np.zeros(8), load_steady=np.zeros(3))  # no work of a load
    times = [
        np.interp(384.744, found.tube_temperature[:, 0], found.time)
        for step in (0.025, 0.0125)
        for found in [run(plant, 500.0, hot_state(plant, 293.0), step)]
    ]
    assert 2.0 * times[1] - times[0] == pytest.approx(37.104, rel=5e-4)
    assert times[0] == pytest.approx(times[1], rel=2e-3)  # halving the step: 0.2 %


def test_a_log_reads_the_outside_of_its_tubes():
    # heat comes from the bore: a step later the outermost cell is the coldest
    plant, none = tube_plant(wall_conductance=np.full(7, 100.0)), np.zeros(())
    start = hot_state(plant, 450.0)
    state, _, _ = advance(start, Drive(np.array([500.0]), none, none, none), plant, 0.1)
    seen = run(plant, 500.0, start, 0.1)
    assert state.cells[0, -1] < state.cells[0, -2] - 0.01
    assert seen.sensor_temperature[0, 0] == pytest.approx(float(state.cells[0, -1]), abs=1e-6)


def test_a_shift_of_a_unit_moves_all_transformation_temperatures_alike():
    shifted = alloy_of(tube_plant(transformation_shift=np.array([5.0])))
    for name in ("martensite_start", "martensite_finish", "austenite_start", "austenite_finish"):
        assert float(getattr(shifted, name)[0, 0]) == getattr(REF1, name) + 5.0, name
    assert shifted.martensite_slope == REF1.martensite_slope


def test_halving_the_step_moves_times_by_less_than_a_fifth_of_a_percent():
    plant = tube_plant()
    cold = run(plant, 0.0, hot_state(plant, 430.0), 0.25)
    half = run(plant, 0.0, hot_state(plant, 430.0), 0.125)
    for degrees in (30.0, 80.0, 130.0):
        times = [np.interp(degrees, -np.degrees(c.fold_angle), c.time) for c in (cold, half)]
        assert times[0] == pytest.approx(times[1], rel=2e-3)
    assert np.degrees(abs(np.interp(400.0, cold.time, cold.fold_angle)
                          - np.interp(400.0, half.time, half.fold_angle))) < 0.1  # fmt: skip


@pytest.mark.slow
def test_idle_steps_do_not_creep():
    # C23: a play that is smoothed creeps; 100,000 idle steps in the middle of the transformation
    plant, none = tube_plant(outside_temperature=352.0), jnp.zeros(())
    idle = Drive(jnp.zeros(1), none, none, none)
    steps = jax.jit(
        lambda state, count: jax.lax.fori_loop(
            0, count, lambda _, at: advance(at, idle, plant, 0.5)[0], state
        )
    )
    start = jax.tree.map(jnp.asarray, hot_state(plant, 430.0))
    settled = steps(start, 60_000)
    after = steps(settled, 100_000)
    assert 0.2 < float(settled.fraction.mean()) < 0.9
    assert float(jnp.abs(after.fraction - settled.fraction).max()) < 1e-9
    assert abs(float(after.angle - settled.angle)) < 1e-9
    assert float(jnp.abs(after.cells - settled.cells).max()) < 1e-6


def test_dry_friction_holds_exactly_what_it_can():
    # a jammed balance: friction over the load keeps a wing where it is (Coulomb, from memory)
    plant = tube_plant(friction=np.full(3, 150.0))
    course = run(plant, 0.0, hot_state(plant, 430.0), 0.25)
    assert np.all(course.fold_angle == 0.0)
    eased = run(tube_plant(friction=np.full(3, 40.0)), 0.0, hot_state(plant, 430.0), 0.25)
    # what friction takes off the torque: elastic twist of 60 N*m of 100, C12 hot twist 11.881 deg
    assert -np.degrees(eased.fold_angle[3]) == pytest.approx(0.6 * 11.881, rel=2e-3)


def test_a_free_wing_with_damping_goes_by_its_exponential():
    # J phi'' + c phi' = M from rest (closed form): rate M/c (1 - exp(-c t/J)), angle its integral;
    # no tubes, steps of a fiftieth of J/c, first order in time
    moment, damping, inertia, step = 0.4, 2.0, 0.05, 5e-4
    plant = tube_plant(
        torque_count=np.zeros(1), load_steady=np.full(3, moment),
        damping=damping, inertia=inertia,
    )  # fmt: skip
    course = run(plant, 0.0, hot_state(plant, 293.0), step)
    lag, terminal = inertia / damping, moment / damping
    time = np.array([0.5 * lag, lag, 3.0 * lag, 20.0 * lag])
    angle = terminal * (time - lag * (1.0 - np.exp(-time / lag)))
    assert np.interp(time, course.time, course.fold_angle) == pytest.approx(angle, rel=0.03)
    far = np.interp(20.0 * lag, course.time, course.fold_angle)
    assert far == pytest.approx(terminal * 19.0 * lag, rel=2e-3)
    swing = tube_plant(
        torque_count=np.zeros(1), inertia=inertia,
        load_steady=4.0 * np.array([1.0, 0.0, -1.0]) * 2.0 + 0.4,
    )  # fmt: skip
    # a spring of 2 N*m/rad about 0.2 rad: half a period pi sqrt(J/k), and there twice 0.2 rad
    course = run(swing, 0.0, hot_state(swing, 293.0), step)
    first = np.argmax(course.fold_angle)
    assert course.time[first] == pytest.approx(np.pi * np.sqrt(inertia / 2.0), rel=5e-3)
    assert course.fold_angle[first] == pytest.approx(0.4, rel=0.01)


def test_a_wing_slows_in_friction_that_grows_with_its_angle():
    # c phi' = M - (3.2 + 0.8 phi) while it turns up: it comes to rest at 0.1 rad by an exponential
    # of 1.25 s (closed form; its inertia counts for a millisecond)
    plant = tube_plant(
        torque_count=np.zeros(1), load_steady=np.full(3, 3.28), damping=1.0, inertia=1e-3,
        friction=3.2 + 0.8 * np.array([-4.0, 0.0, 4.0]),
    )  # fmt: skip
    course = run(plant, 0.0, hot_state(plant, 293.0), 2.5e-3)
    time = np.array([0.5, 1.25, 2.5, 9.0])
    angle = 0.1 * (1.0 - np.exp(-time / 1.25))
    assert np.interp(time, course.time, course.fold_angle) == pytest.approx(angle, rel=0.01)


def test_compliance_and_lash_by_hand_and_their_slope():
    # 0.1 rad per GPa, and half of the play of 20 mrad either way; the slope is that of the strain
    plant = tube_plant(compliance=1e-10, lash=0.02)
    mean = jnp.array([-50e6, 0.0, 0.3e6, 50e6])
    lost, slope = given_way(mean, plant)
    assert np.asarray(lost)[[0, 1, 3]] == pytest.approx(
        plant.strain_per_twist * np.array([-0.015, 0.0, 0.015]), rel=1e-9
    )
    exact = jnp.diag(jax.jacfwd(lambda at: given_way(at, plant)[0])(mean))
    assert np.asarray(slope) == pytest.approx(np.asarray(exact), rel=1e-9)


def test_latent_heat_is_stored_and_given_back():
    plant = tube_plant()
    hot = hot_state(plant, 400.0)
    cold = hot._replace(fraction=np.ones((1, 8)))
    apart = float(stored_energy(hot, plant) - stored_energy(cold, plant))
    assert apart == pytest.approx(MASS * LATENT, rel=1e-6)  # C24: 7,294.8 J
    assert apart == pytest.approx(7294.8, rel=1e-4)
    assert pytest.approx(20_057, rel=1e-4) == MASS * SPECIFIC * (410 - 293)


@pytest.mark.slow
def test_derivatives_are_those_of_differences():
    plant = tube_plant()
    start = hot_state(plant, 380.0)
    power = jnp.zeros((300, 1))

    def end(shift):
        card = plant.alloy._replace(martensite_start=plant.alloy.martensite_start + shift[0])
        moved = plant._replace(alloy=card, film_factor=plant.film_factor * (1.0 + shift[1]))
        course = replay(moved, power, start, time_step=0.5)
        return jnp.stack([course.fold_angle[-1], course.tube_temperature[-1, 0]])

    slopes = jax.jit(jax.jacfwd(end))(jnp.zeros(2))
    run_end = jax.jit(end)
    for place, size in enumerate((1e-3, 1e-5)):
        apart = jnp.zeros(2).at[place].set(size)
        differences = (run_end(apart) - run_end(-apart)) / (2.0 * size)
        assert np.allclose(slopes[:, place], differences, rtol=2e-4, atol=1e-7)
