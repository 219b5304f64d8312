"""Vortex lattice against published wings, closed forms and solutions of other kinds."""

import jax
import jax.numpy as jnp
import numpy as np
import pytest

from mdo.disciplines.loads.lift_slope import subsonic_lift_slope
from mdo.disciplines.loads.lifting_surfaces import SUBSONIC_MESH, subsonic_loads
from mdo.disciplines.loads.span_load import elliptic_span_load
from mdo.disciplines.loads.vortex_lattice import TIP_INSET, lattice_loads
from mdo.disciplines.loads.wing_mesh import (
    SYMMETRIC,
    WASHES,
    MeshSize,
    folded_trace,
    normal_washes,
    wing_mesh,
)
from mdo.model.kept import cheap_options

from . import wings
from .wings import trapezoid

INCIDENCE, PANEL, TWIST, RATE, SIDESLIP, ROLL = range(len(WASHES))
FINE = MeshSize(8, 24, 16)
solve = jax.jit(subsonic_loads, static_argnames="size", compiler_options=cheap_options())
of_lattice = jax.jit(lattice_loads, static_argnames="rows", compiler_options=cheap_options())


def loads(given, *, mach=0.0, angle=0.0, size=SUBSONIC_MESH):
    return jax.tree.map(np.asarray, solve(given, mach, np.radians(angle), size=size))


def elements(given, *, mach=0.0, angle=0.0, size=SUBSONIC_MESH, inset=TIP_INSET):
    mesh = wing_mesh(given.planform, size, tip_inset=inset)
    trace = folded_trace(mesh, np.radians(angle))
    washes = normal_washes(given.planform, mesh, trace, hinge_height=given.hinge_height)
    forces = of_lattice(
        mesh, trace, washes, rows=size.chordwise, mach=mach,
        section_lift_efficiency=given.section_lift_efficiency,
    )  # fmt: skip
    return mesh, trace, forces


def slope(given, **where):
    return float(loads(given, **where).lift[INCIDENCE]) / given.planform.reference_area


def folded_over_flat(given, angles, **where):
    """K of moment, normal force and total lift at the same incidence."""
    flat = loads(given, **where)
    folded = [loads(given, angle=angle, **where) for angle in angles]
    return np.array([
        [one[INCIDENCE] / two[INCIDENCE] for one, two in zip(at[:3], flat[:3], strict=True)]
        for at in folded
    ]).T  # fmt: skip


# ---- flat wings -----------------------------------------------------------------------------


def test_swept_wing_of_the_textbook():
    # Bertin and Smith, Aerodynamics for Engineers, example 7.2 (from memory; its comparison with
    # ARC R&M 2882): aspect ratio 5, 45 deg, four panels per side, one along the chord
    given = trapezoid(5.0, 0.5, 1.0, 45.0)
    _, trace, forces = elements(given, size=MeshSize(1, 2, 2), inset=0.0)
    circulation = forces.force[INCIDENCE, 0] / (2.0 * trace.width)
    assert 2.0 * np.sum(forces.force[INCIDENCE]) / 5.0 == pytest.approx(3.443, rel=1e-3)
    expected = [0.0273, 0.0287, 0.0286, 0.0250]
    np.testing.assert_allclose(circulation / (4 * np.pi * 5.0), expected, rtol=2e-3)


def test_wing_of_warren():
    # planform 12 of the comparisons of lifting-surface theories, Garner 1968, ARC R&M 3597 (from
    # memory): aspect ratio 2 sqrt 2, taper 1/3, leading edge 53.54 deg: slope 2.743
    half = np.sqrt(2.0)
    given = wings.wing([0.0, half], [0.0, half * np.tan(np.radians(53.54))], [1.5, 0.5], 0.6 * half)
    assert slope(given, size=MeshSize(6, 18, 12)) == pytest.approx(2.743, rel=5e-3)


def test_circular_wing():
    # Kinner 1937, exact 1.7903 (from memory)
    station = np.sin(np.linspace(0.0, np.pi / 2, 60))
    edge = np.sqrt(1.0 - station**2)
    given = wings.wing(station, -edge, 2 * edge, 0.6)
    assert slope(given, size=MeshSize(8, 18, 12)) == pytest.approx(1.7903, rel=5e-3)


def test_elliptic_wing_of_large_aspect_ratio_has_the_slope_of_the_lifting_line():
    # Prandtl: 2 pi/(1 + 2/A), 6.160 at 100 (textbook); straight quarter chord
    station = 50.0 * np.sin(np.linspace(0.0, np.pi / 2, 80))
    chord = 4.0 / np.pi * np.sqrt(np.maximum(1.0 - (station / 50.0) ** 2, 0.0))
    given = wings.wing(station, -0.25 * chord, chord, 30.0)
    assert slope(given, size=MeshSize(4, 40, 40)) == pytest.approx(6.160, rel=5e-3)


