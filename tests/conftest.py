"""One optimum of a shipped study, shared by the tests of summary and report."""

from __future__ import annotations

from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def optimum():
    """Appraisal of the optimum of the medium study, from two starts."""
    from mdo.optimise.problem import make_problem
    from mdo.run.design_analyses import optimum_analysis
    from mdo.study import load_study

    study = load_study(Path(__file__).parents[1] / "studies" / "deck_medium.toml")
    problem = make_problem(study.with_values({"analysis.optimum.starts": 2}))
    return optimum_analysis(problem, lambda _: None)
