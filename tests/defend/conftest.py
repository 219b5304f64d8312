"""The optimum of the small study and what is dear to find of it, shared by tests of the defence."""

from __future__ import annotations

from pathlib import Path

import pytest

from mdo.defend.drawn_inputs import DrawnDesigns, evaluate_drawn
from mdo.defend.sensitivity.sensitivity import Sensitivity, find_sensitivity
from mdo.defend.uncertain import uncertain_inputs
from mdo.model.layout import join_design
from mdo.optimise.optimum import Optimum, find_optimum
from mdo.optimise.problem import make_problem
from mdo.study import load_study

from .designs import START

STUDY = Path(__file__).parents[2] / "studies" / "deck_small.toml"


@pytest.fixture(scope="session")
def small_optimum() -> Optimum:
    """Optimum of the small study, from a start near it.

    With loads in closed form: drawn inputs and slopes need them hundreds of times, and the tests
    say nothing of the level of the loads.
    """
    study = load_study(STUDY).with_values({"fidelity.optimise.hinge_moment": "strip"})
    return find_optimum(make_problem(study), starts=0, first=join_design(START))


@pytest.fixture(scope="session")
def small_shipped() -> Optimum:
    """The same with the loads of the shipped level, for slow tests of its own limits."""
    return find_optimum(make_problem(load_study(STUDY)), starts=0, first=join_design(START))


def drawn(optimum: Optimum, samples: int) -> DrawnDesigns:
    """Its design with all uncertain inputs drawn."""
    problem = optimum.problem
    return evaluate_drawn(problem, optimum.design, uncertain_inputs(problem), samples=samples)


@pytest.fixture(scope="session")
def small_drawn(small_optimum: Optimum) -> DrawnDesigns:
    """500 of them."""
    return drawn(small_optimum, 500)


@pytest.fixture(scope="session")
def small_sensitivity(small_optimum: Optimum) -> Sensitivity:
    """All of its inputs, one of them confirmed by new optima."""
    return find_sensitivity(small_optimum, drawn(small_optimum, 100), confirm=1)
