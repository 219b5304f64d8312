"""Sampling and analysis against functions whose indices and effects are known in closed form.

Ishigami function and Sobol' g-function with their analytic indices: Saltelli et al., Global
Sensitivity Analysis: The Primer, 2008, sections 2.9 and 4.7 (formulas from memory).
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from mdo.explore.indices.methods import (
    LEAST_KEPT,
    Sobol,
    morris_of,
    morris_points,
    sobol_of,
    sobol_points,
)

Floats = NDArray[np.float64]
BASE = 2048
A, B = 7.0, 0.1  # of the Ishigami function
G = np.array([0.0, 1.0, 4.5, 9.0, 99.0, 99.0])  # of the g-function


def ishigami(points: Floats) -> Floats:
    x = np.pi * (2.0 * points - 1.0)
    first = np.sin(x[:, 0])
    return first + A * np.sin(x[:, 1]) ** 2 + B * x[:, 2] ** 4 * first


def ishigami_indices() -> tuple[Floats, Floats]:
    """First-order and total indices: V1 = (1 + b pi^4/5)^2/2, V2 = a^2/8, V13 = 8 b^2 pi^8/225."""
    v1 = 0.5 * (1.0 + B * np.pi**4 / 5.0) ** 2
    v2 = A**2 / 8.0
    v13 = 8.0 * B**2 * np.pi**8 / 225.0
    v = v1 + v2 + v13
    return np.array([v1, v2, 0.0]) / v, np.array([v1 + v13, v2, v13]) / v


def g_function(points: Floats) -> Floats:
    return np.prod((np.abs(4.0 * points - 2.0) + G) / (1.0 + G), axis=1)


def g_indices() -> tuple[Floats, Floats]:
    """V_i = 1/(3 (1 + a_i)^2), V = prod(1 + V_i) - 1, V_Ti = V_i prod_{j != i}(1 + V_j)."""
    own = 1.0 / (3.0 * (1.0 + G) ** 2)
    whole = np.prod(1.0 + own)
    return own / (whole - 1.0), own * whole / (1.0 + own) / (whole - 1.0)


def indices_of(function, inputs: int, *, seed: int = 0) -> Sobol:
    points = sobol_points(inputs, BASE, seed)
    return sobol_of(function(points), inputs, confidence=0.95, seed=seed)


@pytest.mark.parametrize(
    ("function", "known"), [(ishigami, ishigami_indices()), (g_function, g_indices())]
)
def test_sobol_indices_are_the_analytic_ones(function, known):
    found = indices_of(function, known[0].size)
    np.testing.assert_allclose(found.first, known[0], atol=0.02)
    np.testing.assert_allclose(found.total, known[1], atol=0.02)
    assert (np.abs(found.first - known[0]) <= found.first_interval + 1e-4).all()
    assert (np.abs(found.total - known[1]) <= found.total_interval + 1e-4).all()
    assert found.kept == BASE


def test_same_seed_gives_the_same_bits_and_another_seed_others():
    first, again, other = (indices_of(ishigami, 3, seed=seed) for seed in (0, 0, 1))
    for one, two in zip(first, again, strict=True):
        np.testing.assert_array_equal(one, two)
    assert not np.array_equal(first.first, other.first)
    np.testing.assert_array_equal(morris_points(3, 5, 0), morris_points(3, 5, 0))


def test_samples_with_a_point_without_value_are_dropped_whole():
    points = sobol_points(3, 256, 0)
    values = ishigami(points)
    values[[7, 8, 500]] = np.nan  # of samples 1, 1 and 100: five points each
    found = sobol_of(values, 3, confidence=0.95, seed=0)
    assert found.kept == 254
    whole = np.delete(ishigami(points).reshape(-1, 5), [1, 100], axis=0)
    same = sobol_of(whole.ravel(), 3, confidence=0.95, seed=0)
    np.testing.assert_array_equal(found.total, same.total)


def test_too_few_whole_samples_give_no_indices():
    points = sobol_points(2, 16, 0)
    values = points.sum(axis=1).reshape(-1, 4)
    values[LEAST_KEPT - 1 :, 0] = np.nan
    found = sobol_of(values.ravel(), 2, confidence=0.95, seed=0)
    assert found.kept == LEAST_KEPT - 1
    assert np.isnan(found.first).all()
    assert np.isnan(found.total_interval).all()


def test_output_that_does_not_vary_has_indices_of_zero():
    found = sobol_of(np.full(4 * 16, 3.0), 2, confidence=0.95, seed=0)
    assert not found.first.any()
    assert not found.total.any()


def test_morris_effects_of_a_linear_function_are_its_coefficients():
    # an effect of a linear function is its coefficient anywhere: mu* = |c|, sigma = 0 (Morris 1991)
    coefficients = np.array([3.0, -2.0, 0.0, 0.5])
    points = morris_points(4, 10, 3)
    found = morris_of(points, points @ coefficients, confidence=0.95, seed=3)
    np.testing.assert_allclose(found.effect, np.abs(coefficients), atol=1e-12)
    np.testing.assert_allclose(found.spread, 0.0, atol=1e-12)
    assert found.kept == 10


def test_morris_spread_shows_an_interaction():
    # y = x1 x2 on the four-level grid: the effect of x1 is x2, which the grid spreads evenly over
    # 0, 1/3, 2/3 and 1, so its mean is 1/2 and its deviation sqrt(5)/6
    points = morris_points(2, 400, 0)
    found = morris_of(points, points.prod(axis=1), confidence=0.95, seed=0)
    np.testing.assert_allclose(found.effect, 0.5, atol=0.05)
    np.testing.assert_allclose(found.spread, np.sqrt(5.0) / 6.0, atol=0.03)


def test_trajectories_with_a_point_without_value_are_dropped_whole():
    points = morris_points(3, 6, 0)
    values = points @ np.array([1.0, 2.0, 3.0])
    values[5] = np.nan  # of the second trajectory
    found = morris_of(points, values, confidence=0.95, seed=0)
    assert found.kept == 5
    np.testing.assert_allclose(found.effect, [1.0, 2.0, 3.0], atol=1e-12)
