"""Constant-pressure panels against exact supersonic solutions."""

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from scipy.special import ellipe

from mdo.disciplines.loads.constant_pressure_panels import panel_loads, sector_velocity
from mdo.disciplines.loads.lifting_surfaces import SUPERSONIC_MESH, supersonic_loads
from mdo.disciplines.loads.wing_mesh import WASHES, MeshSize, folded_trace, normal_washes, wing_mesh
from mdo.model.kept import optimiser_options

from . import wings
from .wings import trapezoid

INCIDENCE, PANEL, TWIST, RATE, SIDESLIP, ROLL = range(len(WASHES))
BETA_ONE = np.sqrt(2.0)
solve = jax.jit(supersonic_loads, static_argnames="size", compiler_options=optimiser_options())
of_panels = jax.jit(panel_loads, static_argnames="rows", compiler_options=optimiser_options())


def loads(given, *, mach=BETA_ONE, angle=0.0, size=SUPERSONIC_MESH):
    return jax.tree.map(np.asarray, solve(given, mach, np.radians(angle), size=size))


def elements(given, *, size, inset, mach=BETA_ONE, angle=0.0):
    mesh = wing_mesh(given.planform, size, tip_inset=inset)
    trace = folded_trace(mesh, np.radians(angle))
    washes = normal_washes(given.planform, mesh, trace, hinge_height=0.0)
    return trace, of_panels(mesh, trace, washes, rows=size.chordwise, mach=mach)


def slope(given, size):
    """Without inset, as the reference asks where only the lift is wanted."""
    trace, at = elements(given, size=size, inset=0.0)
    lift = 2 * np.sum(at.force[INCIDENCE] * np.asarray(trace.normal_z))
    return lift / given.planform.reference_area


def test_strip_without_ends():
    # Ackeret 1925: 4/beta on every section away from the tips
    given = trapezoid(40.0, 0.5)
    trace, at = elements(given, size=MeshSize(2, 10, 10), inset=0.0)
    load = np.sum(np.asarray(at.force[INCIDENCE]), axis=0) / np.asarray(trace.width)
    np.testing.assert_allclose(load[:-1], 4.0, rtol=1e-12)


@pytest.mark.parametrize(("aspect", "expected"), [(2.0, 3.0), (4.0, 3.5), (1.0, 2.0)])
def test_rectangles(aspect, expected):
    # (4/beta)(1 - 1/(2 A beta)): Anderson, Aircraft Performance and Design, 1999, eq. 2.18c
    given = trapezoid(aspect, 0.4)
    assert slope(given, MeshSize(16, 14, 10)) == pytest.approx(expected, rel=0.012)


@pytest.mark.parametrize(("tangent", "limit"), [(0.5, 0.03), (0.25, 0.04), (1.5, 0.02)])
def test_deltas(tangent, limit):
    # Stewart 1946 (from memory): 2 pi tan(eps)/E, 4/beta from m = 1; 2 %, and 3 to 5 % for slower
    # edges on coarse meshes (reference hinge-moment, case 28); E of a numerical library
    given = wings.delta(4 * tangent)
    exact = 2 * np.pi * tangent / ellipe(1 - tangent**2) if tangent < 1 else 4.0
    assert slope(given, MeshSize(20, 18, 12)) == pytest.approx(exact, rel=limit)


def test_sonic_edge_is_no_jump():
    # reference hinge-moment, section 2.3
    at = [slope(wings.delta(4 * m), MeshSize(8, 12, 8)) for m in (0.999, 1.0, 1.001)]
    assert max(at) - min(at) < 0.004
    assert at[1] == pytest.approx(4.0, rel=0.03)


def test_hinge_moment_of_a_delta_falls_toward_the_elliptic_one():
    # reference hinge-moment, case 29: elliptic load, 0.0150605 of root chord 1; 4 % above, falling
    # with finer strips
    given = wings.delta(2.0)
    at = [loads(given, size=MeshSize(10, *n)).moment[INCIDENCE] for n in ((18, 12), (30, 20))]
    np.testing.assert_allclose(at, 0.0150605, rtol=0.04)
    assert abs(at[1] / 0.0150605 - 1) < 0.6 * abs(at[0] / 0.0150605 - 1)


