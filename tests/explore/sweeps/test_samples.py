"""Points by their numbers, against the definitions and against scipy and itertools."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.stats import qmc

from mdo.explore.sweeps.space import Factorial, LatinHypercube, Sobol, permuted

CUTS = (0, 1, 7, 64, 65, 200)


def in_chunks(sample, size, order=None):
    """All points, chunk by chunk of unequal length, made in the order given."""
    pairs = list(itertools.pairwise([*(cut for cut in CUTS if cut < size), size]))
    parts = {pair: sample.shares(*pair) for pair in (order(pairs) if order else pairs)}
    return np.concatenate([parts[pair] for pair in pairs])


@pytest.mark.parametrize("size", [1, 2, 3, 5, 16, 17, 1000, 4096, 12_345, 100_003])
def test_latin_hypercube_has_one_point_in_every_stratum(size):
    """The definition of McKay, Beckman and Conover (1979), section 2.3 (from memory)."""
    points = LatinHypercube(size, 5, seed=3).shares(0, size)
    strata = np.floor(points * size).astype(int)
    for column in strata.T:
        np.testing.assert_array_equal(np.sort(column), np.arange(size))


@pytest.mark.slow
def test_latin_hypercube_at_ten_million_still_has_exact_strata():
    size = 10_000_000
    sample = LatinHypercube(size, 1, seed=0)
    seen = np.zeros(size, dtype=np.uint8)
    for start in range(0, size, 1_000_000):
        seen[np.floor(sample.shares(start, start + 1_000_000)[:, 0] * size).astype(int)] += 1
    assert (seen == 1).all()


def test_latin_hypercube_estimates_an_additive_mean_as_scipy_does():
    """Variance of the mean of a sum: of order n^-3, against n^-1/12 per number of plain draws."""
    size, seeds = 64, range(40)
    ours = [LatinHypercube(size, 4, seed).shares(0, size).sum(axis=1).mean() for seed in seeds]
    theirs = [qmc.LatinHypercube(4, rng=seed).random(size).sum(axis=1).mean() for seed in seeds]
    assert np.var(ours) < 2.5 * np.var(theirs)
    assert np.var(ours) < 4 / 12 / size / 500


def test_latin_hypercube_columns_are_not_related():
    """Rank correlations of 45 pairs, each with a standard deviation of 1/sqrt(n - 1)."""
    size = 4_000
    points = LatinHypercube(size, 10, seed=9).shares(0, size)
    related = np.corrcoef(points.T)[np.triu_indices(10, 1)] * np.sqrt(size - 1)
    assert np.abs(related).max() < 4.0
    assert 0.6 < related.std() < 1.4
    places = points * size % 1.0
    assert abs(places.mean() - 0.5) < 4 / np.sqrt(12 * places.size)
    assert 0.0 < places.min() < places.max() < 1.0


def test_permutation_moves_every_number_to_its_own_place():
    keys = np.array([1, 2, 3, 4, 5, 6], dtype=np.uint64)
    for size in range(1, 70):
        places = permuted(np.arange(size, dtype=np.uint64), size, keys)
        np.testing.assert_array_equal(np.sort(places), np.arange(size))


def test_other_seeds_give_other_points():
    for kind in (LatinHypercube, Sobol):
        assert not np.array_equal(kind(32, 3, 0).shares(0, 32), kind(32, 3, 1).shares(0, 32))


@pytest.mark.parametrize("size", [1, 65, 256])
def test_sobol_is_the_sequence_of_scipy(size):
    ours = in_chunks(Sobol(size, 6, seed=2), size)
    power = (size - 1).bit_length()
    theirs = qmc.Sobol(6, scramble=True, rng=2).random_base2(power)[:size]
    np.testing.assert_array_equal(ours, theirs)


@pytest.mark.parametrize(
    "sample", [LatinHypercube(201, 3, 5), Sobol(201, 3, 5), Factorial((3, 67))]
)
def test_chunks_can_be_made_in_any_order(sample):
    whole = sample.shares(0, sample.size)
    np.testing.assert_array_equal(in_chunks(sample, 201), whole)
    np.testing.assert_array_equal(in_chunks(sample, 201, order=lambda p: p[::-1]), whole)


def test_factorial_is_the_product_of_the_levels():
    levels = (2, 4, 3)
    expected = list(itertools.product(*(np.linspace(0.0, 1.0, count) for count in levels)))
    sample = Factorial(levels)
    assert sample.size == 24
    np.testing.assert_allclose(sample.shares(0, 24), expected, rtol=0, atol=1e-15)
