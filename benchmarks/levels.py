"""Levels of fidelity against each other on one study, as ratios in one run.

    python benchmarks/levels.py [STUDY]

For each choice of levels: gradient of the chain, an optimum from near its end, the prelude (loads,
which no design variable reaches), and the first optimum with compiling. At the end the lattice of
an 80-panel half wing at 64 fold angles. Medians of repeated runs.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import jax
import numpy as np
from compare import median_time

from mdo.disciplines.levels import Levels
from mdo.disciplines.loads.lattice import lattice_aerodynamics
from mdo.optimise.idle_rows import distinct_rows
from mdo.optimise.optimum import attempt, find_optimum
from mdo.optimise.problem import make_problem
from mdo.study import load_study

CHOICES = (
    Levels("strip", "uniform", "balance"),
    Levels("lattice", "radial", "balance"),
    Levels("lattice", "radial", "network"),
)
ANGLES = 64


def lattice_time(parameters: dict) -> float:
    """Seconds for the lattice at 64 fold angles at one Mach number."""
    known = [parameters[name] for name in ("planform", "vehicle", "aero")]
    angle = np.radians(np.linspace(-60.0, 90.0, ANGLES))[None]
    solve = jax.jit(lambda *given: lattice_aerodynamics(
        *given, mach=np.array([0.55]), airborne=np.ones(1), fold_angle=angle))  # fmt: skip
    return median_time(lambda: jax.block_until_ready(solve(*known)), 20)


def main() -> None:
    root = Path(__file__).parents[1]
    path = Path(sys.argv[1]) if len(sys.argv) > 1 else root / "studies" / "deck_medium.toml"
    study = load_study(path)
    print(f"study {path.name}")
    print(
        f"{'levels':44s}{'gradient':>10s}{'optimum':>10s}{'prelude':>10s}{'first':>8s}{'mass':>9s}"
    )
    for levels in CHOICES:
        changes = {f"fidelity.optimise.{name}": level for name, level in levels._asdict().items()}
        problem = make_problem(study.with_values(changes))
        began = time.perf_counter()
        optimum = find_optimum(problem, starts=2)
        first = time.perf_counter() - began
        nudge = 1.0 + 0.02 * np.cos(np.arange(optimum.design.size))
        x = np.clip(optimum.design * nudge, problem.lower, problem.upper)
        keep, _ = distinct_rows(problem, x)
        chain, theta, prelude = problem.chain, problem.theta, problem.prelude
        times = (
            median_time(
                lambda c=chain, x=x, t=theta, p=prelude: jax.block_until_ready(
                    c.point_and_gradient(x, t, p)
                ),
                30,
            ),
            median_time(
                lambda p=problem, x=x, k=keep: attempt(p, x, k, tolerance=1e-10, iterations=300), 3
            ),
            median_time(lambda c=chain, t=theta: jax.block_until_ready(c.prelude(t)), 5),
        )
        cells = "".join(f"{1e3 * each:8.1f}ms" for each in times)
        print(f"{levels!s:44s}{cells}{first:7.1f}s{optimum.mass:9.3f}", flush=True)
    print(
        f"lattice, {ANGLES} fold angles: {1e3 * lattice_time(problem.assembled.parameters):.1f} ms"
    )


if __name__ == "__main__":
    main()
