"""Power of the aircraft: hand sums, source, feeder, gradients."""

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from jax.test_util import check_grads

from mdo.disciplines.electric import gauges, wiring
from mdo.disciplines.electric.assumptions import PowerAssumptions
from mdo.disciplines.electric.power import power
from mdo.disciplines.heat.assumptions import ThermalAssumptions
from mdo.disciplines.records import Choices, Legs, Supply
from mdo.study.read_sections import assumption_fields, read_assumptions
from mdo.study.reader import Reader

from .given import record

DEFAULTS = read_assumptions(Reader("test"), {})
ASSUMED = PowerAssumptions(**DEFAULTS["power"])
HIGH = (29.0 / 28.0) ** 2 * 1.05


SUPPLY = record(
    Supply,
    nominal_voltage=28.0,
    low_voltage_ratio=22 / 28,
    high_voltage_ratio=29 / 28,
    run_length=5.0,
    wire_temperature_rating=423.15,
    allowed_drop=1.0,
    battery=1.0,
    folds_per_sortie=5.0,
)
LEGS = record(
    Legs,
    moves=np.array([1.0, 1.0, 0.0]),
    holds=np.array([0.0, 0.0, 1.0]),
    is_return=np.array([0.0, 1.0, 0.0]),
    time_limit=np.array([60.0, 600.0, 0.0]),
    **dict.fromkeys(("other_cold", "other_warmed", "cooling_limit"), np.zeros(3)),
)

POWER = jax.jit(lambda given: power(**given))


def result(**changes):
    """Fold up, return down, hold up."""
    given = {
        "heater_power": jnp.array([500.0, 300.0]),
        "tube_count": jnp.array([4.0, 3.0]),
        "hold_power": jnp.array([[50.0, 30.0]] * 3),
        "heat_energy": jnp.array([[30e3, 20e3]] * 3),
        "heat_time": jnp.tile(LEGS.time_limit[:, None], (1, 2)),
        "blower_power": jnp.asarray(0.0),
        "pushes_up": jnp.array([1.0, 0.0, 1.0]),
        "heated": jnp.ones(3),
        "legs": LEGS,
        "choices": record(Choices, set_present=np.ones(2), assemblies=2.0),
        "supply": SUPPLY,
        "thermal_assumptions": ThermalAssumptions(**DEFAULTS["thermal"]),
        "power_assumptions": ASSUMED,
    }
    return POWER(jax.tree.map(jnp.asarray, given | changes))


def test_every_assumption_has_a_default_inside_its_range():
    fields = assumption_fields()["power"]
    assert set(fields) == set(PowerAssumptions._fields)
    for name, field in fields.items():
        assert field.si(field.low) <= field.si(field.default) <= field.si(field.high), name


def test_peak_is_both_wings_of_the_larger_set_at_high_line():
    expected = 2.0 * 500.0 * HIGH / 0.95
    assert result().peak_power == pytest.approx(expected, rel=1e-5)


def test_blower_adds_to_peak_and_to_the_return():
    blown = result(blower_power=jnp.asarray(100.0))
    assert blown.peak_power - result().peak_power == pytest.approx(200.0 / 0.95, rel=1e-9)
    added = np.asarray(blown.fold_energy - result().fold_energy)
    np.testing.assert_allclose(added, [0.0, 2.0 * 100.0 * 600.0 / 0.95, 0.0], atol=1e-6)


def test_energy_of_a_leg_is_both_wings_of_its_driver():
    np.testing.assert_allclose(
        result().fold_energy, np.array([60e3, 40e3, 0.0]) / 0.95, rtol=1e-12, atol=1e-9
    )
    np.testing.assert_allclose(
        result().held_power, np.array([0.0, 0.0, 100.0]) / 0.95, rtol=1e-12, atol=1e-9
    )


def test_driver_of_a_pair_holds_hot_while_the_other_set_cools():
    # the down set drives the return, 450 s to heat; the up set may take 600 s: 150 s of 30 W
    pair = record(
        Choices, set_present=np.ones(2), configuration=2.0, return_mode=0.0, assemblies=2.0
    )
    quick = {"heat_time": jnp.array([[60.0, 60.0], [450.0, 450.0], [0.0, 0.0]])}
    held = np.asarray(result(choices=pair, **quick).fold_energy - result().fold_energy)
    np.testing.assert_allclose(held, [0.0, 2.0 * 30.0 * 150.0 / 0.95, 0.0], rtol=1e-9)
    # cooled first and wound then, nothing is held; nor beside a set that is long cold
    wound = pair._replace(return_mode=1.0)
    cold = LEGS._replace(other_cold=np.ones(3))
    for same in (result(choices=wound, **quick), result(choices=pair, legs=cold, **quick)):
        np.testing.assert_allclose(same.fold_energy, result().fold_energy, rtol=1e-12)


def test_a_leg_that_warms_the_other_set_pays_for_both():
    # by hand: fold 30 kJ and 20 kJ a wing; both sets of 500 and 300 W are on at once
    warmed = LEGS._replace(other_warmed=np.array([1.0, 0.0, 0.0]))
    both = result(legs=warmed)
    energies = np.array([2.0 * (30e3 + 20e3), 2.0 * 20e3, 0.0]) / 0.95
    np.testing.assert_allclose(both.fold_energy, energies, rtol=1e-12, atol=1e-9)
    assert both.peak_power == pytest.approx(2.0 * 800.0 * HIGH / 0.95, rel=1e-5)