CONICAL = wings.wing([0.0, 4.2], [0.0, 0.0], [1.0, 1.0], 2.0)


@pytest.mark.parametrize(
    ("angle", "moment", "force"),
    [(0.0, 7.7300, 7.800), (30.0, 6.7355, 6.8982), (90.0, 0.3704, 1.1547)],
)
def test_folded_rectangle_is_that_of_the_conical_solution(angle, moment, force):
    # reference hinge-moment, case 30, exact: 0.5 % of the flat value; on the coarser mesh of the
    # level 0.7 %
    for size, limit in ((MeshSize(24, 20, 24), 0.005), (SUPERSONIC_MESH, 0.007)):
        at = loads(CONICAL, angle=angle, size=size)
        assert at.moment[INCIDENCE] == pytest.approx(moment, abs=limit * 7.73)
        assert at.force[INCIDENCE] == pytest.approx(force, abs=limit * 7.8)


def test_pressure_at_the_fold_is_two_thirds_at_a_right_angle():
    # reference hinge-moment, case 31, exact; mean of both sides and of the rear half of the chord,
    # along which the panels swing about it
    trace, at = elements(CONICAL, size=MeshSize(24, 20, 22), inset=0.18, angle=90.0)
    pressure = np.asarray(at.force[INCIDENCE]) / (np.asarray(trace.width) / 24)
    assert np.mean(pressure[12:, 19:21]) / 4.0 == pytest.approx(2 / 3, rel=0.005)


def test_worked_aircraft_of_the_reference():
    # reference hinge-moment, section 5 and 1.3: Mach 1.4, 1 g, 279 N*m flat and 267 N*m at 70 deg
    # by panels of another mesh; K_M/K_L = 0.96
    half = np.sqrt(10.0) / 2
    root = 4.0 / half / 1.25
    edge = (np.tan(np.radians(30.0)) + 0.25 * root * 0.75 / half) * half
    given = wings.wing([0.0, half], [0.0, edge], [root, 0.25 * root], 0.65 * half)
    flat, folded = (loads(given, mach=1.4, angle=angle) for angle in (0.0, 70.0))
    arms = [at.moment[INCIDENCE] / at.lift[INCIDENCE] * 9806.65 for at in (flat, folded)]
    assert arms[0] == pytest.approx(279.0, rel=0.04)
    assert arms[1] == pytest.approx(267.0, rel=0.04)
    assert arms[1] / arms[0] == pytest.approx(0.96, abs=0.01)


@pytest.mark.parametrize("tangent", [0.0, 0.5, -0.4, 1.6, 2.4, -2.0])
def test_field_of_a_sector_is_a_potential_flow(tangent):
    # reference hinge-moment, case 33: beta^2 u_x = v_y + w_z, no rotation; u = theta/pi, random
    # points inside the Mach cone
    beta = 1.3

    def flow(point):
        x, y, z = point
        depth = jnp.sqrt(x**2 - beta**2 * (y**2 + z**2))
        u = jnp.arctan2(z * depth, tangent * (y**2 + z**2) - x * y) / jnp.pi
        return jnp.stack([u, *sector_velocity(x, y, z, slope=jnp.asarray(tangent), beta=beta)])

    rng = np.random.default_rng(3)
    x = rng.uniform(0.5, 2.0, 200)
    radius, turn = x / beta * rng.uniform(0.05, 0.95, 200), rng.uniform(0.05, np.pi - 0.05, 200)
    turn *= rng.choice([-1.0, 1.0], 200)
    points = np.stack([x, radius * np.cos(turn), radius * np.sin(turn)], axis=1)
    slopes = np.asarray(jax.jit(jax.vmap(jax.jacfwd(flow)))(points))  # of u, v, w in x, y, z
    scale = 1.0 + np.abs(slopes).max(axis=(1, 2))
    rest = [
        beta**2 * slopes[:, 0, 0] - slopes[:, 1, 1] - slopes[:, 2, 2],
        slopes[:, 0, 1] - slopes[:, 1, 0],
        slopes[:, 0, 2] - slopes[:, 2, 0],
        slopes[:, 1, 2] - slopes[:, 2, 1],
    ]
    np.testing.assert_allclose(np.array(rest) / scale, 0.0, atol=1e-10)


