"""A sized wing at rest against the levels of the chain, and its course with half the step."""

from __future__ import annotations

from typing import Any

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from scipy.optimize import brentq

from mdo.disciplines.motion.mechanics import given_way, load_moment, twist_strain
from mdo.disciplines.motion.records import Drive
from mdo.disciplines.motion.simulate import replay
from mdo.disciplines.motion.step import advance
from mdo.disciplines.tube import torsion
from mdo.disciplines.tube.radial import radial_law
from mdo.model.layout import split_design
from mdo.model.motion import MotionCase, motion_model, start_of
from mdo.optimise.problem import make_problem
from mdo.study import load_study
from tests.bench_wing import DESIGN, STUDY

pytestmark = pytest.mark.slow
SAME = 0.005  # share in which steady states of the same levels agree
NONE = jnp.zeros(())


class Sized:
    """The wing with what the chain says of it."""

    def __init__(self) -> None:
        problem, x = make_problem(load_study(STUDY)), np.array(DESIGN)
        self.parameters = problem.assembled.parameters
        self.design = {name: np.asarray(one) for name, one in split_design(x).items()}
        self.values = {name: np.asarray(one) for name, one in problem.values(x).items()}
        self.model = self.at(None)

    def at(self, bay: float | None) -> Any:
        return motion_model(self.parameters, self.design, self.values, MotionCase(0, bay=bay))


@pytest.fixture(scope="module")
def wing() -> Sized:
    return Sized()


@jax.jit
def settled(plant: Any, state: Any, watts: Any, held: Any) -> Any:
    drive, step = Drive(jnp.ones(1) * watts, NONE, NONE, held), jnp.asarray(2.0)
    return jax.lax.fori_loop(
        0, 20_000, lambda _, at: advance(at, drive, plant, step, exact=False)[0], state
    )


def soaked(wing: Sized, kelvin: float, *, held: bool) -> tuple[float, float]:
    """Fold angle and moment at the hinge of the wing, heated from cold to an even temperature."""
    plant, alloy = wing.model.plant, wing.model.plant.alloy
    oven = plant._replace(bay_conductance=1e7, film_factor=50.0, outside_temperature=kelvin)
    cold = start_of(wing.model, float(plant.start_angle[0]), float(alloy.martensite_finish) - 5.0)
    end = settled(jax.tree.map(jnp.asarray, oven), cold, NONE, NONE + held)
    assert float(jnp.abs(end.cells - kelvin).max()) < 0.01
    return float(end.angle), _arm(plant) * float(jnp.sum(plant.wall_share * end.stress))


def _arm(plant: Any) -> float:
    arm = plant.gear_ratio * plant.torque_per_stress * plant.torque_count[0]
    return float(arm * (1.0 - plant.drive_loss))


def by_level(wing: Sized, kelvin: float) -> Any:
    """Moment of the hot tube by the level `radial` at a fold angle: total form, its own points."""
    plant, start = wing.model.plant, float(wing.model.plant.start_angle[0])
    section = torsion.section(wing.design["tube_outer_radius"], wing.design["wall_ratio"])
    law = radial_law(section, wing.design["wall_ratio"], wing.parameters["alloy"])

    def strain(angle: float, mean: float) -> float:
        gives, _ = given_way(jnp.asarray(mean), plant)
        return float(twist_strain(jnp.asarray(angle), plant)[0] - gives)

    def cold(mean: float) -> float:
        one = jnp.asarray([strain(start, mean)])
        return float(law.cold_stress(one, jnp.zeros(1))[0]) - mean

    wound = strain(start, brentq(cold, 0.0, 4e8))
    locked = law.cold_lock(jnp.asarray([[wound]]), jnp.zeros((1, 1)))

    def moment(angle: float) -> float:
        def miss(mean: float) -> float:
            one = jnp.asarray([[strain(angle, mean)]])
            return float(law.mean(law.hot_wall(one, jnp.asarray(kelvin), locked))[0, 0]) - mean

        return _arm(plant) * float(brentq(miss, -4e8, 9e8, rtol=1e-9))

    return moment


@pytest.mark.parametrize("kelvin", [450.0, 460.0, 465.0, 473.69])
def test_a_wing_at_rest_stands_where_the_level_of_the_chain_says(wing: Sized, kelvin: float):
    # heated without a turn the path-dependent wall is that of total form, whose points differ
    plant, moment = wing.model.plant, by_level(wing, kelvin)
    low, high = float(plant.stop_low), float(plant.stop_high)

    def net(angle: float) -> float:
        return moment(angle) + float(load_moment(jnp.asarray(angle), NONE, NONE, plant)[0])

    wanted = brentq(net, low, high) if net(high) < 0.0 else high
    angle, _ = soaked(wing, kelvin, held=False)
    assert abs(angle - wanted) < SAME * (high - low)
    _, pushes = soaked(wing, kelvin, held=True)
    assert pushes == pytest.approx(moment(float(plant.start_angle[0])), rel=SAME)


def test_a_held_wing_is_as_warm_as_its_hold_power_says(wing: Sized):
    # both lose by the same correlations: chain in one call, motion by a table over the excess
    bay, holding = (
        float(np.ravel(wing.values[name])[0])
        for name in ("bay_cold_temperature", "hold_temperature")
    )
    model = wing.at(bay)
    start = start_of(model, float(model.plant.start_angle[0]), holding)
    power = float(np.ravel(wing.values["hold_power"])[0])
    end = settled(jax.tree.map(jnp.asarray, model.plant), start, NONE + power, NONE + 1.0)
    assert float(end.cells[0, -1] - end.bay) == pytest.approx(holding - bay, rel=SAME)


def test_half_the_step_moves_times_by_a_fifth_of_a_percent_and_stands_by_a_tenth_of_a_degree(
    wing: Sized,
):
    # at the power of the design until the wing is up, then cooling until it is back
    plant, on, end = wing.model.plant, 103.0, 800.0
    start = start_of(wing.model, float(plant.start_angle[0]), float(plant.outside_temperature))
    run = jax.jit(lambda power, step: replay(plant, power, start, time_step=step))
    courses = []
    for step in (0.2, 0.1):
        time = step * np.arange(1, round(end / step) + 1)
        power = np.where(time < on + step / 2, float(plant.heater_power[0]), 0.0)
        found = run(power[:, None], step)
        assert float(found.ledger.residual) < 1e-6
        assert float(found.residual.max()) < 1e-6
        courses.append((time, np.degrees(np.asarray(found.fold_angle))))
    (time, angle), (_, halved) = courses
    assert angle.max() > 45.0
    assert angle[-1] < -45.0
    for degrees in (-40.0, -20.0, 0.0, 20.0, 40.0):
        up = [np.interp(degrees, a[: a.argmax()], t[: a.argmax()]) for t, a in courses]
        down = [np.interp(-degrees, -a[a.argmax() :], t[a.argmax() :]) for t, a in courses]
        assert up[0] == pytest.approx(up[1], rel=2e-3)
        assert down[0] == pytest.approx(down[1], rel=2e-3)
    apart, rate = np.abs(angle - halved[1::2]), np.abs(np.gradient(angle, time))
    assert apart[rate < 1.0].max() < 0.1  # deg, 1 deg/s: faster, a step of 0.2 s is more than that