def test_sortie_is_its_folds_and_returns():
    # smooth maxima: high by at most 1e-4 each
    assert result().sortie_energy == pytest.approx(5.0 * (60e3 + 40e3) / 0.95, rel=2e-4)


def test_regulated_supply_draws_nominal_power_at_low_voltage():
    held = result(supply=SUPPLY._replace(regulated=1.0))
    assert held.peak_power == pytest.approx(2.0 * 500.0 * 1.05 / 0.95, rel=1e-5)
    assert held.feeder_current == pytest.approx(500.0 * 1.05 / 22.0, rel=1e-5)


def test_feeder_is_that_of_one_wing():
    value = result()
    current = 500.0 * HIGH / 29.0
    assert value.feeder_current == pytest.approx(current, rel=1e-5)
    by_drop = wiring.drop_area(
        current=current, loop_length=10.0, allowed_drop=1.0, temperature=373.15
    )
    by_heat = gauges.ampacity_area(jnp.asarray(current), 423.15)
    assert value.wire_area == pytest.approx(max(float(by_drop), float(by_heat)), rel=1e-3)
    assert value.wire_mass == pytest.approx(
        2.0 * float(value.wire_area) * 10.0 * 8900.0 * 1.35 * 1.12, rel=1e-9
    )
    assert value.wire_drop <= 1.0
    assert value.wire_loss == pytest.approx(2.0 * current * float(value.wire_drop), rel=1e-5)


def test_wire_of_a_long_run_keeps_the_allowed_drop():
    value = result(supply=SUPPLY._replace(run_length=30.0))
    assert value.wire_drop == pytest.approx(1.0, rel=1e-3)
    assert value.wire_drop <= 1.0


def test_battery_or_generator_but_never_both():
    stored = result()
    fed = result(supply=SUPPLY._replace(battery=0.0))
    assert stored.battery_mass > 0.0
    assert stored.generator_mass == 0.0
    assert fed.battery_mass == 0.0
    assert fed.generator_mass == pytest.approx(0.75e-3 * float(fed.peak_power))
    assert stored.storage_mass == stored.battery_mass
    assert fed.storage_mass == fed.generator_mass


def test_battery_is_the_larger_of_energy_and_power():
    few, many = (result(supply=SUPPLY._replace(folds_per_sortie=n)) for n in (1.0, 20.0))
    assert few.battery_mass == pytest.approx(float(few.battery_power_mass), rel=1e-3)
    assert many.battery_mass == pytest.approx(float(many.battery_energy_mass), rel=1e-3)


def test_controller_counts_the_channels_of_the_aircraft():
    # 0.25 kg + 0.1 kg per channel, one tube each, 7 tubes a wing
    assert result().controller_mass == pytest.approx(0.25 + 0.1 * 14.0)
    shared = result(power_assumptions=ASSUMED._replace(tubes_per_channel=2.0))
    assert shared.controller_mass == pytest.approx(0.25 + 0.1 * 7.0)


def test_absent_set_counts_nothing():
    one = {"choices": record(Choices, set_present=np.array([1.0, 0.0]), assemblies=2.0)}
    ghost = result(**one, heater_power=jnp.array([500.0, 9e3]), tube_count=jnp.array([4.0, 9.0]))
    clean = result(**one, heater_power=jnp.array([500.0, 0.0]), tube_count=jnp.array([4.0, 0.0]))
    for a, b in zip(ghost, clean, strict=True):
        np.testing.assert_allclose(a, b, rtol=1e-9)


def test_nothing_heated_is_finite():
    none = {"heater_power": jnp.zeros(2), "tube_count": jnp.zeros(2)}
    assert all(np.all(np.isfinite(value)) for value in result(**none))
    slope = jax.grad(lambda p: sum(jnp.sum(v) for v in result(**none | {"heater_power": p})))
    assert np.all(np.isfinite(slope(jnp.zeros(2))))


def test_higher_voltage_makes_a_lighter_feeder():
    high = SUPPLY._replace(
        nominal_voltage=270.0,
        low_voltage_ratio=250 / 270,
        high_voltage_ratio=280 / 270,
        allowed_drop=7.0,
    )
    assert result(supply=high).wire_mass < 0.2 * result().wire_mass


def figures(scale, **changes):
    """Masses and powers of order one as a function of scale factors on the inputs."""
    value = result(
        heater_power=jnp.array([500.0, 300.0]) * scale[0],
        tube_count=jnp.array([4.0, 3.0]) * scale[1],
        heat_energy=jnp.array([[30e3, 20e3]] * 3) * scale[2],
        blower_power=50.0 * scale[3],
        **changes,
    )
    return jnp.stack(
        [
            value.peak_power / 1e3,
            value.sortie_energy / 1e5,
            value.wire_mass,
            value.storage_mass,
            value.converter_mass,
            value.controller_mass,
        ]
    )


@pytest.mark.parametrize("battery", [0.0, 1.0])
def test_gradients(battery):
    supply = SUPPLY._replace(battery=battery)
    check_grads(
        lambda x: figures(x, supply=supply),
        (jnp.ones(4),),
        order=1,
        modes=("fwd", "rev"),
        rtol=1e-5,
        eps=1e-6,
    )


def test_batch_equals_loop():
    scales = 1.0 + 0.2 * np.random.default_rng(3).uniform(-1.0, 1.0, (5, 4))
    batch = jax.vmap(figures)(jnp.asarray(scales))
    np.testing.assert_allclose(batch, [figures(jnp.asarray(s)) for s in scales], rtol=1e-12)
