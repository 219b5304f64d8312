"""kill -9 of real explorations: main process and workers, twenty times each, the same bytes."""

from __future__ import annotations

import hashlib
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

import mdo

KILLS = 20
STUDY = Path(mdo.__file__).parents[1] / "studies" / "deck_small.toml"
PLANS = """
[fidelity]
verify = {}

[analysis.map]
points = 500

[analysis.map.axes]
fold_time = ["60 s", "130 s"]
torque_margin = ["10 %", "40 %"]
bay_hot = ["40 degC", "60 degC"]

[analysis.sweep]
designs = 400_000
chunk = 5_000

[analysis.sweep.axes]
fold_time = ["60 s", "130 s"]
"""
GOOD = (0, 3)
STARTING = 4.0  # [s] before this a process has done nothing yet
EARLY = 0.3  # of a whole run: the latest moment, so that few runs end by themselves
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform != "linux", reason="signals of POSIX, reads /proc"),
]


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("study") / "deck_small.toml"
    path.write_text(STUDY.read_text(encoding="utf-8") + PLANS, encoding="utf-8")
    return path


def start(study: Path, analysis: str, results: Path) -> subprocess.Popen[str]:
    line = [sys.executable, "-m", "mdo.cli.main", "run", str(study), "--analysis", analysis]
    line += ["--results", str(results), "--scheduler", "local", "--workers", "2"]
    pipes = {"stdout": subprocess.DEVNULL, "stderr": subprocess.PIPE}
    return subprocess.Popen(line, text=True, start_new_session=True, **pipes)  # type: ignore[call-overload, no-any-return]


def end_of(process: subprocess.Popen[str]) -> None:
    """Wait for the end; it has to be a good one (3: nothing that was swept is feasible)."""
    error = process.communicate(timeout=900)[1]
    assert process.returncode in GOOD, error


def bytes_of(results: Path, analysis: str) -> dict[str, str]:
    """Digest of every file of the result but the manifest, which holds times of the clock."""
    folder = results / "deck_small" / analysis
    return {
        one.name: hashlib.sha256(one.read_bytes()).hexdigest()
        for one in sorted(folder.iterdir())
        if one.name != "manifest.json"
    }


@pytest.fixture(scope="module", params=["map", "sweep"])
def undisturbed(
    request: pytest.FixtureRequest, study: Path, tmp_path_factory: pytest.TempPathFactory
) -> tuple[str, dict[str, str], float]:
    """Analysis, bytes of its files, and how long it takes."""
    results = tmp_path_factory.mktemp("undisturbed")
    began = time.monotonic()
    end_of(start(study, request.param, results))
    return request.param, bytes_of(results, request.param), time.monotonic() - began


def test_main_process_killed_twenty_times(
    study: Path, undisturbed: tuple[str, dict[str, str], float], tmp_path: Path
) -> None:
    """Each run goes on where the last one was killed; one that ends is followed by a fresh one."""
    analysis, wanted, whole = undisturbed
    moments = random.Random(21)
    killed = fresh = 0
    results = tmp_path / "0"
    while killed < KILLS:
        process = start(study, analysis, results)
        try:
            process.communicate(timeout=moments.uniform(STARTING, STARTING + EARLY * whole))
        except subprocess.TimeoutExpired:
            process.kill()
            process.communicate()
            killed += 1
            continue
        assert process.returncode in GOOD
        assert bytes_of(results, analysis) == wanted
        fresh += 1
        results = tmp_path / str(fresh)
    end_of(start(study, analysis, results))
    assert bytes_of(results, analysis) == wanted
    hidden = [one.name for one in (results / "deck_small").iterdir() if one.name.startswith(".")]
    assert not [name for name in hidden if not name.endswith(".lock")]


def workers_of(process: int) -> list[int]:
    """Worker processes that a process has started."""
    found = subprocess.run(["ps", "-o", "pid=,args=", "--ppid", str(process)],
                           capture_output=True, text=True, check=False)  # fmt: skip
    lines = [line.split(maxsplit=1) for line in found.stdout.splitlines()]
    return [int(pid) for pid, arguments in lines if "spawn_main" in arguments]


def test_workers_killed_twenty_times(
    study: Path, undisturbed: tuple[str, dict[str, str], float], tmp_path: Path
) -> None:
    """Every few seconds one of the workers gets SIGKILL; runs follow each other until 20 did."""
    analysis, wanted, _ = undisturbed
    moments = random.Random(22)
    killed: set[int] = set()
    fresh = 0
    while len(killed) < KILLS:
        results = tmp_path / str(fresh)
        fresh += 1
        process = start(study, analysis, results)
        while process.poll() is None:
            time.sleep(moments.uniform(0.5, 12.0))
            workers = sorted(set(workers_of(process.pid)) - killed)
            if workers and len(killed) < KILLS:
                victim = moments.choice(workers)
                killed.add(victim)
                os.kill(victim, signal.SIGKILL)
        end_of(process)
        assert bytes_of(results, analysis) == wanted
