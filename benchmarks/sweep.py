"""Sweeps: designs per second of two pinned workers against one, and the memory of every process.

    python benchmarks/sweep.py speed [STUDY] [--designs N] [--repeats N]
    python benchmarks/sweep.py memory [STUDY] [--designs N] [--scheduler local] [--keep FOLDER]

``speed`` runs the same sweep with one worker and with two, in turn, each worker held to one core,
and takes medians. What a worker needs before its first design (start, imports, compiling) is taken
out by a sweep of one chunk per worker in the same processes before. ``memory`` runs one sweep and
prints the largest resident memory (VmHWM of Linux) that the process and each of its workers had;
``--keep`` keeps chunks in a folder, so that a run that was stopped goes on.
"""

from __future__ import annotations

import argparse
import hashlib
import statistics
import threading
import time
from pathlib import Path
from typing import Any

from mdo.explore.sweeps.sweep import run_sweep
from mdo.optimise.problem import DesignProblem, make_problem
from mdo.optimise.starts import starting_designs
from mdo.quantities import QUANTITIES
from mdo.results.work import Work
from mdo.study import load_study
from mdo.study.units import as_written

SPREAD = 0.05  # of the variables around a first guess
CHUNK = 10_000
AXES = {"torque_margin": [0.1, 0.5], "load_factor": [0.8, 1.2]}
LIMIT = 2.0  # [GiB]


def planned(
    problem: DesignProblem, designs: int, axes: dict[str, Any]
) -> tuple[DesignProblem, Any]:
    """Study that sweeps all variables around a first guess, and axes; and the first guess."""
    x = starting_designs(problem, 1)[0].design
    ranges = {}
    for number, label in enumerate(problem.labels):
        low = max(problem.lower[number], x[number] * (1.0 - SPREAD))
        high = min(problem.upper[number], x[number] * (1.0 + SPREAD))
        if problem.active[number] and low < high:
            unit = QUANTITIES[label.partition(".")[0]].unit
            ranges[label] = [as_written(low, unit), as_written(high, unit)]
    plan = {"designs": designs, "chunk": CHUNK, "variables": ranges, "axes": axes}
    return make_problem(problem.study.with_values({"analysis.sweep": plan})), x


def silent(_: str) -> None:
    """Say nothing."""


def speed(problem: DesignProblem, designs: int, repeats: int, axes: dict[str, Any]) -> None:
    swept, base = planned(problem, designs, axes)
    ready, _ = planned(problem, 2 * CHUNK, axes)
    rates: dict[int, list[float]] = {1: [], 2: []}
    for turn in range(repeats):
        for workers, found in rates.items():
            with Work(None, f"{turn}", scheduler="local", workers=workers) as work:
                run_sweep(ready, work, silent, base)
                began = time.perf_counter()
                run_sweep(swept, work, silent, base)
                found.append(designs / (time.perf_counter() - began))
            print(f"{workers} worker(s): {found[-1]:.0f} designs/s", flush=True)
    one, two = (statistics.median(rates[workers]) for workers in (1, 2))
    print(f"\n{'workers':10s}{'designs/s':>12s}{'ratio':>8s}")
    print(f"{'one':10s}{one:12.0f}{1.0:8.2f}\n{'two':10s}{two:12.0f}{two / one:8.2f}")


class Memory(threading.Thread):
    """Watches the largest resident memory of this process and of those below it."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.most: dict[int, float] = {}
        self.stop = threading.Event()

    def run(self) -> None:
        import psutil

        while not self.stop.wait(0.5):
            here = psutil.Process()
            for process in (here, *here.children(recursive=True)):
                found = peak(process.pid)
                if found:
                    self.most[process.pid] = found


def peak(process: int) -> float:
    """Largest resident memory of a process so far [GiB]; 0 where it has gone."""
    try:
        lines = Path(f"/proc/{process}/status").read_text(encoding="utf-8").splitlines()
    except OSError:
        return 0.0
    return next((int(x.split()[1]) / 2**20 for x in lines if x.startswith("VmHWM")), 0.0)


def memory(problem: DesignProblem, given: argparse.Namespace, axes: dict[str, Any]) -> None:
    swept, base = planned(problem, given.designs, axes)
    place = None if given.keep is None else given.keep / "sweep"
    watch = Memory()
    watch.start()
    began = time.perf_counter()
    lines = []
    with Work(place, "0" * 16, scheduler=given.scheduler, workers=given.workers) as work:
        found = run_sweep(swept, work, lines.append, base)
        spent = time.perf_counter() - began
        with found.files["designs.parquet"].open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
        size = found.files["designs.parquet"].stat().st_size
    watch.stop.set()
    watch.join()
    print("\n".join(found.lines))
    print(f"{spent:.0f} s, {given.designs / spent:.0f} designs/s with start and compiling")
    print(f"file {size / 2**20:.0f} MiB, {size / given.designs:.0f} bytes a design, {digest[:16]}")
    print(f"\n{'process':24s}{'peak [GiB]':>12s}")
    for number, (process, most) in enumerate(sorted(watch.most.items())):
        name = "main" if number == 0 else "below it"
        print(f"{name + ' ' + str(process):24s}{most:12.3f}")
    worst = max(watch.most.values())
    print(f"largest {worst:.3f} GiB, {'within' if worst <= LIMIT else 'OVER'} {LIMIT} GiB")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    root = Path(__file__).parents[1]
    parser.add_argument("what", choices=["speed", "memory"])
    parser.add_argument("study", nargs="?", type=Path, default=root / "studies/deck_medium.toml")
    parser.add_argument("--designs", type=int, default=200_000)
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--scheduler", default="local")
    parser.add_argument("--workers", type=int)
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--axes", action="store_true", help="sweep requirements too")
    given = parser.parse_args()
    problem = make_problem(load_study(given.study))
    axes = AXES if given.axes else {}
    print(f"study {given.study.name}, {given.designs:,} designs, chunks of {CHUNK:,}")
    if given.what == "speed":
        speed(problem, given.designs, given.repeats, axes)
    else:
        memory(problem, given, axes)


if __name__ == "__main__":
    main()