@pytest.mark.parametrize(
    ("size", "moment"),
    [((2, 6, 4), 0.709), ((4, 9, 6), 0.719), ((6, 12, 8), 0.722), ((8, 18, 12), 0.725)],
)
def test_hinge_moment_converges_as_the_table(size, moment):
    # reference hinge-moment, section 2.1: rectangle of aspect ratio 4, outer 40 %; limit 0.727
    given = trapezoid(4.0, 0.4)
    assert loads(given, size=MeshSize(*size)).moment[INCIDENCE] == pytest.approx(moment, abs=6e-4)


@pytest.mark.parametrize(
    ("aspect", "taper", "sweep", "fraction", "ratio"),
    [(4, 1.0, 0, 0.4, 1.00), (4, 0.4, 0, 0.4, 1.06), (6, 0.4, 0, 0.3, 1.03),
     (10, 0.5, 0, 0.25, 0.93), (2.5, 0.3, 30, 0.35, 1.02), (4, 0.4, 45, 0.3, 0.87)],
)  # fmt: skip
def test_closed_form_over_lattice_as_in_the_table(aspect, taper, sweep, fraction, ratio):
    # reference hinge-moment, section 1.2: elliptic share of the closed-form lift over a converged
    # lattice, printed to 1 %
    given = trapezoid(aspect, fraction, taper, sweep)
    half = aspect / 2
    tangent = np.tan(np.radians(sweep)) - (1 / aspect) * (1 - taper) / (1 + taper)
    closed = subsonic_lift_slope(
        mach=0.0, aspect_ratio=aspect, half_chord_sweep=np.arctan(tangent),
        section_lift_efficiency=1.0,
    ) * aspect * half * elliptic_span_load(fraction).moment  # fmt: skip
    assert closed / loads(given, size=FINE).moment[INCIDENCE] == pytest.approx(ratio, abs=0.012)


def test_slender_delta_near_mach_one():
    # Jones 1946, TR 835 (from memory): pi A/2 and elliptic span load
    given = wings.delta(1.0)
    at = loads(given, mach=0.999, size=MeshSize(20, 12, 8))  # converges along the chord
    area, half = given.planform.reference_area, given.planform.span / 2
    assert at.lift[INCIDENCE] / area == pytest.approx(np.pi / 2, rel=0.02)
    share = at.moment[INCIDENCE] / (at.lift[INCIDENCE] * half)
    assert share == pytest.approx(float(elliptic_span_load(0.4).moment), rel=0.02)


def test_section_efficiency_is_that_of_a_wing_without_ends():
    # definition: section slope 2 pi kappa, cos(sweep) of it for a sheared wing
    for sweep in (0.0, 30.0):
        full = trapezoid(2000.0, 0.5, 1.0, sweep)
        at = [
            elements(full._replace(section_lift_efficiency=kappa), size=MeshSize(2, 10, 10))
            for kappa in (1.0, 0.9)
        ]
        middle = [float(np.sum(forces.force[INCIDENCE, :, 5])) for _, _, forces in at]
        width = float(at[0][1].width[5])
        assert middle[0] / width == pytest.approx(2 * np.pi * np.cos(np.radians(sweep)), rel=3e-3)
        assert middle[1] / middle[0] == pytest.approx(0.9, rel=1e-3)


# ---- identities -----------------------------------------------------------------------------


def test_stretched_wing_in_incompressible_flow_is_the_wing_at_mach_0_7():
    # Goethert's rule: only x is stretched
    given = trapezoid(4.0, 0.4, 0.6, 30.0, twist=-0.05)
    stretch = 1.0 / np.sqrt(1.0 - 0.49)
    flat = given.planform
    long = given._replace(
        planform=flat._replace(leading_edge=stretch * flat.leading_edge, chord=stretch * flat.chord)
    )
    for one, two in zip(
        loads(given, mach=0.7, angle=50.0)[:3], loads(long, angle=50.0)[:3], strict=True
    ):
        np.testing.assert_allclose(one, two, rtol=1e-12, atol=1e-13)


