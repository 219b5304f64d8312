"""A made-up second level of each discipline: nothing of the level that it replaces is called."""

from __future__ import annotations

import functools
import sys
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from mdo.defend.tables.design import result_tables
from mdo.disciplines.heat import balance
from mdo.disciplines.levels import LEVELS, SHIPPED, Dear, Levels, level_functions
from mdo.disciplines.loads import strip
from mdo.disciplines.tube import radial, uniform
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.problem import DesignProblem, make_problem
from mdo.report.words.summary import summary_text
from mdo.report.words.summary_data import summary_dict
from mdo.study import load_study

STUDY = Path(__file__).parents[2] / "studies" / "deck_small.toml"
SHIPPED_FUNCTIONS = {
    "hinge_moment": [(strip, "strip_loads")],
    "tube": [(uniform, "uniform_states"), (uniform, "uniform_demand"), (uniform, "uniform_answer")],
    "heat": [
        (balance, "balance_heating"),
        (balance, "balance_cooling"),
        (balance, "balance_answer"),
    ],
}
# stage of the level that is changed, its output, and an output downstream that must follow
CHANGED = {
    "hinge_moment": ("loads", "lift_moment_arm", "lift_moment"),
    "tube": ("demand", "leg_outer_stress", "declared_stress"),
    "heat": ("heating", "heat_energy", "sortie_energy"),
}


def scaled(function: Any, name: str) -> Any:
    """The same function with one output a tenth larger."""
    if isinstance(function, Dear):
        return function._replace(rest=scaled(function.rest, name))

    @functools.wraps(function)
    def changed(**given: Any) -> Any:
        result = function(**given)
        if name not in result._fields:  # of the legs, in the loads of all
            larger = result.legs._replace(**{name: 1.1 * getattr(result.legs, name)})
            return result._replace(legs=larger)
        return result._replace(**{name: 1.1 * getattr(result, name)})

    changed.__module__ = __name__  # not of the package: no trace of it is kept
    return changed


def middle(problem: DesignProblem) -> np.ndarray:
    return problem.unscale((problem.scale(problem.lower) + problem.scale(problem.upper)) / 2.0)


@pytest.fixture(scope="module")
def shipped() -> dict[str, np.ndarray]:
    problem = make_problem(load_study(STUDY))
    return problem.values(middle(problem))


def test_radial_tube_calls_nothing_of_the_uniform_one(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(**_: Any) -> Any:
        raise AssertionError("the level uniform of the tubes was called")

    level = level_functions(SHIPPED._replace(tube="radial")).tube
    for place, name in SHIPPED_FUNCTIONS["tube"]:
        monkeypatch.setattr(place, name, refuse)
    monkeypatch.setattr(uniform, "LEVEL", type(level)(refuse, refuse, refuse))
    for law in ("uniform_law", "dragging_stress"):
        monkeypatch.setattr(uniform, law, refuse)
    problem = make_problem(load_study(STUDY).with_values({"fidelity.optimise.tube": "radial"}))
    values = problem.values(middle(problem))
    legs, angles = values["required_strain"].shape
    points = values["wall_radius"].size
    assert points > 5
    assert values["locked_strain"].shape == (legs, points)
    assert values["wall_stress"].shape == (legs, angles, points)


def test_names_of_levels_reach_their_records() -> None:
    assert level_functions(SHIPPED).tube is radial.LEVEL
    assert level_functions(SHIPPED._replace(tube="uniform")).tube is uniform.LEVEL
    assert level_functions(SHIPPED).heat is balance.LEVEL
    with pytest.raises(KeyError):
        level_functions(Levels(tube="no such level"))


@pytest.mark.parametrize(
    "discipline",
    [
        pytest.param("hinge_moment", marks=pytest.mark.slow),
        "tube",
        pytest.param("heat", marks=pytest.mark.slow),
    ],
)
def test_no_level_is_silently_used_for_another(
    discipline: str, shipped: dict[str, np.ndarray], monkeypatch: pytest.MonkeyPatch
) -> None:
    stage, output, follows = CHANGED[discipline]
    level = getattr(level_functions(SHIPPED), discipline)
    module = ModuleType("made_up_level")
    module.LEVEL = level._replace(**{stage: scaled(getattr(level, stage), output)})
    monkeypatch.setitem(sys.modules, module.__name__, module)
    monkeypatch.setitem(LEVELS[discipline], "made_up", module.__name__)

    def refuse(**_: Any) -> Any:
        raise AssertionError(f"a level of {discipline} that the study does not name was called")

    for place, name in SHIPPED_FUNCTIONS[discipline]:
        monkeypatch.setattr(place, name, refuse)
    for name in set(LEVELS[discipline]) - {"made_up", "table"}:
        place = import_module(LEVELS[discipline][name])
        monkeypatch.setattr(place, "LEVEL", type(level)(*[refuse] * len(level)))

    study = load_study(STUDY).with_values({f"fidelity.optimise.{discipline}": "made_up"})
    problem = make_problem(study)
    x = middle(problem)
    values = problem.values(x)
    assert values[output] == pytest.approx(1.1 * shipped[output], rel=1e-9)
    assert not np.allclose(values[follows], shipped[follows], rtol=1e-6)
    design = Appraisal("evaluate", problem, x, values, None, "middle of the bounds")
    assert set(result_tables(design)) >= {"torque", "failures", "limits", "waterfall", "times"}
    assert summary_dict(design)["levels"][discipline] == "made_up"
    assert f"{discipline.replace('_', ' ')} made_up" in summary_text(design)
