"""Roll-up of the aircraft: sums, both wings, shared lines, growth per class, the loop's closure."""

import inspect

import jax
import jax.numpy as jnp
import numpy as np
import pytest

from mdo.alloys import load_card
from mdo.disciplines.bundle.assumptions import BundleAssumptions
from mdo.disciplines.mass.assumptions import MassAssumptions
from mdo.disciplines.mass.mechanism import (
    brake_mass,
    lock_mass,
    sensor_mass,
    spring_energy,
    spring_mass,
)
from mdo.disciplines.mass.structure import bearing_mass
from mdo.disciplines.mass.system import MASS_LINES, mass, wing_mass
from mdo.disciplines.records import Choices, Legs, Planform, Requirements, Statics, Vehicle
from mdo.study.read_sections import read_assumptions
from mdo.study.reader import Reader

from .given import record

ASSUMED = read_assumptions(Reader("test"), {})
A = MassAssumptions(**ASSUMED["mass"])
B = BundleAssumptions(**ASSUMED["bundle"])
NAMES = list(MASS_LINES)
SHARED = {"harness", "controller", "power conversion", "battery or generator share"}
KNUCKLE, GEARED, PLATED = 0.0, 2.0, 3.0


BASE = {
    "tube_outer_radius": 0.006,
    "wall_ratio": 0.4,
    "tube_length": 0.4,
    "tube_count": np.array([5.0, 7.0]),
    "operating_stress": np.array([8e7, 1e8]),
    "gear_ratio": 1.2,
    "spring_moment": 60.0,
    "spring_rate": 10.0,
    "travel_low": -0.7,
    "travel_high": 1.8,
    "gear_volume": 2e-4,
    "lanes": 2.0,
    "bundle_radius": 0.03,
    "bundle_height": 0.06,
    "bundle_width": 0.09,
    "bundle_length": 0.55,
    "fitting_mass_per_tube": np.array([0.05, 0.06]),
    "support_mass_per_tube": np.array([0.01, 0.0]),
    "heater_mass_per_tube": 0.03,
    "insulation_mass_per_tube": 0.004,
    "blower_mass": 0.3,
    "lock_moment": np.array([100.0, 400.0, 0.0]),
    "overrun_moment": np.array([[50.0, -30.0], [20.0, -90.0], [-500.0, 10.0]]),
    "wire_mass": 1.1,
    "controller_mass": 2.2,
    "converter_mass": 0.7,
    "battery_mass": 3.0,
    "generator_mass": 0.4,
    "planform": record(Planform, fold_thickness=0.15),
    "vehicle": record(Vehicle, mass_without_actuator=500.0),
    "choices": record(
        Choices, set_present=np.ones(2), topology=GEARED, configuration=2.0, assemblies=2.0
    ),
    "legs": record(Legs, moves=np.array([1.0, 1.0, 0.0])),
    "statics": Statics(record(Legs)),
    "alloy": load_card("ref1").record(),
    "requirements": record(Requirements, overrun_factor=1.25, windup_limit=0.02),
    "mass_assumptions": A,
    "bundle_assumptions": B,
}


def whole(given):
    """Both entries of the roll-up, each with the arguments that it names."""
    wing = wing_mass(**{name: given[name] for name in arguments(wing_mass)})._asdict()
    rest = {name: (given | wing)[name] for name in arguments(mass)}
    return wing | mass(**rest)._asdict()


def arguments(function):
    return inspect.signature(function).parameters


_RUN = jax.jit(whole)


def run(changes=None, **choices):
    given = BASE | (changes or {})
    given["choices"] = given["choices"]._replace(**choices)
    as_float = jax.tree.map(lambda v: jnp.asarray(v, dtype=float), given)
    got = {name: np.asarray(value) for name, value in _RUN(as_float).items()}
    return got, dict(zip(NAMES, got["mass_lines"].tolist(), strict=True))


def test_lines_and_growth_sum_to_the_system_and_close_the_loop():
    got, lines = run()
    assert len(lines) == 19
    basic = sum(lines.values())
    assert float(got["system_mass_basic"]) == pytest.approx(basic, rel=1e-13)
    system = basic + got["mass_growth"].sum()
    assert float(got["system_mass"]) == pytest.approx(system, rel=1e-13)
    assert float(got["closed_vehicle_mass"]) == pytest.approx(500.0 + system, rel=1e-13)


