"""Conventional hinges in the declared system: hand numbers of the reference, fair-comparison rules.

The example of the reference (thermal-power-mass 4.2 and 4.3): 565 N*m over 90 deg, here in 60 s,
with the defaults: 80 N*m/kg of gear and motor, gear 0.6, motor 0.8, speed peak 1.5.
"""

from __future__ import annotations

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from jax.test_util import check_grads

from mdo.disciplines.electric.assumptions import PowerAssumptions
from mdo.disciplines.mass.assumptions import MassAssumptions
from mdo.disciplines.mass.comparison import GEARED_LINES, comparison
from mdo.disciplines.mass.conventional_assumptions import BaselineAssumptions
from mdo.disciplines.mass.system import LOCK, MASS_LINES
from mdo.disciplines.records import Choices, Legs, Requirements, Supply
from mdo.study.read_sections import read_assumptions
from mdo.study.reader import Reader

from .given import record

ASSUMED = read_assumptions(Reader("test"), {})
MASS = MassAssumptions(**ASSUMED["mass"])
BASELINE = BaselineAssumptions(**ASSUMED["baseline"])
POWER = PowerAssumptions(**ASSUMED["power"])
NO_GROWTH = MASS._replace(
    **{name: 0.0 for name in MassAssumptions._fields if name.startswith("growth_")}
)
ANGLES = 5
QUARTER = np.pi / 2
MARGIN = 0.25
MOMENT = 565.0 / (1.0 + MARGIN)  # limit moment whose factored value is that of the example


def legs(**given):
    """A fold and its return over 90 deg, 60 s each after the dead time."""
    pair = {
        "angle_from": np.array([0.0, QUARTER]),
        "angle_to": np.array([QUARTER, 0.0]),
        "moves": np.ones(2),
        "holds": np.zeros(2),
        "is_return": np.array([0.0, 1.0]),
        "time_limit": np.full(2, 61.0),
        "torque_margin_required": np.full(2, MARGIN),
    }
    return record(Legs, **pair | given)


def sized(
    *,
    moments=(MOMENT, MOMENT),
    overrun=0.0,
    lock=0.4,
    mass=MASS,
    baseline=BASELINE,
    run=0.0,
    **given,
):
    record_of_legs = legs(**given)
    first, last = (np.asarray(a) for a in (record_of_legs.angle_from, record_of_legs.angle_to))
    shares = np.linspace(0.0, 1.0, ANGLES)
    lines = np.zeros(len(MASS_LINES))
    lines[LOCK] = lock
    return comparison(
        required_moment=jnp.asarray(moments)[:, None] * jnp.ones(ANGLES),
        overrun_moment=jnp.asarray(overrun) * jnp.ones((len(first), ANGLES)),
        fold_angle=jnp.asarray(first[:, None] + (last - first)[:, None] * shares),
        travel_low=jnp.minimum(first, last).min(),
        travel_high=jnp.maximum(first, last).max(),
        mass_lines=jnp.asarray(lines),
        bundle_length=jnp.asarray(0.5),
        bundle_height=jnp.asarray(0.06),
        bundle_width=jnp.asarray(0.1),
        legs=record_of_legs,
        choices=record(Choices, assemblies=2.0),
        supply=record(Supply, folds_per_sortie=3.0, run_length=run),
        requirements=record(Requirements, dead_time=1.0, overrun_factor=1.25),
        mass_assumptions=mass,
        power_assumptions=POWER,
        baseline=baseline,
    )


def line(result, name):
    return float(result.geared_lines[list(GEARED_LINES).index(name)])


def test_growth_of_the_geared_lines_adds_up_to_its_mass():
    # the row of the growth table once per line: lines and their allowances are the whole mass
    result = sized()
    whole = float(np.sum(result.geared_lines) + np.sum(result.geared_growth))
    assert float(result.geared_mass) == pytest.approx(whole, rel=1e-12)


