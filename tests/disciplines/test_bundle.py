"""Bundle: view factors against crossed strings, envelopes by hand, gates, scaling."""

import inspect

import jax
import jax.numpy as jnp
import numpy as np
import pytest

from mdo.alloys import load_card
from mdo.disciplines.bundle.assumptions import BundleAssumptions
from mdo.disciplines.bundle.exposure import crowding, hull_view_factor
from mdo.disciplines.bundle.gears import collector_factor, face_width, lanes_required, rotor_volume
from mdo.disciplines.bundle.packing import bundle
from mdo.disciplines.bundle.plated import plate_motion
from mdo.disciplines.bundle.transmission import transmission
from mdo.disciplines.records import TOPOLOGIES, Choices, Planform, Vehicle
from mdo.study.read_sections import read_assumptions
from mdo.study.reader import Reader

from .given import record

A = BundleAssumptions(**read_assumptions(Reader("test"), {})["bundle"])
ALLOY = load_card("ref1").record()


def crossed_strings(pitch_ratio):
    """View factor of a tube of an infinite row to what is outside the row.

    Two equal parallel cylinders see each other by ``(sqrt(X^2-1) + asin(1/X) - X)/pi`` at a pitch
    of X diameters (crossed strings; Hottel, from memory); a neighbour hides the next but one.
    """
    x = pitch_ratio
    neighbour = (np.sqrt(x**2 - 1.0) + np.arcsin(1.0 / x) - x) / np.pi
    return 1.0 - 2.0 * neighbour


def row_error(pitch_ratio):
    # hull of N tubes in a row at pitch X D: 2 N X D around, over N pi D
    return float(hull_view_factor(2.0 * pitch_ratio, np.pi)) / crossed_strings(pitch_ratio) - 1.0


def test_view_factor_of_a_row_errs_as_its_docstring_says():
    assert crossed_strings(1.0) == pytest.approx(2.0 / np.pi, rel=1e-12)
    assert row_error(1.0) == pytest.approx(-0.07, abs=0.005)
    assert row_error(2.0) == pytest.approx(0.05, abs=0.005)
    wide = [row_error(x) for x in np.geomspace(1.0, 30.0, 200)]
    assert min(wide) == pytest.approx(-0.075, abs=0.001)
    assert max(wide) == pytest.approx(0.071, abs=0.002)
    between = [row_error(x) for x in np.linspace(1.25, 2.0, 50)]
    assert max(np.abs(between)) < 0.0505


def test_view_factor_never_exceeds_that_of_the_hull_nor_one():
    e = np.geomspace(1e-3, 1e3, 200)
    got = np.asarray(hull_view_factor(e, 1.0))
    assert np.all(got < np.minimum(e, 1.0))
    assert np.all(np.diff(got) > 0.0)


def test_crowding_passes_through_its_judged_points():
    # 0.5 touching, 0.8 at a gap of one diameter, 1 alone (thermal-power-mass note: 0.5 to 0.8)
    got = np.asarray(crowding(np.array([0.5, 1.0, 2.0, 50.0])))
    assert got == pytest.approx([0.5, 0.5, 0.8, 1.0], abs=1e-12)


BASE = {
    "tube_outer_radius": 0.006,
    "wall_ratio": 0.4,
    "tube_length": 0.4,
    "tube_count": np.array([5.0, 7.0]),
    "operating_stress": np.array([8e7, 1e8]),
    "gear_ratio": 1.2,
    "insulation_thickness": 0.001,
    "travel_low": -0.7,
    "travel_high": 1.8,
    "planform": record(Planform, fold_chord=1.0, fold_thickness=0.15),
    "vehicle": record(Vehicle, section_form=1.0, skin_thickness=0.002, clearance=0.003),
    "choices": record(Choices, set_present=np.ones(2), gear_lanes=2.0),
    "alloy": ALLOY,
    "bundle_assumptions": A,
}
_RUN = jax.jit(lambda given: bundle(**given))


def run(topology=0.0, **changes):
    given = BASE | changes
    given["choices"] = given["choices"]._replace(topology=topology)
    as_float = jax.tree.map(lambda v: jnp.asarray(v, dtype=float), given)
    return {name: np.asarray(value) for name, value in _RUN(as_float)._asdict().items()}


