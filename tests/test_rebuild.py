"""Reports made again from results: the same bytes, nothing computed, every fault told apart."""

from __future__ import annotations

import json
import os
import re
import shutil
import sys
import threading
from dataclasses import replace
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import numpy as np
import pytest

from mdo.cli import main as cli
from mdo.defend.record import read_record, record_text
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.problem import DesignProblem, make_problem
from mdo.optimise.verify import paths_of
from mdo.results import ResultStore, StoreError
from mdo.results.opening import open_result
from mdo.run.analyses import Outcome, paths_found, result_hash, run_study
from mdo.run.rebuild import rebuild_report, stored_appraisal
from mdo.study import load_study
from mdo.study.study import study_from_dict

SMALL = Path(__file__).parents[1] / "studies" / "deck_small.toml"
CARDS = Path(cli.__file__).parents[1] / "alloys" / "cards"
Capture = pytest.CaptureFixture[str]


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


@pytest.fixture(scope="module")
def ran(small_outcome: Outcome) -> Path:
    """Folder of the small study with the result of an evaluation and of an optimum."""
    folder = small_outcome.done[-1].folder
    assert folder is not None
    return folder.parent


@pytest.fixture
def folder(ran: Path, tmp_path: Path) -> Path:
    """Copy of the evaluated result, to be spoiled."""
    return Path(shutil.copytree(ran / "evaluate", tmp_path / "deck_small" / "evaluate"))


@pytest.mark.parametrize("analysis", ["evaluate", "optimum"])
def test_rebuilt_report_and_tables_have_the_bytes_of_the_run(
    ran: Path, tmp_path: Path, analysis: str
) -> None:
    before = contents(ran / analysis)
    place = Path(shutil.copytree(ran / analysis, tmp_path / analysis))
    (place / "report.html").unlink()
    (place / "order_sheet.md").write_text("scribbled over", encoding="utf-8")
    (place / "masses.csv").write_text("1;2;3", encoding="utf-8")
    done = rebuild_report(place)
    assert sorted(done.changed) == ["masses.csv", "order_sheet.md", "report.html"]
    assert contents(place) == before
    assert rebuild_report(place).changed == ()


def test_evaluation_of_a_study_without_a_design_says_that_it_is_a_first_guess(
    small_outcome: Outcome,
) -> None:
    assert "design" not in small_outcome.study.content
    evaluated = small_outcome.done[0].result
    assert isinstance(evaluated, Appraisal)
    assert evaluated.origin == "first guess by the count problem (the study gives no design)"


def test_explorations_read_what_the_paths_of_the_optimum_take(small_outcome: Outcome) -> None:
    last = small_outcome.done[-1]
    assert last.folder is not None
    assert isinstance(last.result, Appraisal)
    assert last.result.bound is not None
    own, study = paths_of(last.result.bound.problem), small_outcome.study
    store, problem = ResultStore(last.folder.parents[1], study.name), make_problem(study)
    for done, known in (((), store), (small_outcome.done, None)):
        found = paths_found(done, known, problem, result_hash(study))
        assert found is not None
        assert all(np.array_equal(*pair) for pair in zip(found, own, strict=True))
    assert paths_found((), store, problem, "another") is None


def test_nothing_is_optimised(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: Any, **__: Any) -> None:
        raise AssertionError("computed anew")

    for name in ("values_only", "evaluate"):  # what every solver needs
        monkeypatch.setattr(DesignProblem, name, never)
    monkeypatch.setattr("mdo.run.design_analyses.find_optimum", never)
    assert rebuild_report(folder).changed == ()


def test_a_rebuilt_result_is_still_the_one_of_the_run(folder: Path) -> None:
    (folder / "report.html").write_text("x", encoding="utf-8")
    rebuild_report(folder)
    result = open_result(folder)
    assert result.manifest.is_intact(folder)
    left = sorted(path.name for path in folder.parent.iterdir())
    assert left == ["evaluate"]


