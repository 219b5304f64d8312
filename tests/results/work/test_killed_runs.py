"""kill -9 and Ctrl-C of the process that runs it all: the next run ends with the same bits."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import cheap
import pytest
from test_work import expected

from mdo.results.work import Work

SCRIPT = Path(cheap.__file__)
PAUSE = 0.03  # [s] per chunk: a run takes about a second
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")


@pytest.fixture(autouse=True)
def _children_hear_the_signal() -> Any:
    """A process in the background ignores Ctrl-C and hands that down; these tests must not."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


def start(place: Path, scheduler: str) -> subprocess.Popen[str]:
    line = [sys.executable, str(SCRIPT), str(place), scheduler, str(PAUSE)]
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    return subprocess.Popen(line, text=True, start_new_session=True, **pipes)


def kill_after(process: subprocess.Popen[str], place: Path, chunks: int, seconds: float) -> None:
    """Kill a run some time after so many chunks were kept; it may have ended by itself."""
    assert process.stdout is not None
    assert process.stdout.readline() == "ready\n"
    while chunks_kept(place) < chunks and process.poll() is None:
        time.sleep(0.002)
    time.sleep(seconds)
    process.kill()
    process.communicate(timeout=60)


def finished(place: Path, scheduler: str) -> str:
    """Fingerprint of the rows of the next run, which is left to end."""
    with Work(place, cheap.RUN, scheduler=scheduler, workers=2, patience=20.0) as work:
        context = cheap.context(PAUSE)
        found = cheap.digest(
            work.do("rows", cheap.FUNCTION, context, cheap.tasks(), lambda _: None)
        )
        work.finish()
    return found


def chunks_kept(place: Path) -> int:
    return len(list(place.parent.glob(f".{place.name}.chunks-*/rows/[!.]*.parquet")))


def kill_and_resume(tmp_path: Path, scheduler: str, seed: int, times: int) -> int:
    """Kill runs at random moments and let each be finished; gives how many were half done."""
    moments = random.Random(seed)
    partly = 0
    for number in range(times):
        place = tmp_path / str(number) / "sweep"
        chunks = moments.randrange(cheap.CHUNKS - 2)
        pause = moments.uniform(0.0, PAUSE if chunks else 2.0 * PAUSE)
        kill_after(start(place, scheduler), place, chunks, pause)
        partly += 0 < chunks_kept(place) < cheap.CHUNKS
        assert finished(place, scheduler) == expected()
        assert list(place.parent.iterdir()) == []
    return partly


def test_killed_main_process_is_taken_up(tmp_path: Path) -> None:
    assert kill_and_resume(tmp_path, "serial", seed=5, times=2) >= 1


@pytest.mark.slow
@pytest.mark.parametrize("scheduler", ["serial", "local"])
def test_main_process_killed_twenty_times(tmp_path: Path, scheduler: str) -> None:
    assert kill_and_resume(tmp_path, scheduler, seed=6, times=20) >= 10


def children(process: int) -> list[int]:
    """Processes that a process has started, by the kernel's list."""
    found = subprocess.run(["ps", "-o", "pid=", "--ppid", str(process)],
                           capture_output=True, text=True, check=False)  # fmt: skip
    return [int(line) for line in found.stdout.split()]


def alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except OSError:
        return False
    state = Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rsplit(")", 1)[1].split()[0]
    return state != "Z"


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGKILL])
def test_workers_end_with_the_main_process(tmp_path: Path, number: int) -> None:
    process = start(tmp_path / "sweep", "local")
    while chunks_kept(tmp_path / "sweep") < 2:
        time.sleep(0.05)
    workers = children(process.pid)
    assert len(workers) >= 2
    if number == signal.SIGINT:  # as a terminal does it: to the workers too
        os.killpg(process.pid, number)
    else:
        process.send_signal(number)
    _, error = process.communicate(timeout=30)
    assert process.returncode != 0
    assert error.count("Traceback") == (number == signal.SIGINT)
    end = time.monotonic() + 15.0
    while any(alive(one) for one in workers) and time.monotonic() < end:
        time.sleep(0.1)
    assert not any(alive(one) for one in workers)
    assert finished(tmp_path / "sweep", "serial") == expected()
