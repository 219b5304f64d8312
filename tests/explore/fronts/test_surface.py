"""Fronts of three objectives against known ones."""

from __future__ import annotations

import numpy as np
import pytest
from pymoo.problems import get_problem
from pymoo.util.nds.non_dominated_sorting import NonDominatedSorting
from pymoo.util.ref_dirs import get_reference_directions

from mdo.explore.fronts.curve import infeasible_gaps, knee_of
from mdo.explore.fronts.known_points import FrontEnds, KnownPoints, Range, Scale
from mdo.explore.fronts.surface import _limits, trace_surface
from tests.explore.fronts.known import Over, silent

RANGES = [Range(-0.2, 1.0), Range(-0.2, 1.0)]
POINTS = 60


def sphere(u):
    """DTLZ2 (Deb, Thiele, Laumanns & Zitzler, 2002, from memory)."""
    return np.sqrt(np.maximum(1.0 - (u**2).sum(axis=1), 0.0))


def plane(u):
    """DTLZ1, scaled to one (the same)."""
    return np.maximum(1.0 - u.sum(axis=1), 0.0)


def hollow(u):
    """Eighth of a sphere, the better side inwards."""
    return 1.0 - np.sqrt(np.maximum(1.0 - ((1.0 - u) ** 2).sum(axis=1), 0.0))


class Hollow(Over):
    """The hollow sphere: bounds outside of it have no design."""

    def __call__(self, bounds):
        found = super().__call__(bounds)
        none = ((1.0 - np.clip(bounds, 0.0, 1.0)) ** 2).sum(axis=1) > 1.0
        found.values[none] = np.nan
        status = ["infeasible" if one else was for one, was in zip(none, found.status, strict=True)]
        return found._replace(status=status, reason=["outside"] * len(bounds))


def traced(solve):
    found = KnownPoints(RANGES, solve)
    surface = trace_surface(found, POINTS, silent)
    return found, surface, surface.ends.scale.normal(found.values[surface.places])


def true_points(name):
    directions = get_reference_directions("uniform", 3, n_partitions=30)
    front = get_problem(name).pareto_front(directions)
    return front / front.max(axis=0)


@pytest.mark.parametrize(("name", "front"), [("dtlz2", sphere), ("dtlz1", plane)])
def test_points_cover_the_surface(name, front):
    """Even points of a hexagonal grid on a sphere's eighth would leave nothing beyond 0.10."""
    _, _, own = traced(Over(front))
    distance = np.linalg.norm(true_points(name)[:, None, :] - own[None, :, :], axis=2)
    between = np.linalg.norm(own[:, None, :] - own[None, :, :], axis=2)
    np.fill_diagonal(between, np.inf)
    assert len(own) == POINTS
    assert distance.min(axis=1).max() < 0.19
    assert between.min() > 0.09


def test_no_point_dominates_another():
    _, _, own = traced(Over(sphere))
    assert len(NonDominatedSorting().do(own, only_non_dominated_front=True)) == len(own)


def test_surface_that_bulges_outwards_has_no_knee():
    _, _, own = traced(Over(sphere))
    assert knee_of(own) is None


def test_knee_of_a_hollow_sphere_is_on_its_diagonal():
    found, surface, own = traced(Hollow(hollow))
    place = knee_of(own)
    assert place is not None
    assert found.values[surface.places[place]] == pytest.approx(
        [1.0 - np.sqrt(1.0 / 3.0)] * 3, abs=0.12
    )


def test_bounds_without_a_design_are_told():
    found, surface, _ = traced(Over(sphere))
    gaps = infeasible_gaps(found, surface.ends)
    assert len(gaps) == 2
    assert [gaps[0].low[0], gaps[1].low[1]] == pytest.approx([-0.2, -0.2])
    assert [gaps[0].high[0], gaps[1].high[1]] == pytest.approx([0.0, 0.0], abs=2e-3)


def test_surface_with_no_feasible_bound_is_empty():
    found = KnownPoints([Range(-2.0, -1.0)] * 2, Over(sphere))
    surface = trace_surface(found, POINTS, silent)
    assert surface.ends is None
    assert surface.places.size == 0


def test_candidate_at_a_solved_bound_has_no_room_but_one_beside_it_has():
    """Bounds that differ by round-off are one; those that differ by a millionth are two."""
    found = KnownPoints(RANGES, Over(plane))
    found.ask(np.array([[0.4, 0.4]]))  # tight as asked, its first objective is 0.2
    found.note(np.array([0.1, 0.1]), "too tight")
    one = np.ones(3)
    ends = FrontEnds(np.array([0]), np.zeros(2), np.ones(2), Scale(0.0 * one, one))
    near = 1.0 + 1e-12
    candidates = {
        (0.1 * near, 0.1 * near): (np.inf, np.inf),  # as tight as the bound without a design
        (0.1 + 1e-6, 0.1): (0.2, np.inf),
        (0.4 - 1e-6, 0.4): (0.2, np.inf),
        (0.4 / near, 0.4): (0.2, 0.2),
        (0.4 * near, 0.4): (0.2, 0.2),
        (0.4 + 1e-6, 0.4): (-np.inf, 0.2),
    }
    low, high = _limits(found, ends, np.array([*candidates]))
    np.testing.assert_allclose(np.column_stack([low, high]), [*candidates.values()], rtol=1e-12)
