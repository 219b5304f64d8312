"""Lines of the mass roll-up against hand values, published examples and scaling laws."""

from itertools import pairwise
from pathlib import Path

import jax
import jax.numpy as jnp
import numpy as np
import pandas as pd
import pytest
from jax.test_util import check_grads

from mdo.disciplines.mass import growth, mechanism, structure, tubes
from mdo.disciplines.mass.assumptions import MassAssumptions
from mdo.disciplines.tube import torsion

# S-120A (2015), from memory: E1 estimated, E2 layout, C3 preliminary, C4 released, A5 existing, A6
# weighed.
GROWTH_TABLE = pd.read_csv(Path(__file__).with_name("growth_table.csv"), index_col=0).T.to_dict()
# Plain numbers of this test; the defaults of the tool live in mdo/study/defaults/mass.toml.
MASS = MassAssumptions(
    fitting_density=4430.0,
    fitting_outer_ratio=1.5,
    fitting_factor=1.3,
    spline_bearing_allowable=70e6,
    spline_share=0.5,
    spline_teeth=16.0,
    spline_height_ratio=0.1,
    support_slenderness=60.0,
    support_share=0.5,
    gear_application_density=6920.0,
    structure_density=2800.0,
    structure_shear_allowable=120e6,
    structure_shear_modulus=27e9,
    plate_thickness_min=2e-3,
    plate_fill=0.5,
    plate_edge_ratio=2.0,
    housing_thickness_min=1.2e-3,
    housing_fitting_factor=1.4,
    housing_flange_factor=1.25,
    bearing_density=7850.0,
    bearing_form=0.6,
    bearing_section_ratio=0.08,
    lock_mass_fixed=0.15,
    lock_pin_density=7850.0,
    lock_pin_shear_allowable=500e6,
    lock_pin_planes=2.0,
    lock_pin_slenderness=4.0,
    lock_factor=5.0,
    lock_arm_ratio=0.5,
    brake_torque_density=8.0,
    brake_speed_ratio=30.0,
    resolver_mass=0.1,
    resolver_count=2.0,
    thermocouple_mass=0.02,
    thermocouples_per_tube=2.0,
    switch_mass=0.03,
    switch_count=4.0,
    fastener_fraction=0.05,
    spring_shear_allowable=600e6,
    spring_shear_modulus=79e9,
    spring_density=7850.0,
    spring_factor=1.5,
    **GROWTH_TABLE["E1"],
)


def test_tube_mass_of_c24():
    # C12/C24 tube: 20/16 mm, 0.5 m, 6450 kg/m3 -> 0.3647389 kg
    kilograms = tubes.tube_mass(
        density=6450.0,
        outer_diameter=0.020,
        inner_diameter=0.016,
        tube_length=0.4,
        inactive_length=0.1,
    )
    assert kilograms == pytest.approx(0.3647389, rel=1e-6)


def test_growth_example_tm25():
    # 2.0 kg tubes, 0.8 fittings, 0.3 heaters, 0.5 harness, 0.9 electronics -> 4.50 and 1.32 kg
    lines = {"thermal": 0.3, "mechanisms": 2.8, "harness": 0.5, "electronics": 0.9}
    assert sum(lines.values()) == pytest.approx(4.50, rel=1e-15)
    assert growth.growth_mass(lines, MASS) == pytest.approx(1.32, rel=1e-12)
    assert growth.growth_mass(lines, MASS) / 4.5 == pytest.approx(0.293, abs=5e-4)


@pytest.mark.parametrize(("kilograms", "fraction"), [(1.0, 0.30), (10.0, 0.25), (40.0, 0.20)])
def test_growth_of_electronics_by_size(kilograms, fraction):
    assert growth.electronics_growth(kilograms, MASS) == pytest.approx(fraction, rel=1e-12)


def test_growth_falls_with_maturity_and_vanishes_when_weighed():
    rows = [np.array(list(row.values())) for row in GROWTH_TABLE.values()]
    assert all(np.all(later <= earlier) for earlier, later in pairwise(rows))
    assert not rows[-1].any()
    classes = {name.split("_")[1] for name in GROWTH_TABLE["E1"]}
    lines = dict.fromkeys(sorted(classes), 1.0)
    weighed = MASS._replace(**GROWTH_TABLE["A6"])
    assert growth.growth_mass(lines, weighed) == 0.0


