"""Chunks are kept, taken up, checked; results are those of a plain loop whatever the scheduler."""

from __future__ import annotations

import hashlib
import io
import os
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from pathlib import Path
from typing import Any

import cheap
import numpy as np
import pyarrow.parquet as pq
import pytest

from mdo.results.files import StoreError
from mdo.results.work import Task, Work, WorkError
from mdo.results.work.processes import LocalProcesses, Worker
from mdo.results.work.tasks import encoded
from mdo.study.reader import StudyError

RUN = cheap.RUN


def silent(_: str) -> None:
    """Say nothing."""


def expected() -> str:
    """Fingerprint of the rows by a plain loop: no chunks, no files, no processes."""
    parts = [cheap.rows(cheap.context(), task.payload) for task in cheap.tasks()]
    whole = hashlib.sha256("\n".join(text for part in parts for text in part["text"]).encode())
    for name in ("number", "share"):
        whole.update(np.concatenate([part[name] for part in parts]).tobytes())
    return whole.hexdigest()


def do(work: Work, context: str = "", tasks: Any = None, say: Any = silent) -> Any:
    tasks = cheap.tasks() if tasks is None else tasks
    return work.do("rows", cheap.FUNCTION, context or cheap.context(), tasks, say)


def chunk_files(place: Path) -> list[Path]:
    return sorted(place.parent.glob(".sweep.chunks-*/rows/*.parquet"))


def test_rows_come_in_the_order_of_the_tasks() -> None:
    lines: list[str] = []
    with Work(None, RUN) as work:
        chunks = do(work, say=lines.append)
        assert cheap.digest(chunks) == expected()
        assert len(chunks) == cheap.CHUNKS
        assert chunks[3]["number"][0].as_py() == 3 * cheap.ROWS
    assert lines[0] == "rows: chunk 1 of 24"
    assert lines[-1] == "rows: chunk 24 of 24"
    assert not work.folder.exists()


def test_finished_chunks_are_taken_and_damaged_ones_done_anew(tmp_path: Path, note: Path) -> None:
    place = tmp_path / "study" / "sweep"
    with Work(place, RUN) as work:
        do(work)
    files = chunk_files(place)
    assert len(files) == cheap.CHUNKS
    files[2].unlink()
    files[5].write_bytes(files[5].read_bytes()[:-7])
    damaged = bytearray(files[9].read_bytes())
    damaged[40] ^= 1
    files[9].write_bytes(damaged)
    files[11].rename(files[11].with_name(f".{files[11].name}.tmp"))
    lines: list[str] = []
    with Work(place, RUN) as work:
        chunks = work.do("rows", "cheap:rows", cheap.context(), cheap.tasks(), lines.append)
        assert cheap.digest(chunks) == expected()
        work.finish()
    assert lines[0] == "rows: chunk 21 of 24 (20 kept from an earlier run)"
    assert len(lines) == 4
    assert [path.name for path in place.parent.iterdir()] == []


def done_numbers(note: Path) -> Counter[int]:
    return Counter(int(line.split()[0]) for line in note.read_text().splitlines())


def test_nothing_is_done_twice(tmp_path: Path, note: Path) -> None:
    context = cheap.context(note=str(note))
    for _ in range(2):
        with Work(tmp_path / "sweep", RUN) as work:
            do(work, context)
    assert done_numbers(note) == Counter(range(cheap.CHUNKS))


@pytest.mark.parametrize("what", ["run", "context", "payload", "function"])
def test_chunks_of_another_run_are_removed(tmp_path: Path, note: Path, what: str) -> None:
    place = tmp_path / "sweep"
    with Work(place, RUN) as work:
        do(work)
        before = set(chunk_files(place))
    tasks = cheap.tasks()
    if what == "payload":
        tasks[7] = Task(tasks[7].key, {"number": 7, "more": np.array([1.0])})
    context = cheap.context(note=str(note)) if what == "context" else cheap.context()
    function = "cheap:same_rows" if what == "function" else cheap.FUNCTION
    lines: list[str] = []
    with Work(place, "f" * 16 if what == "run" else RUN) as work:
        work.do("rows", function, context, tasks, lines.append)
    assert lines[0] == "rows: chunk 1 of 24"
    after = set(chunk_files(place))
    assert len(after) == cheap.CHUNKS
    assert (before == after) == (what != "run")


def test_a_chunk_that_is_changed_while_it_is_needed_is_not_believed(tmp_path: Path) -> None:
    with Work(tmp_path / "sweep", RUN) as work:
        chunks = do(work)
        path = chunk_files(tmp_path / "sweep")[0]
        path.write_bytes(path.read_bytes()[:-1] + b"x")
        with pytest.raises(StoreError, match="changed since it was written"):
            chunks.frame()


def test_two_processes_do_not_share_a_folder(tmp_path: Path) -> None:
    with Work(tmp_path / "sweep", RUN), pytest.raises(StoreError, match="another run"):
        Work(tmp_path / "sweep", RUN, patience=0.1)


