"""The surface through values and slopes, against scipy and against what it is made to do."""

import numpy as np
import pytest
from scipy.interpolate import RBFInterpolator

from mdo.explore.maps.interpolant import fit

COUNT, AXES = 40, 3


@pytest.fixture
def places(rng):
    return rng.random((COUNT, AXES))


@pytest.fixture
def rng():
    return np.random.default_rng(4)


def known(places):
    """Two functions and their slopes."""
    x, y, z = places.T
    values = np.column_stack([np.exp(x - y * z), x**2 + z])
    slopes = np.zeros((len(places), AXES, 2))
    slopes[:, :, 0] = values[:, :1] * np.column_stack([np.ones_like(x), -z, -y])
    slopes[:, 0, 1], slopes[:, 2, 1] = 2.0 * x, 1.0
    return values, slopes


def test_without_slopes_it_is_the_cubic_radial_function_of_scipy(places, rng):
    values, _ = known(places)
    other = RBFInterpolator(places, values, kernel="cubic", degree=1)
    between = rng.random((200, AXES))
    np.testing.assert_allclose(fit(places, values).at(between), other(between), atol=1e-10)


def test_it_goes_through_values_and_slopes(places):
    values, slopes = known(places)
    surface = fit(places, values, slopes)
    np.testing.assert_allclose(surface.at(places), values, atol=1e-9)
    step = 1e-5
    for axis in range(AXES):
        off = step * np.eye(AXES)[axis]
        slope = (surface.at(places + off) - surface.at(places - off)) / (2.0 * step)
        np.testing.assert_allclose(slope, slopes[:, axis], atol=1e-3)


def test_a_plane_comes_back_exactly(places, rng):
    between = rng.random((50, AXES))
    plane = places @ [[1.0], [-2.0], [0.5]] + 3.0
    wanted = between @ [[1.0], [-2.0], [0.5]] + 3.0
    np.testing.assert_allclose(fit(places, plane).at(between), wanted, atol=1e-10)


def test_slopes_bring_it_nearer(places, rng):
    values, slopes = known(places)
    inside = 0.2 + 0.6 * rng.random((100, AXES))
    wanted = known(inside)[0]
    errors = [
        np.abs(fit(places, values, given).at(inside) - wanted).mean() for given in (slopes, None)
    ]
    assert errors[0] < 0.5 * errors[1]


@pytest.mark.parametrize("point", [2, 7])
def test_error_of_a_point_left_out_is_that_of_a_surface_without_it(places, point):
    values, slopes = known(places)
    slopes[7] = np.nan
    others = np.arange(COUNT) != point
    without = fit(places[others], values[others], slopes[others])
    wanted = values[point] - without.at(places[[point]])[0]
    np.testing.assert_allclose(fit(places, values, slopes).left_out[point], wanted, atol=1e-9)
