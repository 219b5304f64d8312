"""The optimum found again at many points, and a screening of its inputs one at a time.

Of a hundred judged inputs that all move at once nearly every combination is infeasible, so whole
trajectories through all of them are not to be had. Each input is first moved alone to both ends of
its range; those with the largest effects on the mass are left to move together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.explore.exploration import Say, counted
from mdo.explore.indices.inputs import Input, agrees
from mdo.optimise.axes import ParametricProblem
from mdo.optimise.many.chunk import triangle
from mdo.optimise.many.optima import Setting, find_optima
from mdo.optimise.many.solution import Starts
from mdo.optimise.problem import DesignProblem
from mdo.optimise.status import OPEN
from mdo.results.work import Work

MASS, THERE = "system_mass", "feasible_optimum"


class Evaluated(NamedTuple):
    """Values of outputs at points (NaN where there are none), and the points by status."""

    outputs: Mapping[str, Floats]
    statuses: Mapping[str, int]


class Screened(NamedTuple):
    """Re-optimised mass with each input alone at the ends of its range, and who is left.

    Attributes
    ----------
    low, high
        Mass at the lower and the upper end, (inputs,); NaN where nothing is feasible.
    left
        Inputs with the largest effects, in their own order.
    """

    low: Floats
    high: Floats
    left: tuple[Input, ...]


class Reoptimised:
    """Finds the optimum again at points of inputs, each from the optimum of the study.

    Parameters
    ----------
    problem : the study
    design : its optimum
    work : who does the chunks
    say : told what is being done
    """

    def __init__(self, problem: DesignProblem, design: Floats, work: Work, say: Say) -> None:
        self.problem, self.design, self.work, self.say = problem, design, work, say

    def __call__(self, stage: str, inputs: Sequence[Input], points: Floats) -> Evaluated:
        """Mass and whether there is a feasible optimum at points, SI."""
        parametric = ParametricProblem(self.problem, [one.axis for one in inputs])
        active = self.problem.active
        setting = Setting(parametric, active, self.work, f"optimum-{stage}", self.say)
        size = triangle(int(active.sum()))
        starts = Starts(np.tile(self.design, (len(points), 1)), np.zeros((len(points), size)))
        optima = find_optima(setting, points, starts=starts, costs=False)
        good = optima.feasible
        return Evaluated(
            {
                MASS: np.where(good, optima.output(MASS), np.nan),
                THERE: np.where(optima.status == OPEN, np.nan, good.astype(float)),
            },
            counted(optima.status),
        )

    def screen(self, inputs: tuple[Input, ...], mass: float, most: int) -> Screened:
        """Move each input alone to both ends of its range.

        An end without a feasible design counts as the other end does; an input with neither comes
        first.

        Parameters
        ----------
        inputs : all of them
        mass : of the optimum of the study [kg]
        most : inputs that are left
        """
        points = np.tile([one.axis.knob.value for one in inputs], (2 * len(inputs), 1))
        own = np.arange(len(inputs))
        points[2 * own, own] = [one.axis.low for one in inputs]
        points[2 * own + 1, own] = [one.axis.high for one in inputs]
        sound = agrees(self.problem, inputs, points)
        masses = np.full(len(points), np.nan)
        masses[sound] = self("alone", inputs, points[sound]).outputs[MASS]
        low, high = masses[::2], masses[1::2]
        moves = np.abs(np.column_stack([low, high]) - mass)
        swing = np.where(np.isnan(moves).all(axis=1), np.inf, np.fmax(moves[:, 0], moves[:, 1]))
        kept = np.sort(np.argsort(-swing, kind="stable")[:most])
        return Screened(low, high, tuple(inputs[number] for number in kept))
