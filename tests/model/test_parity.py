"""The two runs of the one declaration agree: compiled chain and OpenMDAO problem."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from mdo.model.layout import DESIGN_SIZES, split_design
from mdo.optimise.openmdao_problem import problem_from
from mdo.optimise.optimum import find_optimum
from mdo.optimise.problem import DesignProblem, make_problem
from mdo.study import load_study

STUDIES = Path(__file__).parents[2] / "studies"
REFERENCE = np.array(
    [6.8e-3, 0.45, 0.53, 4.7, 5.5, 1.05e8, 1.11e8, 0.854, 2.48, 2.5, 2.02e3, 2.37e3, 473.5, 3e-4,
     1.0, 0.0]
)  # fmt: skip
DESIGNS = 50


@pytest.fixture(scope="module")
def problem() -> DesignProblem:
    return make_problem(load_study(STUDIES / "deck_medium.toml"))


@pytest.fixture(scope="module")
def openmdao(problem):
    return problem_from(problem, REFERENCE)


def random_designs(problem: DesignProblem) -> np.ndarray:
    generator = np.random.default_rng(20261125)
    factors = np.exp(generator.uniform(-0.25, 0.25, (DESIGNS, REFERENCE.size)))
    factors[:, 12] = 1.0 + generator.uniform(-0.05, 0.05, DESIGNS)  # hot temperature [K]
    return np.clip(REFERENCE * factors, problem.lower, problem.upper)


def set_design(openmdao, x: np.ndarray) -> None:
    for name, value in split_design(x).items():
        openmdao.set_val(name, value)


@pytest.mark.slow
def test_openmdao_equals_the_chain_at_random_designs(problem, openmdao):
    worst_value, worst_slope = 0.0, 0.0
    for x in random_designs(problem):
        set_design(openmdao, x)
        openmdao.run_model()
        values = problem.values(x)
        for name in ("system_mass", *problem.chain.row_names, "heat_time", "cool_time"):
            ours = values[name]
            theirs = np.reshape(openmdao.get_val(name), ours.shape)
            scale = np.maximum(np.abs(ours), 1e-3 * np.abs(ours).max() + 1e-12)
            worst_value = max(worst_value, float(np.max(np.abs(theirs - ours) / scale)))
        worst_slope = max(worst_slope, slope_difference(problem, openmdao, x))
    assert worst_value < 1e-9
    assert worst_slope < 1e-7


@pytest.mark.slow
@pytest.mark.parametrize(("kind", "level"), [("tube", "radial"), ("heat", "network")])
def test_openmdao_equals_the_chain_at_the_finer_levels(problem, kind, level):
    study = problem.study.with_values({f"fidelity.optimise.{kind}": level})
    resolved = make_problem(study)
    openmdao = problem_from(resolved, REFERENCE)
    x = random_designs(resolved)[7]
    set_design(openmdao, x)
    openmdao.run_model()
    values = resolved.values(x)
    for name in ("system_mass", *resolved.chain.row_names):
        theirs = np.reshape(openmdao.get_val(name), values[name].shape)
        assert theirs == pytest.approx(values[name], rel=1e-9, abs=1e-12), name
    assert slope_difference(resolved, openmdao, x) < 1e-7


def slope_difference(problem: DesignProblem, openmdao, x: np.ndarray) -> float:
    """Largest difference of total derivatives, relative to the largest of each row."""
    totals = openmdao.compute_totals(return_format="flat_dict", driver_scaling=False)
    _, gradient = problem.chain.point_and_gradient(x, problem.theta, problem.prelude)
    rows = np.asarray(gradient.rows)
    groups = [label.group for label in problem.rows.labels]
    starts = {name: groups.index(name) for name in problem.chain.row_names}
    at, worst = 0, 0.0
    offsets = {}
    for name, size in DESIGN_SIZES.items():
        offsets[name] = slice(at, at + size)
        at += size
    for (of, wrt), value in totals.items():
        part = np.arange(REFERENCE.size)[offsets[wrt]]
        part = part[problem.active[offsets[wrt]]]
        if of == "system_mass":
            ours = np.asarray(gradient.objective)[part][None]
        else:
            meta = openmdao.model.get_constraints()[of]
            entries = np.asarray(meta["indices"].shaped_array())
            ours = rows[starts[of] + entries][:, part]
        # per relative change of the variable; rows are of order one, so 1e-6 is nothing
        step = np.maximum(np.abs(x[part]), 1e-4)
        scale = max(float(np.abs(ours * step).max()), 1e-6)
        difference = np.abs(np.atleast_2d(value) - ours) * step
        worst = max(worst, float(difference.max()) / scale)
    return worst


@pytest.mark.slow
def test_openmdao_driver_finds_the_same_optimum(problem):
    optimum = find_optimum(problem, starts=2)
    assert optimum.feasible
    nudge = 1.0 + 0.02 * np.cos(np.arange(optimum.design.size))
    start = np.clip(optimum.design * nudge, problem.lower, problem.upper)
    other = problem_from(problem, start)
    result = other.run_driver()
    assert result.success
    assert float(other.get_val("system_mass")[0]) == pytest.approx(optimum.mass, rel=1e-6)


def test_one_compile_serves_every_discrete_choice(problem):
    study = problem.study
    other = make_problem(
        study.with_values(
            {
                "actuator.alloy": "niti_actuator",
                "actuator.topology": "nested",
                "actuator.heater": "wrap",
                "actuator.cooling": "blower",
                "actuator.return_mode": "cool_then_retwist",
            }
        )
    )
    assert other.chain is problem.chain
    problem.evaluate(REFERENCE)
    before = problem.chain._point_and_gradient._cache_size()
    first = other.evaluate(REFERENCE)
    assert problem.chain._point_and_gradient._cache_size() == before
    assert first.objective != problem.evaluate(REFERENCE).objective
