"""Level `lattice`: blend over Mach numbers, points solved once, loads of a study, bad geometry."""

from functools import partial
from pathlib import Path

import jax
import jax.numpy as jnp
import numpy as np
import pytest

from mdo.disciplines.levels import Levels, level_functions
from mdo.disciplines.loads import lattice
from mdo.disciplines.loads.flight_points import solved_once
from mdo.disciplines.loads.lattice import lattice_aerodynamics, lattice_loads_of_rows
from mdo.disciplines.loads.lifting_surfaces import blended_loads, subsonic_loads, supersonic_loads
from mdo.disciplines.loads.strip import strip_aerodynamics, strip_loads
from mdo.disciplines.loads.supersonic_slope import transonic_end
from mdo.model.kept import cheap_options
from mdo.study import load_study
from mdo.study.assemble import assemble

from . import wings

MEDIUM = Path(__file__).parents[3] / "studies" / "deck_medium.toml"
compiled = partial(jax.jit, compiler_options=cheap_options())
RECORDS = ("legs", "statics", "planform", "vehicle", "aero", "fold_angle")


# ---- points solved once ---------------------------------------------------------------------


def test_each_point_of_flight_is_solved_once():
    calls = []

    def work(wing, mach, angle):
        jax.debug.callback(lambda m, a: calls.append((float(m), float(a))), mach, angle)
        return wing * mach + angle

    mach = jnp.array([0.5, 0.3, 0.5, 0.5, 0.3])
    angle = jnp.array([0.1, 0.1, 0.1, 0.2, 0.1])
    result = jax.jit(solved_once(work))(2.0, mach, angle)
    jax.effects_barrier()
    assert sorted(calls) == [(0.3, 0.1), (0.5, 0.1), (0.5, 0.2)]
    np.testing.assert_allclose(result, 2.0 * mach + angle, rtol=1e-15)


def test_members_of_a_batch_that_are_alike_are_solved_once():
    calls = []

    def work(wing, mach, angle):
        jax.debug.callback(lambda w: calls.append(float(w)), wing)
        return wing * mach + angle

    many = jax.jit(jax.vmap(solved_once(work), in_axes=(0, None, None)))
    result = many(jnp.array([2.0, 2.0, 3.0, 3.0]), jnp.full(3, 0.5), jnp.zeros(3))
    jax.effects_barrier()
    assert calls == [2.0, 3.0]
    np.testing.assert_allclose(result[:, 0], [1.0, 1.0, 1.5, 1.5], rtol=1e-15)


def test_points_that_share_a_solution_keep_their_own_slopes():
    points = solved_once(lambda wing, mach, angle: wing**2 * jnp.sin(mach + 2.0 * angle))
    mach, angle = jnp.array([0.5, 0.5, 0.7]), jnp.array([0.1, 0.1, 0.1])
    turned = jnp.array([1.0, 0.0, 2.0]), jnp.array([0.0, 3.0, 0.0])
    value, slope = jax.jit(lambda: jax.jvp(points, (2.0, mach, angle), (0.5, *turned)))()
    phase = mach + 2.0 * angle
    np.testing.assert_allclose(value, 4.0 * np.sin(phase), rtol=1e-14)
    own = 2.0 * np.sin(phase) + 4.0 * np.cos(phase) * (turned[0] + 2.0 * turned[1])
    np.testing.assert_allclose(slope, own, rtol=1e-13)


# ---- over the Mach number -------------------------------------------------------------------


@pytest.fixture(scope="module")
def over_mach():
    given = wings.trapezoid(4.0, 0.35, 0.5, 20.0)
    blended = compiled(lambda wing, mach: blended_loads(wing, mach, jnp.full_like(mach, 0.6)))

    def run(mach, wing=given):
        return jax.tree.map(np.asarray, blended(wing, jnp.asarray(mach)))

    return given, run


def test_each_method_has_its_mach_numbers(over_mach):
    given, run = over_mach
    at = run([0.5, 0.85, 1.6, 2.0, 0.0])
    for place, mach in ((0, 0.5), (1, 0.85), (4, 0.0)):
        np.testing.assert_allclose(
            at.moment[place], subsonic_loads(given, mach, 0.6).moment, rtol=1e-11
        )
    for place, mach in ((2, 1.6), (3, 2.0)):
        np.testing.assert_allclose(
            at.moment[place], supersonic_loads(given, mach, 0.6).moment, rtol=1e-11
        )


