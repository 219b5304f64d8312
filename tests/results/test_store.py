"""The result store: whole or not there, same bytes, nothing overwritten, clear errors."""

from __future__ import annotations

import csv
import json
import os
import re
import signal
import subprocess
import sys
import textwrap
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from mdo.results import ResultStore, StoreError, Writer, open_result
from mdo.results import store as store_module
from mdo.results.store import unit_of

TEXT, HASH, SEED = '[study]\nname = "demo"  # déjà vu\n', "0123456789abcdef", 7
OTHER, OTHER_HASH = '[study]\nname = "demo"\n', "fedcba9876543210"
NOBODY = 65534


def designs() -> pd.DataFrame:
    generator = np.random.default_rng(3)
    return pd.DataFrame(
        {
            "tube_length": generator.random(50) / 3,
            "tube_count.up": np.arange(50),
            "status": ["feasible", "infeasible"] * 25,
            "torque_margin": np.where(np.arange(50) % 7 == 0, np.nan, 0.1),
        }
    )


def begun(root: Path, text: str = TEXT, hash_: str = HASH) -> Writer:
    writer = ResultStore(root, "demo").begin("optimum", text, hash_, SEED)
    assert writer is not None
    return writer


def run(root: Path, text: str = TEXT, hash_: str = HASH) -> Path:
    with begun(root, text, hash_) as writer:
        writer.table("designs", designs())
        writer.table("legs", designs().head(3))
        writer.text("report.html", "<p>Größe: 3 mm²</p>")
        return writer.finish({"feasible": 25, "infeasible": 25}, {"optimum": 1.25})


def files(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.suffix != ".json"}


def test_result_has_tables_twins_text_and_manifest_and_nothing_else(tmp_path: Path) -> None:
    folder = run(tmp_path)
    assert folder == tmp_path / "demo" / "optimum"
    assert sorted(path.name for path in folder.iterdir()) == [
        "designs.csv",
        "designs.parquet",
        "legs.csv",
        "legs.parquet",
        "manifest.json",
        "report.html",
    ]
    assert [path.name for path in folder.parent.iterdir()] == ["optimum"]
    assert (folder / "report.html").read_text(encoding="utf-8") == "<p>Größe: 3 mm²</p>"


def test_table_and_its_csv_twin_hold_the_same_numbers(tmp_path: Path) -> None:
    folder = run(tmp_path)
    pd.testing.assert_frame_equal(open_result(folder).table("designs"), designs())
    with (folder / "designs.csv").open(encoding="utf-8-sig", newline="") as file:
        twin = list(csv.DictReader(file))
    assert [float(row["tube_length"]) for row in twin] == designs()["tube_length"].to_list()
    assert [row["status"] for row in twin] == designs()["status"].to_list()
    assert [row["torque_margin"] for row in twin[:2]] == ["", "0.1"]


def test_manifest_says_what_was_run_and_what_came_out(tmp_path: Path) -> None:
    result = open_result(run(tmp_path))
    manifest = json.loads((result.folder / "manifest.json").read_text(encoding="utf-8"))
    assert manifest["complete"] is True
    assert (manifest["study"], manifest["analysis"]) == ("demo", "optimum")
    assert (manifest["study_text"], manifest["study_hash"], manifest["seed"]) == (TEXT, HASH, SEED)
    assert {"python", "fold-mdo", "jax", "numpy", "openmdao"} <= manifest["versions"].keys()
    assert manifest["status_counts"] == {"feasible": 25, "infeasible": 25}
    assert manifest["timings"] == {"optimum": 1.25}
    assert manifest["tables"]["designs"]["rows"] == 50
    assert manifest["tables"]["designs"]["columns"]["tube_length"] == "m"
    assert manifest["files"].keys() == files(result.folder).keys()
    assert result.tables == ("designs", "legs")


@pytest.mark.parametrize(
    ("column", "unit"), [("hinge_height", "m"), ("pre_twist.up", "rad"), ("status", "")]
)
def test_unit_of_a_column_comes_from_the_table_of_quantities(column: str, unit: str) -> None:
    assert unit_of(column) == unit


def test_same_study_again_is_nothing_to_do(tmp_path: Path) -> None:
    folder = run(tmp_path)
    before = {path: path.stat().st_mtime_ns for path in folder.iterdir()}
    store = ResultStore(tmp_path, "demo")
    assert store.begin("optimum", TEXT, HASH, SEED) is None
    found = store.find("optimum", study_text=TEXT, study_hash=HASH, seed=SEED)
    assert found is not None
    assert found.folder == folder
    assert {path: path.stat().st_mtime_ns for path in folder.iterdir()} == before
    assert [path.name for path in folder.parent.iterdir()] == ["optimum"]


