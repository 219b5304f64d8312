"""Axes: what they are called, where they may go, and parameters equal to those of a whole study."""

from pathlib import Path

import jax
import numpy as np
import pytest

import mdo
from mdo.model.correction import Correction
from mdo.optimise.axes import ParametricProblem, axes_of
from mdo.optimise.axes.axis import ends_of
from mdo.optimise.levels.interpolation import Interpolation, Known
from mdo.optimise.problem import make_problem
from mdo.study import load_study
from mdo.study.reader import StudyError
from mdo.study.scaling_laws import scaled

STUDY = Path(mdo.__file__).parents[1] / "studies" / "deck_small.toml"
RANGES = {
    "fold_time": ("60 s", "120 s"),
    "bay_hot": ("40 degC", "60 degC"),
    "torque_margin": ("10 %", "50 %"),
    "requirements.envelope_height": ("20 mm", "60 mm"),
}


@pytest.fixture(scope="module")
def problem():
    """The small study with loads in closed form, which every point has of its own."""
    study = load_study(STUDY).with_values({"fidelity.optimise.hinge_moment": "strip"})
    return make_problem(study)


@pytest.fixture(scope="module")
def parametric(problem):
    return ParametricProblem(problem, axes_of(problem, RANGES, "axes"))


def test_ranges_are_in_si(parametric):
    axes = {axis.name: axis for axis in parametric.axes}
    assert (axes["fold_time"].low, axes["fold_time"].high) == (60.0, 120.0)
    assert axes["bay_hot"].low == pytest.approx(313.15)
    assert axes["torque_margin"].high == pytest.approx(0.5)
    assert axes["requirements.envelope_height"].unit == "m"


def test_parameters_are_those_of_the_study_at_each_point(parametric):
    points = np.array([*ends_of(parametric.axes), [77.0, 320.0, 0.31, 0.035]])
    assert parametric.effects is not None
    found = parametric.parameters(points)
    for number, point in enumerate(points):
        alone = parametric.at(point)
        np.testing.assert_allclose(found.theta[number], alone.theta, rtol=1e-12, atol=1e-15)
        assert (found.counts[number] == alone.rows.counts).all()
        for ours, own in zip(
            jax.tree.leaves(found.prelude), jax.tree.leaves(alone.prelude), strict=True
        ):
            np.testing.assert_allclose(ours[number], np.asarray(own), rtol=1e-9, atol=1e-9)


def test_envelope_left_open_counts_once_it_is_an_axis(problem, parametric):
    point = np.array([[90.0, 320.0, 0.25, 0.03]])
    names = [label.group for label in problem.rows.labels]
    row = names.index("envelope_height_row")
    assert parametric.parameters(point).counts[0, row]
    assert not problem.rows.counts[row]


def test_curved_axes_are_assembled_one_by_one(problem):
    """Altitude goes through the atmosphere in no plane; values must be exact all the same."""
    name = next(case.id for case in problem.study.cases if case.location == "air")
    axes = axes_of(problem, {f"case.{name}.altitude": ("0 m", "9000 m"),
                             "vehicle.mass": ("40 kg", "50 kg")}, "axes")  # fmt: skip
    parametric = ParametricProblem(problem, axes)
    point = np.array([4000.0, 47.0])
    np.testing.assert_allclose(
        parametric.theta(point[None, :])[0], parametric.at(point).theta, rtol=1e-12, atol=1e-15
    )


def test_pitch_of_the_hinge_axis_is_an_axis_by_name_and_by_path(problem):
    ends = ("-3 deg", "3 deg")
    for name in ("hinge_axis_pitch", "vehicle.hinge_axis_pitch"):
        (axis,) = axes_of(problem, {name: ends}, "axes")
        assert (axis.low, axis.high) == pytest.approx((-np.radians(3), np.radians(3)))
        parametric = ParametricProblem(problem, (axis,))
        pitch = np.radians(1.7)
        study = problem.study.with_values({"vehicle.hinge_axis_pitch": "1.7 deg"})
        own = make_problem(study)
        found = parametric.parameters(np.array([[pitch]]))
        np.testing.assert_allclose(found.theta[0], own.theta, rtol=1e-10, atol=1e-13)
        assert (found.counts[0] == own.rows.counts).all()


MOVED = {  # what moves the wing, the speed of flight and an angle
    "vehicle.fold_fraction": ("0.19", "0.22", "0.205"),
    "case.dash_fold.airspeed_equivalent": ("88 kt", "95 kt", "91 kt"),
    "case.flight_fold.fold_to": ("-22 deg", "-18 deg", "-19 deg"),
}


