"""A study as its verified optimum leaves it: what paths take goes with it, and comes off again."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from mdo.explore.exploration import Choice, Exploration, choices_of, paths_of_choices
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.own_paths import (
    as_in_its_file,
    follows_paths,
    has_paths,
    paths_table,
    taking_paths,
)
from mdo.optimise.problem import DesignProblem, make_problem
from mdo.optimise.problem_text import problem_context, problem_in
from mdo.optimise.verify import Paths, paths_of
from mdo.results.work import Work
from mdo.run import explorations
from mdo.run.explorations import paths_words


@pytest.fixture(scope="module")
def paths(medium: Appraisal) -> Paths:
    """Those of the study, but for its first leg."""
    factor, drag, strain = (part.copy() for part in paths_of(medium.problem))
    factor[0], drag[0], strain[0] = 1.1, np.linspace(2.0, 1.0, drag.shape[1]), 1e-4
    return Paths(factor, drag, strain)


@pytest.fixture(scope="module")
def fed(medium: Appraisal, paths: Paths) -> DesignProblem:
    return taking_paths(medium.problem, paths)


def test_study_takes_paths_keeps_its_text_and_gives_them_back(
    medium: Appraisal, fed: DesignProblem, paths: Paths
) -> None:
    assert all(np.array_equal(*pair) for pair in zip(paths_of(fed), paths, strict=True))
    assert (fed.study.text, fed.study.hash) == (medium.study.text, medium.study.hash)
    assert has_paths(fed)
    assert not has_paths(medium.problem)
    plain = as_in_its_file(fed)
    assert np.array_equal(plain.theta, medium.problem.theta)
    assert as_in_its_file(medium.problem) is medium.problem
    assert taking_paths(medium.problem, paths_of(medium.problem)) is medium.problem
    # the same in another process, and whether they were found now or before
    other = problem_in(problem_context(fed, {}))
    assert np.array_equal(other.theta, fed.theta)
    assert taking_paths(fed, paths).study.content == fed.study.content


def test_choice_that_is_the_study_has_the_paths_of_its_optimum(
    medium: Appraisal, fed: DesignProblem
) -> None:
    same = {"cooling": [medium.study.actuator.cooling]}
    (choice,) = choices_of(fed, same, lambda _: None)
    assert choice.problem is fed
    (plain,) = choices_of(medium.problem, same, lambda _: None)
    assert plain.problem is not None
    assert not has_paths(plain.problem)


def test_paths_of_an_exploration_that_was_stopped_are_not_looked_for_again(
    medium: Appraisal, fed: DesignProblem, paths: Paths, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    calls: list[str] = []
    monkeypatch.setattr(explorations, "continuous_optimum", lambda *_: calls.append("once"))
    monkeypatch.setattr(explorations, "with_own_paths", lambda *_: fed)
    for _ in range(2):
        with Work(tmp_path / "map", "c" * 64) as work:
            found = explorations._own_paths(medium.problem, work, calls.append)
        assert all(np.array_equal(*pair) for pair in zip(found, paths, strict=True))
    assert calls == ["once"]


def test_an_exploration_says_whose_paths_it_has(medium: Appraisal, fed: DesignProblem) -> None:
    tables = paths_of_choices([Choice("", fed, ""), Choice("no study", None, "fault")])
    table = tables["path_factors"]
    assert table.loc[0, ["outer_stress_factor", "path_drag_factor"]].tolist() == [1.1, 2.0]
    assert len(table) == len(paths_table(fed)) == len(fed.assembled.legs)
    said = paths_words(Exploration("map", fed, tables, {}))
    assert "verified optimum of the study" in said
    assert paths_of_choices([Choice("", medium.problem, "")]) == {}
    assert "no feasible optimum" in paths_words(Exploration("map", medium.problem, {}, {}))
    plain = make_problem(medium.study.with_values({"fidelity.verify": {}}))
    assert not follows_paths(plain)
    assert "not followed" in paths_words(Exploration("map", plain, {}, {}))
