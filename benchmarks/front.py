"""Fronts against evolutionary algorithms: hypervolume at equal wall time, and given 20 times of it.

    python benchmarks/front.py [STUDY] [--pairs NAME,NAME ...] [--seeds 3] [--times 1 20]

For each pair of objectives a front of 50 points is traced twice; the second time counts, so that
nothing is compiled in it. An algorithm of pymoo then gets that wall time, and so many times it, on
the same problem: the same rows of the same compiled chain, evaluated a population at a time, all
violations summed to one number; a requirement that is an objective is the longest time of the legs
that follow it. Its first population holds first guesses of the count problem, made outside its
time.
The hypervolume is over objectives normalised between the ends of a front of 200 points; reference
point (1.1, 1.1), and (2, 2) for an algorithm that does not come so near.
"""

from __future__ import annotations

import argparse
import statistics
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy as np
from numpy.typing import NDArray
from pymoo.algorithms.moo.nsga2 import NSGA2
from pymoo.algorithms.moo.nsga3 import NSGA3
from pymoo.core.problem import Problem
from pymoo.indicators.hv import HV
from pymoo.util.ref_dirs import get_reference_directions

from mdo.explore.exploration import Exploration
from mdo.explore.fronts.front import run_front
from mdo.explore.fronts.study_front import Objective, objectives_of
from mdo.optimise.axes import ParametricProblem
from mdo.optimise.idle_rows import FEASIBLE
from mdo.optimise.many.model import OUTPUTS
from mdo.optimise.problem import DesignProblem, make_problem
from mdo.optimise.starts import starting_designs
from mdo.results.work import Work
from mdo.study import load_study

Floats = NDArray[np.float64]
PAIRS = ("system_mass,fold_time", "system_mass,peak_power")
REFERENCES = (1.1, 2.0)
GUESSES = 16  # first guesses in a first population
# Rows that a requirement limits by a time: log(limit / time).
TIME_ROWS = {"fold_time": ("fold_time_row",), "return_time": ("return_time_row", "return_heat_row")}


def silent(_: str) -> None:
    """Say nothing."""


class Evolved(Problem):  # type: ignore[misc]
    """A study at its loosest bounds, as a problem that a population at a time is evaluated on."""

    def __init__(self, problem: DesignProblem, objectives: Sequence[Objective], size: int) -> None:
        axes = [one.axis for one in objectives if one.axis is not None]
        parametric = ParametricProblem(problem, axes)
        loosest = [a.high if a.knob.easier > 0 else a.low for a in axes]
        self.study = parametric.at(np.array(loosest)) if axes else problem
        self.size = size
        self.limits = dict(zip([a.name for a in axes], loosest, strict=True))
        self.objectives = objectives
        self.followers = {a.name: self._followers(parametric, a.name) for a in axes}
        lower, upper = (self.study.scale(b) for b in (self.study.lower, self.study.upper))
        self.free = self.study.active
        self.guesses = np.array([one.design for one in starting_designs(self.study, GUESSES)])
        self.evaluated = jax.jit(jax.vmap(self._one))
        super().__init__(
            n_var=int(self.free.sum()), n_obj=len(objectives), n_ieq_constr=1,
            xl=lower[self.free], xu=upper[self.free],
        )  # fmt: skip

    def _followers(self, parametric: ParametricProblem, name: str) -> NDArray[np.intp]:
        """Rows of the times that follow a requirement."""
        number = [axis.name for axis in parametric.axes].index(name)
        limits = []
        for end in (parametric.axes[number].low, parametric.axes[number].high):
            point = parametric.middle.copy()
            point[number] = end
            theta = parametric.theta(point[None, :])[0]
            limits.append(np.asarray(parametric.problem.chain.unpack(theta)["legs"].time_limit))
        follows, rows = limits[0] != limits[1], self.study.rows
        own = [label.group in TIME_ROWS[name] and follows[label.leg] for label in rows.labels]
        return np.flatnonzero(np.array(own) & rows.counts)

    def _one(self, x: Any) -> tuple[Any, Any]:
        study = self.study
        rows, figures = study.chain.evaluate_rows(x, study.theta, study.prelude, OUTPUTS)
        broken = jnp.where(study.rows.counts, jnp.maximum(-rows - FEASIBLE, 0.0), 0.0)
        values = []
        for one in self.objectives:
            if one.output:
                values.append(figures[OUTPUTS.index(one.output)] * one.factor)
            else:
                slack = rows[self.followers[one.name]]
                values.append(self.limits[one.name] * jnp.exp(-slack.min()))
        total = broken.sum()
        return jnp.stack(values), jnp.where(jnp.isfinite(total), total, 1e9)

    def designs(self, z: Floats) -> Floats:
        """Design vectors of scaled variables."""
        scaled = np.tile(self.study.scale(self.guesses[0]), (len(z), 1))
        scaled[:, self.free] = z
        return self.study.unscale(scaled)

    def _evaluate(self, x: Floats, out: dict[str, Any], *_: Any, **__: Any) -> None:
        places = np.resize(np.arange(len(x)), max(self.size, len(x)))
        values, broken = self.evaluated(self.designs(x[places]))
        out["F"] = np.nan_to_num(np.asarray(values)[: len(x)], nan=1e9)
        out["G"] = np.asarray(broken)[: len(x), None]

    def first_population(self, seed: int) -> Floats:
        """First guesses of the count problem, and random designs."""
        guesses = self.study.scale(self.guesses)[:, self.free]
        shares = np.random.default_rng(seed).random((self.size - len(guesses), self.n_var))
        drawn = self.xl + shares * (self.xu - self.xl)
        return np.clip(np.vstack([guesses, drawn]), self.xl, self.xu)