def test_two_runs_give_the_same_bytes(tmp_path: Path) -> None:
    assert files(run(tmp_path / "one")) == files(run(tmp_path / "two"))


def test_changed_study_keeps_the_older_result_under_its_hash(tmp_path: Path) -> None:
    older = files(run(tmp_path))
    folder = run(tmp_path, OTHER, OTHER_HASH)
    kept = folder.with_name("optimum-0123456789")
    assert files(kept) == older
    assert open_result(folder).manifest.study_hash == OTHER_HASH
    assert open_result(kept).manifest.study_text == TEXT
    store = ResultStore(tmp_path, "demo")
    assert store.begin("optimum", TEXT, HASH, SEED) is None
    found = store.find("optimum", study_text=TEXT, study_hash=HASH, seed=SEED)
    assert found is not None
    assert found.folder == kept


def test_other_version_of_the_tool_runs_again(tmp_path: Path) -> None:
    versions = {**store_module.tool_versions(), "fold-mdo": "999"}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(store_module, "tool_versions", lambda: versions)
        run(tmp_path)
    run(tmp_path)
    names = sorted(path.name for path in (tmp_path / "demo").iterdir())
    assert names == ["optimum", "optimum-0123456789"]


def test_other_seed_runs_again(tmp_path: Path) -> None:
    run(tmp_path)
    writer = ResultStore(tmp_path, "demo").begin("optimum", TEXT, HASH, SEED + 1)
    assert writer is not None
    writer.close()


def test_names_to_keep_are_never_taken_twice(tmp_path: Path) -> None:
    for _ in range(3):
        folder = run(tmp_path)
        (folder / "designs.csv").write_text("damaged", encoding="utf-8")
    names = sorted(path.name for path in (tmp_path / "demo").iterdir())
    assert names == ["optimum", "optimum-0123456789", "optimum-0123456789-2"]


def test_folder_of_another_origin_is_kept(tmp_path: Path) -> None:
    mine = tmp_path / "demo" / "optimum"
    mine.mkdir(parents=True)
    (mine / "notes.txt").write_text("mine", encoding="utf-8")
    folder = run(tmp_path)
    assert (folder.with_name("optimum-unknown") / "notes.txt").read_text(encoding="utf-8") == "mine"


def killed_run(root: Path) -> None:
    """Run in a process of its own that is killed when it has written its first table."""
    program = f"""
    import sys, time
    from pathlib import Path
    sys.path.insert(0, {str(Path(__file__).parent)!r})
    from test_store import begun, designs
    writer = begun(Path({str(root)!r}))
    writer.table("designs", designs())
    writer.text("report.html", "half of it")
    (writer._part / ".legs.parquet.tmp").write_bytes(b"half a table")
    print("written", flush=True)
    time.sleep(60)
    """
    with subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(program)], stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "written\n"
        process.send_signal(signal.SIGKILL)


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL")
class TestKilledRun:
    def test_leaves_only_hidden_names(self, tmp_path: Path) -> None:
        killed_run(tmp_path)
        names = sorted(path.name for path in (tmp_path / "demo").iterdir())
        assert names == [".optimum.lock", ".optimum.part"]

    def test_ends_with_the_bytes_of_one_that_was_not_killed(self, tmp_path: Path) -> None:
        killed_run(tmp_path / "killed")
        resumed = run(tmp_path / "killed")
        assert files(resumed) == files(run(tmp_path / "whole"))
        assert [path.name for path in resumed.parent.iterdir()] == ["optimum"]

    def test_leaves_nothing_to_the_next_run(self, tmp_path: Path) -> None:
        killed_run(tmp_path)
        begun(tmp_path, OTHER, OTHER_HASH).close()
        part = tmp_path / "demo" / ".optimum.part"
        assert [path.name for path in part.iterdir()] == ["manifest.json"]


def test_run_that_fails_shows_no_result_and_lets_the_lock_go(tmp_path: Path) -> None:
    def fail() -> None:
        with begun(tmp_path) as writer:
            writer.table("designs", designs())
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail()
    assert [path.name for path in (tmp_path / "demo").iterdir()] == [".optimum.part"]
    run(tmp_path)


def test_second_run_at_once_is_told_who_writes(tmp_path: Path) -> None:
    store = ResultStore(tmp_path, "demo", patience=0.0)
    with begun(tmp_path), pytest.raises(StoreError, match=rf"process {os.getpid()}\) is writing"):
        store.begin("optimum", TEXT, HASH, SEED)
    begun(tmp_path).close()


