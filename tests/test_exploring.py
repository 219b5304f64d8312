"""An exploration as an analysis of a study: run once, kept, shown again, refused in words."""

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

import mdo
from mdo.analysis_names import EXPLORATIONS
from mdo.explore.sweeps import sweep
from mdo.results import StoreError
from mdo.run.analyses import plan, run_study
from mdo.run.rebuild import rebuild_report
from mdo.study import load_study
from mdo.study.reader import StudyError

STUDY = Path(mdo.__file__).parents[1] / "studies" / "deck_small.toml"


@pytest.fixture(scope="module")
def study():
    changes = {"analysis.sweep.designs": 400, "analysis.sweep.chunk": 200, "fidelity.verify": {}}
    return replace(load_study(STUDY).with_values(changes), analyses=("sweep",))


@pytest.fixture(scope="module")
def root(tmp_path_factory):
    return tmp_path_factory.mktemp("results")


@pytest.fixture(scope="module")
def outcome(study, root):
    with pytest.MonkeyPatch.context() as patch:  # a batch is filled up, to 2,000 designs as shipped
        patch.setattr(sweep, "BATCH", 200)
        return run_study(study, results_root=root, scheduler="serial")


def test_result_holds_tables_designs_page_and_verdict(outcome):
    folder = outcome.done[-1].folder
    names = {path.name for path in folder.iterdir()}
    assert {"designs.parquet", "sweep_status.csv", "report.html", "columns.csv"} <= names
    summary = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
    assert sum(summary["status_counts"].values()) == 400
    assert outcome.exit_code == (0 if summary["status_counts"]["feasible"] else 3)


def test_chunks_are_gone_once_the_result_is_written(outcome):
    hidden = [p.name for p in outcome.done[-1].folder.parent.iterdir() if "chunks-" in p.name]
    assert hidden == []


def test_same_study_again_is_nothing_to_do(study, root, outcome):
    again = run_study(study, results_root=root, scheduler="serial")
    assert not again.done[-1].is_fresh
    assert "nothing to do" in again.summary_text()
    assert again.exit_code == outcome.exit_code


def test_page_is_made_again_with_the_same_bytes(outcome, tmp_path):
    page = outcome.done[-1].folder / "report.html"
    made = rebuild_report(outcome.done[-1].folder, tmp_path / "again.html")
    text = made.page.read_text(encoding="utf-8")
    links = re.sub(r"<script.*?</script>", "", text, flags=re.DOTALL)
    for place, name in re.findall(r'href="([^"#]+)/([^"/]+)"', links):
        assert (tmp_path / place / name).samefile(page.parent / name)
        text = text.replace(f'href="{place}/', 'href="')
    assert text == page.read_text(encoding="utf-8")


def test_what_needs_one_design_is_refused(outcome):
    from mdo.results.opening import open_result
    from mdo.run.rebuild import stored_appraisal

    result = open_result(outcome.done[-1].folder)
    message = "expected the result of one design"
    with pytest.raises(StoreError, match=message), stored_appraisal(result):
        pass


def test_faults_of_a_plan_stop_the_run_before_anything_is_computed(study, tmp_path):
    wrong = study.with_values(
        {"analysis.map.axes": {"foldtime": ["1 s", "2 s"]},
         "analysis.sweep.variables": {"tube_length": ["1 kg", "2 kg"]}}
    )  # fmt: skip
    with pytest.raises(StudyError) as found:
        run_study(
            replace(wrong, analyses=("map", "sweep")), results_root=tmp_path, scheduler="serial"
        )
    text = str(found.value)
    assert "analysis.map.axes.foldtime" in text
    assert "analysis.sweep.variables.tube_length" in text
    assert not [path for path in tmp_path.rglob("*") if path.is_file()]


@pytest.mark.parametrize("name", EXPLORATIONS)
def test_time_left_has_a_plan(study, name):
    phases = plan(study, name)
    assert all(phase.seconds > 0.0 for phase in phases)
    assert sum(phase.steps for phase in phases) >= 2
