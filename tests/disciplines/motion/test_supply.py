"""What the bus gives: sag against a circuit, shares, groups in turn, groups that make one set."""

import jax.numpy as jnp
import numpy as np
import pytest
from scipy.optimize import brentq

from mdo.disciplines.motion.simulate import replay
from mdo.disciplines.motion.supply import power_limit, shared_power
from tests.disciplines.motion_plants import hot_state, tube_plant

NOMINAL = 28.0  # [V]


def groups(**changes):
    """Two groups of the plant for tests, one tube each."""
    one, two = tube_plant(), np.ones(2)
    per_group = ("transformation_shift", "pre_twist", "start_angle", "stuck_on")
    own = {name: np.zeros(2) for name in per_group}
    own |= dict.fromkeys(("count", "torque_count", "side", "heater_factor"), two)
    plant = one._replace(**own, heater_power=300.0 * two, beside=np.zeros((2, 2)))
    return plant._replace(**{name: np.asarray(value, float) for name, value in changes.items()})


@pytest.mark.parametrize("resistance", [0.0, 0.05, 0.4])
@pytest.mark.parametrize("line", [0.8, 1.0, 1.1])
def test_sag_is_that_of_the_circuit(resistance, line):
    # Kirchhoff, solved by scipy: V = E - R (V/R_1 + V/R_2), both heaters on
    plant = groups(sag=resistance / NOMINAL**2)
    heater, source = NOMINAL**2 / 300.0, line * NOMINAL
    volts = brentq(lambda v: source - resistance * 2.0 * v / heater - v, 0.0, source)
    found = np.asarray(power_limit(jnp.asarray(line), plant))
    assert found == pytest.approx(volts**2 / heater, rel=1e-9)


def test_a_regulated_supply_gives_no_more_than_its_source_can():
    # largest power of a source with a resistance: E^2/4R (Jacobi, from memory)
    resistance = 0.5
    plant = groups(sag=resistance / NOMINAL**2, voltage_power=0.0)
    found = np.asarray(power_limit(jnp.asarray(1.0), plant))
    assert found.sum() == pytest.approx(NOMINAL**2 / (4.0 * resistance))
    assert np.asarray(power_limit(jnp.asarray(1.0), groups(voltage_power=0.0))).sum() == 600.0


def test_a_bus_that_is_dead_gives_nothing():
    for plant in (groups(sag=1e-4), groups(sag=1e-4, voltage_power=0.0)):
        limit = power_limit(jnp.asarray(0.0), plant) * 0.0
        assert np.all(np.asarray(shared_power(limit, limit, plant)) == 0.0)


@pytest.mark.parametrize("in_order", [0.0, 1.0])
@pytest.mark.parametrize("at_once", [1.0, 1e6])
def test_what_is_given_is_never_more_than_asked_for_or_than_there_is(in_order, at_once):
    plant = groups(power_available=400.0, in_order=in_order, at_once=at_once)
    limit = np.full(2, 300.0)
    for asked in np.random.default_rng(0).uniform(0.0, 300.0, (20, 2)):
        given = np.asarray(shared_power(jnp.asarray(asked), limit, plant))
        assert np.all(given <= asked + 1e-9)
        whole = min(400.0, 300.0 if at_once == 1.0 else np.inf)
        assert given.sum() == pytest.approx(min(whole, asked.sum()))
        again = np.asarray(shared_power(jnp.asarray(given), limit, plant))
        assert again == pytest.approx(given)
        if in_order:
            assert given[0] == pytest.approx(min(asked[0], whole))


def test_groups_that_are_alike_fold_as_one_set():
    one = tube_plant(count=2.0, torque_count=2.0, load_steady=np.full(3, -200.0))
    two = groups(load_steady=np.full(3, -200.0))
    start = hot_state(one, 430.0)
    both = start._replace(
        heater=np.full(2, 430.0), cells=np.repeat(start.cells, 2, axis=0),
        fraction=np.repeat(start.fraction, 2, axis=0), stress=np.repeat(start.stress, 2, axis=0),
        transformed=np.repeat(start.transformed, 2, axis=0),
        twist_strain=np.repeat(start.twist_strain, 2),
    )  # fmt: skip
    none = np.zeros((400, 2))
    alone = replay(one, none[:, :1], start, time_step=1.0)
    together = replay(two, none, both, time_step=1.0)
    assert np.asarray(together.fold_angle) == pytest.approx(np.asarray(alone.fold_angle), abs=1e-6)
    assert float(together.ledger.lost) == pytest.approx(float(alone.ledger.lost), rel=1e-9)
