"""Time the defended optimum and count the starts that reach it; compile excluded.

python benchmarks/defence.py [starts | optimum | answer]
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import mdo
from mdo.defend.defence import defence_tables
from mdo.optimise.knob_list import requirements_of
from mdo.optimise.knobs import turned
from mdo.optimise.optimum import find_optimum
from mdo.optimise.problem import make_problem
from mdo.optimise.reoptimise import reoptimise
from mdo.optimise.starts import starting_designs
from mdo.run.design_analyses import defence_analysis

STUDIES = Path(__file__).parent.parent / "studies"
SIZES = ("deck_small", "deck_medium", "deck_large")
STARTS = 10
REACHED = 1e-6
REPEATS = 3


def starts() -> None:
    """Ten Sobol starts of the count problem on each vehicle: how many end at the one optimum."""
    print("| study | reached | spread of these | largest KKT residual | mass |")
    print("| --- | --- | --- | --- | --- |")
    for name in SIZES:
        problem = make_problem(mdo.load_study(STUDIES / f"{name}.toml"))
        found = find_optimum(problem, starts=STARTS)
        masses = [one.mass for one in found.attempts if one.violation <= REACHED]
        near = [mass for mass in masses if abs(mass / found.mass - 1.0) <= REACHED]
        spread = max(near) / min(near) - 1.0
        print(
            f"| {name} | {len(near)} of {STARTS} | {spread:.1e} | {found.kkt_residual:.1e} | "
            f"{found.mass:.6f} kg |"
        )


def optimum() -> None:
    """One optimum of the medium study: from a count start, and from a neighbour's optimum."""
    problem = make_problem(mdo.load_study(STUDIES / "deck_medium.toml"))
    found = find_optimum(problem, starts=1)
    designs = [one.design for one in starting_designs(problem, STARTS)]
    times = [
        _timed(lambda d=design: find_optimum(problem, starts=0, first=d)) for design in designs
    ]
    print(f"from a count start: median {1e3 * statistics.median(times):.0f} ms of {STARTS}")
    for knob in requirements_of(problem):
        if knob.name in {"fold_time", "torque_margin", "bay_cold", "return_time"}:
            other = turned(problem, {knob: knob.value * (1.0 + 0.02 * knob.easier)})
            spent = _timed(lambda p=other: reoptimise(p, found))
            print(f"from the optimum, {knob.name} 2 % easier: {1e3 * spent:.0f} ms")


def answer() -> None:
    """The whole defence of the medium study with its combinations, part by part."""
    study = mdo.load_study(STUDIES / "deck_medium.toml")
    problem = make_problem(study)
    began = time.perf_counter()
    marks: list[tuple[float, str]] = []
    defence_analysis(problem, lambda line: marks.append((time.perf_counter() - began, line)))
    print(f"first, with what has to be compiled or loaded: {time.perf_counter() - began:.1f} s")
    marks.clear()
    problem = make_problem(replace(study, text=study.text + "\n"))
    began = time.perf_counter()
    found = defence_analysis(
        problem, lambda line: marks.append((time.perf_counter() - began, line))
    )
    whole = time.perf_counter() - began
    combinations = len(defence_tables(found).get("choices", ()))
    print(f"warm: {whole:.1f} s with {combinations} combinations")
    previous = ("", 0.0)
    for moment, line in [*marks, (whole, "")]:
        part = line.partition(":")[0].rstrip("0123456789 ").partition(",")[0].partition("(")[0]
        if part != previous[0]:
            if previous[0]:
                print(f"  {moment - previous[1]:6.1f} s  {previous[0]}")
            previous = (part, moment)


def _timed(call: Callable[[], object]) -> float:
    """Least time of a few repeats [s]."""
    spent = []
    for _ in range(REPEATS):
        began = time.perf_counter()
        call()
        spent.append(time.perf_counter() - began)
    return min(spent)


PARTS: dict[str, Callable[[], None]] = {"starts": starts, "optimum": optimum, "answer": answer}

if __name__ == "__main__":
    for part in sys.argv[1:] or PARTS:
        PARTS[part]()