@pytest.mark.parametrize("angle", [-60.0, 0.0, 50.0, 90.0, 105.0])
def test_moment_is_that_of_force_vectors_about_the_axis(angle):
    given = trapezoid(4.0, 0.4, 0.6, 30.0, twist=-0.05, hinge_height=0.1)
    mesh, trace, forces = elements(given, angle=angle)
    normal = np.stack([0.0 * trace.normal_y, trace.normal_y, trace.normal_z], axis=-1)
    vectors = np.asarray(forces.force)[..., None] * normal
    x = (np.asarray(mesh.leading_edge[:-1]) + np.asarray(forces.chord_fraction)[:, None])[..., None]
    place = np.concatenate(
        [x, np.broadcast_to(np.stack([trace.y, trace.z], axis=-1), (*x.shape[:2], 2))], axis=-1
    )
    axis = np.array([0.0, given.planform.fold_station, 0.0])
    turning = np.cross(place - axis, vectors)[..., 0] * trace.outer
    scale = np.abs(turning).sum(axis=(1, 2))
    np.testing.assert_allclose(
        turning.sum(axis=(1, 2)), loads(given, angle=angle).moment, atol=1e-12 * scale.max()
    )


def test_up_and_down_folds_are_alike():
    given = trapezoid(4.0, 0.4, 0.6, 30.0)
    up, down = loads(given, angle=50.0), loads(given, angle=-50.0)
    odd = np.array([1, 1, 1, 1, -1, 1])  # sideslip meets the other side of the panel
    np.testing.assert_allclose(up.moment, odd * down.moment, rtol=1e-12, atol=1e-13)
    np.testing.assert_allclose(up.lift[:SYMMETRIC], down.lift[:SYMMETRIC], rtol=1e-12, atol=1e-13)


@pytest.mark.parametrize("angle", [0.0, 40.0, 80.0])
def test_reverse_flow(angle):
    # Munk 1950, Flax 1952 (from memory): the load of one wash weighted with another is the load of
    # the other, in reverse flow, weighted with the first
    given = trapezoid(4.0, 0.35, 0.6, 25.0)
    back = wings.reversed_wing(given)
    size = MeshSize(6, 40, 24)
    there, home = (loads(one, angle=angle, size=size) for one in (given, back))
    # lift/2 weighs with the wash of incidence, force with that of the panel, moment with -rate
    assert there.lift[INCIDENCE] == pytest.approx(home.lift[INCIDENCE], rel=1e-3)
    assert 2 * there.force[INCIDENCE] == pytest.approx(home.lift[PANEL], rel=8e-3)
    assert 2 * there.moment[INCIDENCE] == pytest.approx(-home.lift[RATE], rel=8e-3)
    assert there.force[PANEL] == pytest.approx(home.force[PANEL], rel=5e-3)
    assert there.moment[PANEL] == pytest.approx(-home.force[RATE], rel=5e-3)


def test_reverse_flow_holds_for_the_other_parity():
    given = trapezoid(4.0, 0.35, 0.6, 25.0)
    back = wings.reversed_wing(given)
    there, home = (loads(one, angle=60.0, size=MeshSize(6, 40, 24)) for one in (given, back))
    # one flat panel: sideslip is sin(60) times the wash of the panel alone, with opposite wings
    assert there.force[SIDESLIP] == pytest.approx(home.force[SIDESLIP], rel=5e-3)


@pytest.mark.parametrize("mach", [0.0, 0.7])
@pytest.mark.parametrize("angle", [-35.0, 0.0, 50.0, 100.0])
def test_mesh_doubled_moves_arm_and_panel_moment_little(mach, angle):
    # limit: 2 % each
    for given in (trapezoid(6.0, 0.3, 0.7), trapezoid(2.5, 0.35, 0.25, 30.0)):
        coarse, fine = (
            loads(given, mach=mach, angle=angle, size=size) for size in (SUBSONIC_MESH, FINE)
        )
        for one, two in (
            (coarse.moment[INCIDENCE] / coarse.lift[INCIDENCE],
             fine.moment[INCIDENCE] / fine.lift[INCIDENCE]),
            (coarse.moment[PANEL], fine.moment[PANEL]),
        ):  # fmt: skip
            assert one == pytest.approx(float(two), rel=0.02)


def biot_savart(start, end, point):
    """Velocity of a straight vortex of unit circulation, the textbook's form."""
    r1, r2 = point - start, point - end
    cross = np.cross(r1, r2)
    bearing = r1 / np.linalg.norm(r1) - r2 / np.linalg.norm(r2)
    return cross / (cross @ cross) * ((end - start) @ bearing) / (4 * np.pi)


