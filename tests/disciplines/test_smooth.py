"""Smooth replacements: exact where they say so, bias within what they say, one derivative."""

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jax.test_util import check_grads

from mdo.disciplines.smooth import (
    blended_max,
    blended_min,
    smooth_max,
    smooth_min,
    smooth_step,
    softplus,
)

NUMBERS = st.floats(-1e3, 1e3)
LARGEST = jax.jit(lambda v, scale: smooth_max(v, scale=scale, axis=0))
LEAST = jax.jit(lambda v, scale: smooth_min(v, scale=scale, axis=0))
BLENDED = jax.jit(blended_max)


@settings(max_examples=50, deadline=None)
@given(a=NUMBERS, b=NUMBERS, width=st.floats(1e-3, 1e2))
def test_blended_max_is_exact_outside_its_width_and_biased_by_a_quarter_at_most(a, b, width):
    got = float(BLENDED(a, b, width))
    excess = got - max(a, b)
    if abs(a - b) >= width:
        assert abs(excess) < 1e-300  # jit flushes denormal numbers to zero
    else:
        assert -1e-12 <= excess <= width / 4 * (1 + 1e-9) + 1e-12
    assert float(blended_min(-a, -b, width)) == pytest.approx(-got, rel=1e-15)


def test_blended_max_is_highest_by_a_quarter_of_the_width_where_both_are_equal():
    assert float(blended_max(3.0, 3.0, 0.8)) == pytest.approx(3.2, rel=1e-15)


def test_blended_max_in_a_loop_does_not_drift():
    # C23 (sma-tubes, section 4): a state of 0.5 held against an envelope of 0.4 for 1,000 steps;
    # the square-root form creeps by +0.1449 there, the compact form by 0
    state = jax.lax.fori_loop(0, 1000, lambda _, x: blended_max(x, 0.4, 0.01), jnp.asarray(0.5))
    creep = jax.lax.fori_loop(
        0, 1000, lambda _, x: (x + 0.4 + jnp.sqrt((x - 0.4) ** 2 + 1e-4)) / 2, jnp.asarray(0.5)
    )
    assert float(state) == 0.5
    assert float(creep) - 0.5 == pytest.approx(0.1449, abs=1e-4)


@pytest.mark.parametrize("place", [-1.0, 1.0])
def test_blended_max_has_one_slope_at_the_ends_of_the_blend(place):
    slope = jax.grad(lambda x: blended_max(x, 0.0, 1.0))
    left, right = slope(place - 1e-9), slope(place + 1e-9)
    assert float(left) == pytest.approx(float(right), abs=1e-8)
    assert float(right if place > 0 else left) == pytest.approx(1.0 if place > 0 else 0.0, abs=1e-8)


def test_blended_max_has_its_derivative():
    check_grads(
        jax.jit(lambda a, b: blended_max(a, b, 0.7)),
        (jnp.linspace(-2, 2, 9), 0.1),
        order=1,
        eps=1e-7,
        rtol=1e-5,
    )


@settings(max_examples=50, deadline=None)
@given(values=st.lists(NUMBERS, min_size=6, max_size=6), scale=st.floats(0.1, 1e4))
def test_smooth_max_is_never_low_and_high_by_1e_4_of_the_scale_at_most(values, scale):
    array = jnp.asarray(values)
    excess = float(LARGEST(array, scale)) - max(values)
    assert -1e-12 * scale <= excess <= 1.0001e-4 * scale + 1e-10
    shortfall = min(values) - float(LEAST(array, scale))
    assert -1e-12 * scale <= shortfall <= 1.0001e-4 * scale + 1e-10


def test_smooth_max_of_equal_entries_has_the_whole_bias():
    # n equal entries: max + ln(n)/rho, by hand
    got = smooth_max(jnp.full((2, 5), 7.0), scale=10.0, axis=1)
    assert np.asarray(got) == pytest.approx(7.0 + 1e-3, rel=1e-12)


def test_smooth_max_leaves_out_what_is_masked():
    values = jnp.asarray([1.0, 9.0, 2.0])
    got = smooth_max(values, scale=1.0, axis=0, where=jnp.asarray([True, False, True]))
    assert float(got) == pytest.approx(2.0, abs=1e-12)


def test_smooth_max_has_its_derivative_and_weights_that_sum_to_one():
    values = jnp.asarray([1.0, 1.00002, 0.99999])
    check_grads(lambda v: smooth_max(v, scale=1.0, axis=0), (values,), order=1, eps=1e-9, rtol=1e-4)
    assert float(jax.grad(lambda v: smooth_max(v, scale=1.0, axis=0))(values).sum()) == (
        pytest.approx(1.0, rel=1e-12)
    )


def test_softplus_is_high_by_its_width_times_ln_2_at_zero():
    assert float(softplus(0.0, 3.0)) == pytest.approx(3.0 * np.log(2.0), rel=1e-15)
    assert float(softplus(1e5, 3.0)) == 1e5
    assert float(softplus(-1e5, 3.0)) == 0.0


def test_smooth_step_is_the_cosine_between_zero_and_one():
    # cosine kinetics (Liang & Rogers 1990, from memory): (1 - cos(pi x))/2
    at = np.array([-1.0, 0.0, 0.25, 0.5, 0.75, 1.0, 3.0])
    by_hand = [0.0, 0.0, (1 - np.sqrt(0.5)) / 2, 0.5, (1 + np.sqrt(0.5)) / 2, 1.0, 1.0]
    assert np.asarray(smooth_step(at)) == pytest.approx(by_hand, abs=1e-15)
    slope = jax.grad(smooth_step)
    assert [float(slope(x)) for x in (1e-12, 1 - 1e-12)] == pytest.approx([0.0, 0.0], abs=1e-10)
    # derivatives of the cosine by hand: pi/2 sin(pi x), pi^2/2 cos(pi x), -pi^3/2 sin(pi x)
    rising = [np.pi / 2 * np.sin(np.pi * x) for x in (0.1, 0.5, 0.8)]
    assert [float(slope(x)) for x in (0.1, 0.5, 0.8)] == pytest.approx(rising, rel=1e-14)
    curve, third = jax.grad(slope), jax.grad(jax.grad(slope))
    for x in (0.1, 0.3, 0.8):
        assert float(curve(x)) == pytest.approx(np.pi**2 / 2 * np.cos(np.pi * x), rel=1e-13)
        assert float(third(x)) == pytest.approx(-(np.pi**3) / 2 * np.sin(np.pi * x), rel=1e-13)
    assert (
        [float(curve(x)) for x in (-0.2, 1.3)] == [float(slope(x)) for x in (-0.2, 1.3)] == [0, 0]
    )
