"""Compiled chain against the OpenMDAO problem, as ratios in one run on the real chain.

    python benchmarks/compare.py [STUDY]

Both evaluate the same system at the same designs (the disciplines that only the report needs are in
neither). Compile times are excluded and printed apart. Medians of repeated runs.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

import jax
import numpy as np

from mdo.model.layout import split_design
from mdo.optimise.idle_rows import distinct_rows
from mdo.optimise.openmdao_problem import problem_from
from mdo.optimise.optimum import attempt, find_optimum
from mdo.optimise.problem import make_problem
from mdo.study import load_study

BATCH = 4_000


def median_time(call: Callable[[], object], repeats: int) -> float:
    call()
    times = []
    for _ in range(repeats):
        began = time.perf_counter()
        call()
        times.append(time.perf_counter() - began)
    return statistics.median(times)


def main() -> None:
    root = Path(__file__).parents[1]
    path = Path(sys.argv[1]) if len(sys.argv) > 1 else root / "studies" / "deck_medium.toml"
    problem = make_problem(load_study(path))
    began = time.perf_counter()
    optimum = find_optimum(problem, starts=2)
    print(f"study {path.name}; first optimum with compiling {time.perf_counter() - began:.1f} s")
    nudge = 1.0 + 0.02 * np.cos(np.arange(optimum.design.size))
    x = np.clip(optimum.design * nudge, problem.lower, problem.upper)
    slow = problem_from(problem, x)

    generator = np.random.default_rng(1)
    designs = x * (1.0 + 0.01 * generator.uniform(-1, 1, (BATCH, x.size)))
    turn = iter(range(10**9))

    def move_openmdao() -> None:
        for name, value in split_design(designs[next(turn) % BATCH]).items():
            slow.set_val(name, value)
        slow.run_model()

    def move_chain() -> None:
        point = problem.chain.point(designs[next(turn) % BATCH], problem.theta, problem.prelude)
        jax.block_until_ready(point)

    def gradient_chain() -> None:
        both = problem.chain.point_and_gradient(x, problem.theta, problem.prelude)
        jax.block_until_ready(both)

    def sweep() -> None:
        jax.block_until_ready(problem.chain.batch(designs, problem.theta, problem.prelude))

    evaluation = median_time(move_openmdao, 50), median_time(move_chain, 200)
    slow.run_model()
    totals = median_time(slow.compute_totals, 15), median_time(gradient_chain, 100)
    keep, _ = distinct_rows(problem, x)

    def optimum_chain() -> None:
        attempt(problem, x, keep, tolerance=1e-10, iterations=300)

    def optimum_openmdao() -> None:
        for name, value in split_design(x).items():
            slow.set_val(name, value)
        slow.run_driver()

    runs = median_time(optimum_openmdao, 3), median_time(optimum_chain, 5)
    swept = evaluation[0], median_time(sweep, 5) / BATCH
    print(f"{'':34s}{'OpenMDAO':>12s}{'chain':>12s}{'ratio':>9s}")
    for name, (other, ours) in {
        "evaluation [ms]": evaluation,
        "total derivatives [ms]": totals,
        "optimum from one start [ms]": runs,
        f"design in a sweep of {BATCH} [ms]": swept,
    }.items():
        print(f"{name:34s}{other * 1e3:12.4f}{ours * 1e3:12.4f}{other / ours:9.1f}")
    mass = float(slow.get_val("system_mass")[0])
    print(f"optimum: OpenMDAO {mass:.6f} kg, chain {optimum.mass:.6f} kg")


if __name__ == "__main__":
    main()