class Snapshot(NamedTuple):
    """Objectives of the feasible best of a population, and evaluations so far."""

    values: Floats
    evaluations: int


def evolve(
    problem: Evolved, name: str, seed: int, limits: Sequence[float], *, counted: bool = False
) -> list[Snapshot]:
    """Run an algorithm; its front after each of some wall times [s], or counts of evaluations."""
    first = problem.first_population(seed)
    if name == "nsga3":
        parts = problem.size - 1 if problem.n_obj == 2 else 12
        directions = get_reference_directions("uniform", problem.n_obj, n_partitions=parts)
        algorithm = NSGA3(ref_dirs=directions, pop_size=problem.size, sampling=first)
    else:
        algorithm = NSGA2(pop_size=problem.size, sampling=first)
    problem.evaluate(first)  # compiles
    algorithm.setup(problem, termination=("n_gen", 10**9), seed=seed, verbose=False)
    found = []
    began = time.perf_counter()
    for limit in limits:
        while (algorithm.evaluator.n_eval if counted else time.perf_counter() - began) < limit:
            algorithm.next()
        best = algorithm.opt
        good = best.get("feas").ravel() if best is not None and len(best) else np.array([], bool)
        values = best.get("F")[good] if good.any() else np.zeros((0, problem.n_obj))
        found.append(Snapshot(values, algorithm.evaluator.n_eval))
    return found


def hypervolume(normal: Floats, reference: float) -> float:
    """Hypervolume of normalised objectives against a reference point, the same in each of them."""
    if len(normal) == 0:
        return 0.0
    return float(HV(ref_point=np.full(normal.shape[1], reference))(normal))


def planned(study: Path, names: tuple[str, ...], points: int) -> DesignProblem:
    """A study with another plan of its front."""
    plan = {"objectives": list(names), "points": points}
    return make_problem(load_study(study).with_values({"analysis.front": plan}))


def traced(problem: DesignProblem) -> tuple[Exploration, float]:
    """A front and the wall time that it took."""
    began = time.perf_counter()
    with Work(None, "0" * 16) as work:
        found = run_front(problem, work, silent)
    return found, time.perf_counter() - began


def values_of(found: Exploration, objectives: Sequence[Objective]) -> Floats:
    """Objectives of the points of a front, times their signs."""
    points = found.tables["front_points"]
    names = [one.name for one in objectives]
    return points.loc[points["place"] >= 0, names].to_numpy() * [one.sign for one in objectives]


def compared(study: Path, names: tuple[str, ...], given: argparse.Namespace) -> list[str]:
    """Lines of the table for one pair of objectives."""
    dense, _ = traced(planned(study, names, 200))
    problem = planned(study, names, given.points)
    objectives = objectives_of(problem)
    found, spent = traced(problem)
    best = values_of(dense, objectives)
    ideal, nadir = best.min(axis=0), best.max(axis=0)
    own = (values_of(found, objectives) - ideal) / (nadir - ideal)
    volumes = [hypervolume(own, reference) for reference in REFERENCES]
    solved = int(found.tables["front_summary"]["solved"].sum())
    cells = " | ".join(f"{volume:.4f} | " for volume in volumes)
    head = f"{' against '.join(names)} | front, {len(own)} points"
    lines = [f"| {head} | {spent:.1f} | {solved} optima | {cells}|"]
    evolved = Evolved(problem, objectives, given.population)
    for algorithm in given.algorithms:
        runs = [
            evolve(evolved, algorithm, seed, [t * spent for t in given.times])
            for seed in range(1, given.seeds + 1)
        ]
        for number, times in enumerate(given.times):
            ends = [run[number] for run in runs]
            fronts = [(end.values - ideal) / (nadir - ideal) for end in ends]
            cells = " | ".join(
                against(volume, [hypervolume(front, reference) for front in fronts])
                for volume, reference in zip(volumes, REFERENCES, strict=True)
            )
            evaluations = statistics.median(end.evaluations for end in ends)
            lines.append(
                f"| | {algorithm}, {times:g} x the time | {times * spent:.1f} | "
                f"{evaluations:.0f} designs | {cells} |"
            )
    return lines


def against(volume: float, others: Sequence[float]) -> str:
    """Two cells: the hypervolumes of an algorithm, and that of the front over their median."""
    middle = statistics.median(others)
    ratio = f"{volume / middle:.3f}" if middle > 0.0 else "none in the box"
    return f"{middle:.4f} ({min(others):.4f} to {max(others):.4f}) | {ratio}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    root = Path(__file__).parents[1]
    parser.add_argument("study", nargs="?", type=Path, default=root / "studies/deck_medium.toml")
    parser.add_argument("--pairs", nargs="+", default=list(PAIRS))
    parser.add_argument("--points", type=int, default=50)
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--times", nargs="+", type=float, default=[1.0, 20.0])
    parser.add_argument("--population", type=int, default=100)
    parser.add_argument("--algorithms", nargs="+", default=["nsga2"], choices=["nsga2", "nsga3"])
    given = parser.parse_args()
    lines = [
        "| objectives | method | wall [s] | work | "
        + " | ".join(
            f"hypervolume to {one:g}, median (range) | front over it" for one in REFERENCES
        )
        + " |",
        "| --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for pair in given.pairs:
        lines += compared(given.study, tuple(pair.split(",")), given)
        print("\n".join(lines), flush=True)


if __name__ == "__main__":
    main()