def test_end_fitting_by_hand():
    # 20/16 mm tube, 60 N*m: 8 teeth x 2 mm x 70 MPa x 10 mm = 11.2 N*m per mm -> 5.357 mm;
    # 1.3 x 4430 x pi/4 (0.03^2 - 0.016^2) x 5.357e-3 = 15.61 g
    fitting = tubes.end_fitting_mass(60.0, outer_diameter=0.020, inner_diameter=0.016, mass=MASS)
    assert fitting == pytest.approx(0.015605, rel=1e-3)


def test_mid_support_only_on_slender_tubes():
    def support(ratio):
        return tubes.mid_support_mass(0.1, length_to_diameter=ratio, mass=MASS)

    assert support(30.0) == 0.0
    assert support(60.0) == pytest.approx(0.025)
    assert support(66.0) == pytest.approx(0.05)


def test_plate_by_hand_and_at_its_least_thickness():
    # 500 N*m at a hub of 15 mm, 120 MPa: 2.947 mm; radius 50 + 2 x 12 mm, half solid
    thick = structure.plate_mass(
        500.0, hub_radius=0.015, circle_radius=0.05, outer_diameter=0.012, mass=MASS
    )
    assert thick == pytest.approx(2800 * 2.947e-3 * np.pi * 0.074**2 * 0.5, rel=1e-3)
    thin = structure.plate_mass(
        0.0, hub_radius=0.015, circle_radius=0.05, outer_diameter=0.012, mass=MASS
    )
    assert thin == pytest.approx(2800 * 2e-3 * np.pi * 0.074**2 * 0.5, rel=1e-12)


def test_housing_by_hand_and_its_windup():
    tube = {"radius": 0.05, "length": 0.4, "mass": MASS}
    # strength needs 53 um and a wind-up of 0.1 rad far less: the least wall governs
    wall = structure.housing_wall(100.0, windup=0.1, **tube)
    assert wall == pytest.approx(1.2e-3, rel=1e-12)
    shell = structure.housing_mass(wall, girth=2 * np.pi * 0.05, length=0.4, mass=MASS)
    assert shell == pytest.approx(2800 * 2 * np.pi * 0.05 * 1.2e-3 * 0.4 * 1.75, rel=1e-12)
    # a wind-up of 0.5 mrad is kept by a thicker wall
    stiff = structure.housing_wall(1000.0, windup=5e-4, **tube)
    assert stiff > 2e-3
    kept = structure.housing_windup(1000.0, wall=stiff, **tube)
    assert kept == pytest.approx(5e-4, rel=1e-9)
    # thin tube: exact J of 101.2/98.8 mm agrees to (t/R)^2
    twist = structure.housing_windup(100.0, wall=wall, **tube)
    polar = np.pi / 2 * (0.0506**4 - 0.0494**4)
    assert twist == pytest.approx(100.0 * 0.4 / (27e9 * polar), rel=(1.2 / 50) ** 2)


def test_lock_pin_by_hand():
    # 1000 N*m, thickness 80 mm: arm 40 mm, 25 kN, 25 mm2, d 5.642 mm, l 22.57 mm, 4.43 g x 5
    lock = mechanism.lock_mass(1000.0, local_thickness=0.08, mass=MASS)
    assert lock == pytest.approx(0.15 + 5 * 7850 * 25e-6 * 22.57e-3, rel=1e-3)
    assert lock == mechanism.lock_mass(-1000.0, local_thickness=0.08, mass=MASS)


def test_bearing_brake_and_sensors_by_hand():
    bearing = structure.bearing_mass(0.1, MASS)
    assert bearing == pytest.approx(0.6 * 7850 * np.pi * 0.1 * 0.008**2, rel=1e-12)
    assert mechanism.brake_mass(-240.0, MASS) == pytest.approx(1.0)
    assert mechanism.sensor_mass(6.0, MASS) == pytest.approx(0.2 + 0.12 + 0.24)
    assert mechanism.fastener_mass(4.0, MASS) == pytest.approx(0.2)
    assert mechanism.gear_mass(1e-4, MASS) == pytest.approx(0.692)


def test_spring_mass_against_a_torsion_bar():
    # round steel bar d 10 mm, l 1 m at 600 MPa: T = tau pi d^3/16, theta = 2 tau l/(G d)
    torque = 600e6 * np.pi * 0.01**3 / 16
    angle = 2 * 600e6 * 1.0 / (79e9 * 0.01)
    bar = 7850 * np.pi / 4 * 0.01**2
    assert mechanism.spring_mass(0.5 * torque * angle, MASS) == pytest.approx(1.5 * bar, rel=1e-12)