@pytest.mark.slow
@pytest.mark.parametrize("path", MOVED)
def test_what_moves_the_wing_the_speed_or_an_angle_solves_the_lattice_anew(path):
    problem = make_problem(load_study(STUDY))
    low, high, value = MOVED[path]
    unitless = " " not in low
    ends = (float(low), float(high)) if unitless else (low, high)
    parametric = ParametricProblem(problem, axes_of(problem, {path: ends}, "axes"))
    own = make_problem(problem.study.with_values({path: float(value) if unitless else value}))
    assert own.study.fidelity.optimise.hinge_moment == "lattice"
    point = np.array([[next(i.value for i in own.study.inputs if i.path == path)]])
    found = parametric.parameters(point).prelude
    moved = False
    for name, values in own.prelude.items():
        for ours, alone, before in zip(
            *map(jax.tree.leaves, (found[name], values, problem.prelude[name])), strict=True
        ):
            np.testing.assert_allclose(ours[0], np.asarray(alone), rtol=1e-9, atol=1e-9)
            far = np.abs(np.asarray(alone) - np.asarray(before)).max(initial=0.0)
            moved |= name.startswith("panel") and bool(far > 1e-3)
    assert moved


SIZES = {f"vehicle_size.{law}": (0.5, 2.0) for law in ("dynamic", "mach", "constant_loading")}


@pytest.mark.parametrize("name", SIZES)
def test_size_of_the_vehicle_is_the_scaled_study(problem, name):
    """Between the nodes of its curve too; a requirement beside it has the value that is given."""
    axes = axes_of(problem, {name: SIZES[name], "fold_time": ("60 s", "120 s")}, "axes")
    parametric = ParametricProblem(problem, axes)
    assert parametric.effects is not None
    points = np.array([[0.53, 90.0], [1.0, 75.0], [1.37, 110.0], [1.93, 60.0]])
    found = parametric.theta(points)
    law = name.split(".")[1]
    for theta, (size, time) in zip(found, points, strict=True):
        study = scaled(problem.study, law, float(size))
        own = make_problem(study.with_values({"requirements.fold_time": f"{time} s"}))
        np.testing.assert_allclose(theta, own.theta, rtol=1e-10, atol=1e-13)


def test_size_one_is_the_study(problem):
    axes = axes_of(problem, {"vehicle_size.dynamic": (0.4, 2.5)}, "axes")
    found = ParametricProblem(problem, axes).theta(np.array([[1.0]]))[0]
    np.testing.assert_allclose(found, problem.theta, rtol=1e-10, atol=1e-13)


def test_a_size_that_is_no_study_says_which(problem):
    axes = axes_of(problem, {"vehicle_size.dynamic": (0.25, 1.0)}, "axes")
    with pytest.raises(StudyError, match=r"vehicle.mass: out of range.*at vehicle_size.dynamic"):
        ParametricProblem(problem, axes).theta(np.array([[1.0]]))


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"foldtime": ("60 s", "90 s")}, "no number that can be turned .did you mean fold_time"),
        ({"fold_time": ("60 s", "60 s")}, "no range, got 60 s to 60 s"),
        ({"fold_time": (60, 90)}, "missing unit, got 60"),
        ({"fold_time": ("60 kg", "90 kg")}, "expected a quantity with a unit of s"),
        ({"fold_time": ("-5 s", "90 s")}, "outside its range"),
        (
            {"fold_time": ("60 s", "90 s"), "requirements.fold_time": ("60 s", "90 s")},
            "both move requirements.fold_time",
        ),
        (SIZES, "vehicle_size.dynamic and vehicle_size.mach both move vehicle.mass"),
        ({"vehicle_size.froude": (0.5, 2.0)}, 'expected one of "vehicle_size.dynamic", "veh'),
        ({"vehicle_size": (0.5, 2.0)}, 'expected one of "vehicle_size.dynamic", "vehicle_size.'),
        ({"vehicle_size.mach": (0.01, 2.0)}, "outside its range, got 0.01 to 2, expected 0.05 to"),
    ],
)
def test_faults_are_named(problem, given, said):
    with pytest.raises(StudyError, match=said):
        axes_of(problem, given, "analysis.map.axes")


def test_every_fault_is_listed(problem):
    with pytest.raises(StudyError) as found:
        axes_of(problem, {"a": ("1 s", "2 s"), "fold_time": ("2 s", "1 s")}, "analysis.map.axes")
    assert len(found.value.problems) == 2
    assert "analysis.map.axes.a" in found.value.problems[0]


def test_corrections_between_points_are_those_of_the_study_alone_there():
    levels = {"fidelity.optimise.heat": "balance", "fidelity.correct.heat": "network"}
    corrected = make_problem(load_study(STUDY).with_values(levels))
    axes = axes_of(corrected, {"fold_time": ("60 s", "120 s")}, "axes")
    draw, points = np.random.default_rng(0), np.array([[60.0], [80.0], [100.0], [120.0]])
    made = [0.1 * draw.random((4, *np.shape(part))) for part in corrected.correction]
    carried = np.ones_like(made[1])
    counts = np.ones((4, carried.shape[1] - 1), dtype=bool)
    known = Known(points, Correction(*made), carried, counts)
    interpolation = Interpolation.of(known, *ends_of(axes))
    parametric = ParametricProblem(corrected, axes)
    found = parametric.interpolating(interpolation)
    for point in (80.0, 93.0):
        own = found.at(np.array([point]))
        np.testing.assert_allclose(found.theta(np.array([[point]]))[0], own.theta, rtol=1e-9)
    np.testing.assert_allclose(found.at(points[1]).correction.values, made[1][1], atol=1e-6)
    assert not np.any(parametric.at(points[1]).correction.values)
