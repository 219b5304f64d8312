"""The continuous optimum: least system mass subject to every row, by SLSQP with exact derivatives.

Two steps from every start. First the elastic problem, which always has a feasible point: minimise
``m/m0 + rho s`` subject to ``rows + s >= 0``; it ends at s = 0 where the study is feasible and at
the least violation where it is not (exact penalty; Nocedal & Wright, Numerical Optimization, 2nd
ed., ch. 17.2, from memory). Then SLSQP (Kraft, DFVLR-FB 88-28, 1988) on the problem itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import TYPE_CHECKING, Any

import numpy as np

from mdo.arrays import Floats, Indices
from mdo.optimise.descent import Cache, elastic, slsqp
from mdo.optimise.idle_rows import FEASIBLE, given_rows
from mdo.optimise.linear_algebra import one_thread
from mdo.optimise.newton_end import Solution, polish, solution_at
from mdo.optimise.problem import DesignProblem
from mdo.optimise.starts import starting_designs

if TYPE_CHECKING:
    from mdo.optimise.levels.trust_region import Ended

ACTIVE = 1e-6
WORTH = 1e-3  # violation from which the elastic step is not worth going on from
HELD = 1e-7  # share of the largest multiplier from which the solver holds a row
OPTIMAL = 1e-8  # error from which Newton's steps have found an optimum
SAME = 1e-7  # relative difference of masses that count as one optimum
Progress = Callable[[str], None]


@dataclass(frozen=True)
class Attempt:
    """One start: where it ended."""

    design: Floats
    mass: float
    violation: float
    iterations: int
    converged: bool
    message: str


@dataclass(frozen=True)
class Optimum:
    """Result of the optimisation of one study.

    Attributes
    ----------
    design
        Best design vector: least mass if feasible, else least violation.
    feasible
        Whether every row holds.
    mass
        System mass of the aircraft [kg].
    violation
        Largest violation of a normalised row (0 if feasible).
    kkt_residual
        Norm of the gradient of the Lagrangian over that of the mass, in scaled variables.
    multipliers
        Of the counting rows, in kg per unit of the normalised row; 0 where inactive.
    active
        Positions (among the counting rows) of the rows at their limit.
    kept
        Positions of the rows given to the solver: one of every set of copies.
    attempts
        Every start.
    blocked
        Positions of rows that fail whatever the design.
    corrections
        How it was found for a dearer model than the study optimises with; None without one.
    """

    problem: DesignProblem
    design: Floats
    feasible: bool
    mass: float
    violation: float
    kkt_residual: float
    multipliers: Floats
    active: Indices
    kept: Indices
    attempts: tuple[Attempt, ...]
    blocked: Indices
    corrections: Ended | None = None

    @cached_property
    def memory(self) -> dict[Any, Any]:
        """What was found at it and is asked for again, by a key of whoever finds it."""
        return {}

    @property
    def rank(self) -> tuple[bool, float]:
        """Order of optima of one study: feasible ones by mass, then the others by violation."""
        return (not self.feasible, self.mass if self.feasible else self.violation)


def find_optimum(
    problem: DesignProblem,
    *,
    starts: int = 4,
    tolerance: float = 1e-10,
    iterations: int = 300,
    progress: Progress | None = None,
    first: Floats | None = None,
) -> Optimum:
    """Optimise a study from several starts of the count problem.

    Parameters
    ----------
    problem : the study
    starts : how many starts
    tolerance : of SLSQP
    iterations : most iterations of each step
    progress : told what is being done
    first : a design to start from before those of the count problem
    """
    say = progress or (lambda _: None)
    say("Count problem: starting designs")
    designs = [] if first is None else [first]
    if starts or first is None:
        designs += [start.design for start in starting_designs(problem, max(starts, 1))]
    keep, blocked = given_rows(problem, designs[0])
    attempts = []
    solve = partial(attempt, problem, tolerance=tolerance, iterations=iterations)
    with one_thread():
        for number, design in enumerate(designs, 1):
            last = solve(design, keep)
            while (missed := _missed(problem, last, keep, blocked)).size:
                keep = np.union1d(keep, missed)
                last = solve(last.design, keep)
            attempts.append(last)
            state = "feasible" if last.violation <= FEASIBLE else f"violation {last.violation:.3g}"
            say(f"Start {number} of {len(designs)}: {last.mass:.3f} kg, {state}")
        return conclude(problem, attempts, keep, blocked)


def _missed(problem: DesignProblem, end: Attempt, keep: Indices, blocked: Indices) -> Indices:
    """Rows not given to the solver that fail by more where it ended than those that were.

    Two rows may be alike, and a row flat, where a start stands, and not where it ends.
    """
    failing = np.flatnonzero(problem.evaluate(end.design).rows < -end.violation - FEASIBLE)
    return np.setdiff1d(failing, np.union1d(keep, blocked))


def attempt(
    problem: DesignProblem, start: Floats, keep: Indices, *, tolerance: float, iterations: int
) -> Attempt:
    """Elastic step, then Newton's; the problem itself where that does not end at an optimum."""
    cache = Cache(problem, start, keep)
    scaled = (problem.scale(x)[problem.active] for x in (start, problem.lower, problem.upper))
    z, lower, upper = scaled
    z = np.clip(z, lower, upper)
    scale = cache.values(z)[0]

    def ended(z: Floats, spent: int, message: str, *, converged: bool = False) -> Attempt:
        mass, rows = cache.values(z)
        violation = max(0.0, -float(rows.min(initial=0.0)))
        return Attempt(cache.design(z), mass, violation, spent, converged, message)

    first = elastic(cache, z, lower, upper, scale, iterations)
    best = ended(first.z, first.iterations, first.message)
    if best.violation >= WORTH:
        return best
    held = keep[first.multipliers > HELD * first.multipliers.max(initial=0.0)]
    newton = polish(problem, best.design, keep, held)
    if newton.error < OPTIMAL:
        mass, violation = newton.value.objective, newton.violation
        return replace(best, design=newton.design, mass=mass, violation=violation, converged=True)
    functions = cache.functions(scale)
    direct = slsqp(functions, first.z, lower, upper, iterations=iterations, tolerance=tolerance)
    after = ended(
        np.clip(direct.x, lower, upper), best.iterations + int(direct.nit), str(direct.message),
        converged=bool(direct.success),
    )  # fmt: skip
    # a solver's word is not taken against a feasible point in hand
    gains = best.violation > FEASIBLE or after.mass <= best.mass + 1e-9
    if after.violation <= FEASIBLE and gains:
        return after
    return replace(best, iterations=after.iterations)


