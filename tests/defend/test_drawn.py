"""Drawn inputs: what is dear is solved once for all samples, to the same bits."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import jax
import numpy as np
import pytest

from mdo.defend.drawn_inputs import evaluate_drawn
from mdo.defend.uncertain import directions, of_inputs, uncertain_inputs
from mdo.model.system import OBJECTIVE
from mdo.optimise.optimum import Optimum
from mdo.optimise.problem import DesignProblem, make_problem
from mdo.study import load_study

SAMPLES = 6
SMALL = Path(__file__).parents[2] / "studies" / "deck_small.toml"


@pytest.fixture(scope="module")
def problem() -> DesignProblem:
    """The small study with the loads that it ships with: lifting surfaces."""
    return make_problem(load_study(SMALL))


def test_lifting_surfaces_are_solved_once_where_no_drawn_input_moves_them(
    small_optimum: Optimum, problem: DesignProblem, monkeypatch: pytest.MonkeyPatch
) -> None:
    design = small_optimum.design
    prelude, solved = problem.chain.prelude, []
    solve = prelude._solve

    def counted(asked: Any) -> Any:
        solved.append(asked)
        return solve(asked)

    def forget() -> None:
        monkeypatch.setattr(prelude, "_outputs", {})
        monkeypatch.setattr(prelude, "_solutions", {})

    forget()
    monkeypatch.setitem(vars(prelude), "_solve", counted)
    inputs = uncertain_inputs(problem)
    drawn = evaluate_drawn(problem, design, inputs, samples=SAMPLES)
    assert len(solved) == 1

    moved = (drawn.values - of_inputs(inputs, "value")) @ directions(problem, inputs)
    for number, theta in enumerate(np.asarray(problem.theta) + moved):
        forget()
        outputs = problem.values_with(design, theta, OBJECTIVE, "torque_margin")
        assert outputs[OBJECTIVE] == drawn.figures[OBJECTIVE][number]
        assert set(outputs) == {OBJECTIVE, "torque_margin"}
    assert len(solved) == 1 + SAMPLES


def test_lifting_surfaces_are_solved_again_where_the_wing_changes(problem: DesignProblem) -> None:
    parameters = problem.assembled.parameters
    prelude = problem.chain.prelude

    def solution(**vehicle: Any) -> Any:
        changed = {**parameters, "vehicle": parameters["vehicle"]._replace(**vehicle)}
        return prelude.solved(problem.chain.pack(changed))["loads"]

    here = solution()
    assert solution(seal_moment=1.0) is here
    lift, weaker = here[2], solution(section_lift_efficiency=0.8)[2]
    assert float(np.abs(weaker).max()) < float(np.abs(lift).max())


@pytest.mark.slow
def test_slopes_of_the_prelude_are_those_of_all_of_it_together(problem: DesignProblem) -> None:
    """Against the derivative that JAX takes of the whole prelude in one piece."""
    prelude, theta = problem.chain.prelude, np.asarray(problem.theta)
    whole = jax.jit(lambda along: jax.jvp(prelude.evaluate, (theta,), (along,))[1])
    places = problem.chain.unpack(np.arange(theta.size))
    for moved in (places["legs"].mach, places["planform"].span, places["fold_angle"]):
        along = np.zeros(theta.size)
        along[np.ravel(moved)] = np.linspace(0.5, 1.0, np.size(moved))
        expected = whole(along)
        for name, slope in prelude.slope(theta, along).items():
            scale = float(np.abs(expected[name]).max()) + 1e-12
            np.testing.assert_allclose(slope, expected[name], rtol=0.0, atol=1e-9 * scale)
