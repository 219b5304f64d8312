"""Gears, splines, shafts and plated kinematics against the worked cases of the references."""

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from jax.test_util import check_grads

from mdo.disciplines.bundle import gear_sizing, gears, plated, strength

INCH, POUND, PSI = 0.0254, 0.45359237, 6894.757  # exact, exact, rounded


def test_collector_of_one_pinion_weighs_what_tm21_says():
    # TM-21: m = 3, T = 1000 lb in, K = 600 psi (gearbox notes restating Willis 1963): pinion of
    # 4.444 in3, pair of 44.44 in3, 11.11 lb of steel
    torque, surface = 1000.0 * POUND * 9.80665 * INCH, 600.0 * PSI
    pinion = gears.rotor_volume(torque, surface_factor=surface, volume_factor=1.0 + 1.0 / 3.0)
    factor = gears.collector_factor(3.0, 1.0, 1.0)
    volume = gears.rotor_volume(torque, surface_factor=surface, volume_factor=factor)
    assert pinion / INCH**3 == pytest.approx(4.444, rel=1e-3)
    assert factor == pytest.approx(13.333, rel=1e-4)
    assert volume / INCH**3 == pytest.approx(44.44, rel=1e-3)
    assert volume * 6920.0 / POUND == pytest.approx(11.11, rel=1e-3)


def pair_factor(ratio):
    """Offset pair by hand: 1 + 1/m + m + m^2 (Willis 1963, restated in gearbox notes)."""
    return 1.0 + 1.0 / ratio + ratio + ratio**2


@pytest.mark.parametrize("ratio", [0.5, 1.0, 3.0, 8.0])
def test_collector_with_one_pinion_is_the_offset_pair(ratio):
    assert gears.collector_factor(ratio, 1.0, 1.0) == pytest.approx(pair_factor(ratio), rel=1e-14)


def test_collector_of_many_pinions_shares_the_wheel():
    # two pinions on one wheel weigh less than two pairs, exactly as much on two wheels
    two_pairs = 2.0 * pair_factor(2.0)
    assert gears.collector_factor(2.0, 2.0, 1.0) < two_pairs
    assert gears.collector_factor(2.0, 2.0, 2.0) == pytest.approx(two_pairs, rel=1e-14)


def test_collector_wheel_counts_with_its_volume():
    # F from the pinion's volume, wheel m d with the same face: sum by hand
    torque, ratio, count, diameter, surface = 12.0, 2.5, 6.0, 0.018, 9e6
    face = gears.face_width(torque, pinion_diameter=diameter, ratio=ratio, surface_factor=surface)
    by_hand = face * (count * diameter**2 + (ratio * diameter) ** 2)
    factor = gears.collector_factor(ratio, count, 1.0)
    volume = gears.rotor_volume(torque, surface_factor=surface, volume_factor=factor)
    assert volume == pytest.approx(float(by_hand), rel=1e-13)


def test_pinions_per_lane_touch_at_unit_spacing():
    # pitch circle of the axes pi (1 + m) d; at m = 1 the exact number of touching pinions is
    # pi/asin(1/2) = 6: the arc form with spacing 1.1 must not promise more
    assert gears.pinions_per_lane(1.0, 1.1) < 6.0
    for ratio in (1.0, 2.0, 5.0):
        exact = np.pi / np.arcsin(1.0 / (1.0 + ratio))
        assert gears.pinions_per_lane(ratio, 1.1) <= exact
    assert gears.lanes_required(12.0, ratio=1.0, spacing=1.1) == pytest.approx(2.1008, rel=1e-4)


def test_lewis_of_tm22():
    # TM-22: module 1.25, 18 teeth, face 12 mm, 1800 rpm, 0.5 kW; Y and Kv Shigley from memory
    speed = np.pi * 0.0225 * 1800 / 60
    force = 500.0 / speed
    assert speed == pytest.approx(2.121, rel=5e-3)
    assert force == pytest.approx(235.8, rel=5e-3)
    stress = strength.lewis_stress(
        tangential_force=force, face=0.012, module=1.25e-3, form_factor=0.309, pitch_speed=speed
    )
    assert stress == pytest.approx(68.6e6, rel=5e-3)
    slow = strength.pinion_bending_stress(
        force * 0.01125, pinion_diameter=0.0225, face=0.012, teeth=18.0, form_factor=0.309
    )
    assert stress / slow == pytest.approx(1.348, rel=5e-3)


def test_thin_wall_approaches_the_exact_tube():
    wall = float(strength.wall_for_torsion(300.0, radius=0.05, shear_allowable=100e6))
    outer, inner = 0.05 + wall / 2, 0.05 - wall / 2
    exact = 300.0 * outer / (np.pi / 2 * (outer**4 - inner**4))  # T r/J, any text on torsion
    assert exact == pytest.approx(100e6, rel=wall / 0.05)


def test_spline_carries_its_torque():
    length = strength.spline_length(
        60.0, mean_diameter=0.02, tooth_height=0.002, teeth=16.0, share=0.5, bearing_allowable=70e6
    )
    # 8 teeth x 2 mm x 70 MPa at a radius of 10 mm: 11.2 N*m per millimetre, by hand
    assert length == pytest.approx(60.0 / 11200.0, rel=1e-12)