def test_spring_energy_is_held_finite_for_a_flat_spring():
    exact = mechanism.spring_energy(moment=40.0, rate=10.0, travel=1.5)
    assert exact == pytest.approx(80.0)
    flat = mechanism.spring_energy(moment=40.0, rate=0.0, travel=1.5)
    # ten travels of wind-up at constant moment: 10 M travel/2
    assert flat == pytest.approx(300.0, rel=1e-6)
    none = mechanism.spring_energy(moment=0.0, rate=0.0, travel=1.5)
    assert none == 0.0


def slope(mass, torque):
    return np.polyfit(np.log(mass), np.log(torque), 1)[0]


@pytest.mark.parametrize(("law", "exponent"), [("froude", 4.0 / 3.0), ("constant_loading", 1.5)])
@pytest.mark.parametrize("growing", ["count", "size"])
def test_tube_mass_scales_as_the_hinge_moment(law, exponent, growing):
    # TM-28: gravity moment of a panel m g w/2 (m ~ W, w ~ W^1/3), or constant q and W/S:
    # q S_panel w/2 (S ~ W, w ~ W^1/2); same angle, same stress and strain
    vehicle = np.array([100.0, 1000.0, 20000.0])
    if law == "froude":
        moment = 0.03 * vehicle * 9.81 * 0.5 * vehicle ** (1 / 3) * 0.2
    else:
        moment = 2000.0 * 0.1 * (vehicle / 400.0) * 0.5 * 0.1 * vehicle**0.5
    assert slope(vehicle, moment) == pytest.approx(exponent, abs=1e-12)
    stress, strain, angle = 100e6, 0.04, np.pi / 2
    radius = np.full(3, 0.006)
    if growing == "size":  # one tube carries it all
        unit = torsion.torque(stress, torsion.section(1.0, 0.3))
        radius = np.asarray((moment / unit) ** (1 / 3))
    section = torsion.section(radius, 0.3)
    count = moment / torsion.torque(stress, section)
    length = angle * section.effective_radius / strain
    mass = count * tubes.tube_mass(
        density=6450.0,
        outer_diameter=2 * section.outer_radius,
        inner_diameter=2 * section.inner_radius,
        tube_length=length,
        inactive_length=0.0,
    )
    assert slope(vehicle, mass) == pytest.approx(exponent, abs=1e-9)
    bound = 6450.0 * moment * angle / (stress * strain)  # work over work per volume
    np.testing.assert_allclose(mass, bound, rtol=1e-12)


LINES = [
    lambda x: tubes.end_fitting_mass(x, outer_diameter=0.02, inner_diameter=0.01, mass=MASS),
    lambda x: structure.plate_mass(
        x, hub_radius=0.02, circle_radius=0.05, outer_diameter=0.012, mass=MASS
    ),
    lambda x: structure.housing_wall(x, radius=0.05, length=0.4, windup=1e-3, mass=MASS),
    lambda x: structure.housing_windup(x, wall=2e-3, radius=0.05, length=0.4, mass=MASS),
    lambda x: mechanism.lock_mass(x, local_thickness=0.08, mass=MASS),
    lambda x: mechanism.brake_mass(x, MASS),
    lambda x: mechanism.sensor_mass(x, MASS),
    lambda x: mechanism.spring_energy(moment=x, rate=30.0, travel=1.5),
    lambda x: growth.electronics_growth(x / 20, MASS),
    lambda x: tubes.mid_support_mass(0.1, length_to_diameter=x, mass=MASS),
]


@pytest.mark.parametrize("line", LINES)
def test_lines_are_differentiable_batched_and_finite(line):
    for x in (57.1, 241.0, 300.3):
        check_grads(line, (x,), order=1, modes=["fwd", "rev"], rtol=1e-4, eps=1e-4)
    grid = jnp.linspace(0.0, 2000.0, 9)
    loop = jnp.stack([jnp.asarray(line(x)) for x in grid])
    np.testing.assert_allclose(jax.vmap(line)(grid), loop, rtol=1e-13)
    assert np.isfinite(jax.vmap(jax.grad(lambda x: jnp.sum(line(x))))(grid)).all()
