"""The optimum found again at many points, and a screening of its inputs one at a time.

Of a hundred judged inputs that all move at once nearly every combination is infeasible, so whole
trajectories through all of them are not to be had. Each input is first moved alone to both ends of
its range; those with the largest effects on the mass are left to move together.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from mdo.arrays import Floats
from mdo.explore.exploration import Say, counted
from mdo.explore.indices.inputs import Input, agrees
from mdo.explore.indices.subject import Evaluated, Evaluator, Screened
from mdo.model.system import OBJECTIVE
from mdo.optimise.axes import ParametricProblem
from mdo.optimise.many.optima import Setting, find_optima
from mdo.optimise.many.solution import starts_at
from mdo.optimise.optimum import Optimum
from mdo.optimise.status import OPEN
from mdo.results.work import Work

THERE = "feasible_optimum"


def reoptimised(optimum: Optimum, work: Work, say: Say) -> Evaluator:
    """Mass at points and whether there is a feasible optimum, each from that of the study."""
    problem = optimum.problem

    def evaluate(stage: str, inputs: Sequence[Input], points: Floats) -> Evaluated:
        parametric = ParametricProblem(problem, [one.axis for one in inputs])
        setting = Setting(parametric, problem.active, work, f"optimum-{stage}", say)
        starts = starts_at(np.tile(optimum.design, (len(points), 1)), problem.active)
        optima = find_optima(setting, points, starts=starts, costs=False)
        mass = np.where(optima.feasible, optima.output(OBJECTIVE), np.nan)
        there = np.where(optima.status == OPEN, np.nan, optima.feasible.astype(float))
        return Evaluated({OBJECTIVE: mass, THERE: there}, counted(optima.status))

    return evaluate


def screen(optimum: Optimum, inputs: tuple[Input, ...], most: int, evaluate: Evaluator) -> Screened:
    """Move each input alone to both ends of its range.

    An end without a feasible design counts as the other end does; an input with neither comes
    first.

    Parameters
    ----------
    optimum, inputs : of the study, all of them
    most : inputs that are left
    evaluate : finds the optimum again
    """
    points = np.tile([one.axis.knob.value for one in inputs], (2 * len(inputs), 1))
    own = np.arange(len(inputs))
    points[2 * own, own] = [one.axis.low for one in inputs]
    points[2 * own + 1, own] = [one.axis.high for one in inputs]
    sound = agrees(optimum.problem, inputs, points)
    masses = np.full(len(points), np.nan)
    masses[sound] = evaluate("alone", inputs, points[sound]).outputs[OBJECTIVE]
    low, high = masses[::2], masses[1::2]
    moves = np.abs(np.column_stack([low, high]) - optimum.mass)
    swing = np.where(np.isnan(moves).all(axis=1), np.inf, np.fmax(moves[:, 0], moves[:, 1]))
    kept = np.sort(np.argsort(-swing, kind="stable")[:most])
    return Screened(low, high, tuple(inputs[number] for number in kept))
