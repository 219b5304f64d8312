"""Requirement costs from multipliers against re-optimised finite differences.

    python benchmarks/requirement_costs.py [STUDY ...]

Draws requirement points around each study (scrambled Sobol over six requirements, 10 % either way,
5 K for a temperature), takes the optimum at each, and compares the cost of every one of the six
with the central difference of the masses of two further optima. Points whose active set is not the
same on both sides are counted and shown apart: there a difference straddles two costs.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
from scipy.stats import qmc

from mdo.defend.costs.active_set import active_set_of
from mdo.defend.costs.multipliers import Cost, find_costs
from mdo.optimise.knob_list import requirements_of
from mdo.optimise.knobs import Knob, turned
from mdo.optimise.optimum import Optimum, find_optimum
from mdo.optimise.problem import DesignProblem, make_problem
from mdo.optimise.reoptimise import EXACT, exact_optimum
from mdo.study import load_study

STUDIES = ("deck_small", "deck_medium", "deck_large")
SIX = (
    "fold_time", "return_time", "torque_margin", "bay_hot", "flight_load_factor", "deck_wind",
)  # fmt: skip
DRAWN = 128  # most points drawn, a power of two
POINTS = 48  # feasible ones after which drawing ends
SPREAD = 0.1  # of a value, either way
SPREAD_KELVIN = 5.0  # [K] of an absolute temperature
STEP = 1e-5  # of a value, either way, in the difference
STEP_KELVIN = 0.003  # [K] the same for an absolute temperature
BEND = 3e-3  # difference of the slopes up and down, as a share, above which the step is cut
NOISE = 1e-10  # of the mass: changes below this are the solver's
CUTS = 3  # times that it may be cut to a tenth
DEMAND = 1e-3  # worst relative error wanted where the active set is the same


class Comparison(NamedTuple):
    """One cost at one point.

    Attributes
    ----------
    cost, difference
        From multipliers and from optima found again [kg per SI unit].
    same
        Whether the active set is the same on both sides.
    exact
        Whether all three optima were found, with a KKT residual below 1e-8.
    """

    point: int
    knob: str
    cost: float
    difference: float
    same: bool
    exact: bool

    @property
    def shown_apart(self) -> str:
        """Why the two are not compared; empty where they are."""
        if not self.exact:
            return "the solver did not end at an exact optimum"
        return "" if self.same else "the active set changes"

    @property
    def error(self) -> float:
        """Relative error of the cost, of the larger of the two."""
        largest = max(abs(self.cost), abs(self.difference))
        return abs(self.cost - self.difference) / largest if largest else 0.0


class Report(NamedTuple):
    """All comparisons of one study, and how many points were drawn and feasible."""

    drawn: int
    feasible: int
    comparisons: tuple[Comparison, ...]

    @property
    def same(self) -> list[Comparison]:
        """Comparisons with one active set and a cost that is not nothing."""
        return [one for one in self.comparisons if not one.shown_apart and one.cost != 0.0]

    @property
    def idle(self) -> list[Comparison]:
        """Comparisons with one active set where the cost is said to be nothing."""
        return [one for one in self.comparisons if not one.shown_apart and one.cost == 0.0]

    @property
    def points(self) -> int:
        """Points with a comparison among :attr:`same`."""
        return len({one.point for one in self.same})


def requirement_points(knobs: Sequence[Knob], seed: int) -> Iterator[dict[Knob, float]]:
    """Settings of the knobs, scrambled Sobol, inside what each may be."""
    for shares in 2.0 * qmc.Sobol(len(knobs), seed=seed).random(DRAWN) - 1.0:
        yield {
            knob: float(np.clip(knob.value + share * _size(knob, SPREAD, SPREAD_KELVIN),
                                knob.low, knob.high))
            for knob, share in zip(knobs, shares, strict=True)
        }  # fmt: skip


def _size(knob: Knob, share: float, kelvins: float) -> float:
    return kelvins if knob.unit == "K" and knob.value > 100.0 else share * abs(knob.value)


def compare(
    problem: DesignProblem,
    optimum: Optimum,
    *,
    points: int = POINTS,
    checked: Sequence[str] = SIX,
    step: float = STEP,
    step_kelvin: float = STEP_KELVIN,
    cuts: int = CUTS,
) -> Report:
    """Compare costs with central differences at points around a study.

    Parameters
    ----------
    problem, optimum : the study and its optimum
    points : how many feasible points
    checked : requirements whose cost is compared
    step, step_kelvin : of the difference, as a share of the value and in kelvin
    cuts : how often the step may be cut to a tenth where the mass bends within it
    """
    knobs = [knob for knob in requirements_of(problem) if knob.name in SIX]
    drawn, feasible, found = 0, 0, []
    for setting in requirement_points(knobs, problem.study.seed):
        drawn += 1
        there = turned(problem, setting)
        best = exact_optimum(there, optimum)
        if not best.feasible:
            continue
        feasible += 1
        wanted = [knob for knob in requirements_of(there) if knob.name in checked]
        for cost in find_costs(best, wanted):
            size = _size(cost.knob, step, step_kelvin)
            found.append(_compared(drawn - 1, there, best, cost, size, cuts))
        if feasible == points:
            break
    return Report(drawn, feasible, tuple(found))


def _compared(
    point: int, problem: DesignProblem, optimum: Optimum, cost: Cost, size: float, cuts: int
) -> Comparison:
    """One cost against the difference of the optima a step up and a step down.

    Beside the wall where a study becomes infeasible, the mass bends within the step. The step is
    cut there until the slopes up and down agree: masses alone decide, the multipliers do not.
    """
    knob = cost.knob
    for cut in range(cuts + 1):
        masses, limits = [], {_limits(optimum)}
        exact = optimum.kkt_residual < EXACT
        step = size * 0.1**cut
        for way in (1.0, -1.0):
            side = turned(problem, {knob: knob.value + way * step})
            best = exact_optimum(side, optimum)
            exact &= best.feasible and best.kkt_residual < EXACT
            masses.append(best.mass)
            limits.add(_limits(best))
        rise, bend = masses[0] - masses[1], masses[0] + masses[1] - 2.0 * optimum.mass
        if abs(bend) <= max(BEND * abs(rise), NOISE * optimum.mass):
            break
    middle = (cost.low + cost.high) / 2.0
    same = len(limits) == 1 and cost.unique
    return Comparison(point, knob.name, middle, rise / (2.0 * step), same, exact)


def _limits(optimum: Optimum) -> tuple[tuple[int, ...], ...]:
    """What is at its limit, as plain numbers."""
    kept = active_set_of(optimum)
    return tuple(tuple(np.asarray(one).tolist()) for one in (kept.touching, kept.low, kept.high))


def show(name: str, report: Report, seconds: float) -> None:
    """Print what was found for one study."""
    errors = [one.error for one in report.same]
    apart = [one for one in report.comparisons if one.shown_apart]
    print(
        f"{name}: {report.drawn} points drawn, an optimum at {report.feasible};"
        f" {report.points} with one active set on both sides; {seconds:.0f} s"
    )
    if errors:
        worst = max(report.same, key=lambda one: one.error)
        print(
            f"  {len(errors)} costs compared: median error {statistics.median(errors):.1e}, worst"
            f" {worst.error:.1e} ({worst.knob}, {worst.cost:.4g} against {worst.difference:.4g});"
            f" {sum(error > DEMAND for error in errors)} over {DEMAND:g}"
        )
    largest = max((abs(one.difference) for one in report.idle), default=0.0)
    print(f"  {len(report.idle)} costs of nothing, largest difference {largest:.1e} kg per SI unit")
    print(f"  {len(apart)} costs not compared")
    for one in apart:
        print(
            f"    point {one.point:2d} {one.knob:20s} multipliers {one.cost:11.4g},"
            f" difference {one.difference:11.4g}: {one.shown_apart}"
        )


def main() -> None:
    root = Path(__file__).parents[1] / "studies"
    for name in sys.argv[1:] or STUDIES:
        problem = make_problem(load_study(root / f"{name}.toml"))
        optimum = find_optimum(problem)
        began = time.perf_counter()
        report = compare(problem, optimum)
        show(name, report, time.perf_counter() - began)
        print("  step of the difference, and errors over 6 points:")
        for step in (1e-2, 1e-3, 1e-4, 1e-5, 1e-6):
            few = compare(problem, optimum, points=6, step=step, step_kelvin=300.0 * step, cuts=0)
            errors = [one.error for one in few.same]
            if errors:
                print(
                    f"    {step:7.0e}: median {statistics.median(errors):.1e},"
                    f" worst {max(errors):.1e}, {len(errors)} costs"
                )


if __name__ == "__main__":
    main()