def test_faults_of_a_caller_are_named() -> None:
    with pytest.raises(ValueError, match="one length"):
        encoded({"a": np.zeros(3), "b": np.zeros(2)})
    with Work(None, RUN) as work:
        for keys in (["a", "a"], ["a", "A"], ["a/b"], [""], ["a.b"]):
            with pytest.raises(ValueError, match="key of a chunk"):
                do(work, tasks=[Task(key, {"number": 0}) for key in keys])


def test_columns_keep_their_kinds() -> None:
    columns = {
        "whole": np.array([1, -2]),
        "flag": np.array([True, False]),
        "number": np.array([np.nan, -0.0]),
        "text": ["a", "b"],
    }
    table = pq.read_table(io.BytesIO(encoded(columns)))
    for name, values in columns.items():
        assert table[name].to_numpy().tobytes() == np.asarray(values).tobytes() or name == "text"
    assert table["text"].to_pylist() == ["a", "b"]


@pytest.mark.parametrize(
    ("scheduler", "workers", "message"),
    [
        ("Serial", None, "scheduler: unknown, got 'Serial', expected 'serial', 'local'"),
        ("http://host:1", None, "expected 'serial', 'local' or the address"),
        ("local", 0, "workers: got 0, expected 1 or more"),
    ],
)
def test_unknown_schedulers(scheduler: str, workers: int | None, message: str) -> None:
    with pytest.raises(WorkError, match=message):
        Work(None, RUN, scheduler=scheduler, workers=workers)


def test_scheduler_that_does_not_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("mdo.results.work.cluster.CONNECT", 0.5)
    with (
        Work(None, RUN, scheduler="tcp://127.0.0.1:1") as work,
        pytest.raises(WorkError, match=r"no answer from 'tcp://127.0.0.1:1'"),
    ):
        do(work)


def test_error_of_a_chunk_names_it() -> None:
    with Work(None, RUN) as work, pytest.raises(ValueError, match="number 3") as caught:
        do(work, cheap.context(faulty=[3]))
    assert caught.value.__notes__ == ["in chunk part-0003"]


def test_study_errors_survive_the_way_between_processes() -> None:
    import pickle

    error = pickle.loads(pickle.dumps(StudyError(["one", "two"])))
    assert error.problems == ["one", "two"]
    assert str(error) == "one\ntwo"


def environment() -> dict[str, str]:
    """What a process started from here would get that could change how it works."""
    own = ("PYTEST_",)
    return {name: value for name, value in os.environ.items() if not name.startswith(own)}


@pytest.fixture
def dask_environment() -> Any:
    """What a cluster of Dask sets for its own processes goes when the test ends."""
    before = dict(os.environ)
    yield
    os.environ.clear()
    os.environ.update(before)


@pytest.fixture(scope="module")
def local() -> Any:
    """Two worker processes for the tests that need them; nothing of them stays."""
    before = environment()
    with Work(None, RUN, scheduler="local", workers=2) as work:
        yield work
    assert environment() == before


def test_worker_processes_give_the_same_bits_each_on_its_core(local: Work, note: Path) -> None:
    chunks = local.do("pinned", cheap.FUNCTION, cheap.context(0.02, note=str(note)),
                      cheap.tasks(), silent)  # fmt: skip
    assert cheap.digest(chunks) == expected()
    lines = [line.split() for line in note.read_text().splitlines()]
    assert os.getpid() not in {int(process) for _, process, _ in lines}
    assert os.environ["MALLOC_TRIM_THRESHOLD_"] == "1073741824"
    if sys.platform == "linux":
        assert {cores for _, _, cores in lines} == {"1"}


def test_killed_worker_loses_and_doubles_nothing(local: Work, note: Path) -> None:
    """SIGKILL to a worker in the middle; which one and when is drawn, seeded."""
    moments = np.random.default_rng(11)

    def kill() -> None:
        while not note.exists():
            time.sleep(0.01)
        time.sleep(float(moments.uniform(0.0, 0.4)))
        processes = [int(line.split()[1]) for line in note.read_text().splitlines()]
        os.kill(processes[int(moments.integers(len(processes)))], signal.SIGKILL)

    killer = threading.Thread(target=kill)
    killer.start()
    context = cheap.context(0.05, note=str(note))
    chunks = local.do("killed", cheap.FUNCTION, context, cheap.tasks(), silent)
    killer.join()
    assert cheap.digest(chunks) == expected()
    assert set(done_numbers(note)) == set(range(cheap.CHUNKS))


