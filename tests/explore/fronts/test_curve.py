"""Fronts of two objectives against known ones, and against pymoo's sorting and hypervolume."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from pymoo.indicators.hv import HV
from pymoo.problems import get_problem
from pymoo.util.nds.non_dominated_sorting import NonDominatedSorting

from mdo.explore.fronts.curve import (
    JUMP,
    NO_BETTER,
    Gap,
    Traced,
    breaks,
    infeasible_gaps,
    knee_of,
    trace_curve,
)
from mdo.explore.fronts.known_points import KnownPoints, Range, non_dominated, thinned
from tests.explore.fronts.known import (
    FONSECA_HIGH,
    Across,
    Along,
    arc,
    fonseca,
    silent,
    zdt1,
    zdt2,
    zdt3,
)

RANGE = Range(-0.3, 1.0)
SMOOTH = {
    "convex": (zdt1, 1.0),
    "not convex": (zdt2, 1.0),
    "circle": (arc, 1.0),
    "fonseca": (fonseca, FONSECA_HIGH),
}
# Ends of the five parts of ZDT3 along the first objective (from memory; compared with pymoo below).
PARTS = [
    (0.0, 0.0830015), (0.1822287, 0.2577624), (0.4093137, 0.4538821), (0.6183967, 0.6525117),
    (0.8233318, 0.8518329),
]  # fmt: skip


def traced(solve, points=50, within=RANGE):
    found = KnownPoints([within], solve)
    return found, trace_curve(found, points, silent)


def along(found: KnownPoints, curve: Traced):
    """Normalised points in their order."""
    return curve.ends.scale.normal(found.values[curve.places])


@pytest.mark.parametrize("name", SMOOTH)
def test_points_stand_evenly_along_the_front(name):
    curve, high = SMOOTH[name]
    found, result = traced(Along(curve, high), within=Range(-0.3, high))
    gaps = np.linalg.norm(np.diff(along(found, result), axis=0), axis=1)
    assert len(result.places) == 50
    assert gaps.max() / gaps.mean() < 1.6


@pytest.mark.parametrize("name", SMOOTH)
def test_hypervolume_is_nearly_that_of_the_whole_front(name):
    """Even points on a straight front lose the steps between them, half of 1 / 49."""
    curve, high = SMOOTH[name]
    found, result = traced(Along(curve, high), within=Range(-0.3, high))
    x = np.linspace(0.0, high, 2001)
    y = curve(x)
    low, span = np.array([0.0, y.min()]), np.array([high, np.ptp(y)])
    volume = HV(ref_point=np.array([1.1, 1.1]))
    own = (found.values[result.places][:, ::-1] - low) / span
    whole = (np.column_stack([x, y]) - low) / span
    assert volume(own) > volume(whole) - 1.15 / 98.0


@pytest.mark.parametrize("curve", [zdt1, zdt2, zdt3])
def test_no_point_dominates_another(curve):
    found, result = traced(Along(curve))
    first = NonDominatedSorting().do(found.values[result.places], only_non_dominated_front=True)
    assert len(first) == len(result.places)


def test_knee_of_a_circle_is_on_its_diagonal():
    found, result = traced(Along(arc))
    place = result.places[knee_of(along(found, result))]
    assert found.values[place] == pytest.approx([1.0 - np.sqrt(0.5)] * 2, abs=0.03)


def test_knee_is_where_the_front_is_parallel_to_its_chord():
    found, result = traced(Along(zdt1))  # slope -1 at (1/4, 1/2)
    place = result.places[knee_of(along(found, result))]
    assert found.values[place] == pytest.approx([0.5, 0.25], abs=0.03)


def test_knee_of_a_sharp_corner_is_the_corner():
    values = np.array([[1.0, 0.0], [0.01, 0.01], [0.0, 1.0]])
    assert knee_of(values) == 1


def test_front_that_bulges_outwards_has_no_knee():
    found, result = traced(Along(zdt2))
    assert knee_of(along(found, result)) is None


def test_parts_of_zdt3_are_those_of_pymoo():
    x = np.sort(get_problem("zdt3").pareto_front()[:, 0])
    ends = np.array(PARTS).ravel()
    for inner in ends[1:-1]:
        assert np.abs(x - inner).min() < 1e-3


@pytest.mark.parametrize("reached", [True, False])
def test_breaks_of_a_front_in_parts_are_found(reached):
    found, result = traced(Along(zdt3, reached=reached))
    gaps = breaks(found, result)
    assert [gap.reason for gap in gaps] == [NO_BETTER] * 4
    wanted = [(one[1], other[0]) for one, other in itertools.pairwise(PARTS)]
    assert [(gap.low[0], gap.high[0]) for gap in gaps] == pytest.approx(np.array(wanted), abs=4e-3)


def test_points_of_a_front_in_parts_lie_on_its_parts():
    found, result = traced(Along(zdt3, reached=True))
    x = found.values[result.places, 1]
    inside = [((low - 1e-3 <= x) & (x <= high + 1e-3)) for low, high in PARTS]
    assert np.any(inside, axis=0).all()
    assert all(one.sum() >= 3 for one in inside)


def test_jumps_of_a_front_bounded_the_other_way_are_found():
    found, result = traced(Across(zdt3), within=Range(-1.0, 1.0))
    gaps = breaks(found, result)
    assert [gap.reason for gap in gaps] == [JUMP] * 4
    heights = sorted(zdt3(np.array([high for _, high in PARTS[:-1]])))
    middles = [0.5 * (gap.low[0] + gap.high[0]) for gap in gaps]
    assert middles == pytest.approx(heights, abs=0.006)


def test_bounds_without_a_design_are_told_with_their_reason():
    found, result = traced(Along(zdt1))
    (gap,) = infeasible_gaps(found, result.ends)
    assert gap.reason == "too tight"
    assert gap.low[0] == -0.3
    assert gap.high[0] == pytest.approx(0.0, abs=1e-3)


def test_front_with_no_feasible_bound_is_empty():
    found, result = traced(Along(zdt1), within=Range(-2.0, -1.0))
    assert result.ends is None
    assert result.places.size == 0
    assert infeasible_gaps(found, None) == [Gap(np.array([-2.0]), np.array([-1.0]), "too tight")]


def test_front_that_ends_in_a_flat_piece_ends_where_that_begins():
    found, result = traced(Along(lambda x: np.maximum(1.0 - 2.0 * x, 0.0)))
    assert found.values[result.places, 1].max() == pytest.approx(0.5, abs=0.01)
    assert breaks(found, result) == []


def test_bends_are_refined():
    def bent(x):
        return np.maximum(1.0 - 8.0 * x, 0.3 - 0.3 * x)

    class Named(Along):
        def __call__(self, bounds):
            found = super().__call__(bounds)
            steep = bounds[:, 0] < 0.7 / 7.7
            return found._replace(active=["steep" if one else "shallow" for one in steep])

    found, result = traced(Named(bent), points=30)
    fine = result.places[found.level[result.places] > 0]
    assert fine.size >= 1
    assert np.abs(found.values[result.places, 1] - 0.7 / 7.7).min() < 0.005


def test_front_is_the_same_again():
    one, two = (traced(Along(zdt3)) for _ in range(2))
    np.testing.assert_array_equal(one[0].values, two[0].values)
    np.testing.assert_array_equal(one[1].places, two[1].places)


def test_few_points_are_enough():
    _, result = traced(Along(zdt1), points=3)
    assert len(result.places) == 3


@pytest.mark.parametrize("objectives", [2, 3])
def test_sorting_agrees_with_pymoo(objectives):
    values = np.random.default_rng(5).random((300, objectives))
    wanted = NonDominatedSorting().do(values, only_non_dominated_front=True)
    assert non_dominated(values).tolist() == sorted(wanted)


def test_of_points_that_are_the_same_one_is_kept():
    values = np.array([[0.5, 0.5], [0.5, 0.5], [0.2, 0.9], [0.5, 0.7]])
    assert non_dominated(values).tolist() == [0, 2]


def test_thinning_keeps_what_it_is_told_to():
    values = np.column_stack([np.linspace(0.0, 1.0, 11)] * 2)
    keep = np.zeros(11, dtype=bool)
    keep[[3, 4]] = True
    left = thinned(values, keep, np.inf, 5)
    assert left.size == 5
    assert {0, 3, 4, 10} <= set(left.tolist())