@pytest.mark.parametrize(
    ("radius", "shift", "bending", "axial"),
    [(0.020, 24.35e-3, 0.974e-2, 0.395e-2), (0.050, 60.88e-3, 2.435e-2, 2.47e-2)],
)
def test_plate_motion_of_tm33(radius, shift, bending, axial):
    motion = plated.plate_motion(
        circle_radius=radius,
        relative_angle=jnp.deg2rad(75.0),
        outer_diameter=0.012,
        tube_length=0.3,
    )
    assert motion.end_shift == pytest.approx(shift, rel=5e-3)
    assert motion.bending_strain == pytest.approx(bending, rel=5e-3)
    assert motion.axial_strain == pytest.approx(axial, rel=5e-3)
    # the reference rejects both: 0.3 of a design shear strain of 4 %
    assert motion.bending_strain + motion.axial_strain > 0.3 * 0.04 / 3**0.5


def test_off_axis_penalty_of_c32():
    motion = plated.plate_motion(
        circle_radius=0.03, relative_angle=jnp.deg2rad(60.0), outer_diameter=0.02, tube_length=0.5
    )
    assert motion.plate_approach == pytest.approx(1.080e-3, rel=1e-3)
    # bending stress 216 MPa at E 30 GPa
    assert 30e9 * motion.bending_strain == pytest.approx(216e6, rel=1e-3)


@pytest.mark.parametrize(
    "function",
    [
        lambda m: gears.collector_factor(m, 8.0, 2.0),
        lambda m: gears.face_width(10.0, pinion_diameter=0.02, ratio=m, surface_factor=9e6),
    ],
)
def test_derivatives_and_batches(function):
    check_grads(function, (2.3,), order=1, modes=["fwd", "rev"], rtol=1e-5)
    grid = jnp.linspace(0.3, 9.0, 7)
    loop = jnp.stack([function(m) for m in grid])
    np.testing.assert_allclose(jax.vmap(function)(grid), loop, rtol=1e-14)


@pytest.mark.parametrize("ratio", [0.0, 2.0, 1e6])
def test_finite_at_extremes(ratio):
    def function(m):
        return jnp.sum(gears.collector_factor(m, 0.0, 0.0))

    assert jnp.isfinite(function(ratio))
    assert jnp.isfinite(jax.grad(function)(ratio))


def test_surface_factor_of_teeth_has_its_hand_value():
    # Lewis (Shigley, from memory): sigma = 2 T z/(d^2 F Y); Willis 1963 (gearbox notes): d^2 F =
    # 2 T/K (1 + 1/m); so K' = sigma Y/z (1 + 1/m) = 300 MPa x 0.309/18 x 4/3 = 6.867 MPa (hand)
    teeth = {"ratio": 3.0, "bending": 300e6, "teeth": 18.0, "form_factor": 0.309}
    limited = gear_sizing.lasting_surface_factor(surface_factor=10e6, **teeth)
    assert float(limited) == pytest.approx(6.8667e6, rel=1e-4)
    # flanks that bear less decide themselves: TM-21, 600 psi
    flanks = gear_sizing.lasting_surface_factor(surface_factor=600.0 * PSI, **teeth)
    assert float(flanks) == pytest.approx(600.0 * PSI, rel=1e-12)


def test_pinion_sized_by_teeth_is_stressed_to_their_allowable():
    # Lewis for the pinion that Willis sizes, at any diameter: the allowable itself
    teeth = {"teeth": 18.0, "form_factor": 0.309}
    factor = gear_sizing.lasting_surface_factor(
        ratio=2.0, surface_factor=20e6, bending=250e6, **teeth
    )
    for diameter in (0.012, 0.03):
        size = {"pinion_diameter": diameter, "face": None}
        size["face"] = gears.face_width(
            9.0, pinion_diameter=diameter, ratio=2.0, surface_factor=factor
        )
        by_hand = 2.0 * 9.0 * 18.0 / (diameter**2 * float(size["face"]) * 0.309)
        assert by_hand == pytest.approx(250e6, rel=1e-9)
        assert float(strength.pinion_bending_stress(9.0, **size, **teeth)) == pytest.approx(
            by_hand, rel=1e-12
        )


@pytest.mark.parametrize("face_ratio", [0.5, 1.0, 1.5])
def test_pinion_for_a_face_ratio_has_that_face(face_ratio):
    # TM-21 (gearbox notes restating Willis 1963): d^2 F = 4.444 in3, so d = (4.444 d/F)^(1/3)
    torque, surface = 1000.0 * POUND * 9.80665 * INCH, 600.0 * PSI
    size = {"ratio": 3.0, "surface_factor": surface}
    diameter = gear_sizing.pinion_for_face_ratio(torque, face_ratio=face_ratio, **size)
    assert float(diameter) / INCH == pytest.approx((4.4444 / face_ratio) ** (1 / 3), rel=1e-4)
    face = gears.face_width(torque, pinion_diameter=diameter, **size)
    assert float(face / diameter) == pytest.approx(face_ratio, rel=1e-9)
