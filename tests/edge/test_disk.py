"""A disk that is full, a folder that cannot be written, two runs at once, a clock set back."""

from __future__ import annotations

import errno
import json
import os
import subprocess
import sys
import threading
import time
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pandas as pd
import pytest

from mdo.cli import main as cli
from mdo.results import ResultStore, StoreError, Writer, open_result
from mdo.results import files as store_files
from mdo.run import analyses
from mdo.run.progress import Tracker

STUDIES = Path(__file__).parents[2] / "studies"
SMALL, MEDIUM = STUDIES / "deck_small.toml", STUDIES / "deck_medium.toml"
Capture = pytest.CaptureFixture[str]
Patch = pytest.MonkeyPatch


def write(root: Path, **options: Any) -> Path:
    """Write a small result."""
    writer = ResultStore(root, "demo", **options).begin("optimum", "text", "hash", 1)
    assert writer is not None
    return finish(writer)


def finish(writer: Writer) -> Path:
    with writer:
        writer.table("designs", pd.DataFrame({"mass": [1.0, 2.0], "status": ["a", "b"]}))
        writer.text("report.html", "<p>text</p>")
        return writer.finish({"feasible": 2}, {"analysis": 1.0})


def no_room(monkeypatch: Patch, at: int) -> None:
    """Let the disk be full from a write on."""
    count = iter(range(10_000))
    real = os.fsync

    def fsync(descriptor: int) -> None:
        if next(count) >= at:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        real(descriptor)

    monkeypatch.setattr(store_files.os, "fsync", fsync)


@pytest.mark.parametrize("at", range(5))
def test_disk_that_fills_at_any_write_leaves_no_half_result(
    tmp_path: Path, monkeypatch: Patch, at: int
) -> None:
    with monkeypatch.context() as full:
        no_room(full, at)
        with pytest.raises(StoreError, match=r"cannot write: No space left.*expected a folder"):
            write(tmp_path)
    shown = [path.name for path in (tmp_path / "demo").iterdir() if path.name[0] != "."]
    assert shown == []
    assert not list(tmp_path.rglob("*.tmp"))
    folder = write(tmp_path)
    assert open_result(folder).table("designs")["mass"].to_list() == [1.0, 2.0]


def test_disk_that_fills_leaves_the_earlier_result_whole(
    tmp_path: Path, monkeypatch: Patch
) -> None:
    folder = write(tmp_path)
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    no_room(monkeypatch, 3)
    other = ResultStore(tmp_path, "demo").begin("optimum", "other text", "other", 1)
    assert other is not None
    with pytest.raises(StoreError, match="cannot write"):
        finish(other)
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


@pytest.fixture
def _cheap(optimum: Any, monkeypatch: Patch) -> None:
    """Let a run give the optimum that other tests have found."""
    problem = SimpleNamespace(compile_ahead=lambda: None, correction=None)
    monkeypatch.setattr(analyses, "make_problem", lambda _: problem)
    given = analyses.ANALYSES["optimum"]._replace(run=lambda *_: optimum)
    monkeypatch.setitem(analyses.ANALYSES, "optimum", given)


@pytest.mark.usefixtures("_cheap")
@pytest.mark.parametrize("form", [[], ["--json"]])
def test_what_was_computed_is_shown_though_it_cannot_be_written(
    tmp_path: Path, monkeypatch: Patch, capsys: Capture, form: list[str]
) -> None:
    no_room(monkeypatch, 4)
    line = ["run", str(MEDIUM), "--analysis", "optimum", "--results", str(tmp_path), *form]
    assert cli.main(line) == cli.BAD_INPUT
    told = capsys.readouterr()
    last = told.err.splitlines()[-1]
    assert "cannot write: No space left on device" in last
    assert "choose another one for the results" in last
    assert "kg" in told.out
    if form:
        assert json.loads(told.out)["results"]["optimum"] == {"folder": None, "run_before": False}
    else:
        assert "Results of" not in told.out


@pytest.mark.parametrize("root", ["file", "file/below", "\0", "n" * 300])
def test_folder_that_cannot_be_written_is_told_before_anything_is_computed(
    tmp_path: Path, monkeypatch: Patch, capsys: Capture, root: str
) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    monkeypatch.setattr(analyses, "make_problem", lambda _: pytest.fail("it was computed"))
    place = f"{tmp_path}{os.sep}{root}"
    assert cli.main(["run", str(SMALL), "--results", place]) == cli.BAD_INPUT
    told = capsys.readouterr()
    assert told.out == ""
    assert len(told.err.splitlines()) == 1
    assert "expected a folder with permission and room" in told.err


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write all")
def test_folder_without_permission_is_told(tmp_path: Path, capsys: Capture) -> None:
    tmp_path.chmod(0o500)
    assert cli.main(["run", str(SMALL), "--results", str(tmp_path)]) == cli.BAD_INPUT
    assert "Permission denied" in capsys.readouterr().err