def test_second_process_at_once_is_told(tmp_path: Path) -> None:
    program = f"""
    from mdo.results import ResultStore, StoreError
    try:
        store = ResultStore({str(tmp_path)!r}, "demo", patience=0.2)
        store.begin("optimum", "text", "hash", 1)
    except StoreError as error:
        print(error)
    """
    with begun(tmp_path):
        told = subprocess.run(
            [sys.executable, "-c", textwrap.dedent(program)],
            capture_output=True,
            text=True,
            check=True,
        )
    assert "another run" in told.stdout
    assert "wait for it to end" in told.stdout


def test_other_analysis_of_the_study_may_run_at_once(tmp_path: Path) -> None:
    with begun(tmp_path):
        other = ResultStore(tmp_path, "demo").begin("evaluate", TEXT, HASH, SEED)
        assert other is not None
        other.close()


def test_root_that_is_a_file_is_one_message(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(StoreError, match="cannot make the folder: Not a directory"):
        begun(tmp_path / "file")


@pytest.mark.skipif(sys.platform == "win32", reason="permissions of POSIX")
def test_folder_without_permission_is_one_message(tmp_path: Path) -> None:
    program = f"""
    import os
    from mdo.results import ResultStore, StoreError
    from mdo.results.manifest import tool_versions
    store = ResultStore({str(tmp_path)!r}, "demo")
    tool_versions()
    if os.geteuid() == 0:
        os.setuid({NOBODY})
    try:
        store.begin("optimum", "text", "hash", 1)
    except StoreError as error:
        print(error)
    """
    tmp_path.chmod(0o500)
    try:
        told = subprocess.run(
            [sys.executable, "-c", textwrap.dedent(program)],
            capture_output=True,
            text=True,
            check=True,
        )
    finally:
        tmp_path.chmod(0o700)
    assert re.search(r"cannot (make the folder|read): Permission denied; expected", told.stdout)
    assert len(told.stdout.splitlines()) == 1


@pytest.mark.skipif(sys.platform == "win32", reason="limits of POSIX")
def test_full_disk_is_one_message_and_leaves_no_partial_file(tmp_path: Path) -> None:
    program = f"""
    import resource, sys
    from pathlib import Path
    sys.path.insert(0, {str(Path(__file__).parent)!r})
    from test_store import begun, designs
    from mdo.results import StoreError
    writer = begun(Path({str(tmp_path)!r}))
    writer.table("legs", designs().head(3))
    resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))
    try:
        writer.table("designs", designs())
    except StoreError as error:
        print(error)
    """
    told = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(program)], capture_output=True, text=True, check=True
    )
    assert "designs.parquet: cannot write: File too large; expected a folder" in told.stdout
    left = sorted(path.name for path in (tmp_path / "demo" / ".optimum.part").iterdir())
    assert left == ["legs.csv", "legs.parquet", "manifest.json"]


def test_opening_refuses_what_is_no_result(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match=r"no result \(it has no manifest\.json\)"):
        open_result(tmp_path)
    (tmp_path / "manifest.json").write_text("[]", encoding="utf-8")
    with pytest.raises(StoreError, match="not a manifest of results"):
        open_result(tmp_path)


def test_opening_refuses_what_is_not_finished(tmp_path: Path) -> None:
    with begun(tmp_path), pytest.raises(StoreError, match="not finished; run the study again"):
        open_result(tmp_path / "demo" / ".optimum.part")


def test_reading_tells_a_changed_or_unknown_table(tmp_path: Path) -> None:
    result = open_result(run(tmp_path))
    with pytest.raises(StoreError, match="no table 'nothing', expected one of: designs, legs"):
        result.table("nothing")
    (result.folder / "legs.parquet").write_bytes(b"changed")
    with pytest.raises(StoreError, match="changed since it was written"):
        result.table("legs")


@pytest.mark.parametrize("name", ["", "..", "a/b", ".hidden", "a" * 200])
def test_names_that_are_no_file_names_are_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(ValueError, match="not a name"):
        ResultStore(tmp_path, name)
    with begun(tmp_path) as writer, pytest.raises(ValueError, match="not a name"):
        writer.text(name, "")


def test_columns_of_one_name_are_refused(tmp_path: Path) -> None:
    data = pd.DataFrame([[1, 2]], columns=["a", "a"])
    with begun(tmp_path) as writer, pytest.raises(ValueError, match="two columns"):
        writer.table("designs", data)
