"""Starts from neighbours, and the fixed point of the counts, on cases with known answers."""

import numpy as np
import pytest

from mdo.optimise.many.chunk import packed, symmetric
from mdo.optimise.many.neighbours import above_neighbours, nearest, predicted, spread_order
from mdo.optimise.starts import settle_counts


@pytest.fixture
def places():
    return np.random.default_rng(3).random((200, 3))


def test_plane_is_found_where_designs_lie_on_one(places):
    slopes = np.array([[1.0, -2.0], [0.5, 0.0], [3.0, 1.0]])
    inside = 0.3 + 0.4 * np.random.default_rng(4).random((20, 3))
    np.testing.assert_allclose(
        predicted(inside, places, places @ slopes + 7.0), inside @ slopes + 7.0, atol=0.05
    )


def test_prediction_stays_within_its_neighbours(places):
    designs = places[:, :1] ** 2
    found = predicted(np.array([[3.0, 3.0, 3.0]]), places, designs)
    assert found[0, 0] <= designs.max()


def test_nearest_is_the_nearest(places):
    found = nearest(places[:5], places, 2)
    assert (found[:, 0] == np.arange(5)).all()
    distance = ((places[:5, None] - places[None]) ** 2).sum(axis=2)
    assert (found[:, 1] == np.argsort(distance, axis=1)[:, 1]).all()


def test_one_value_above_a_plane_stands_out(places):
    values = places @ np.array([1.0, 2.0, 3.0])
    values[17] += 0.5
    above = above_neighbours(places, values)
    assert above[17] == pytest.approx(0.5, abs=1e-9)
    others = ~(nearest(places, places, 9) == 17).any(axis=1)
    assert np.abs(above[others]).max() < 1e-9


def test_first_points_lie_far_from_each_other(places):
    order = spread_order(places, 8)
    assert sorted(order) == list(range(200))
    chosen = places[order[:8]]
    gaps = np.sqrt(((chosen[:, None] - chosen[None]) ** 2).sum(axis=2) + 9.0 * np.eye(8)).min()
    assert gaps > 0.5  # of a cube of side one: random ones come as close as 0.2


def test_lower_triangles_and_back():
    matrices = np.random.default_rng(5).random((4, 6, 6))
    matrices = matrices + matrices.transpose(0, 2, 1)
    np.testing.assert_array_equal(symmetric(packed(matrices), 6), matrices)


def test_counts_of_many_are_those_of_one():
    """Solvable only where the product of the drags is below one (sizing by the count problem)."""
    base = np.array([[[4.0, 2.0], [3.0, -np.inf]]] * 3)
    coupling = np.array([[[k, 0.1], [0.5, 0.2]] for k in (0.3, 1.9, 2.1)])
    _, found = settle_counts(base, coupling)
    alone = [settle_counts(b[None], c[None])[1][0] for b, c in zip(base, coupling, strict=True)]
    assert list(found) == alone == [True, True, False]
