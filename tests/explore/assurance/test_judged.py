"""Judged inputs of a study: their distribution, samples, and plans that do not serve."""

from pathlib import Path

import numpy as np
import pytest
from scipy.stats import triang, uniform

import mdo
from mdo.defend.uncertain import Uncertain
from mdo.explore.assurance.assurance import check
from mdo.explore.assurance.judged import drawn_steps, judged_inputs, steps_at, values_at
from mdo.optimise.problem import make_problem
from mdo.study import load_study
from mdo.study.reader import StudyError

STUDY = Path(mdo.__file__).parents[1] / "studies" / "deck_small.toml"
SHARES = np.linspace(0.01, 0.99, 33)[:, None]


def judged(low, value, high):
    return Uncertain("alloy.x", "x", "1", "", value, low, high, "alloy", "x")


def planned(**plan):
    changes = {f"analysis.assurance.{name}": value for name, value in plan.items()}
    return make_problem(load_study(STUDY).with_values(changes))


@pytest.mark.parametrize("ends", [(1.0, 1.1, 1.4), (-2.0, -2.0, 1.0), (0.5, 1.0, 1.0)])
def test_triangular_is_that_of_a_general_library(ends):
    low, value, high = ends
    one = judged(low, value, high)
    steps = steps_at([one], SHARES, "triangular")
    scale = one.step_to(high) - one.step_to(low)
    known = triang(-one.step_to(low) / scale, one.step_to(low), scale)
    assert steps == pytest.approx(known.ppf(SHARES), abs=1e-12)


def test_even_is_even_in_the_logarithm_of_a_wide_range():
    one = judged(1.0, 3.0, 10.0)
    values = values_at([one], steps_at([one], SHARES, "even"))
    assert np.log(values) == pytest.approx(uniform(0.0, np.log(10.0)).ppf(SHARES), abs=1e-12)


def test_samples_repeat_by_their_seed_and_no_alloy_contradicts_itself():
    problem = planned()
    inputs = judged_inputs(problem)
    first, again, other = (drawn_steps(problem, inputs, 64, seed) for seed in (1, 1, 2))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)
    values = dict(zip([one.field for one in inputs], values_at(inputs, first).T, strict=True))
    assert (values["martensite_finish"] < values["martensite_start"]).all()
    assert (values["austenite_start"] < values["austenite_finish"]).all()


def test_inputs_named_are_sized_for_and_known_ones_are_not():
    names = ["alloy.strain_factor", "alloy.density"]
    assert [one.path for one in judged_inputs(planned(inputs=names))] == names
    every = {one.path for one in judged_inputs(planned())}
    left = {one.path for one in judged_inputs(planned(known=names))}
    assert every - left == set(names)


@pytest.mark.parametrize(
    ("plan", "words"),
    [
        ({"probabilities": [0.9, 1.0]}, r"assurance.probabilities: got 1, expected more than 0"),
        ({"probabilities": [0.0]}, r"assurance.probabilities: got 0, expected more than 0"),
        ({"inputs": ["alloy.strength"]}, r"assurance.inputs: no judged input 'alloy.strength'"),
        ({"known": ["alloy.strength"]}, r"assurance.known: no judged input 'alloy.strength'"),
        ({"inputs": ["alloy.density"], "known": ["alloy.density"]}, "none is left that is judged"),
    ],
)
def test_a_plan_that_does_not_serve_is_refused_in_words(plan, words):
    with pytest.raises(StudyError, match=words):
        check(planned(**plan))