def conclude(
    problem: DesignProblem, attempts: list[Attempt], keep: Indices, blocked: Indices
) -> Optimum:
    """Choose the best attempt and measure how optimal it is."""
    feasible = [each for each in attempts if each.violation <= FEASIBLE]
    if feasible:
        least = min(each.mass for each in feasible)
        near = [each for each in feasible if each.mass <= least * (1.0 + SAME)]
        best = min(near, key=lambda each: (not each.converged, each.violation))
        end = polish(problem, best.design, keep)
    else:
        best = min(attempts, key=lambda each: each.violation)
        end = solution_at(problem, best.design, keep)
    return optimum_at(problem, end, tuple(attempts), keep, blocked)


def optimum_at(
    problem: DesignProblem,
    end: Solution,
    attempts: tuple[Attempt, ...],
    keep: Indices,
    blocked: Indices,
    corrections: Ended | None = None,
) -> Optimum:
    """Optimum of a study at a solution; arguments as the fields of :class:`Optimum`."""
    violation = max(0.0, -float(end.value.rows.min(initial=0.0)))
    return Optimum(
        problem=problem, design=end.design, mass=end.value.objective, violation=violation,
        feasible=violation <= FEASIBLE and blocked.size == 0,
        kkt_residual=end.conditions.residual, multipliers=end.conditions.multipliers,
        active=keep[end.value.rows[keep] < ACTIVE], kept=keep, attempts=attempts,
        blocked=blocked, corrections=corrections,
    )  # fmt: skip
