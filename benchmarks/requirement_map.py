"""Requirement map of the medium study against one optimisation at a time.

    python benchmarks/requirement_map.py reference FILE   # four SLSQP starts a point, hours of CPU
    python benchmarks/requirement_map.py map FILE         # the map: time, verdicts, masses
    python benchmarks/requirement_map.py openmdao         # time of one optimum with OpenMDAO
    python benchmarks/requirement_map.py compile          # cold and warm compile
    python benchmarks/requirement_map.py costs            # costs against re-optimised differences

1,000 points of a Latin hypercube over six requirements (seed 1). FILE keeps the reference.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

import mdo
from mdo.explore.maps.map import grid_of
from mdo.optimise.axes import ParametricProblem
from mdo.optimise.problem import make_problem

STUDY = Path(mdo.__file__).parents[1] / "studies" / "deck_medium.toml"
RANGES = {
    "fold_time": ("240 s", "600 s"),
    "return_time": ("800 s", "2400 s"),
    "torque_margin": ("10 %", "50 %"),
    "flight_load_factor": (0.9, 1.2),
    "bay_hot": ("40 degC", "60 degC"),
    "power_available": ("5 kW", "12 kW"),
}
COUNT = 1000
CLOSE = 1e-4
STARTS = 4
OPENMDAO_POINTS = 12
COST_POINTS = 100
NOTHING = 1e-7  # share of the mass that an axis costs over its whole range
STEP, STEP_MOST = 2e-4, 0.005  # of the range of an axis, in the differences of optima
CHANGE = 3e-7  # of the mass, by the step
SOUND = 1e-9  # KKT residual of an optimum that a difference is taken of
WORTH_SAYING = 1e-4


def prepared():
    return drawn(COUNT)


def drawn(count: int):
    axes = {name: list(ends) for name, ends in RANGES.items()}
    changes = {"study.seed": 1, "analysis.map.axes": axes, "analysis.map.points": count}
    problem = make_problem(mdo.load_study(STUDY).with_values(changes))
    axes, points = grid_of(problem)
    return ParametricProblem(problem, axes), points


def reference(file: Path) -> None:
    from mdo.optimise.optimum import find_optimum

    parametric, points = prepared()
    mass = np.full(COUNT, np.nan)
    violation = np.full(COUNT, np.nan)
    if file.exists():
        kept = np.load(file)
        mass, violation = kept["mass"], kept["violation"]
    for number in np.flatnonzero(np.isnan(violation)):
        found = find_optimum(parametric.at(points[number]), starts=STARTS)
        mass[number], violation[number] = found.mass, found.violation
        if number % 10 == 9:
            np.savez(file, mass=mass, violation=violation)
            print(number + 1, flush=True)
    np.savez(file, mass=mass, violation=violation)


def solve_map(parametric, points, scheduler: str = "local"):
    from mdo.optimise.many.optima import Setting, find_optima
    from mdo.results.work import Work

    lines = []

    def say(line):
        lines.append((time.perf_counter(), line))

    with Work(None, "0" * 64, scheduler=scheduler) as work:
        setting = Setting(parametric, parametric.problem.active, work, "map", say)
        find_optima(setting, points[:2], looks=0)  # compile in every process
        find_optima(setting._replace(stage="warm"), points[2:260], looks=0)
        began = time.perf_counter()
        found = find_optima(setting._replace(stage="timed"), points)
        spent = time.perf_counter() - began
        for at, line in lines:
            if at > began:
                print(f"  {at - began:6.1f} s {line}")
        return found, spent


def run_map(file: Path) -> None:
    parametric, points = prepared()
    found, spent = solve_map(parametric, points)
    known = np.load(file)
    done = ~np.isnan(known["violation"])
    good = known["violation"] <= 1e-6
    ours = found.feasible
    mass = found.objective
    within = mass <= known["mass"] * (1.0 + CLOSE)
    both = done & good & ours
    print(f"map: {spent:.1f} s, {1e3 * spent / COUNT:.1f} ms an optimum, all points")
    print(f"reference: {done.sum()} points, {(done & good).sum()} feasible")
    print(f"feasible in both {both.sum()}, within {CLOSE:g}: {(both & within).sum()}")
    lighter = both & (mass < known["mass"] * (1.0 - CLOSE))
    print(f"lighter than the reference: {lighter.sum()}")
    settled = found.status != "not settled"
    for name, chosen in (
        ("feasible for the map alone", done & ours & ~good),
        ("feasible for the reference alone", done & ~ours & good),
        ("not settled", ~settled),
        ("heavier than the reference", both & ~within),
    ):
        print(f"{name}: {chosen.sum()}")
        for number in np.flatnonzero(chosen):
            other, least = known["mass"][number], known["violation"][number]
            print(f"  {number}: {found.status[number]}, {mass[number]:.6f} kg against {other:.6f}")
            print(f"    violation {found.violation[number]:.2e} against {least:.2e}, residual "
                  f"{found.kkt_residual[number]:.1e}")  # fmt: skip
    residual = found.kkt_residual[ours].max()
    print(f"largest KKT residual of feasible points: {residual:.1e}")
    print(f"counts exist where feasible: {found.counts_exist[ours].mean():.4f}")


def openmdao() -> None:
    """Time of one optimum, OpenMDAO with SLSQP, from the lightest design of the middle."""
    import io
    from contextlib import redirect_stdout

    from mdo.optimise.openmdao_problem import problem_from
    from mdo.optimise.optimum import find_optimum

    parametric, points = prepared()
    start = find_optimum(parametric.problem, starts=2).design
    times = []
    for number in range(OPENMDAO_POINTS + 1):
        problem = parametric.at(points[number])
        with redirect_stdout(io.StringIO()):
            slow = problem_from(problem, np.clip(start, problem.lower, problem.upper))
            slow.run_model()
            slow.compute_totals()
            began = time.perf_counter()
            slow.run_driver()
            spent = time.perf_counter() - began
        rows = problem.rows_of({n: np.asarray(slow.get_val(n)) for n in problem.chain.row_names})
        worst = float(rows[problem.counting].min())
        if number:  # the first one compiles
            times.append(spent)
        print(f"  point {number}: {spent:.2f} s, {float(slow.get_val('system_mass')[0]):.4f} kg, "
              f"worst row {worst:.1e}", flush=True)  # fmt: skip
    print(f"OpenMDAO with SLSQP: median {np.median(times):.2f} s, mean {np.mean(times):.2f} s of "
          f"{OPENMDAO_POINTS} optima")  # fmt: skip


def compile_times() -> None:
    code = (
        "import sys; sys.path.insert(0, 'benchmarks'); import time; import requirement_map as r;"
        "r.compile_once()"
    )
    with tempfile.TemporaryDirectory() as folder:
        for words in ("cold", "warm"):
            environment = {**os.environ, "FOLD_MDO_CACHE": folder}
            done = subprocess.run(
                [sys.executable, "-c", code], env=environment, check=True, capture_output=True,
                text=True,
            )  # fmt: skip
            print(words, done.stdout.strip())


def compile_once() -> None:
    from mdo.optimise.many.model import least_mass
    from mdo.optimise.many.points import compile_points, point_context, point_solver, solve_points

    parametric, points = prepared()
    context = point_context(parametric.given, parametric.axes, parametric.problem.active)
    problem = parametric.problem
    middle = problem.unscale((problem.scale(problem.lower) + problem.scale(problem.upper)) / 2)
    began = time.perf_counter()
    solver = point_solver(context)
    compile_points(solver)
    ended = time.perf_counter()
    solve_points(solver, points[:1], middle[None, :], least_mass(1, 60.0))
    print(f"compile {ended - began:.1f} s, then one problem {time.perf_counter() - ended:.1f} s")


def costs() -> None:
    """Costs of the map against differences of optima found anew, one at a time, by SLSQP."""
    parametric, points = prepared()
    found, _ = solve_map(parametric, points[:300])
    chosen = np.flatnonzero(found.feasible)[:COST_POINTS]
    errors: list[float] = []
    changed = free = 0
    for number, axis in enumerate(parametric.axes):
        own: list[float] = []
        for place in chosen:
            cost = float(found.costs[place, number])
            mass = float(found.objective[place])
            nothing = NOTHING * mass / (axis.high - axis.low)
            whole = mass / max(abs(cost), nothing)
            slope = slope_anew(parametric, number, points[place], found.designs[place], whole)
            if slope is None:
                changed += 1
            elif max(abs(slope), abs(cost)) < nothing:
                free += 1
            else:
                own.append(abs(cost / slope - 1.0))
                if own[-1] > WORTH_SAYING:
                    print(f"  {axis.name}, point {place}: {cost:.6e} against {slope:.6e}")
        errors += own
        if own:
            print(f"{axis.name}: {len(own)} slopes, median {np.median(own):.1e}, worst "
                  f"{max(own):.1e}", flush=True)  # fmt: skip
    print(f"all: {len(errors)}, median {np.median(errors):.1e}, worst {max(errors):.1e}; left out: "
          f"{changed} for a changed active set, {free} that cost nothing")  # fmt: skip


def slope_anew(parametric, number: int, point, design, whole: float) -> float | None:
    """Slope of the mass along an axis from four optima; None if the active set changes.

    The step is one that changes the mass by a share of it that lies well above what two optima of
    the same problem differ by (``whole`` changes it by all of it); it is halved while the active
    set changes or an optimum is not exact. Richardson: the error of the step squared goes.
    """
    from mdo.optimise.optimum import find_optimum

    axis = parametric.axes[number]
    extent = axis.high - axis.low
    step = min(max(CHANGE * whole, STEP * extent), STEP_MOST * extent)
    while True:
        ends = {}
        for share in (2.0, 1.0, 0.0, -1.0, -2.0):
            moved = point.copy()
            moved[number] += share * step
            ends[share] = find_optimum(parametric.at(moved), starts=0, first=design)
        same = all(np.array_equal(one.active, ends[0.0].active) for one in ends.values())
        sound = all(one.feasible and one.kkt_residual <= SOUND for one in ends.values())
        if same and sound:
            wide = (ends[2.0].mass - ends[-2.0].mass) / (4.0 * step)
            narrow = (ends[1.0].mass - ends[-1.0].mass) / (2.0 * step)
            return (4.0 * narrow - wide) / 3.0
        if step <= STEP * extent:
            return None
        step = max(0.5 * step, STEP * extent)


if __name__ == "__main__":
    verb = sys.argv[1]
    if verb in {"reference", "map"}:
        {"reference": reference, "map": run_map}[verb](Path(sys.argv[2]))
    else:
        {"openmdao": openmdao, "compile": compile_times, "costs": costs}[verb]()
