"""Axes: what they are called, where they may go, and parameters equal to those of a whole study."""

from pathlib import Path

import jax
import numpy as np
import pytest

import mdo
from mdo.explore.axes import Turner, axes_of
from mdo.explore.problem import make_problem
from mdo.study import load_study
from mdo.study.reader import StudyError

STUDY = Path(mdo.__file__).parents[1] / "studies" / "deck_small.toml"
RANGES = {
    "fold_time": ("60 s", "120 s"),
    "bay_hot": ("40 degC", "60 degC"),
    "torque_margin": ("10 %", "50 %"),
    "requirements.envelope_height": ("20 mm", "60 mm"),
}


@pytest.fixture(scope="module")
def problem():
    return make_problem(load_study(STUDY))


@pytest.fixture(scope="module")
def turner(problem):
    return Turner(problem, axes_of(problem, RANGES, "axes"))


def test_ranges_are_in_si(turner):
    axes = {axis.name: axis for axis in turner.axes}
    assert (axes["fold_time"].low, axes["fold_time"].high) == (60.0, 120.0)
    assert axes["bay_hot"].low == pytest.approx(313.15)
    assert axes["torque_margin"].high == pytest.approx(0.5)
    assert axes["requirements.envelope_height"].unit == "m"


def test_parameters_are_those_of_the_study_at_each_point(turner):
    points = np.array([[axis.low for axis in turner.axes], [axis.high for axis in turner.axes],
                       [77.0, 320.0, 0.31, 0.035]])  # fmt: skip
    assert turner.slopes is not None
    found = turner.parameters(points)
    for number, point in enumerate(points):
        alone = turner.at(point)
        np.testing.assert_allclose(found.theta[number], alone.theta, rtol=1e-12, atol=1e-15)
        assert (found.counts[number] == alone.rows.counts).all()
        for ours, own in zip(
            jax.tree.leaves(found.prelude), jax.tree.leaves(alone.prelude), strict=True
        ):
            np.testing.assert_allclose(ours[number], np.asarray(own), rtol=1e-9, atol=1e-9)


def test_envelope_left_open_counts_once_it_is_an_axis(problem, turner):
    point = np.array([[90.0, 320.0, 0.25, 0.03]])
    names = [label.group for label in problem.rows.labels]
    row = names.index("envelope_height_row")
    assert turner.parameters(point).counts[0, row]
    assert not problem.rows.counts[row]


def test_curved_axes_are_assembled_one_by_one(problem):
    """Altitude goes through the atmosphere in no plane; values must be exact all the same."""
    name = next(case.id for case in problem.study.cases if case.location == "air")
    axes = axes_of(problem, {f"case.{name}.altitude": ("0 m", "9000 m"),
                             "vehicle.mass": ("40 kg", "50 kg")}, "axes")  # fmt: skip
    turner = Turner(problem, axes)
    point = np.array([4000.0, 47.0])
    np.testing.assert_allclose(
        turner.theta(point[None, :])[0], turner.at(point).theta, rtol=1e-12, atol=1e-15
    )


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
