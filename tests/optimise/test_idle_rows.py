"""Rows that are flat or alike where a start stands: optima against those from other starts."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from mdo.optimise.idle_rows import (
    blocked_rows,
    distinct_rows,
    given_rows,
    rows_that_differ,
)
from mdo.optimise.optimum import find_optimum
from mdo.optimise.problem import make_problem
from mdo.optimise.starts import candidates, start_from
from mdo.study import load_study

STUDIES = Path(__file__).parents[2] / "studies"
STRIP = {"fidelity.optimise.hinge_moment": "strip"}

pytestmark = pytest.mark.slow  # compiles slopes of a shipped study


@pytest.fixture(scope="module")
def warm_bay():
    """NiTi in a bay so warm that tubes without stress do not return, and those under stress do."""
    study = load_study(STUDIES / "deck_medium_niti_blower.toml")
    return make_problem(study.with_values(STRIP | {"requirements.bay_hot": "37 degC"}))


@pytest.fixture(scope="module")
def flat_start(warm_bay):
    """First start whose tubes are so many that nothing shifts their Mf: its rows fail, flat."""
    designs = (start_from(warm_bay, *point).design for point in candidates(16, 1))
    return next(design for design in designs if distinct_rows(warm_bay, design)[1].size)


def test_rows_flat_at_a_start_do_not_make_a_study_infeasible(warm_bay, flat_start):
    assert blocked_rows(warm_bay).size == 0
    flat = distinct_rows(warm_bay, flat_start)[1]
    assert {warm_bay.counting_labels[row].group for row in flat} == {"return_temperature"}
    keep, blocked = given_rows(warm_bay, flat_start)
    assert blocked.size == 0
    assert set(flat) <= set(keep)
    best = find_optimum(warm_bay, starts=2)  # from starts where no row is flat
    assert best.feasible
    found = find_optimum(warm_bay, starts=0, first=flat_start)
    assert found.feasible
    assert found.mass == pytest.approx(best.mass, rel=1e-6)


def test_rows_that_no_design_moves_stay_blocked(warm_bay, flat_start):
    """Gate by hand: As 92 degC less 10 K of the lot and 15 K is 67 degC, the soak at 70 degC."""
    hot = warm_bay.study.with_values({"case.hot_soak.soak_temperature": "70 degC"})
    problem = make_problem(hot)
    blocked = given_rows(problem, flat_start)[1]
    assert {problem.counting_labels[row].group for row in blocked} == {"static_self_start"}
    assert problem.evaluate(flat_start).rows[blocked].min() == pytest.approx(-0.3)


def test_rows_of_an_openmdao_problem_stand_for_all_others_everywhere(warm_bay):
    """What is left out is a copy of a row that is kept, or constant, at designs of another seed.

    About the optimum alone two rows of the gears look flat that fail elsewhere.
    """
    design = find_optimum(warm_bay, starts=1).design
    keep, near = rows_that_differ(warm_bay, design), distinct_rows(warm_bay, design)[0]
    lower, upper = warm_bay.scale(warm_bay.lower), warm_bay.scale(warm_bay.upper)
    shares = np.random.default_rng(3).random((60, lower.size))
    designs = warm_bay.unscale(lower + shares * (upper - lower))
    rows = np.array([warm_bay.values_only(each)[1] for each in designs])

    def unlike(kept):
        left_out = np.setdiff1d(np.arange(rows.shape[1]), kept)
        gaps = np.abs(rows[:, kept, None] - rows[:, None, left_out]).max(axis=0).min(axis=0)
        return left_out[(gaps > 1e-8) & (np.ptp(rows[:, left_out], axis=0) > 1e-9)]

    assert unlike(keep).size == 0
    assert {warm_bay.counting_labels[row].group for row in unlike(near)} == {
        "gear_bending", "gear_face",
    }  # fmt: skip
    assert keep.size < warm_bay.counting.size
