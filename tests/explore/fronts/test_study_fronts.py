"""Fronts of the small study: exact, and not beaten by evolutionary algorithms (pymoo)."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from mdo.explore.exploration import Exploration
from mdo.explore.fronts.front import run_front
from mdo.explore.fronts.study_front import objectives_of
from mdo.optimise.axes import ParametricProblem
from mdo.optimise.many.model import OUTPUTS
from mdo.optimise.optimum import find_optimum
from mdo.results.work import Work
from tests.explore.fronts.known import planned, silent

pytestmark = pytest.mark.slow
BENCHMARK = Path(__file__).parents[3] / "benchmarks" / "front.py"
EVALUATIONS = 6000  # of an evolutionary algorithm
PAIR = {"objectives": ["system_mass", "fold_time"], "points": 20}
POWER = {"objectives": ["system_mass", "sortie_energy"], "points": 12}


def run(problem, plan) -> Exploration:
    with Work(None, "0" * 16) as work:
        return run_front(planned(problem, **plan), work, silent)


@pytest.fixture(scope="module")
def against_time(small):
    return run(small, PAIR)


@pytest.fixture(scope="module")
def script():
    spec = importlib.util.spec_from_file_location("front_benchmark", BENCHMARK)
    assert spec is not None
    assert spec.loader is not None
    module: ModuleType = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def front_of(found):
    points = found.tables["front_points"]
    return points[points["place"] >= 0]


def test_every_point_is_the_optimum_at_its_bound(small, against_time):
    objectives = objectives_of(planned(small, **PAIR))
    parametric = ParametricProblem(small, [objectives[1].axis])
    points = front_of(against_time)
    assert len(points) == 20
    for row in points.to_dict("records"):
        near = np.array([row[label] for label in small.labels])
        best = find_optimum(parametric.at(np.array([row["fold_time"]])), starts=2, first=near)
        assert best.feasible
        assert row["system_mass"] == pytest.approx(best.mass, rel=1e-4)


def test_bound_tighter_than_the_front_has_no_design(small, against_time):
    gaps = against_time.tables["front_gaps"]
    end = float(front_of(against_time)["fold_time"].min())
    assert gaps["fold_time_to"].min() == pytest.approx(end)
    objectives = objectives_of(planned(small, **PAIR))
    parametric = ParametricProblem(small, [objectives[1].axis])
    assert not find_optimum(parametric.at(np.array([0.99 * end])), starts=4).feasible


def test_front_stays_the_same_bit_by_bit(small, against_time):
    again = run(small, PAIR).tables["front_points"]
    assert again.equals(against_time.tables["front_points"])


def test_outputs_are_those_of_the_designs(small):
    found = run(small, POWER)
    points = front_of(found)
    assert len(points) >= 10
    for row in points.to_dict("records"):
        x = np.array([row[label] for label in small.labels])
        values = small.values(x, *OUTPUTS)
        assert row["system_mass"] == pytest.approx(float(values["system_mass"]), rel=1e-9)
        assert row["sortie_energy"] == pytest.approx(float(values["sortie_energy"]), rel=1e-7)


@pytest.mark.parametrize("algorithm", ["nsga2", "nsga3"])
def test_evolution_sees_the_same_problem_and_beats_no_point(small, against_time, script, algorithm):
    objectives = objectives_of(planned(small, **PAIR))
    evolved = script.Evolved(small, objectives, 100)
    points = front_of(against_time)
    scaled = evolved.study.scale(points[list(small.labels)].to_numpy())[:, evolved.free]
    out: dict = {}
    evolved._evaluate(scaled, out)
    own = points[["system_mass", "fold_time"]].to_numpy()
    assert out["G"].max() <= 0.0
    assert out["F"][:, 0] == pytest.approx(own[:, 0], rel=1e-9)
    assert (out["F"][:, 1] <= own[:, 1] * (1.0 + 1e-6)).all()
    # from every second point: from first guesses 40,000 evaluations find nothing feasible
    evolved.guesses = points[list(small.labels)].to_numpy()[::2]
    (snapshot,) = script.evolve(evolved, algorithm, 1, [EVALUATIONS], counted=True)
    assert len(snapshot.values) > 0
    for values in snapshot.values:
        met = own[:, 1] >= values[1]
        assert (own[met, 0] <= values[0] * (1.0 + 1e-4)).all()


def test_three_objectives(small):
    plan = {"objectives": ["system_mass", "fold_time", "sortie_energy"], "points": 25}
    found = run(small, plan)
    points = front_of(found)
    assert 15 <= len(points) <= 25
    objectives = objectives_of(planned(small, **plan))
    parametric = ParametricProblem(small, [objectives[1].axis])
    for row in points.to_dict("records"):
        problem = parametric.at(np.array([row["fold_time"]]))
        x = np.array([row[label] for label in small.labels])
        assert problem.values_only(x)[1].min() >= -1e-6


def test_choices_have_a_front_each_and_one_of_all(small):
    found = run(small, {"points": 8, "choices": {"cooling": ["passive", "blower"]}})
    summary = found.tables["front_summary"]
    assert summary["front"].tolist() == ["cooling passive", "cooling blower"]
    points = front_of(found)
    assert summary["wins"].sum() == points["overall"].sum() > 0
    assert summary["points"].sum() == len(points)
