"""Sizing over samples of plain functions, against closed forms and published optima."""

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.stats import mstats, norm, qmc, triang

from mdo.explore.assurance.local import Nominal, NominalSlopes, Sampled
from mdo.explore.assurance.quantile import order_weights
from mdo.explore.assurance.sizing import settle, size_for

COUNT = 8192


def normals(inputs, count=COUNT, seed=1):
    return norm.ppf(qmc.Sobol(inputs, rng=np.random.default_rng(seed)).random(count))


def sampled(rows, samples, middle, low, high, objective=None, slope=None):
    """Rows ``f(z, p)`` of many samples, with slopes by central differences of exact values."""
    z_count = len(low)
    objective = objective or (lambda z: float(np.sum(z)))
    slope = slope or (lambda z: np.ones(z_count))

    def slopes(z, p):
        step = 1e-6 * np.eye(z_count)
        return np.stack([(rows(z + s, p) - rows(z - s, p)) / 2e-6 for s in step], axis=-1)

    return Sampled(
        lambda z: Nominal(objective(z), rows(z, middle[None])[0]),
        lambda z: NominalSlopes(slope(z), slopes(z, middle[None])[0]),
        lambda z, at: rows(z, samples[at]),
        lambda z, at: slopes(z, samples[at]),
        len(samples), np.array(low, float), np.array(high, float),
    )  # fmt: skip


@pytest.mark.parametrize("share", [0.5, 0.9, 0.99])
@pytest.mark.parametrize("law", ["normal", "triangular"])
def test_a_linear_limit_stands_at_the_quantile_of_its_input(law, share):
    """Closed form: x - p >= 0 holds with probability P at the P quantile of p."""
    known = norm(5.0, 0.4) if law == "normal" else triang(0.25, 4.0, 2.0)
    samples = known.ppf(qmc.Sobol(1, rng=np.random.default_rng(2)).random(COUNT))
    one = sampled(lambda z, p: z - p, samples, np.array([5.0]), [0.0], [20.0])
    end = size_for(one, np.array([5.0]), share)
    assert end.holds
    assert end.objective == pytest.approx(known.ppf(share), rel=1e-3)
    assert end.held.mean() == pytest.approx(share, abs=1e-3)


def test_two_independent_limits_share_the_probability_where_it_is_cheapest():
    """Closed form: the product of two normal probabilities, minimised by a general solver."""

    def rows(z, p):
        return np.column_stack([z[0] - p[:, 0], z[1] - 0.3 * p[:, 1]])

    one = sampled(rows, normals(2), np.zeros(2), [-5.0, -5.0], [9.0, 9.0], lambda z: 5 + z.sum())
    end = size_for(one, np.array([1.0, 1.0]), 0.9)
    best = minimize(
        lambda z: 5.0 + z.sum(), [2.0, 1.0],
        constraints={"type": "ineq", "fun": lambda z: norm.cdf(z[0]) * norm.cdf(z[1] / 0.3) - 0.9},
    )  # fmt: skip
    assert end.objective == pytest.approx(best.fun, rel=1e-3)
    assert end.z == pytest.approx(best.x, abs=0.02)


def test_rows_that_fail_together_cost_no_more_than_one_of_them():
    """Two rows of one input hold together: the joint probability is that of the worse one.

    Where the worst of two rows changes at the limit the quantile has a kink there; within the width
    of its weights, a quarter of a deviation of the share, that is on the safe side.
    """

    def rows(z, p):
        return np.column_stack([z[0] - p[:, 0], 2.0 * (z[0] - p[:, 0])])

    one = sampled(rows, normals(1), np.zeros(1), [-5.0], [9.0], lambda z: 5.0 + z.sum())
    end = size_for(one, np.array([0.0]), 0.95)
    assert norm.cdf(end.z[0]) == pytest.approx(0.95, abs=0.5 * np.sqrt(0.95 * 0.05 / COUNT))


@pytest.mark.parametrize("index", [1.0, 2.0, 3.0])
def test_strength_over_load_has_the_index_of_two_lognormal_variables(index):
    """z R - S >= 0 with lognormal R and S: index ln(z r / s) / sqrt(a^2 + b^2), r and s medians.

    Closed form (Rosenblueth and Esteva, ACI SP-31, 1972, from memory); not linear in the inputs.
    """
    a, b = 0.08, 0.25
    samples = np.exp(normals(2, 32768) * [a, b]) * [3.0, 2.0]
    one = sampled(
        lambda z, p: z * p[:, :1] - p[:, 1:], samples, np.array([3.0, 2.0]), [0.1], [10.0]
    )
    end = size_for(one, np.array([1.0]), norm.cdf(index))
    assert np.log(1.5 * end.z[0]) / np.hypot(a, b) == pytest.approx(index, rel=5e-3)


def three_limits(z, p):
    """Rows of the published problem: two that carry, one that is slack; deviation 0.3 of each."""
    x, y = z[0] + 0.3 * p[:, 0], z[1] + 0.3 * p[:, 1]
    return np.column_stack([
        x**2 * y / 20.0 - 1.0,
        (x + y - 5.0) ** 2 / 30.0 + (x - y - 12.0) ** 2 / 120.0 - 1.0,
        80.0 / (x**2 + 8.0 * y + 5.0) - 1.0,
    ])  # fmt: skip


