"""Settings after the build against problems whose best settings are known."""

import numpy as np
import pytest

from mdo.explore.assurance.trimming import best_settings


@pytest.fixture
def rng():
    return np.random.default_rng(7)


def test_two_rows_that_pull_apart_meet_in_the_middle(rng):
    high, low = rng.uniform(0.5, 1.0, 50), rng.uniform(-1.0, 0.0, 50)

    def rows(at):  # high - s, and s - low with a bend: the least is largest where both are alike
        return np.column_stack([high - at[:, 0], np.expm1(at[:, 0] - low)])

    def slopes(at):
        return np.stack([-np.ones_like(at), np.exp(at - low[:, None])], axis=1)

    found = best_settings(rows, slopes, np.zeros((50, 1)), np.full(1, -2.0), np.full(1, 2.0))
    least = np.sort(rows(found), axis=1)
    assert least[:, 0] == pytest.approx(least[:, 1], abs=2e-3)


def test_settings_stay_within_their_bounds_and_never_make_it_worse(rng):
    slope = rng.normal(size=(20, 30, 2))
    first = rng.normal(size=(20, 30))

    def rows(at):
        return first + np.einsum("nrv,nv->nr", slope, at) - 3.0 * (at**2).sum(axis=1)[:, None]

    def slopes(at):
        return slope - 6.0 * at[:, None, :]

    low, high = np.array([-0.2, -0.3]), np.array([0.4, 0.0])
    found = best_settings(rows, slopes, np.zeros((20, 2)), low, high)
    assert (found >= low).all()
    assert (found <= high).all()
    gained = rows(found).min(axis=1) - first.min(axis=1)
    assert (gained >= 0.0).all()
    # as good as the best of a fine grid of settings
    ends = zip(low, high, strict=True)
    grid = np.stack(np.meshgrid(*(np.linspace(*end, 41) for end in ends)), -1)
    tried = [rows(np.tile(at, (20, 1))).min(axis=1) for at in grid.reshape(-1, 2)]
    assert rows(found).min(axis=1) == pytest.approx(np.max(tried, axis=0), abs=0.05)