def test_geared_hinge_of_the_example_by_hand():
    result = sized()
    assert float(result.baseline_moment) == pytest.approx(565.0)
    # 565/80 = 7.0625 kg a wing; brake 15 %, no-back 10 %, housing 20 % of it
    assert line(result, "gear and motor") == pytest.approx(14.125)
    assert line(result, "brake") == pytest.approx(2.11875)
    assert line(result, "no-back") == pytest.approx(1.4125)
    assert line(result, "housing") == pytest.approx(2.825)
    # 1.5 x 565 x 1.5708/60/0.48 = 46.22 W a wing; the controller is at its least, 0.3 kg
    assert float(result.geared_power) == pytest.approx(2 * 46.22, rel=1e-3)
    assert line(result, "motor controller") == pytest.approx(0.6)
    assert line(result, "source and wiring") == pytest.approx(0.8e-3 * 92.45, rel=1e-3)
    # work of the limit moment, both ways: 452 x 1.5708/0.48 = 1479 J a stroke and wing
    assert float(result.geared_sortie_energy) == pytest.approx(3 * 2 * 2 * 1479.2, rel=1e-3)
    # 20.48 kg at 2800 kg/m3
    assert float(result.geared_volume) == pytest.approx(20.48125 / 2800.0)
    assert float(result.actuator_volume) == pytest.approx(2 * 0.5 * 0.06 * 0.1)


def test_growth_comes_once_per_line_in_its_class():
    result = sized()
    basic = np.asarray(result.geared_lines)
    classes = (
        "mechanisms", "mechanisms", "mechanisms", "structure", "electronics_small", "battery",
        "mechanisms", "instrumentation", "brackets",
    )  # fmt: skip
    grown = sum(
        kilograms * (1.0 + float(getattr(MASS, f"growth_{name}")))
        for kilograms, name in zip(basic, classes, strict=True)
    )
    assert float(result.geared_mass) == pytest.approx(grown)
    assert float(sized(mass=NO_GROWTH).geared_mass) == pytest.approx(basic.sum())


def test_sensors_and_fasteners_are_those_of_the_actuator_side():
    result = sized()
    hinge = MASS.resolver_count * MASS.resolver_mass + MASS.switch_count * MASS.switch_mass
    assert line(result, "sensors") == pytest.approx(2 * float(hinge))
    held = sum(line(result, name) for name in list(GEARED_LINES)[:4])
    held += line(result, "lock") + line(result, "sensors")
    expected = float(MASS.fastener_fraction) * held
    assert line(result, "fasteners, brackets, seals") == pytest.approx(expected)


@pytest.mark.parametrize("figure", ["geared_mass", "hydraulic_mass", "hydraulic_mass_local"])
def test_a_heavier_lock_weighs_the_same_on_every_side(figure):
    # on the SMA side a kilogram of lock counts with fasteners and growth: mass() does that
    def at(lock):
        return float(getattr(sized(lock=lock), figure))

    fasteners = float(MASS.fastener_fraction) * (1.0 + float(MASS.growth_brackets))
    per_kilogram = 1.0 + float(MASS.growth_mechanisms) + fasteners
    assert at(1.4) - at(0.4) == pytest.approx(per_kilogram)


def test_the_margin_is_on_the_hinges_too():
    plain, asked = (sized(torque_margin_required=np.full(2, m)) for m in (0.0, 0.5))
    assert float(asked.baseline_moment) == pytest.approx(1.5 * float(plain.baseline_moment))
    assert line(asked, "gear and motor") == pytest.approx(1.5 * line(plain, "gear and motor"))
    assert float(asked.geared_power) == pytest.approx(1.5 * float(plain.geared_power))
    # what is used is used at the limit load
    assert float(asked.geared_sortie_energy) == pytest.approx(float(plain.geared_sortie_energy))


def test_the_harder_way_sets_the_power():
    """A return in a third of the time against a half of the moment takes 1.5 times the power."""
    result = sized(moments=(MOMENT, MOMENT / 2), time_limit=np.array([61.0, 21.0]))
    assert float(result.geared_power) == pytest.approx(1.5 * float(sized().geared_power))
    assert float(result.baseline_moment) == pytest.approx(565.0)
    energy = float(result.geared_sortie_energy) / float(sized().geared_sortie_energy)
    assert energy == pytest.approx(0.75)


