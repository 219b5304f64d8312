"""The small study as a problem."""

from __future__ import annotations

from pathlib import Path

import pytest

from mdo.optimise.problem import DesignProblem, make_problem
from mdo.study import load_study

STUDY = Path(__file__).parents[3] / "studies" / "deck_small.toml"


@pytest.fixture(scope="session")
def small() -> DesignProblem:
    return make_problem(load_study(STUDY))