def test_loads_and_their_slopes_run_through_the_transonic_ends(over_mach):
    # reference hinge-moment, section 1.4: once continuously differentiable in the Mach number
    given, run = over_mach
    for end in (0.85, float(transonic_end(given.planform.aspect_ratio)), 1.0):
        step = 1e-5
        at = run(end + step * np.array([-2.0, -1.0, 0.0, 1.0, 2.0]))
        for loads in (at.moment, at.lift[:, :4]):
            scale = np.abs(loads[2]).max()
            np.testing.assert_allclose(loads[1], loads[3], atol=3e-4 * scale)
            left, right = (loads[2] - loads[0]) / 2, (loads[4] - loads[2]) / 2
            np.testing.assert_allclose(left / step, right / step, atol=2e-2 * scale)


def test_sonic_lift_is_slender_or_capped(over_mach):
    # reference hinge-moment, section 1.4: min(pi A/2, 1.15 x the larger end); folded by 0.6 rad the
    # slender wing keeps 0.932 of it (section 2.2, between fractions 0.3 and 0.4)
    _, run = over_mach
    assert run([1.0] * 5).lift[0, 0] / 4.0 == pytest.approx(2 * np.pi * 0.932, rel=0.015)
    long = wings.trapezoid(10.0, 0.35, 0.5, 20.0)
    end = float(transonic_end(10.0))
    low, sonic, high = run([0.85, 1.0, end, 0.85, 0.85], long).lift[:3, 0]
    assert sonic == pytest.approx(1.15 * max(low, high), rel=1e-9)


def test_transonic_legs_are_flagged_with_a_wide_band():
    study = assemble(load_study(MEDIUM)).parameters
    mach = np.array([0.6, 0.95, 1.5])
    at = compiled(lattice_aerodynamics)(
        study["planform"], study["vehicle"], study["aero"],
        mach=mach, airborne=np.ones(3), fold_angle=np.zeros((3, 1)),
    )  # fmt: skip
    np.testing.assert_allclose(at.load_uncertainty, [0.10, 0.25, 0.15])
    assert at.transonic.tolist() == [0.0, 1.0, 0.0]
    assert at.chordwise_centre[0] == pytest.approx(
        0.24, abs=0.03
    )  # quarter chord, thin wing theory
    assert at.chordwise_centre[2] == pytest.approx(0.47, abs=0.03)  # half chord less the tip cone


# ---- loads of a study -----------------------------------------------------------------------


@pytest.fixture(scope="module")
def medium():
    return assemble(load_study(MEDIUM))


def test_the_level_is_reached_by_its_name():
    assert level_functions(Levels(hinge_moment="lattice")).hinge_moment is lattice.LEVEL


@pytest.mark.slow
def test_moments_of_the_medium_vehicle_against_strip(medium):
    # throw-away lattice of its own, axis along the root chord, ideal sections: net moment at the
    # upper end 37.3, 131.4, 182.7, 197.7, 178.7, 122.7 N*m at 1,657.9 kg; lattice over strip 1.57,
    # 1.15, 1.17, 1.21 with the same axis; roll 1.43 to 1.57, damping .96 to .97, sideslip 1.01
    known = {name: medium.parameters[name] for name in RECORDS}
    leg = [each.label for each in medium.legs].index("flight_fold, fold")
    ideal = {**known, "vehicle": known["vehicle"]._replace(section_lift_efficiency=1.0)}
    loads = compiled(lambda all_: lattice_loads_of_rows(**all_))(ideal)
    assert np.degrees(known["fold_angle"][leg][::2]) == pytest.approx([50, 33, 16, -1, -18, -35])
    lift = 1.05 * 0.9 * 1657.855 * 9.80665
    net = (loads.lift_moment_arm[leg] * lift + loads.steady_moment_high[leg])[::2]
    expected = [37.3, 131.4, 182.7, 197.7, 178.7, 122.7]
    np.testing.assert_allclose(net, expected, atol=0.1)

    # strip has the panel's incidence about the same axis: e_panel - e_inner cos(phi)
    angle, wing = known["fold_angle"][leg], known["planform"]
    at = {"mach": known["legs"].mach[leg : leg + 1], "airborne": np.ones(1)}
    strip = strip_aerodynamics(
        wing, known["vehicle"], known["aero"], **at, fold_angle=angle[None]
    )  # fmt: skip
    plain = strip_loads(**known)
    low = (plain.lift_moment_arm * lift + plain.steady_moment_high)[leg]
    ratio = np.asarray(net / low[::2])[[0, 3, 4, 5]]
    np.testing.assert_allclose(ratio, [1.57, 1.15, 1.17, 1.21], atol=0.025)

    own = compiled(lattice_aerodynamics)(
        wing, ideal["vehicle"], known["aero"], **at, fold_angle=angle[None]
    )  # fmt: skip
    roll = np.asarray(own.roll_moment / strip.roll_moment)
    assert (roll.min(), roll.max()) == pytest.approx((1.43, 1.57), abs=0.015)
    damping = np.asarray(own.rate_moment / strip.rate_moment)
    assert (damping.min(), damping.max()) == pytest.approx((0.96, 0.97), abs=0.005)
    slip = np.asarray(own.sideslip_moment / strip.sideslip_moment)
    assert (slip.min(), slip.max()) == pytest.approx((1.005, 1.02), abs=0.005)