@pytest.mark.parametrize("angle", [-60.0, 0.0, 50.0, 90.0])
def test_moment_is_that_of_force_vectors_about_the_axis(angle):
    given = trapezoid(3.0, 0.4, 0.6, 30.0)
    trace, at = elements(given, size=SUPERSONIC_MESH, inset=0.18, angle=angle)
    arm, turn = np.asarray(at.arm), np.radians(angle)
    place = np.stack([np.cos(turn) * arm, np.sin(turn) * arm])  # y, z from the axis, on the panel
    force = np.sum(np.asarray(at.force), axis=1)[:, None] * np.stack(
        [trace.normal_y, trace.normal_z]
    )
    turning = (place[0] * force[:, 1] - place[1] * force[:, 0]) * np.asarray(trace.outer)
    found = loads(given, angle=angle).moment
    np.testing.assert_allclose(turning.sum(axis=1), found, atol=1e-12 * np.abs(turning).sum())


@pytest.mark.parametrize("angle", [0.0, 40.0, 80.0])
def test_reverse_flow(angle):
    # Munk 1950, Flax 1952 (from memory)
    given = trapezoid(4.0, 0.35, 0.6, 25.0)
    back = wings.reversed_wing(given)
    there, home = (
        loads(one, mach=1.8, angle=angle, size=MeshSize(16, 24, 16)) for one in (given, back)
    )
    assert there.lift[INCIDENCE] == pytest.approx(home.lift[INCIDENCE], rel=3e-3)
    flat = 2 * loads(given, mach=1.8).moment[INCIDENCE]  # little is left of it at 80 deg
    assert 2 * there.moment[INCIDENCE] == pytest.approx(-home.lift[RATE], abs=8e-3 * flat)


@pytest.mark.parametrize("mach", [1.4, 2.0])
@pytest.mark.parametrize("angle", [-35.0, 0.0, 60.0])
def test_mesh_doubled_moves_arm_and_panel_moment_little(mach, angle):
    # limit: 2 % each
    for given in (trapezoid(6.0, 0.3, 0.7), trapezoid(2.5, 0.35, 0.25, 30.0)):
        coarse, fine = (
            loads(given, mach=mach, angle=angle, size=size)
            for size in (SUPERSONIC_MESH, MeshSize(16, 24, 16))
        )
        arms = [at.moment[INCIDENCE] / at.lift[INCIDENCE] for at in (coarse, fine)]
        assert arms[0] == pytest.approx(arms[1], rel=0.02)
        assert coarse.moment[PANEL] == pytest.approx(fine.moment[PANEL], rel=0.02)


@pytest.mark.slow
def test_gradients_match_central_differences():
    # in chord, mach and angle, none of which moves a control point across a Mach wave here
    given = trapezoid(3.0, 0.4, 0.5, 20.0, twist=-0.05, hinge_height=0.1)
    flat = given.planform

    def moments(v):
        changed = flat._replace(chord=flat.chord * v[0], twist=flat.twist * v[1])
        return supersonic_loads(given._replace(planform=changed), v[2], v[3]).moment

    run, at = jax.jit(moments), np.array([1.0, 1.0, 1.62, 0.7])
    exact = np.asarray(jax.jit(jax.jacfwd(moments))(at))
    for place in range(4):
        step = 1e-5 * np.eye(4)[place]
        near, wide = ((run(at + n * step) - run(at - n * step)) / (2e-5 * n) for n in (1, 2))
        np.testing.assert_allclose(
            exact[:, place], (4 * near - wide) / 3, rtol=1e-6, atol=1e-6 * np.abs(exact).max()
        )