def test_both_wings_modelled_in_full_give_the_same_loads():
    # Biot and Savart (textbook) in vectors, both wings as they are, wake of 1e6 chords
    given = trapezoid(3.0, 0.4, 0.7, 20.0, hinge_height=0.15)
    size, angle = MeshSize(2, 3, 2), np.radians(50.0)
    mesh, trace, forces = elements(given, angle=50.0, size=size)
    y, z = np.asarray(trace.edge_y), np.asarray(trace.edge_z)
    corners, points, normals = [], [], []
    for side in (1.0, -1.0):
        for row in range(2):
            for strip in range(5):
                edges = [strip, strip + 1]
                at = [mesh.leading_edge[e] + (row + 0.25) / 2 * mesh.chord[e] for e in edges]
                ends = [np.array([x, side * y[e], z[e]]) for x, e in zip(at, edges, strict=True)]
                corners.append(ends if side > 0 else ends[::-1])
                x = np.mean(
                    [mesh.leading_edge[e] + (row + 0.75) / 2 * mesh.chord[e] for e in edges]
                )
                points.append(np.array([x, side * np.mean(y[edges]), np.mean(z[edges])]))
                beyond = strip >= 3
                normals.append([0.0, -side * np.sin(angle) * beyond,
                                np.cos(angle) if beyond else 1.0])  # fmt: skip
    far = np.array([1e6, 0.0, 0.0])
    normals = np.array(normals)
    matrix = np.array([
        [normal @ (biot_savart(a + far, a, p) + biot_savart(a, b, p) + biot_savart(b, b + far, p))
         for a, b in corners]
        for p, normal in zip(points, normals, strict=True)
    ])  # fmt: skip
    points = np.array(points)
    streams = {
        INCIDENCE: np.array([0.0, 0.0, 1.0]) + 0.0 * points,
        SIDESLIP: np.array([0.0, -1.0, 0.0]) + 0.0 * points,
        # a point of an aircraft that rolls right wing down sees the air come from below
        ROLL: np.stack([0.0 * points[:, 0], -(points[:, 2] + 0.15), points[:, 1]], axis=1),
    }
    for wash, stream in streams.items():
        circulation = np.linalg.solve(matrix, -np.sum(normals * stream, axis=1))
        expected = 2 * circulation[:10].reshape(2, 5) * np.asarray(trace.width)
        np.testing.assert_allclose(forces.force[wash], expected, rtol=1e-6)


# ---- folded wings ---------------------------------------------------------------------------


def test_slender_fold_factors():
    # exact cross-flow solution of the slender wing: reference hinge-moment, case 23 and section 1.3
    given = wings.delta(1.0)
    moment, force, lift = folded_over_flat(given, [60.0, 90.0], mach=0.999, size=FINE)
    np.testing.assert_allclose(moment, [0.7946, 0.5865], rtol=0.01)
    np.testing.assert_allclose(lift, [0.7762, 0.5990], rtol=0.01)
    assert force[1] == pytest.approx(0.624, rel=0.012)


@pytest.mark.parametrize(
    ("aspect", "fraction", "expected"),
    [(4, 0.4, [0.927, 0.841, 0.730, 0.601, 0.463]), (2, 0.3, [0.950, 0.891, 0.813, 0.723, 0.627]),
     (10, 0.3, [0.912, 0.808, 0.673, 0.516, 0.350])],
)  # fmt: skip
def test_fold_factors_of_rectangles(aspect, fraction, expected):
    # another lattice, reference hinge-moment, section 1.3
    moment, _, _ = folded_over_flat(trapezoid(aspect, fraction), [30, 45, 60, 75, 90])
    np.testing.assert_allclose(moment, expected, atol=0.004)


def test_arm_at_constant_lift():
    # reference hinge-moment, case 34
    moment, _, lift = folded_over_flat(trapezoid(4.0, 0.4), [60.0, 90.0])
    np.testing.assert_allclose(moment / lift, [0.943, 0.753], rtol=0.01)


def test_law_of_fold_factors_over_many_planforms():
    # reference hinge-moment, section 1.3 and case 25: K = 1 - (1 - K90)(1 - cos phi), largest error
    # of moment 0.015 and force 0.020
    angles = np.array([0.0, 30.0, 60.0, 90.0, 110.0])
    rng = np.random.default_rng(7)
    worst = np.zeros(2)
    many = jax.jit(jax.vmap(lambda one, phi: subsonic_loads(one, 0.0, phi), in_axes=(None, 0)))
    for _ in range(24):
        given = trapezoid(
            rng.uniform(1.0, 14.0), rng.uniform(0.15, 0.6), rng.uniform(0.25, 1.0),
            rng.uniform(0.0, 45.0),
        )  # fmt: skip
        at = many(given, np.radians(angles))
        for place, value in enumerate((at.moment, at.force)):
            ratio = np.asarray(value[:, INCIDENCE] / value[0, INCIDENCE])
            law = 1 - (1 - ratio[3]) * (1 - np.cos(np.radians(angles)))
            worst[place] = max(worst[place], np.abs(law - ratio).max())
    assert worst[0] < 0.015
    assert worst[1] < 0.020