def test_gradients_of_the_loads_match_central_differences(medium):
    known = {name: medium.parameters[name] for name in RECORDS}
    known |= {
        "fold_angle": known["fold_angle"][5:8, ::5],
        "legs": jax.tree.map(lambda leaf: jnp.asarray(leaf)[5:8], known["legs"]),
        "statics": jax.tree.map(lambda leaf: jnp.asarray(leaf)[2:5], known["statics"]),
    }

    def loads(v):
        flat = known["planform"]
        all_ = lattice_loads_of_rows(
            **{
                **known,
                "planform": flat._replace(chord=flat.chord * v[0], twist=flat.twist * v[1]),
                "legs": known["legs"]._replace(mach=known["legs"].mach * v[2]),
                "fold_angle": known["fold_angle"].at[0].multiply(v[3]),
                "vehicle": known["vehicle"]._replace(section_lift_efficiency=v[4]),
            }
        )
        return jnp.concatenate([
            1e4 * all_.lift_moment_arm.ravel(), all_.steady_moment_high.ravel(),
            all_.damping_per_rate.ravel(), all_.static_moment_high, all_.static_moment_low,
        ])  # fmt: skip

    known["fold_angle"] = jnp.asarray(known["fold_angle"])
    run, at = compiled(loads), np.array([1.0, 1.0, 1.0, 1.0, 0.95])
    exact = compiled(lambda turned: jax.jvp(loads, (at,), (turned,))[1])
    for place in range(5):
        step = 1e-4 * np.eye(5)[place]
        near, wide = ((run(at + n * step) - run(at - n * step)) / (2e-4 * n) for n in (1, 2))
        along = np.asarray(exact(np.eye(5)[place]))
        np.testing.assert_allclose(along, (4 * near - wide) / 3, atol=1e-6 * np.abs(along).max())


# ---- geometry at its limits -----------------------------------------------------------------


@pytest.mark.parametrize(("method", "mach"), [(subsonic_loads, 0.5), (supersonic_loads, 1.5)])
@pytest.mark.parametrize("taper", [0.0, 1e-3])
def test_pointed_wings_have_loads_near_those_of_a_small_tip(method, mach, taper):
    # limit: a tip chord that vanishes changes no sum but by its own share
    solve = compiled(method)
    blunt, pointed = (solve(wings.trapezoid(3, 0.4, taper=t), mach, 0.7) for t in (0.02, taper))
    for a, b in zip(blunt, pointed, strict=True):
        assert np.all(np.isfinite(b))
        np.testing.assert_allclose(b, a, rtol=0.12, atol=0.02 * float(np.max(np.abs(a))))


@pytest.mark.parametrize("angle", [-110, 110])
def test_loads_at_the_largest_angle_follow_the_fold_law(angle):
    # reference hinge-moment, section 1.3: K = 1 - (1 - K90)(1 - cos phi), 0 to 110 deg, error
    # 0.015 of K_M; the gap to the inner wing is several strips there
    wing = wings.trapezoid(4, 0.3)
    solve = compiled(subsonic_loads)
    flat, right, largest = (
        float(solve(wing, 0.0, np.radians(a)).moment[0]) for a in (0, 90, angle)
    )
    law = 1.0 - (1.0 - right / flat) * (1.0 - np.cos(np.radians(angle)))
    assert largest / flat == pytest.approx(law, abs=0.015)
