"""The small study, as it is shipped, and its problem."""

from __future__ import annotations

from pathlib import Path

import pytest

from mdo.optimise.problem import DesignProblem, make_problem
from mdo.study.study import Study, load_study

STUDIES = Path(__file__).parents[3] / "studies"


@pytest.fixture(scope="session")
def small() -> Study:
    return load_study(STUDIES / "deck_small.toml")


@pytest.fixture(scope="session")
def small_problem(small: Study) -> DesignProblem:
    return make_problem(small)


@pytest.fixture(scope="session")
def medium_problem() -> DesignProblem:
    return make_problem(load_study(STUDIES / "deck_medium.toml"))
