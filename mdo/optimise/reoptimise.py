"""Optima near one that is known: a number of the study changed, or another design to start from."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

import numpy as np

from mdo.arrays import Floats
from mdo.optimise.idle_rows import FEASIBLE
from mdo.optimise.knobs import with_fields
from mdo.optimise.linear_algebra import one_thread
from mdo.optimise.newton_end import polish
from mdo.optimise.optimum import HELD, OPTIMAL, Attempt, Optimum, conclude, find_optimum
from mdo.optimise.problem import DesignProblem
from mdo.study.reader import StudyError

EXACT = 1e-8  # residual from which an optimum is good enough for a cost
AGAIN = 2  # times that it is solved for again where it is not


class NoOptimumError(Exception):
    """There is no feasible optimum; ``fault`` says what the study may not have, if it is that."""

    def __init__(self, fault: str = "") -> None:
        super().__init__(fault or "no design found")
        self.fault = fault


def reoptimise_with(
    problem: DesignProblem,
    fields: Mapping[str, float],
    near: Optimum | Floats,
    *,
    exact: bool = False,
) -> Optimum:
    """Optimum of a study with fields at other values, from a neighbour.

    Parameters
    ----------
    problem : the study
    fields : values (SI) by path or ``alloy.<field>``; those of a knob are ``knob.fields(value)``
    near : optimum of a neighbouring study, or a design
    exact : whether it is to serve for costs, see :func:`exact_optimum`

    Raises
    ------
    NoOptimumError
        If the study may not have these values, or no feasible design was found.
    """
    try:
        changed = with_fields(problem, fields)
    except StudyError as error:
        raise NoOptimumError(error.problems[0]) from error
    optimum = exact_optimum(changed, near) if exact else reoptimise(changed, near, starts=0)
    if not optimum.feasible:
        raise NoOptimumError
    return optimum


def exact_optimum(problem: DesignProblem, near: Optimum | Floats) -> Optimum:
    """Optimum near a neighbour's; solved for again from where it ended if it is not exact.

    Parameters
    ----------
    problem : the study, changed a little
    near : optimum of a neighbouring study, or a design
    """
    optimum = reoptimise(problem, near, starts=0)
    for _ in range(AGAIN):
        if not optimum.feasible or optimum.kkt_residual < EXACT:
            break
        closer = reoptimise(problem, optimum.design, starts=0)
        if not closer.feasible or closer.kkt_residual > optimum.kkt_residual:
            break
        optimum = closer
    return optimum


def first_feasible(
    problem: DesignProblem,
    designs: Iterable[Floats],
    *,
    iterations: int = 300,
    hopeless: Callable[[Optimum], bool] = lambda _: False,
) -> Optimum:
    """Optimum from the first design that leads to a feasible one, else that of least violation.

    Parameters
    ----------
    problem : the study
    designs : designs to start from, at least one
    iterations : most iterations of each
    hopeless : whether an infeasible end is not worth another start
    """
    best: Optimum | None = None
    for design in designs:
        optimum = find_optimum(problem, starts=0, first=design, iterations=iterations)
        best = optimum if best is None or optimum.rank < best.rank else best
        if best.feasible or hopeless(best):
            break
    if best is None:
        raise ValueError("no design to start from")
    return best


def reoptimise(problem: DesignProblem, near: Optimum | Floats, *, starts: int = 2) -> Optimum:
    """Optimise from a design that should be near the optimum; from count starts where that fails.

    From a neighbour's optimum Newton's steps with its active rows are tried first; they count only
    where they end at a design that meets every row and the optimality conditions.

    Parameters
    ----------
    problem : the study, changed a little
    near : optimum of a neighbouring study, or a design
    starts : how many count starts to try where none comes out feasible from ``near``
    """
    if isinstance(near, Optimum):
        continued = _continued(problem, near)
        if continued is not None:
            return continued
        near = near.design
    optimum = find_optimum(problem, starts=0, first=near)
    if optimum.feasible or optimum.blocked.size or not starts:
        return optimum
    return find_optimum(problem, starts=starts, first=near)


def _continued(problem: DesignProblem, near: Optimum) -> Optimum | None:
    """Optimum with the active rows of a neighbour, or None where Newton's steps do not find it."""
    alike = np.array_equal(problem.counting, near.problem.counting)
    if not (alike and near.feasible and np.array_equal(problem.active, near.problem.active)):
        return None
    held = np.flatnonzero(near.multipliers > HELD * near.multipliers.max(initial=0.0))
    x = problem.clip(near.design)
    with one_thread():
        newton = polish(problem, x, near.kept, held)
        if newton.error > OPTIMAL or newton.value.rows.min(initial=0.0) < -FEASIBLE:
            return None
        mass = newton.value.objective
        only = Attempt(newton.design, mass, newton.violation, 0, True, "continued from a neighbour")
        return conclude(problem, [only], near.kept, np.array([], dtype=np.intp))