@pytest.mark.parametrize("fraction", [0.3, 0.4])
def test_damping_has_the_slope_of_the_panel_alone(fraction):
    # reference hinge-moment, section 3.1: Helmbold's slope at the aspect ratio of one panel, 10 %
    given = trapezoid(4.0, fraction)
    flat = given.planform
    helmbold = subsonic_lift_slope(
        mach=0.0, aspect_ratio=flat.panel_aspect_ratio, half_chord_sweep=0.0,
        section_lift_efficiency=1.0,
    )  # fmt: skip
    damping = [-float(loads(given, angle=angle).moment[RATE]) for angle in (0.0, 45.0, 90.0)]
    assert damping[0] / flat.panel_damping_integral == pytest.approx(float(helmbold), rel=0.10)
    assert max(damping) / min(damping) < 1.07


@pytest.mark.parametrize("angle", [30.0, 60.0, 90.0])
def test_sideslip_force_is_that_of_a_panel_of_half_as_much_span_again(angle):
    # reference hinge-moment, section 6: lattice over closed form .85 to 1.01, 30 to 90 deg
    given = trapezoid(4.0, 0.35, 0.5, 20.0)
    flat = given.planform
    closed = subsonic_lift_slope(
        mach=0.0, aspect_ratio=1.5 * flat.panel_aspect_ratio, half_chord_sweep=0.0,
        section_lift_efficiency=1.0,
    ) * flat.panel_area * np.sin(np.radians(angle))  # fmt: skip
    assert 0.83 <= loads(given, angle=angle).force[SIDESLIP] / closed <= 1.03


def test_twist_of_the_whole_wing_alike_is_incidence_of_the_datum():
    # derived: alike on all sections it turns the panel by itself, the inner wing with the datum
    given = trapezoid(4.0, 0.4)
    alike = given._replace(
        planform=given.planform._replace(twist=0.02 + 0.0 * given.planform.chord)
    )
    at = loads(alike, angle=60.0)
    expected = 0.02 * (1.0 - np.cos(np.radians(60.0))) * at.moment[PANEL]
    assert at.moment[TWIST] == pytest.approx(float(expected), rel=1e-10)


def test_twist_of_the_panel_alone_does_not_follow_the_cosine():
    # reference hinge-moment, trap 11: fixed in the panel
    given = wings.wing([0.0, 1.2, 1.2 + 1e-9, 2.0], [0.0] * 4, [1.0] * 4, 1.2,
                       twist=[0.0, 0.0, 0.03, 0.03])  # fmt: skip
    for angle in (0.0, 60.0, 90.0):
        at = loads(given, angle=angle)
        assert at.moment[TWIST] == pytest.approx(0.03 * float(at.moment[PANEL]), rel=1e-6)


def test_gradients_match_central_differences():
    given = trapezoid(3.0, 0.4, 0.5, 20.0, twist=-0.05, hinge_height=0.1)
    flat = given.planform

    def moments(v):
        half, chord, edge, fold, mach, angle = v
        changed = flat._replace(
            station=flat.station * half, chord=flat.chord * chord,
            leading_edge=flat.leading_edge * edge, fold_station=flat.fold_station * fold,
            panel_span=flat.station[-1] * half - flat.fold_station * fold,
        )  # fmt: skip
        at = subsonic_loads(given._replace(planform=changed), mach, angle)
        return jnp.concatenate([at.moment, at.lift[:SYMMETRIC]])

    run = jax.jit(moments)
    for angle in (0.0, 0.7, np.pi / 2):
        at = np.array([1.0, 1.0, 1.0, 1.0, 0.6, angle])
        exact = jax.jit(jax.jacfwd(moments))(at)
        for place in range(6):
            step = 1e-4 * np.eye(6)[place]
            near, wide = ((run(at + s) - run(at - s)) / (2e-4 * n)
                          for n, s in ((1, step), (2, 2 * step)))  # fmt: skip
            central = (4 * near - wide) / 3
            scale = np.abs(exact).max(axis=1) + 1e-3
            np.testing.assert_allclose(exact[:, place] / scale, central / scale, atol=1e-6)


@pytest.mark.parametrize("angle", [np.pi / 2, np.pi, -2.0, 0.0])
def test_every_angle_gives_a_number(angle):
    at = loads(trapezoid(4.0, 0.55, 0.0), angle=np.degrees(angle))
    assert all(np.all(np.isfinite(leaf)) for leaf in at)