DRESSED = 0.014  # [m] tube and sleeve
OVERALL = 0.4 + 2 * 0.012 * (A.grip_length_ratio + A.cold_end_length_ratio + A.spline_length_ratio)


def test_topologies_are_numbered_as_the_study_names_them():
    assert TOPOLOGIES == ("knuckle", "nested", "geared", "plated")
    lengths = [float(run(float(kind))["bundle_length"]) for kind in range(4)]
    assert lengths[0] == pytest.approx(12 * OVERALL, rel=1e-12)
    assert lengths[1] == lengths[3] == pytest.approx(OVERALL, rel=1e-12)
    assert lengths[2] not in lengths[:2]


def test_knuckle_is_a_row_of_tubes_on_the_hinge_line():
    got = run(0.0)
    side = float(A.knuckle_diameter_ratio) * DRESSED
    assert [float(got["bundle_height"]), float(got["bundle_width"])] == pytest.approx([side] * 2)
    assert float(got["radiation_exposure"]) == float(got["convection_exposure"]) == 1.0
    assert float(got["tube_slenderness"]) == pytest.approx(0.4 / 0.012, rel=1e-12)
    gears = ("gear_volume", "gear_face_width", "gear_face_ratio", "gear_tooth_stress")
    assert {float(got[name]) for name in gears} == {0.0}


def test_nested_tubes_lie_around_the_mean_one_and_leave_a_bore():
    got = run(1.0, tube_count=np.array([2.0, 1.0]))
    step = 0.4 * 0.006 + A.nested_gap
    outermost = 0.006 + step
    height = 2 * A.nested_diameter_ratio * (outermost + 0.001)
    assert float(got["bundle_height"]) == pytest.approx(height, rel=1e-12)
    innermost = 0.006 - step - 0.4 * 0.006
    assert float(got["nested_bore_radius"]) == pytest.approx(innermost, rel=1e-12)
    assert float(got["radiation_exposure"]) == pytest.approx(1 / 3, rel=1e-9)


TORQUE = 1e8 * 2 / 3 * np.pi * (0.006**3 - 0.0036**3)  # [N*m] the stronger set


def pinion_by_hand():
    """Surface factor and diameter of the pinions, sized to 95 % of what teeth and face bear.

    Lewis (Shigley, from memory): K' = sigma Y/z (1 + 1/m); Willis 1963 (gearbox notes):
    d^2 F = 2 T/K (1 + 1/m), the face F being a given share of d at most.
    """
    mesh = 1 + 1 / 1.2
    teeth = 0.95 * A.gear_bending_allowable * A.gear_lewis_factor / A.gear_teeth * mesh
    surface = min(A.gear_surface_factor, teeth)
    slim = np.cbrt(2 * TORQUE / surface * mesh / (0.95 * A.gear_face_ratio_max))
    return surface, max(0.012 * A.pinion_ratio, slim)


def test_pinions_are_as_wide_as_teeth_and_face_ask():
    got = run(2.0)
    surface, pinion = pinion_by_hand()
    assert float(got["gear_pinion_diameter"]) == pytest.approx(pinion, rel=1e-9)
    face = 2 * TORQUE / surface * (1 + 1 / 1.2) / pinion**2
    assert float(got["gear_face_ratio"]) == pytest.approx(face / pinion, rel=1e-9)
    stress = 2 * TORQUE * A.gear_teeth / (pinion**2 * face * A.gear_lewis_factor)
    assert float(got["gear_tooth_stress"]) == pytest.approx(stress, rel=1e-9)
    assert stress <= A.gear_bending_allowable
    assert face <= A.gear_face_ratio_max * pinion
    for other in (0.0, 1.0, 3.0):
        assert float(run(other)["gear_pinion_diameter"]) == 0.0


