"""A study ends at the optimum of the levels that its rows are corrected to."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from mdo.defend.record import read_record, record_text
from mdo.defend.tables.design import result_tables
from mdo.disciplines.tube import uniform
from mdo.optimise.levels.study_optimum import (
    corrected_end,
    dear_optimum,
    dear_problem,
    keeping,
)
from mdo.optimise.levels.trust_region import CORRECTED
from mdo.optimise.optimum import find_optimum
from mdo.optimise.problem import DesignProblem, make_problem
from mdo.report import Source, render_report
from mdo.report.words.summary_data import summary_dict
from mdo.results import ResultStore
from mdo.results.work import Work
from mdo.run.analyses import _appraised
from mdo.run.design_analyses import ANALYSES, optimum_analysis
from mdo.study import load_study

STUDY = Path(__file__).parents[3] / "studies" / "deck_medium.toml"
LOW = {"fidelity.optimise.tube": "uniform", "fidelity.verify": {}}
DEAR = {"fidelity.optimise.tube": "radial", "fidelity.verify": {}}
X = np.array(
    [6.8e-3, 0.45, 0.53, 4.7, 5.5, 1.05e8, 1.11e8, 0.854, 2.48, 2.5, 2.02e3, 2.37e3, 473.5, 3e-4,
     1.0, 0.0]
)  # fmt: skip


@pytest.fixture(scope="module")
def study():
    return load_study(STUDY)


@pytest.fixture(scope="module")
def corrected(study):
    return make_problem(study.with_values(LOW | {"fidelity.correct.tube": "radial"}))


@pytest.fixture(scope="module")
def cheap(corrected):
    return find_optimum(corrected, starts=1)


@pytest.fixture(scope="module")
def ended(cheap, corrected):
    return dear_optimum(cheap, dear_problem(corrected))


def test_the_dear_problem_has_the_levels_corrected_to_and_corrects_nothing(corrected):
    dear = dear_problem(corrected)
    assert dear.study.fidelity.optimise.tube == "radial"
    assert dear.correction is None
    tube = [item for item in dear.chain.system.disciplines if item.name == "tube_demand"]
    assert tube[0].compute is not uniform.LEVEL.demand
    changed = dear.study.with_values({"requirements.torque_margin": 0.3})
    assert changed.fidelity == dear.study.fidelity


def test_designs_that_the_dear_model_saw_are_counted_once(corrected):
    dear = dear_problem(corrected)
    dear.values_only(X)
    dear.values_only(X)
    dear.values_only(1.01 * X)
    assert (len(dear.evaluated), len(dear.sloped)) == (2, 0)


def test_dear_evaluations_of_a_run_that_was_stopped_are_read_by_the_next(
    corrected, tmp_path, monkeypatch
):
    first, again = dear_problem(corrected), dear_problem(corrected)
    with Work(tmp_path / "optimum", "a" * 64) as work, keeping(work.kept("dear")):
        value, (mass, rows) = first.evaluate(X), first.values_only(X)
    plain = dear_problem(corrected).evaluate(X)

    def never(*_):
        raise AssertionError("computed anew")

    monkeypatch.setattr(DesignProblem, "evaluate", never)
    monkeypatch.setattr(DesignProblem, "values_only", never)
    with Work(tmp_path / "optimum", "a" * 64) as work:
        folder = work.kept("dear")
        assert len(folder) == 2
        with keeping(folder):
            for one, other, own in zip(again.evaluate(X), value, plain, strict=True):
                assert np.array_equal(one, other)
                assert np.array_equal(one, own)
            assert again.values_only(X)[0] == mass
            assert np.array_equal(again.values_only(X)[1], rows)
            assert (len(again.evaluated), len(again.sloped)) == (1, 1)
            with pytest.raises(AssertionError):  # of another design nothing is kept
                again.evaluate(1.01 * X)
            with pytest.raises(AssertionError):  # nor of other parameters
                replace(again, theta=1.01 * again.theta).evaluate(X)


def test_an_optimum_that_was_stopped_goes_on_from_its_dear_evaluations(
    corrected, tmp_path, monkeypatch
):
    said, store = [], ResultStore(tmp_path, "study")

    def stopped(problem, _):
        dear_problem(problem).evaluate(X)
        raise KeyboardInterrupt

    def whole(problem, _):
        return dear_problem(problem).evaluate(X)

    monkeypatch.setitem(ANALYSES, "optimum", ANALYSES["optimum"]._replace(run=stopped))
    with pytest.raises(KeyboardInterrupt), Work(store.place("optimum"), "b" * 64) as work:
        _appraised("optimum", corrected, work, said.append)
    assert said == []
    monkeypatch.setitem(ANALYSES, "optimum", ANALYSES["optimum"]._replace(run=whole))
    with Work(store.place("optimum"), "b" * 64) as work:
        found = _appraised("optimum", corrected, work, said.append)
        assert said == ["Dear evaluations: 1 kept from an earlier run"]
        assert np.array_equal(found.rows, dear_problem(corrected).evaluate(X).rows)
    work.finish()
    assert not any(path.is_dir() for path in store.folder.iterdir())


@pytest.mark.slow
def test_it_ends_at_the_optimum_of_the_dear_model(cheap, ended, study):
    assert ended.corrections.way == CORRECTED
    assert ended.corrections.gradients <= 12
    direct = find_optimum(make_problem(study.with_values(DEAR)), starts=1)
    assert ended.mass == pytest.approx(direct.mass, rel=1e-6)
    assert ended.kkt_residual < 1e-5
    assert ended.violation < 1e-6
    assert abs(cheap.mass / direct.mass - 1.0) > 0.05  # the cheap model says something else


@pytest.mark.slow
def test_around_the_end_the_corrected_problem_is_the_dear_one_to_first_order(ended, corrected):
    own, dear = ended.problem.evaluate(ended.design), dear_problem(corrected).evaluate(ended.design)
    for part in ("objective", "rows", "objective_slope", "row_slopes"):
        assert getattr(own, part) == pytest.approx(getattr(dear, part), rel=1e-9, abs=1e-9)
    again = find_optimum(ended.problem, starts=0, first=ended.design)
    assert again.mass == pytest.approx(ended.mass, rel=1e-7)
    held = ended.multipliers > 1e-3
    assert again.multipliers[held] == pytest.approx(ended.multipliers[held], rel=1e-3)


@pytest.mark.slow
def test_a_start_that_is_no_optimum_of_either_ends_at_the_same_mass(ended, corrected, cheap):
    """Farther away, 3 % above in all variables, there is a design of least violation of both."""
    start = np.where(corrected.active, 0.97 * cheap.design, cheap.design)
    end, _ = corrected_end(corrected, dear_problem(corrected), corrected.clip(start))
    assert end.optimal
    assert not all(step.accepted for step in end.steps)  # the guard was needed
    assert end.value.objective == pytest.approx(ended.mass, rel=1e-6)


@pytest.mark.slow
def test_the_analysis_gives_dear_values_and_says_what_they_took(study, tmp_path):
    changes = {"fidelity.correct.tube": "radial", "analysis.optimum.starts": 1}
    problem = make_problem(study.with_values(LOW | changes))
    said: list[str] = []
    appraisal = optimum_analysis(problem, said.append)
    summary = summary_dict(appraisal)
    assert summary["dear_way"] == CORRECTED
    assert 2 <= summary["dear_gradients"] <= summary["dear_evaluations"] <= 15
    assert summary["dear_kkt_residual"] < 1e-5
    assert summary["dear_violation"] < 1e-6
    assert summary["system_mass"] == pytest.approx(appraisal.optimum.mass, rel=1e-12)
    assert summary["starts_reached"] == 1
    assert not appraisal.violated
    # of the dear rows as well: the optimum with its counts free, and that in whole tubes
    counts = appraisal.design["tube_count"]
    assert np.array_equal(counts, np.round(counts))
    assert appraisal.mass >= appraisal.continuous.mass
    own = dear_problem(appraisal.problem).values(appraisal.x)
    assert np.array_equal(appraisal.values["required_strain"], own["required_strain"])
    ends = appraisal.continuous.optimum.corrections, appraisal.optimum.corrections
    assert ends[0].evaluations == summary["dear_evaluations"]
    told = sum(line.startswith("Correction") for line in said)
    assert told == sum(len(end.steps) for end in ends)  # a direct end evaluates between two
    assert len(ends[0].steps) == ends[0].evaluations
    tables = result_tables(appraisal)
    assert list(tables["corrections"]["system_mass"])[-1] == appraisal.continuous.mass
    text = record_text(appraisal)
    again = read_record(text, appraisal.study.text, tmp_path)
    assert render_report(Source(again, tables)) == render_report(Source(appraisal, tables))
