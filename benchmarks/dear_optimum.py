"""Optima at dearer levels by corrections, from many starts, against direct ones.

    python benchmarks/dear_optimum.py STARTS LEVEL STUDY [STUDY ...]    (LEVEL such as heat=network)

For each study: the optimum at its own levels and the one corrected, with their times; then every
start by itself, from where it ended at the study's own levels to the optimum of the dear ones; then
SLSQP with its Newton end on the dear chain from the optimum of the study's own levels. Last, with
what the paths of the tubes take fed back as the study verifies it (rounds of that are counted): the
corrected optimum against direct ones that are given what the paths take in the end.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

from mdo.optimise.levels.study_optimum import corrected_end, dear_optimum, dear_problem
from mdo.optimise.optimum import find_optimum
from mdo.optimise.problem import DesignProblem, make_problem
from mdo.optimise.verify import verified_optimum
from mdo.study import load_study


def measure(path: Path, starts: int, level: str) -> None:
    """Print what one study took."""
    discipline, _, name = level.partition("=")
    study = load_study(path).with_values({"fidelity.verify": {}})
    plain = make_problem(study)
    problem = make_problem(study.with_values({f"fidelity.correct.{discipline}": name}))
    for each in (plain, problem):  # compile
        find_optimum(each, starts=1)
    middle = problem.unscale(0.5 * (problem.scale(problem.lower) + problem.scale(problem.upper)))
    dear_problem(problem).evaluate(middle)
    began = time.perf_counter()
    cheap = find_optimum(plain, starts=starts)
    spent = time.perf_counter() - began
    print(f"{study.name}: {cheap.mass:.6f} kg at {study.fidelity.optimise} in {spent:.1f} s")
    began = time.perf_counter()
    cheap = find_optimum(problem, starts=starts)
    end = dear_optimum(cheap, dear_problem(problem))
    ratio = (time.perf_counter() - began) / spent
    print(f"  corrected to {level}: {end.mass:.6f} kg in {ratio:.2f} times that")
    masses = _every_start(problem, [each.design for each in cheap.attempts])
    spread = np.ptp(masses) / masses.min() if masses.size else np.nan
    print(f"  {masses.size} of {starts} starts end at an optimum; spread of masses {spread:.1e}")
    dear = dear_problem(problem)
    direct = find_optimum(dear, starts=0, first=cheap.design)
    print(
        f"  direct: {len(dear.evaluated)} evaluations, {len(dear.sloped)} gradients, mass off by "
        f"{end.mass / direct.mass - 1.0:.1e}, KKT {direct.kkt_residual:.1e}"
    )


def measure_verified(path: Path, level: str) -> None:
    """Print what an optimum took whose paths are fed back, beside direct ones."""
    discipline, _, name = level.partition("=")
    study = load_study(path).with_values({f"fidelity.correct.{discipline}": name})
    cheap, said = find_optimum(make_problem(study), starts=4), list[str]()
    verified, _ = verified_optimum(cheap.problem, cheap, said.append)
    rounds = sum(line.startswith("Verified: round") for line in said)
    end = dear_optimum(verified, dear_problem(verified.problem))
    assert end.corrections is not None
    taken = end.corrections.evaluations
    print(
        f"  verified by {study.fidelity.verify}: {end.mass:.6f} kg after {rounds} rounds and "
        f"{taken} evaluations, violation {end.violation:.1e}, KKT {end.kkt_residual:.1e}"
    )
    for start, given in (
        ("the verified optimum", verified.design),
        ("the optimum before it was verified", cheap.design),
        ("the count problem", None),
    ):
        dear = dear_problem(verified.problem)
        direct = find_optimum(dear, starts=int(given is None), first=given)
        count = len(dear.evaluated)
        print(
            f"  direct from {start}: {count} evaluations, {count / taken:.1f} times as many, "
            f"{count / (taken + rounds):.1f} where rounds count too; mass off by "
            f"{end.mass / direct.mass - 1.0:.1e}"
        )


def _every_start(problem: DesignProblem, designs: list[np.ndarray]) -> np.ndarray:
    """Masses of the starts that end at an optimum of the dear levels."""
    masses = []
    for number, design in enumerate(designs, 1):
        end, _ = corrected_end(problem, dear_problem(problem), design)
        print(
            f"  start {number}: {end.evaluations} evaluations, {end.gradients} gradients, "
            f"{end.way}, {end.value.objective:.9g} kg, violation {end.violation:.1e}, "
            f"KKT {end.conditions.residual:.1e}",
            flush=True,
        )
        if end.optimal:
            masses.append(end.value.objective)
    return np.array(masses)


if __name__ == "__main__":
    for given in sys.argv[3:]:
        measure(Path(given), int(sys.argv[1]), sys.argv[2])
        measure_verified(Path(given), sys.argv[2])