@pytest.mark.slow
def test_workers_killed_twenty_times(note: Path) -> None:
    """One run, and every second or so one of its workers gets SIGKILL, at random."""
    moments = np.random.default_rng(12)
    killed: list[int] = []
    over = threading.Event()

    def kill() -> None:
        while len(killed) < 20 and not over.wait(float(moments.uniform(0.2, 1.8))):
            lines = note.read_text().splitlines() if note.exists() else []
            processes = sorted({int(line.split()[1]) for line in lines[-4:]} - set(killed))
            if processes:
                killed.append(processes[int(moments.integers(len(processes)))])
                os.kill(killed[-1], signal.SIGKILL)

    killer = threading.Thread(target=kill)
    killer.start()
    with Work(None, RUN, scheduler="local", workers=2) as work:
        tasks = cheap.tasks(800)
        chunks = do(work, cheap.context(0.05, note=str(note)), tasks)
        over.set()
        killer.join()
        frame = chunks.frame()
    assert len(killed) == 20
    assert frame["number"].tolist() == list(range(800 * cheap.ROWS))
    plain = [cheap.rows(cheap.context(), task.payload)["share"] for task in tasks]
    assert frame["share"].to_numpy().tobytes() == np.concatenate(plain).tobytes()


def test_error_in_a_worker_is_the_error_of_the_function(local: Work) -> None:
    with pytest.raises(ValueError, match="number 5 is faulty") as caught:
        local.do("faulty", cheap.FUNCTION, cheap.context(faulty=[5]), cheap.tasks(), silent)
    assert caught.value.__notes__ == ["in chunk part-0005"]


@pytest.mark.slow
def test_chunk_that_kills_its_workers_is_named_and_the_others_are_kept(tmp_path: Path) -> None:
    place = tmp_path / "sweep"
    with Work(place, RUN, scheduler="local", workers=2) as work:
        with pytest.raises(WorkError, match=r"chunk part-0002: .* ended 6 times"):
            do(work, cheap.context(deadly=[2]))
        assert len(chunk_files(place)) == cheap.CHUNKS - 1


@pytest.mark.slow
@pytest.mark.usefixtures("dask_environment")
def test_running_scheduler(tmp_path: Path, note: Path) -> None:
    """A Dask scheduler with workers of its own, reached by its address."""
    import distributed

    cluster = distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address=":0"
    )
    with cluster, Work(None, RUN, scheduler=cluster.scheduler_address) as work:
        assert cheap.digest(do(work, cheap.context(note=str(note)))) == expected()
        assert done_numbers(note) == Counter(range(cheap.CHUNKS))


@pytest.mark.slow
@pytest.mark.usefixtures("dask_environment")
@pytest.mark.parametrize(
    ("ending", "message"),
    [
        ("workers", "no workers for 2 s; what is done is kept"),
        ("scheduler", "what is done is kept"),
    ],
)
def test_cluster_that_goes_away_is_an_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ending: str, message: str
) -> None:
    import distributed

    monkeypatch.setattr("mdo.results.work.cluster.ALONE", 2.0)
    monkeypatch.setattr("mdo.results.work.cluster.LOOK", 0.5)
    cluster = distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, host="127.0.0.1", dashboard_address=":0"
    )
    end = (lambda: cluster.scale(0)) if ending == "workers" else cluster.close

    def say(line: str) -> None:
        if "chunk 4 of" in line:
            threading.Thread(target=end).start()

    with Work(tmp_path / "sweep", RUN, scheduler=cluster.scheduler_address) as work:
        with pytest.raises(WorkError, match=message):
            do(work, cheap.context(0.5), say=say)
        assert 3 <= len(chunk_files(tmp_path / "sweep")) < cheap.CHUNKS
    cluster.close()


def test_processes_that_do_not_end_in_time_are_no_error() -> None:
    """A busy machine: what was computed is written, and must not be lost to a slow end."""
    asked: list[str] = []

    class Slow:
        exitcode = None

        def is_alive(self) -> bool:
            return True

        def join(self, timeout: float | None) -> None:
            assert timeout is not None

        def terminate(self) -> None:
            asked.append("terminate")

        def kill(self) -> None:
            asked.append("kill")

        def close(self) -> None:
            asked.append("close")

    pool = LocalProcesses(1)
    pool.workers[0] = Worker(Slow(), Slow())
    pool.close()
    assert asked == ["close", "terminate", "kill"]


@pytest.mark.slow
def test_script_that_starts_processes_while_it_is_imported_is_told_how_to(tmp_path: Path) -> None:
    script = tmp_path / "script.py"
    script.write_text(
        "from mdo.results.work import Task, Work\n"
        'with Work(None, "0" * 64, scheduler="local", workers=1) as work:\n'
        '    work.do("a", "math:sqrt", "{}", [Task("x", {})], print)\n',
        encoding="utf-8",
    )
    told = subprocess.run(
        [sys.executable, str(script)], capture_output=True, text=True, check=False, timeout=120
    )
    assert told.returncode == 1
    assert "WorkError: the worker processes did not start" in told.stderr
    assert "if __name__" in told.stderr
    assert told.stderr.count("Traceback") == 1