# 2.9 kg together, below the step at 4 to 6 kg; 7 kg beyond it, where neither is alone
@pytest.mark.parametrize(
    ("controller", "converter", "size"), [(2.2, 0.7, "small"), (4.0, 3.0, "medium")]
)
def test_growth_is_that_of_the_class_of_each_line_once(controller, converter, size):
    got, lines = run({"controller_mass": controller, "converter_mass": converter})
    for name, growth in zip(NAMES, got["mass_growth"], strict=True):
        if MASS_LINES[name] == "electronics":
            rate = getattr(A, f"growth_electronics_{size}")
        else:
            rate = getattr(A, f"growth_{MASS_LINES[name]}")
        assert growth == pytest.approx(rate * lines[name], rel=1e-12), name


def test_tubes_weigh_what_their_volume_weighs_in_both_wings():
    # C24's tube has 0.3647389 kg (10/8 mm, 0.5 m, 6450 kg/m3); here by hand, grips and cold ends
    length = 0.4 + 2 * 0.012 * (B.grip_length_ratio + B.cold_end_length_ratio)
    one = 6450.0 * np.pi * (0.006**2 - 0.0036**2) * length
    got, lines = run()
    assert lines["tubes, up set"] == pytest.approx(2 * 5 * one, rel=1e-12)
    assert lines["tubes, down set"] == pytest.approx(2 * 7 * one, rel=1e-12)
    assert float(got["alloy_mass"]) == pytest.approx(24 * one, rel=1e-12)


def test_lines_of_a_wing_count_twice_and_shared_lines_once():
    _, lines = run()
    assert lines["end fittings and supports"] == pytest.approx(2 * (5 * 0.06 + 7 * 0.06), rel=1e-12)
    assert lines["heaters"] == pytest.approx(2 * 12 * 0.03, rel=1e-12)
    assert lines["insulation"] == pytest.approx(2 * 12 * 0.004, rel=1e-12)
    assert lines["gears"] == pytest.approx(2 * 2e-4 * A.gear_application_density, rel=1e-12)
    bearings = 2 * 4 * float(bearing_mass(1.2 * 0.012, A))
    assert lines["bearings"] == pytest.approx(bearings, rel=1e-12)
    assert lines["sensors"] == pytest.approx(2 * float(sensor_mass(12.0, A)), rel=1e-12)
    assert lines["cooling"] == pytest.approx(0.6, rel=1e-12)
    assert lines["harness"] == pytest.approx(1.1, rel=1e-12)
    assert lines["controller"] == pytest.approx(2.2, rel=1e-12)
    assert lines["power conversion"] == pytest.approx(0.7, rel=1e-12)
    assert lines["battery or generator share"] == pytest.approx(3.4, rel=1e-12)
    wings = {name: value for name, value in lines.items() if name not in SHARED}
    fasteners = wings.pop("fasteners, brackets, seals")
    assert fasteners == pytest.approx(A.fastener_fraction * sum(wings.values()), rel=1e-12)


def test_lock_is_sized_by_the_largest_of_its_moments():
    _, lines = run()
    by_hand = 2 * float(lock_mass(400.0, local_thickness=0.15, mass=A))
    assert lines["lock"] == pytest.approx(by_hand, rel=1e-3)
    assert lines["lock"] >= by_hand


def test_brake_holds_the_largest_overrun_of_what_moves_or_is_not_there():
    assert run()[1]["brake"] == 0.0
    _, lines = run(brake=1.0)
    # the third leg does not move: 90 N*m times 1.25 counts, not 500
    by_hand = 2 * float(brake_mass(1.25 * 90.0, A))
    assert lines["brake"] == pytest.approx(by_hand, rel=5e-3)
    assert lines["brake"] >= by_hand
    # a load that only resists leaves the brake next to nothing
    resisting = {"overrun_moment": np.abs(BASE["overrun_moment"]) + 50.0}
    assert 0.0 <= run(resisting, brake=1.0)[1]["brake"] < 0.02 * by_hand


def test_topology_and_configuration_switch_their_lines():
    assert run(topology=KNUCKLE)[1]["plates"] == run(topology=GEARED)[1]["plates"] == 0.0
    assert run(topology=KNUCKLE)[1]["bearings"] == 0.0
    assert run(topology=PLATED)[1]["plates"] > 0.0
    assert run()[1]["return spring"] == 0.0
    energy = spring_energy(moment=60.0 + 10.0 * 2.5, rate=10.0, travel=2.5)
    by_hand = 2 * float(spring_mass(energy, A))
    sprung = run(configuration=1.0)[1]["return spring"]
    assert sprung == pytest.approx(by_hand, rel=1e-12)