def test_a_load_that_helps_takes_neither_power_nor_energy():
    result = sized(moments=(MOMENT, -MOMENT))
    assert float(result.geared_power) == pytest.approx(float(sized().geared_power))
    half = 0.5 * float(sized().geared_sortie_energy)
    assert float(result.geared_sortie_energy) == pytest.approx(half)


def test_a_held_moment_sizes_the_gear_but_takes_no_power():
    moments = (MOMENT, 2.0 * MOMENT)
    held = sized(
        moments=moments,
        moves=np.array([1.0, 0.0]),
        holds=np.array([0.0, 1.0]),
        is_return=np.zeros(2),
    )
    assert float(held.baseline_moment) == pytest.approx(2 * 565.0)
    assert float(held.geared_power) == pytest.approx(float(sized().geared_power))


def test_a_leg_that_nothing_drives_counts_for_nothing():
    idle = sized(moments=(MOMENT, 5.0 * MOMENT), moves=np.array([1.0, 0.0]))
    assert float(idle.baseline_moment) == pytest.approx(565.0)


def test_hydraulic_hinge_of_the_example_by_hand():
    # 4.3: 565 N*m, 90 deg, 20.7 MPa, 0.85 -> 50.4 cm3, shell 66 g, fluid 43 g (one wing)
    result = sized(lock=0.0, mass=NO_GROWTH, run=8.0)
    local = 2 * (2.5 * 0.0660 + 0.0429 + 0.7)
    sensors = line(result, "sensors")
    fasteners = 1.0 + float(MASS.fastener_fraction)
    assert float(result.hydraulic_mass_local) == pytest.approx(
        fasteners * (local + sensors), rel=1e-3
    )
    # 1.5 x 565 x 1.5708/60/0.85 = 26.1 W a wing at the pump; lines out and back 0.3 kg/m
    assert float(result.hydraulic_power) == pytest.approx(2 * 26.1, rel=1e-3)
    system = float(result.hydraulic_mass - result.hydraulic_mass_local)
    assert system == pytest.approx(2 * (2 * 8 * 0.3 + 0.85e-3 * 26.1), rel=1e-3)


def test_no_resistance_leaves_a_finite_hinge_with_finite_slopes():
    def total(moments):
        result = sized(moments=moments)
        return sum(jnp.sum(value) for value in result)

    for moments in (jnp.zeros(2), -jnp.ones(2), jnp.array([MOMENT, 0.0])):
        assert np.isfinite(total(moments))
        assert np.isfinite(jax.grad(total)(moments)).all()


def test_masses_of_the_hinges_follow_their_moment_smoothly():
    moments = jnp.array([MOMENT, 0.9 * MOMENT])
    for name in ("geared_mass", "geared_power", "hydraulic_mass"):
        check_grads(
            lambda m, name=name: getattr(sized(moments=m), name),
            (moments,),
            order=1,
            modes=("fwd",),
            rtol=1e-6,
        )


def test_load_that_runs_over_sizes_the_gear_where_it_is_larger():
    # 1.25 x 800 N*m to be held through the gears to the no-back, above the 565 N*m that drive
    assert float(sized(overrun=-800.0).baseline_moment) == pytest.approx(1000.0)
    assert float(sized(overrun=-100.0).baseline_moment) == pytest.approx(565.0)


def test_a_vane_sweeps_the_union_of_all_legs():
    # two legs of 90 deg, one from -45 and one from 0: the vane sweeps 135 deg
    apart = {
        "angle_from": np.array([-QUARTER / 2, 0.0]),
        "angle_to": np.array([QUARTER / 2, QUARTER]),
    }
    wide, narrow = (float(sized(mass=NO_GROWTH, **g).hydraulic_mass_local) for g in (apart, {}))
    valve, rest = 2 * 0.7, 0.4 + 2 * 0.32
    own = (narrow / 1.05 - rest) - valve  # shell and fluid, fasteners 5 % taken off
    grown = (wide / 1.05 - rest) - valve
    assert grown == pytest.approx(1.5 * own, rel=0.01)
