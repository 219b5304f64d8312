"""The same sweep and the same optimiser of many points on whatever device JAX finds, in float64.

    python benchmarks/accelerator.py sweep            # designs evaluated per second, by batch size
    python benchmarks/accelerator.py map [POINTS]     # points of a requirement map per second
    python benchmarks/accelerator.py reference FILE   # SLSQP, one process per core (CPU)

Run it on the accelerator and on the CPU; the ratio of the two is what benchmarks/README.md states.
Compile is excluded and printed apart. The study is studies/deck_medium.toml.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import jax
import numpy as np
from requirement_map import STUDY, drawn, prepared

import mdo
from mdo.optimise.many.optima import Setting, find_optima
from mdo.optimise.problem import make_problem
from mdo.optimise.starts import starting_designs
from mdo.results.work import Work

SIZES = {"cpu": (2_000, 10_000), "gpu": (10_000, 100_000, 500_000)}
REPEATS = 5


def sweep() -> None:
    problem = make_problem(mdo.load_study(STUDY))
    base = starting_designs(problem, 1)[0].design
    batch = jax.jit(jax.vmap(problem.chain.evaluate_point, in_axes=(0, None, None)))
    generator = np.random.default_rng(1)
    for size in SIZES["cpu" if jax.default_backend() == "cpu" else "gpu"]:
        shares = generator.uniform(-0.1, 0.1, (size, base.size))
        x = jax.device_put(base * (1.0 + shares))
        began = time.perf_counter()
        point = jax.block_until_ready(batch(x, problem.theta, problem.prelude))
        compiled = time.perf_counter() - began
        times = []
        for _ in range(REPEATS):
            began = time.perf_counter()
            point = jax.block_until_ready(batch(x, problem.theta, problem.prelude))
            times.append(time.perf_counter() - began)
        spent = float(np.median(times))
        fine = bool(np.isfinite(np.asarray(point.objective)).all())
        print(f"{jax.devices()[0].platform}: {size} designs, {size / spent:,.0f} designs/s "
              f"(median of {REPEATS}; first call {compiled:.1f} s; {point.rows.dtype}, "
              f"finite {fine})", flush=True)  # fmt: skip


def run_map(count: int) -> None:
    parametric, points = drawn(count)
    said: list[tuple[float, str]] = []

    def say(line: str) -> None:
        said.append((time.perf_counter(), line))

    with Work(None, "0" * 64, scheduler="serial") as work:
        for stage in ("warm", "timed"):
            said.clear()
            began = time.perf_counter()
            setting = Setting(parametric, parametric.problem.active, work, stage, say)
            found = find_optima(setting, points, costs=False)
            spent = time.perf_counter() - began
            good = found.feasible
            print(f"{jax.devices()[0].platform}, {stage}: {count} points in {spent:.1f} s, "
                  f"{count / spent:,.1f} optima/s; {good.sum()} feasible, "
                  f"{(found.status == 'not settled').sum()} not settled, largest KKT "
                  f"residual {found.kkt_residual[good].max():.1e}, lightest "
                  f"{found.objective[good].min():.6f} kg", flush=True)  # fmt: skip
            for at, line in said:
                print(f"  {at - began:6.1f} s {line}")


def reference(file: Path) -> None:
    """SLSQP from four starts at every point of the map, one process per core."""
    import multiprocessing as mp
    import os

    os.environ["JAX_PLATFORMS"] = "cpu"
    cores = max(1, (os.cpu_count() or 1) - 3)
    with mp.get_context("spawn").Pool(cores, initializer=_alone) as pool:
        parts = pool.map(_reference, np.array_split(np.arange(1000), 4 * cores), chunksize=1)
    mass, violation = (np.concatenate([part[n] for part in parts]) for n in (0, 1))
    np.savez(file, mass=mass, violation=violation)
    print(f"reference: {(violation <= 1e-6).sum()} feasible of {mass.size}")


def _alone() -> None:
    import multiprocessing as mp
    import os

    number = int(mp.current_process().name.rpartition("-")[2]) - 1
    os.sched_setaffinity(0, {number % (os.cpu_count() or 1)})


def _reference(numbers: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    from mdo.optimise.optimum import find_optimum

    parametric, points = prepared()
    found = [find_optimum(parametric.at(points[number]), starts=4) for number in numbers]
    return np.array([one.mass for one in found]), np.array([one.violation for one in found])


if __name__ == "__main__":
    if sys.argv[1] == "sweep":
        sweep()
    elif sys.argv[1] == "map":
        run_map(int(sys.argv[2]) if len(sys.argv) > 2 else 50_000)
    else:
        reference(Path(sys.argv[2]))
