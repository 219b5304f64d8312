"""A motion starts from the design of a stored result of the same study, or sizes first."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from mdo.defend.record import record_text
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.problem import make_problem
from mdo.results.files import StoreError
from mdo.results.store import ResultStore
from mdo.results.work import Work
from mdo.run import design_analyses
from mdo.run.design_analyses import RECORD, designed
from mdo.study import study_from_dict

STUDIES = Path(__file__).parents[3] / "studies"
KEY = "0" * 64
SIZED = "sized anew"


@pytest.fixture(scope="module")
def problem():
    content = tomllib.loads((STUDIES / "bench_500_45_45.toml").read_text(encoding="utf-8"))
    return make_problem(study_from_dict(content, folder=STUDIES))


@pytest.fixture(autouse=True)
def sizing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(design_analyses, "sized", lambda *_: SIZED)


def store(root: Path, problem: Any, kind: str, key: str = KEY, text: str | None = None) -> Any:
    x = np.where(problem.active, problem.lower, problem.upper) * 1.01
    found = Appraisal(kind, problem, x, {"system_mass": np.array(3.0)}, None, "drawn")
    study = problem.study
    writer = ResultStore(root, study.name).begin(kind, study.text, key, study.seed)
    assert writer is not None
    with writer:
        writer.table("some", pd.DataFrame({"time": [0.0]}))
        writer.text(RECORD, record_text(found) if text is None else text)
        writer.finish({"feasible": 1}, {})
    return found


def begun(root: Path | None, problem: Any) -> tuple[Any, list[str]]:
    place = None if root is None else ResultStore(root, problem.study.name).place("motion")
    said: list[str] = []
    with Work(place, KEY) as work:
        return designed(problem, work, said.append), said


def test_the_stored_design_is_taken_to_the_bit_and_said(tmp_path, problem):
    stored = store(tmp_path, problem, "optimum")
    found, said = begun(tmp_path, problem)
    assert np.array_equal(found.x, stored.x)
    assert found.mass == stored.mass
    assert said == ["Motion: design of the stored 'optimum', not sized again"]
    assert found.origin == "that of the stored 'optimum'"


def test_a_defence_serves_where_there_is_no_optimum(tmp_path, problem):
    store(tmp_path, problem, "defence")
    assert begun(tmp_path, problem)[1] == [
        "Motion: design of the stored 'defence', not sized again"
    ]


def test_without_a_result_or_with_that_of_another_study_it_sizes(tmp_path, problem):
    assert begun(None, problem)[0] == SIZED
    store(tmp_path, problem, "optimum", key="1" * 64)  # such as of another alloy card
    assert begun(tmp_path, problem) == (SIZED, ["Motion: sizing the actuator"])


def test_a_record_that_cannot_be_read_is_refused_with_what_to_do(tmp_path, problem):
    store(tmp_path, problem, "optimum", text='{"format": 1}')
    with pytest.raises(StoreError, match=r"optimum: not what a run writes .*format 1.*run"):
        begun(tmp_path, problem)