def test_three_nonlinear_limits_end_at_the_published_optimum():
    """Two normal variables, index 3 of each row: 6.7257 at (3.4391, 3.2866).

    A standard problem of reliability-based design (Youn and Choi, AIAA Journal 42, 2004, 124, from
    memory). There each row has the index by itself; here two of them fail apart from each other, so
    that together they hold with 1 - 2 Phi(-3).
    """
    one = sampled(three_limits, normals(2, 32768), np.zeros(2), [0.5, 0.5], [10.0, 10.0])
    end = size_for(one, np.array([4.0, 4.0]), 1.0 - 2.0 * norm.cdf(-3.0))
    assert end.objective == pytest.approx(6.7257, rel=3e-3)
    assert end.z == pytest.approx([3.4391, 3.2866], abs=0.05)


def test_each_of_200_fixed_samples_holds_at_the_mass_of_a_solver_given_all_their_rows():
    samples = normals(2, 256, seed=4)[:200]
    one = sampled(three_limits, samples, np.zeros(2), [0.5, 0.5], [10.0, 10.0])
    end = size_for(one, np.array([5.0, 5.0]), 1.0)
    best = minimize(
        np.sum, [5.0, 5.0], method="SLSQP", bounds=[(0.5, 10.0)] * 2, options={"ftol": 1e-12},
        constraints={"type": "ineq", "fun": lambda z: three_limits(z, samples).ravel()},
    )  # fmt: skip
    assert end.holds
    assert end.held.all()
    assert end.objective == pytest.approx(best.fun, rel=1e-5)


def crowded(z, p):
    """Six limits from below and one on the room that all of them share, each with its own input."""
    return np.column_stack([z - p[:, :6], 20.0 - z.sum() - 0.5 * p[:, 6]])


@pytest.mark.parametrize("share", [0.9, 0.99])
def test_many_limits_that_crowd_each_other_are_settled_from_far_off(share):
    """Closed form: the product of seven normal probabilities, minimised by a general solver."""
    prices = np.arange(1.0, 7.0)
    one = sampled(
        crowded, normals(7, COUNT), np.zeros(7), [-5.0] * 6, [9.0] * 6,
        lambda z: 20.0 + prices @ z, lambda z: prices,
    )  # fmt: skip
    end = settle(one, np.zeros(6), round((1.0 - share) * COUNT))
    best = minimize(
        lambda z: 20.0 + prices @ z, np.full(6, 2.8), method="SLSQP",
        constraints={
            "type": "ineq",
            "fun": lambda z: (
                norm.logcdf(np.append(z, (20.0 - z.sum()) / 0.5)).sum() - np.log(share)
            ),
        },
    )  # fmt: skip
    assert best.success
    assert end.holds
    assert end.held.mean() == pytest.approx(share, abs=2e-3)
    assert end.objective == pytest.approx(best.fun, rel=5e-3)


def test_settling_for_every_sample_leaves_none_that_fails():
    samples = normals(7, 1024, seed=5)

    def roomy(z, p):
        return crowded(z, p) + np.array([0.0] * 6 + [9.0])

    one = sampled(
        roomy, samples, np.zeros(7), [-5.0] * 6, [9.0] * 6,
        lambda z: 20.0 + z.sum(),
    )  # fmt: skip
    end = settle(one, np.zeros(6), 0)
    assert end.holds
    # with room to spare each limit stands at its own worst sample
    assert end.z == pytest.approx(samples[:, :6].max(axis=0), abs=1e-3)


def test_what_cannot_be_settled_is_told_with_the_design_that_misses_least():
    """Room for one deviation, of which two limits take more."""

    def rows(z, p):
        return np.column_stack([z - p[:, :2], 1.0 - z.sum() - 0.1 * p[:, 2]])

    samples = normals(3, 1024)
    one = sampled(rows, samples, np.zeros(3), [-5.0] * 2, [9.0] * 2, lambda z: 5.0 + z.sum())
    end = settle(one, np.zeros(2), round(0.1 * one.size))
    assert not end.holds
    # closed form: half a deviation each is the most that both can have
    most = minimize(lambda z: -norm.cdf(z).prod() * norm.cdf((1.0 - z.sum()) / 0.1), [0.3, 0.3]).fun
    assert end.held.mean() <= -most + 5e-3


def test_a_share_out_of_reach_is_said_and_what_was_reached_is_kept():
    """A row that no variable moves fails in a quarter of the samples."""
    samples = normals(2)

    def rows(z, p):
        return np.column_stack([z[0] - p[:, 0], norm.ppf(0.75) - p[:, 1]])

    one = sampled(rows, samples, np.zeros(2), [-5.0], [9.0], lambda z: 5.0 + z.sum())
    assert size_for(one, np.zeros(1), 0.7).holds
    end = size_for(one, np.zeros(1), 0.8)
    assert not end.holds
    assert end.held.mean() <= 0.751
    assert np.isfinite(end.objective)


def test_a_share_out_of_reach_takes_nothing_from_what_no_sample_moves():
    """A gauge ends the variable at 0.5; the share there is that of the normal law, closed form."""

    def rows(z, p):
        return np.column_stack([z[0] - p[:, 0], np.full(len(p), 0.5 - z[0])])

    one = sampled(rows, normals(1), np.zeros(1), [-5.0], [9.0], lambda z: 5.0 + z.sum())
    for spare in (round(0.01 * COUNT), round(0.25 * COUNT)):
        end = settle(one, np.zeros(1), spare)
        assert not end.holds
        assert end.rows[:, 1].min() > -1e-6
        assert end.held.mean() == pytest.approx(norm.cdf(0.5), abs=1e-3)


def test_weights_of_the_quantile_are_those_of_a_general_library():
    """scipy's own Harrell-Davis estimator."""
    values = np.sort(np.random.default_rng(3).normal(size=200))
    for share in (0.01, 0.1, 0.5):
        weights = order_weights(200, share)
        assert weights.sum() == pytest.approx(1.0)
        assert weights @ values == pytest.approx(float(mstats.hdquantiles(values, [share])[0]))