def test_geared_bundle_is_wheel_pinions_and_lanes():
    got = run(2.0)
    surface, pinion = pinion_by_hand()
    ring = 2.2 * pinion + max(pinion, DRESSED)
    assert float(got["bundle_height"]) == pytest.approx(ring, rel=1e-12)
    pitch = max(pinion * A.pinion_spacing, DRESSED * (1 + A.tube_gap_ratio))
    assert float(got["bundle_width"]) == pytest.approx(ring + 2 * pitch, rel=1e-12)
    # pi (1 + n)/spacing pinions find room around a wheel (docstring); 12 tubes on two lanes
    wheels = 12 / (np.pi * 2.2 / A.pinion_spacing)
    assert float(lanes_required(12.0, ratio=1.2, spacing=A.pinion_spacing)) == (
        pytest.approx(wheels, rel=1e-12)
    )
    modules = max(wheels / 2, 1.0)
    assert float(got["modules"]) == pytest.approx(modules, rel=0.0126)  # blended over 0.05
    assert float(got["modules"]) >= modules
    assert float(got["lanes"]) == pytest.approx(2 * float(got["modules"]), rel=1e-12)
    face = face_width(TORQUE, pinion_diameter=pinion, ratio=1.2, surface_factor=surface)
    assert float(got["gear_face_width"]) == pytest.approx(float(face), rel=1e-3)
    length = float(got["modules"]) * (OVERALL + 2 * float(got["gear_face_width"]))
    assert float(got["bundle_length"]) == pytest.approx(length, rel=1e-12)
    factor = collector_factor(1.2, 12.0, float(got["lanes"])) + 2 * 12.0 * 0.5
    volume = rotor_volume(TORQUE, surface_factor=surface, volume_factor=factor)
    assert float(got["gear_volume"]) == pytest.approx(float(volume), rel=1e-3)


def test_more_tubes_than_the_wheels_take_follow_along_the_chord():
    short, long = (run(2.0, tube_count=np.full(2, count)) for count in (4.0, 40.0))
    assert float(short["modules"]) == pytest.approx(1.0, abs=0.0126)
    assert float(long["modules"]) > 2.0
    assert float(long["bundle_length"]) > 2.0 * float(short["bundle_length"])
    assert float(long["bundle_height"]) == float(short["bundle_height"])


def test_plated_tubes_are_bent_by_the_turn_of_the_plates():
    got = run(3.0)
    # N circles of the pitch diameter fill 0.75 of the pack (docstring of the module)
    pitch = DRESSED * (1 + A.tube_gap_ratio)
    radius = pitch / 2 * np.sqrt(12 / 0.75)
    motion = plate_motion(
        circle_radius=radius, relative_angle=2.5, outer_diameter=0.012, tube_length=0.4
    )
    strain = float(motion.bending_strain + motion.axial_strain)
    allowed = 0.03 * A.plated_strain_fraction
    assert float(got["parasitic_strain_ratio"]) == pytest.approx(strain / allowed, rel=1e-9)


def seen(perimeter, tubes):
    """Exposure by hand: hull over the tubes' perimeters, blended with one (docstring)."""
    ratio = perimeter / (tubes * np.pi * DRESSED)
    return ratio / (1.0 + ratio**3) ** (1.0 / 3.0)


def test_geared_tubes_see_what_the_hull_of_ring_and_lanes_lets_out():
    got = run(2.0)
    _, pinion = pinion_by_hand()
    ring = 2.2 * pinion + max(pinion, DRESSED)
    spread = ring + 2 * max(pinion * A.pinion_spacing, DRESSED * (1 + A.tube_gap_ratio))
    # box of ring by spread, its empty corners taken off: nine tenths of the four sides
    box = float(got["modules"]) * 2 * (ring + spread) * 0.9
    assert float(got["radiation_exposure"]) == pytest.approx(seen(box, 12), rel=1e-9)
    # the air reaches packed tubes less: 1 - 0.5 x 2.5^-gap
    # their gap is what the pinions leave, if these are wider
    gap = max(pinion * A.pinion_spacing / DRESSED - 1, float(A.tube_gap_ratio))
    crowded = 1 - 0.5 * 2.5**-gap
    assert float(got["convection_exposure"]) == pytest.approx(crowded, rel=1e-9)


