"""Mixed points of a fixed-point map: known fixed points, in few rounds."""

import numpy as np
import pytest

from mdo.optimise.verify import DEPTH, mixed

DOTTIE = 0.7390851332151607  # cos x = x, published constant (OEIS A003957)


def rounds(map_of, start, wanted, most=200):
    """Rounds until a point is within 1e-8 of the fixed point."""
    tried, point = [], np.asarray(start, dtype=float)
    for number in range(most):
        if np.abs(point - wanted).max() < 1e-8:
            return number
        tried.append((point, map_of(point) - point))
        point = mixed(tried)
    return most


def test_dottie_number_is_found_in_few_rounds():
    # plain iteration gains a factor of sin(0.739) = 0.674 a round: 45 rounds from 1
    assert rounds(np.cos, [1.0], DOTTIE) <= 8


def test_slow_linear_map_ends_at_its_solution():
    slopes = np.array([0.95, 0.5, -0.4])
    wanted = 1.0 / (1.0 - slopes)
    plain = int(np.ceil(np.log(1e-8 / np.abs(wanted).max()) / np.log(0.95)))
    assert plain > 400
    assert rounds(lambda z: 1.0 + slopes * z, np.zeros(3), wanted) <= 10 * DEPTH


def test_first_points_are_those_of_the_map():
    assert mixed([(np.array([1.0, 2.0]), np.array([0.5, -0.5]))]) == pytest.approx([1.5, 1.5])