def test_probe_of_the_folder_leaves_nothing(tmp_path: Path) -> None:
    ResultStore(tmp_path, "demo").check_writable()
    assert list((tmp_path / "demo").iterdir()) == []


def test_second_run_waits_for_the_first_and_finds_its_result(tmp_path: Path) -> None:
    first = ResultStore(tmp_path, "demo").begin("optimum", "text", "hash", 1)
    assert first is not None
    found: list[Writer | None] = []
    second = threading.Thread(
        target=lambda: found.append(
            ResultStore(tmp_path, "demo").begin("optimum", "text", "hash", 1)
        )
    )
    second.start()
    time.sleep(0.3)
    assert second.is_alive()
    finish(first)
    second.join(timeout=20)
    assert found == [None]
    assert [path.name for path in (tmp_path / "demo").iterdir()] == ["optimum"]


@pytest.mark.slow
def test_three_runs_of_a_study_at_once_end_well(tmp_path: Path) -> None:
    line = [sys.executable, "-m", "mdo.cli.main", "run", str(SMALL), "--analysis", "evaluate"]
    line += ["--results", str(tmp_path), "--json"]
    runs = [subprocess.Popen(line, stdout=subprocess.PIPE, text=True) for _ in range(3)]
    told = [run.communicate(timeout=600)[0] for run in runs]
    assert {run.returncode for run in runs} == {3}  # a first guess is no feasible design
    folders = {json.loads(out)["results"]["evaluate"]["folder"] for out in told}
    assert folders == {str(tmp_path / "deck_small" / "evaluate")}
    assert os.listdir(tmp_path / "deck_small") == ["evaluate"]  # noqa: PTH208
    assert open_result(tmp_path / "deck_small" / "evaluate").manifest.complete


MANIFESTS = ("[" * 100_000, "3", "{}", '{"study": 1}', "\0", "", "[]", '"x"')


@pytest.mark.parametrize("text", MANIFESTS, ids=range(len(MANIFESTS)))
def test_manifest_of_another_kind_is_no_result(tmp_path: Path, text: str) -> None:
    folder = write(tmp_path)
    (folder / "manifest.json").write_text(text, encoding="utf-8")
    with pytest.raises(StoreError, match="not a manifest of results"):
        open_result(folder)
    assert write(tmp_path) == folder  # the other one was moved aside
    assert len(list((tmp_path / "demo").iterdir())) == 2


@pytest.mark.parametrize(
    ("field", "value"),
    [("files", {"../x": "0"}), ("files", ["a"]), ("tables", 3), ("seed", "1"), ("files", {"a": 1})],
)
def test_manifest_with_fields_of_another_kind_is_no_result(
    tmp_path: Path, field: str, value: object
) -> None:
    folder = write(tmp_path)
    content = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    text = json.dumps(content | {field: value})
    (folder / "manifest.json").write_text(text, encoding="utf-8")
    with pytest.raises(StoreError, match="not a manifest of results"):
        open_result(folder)
    assert write(tmp_path) == folder


@pytest.mark.parametrize("name", ["con", "NUL", "aux.x", "com1", "a.", "..", "", "a/b", "a b"])
def test_name_that_is_none_on_some_system_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(ValueError, match="not a name"):
        ResultStore(tmp_path, name)


def test_clock_that_is_set_back_changes_nothing(tmp_path: Path, monkeypatch: Patch) -> None:
    back = iter(range(10**9, 0, -86_400))
    monkeypatch.setattr(time, "time", lambda: float(next(back)))
    states: list[Any] = []
    tracker = Tracker(lambda _: None, states.append)
    tracker("anything")
    first, second = write(tmp_path / "one"), write(tmp_path / "two")
    texts = [(folder / "manifest.json").read_bytes() for folder in (first, second)]
    assert texts[0] == texts[1]
    assert states[0].left is None or states[0].left >= 0.0
    assert ResultStore(tmp_path / "one", "demo").begin("optimum", "text", "hash", 1) is None
