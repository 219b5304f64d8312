"""First-order intervals against hand-made laws, central differences, new optima and Monte Carlo."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import lognorm

from mdo.defend.comparison.intervals import (
    ALLOWED,
    FIRST,
    HELD,
    SAMPLED,
    Intervals,
    Propagated,
    Spread,
    intervals_table,
    propagate,
)
from mdo.defend.drawn_inputs import COMPARED, RETURN_TIME, DrawnDesigns, evaluate_drawn
from mdo.defend.uncertain import directions, theta_with, uncertain_inputs
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.knobs import with_fields
from mdo.optimise.optimum import find_optimum
from mdo.optimise.problem import make_problem
from mdo.optimise.reoptimise import reoptimise
from mdo.study.study import load_study

STUDIES = Path(__file__).parents[2] / "studies"
SAMPLES = 500


def intervals_of(optimum):
    """Intervals of the design of an optimum over all its uncertain inputs."""
    problem, design = optimum.problem, optimum.design
    drawn = evaluate_drawn(problem, design, uncertain_inputs(problem), samples=SAMPLES)
    return Intervals(propagate(appraised(optimum), drawn.inputs), drawn)


def appraised(optimum, *, drawn_only=False):
    """Design of an optimum; as one that was not optimised, where only that is asked for."""
    problem, design = optimum.problem, optimum.design
    found = None if drawn_only else optimum
    return Appraisal("optimum", problem, design, problem.values(design), found, "")


@pytest.fixture(scope="module")
def small_intervals(small_optimum, small_drawn):
    return Intervals(propagate(appraised(small_optimum), small_drawn.inputs), small_drawn)


def made(**contributions):
    """Figures with given contributions of two inputs, medians 10 and present values 8."""
    return Propagated(
        inputs=(),
        present=dict.fromkeys(contributions, 8.0),
        middles=dict.fromkeys(contributions, np.log(10.0)),
        contributions={name: np.array(parts) for name, parts in contributions.items()},
        held=Spread(8.0, 12.0, 0.5, np.array([0.3, 0.4])),
    )


def test_a_spread_is_log_normal():
    spread = made(mass=(0.3, 0.4)).spread("mass")
    law = lognorm(s=0.5, scale=10.0)
    assert (spread.low, spread.high) == pytest.approx(law.ppf([0.05, 0.95]))
    assert spread.share_below(12.0) == pytest.approx(law.cdf(12.0))
    assert spread.value == 8.0


def test_shared_inputs_cancel_in_a_ratio():
    found = made(one=(0.3, 0.4), same=(0.3, 0.4), other=(0.3, -0.4))
    assert found.spread("one", "same").deviation == pytest.approx(0.0)
    assert found.spread("one", "same").share_below(1.1) == 1.0
    assert found.spread("one", "other").deviation == pytest.approx(0.8)
    held = found.held_over("other")
    assert held.middle == pytest.approx(1.2)
    assert held.deviation == pytest.approx(0.8)


def test_a_product_of_even_inputs_by_hand():
    """m = a b and r = a/b, logarithms even: sampled shares agree with the first-order ones."""
    generator = np.random.default_rng(3)
    a, b = generator.uniform(-1.0, 1.0, (2, 200_000)) * np.sqrt(3.0) * np.array([[0.3], [0.4]])
    found = made(m=(0.3, 0.4), r=(0.3, -0.4))
    ratio = np.exp((a + b) - (a - b))
    spread = found.spread("m", "r")
    # b alone is left: even, not normal; its ends differ by (1.6449 - 0.9 sqrt 3)/3.29 of the width
    assert np.log(spread.high) == pytest.approx(np.log(np.quantile(ratio, 0.95)), rel=0.06)
    both = found.spread("m")
    assert np.log(both.high / 10.0) == pytest.approx(np.quantile(a + b, 0.95), rel=0.03)
    assert both.share_below(11.0) == pytest.approx((10.0 * np.exp(a + b) < 11.0).mean(), abs=0.02)


@pytest.mark.slow
def test_contributions_are_slopes_of_the_logarithm(small_optimum):
    """Central differences of re-evaluated designs at the middle of the ranges, every input."""
    problem, design = small_optimum.problem, small_optimum.design
    inputs = uncertain_inputs(problem)
    found = propagate(appraised(small_optimum, drawn_only=True), inputs)
    middle = theta_with(problem, {one: float(one.at(0.5)) for one in inputs})
    places = dict(zip(inputs, directions(problem, inputs), strict=True))

    def figures(one, share):
        theta = middle + places[one] * (float(one.at(share)) - float(one.at(0.5)))
        outputs = problem.chain.values(design, theta, problem.chain.prelude(theta))
        return np.log([float(outputs[name]) for name in COMPARED])

    step = 1e-4
    slopes = np.array([(figures(o, 0.5 + step) - figures(o, 0.5 - step)) / 2 for o in inputs])
    expected = slopes / step / np.sqrt(12.0)
    contributions = np.array([found.contributions[name] for name in COMPARED]).T
    np.testing.assert_allclose(contributions, expected, atol=2e-6, rtol=1e-4)


@pytest.mark.slow
def test_the_held_mass_follows_new_optima(small_optimum):
    """Envelope theorem against re-optimised finite differences, the inputs that matter most."""
    problem = small_optimum.problem
    inputs = uncertain_inputs(problem)
    held = propagate(appraised(small_optimum), inputs).held
    checked = 0
    for k in np.argsort(-np.abs(held.contributions))[:8]:
        one = inputs[k]
        move = 1e-4 * one.deviation * one.stretch
        masses = []
        for sign in (1.0, -1.0):
            value = one.value + sign * move
            if not one.low <= value <= one.high:  # one at the end of its range: one-sided
                value = one.value
            changed = with_fields(problem, {one.path: value})
            masses.append((value, reoptimise(changed, small_optimum.design, starts=0).mass))
        (ahead, more), (behind, less) = masses
        slope = (more - less) / (ahead - behind) * one.deviation * one.stretch
        expected = held.contributions[k] * small_optimum.mass
        assert slope == pytest.approx(expected, rel=2e-3), one.path
        checked += 1
    assert checked == 8


@pytest.mark.slow
def test_narrow_ranges_make_both_ways_agree(small_optimum):
    """With a tenth of each range the figures are linear: only the sampling error is left.

    The 5 % point of 400 samples scatters by sqrt(0.05 x 0.95/400)/0.103 = 0.106 deviations, 0.032
    of the width; the worst of 22 ends stays within three of them, 0.1. A figure that one even input
    rules adds (1.645 - 1.559)/3.29 = 0.026.
    """
    problem, design = small_optimum.problem, small_optimum.design
    narrow = tuple(
        replace(one, low=float(one.at(0.45)), high=float(one.at(0.55)))
        for one in uncertain_inputs(problem)
    )
    found = Intervals(
        propagate(appraised(small_optimum, drawn_only=True), narrow),
        evaluate_drawn(problem, design, narrow, samples=400),
    )
    for name in COMPARED:
        assert found.of(name).discrepancy < 0.13, name
        assert found.of(name).source == FIRST


@pytest.mark.slow
def test_sampled_ends_hold_their_share_of_other_samples(small_optimum, small_intervals):
    """Designs evaluated one by one with other random numbers; shares by the binomial law."""
    problem, design = small_optimum.problem, small_optimum.design
    inputs = uncertain_inputs(problem)
    generator = np.random.default_rng(77)
    names = ("system_mass", "geared_mass")
    found = []
    for shares in generator.random((300, len(inputs))):
        values = {one: float(one.at(s)) for one, s in zip(inputs, shares, strict=True)}
        theta = theta_with(problem, values)
        outputs = problem.chain.values(design, theta, problem.chain.prelude(theta))
        found.append([float(outputs[name]) for name in names])
    scatter = 3.5 * np.sqrt(0.05 * 0.95 * (1.0 / SAMPLES + 1.0 / 300.0))
    for name, values in zip(names, np.array(found).T, strict=True):
        low, high = small_intervals.drawn.quantiles(name)
        assert (values < low).mean() == pytest.approx(0.05, abs=scatter), name
        assert (values > high).mean() == pytest.approx(0.05, abs=scatter), name


@pytest.mark.parametrize(
    "study", ["deck_small", pytest.param("deck_medium", marks=pytest.mark.slow)]
)
def test_smooth_figures_agree_with_samples_over_the_whole_ranges(study, request):
    """Figures without kinks: first-order ends within a quarter of the width of the sampled ones.

    The bound is the one from which the sampled interval leads; measured are 0.03 to 0.21. The mass
    is the worst: it is convex in the gear's surface factor over its range of three.
    """
    if study == "deck_small":
        found = request.getfixturevalue("small_intervals")
    else:
        # closed-form loads, as in the small one; by the lattice the geared mass is off by 0.22 only
        closed = {"fidelity.optimise.hinge_moment": "strip"}
        problem = make_problem(load_study(STUDIES / "deck_medium.toml").with_values(closed))
        optimum = find_optimum(problem, starts=1)
        found = intervals_of(optimum)
        # another leg takes over as the one that sizes the geared hinge: a kink no slope sees
        geared = found.of("geared_mass")
        assert geared.discrepancy > ALLOWED
        assert geared.source == SAMPLED
        assert "off by" in geared.note
        assert (geared.low, geared.high) == found.drawn.quantiles("geared_mass")
    smooth = ("system_mass", "actuator_volume", "peak_power", "sortie_energy", "hydraulic_mass")
    for name in smooth:
        one = found.of(name)
        assert one.discrepancy < ALLOWED, name
        assert one.source == FIRST
        assert (one.low, one.high) == (one.first_low, one.first_high)


def test_ratios_are_those_of_each_sample(small_intervals):
    drawn = small_intervals.drawn
    ratio = drawn.figures["system_mass"] / drawn.figures["geared_mass"]
    low, high = np.quantile(ratio, [0.05, 0.95])
    found = small_intervals.of("system_mass", "geared_mass")
    assert (found.sampled_low, found.sampled_high) == pytest.approx((low, high))
    assert found.unit == "1"
    # shared inputs make the ratio narrower than independent masses would
    mass, geared = (small_intervals.propagated.spread(n) for n in ("system_mass", "geared_mass"))
    apart = np.hypot(mass.deviation, geared.deviation)
    assert small_intervals.propagated.spread("system_mass", "geared_mass").deviation < apart


def test_return_time_is_sampled_only(small_optimum, small_intervals):
    found = small_intervals.of(RETURN_TIME)
    limit = small_optimum.problem.study.requirements.return_time
    assert 0.0 < found.value <= limit * (1.0 + 1e-6)
    assert np.isnan(found.first_low)
    assert found.source == SAMPLED
    assert found.low < found.value < found.high


def test_held_interval_without_samples_is_first_order(small_intervals):
    held = small_intervals.held()
    assert held.basis == HELD
    assert held.source == FIRST
    assert np.isnan(held.sampled_low)
    assert held.low < held.value < held.high


@pytest.mark.slow
def test_a_design_without_optimum_is_not_held(small_optimum):
    given = appraised(small_optimum, drawn_only=True)
    assert propagate(given, uncertain_inputs(given.problem)).held is None


def samples_of(mass):
    """Drawn designs of made-up masses, the geared hinge always of 10 kg."""
    figures = {"system_mass": mass, "geared_mass": np.full(mass.size, 10.0)}
    return DrawnDesigns((), np.empty((mass.size, 0)), 0, figures, {})


def test_shares_and_quantiles_are_counted():
    drawn = samples_of(np.array([8.0, 12.0, 9.0, 15.0]))
    assert drawn.share_below(1.0, "system_mass", "geared_mass") == 0.5
    assert drawn.quantiles("system_mass") == pytest.approx((8.15, 14.55))


@pytest.mark.parametrize(("designs", "source"), [(5, FIRST), (40, SAMPLED)])
def test_few_samples_do_not_lead(designs, source):
    propagated = made(system_mass=(0.3, 0.4), geared_mass=(0.1, 0.0))
    mass = Intervals(propagated, samples_of(np.linspace(100.0, 200.0, designs))).of("system_mass")
    assert mass.source == source
    assert ("only 5 samples" in mass.note) == (source == FIRST)
    assert ("off by" in mass.note) == (source == SAMPLED)


def test_table_says_both_intervals(small_intervals):
    table = intervals_table(small_intervals)
    assert not table["figure"].str.startswith("hydraulic").any()
    both = table[table["figure"] != RETURN_TIME]
    assert np.isfinite(both[["first_low", "first_high"]]).all().all()
    assert (table["low"] <= table["high"]).all()
    assert intervals_table(small_intervals, hydraulic=True).shape[0] == table.shape[0] + 3


def test_what_matters_most_to_the_hinge_is_its_torque_density(small_intervals):
    propagated = small_intervals.propagated
    largest = int(np.argmax(np.abs(propagated.contributions["geared_volume"])))
    assert propagated.inputs[largest].path == "assumptions.baseline.torque_density"


@pytest.mark.slow
def test_samples_are_the_same_again(small_optimum, small_intervals):
    again = intervals_of(small_optimum).drawn
    np.testing.assert_array_equal(
        again.figures["geared_mass"], small_intervals.drawn.figures["geared_mass"]
    )


def test_samples_are_studies_of_their_own(small_optimum, small_intervals):
    """A drawn design is that of the study with its inputs at the drawn values, assembled anew."""
    problem, drawn = small_optimum.problem, small_intervals.drawn
    fields = {one.path: float(v) for one, v in zip(drawn.inputs, drawn.values[3], strict=True)}
    other = with_fields(problem, fields)
    present = np.array([one.value for one in drawn.inputs])
    moved = np.asarray(problem.theta) + (drawn.values[3] - present) @ directions(
        problem, drawn.inputs
    )
    np.testing.assert_allclose(np.asarray(other.theta), moved, rtol=1e-12)
    values = other.values(small_optimum.design)
    for name in COMPARED:
        assert drawn.figures[name][3] == pytest.approx(float(values[name]), rel=1e-9), name
    rows = other.rows_of(values)[other.counting]
    failing = {label.group for label, row in zip(other.counting_labels, rows, strict=True)
               if row < -1e-6}  # fmt: skip
    assert failing == {group for group, failed in drawn.failed.items() if failed[3]}