def test_plated_tubes_see_what_a_round_hull_lets_out():
    got = run(3.0)
    # 12 circles that fill 0.75 of the pack have it 4 pitches wide; half a pitch lies around them,
    # whatever pinions would ask
    pitch = DRESSED * (1 + A.tube_gap_ratio)
    width = 4 * pitch + pitch
    assert float(got["bundle_height"]) == pytest.approx(width, rel=1e-12)
    assert float(got["radiation_exposure"]) == pytest.approx(seen(np.pi * width, 12), rel=1e-9)


def test_efficiency_counts_sharing_joint_and_every_mesh():
    def value(topology, lanes):
        choices = record(Choices, topology=topology, gear_lanes=lanes)
        got = transmission(choices=choices, bundle_assumptions=A)
        return float(got.transmission_efficiency)

    plain = A.sharing_efficiency * A.joint_efficiency
    assert [value(kind, 3.0) for kind in (0.0, 1.0, 3.0)] == pytest.approx([plain] * 3, rel=1e-12)
    # lane k of n meshes through k - 1 idlers: (n - 1)/2 more meshes in the mean
    assert value(2.0, 1.0) == pytest.approx(plain * A.mesh_efficiency, rel=1e-12)
    assert value(2.0, 3.0) == pytest.approx(plain * A.mesh_efficiency**2, rel=1e-12)


@pytest.mark.parametrize(("topology", "meshes"), [(0.0, 0), (1.0, 0), (2.0, 2), (3.0, 0)])
def test_sharing_divides_the_drive_and_not_the_drag(topology, meshes):
    # hand: dragged tubes resist with the sum of their torques; joint and meshes rub both ways
    choices = record(Choices, topology=topology, gear_lanes=3.0)
    got = transmission(choices=choices, bundle_assumptions=A)
    friction = A.joint_efficiency * A.mesh_efficiency**meshes
    assert float(got.drag_efficiency) == pytest.approx(friction, rel=1e-12)
    shared = float(got.drag_efficiency) * A.sharing_efficiency
    assert float(got.transmission_efficiency) == pytest.approx(shared, rel=1e-12)
    assert A.sharing_efficiency < 1.0


def test_buckling_is_that_of_the_tangent_modulus_with_the_knockdown():
    got = run(0.0, tube_outer_radius=0.010, wall_ratio=0.05, tube_length=0.5)
    # C30 (r 10, t 0.5, L 500 mm, E 30 GPa, nu 0.33: 86.20 MPa) brought to E and nu of the card
    plate = (1 - 0.3**2) / (1 - 0.33**2)
    modulus = 31.2e9 * A.tangent_modulus_ratio
    by_hand = 86.20e6 * modulus / 30e9 / plate**0.75 * A.buckling_knockdown
    assert float(got["buckling_stress"]) == pytest.approx(by_hand, rel=1e-4)


def test_height_available_is_that_of_the_section_over_the_bundle():
    got = run(3.0)
    by_hand = 0.15 * (1 - OVERALL**2) - 0.010  # biconvex on a chord of 1 m
    assert float(got["height_available"]) == pytest.approx(by_hand, rel=1e-12)


@pytest.mark.parametrize("topology", [0.0, 1.0, 2.0, 3.0])
def test_bundle_twice_as_large_is_twice_as_large(topology):
    free = A._replace(nested_gap=2 * A.nested_gap)
    one = run(topology)
    other = run(
        topology,
        tube_outer_radius=0.012,
        tube_length=0.8,
        insulation_thickness=0.002,
        bundle_assumptions=free,
    )
    powers = {"bundle_length": 1, "bundle_height": 1, "bundle_width": 1, "gear_volume": 3,
              "nested_bore_radius": 1, "radiation_exposure": 0, "convection_exposure": 0,
              "modules": 0, "parasitic_strain_ratio": 0, "buckling_stress": 0}  # fmt: skip
    for name, power in powers.items():
        assert float(other[name]) == pytest.approx(2**power * float(one[name]), rel=1e-7), name


def test_every_input_of_the_bundle_is_given_here():
    assert inspect.signature(bundle).parameters.keys() == BASE.keys()