def test_absent_set_weighs_nothing():
    _, lines = run(set_present=np.array([1.0, 0.0]))
    assert lines["tubes, down set"] == 0.0
    assert lines["heaters"] == pytest.approx(2 * 5 * 0.03, rel=1e-12)
    _, none = run({"tube_count": np.zeros(2)})
    assert all(np.isfinite(value) for value in none.values())


def test_housing_keeps_its_wind_up_within_the_limit():
    for stress in (1e7, 1e8, 4e8):
        got, _ = run({"operating_stress": np.full(2, stress)})
        assert float(got["windup_ratio"]) <= 0.02 * (1 + 1e-12)
    # thin round tube of the torsional stiffness of the box around the bundle (Bredt): the larger
    # set's torque, wall from strength, stiffness and 1.2 mm
    got, lines = run()
    torque = 7 * 1e8 * 2 / 3 * np.pi * (0.006**3 - 0.0036**3)
    area, girth = 0.06 * 0.09, 0.30
    radius = (2 * area**2 / (np.pi * girth)) ** (1 / 3)
    strength = torque / (2 * np.pi * radius**2 * A.structure_shear_allowable)
    twist = 1.2 * 2.5
    per_wall = torque * 0.55 / (2 * np.pi * radius**3 * A.structure_shear_modulus)
    wall = max(strength, per_wall / (0.02 * twist), A.housing_thickness_min)
    assert float(got["windup_ratio"]) == pytest.approx(per_wall / wall / twist, rel=0.03)
    factor = A.housing_fitting_factor * A.housing_flange_factor
    shell = 2 * A.structure_density * girth * wall * 0.55 * factor
    assert lines["housing"] == pytest.approx(shell, rel=0.03)


def test_mass_rises_with_what_it_is_made_of():
    def total(**changes):
        return float(run(changes)[0]["system_mass"])

    base = total()
    grown = {
        "tube_length": 0.5,
        "gear_volume": 3e-4,
        "battery_mass": 4.0,
        "bundle_length": 0.8,
        "lock_moment": np.array([100.0, 600.0, 0.0]),
        "tube_count": np.array([6.0, 7.0]),
    }
    for name, value in grown.items():
        assert total(**{name: value}) > base, name


def test_mass_has_its_derivatives():
    def total(scale):
        given = jax.tree.map(lambda v: jnp.asarray(v, dtype=float), BASE)
        given["choices"] = given["choices"]._replace(brake=1.0, configuration=1.0)
        for i, name in enumerate(("tube_outer_radius", "tube_length", "operating_stress",
                                  "tube_count", "lock_moment", "overrun_moment")):  # fmt: skip
            given[name] = given[name] * scale[i]
        return whole(given)["system_mass"]

    run_once = jax.jit(total)
    exact = jax.jit(jax.grad(total))(jnp.ones(6))
    step = 1e-6
    for i in range(6):
        shift = step * jnp.eye(6)[i]
        central = (run_once(1.0 + shift) - run_once(1.0 - shift)) / (2 * step)
        assert float(exact[i]) == pytest.approx(float(central), rel=1e-6, abs=1e-7)


def test_a_tight_wind_up_limit_decides_the_wall_of_the_housing():
    # the elastic twist of the housing is that share of the tube twist over the whole travel
    limit = record(Requirements, overrun_factor=1.25, windup_limit=0.001)
    got, _ = run({"requirements": limit})
    assert float(got["windup_ratio"]) == pytest.approx(0.001, rel=1e-6)


def test_plated_bundle_has_two_plates_in_each_wing():
    # torque of the stronger set, 7 x 100 MPa x 2 pi/3 (6^3 - 3.6^3) mm3 = 248.3 N*m, sheared off a
    # hub of 6 mm: a wall of T/(2 pi R^2 tau), out to the edge beyond the tube axes at 30 mm
    torque = 7 * 1e8 * 2 * np.pi / 3 * (0.006**3 - 0.0036**3)
    wall = torque / (2 * np.pi * 0.006**2 * A.structure_shear_allowable)
    radius = 0.03 + A.plate_edge_ratio * 0.012
    plate = A.structure_density * wall * np.pi * radius**2 * A.plate_fill
    assert run(topology=PLATED)[1]["plates"] == pytest.approx(2 * 2 * plate, rel=1e-9)