def test_a_page_that_comes_out_otherwise_is_entered_into_the_manifest(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("mdo.run.analyses.render_report", lambda *_, **__: "<p>new page</p>")
    assert rebuild_report(folder).changed == ("report.html",)
    result = open_result(folder)
    assert result.manifest.is_intact(folder)
    assert result.manifest.complete


def test_page_names_the_versions_of_the_run_not_of_now(folder: Path) -> None:
    path = folder / "manifest.json"
    manifest = json.loads(path.read_text(encoding="utf-8"))
    manifest["versions"]["numpy"] = "0.0.of-the-run"
    path.write_text(json.dumps(manifest), encoding="utf-8")
    rebuild_report(folder)
    assert "0.0.of-the-run" in (folder / "report.html").read_text(encoding="utf-8")


def test_output_leaves_the_result_as_it_is(folder: Path, tmp_path: Path) -> None:
    report = (folder / "report.html").read_bytes()
    (folder / "report.html").write_text("mine", encoding="utf-8")
    before = contents(folder)
    assert rebuild_report(folder, tmp_path / "pägé.html").page == tmp_path / "pägé.html"
    page = (tmp_path / "pägé.html").read_text(encoding="utf-8")
    places = re.findall(r'href="([^"#]+)/(review\.html|order_sheet\.md)"', page)
    assert len(places) == 2
    for place, name in places:
        assert (tmp_path / unquote(place) / name).samefile(folder / name)
    assert linked_here(page.encode()) == report
    assert contents(folder) == before


def test_output_that_cannot_be_written_is_said(folder: Path, tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="a folder, expected the name of a file"):
        rebuild_report(folder, tmp_path)
    with pytest.raises(StoreError, match=r"no folder .*none; make it first"):
        rebuild_report(folder, tmp_path / "none" / "page.html")


class TestRecord:
    def test_reads_back_to_the_same_bits(self, ran: Path, tmp_path: Path) -> None:
        result = open_result(ran / "optimum")
        text = (result.folder / "record.json").read_text(encoding="utf-8")
        again = read_record(text, result.manifest.study_text, tmp_path)
        assert record_text(again) == text
        assert again.optimum is not None
        assert again.optimum.problem is again.problem
        assert np.array_equal(again.optimum.design, again.x)
        computed = again.problem.values(again.x)
        assert computed.keys() == again.values.keys()
        for name, value in computed.items():
            assert np.array_equal(value, again.values[name], equal_nan=True), name

    def test_numbers_that_are_not_finite_are_words(self, ran: Path, tmp_path: Path) -> None:
        odd = np.array([[np.nan, np.inf], [-np.inf, 1.0 / 3.0]])
        with stored_appraisal(open_result(ran / "evaluate")) as appraisal:
            text = record_text(replace(appraisal, values={**appraisal.values, "odd": odd}))
        json.loads(text, parse_constant=lambda word: pytest.fail(f"{word} is no JSON"))
        again = read_record(text, appraisal.study.text, tmp_path / "b").values["odd"]
        assert np.array_equal(again, odd, equal_nan=True)

    @pytest.mark.parametrize(
        ("old", "new"),
        [('"format": 4', '"format": 3'), ('"design"', '"desire"'), ("{", "["), ("nan", "nan,")],
    )
    def test_a_spoiled_one_is_a_value_error(
        self, ran: Path, tmp_path: Path, old: str, new: str
    ) -> None:
        result = open_result(ran / "evaluate")
        text = (result.folder / "record.json").read_text(encoding="utf-8")
        assert old in text
        spoiled = text.replace(old, new, 1)
        with pytest.raises(ValueError, match=r"."):
            read_record(spoiled, result.manifest.study_text, tmp_path)


@pytest.mark.parametrize(
    "name",
    [
        pytest.param("my cards ü/lot 7.toml", marks=pytest.mark.slow),
        "../up/my cards ü/lot 7.toml",
        pytest.param("root", marks=pytest.mark.slow),
    ],
)
def test_own_card_is_kept_in_the_result(tmp_path: Path, name: str) -> None:
    own = tmp_path / "my cards ü"
    own.mkdir()
    (tmp_path / "up").mkdir()
    card = (CARDS / "nitihf20_set1.toml").read_text(encoding="utf-8")
    (own / "lot 7.toml").write_text(card, encoding="utf-8")
    shutil.copytree(own, tmp_path / "up" / "my cards ü")
    named = str(own / "lot 7.toml") if name == "root" else name
    content = dict(load_study(SMALL).content)
    content["actuator"] = {**content["actuator"], "alloy": named}
    content["analysis"] = {"defence": {
        "choices": {"alloy": ["nitihf20_set1", str(own / "lot 7.toml")]}}}  # fmt: skip
    study = replace(
        study_from_dict(content, folder=tmp_path / "up" if "up" in name else tmp_path),
        analyses=("evaluate",),
    )
    run_study(study, results_root=tmp_path / "r")
    shutil.rmtree(own)
    shutil.rmtree(tmp_path / "up")
    folder = tmp_path / "r" / "deck_small" / "evaluate"
    before = contents(folder)
    (folder / "report.html").unlink()
    rebuild_report(folder)
    assert contents(folder) == before


# ---- what is no result, or not a whole one


def test_no_such_folder(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="no such folder, expected the folder of a finished"):
        rebuild_report(tmp_path / "nowhere")


def test_a_file_that_is_no_result() -> None:
    with pytest.raises(StoreError, match=r"deck_small\.toml: a file, expected the folder"):
        rebuild_report(SMALL)


def test_a_file_in_a_result_stands_for_it(folder: Path) -> None:
    assert rebuild_report(folder / "report.html").changed == ()


def test_folder_of_the_study_names_the_results_in_it(folder: Path) -> None:
    with pytest.raises(StoreError, match=r"holds results but is none itself; .*evaluate"):
        rebuild_report(folder.parent)


def test_a_folder_of_something_else(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match=r"no result \(it has no manifest\.json\).*fold-mdo run"):
        rebuild_report(tmp_path)


def test_a_killed_run_is_not_finished(folder: Path) -> None:
    folder.rename(folder.with_name(".evaluate.part"))
    with pytest.raises(StoreError, match="not finished; run the study again"):
        rebuild_report(folder)


def spoiled_manifest(folder: Path, **changes: Any) -> None:
    path = folder / "manifest.json"
    manifest = json.loads(path.read_text(encoding="utf-8"))
    path.write_text(json.dumps({**manifest, **changes}), encoding="utf-8")


def test_another_version_of_the_tool(folder: Path) -> None:
    spoiled_manifest(folder, versions={"fold-mdo": "0.0.7"})
    with pytest.raises(StoreError, match=r"made by fold-mdo 0\.0\.7, this is .*run the study aga"):
        rebuild_report(folder)


@pytest.mark.parametrize(
    "changes",
    [{"complete": False}, {"versions": []}, {"files": {"../x": "0" * 64}}, {"files": {"x": 3}},
     {"study_text": None}, {"tables": {"ghost": {}}}, {"surprise": 1}],
)  # fmt: skip
def test_a_spoiled_manifest_is_one_message(folder: Path, changes: dict[str, Any]) -> None:
    spoiled_manifest(folder, **changes)
    with pytest.raises(StoreError, match=r"not finished|edited or damaged|not a manifest"):
        rebuild_report(folder)


def test_a_manifest_with_another_study_text(folder: Path) -> None:
    spoiled_manifest(folder, study_text=SMALL.read_text(encoding="utf-8") + "# more\n")
    with pytest.raises(StoreError, match="belongs to another text of the study"):
        rebuild_report(folder)


@pytest.mark.parametrize("name", ["masses.parquet", "record.json", "summary.json", "summary.txt"])
def test_an_edited_or_missing_file_is_named(folder: Path, name: str) -> None:
    data = (folder / name).read_bytes()
    (folder / name).write_bytes(data[:-1] + bytes([data[-1] ^ 1]))
    with pytest.raises(StoreError, match=rf"changed since written: {name}"):
        rebuild_report(folder)
    (folder / name).unlink()
    with pytest.raises(StoreError, match=rf"missing: {name}"):
        rebuild_report(folder)


def test_a_manifest_without_tables_is_said(folder: Path) -> None:
    spoiled_manifest(folder, tables={})
    with pytest.raises(StoreError, match=r"has no tables, expected those .*run the study again"):
        rebuild_report(folder)


@pytest.mark.parametrize("study", ["", "[study]\nname = 'a'\n", "{", '{"study": 3}'])
def test_a_foreign_manifest_of_an_exploration_is_said(
    folder: Path, study: str, capsys: Capture
) -> None:
    spoiled_manifest(folder, analysis="map", study_text=study)
    with pytest.raises(StoreError, match=r"not what a run writes \(.*\); run the study again"):
        rebuild_report(folder)
    assert cli.main(["report", str(folder)]) == cli.BAD_INPUT
    assert "Traceback" not in capsys.readouterr().err


def test_a_foreign_order_sheet_is_said(folder: Path, capsys: Capture) -> None:
    manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    shutil.copy(folder / "masses.parquet", folder / "order_sheet.parquet")
    manifest["files"]["order_sheet.parquet"] = manifest["files"]["masses.parquet"]
    spoiled_manifest(folder, files=manifest["files"])
    assert cli.main(["order", str(folder)]) == cli.BAD_INPUT
    assert "not what a run writes (KeyError" in capsys.readouterr().err


def linked_here(page: bytes) -> bytes:
    """Page with links as it has them beside its result."""
    return re.sub(rb'href="[^"#]+/(review\.html|order_sheet\.md)"', rb'href="\1"', page)


@pytest.mark.skipif(sys.platform == "win32", reason="links and pipes of POSIX")
class TestOutput:
    """What is named as output and is no plain file stays what it is."""

    def test_a_link_stays_and_its_file_gets_the_page(self, folder: Path, tmp_path: Path) -> None:
        (tmp_path / "there").mkdir()
        for target in ("there/page.html", "there/new.html"):
            link = tmp_path / f"link to {Path(target).name}"
            link.symlink_to(target)
            rebuild_report(folder, link)
            assert link.is_symlink()
            page = (tmp_path / target).read_bytes()
            assert linked_here(page) == (folder / "report.html").read_bytes()
            assert os.path.relpath(folder, (tmp_path / target).parent).encode() in page

    def test_a_pipe_takes_the_page(self, folder: Path, tmp_path: Path) -> None:
        pipe = tmp_path / "pipe"
        os.mkfifo(pipe)
        taken: list[bytes] = []
        reader = threading.Thread(target=lambda: taken.append(pipe.read_bytes()))
        reader.start()
        rebuild_report(folder, pipe)
        reader.join(timeout=60)
        assert list(map(linked_here, taken)) == [(folder / "report.html").read_bytes()]
        assert pipe.is_fifo()

    @pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
    def test_a_full_device_is_one_message_and_stays(self, folder: Path) -> None:
        with pytest.raises(StoreError, match=r"/dev/full: cannot write: No space left"):
            rebuild_report(folder, "/dev/full")
        assert Path("/dev/full").is_char_device()


def test_a_result_from_before_there_were_records(folder: Path) -> None:
    manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    del manifest["files"]["record.json"]
    spoiled_manifest(folder, files=manifest["files"])
    with pytest.raises(StoreError, match=r"no record\.json\); run the study again"):
        rebuild_report(folder)


def test_verb_says_what_changed_and_what_is_wrong(folder: Path, capsys: Capture) -> None:
    (folder / "masses.csv").unlink()
    assert cli.main(["report", str(folder)]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "changed: masses.csv", f"report: {folder / 'report.html'}"
    ]  # fmt: skip
    assert cli.main(["report", str(folder)]) == 0
    assert "nothing: every file is as it was" in capsys.readouterr().out
    assert cli.main(["report", str(folder / "none")]) == cli.BAD_INPUT
    told = capsys.readouterr()
    assert told.out == ""
    assert "no such folder" in told.err
    assert "Traceback" not in told.err


@pytest.mark.slow
def test_report_of_a_defended_optimum_has_the_bytes_of_the_run(tmp_path: Path) -> None:
    wanted = {"starts": 2, "cost_ranges": False, "break_even": False, "samples": 64,
              "choices": {"heater": ["cartridge", "wrap"]}}  # fmt: skip
    content = dict(load_study(SMALL).content)
    content["analysis"] = {**content.get("analysis", {}), "defence": {
        **content.get("analysis", {}).get("defence", {}), **wanted}}  # fmt: skip
    study = replace(study_from_dict(content, folder=SMALL.parent), analyses=("defence",))
    run_study(study, results_root=tmp_path)
    folder = tmp_path / "deck_small" / "defence"
    before = contents(folder)
    (folder / "report.html").unlink()
    assert rebuild_report(folder).changed == ("report.html",)
    assert contents(folder) == before
    assert b"whole tubes and stock sizes" in before["order_sheet.md"]


def test_table_of_loads_is_kept_in_the_record(tmp_path: Path) -> None:
    example = Path(__file__).parents[1] / "docs" / "examples" / "deck_light.toml"
    for file in example.parent.glob("deck_light*"):
        shutil.copy(file, tmp_path)
    study = load_study(tmp_path / "deck_light.toml")
    assert study.load_table is not None
    problem = make_problem(study)
    given = Appraisal("evaluate", problem, problem.lower, {}, None, "none")
    text = record_text(given)
    assert '"study_file": "deck_light.toml"' in text
    for file in tmp_path.iterdir():
        file.unlink()
    again = read_record(text, study.text, tmp_path / "aside")
    assert again.study.load_table == study.load_table
    assert again.study.hash == study.hash
    assert np.array_equal(again.problem.theta, problem.theta)


def test_a_record_never_writes_outside_of_its_folder(ran: Path, tmp_path: Path) -> None:
    result = open_result(ran / "evaluate")
    text = (result.folder / "record.json").read_text(encoding="utf-8")
    evil = {"../../../evil.toml": "x", "/evil.toml": "x", "a/../../evil.toml": "x"}
    spoiled = text.replace('"files": {}', f'"files": {json.dumps(evil)}')
    assert spoiled != text
    inside = tmp_path / "one" / "two"
    read_record(spoiled, result.manifest.study_text, inside)
    assert [path.name for path in tmp_path.iterdir()] == ["one"]
    assert [path.name for path in inside.parent.iterdir()] == ["two"]
