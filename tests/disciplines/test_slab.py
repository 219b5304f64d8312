"""Room in the wing section: published form, direct roots, ends of the range."""

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from scipy.optimize import brentq

from mdo.disciplines.bundle.wing_room import (
    LONGEST,
    biconvex_thickness,
    end_thickness,
    four_digit_thickness,
    usable_height,
)


def published(x):
    """NACA Report 460: half thickness of a 20 % section over its chord, as ratio to 0.1."""
    root, cubic = 0.29690 * np.sqrt(x), 0.28430 * x**3
    return 10.0 * (root - 0.12600 * x - 0.35160 * x**2 + cubic - 0.10150 * x**4)


def test_four_digit_form_has_the_published_ordinates():
    # ordinates of the NACA 0012 in per cent of the chord (Abbott & von Doenhoff, Theory of Wing
    # Sections, appendix I, from memory): 4.683 at 10 %, 5.738 at 20, 6.002 at 30, 4.563 at 60
    stations = np.array([0.1, 0.2, 0.3, 0.6])
    ordinates = np.asarray(four_digit_thickness(stations)) * 6.0
    assert ordinates == pytest.approx([4.683, 5.738, 6.002, 4.563], abs=6e-4)


def direct(length):
    """Height at both ends of the best placed stretch, by a root of the published form."""
    front = brentq(lambda x: published(x) - published(x + length), 1e-12, 1 - length, xtol=1e-15)
    return published(front)


def test_polynomial_of_the_room_equals_the_root_of_the_section():
    lengths = np.linspace(0.004, LONGEST, 400)
    got = np.asarray(end_thickness(lengths, 0.0))
    assert np.abs(got - [direct(float(length)) for length in lengths]).max() < 1e-5
    assert float(end_thickness(0.0, 0.0)) == pytest.approx(published(0.2998), abs=1e-5)


def test_best_place_is_no_worse_than_any_other():
    stations = np.linspace(0.0, 1.0, 2001)
    for length in (0.1, 0.35, 0.6, 0.85):
        fronts = stations[stations <= 1.0 - length]
        lowest = np.minimum(published(fronts), published(fronts + length))
        assert float(end_thickness(length, 0.0)) == pytest.approx(lowest.max(), abs=2e-3)
        assert lowest.max() <= float(end_thickness(length, 0.0)) + 1e-5


def test_biconvex_room_is_that_of_its_parabola():
    # 4 x (1 - x) at x = (1 - l)/2: 1 - l^2, by hand
    lengths = np.array([0.0, 0.2, 0.5, 0.9])
    by_hand = np.asarray(biconvex_thickness((1.0 - lengths) / 2.0))
    assert np.asarray(end_thickness(lengths, 1.0)) == pytest.approx(by_hand, abs=1e-14)
    assert by_hand == pytest.approx([1.0, 0.96, 0.75, 0.19], abs=1e-14)


@pytest.mark.parametrize("form", [0.0, 1.0])
def test_longer_bundle_has_less_room_also_beyond_the_fit(form):
    lengths = np.linspace(0.01, 1.6, 500)
    heights = np.asarray(end_thickness(lengths, form))
    assert np.all(np.diff(heights) < 0.0)
    assert heights[-1] < -1.0
    slopes = np.asarray(jax.vmap(jax.grad(end_thickness), (0, None))(jnp.asarray(lengths), form))
    assert np.all(np.isfinite(slopes))
    assert np.all(slopes < 0.0)


def test_usable_height_takes_two_skins_and_two_clearances_off():
    got = usable_height(
        bundle_length=0.5,
        fold_chord=1.0,
        fold_thickness=0.12,
        section_form=1.0,
        skin_thickness=0.002,
        clearance=0.003,
    )
    assert float(got) == pytest.approx(0.12 * 0.75 - 0.010, rel=1e-12)
