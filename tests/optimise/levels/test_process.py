"""Interpolation between known places: hand values, and another way to the same process."""

from __future__ import annotations

import numpy as np
from tinygp import GaussianProcess, kernels, transforms
from tinygp.kernels.distance import L2Distance

from mdo.optimise.levels.interpolation import JITTER, Process, fitted

PLACES = np.random.default_rng(3).random((9, 2))
LENGTHS = np.array([0.7, 1.3])
VALUES = np.sin(3.0 * PLACES[:, 0]) + PLACES[:, 1] ** 2


def matern(distance):
    """Matérn 5/2 by its closed form (Rasmussen and Williams 2006, eq. 4.17; from memory)."""
    far = np.sqrt(5.0) * distance
    return (1.0 + far + far**2 / 3.0) * np.exp(-far)


def test_midway_between_two_places_both_count_half():
    # by hand: the variance of Z0 - (Z1 + Z2) / 2
    two = Process(np.array([[0.0], [1.0]]), np.array([0.8]))
    middle = np.array([[0.5]])
    np.testing.assert_allclose(two.weights(middle), [[0.5, 0.5]], atol=1e-12)
    variance = 1.0 - 2.0 * matern(0.5 / 0.8) + 0.5 * (1.0 + matern(1.0 / 0.8))
    np.testing.assert_allclose(two.deviations(middle), [np.sqrt(variance)], rtol=1e-6)


def test_weights_and_deviations_are_those_of_a_library_with_a_mean_of_no_knowledge():
    at = np.random.default_rng(4).random((5, 2))
    kernel = transforms.Linear(1.0 / LENGTHS, kernels.Matern52(distance=L2Distance()))
    whole = GaussianProcess(kernels.Constant(1e6) + kernel, PLACES, diag=JITTER)
    known = whole.condition(VALUES, at).gp
    process = Process(PLACES, LENGTHS)
    np.testing.assert_allclose(process.weights(at) @ VALUES, known.loc, atol=1e-6)
    np.testing.assert_allclose(process.deviations(at), np.sqrt(known.variance), rtol=1e-4)
    np.testing.assert_allclose(process.weights(at).sum(axis=1), 1.0, rtol=1e-9)


def test_a_place_left_out_is_as_if_it_had_never_been_known():
    weights, deviations = Process(PLACES, LENGTHS).left_out
    for place in range(len(PLACES)):
        others = np.delete(np.arange(len(PLACES)), place)
        process = Process(PLACES[others], LENGTHS)
        own = PLACES[place : place + 1]
        np.testing.assert_allclose(weights[place, others], process.weights(own)[0], atol=1e-9)
        expected = np.hypot(process.deviations(own)[0], np.sqrt(JITTER))
        np.testing.assert_allclose(deviations[place], expected, rtol=1e-6)


def test_an_axis_along_which_nothing_changes_has_the_longer_length():
    values = np.sin(6.0 * PLACES[:, 0])
    found = fitted(PLACES, lambda weights: values - weights @ values)
    assert found.lengths[0] < 0.5 * found.lengths[1]
