"""Corrections between points: exact for what is linear, and a bound that holds.

The published pair is that of Forrester, Sóbester and Keane (Engineering Design via Surrogate
Modelling, 2008, appendix; from memory); the function of two axes is Branin's (1972, from memory).
"""

from __future__ import annotations

import numpy as np
import pytest

from mdo.model.correction import Correction
from mdo.model.layout import DESIGN_LENGTH
from mdo.optimise.levels.interpolation import Interpolation, Known

ONE, TWO = np.ones(1), np.ones(2)


def dear(x):
    return (6.0 * x - 2.0) ** 2 * np.sin(12.0 * x - 4.0)


def cheap(x):
    return 0.5 * dear(x) + 10.0 * (x - 0.5) - 5.0


def branin(x, y):
    u, v = 15.0 * x - 5.0, 15.0 * y
    bowl = (v - 5.1 / (4.0 * np.pi**2) * u**2 + 5.0 / np.pi * u - 6.0) ** 2
    return bowl + 10.0 * (1.0 - 1.0 / (8.0 * np.pi)) * np.cos(u) + 10.0


def known_rows(points, errors):
    """One row that carries with a multiplier of one; the mass itself is not corrected."""
    count = len(points)
    values = np.column_stack([np.zeros(count), errors])
    correction = Correction(
        np.ones((count, DESIGN_LENGTH)),
        values,
        np.zeros((count, 2, DESIGN_LENGTH)),
        np.zeros((count, DESIGN_LENGTH, DESIGN_LENGTH)),
    )
    carried = np.tile([1.0, -1.0], (count, 1))
    return Known(points, correction, carried, np.ones((count, 1), dtype=bool))


@pytest.mark.parametrize("count", [9, 12])
def test_masses_of_the_published_pair_lie_inside_their_bounds(count):
    """Least m with m - cheap(a) >= 0 at every requirement a, its row corrected to the dear one."""
    points = np.linspace(0.0, 1.0, count)[:, None]
    known = known_rows(points, cheap(points[:, 0]) - dear(points[:, 0]))
    found = Interpolation.of(known, np.zeros(1), ONE)
    asked = np.linspace(0.0, 1.0, 200)[:, None]
    mass = cheap(asked[:, 0]) - found.at(asked).values[:, 1]
    carried = np.tile([1.0, -1.0], (200, 1))
    bound = found.bounds(asked, carried, np.ones((200, 1), dtype=bool))
    inside = np.abs(mass - dear(asked[:, 0])) <= bound + 1e-9
    assert inside.mean() >= 0.95
    assert np.median(bound) < 0.25 * np.ptp(dear(asked[:, 0]))  # a bound that says something


def test_a_difference_of_two_requirements_lies_inside_its_bounds():
    draw = np.random.default_rng(0)
    points, asked = draw.random((24, 2)), draw.random((400, 2))
    found = Interpolation.of(known_rows(points, branin(*points.T)), np.zeros(2), TWO)
    off = np.abs(found.at(asked).values[:, 1] - branin(*asked.T))
    carried = np.tile([1.0, -1.0], (400, 1))
    bound = found.bounds(asked, carried, np.ones((400, 1), dtype=bool))
    assert (off <= bound).mean() >= 0.95


def test_what_is_linear_in_the_design_is_exact_where_the_optimum_has_a_kink():
    points = np.linspace(0.0, 1.0, 7)[:, None]
    slope = np.linspace(-1.0, 1.0, DESIGN_LENGTH)
    scaled = np.zeros((7, DESIGN_LENGTH))
    scaled[:, 0] = np.abs(points[:, 0] - 0.4)  # the optimum turns
    known = known_rows(points, 0.3 + scaled @ slope)
    slopes = np.zeros((7, 2, DESIGN_LENGTH))
    slopes[:, 1] = slope
    known = known._replace(
        correction=known.correction._replace(centre=np.exp(scaled), slopes=slopes)
    )
    found = Interpolation.of(known, np.zeros(1), ONE).at(np.array([[0.43]]))
    design = 0.2
    row = found.values[0, 1] + slope[0] * (design - np.log(found.centre[0, 0]))
    assert row == pytest.approx(0.3 + slope[0] * design, rel=1e-9)


def test_where_other_rows_count_no_bound_is_known():
    known = known_rows(np.linspace(0.0, 1.0, 7)[:, None], np.arange(7.0))
    known = known._replace(counts=np.arange(7)[:, None] > 0)
    bound = Interpolation.of(known, np.zeros(1), ONE).bounds(
        np.array([[0.5]]), np.array([[1.0, -1.0]]), np.array([[True]])
    )
    assert np.isinf(bound).all()


def test_few_known_points_give_no_bound():
    known = known_rows(np.array([[0.2], [0.7]]), np.array([1.0, 2.0]))
    found = Interpolation.of(known, np.zeros(1), ONE)
    assert found.at(np.array([[0.2]])).values[0, 1] == pytest.approx(1.0, abs=1e-6)
    assert np.isinf(found.bounds(ONE[None], np.array([[1.0, -1.0]]), np.array([[True]]))).all()


def test_it_travels_as_arrays():
    known = known_rows(np.linspace(0.0, 1.0, 7)[:, None], np.arange(7.0))
    found = Interpolation.of(known, np.zeros(1), ONE)
    again = Interpolation.sent(found.payload() | {"points": ONE})
    np.testing.assert_array_equal(again.at(ONE[None]).values, found.at(ONE[None]).values)
    assert Interpolation.sent({"points": ONE}) is None
