"""Values of a design and their exact slopes along directions in the parameters of a study."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.arrays import Floats
from mdo.defend.uncertain import Uncertain, directions, of_inputs
from mdo.disciplines.tube.record import NO_RESISTANCE
from mdo.model.system import OBJECTIVE
from mdo.optimise.knobs import Knob, direction
from mdo.optimise.optimum import Optimum
from mdo.optimise.problem import DesignProblem
from mdo.optimise.reoptimise import NoOptimumError, reoptimise_with


class DesignValues(NamedTuple):
    """Counting rows, system mass [kg] and torque margins of a design.

    ``resists`` says which margins of all legs and angles these are: those of heated sets that meet
    resistance.
    """

    rows: Floats
    mass: float
    margins: Floats
    resists: NDArray[np.bool_]

    @property
    def worst_margin(self) -> float:
        """Least torque margin A/R - 1; infinite where nothing resists."""
        return float(self.margins.min(initial=np.inf))


def design_values(problem: DesignProblem, design: Floats) -> DesignValues:
    """Evaluate a design."""
    values = problem.values(design)
    margins = values["torque_margin"]
    resists = (values["heated"] > 0.5)[:, None] & (margins < NO_RESISTANCE)
    rows = problem.rows_of(values)[problem.counting]
    return DesignValues(rows, float(values[OBJECTIVE]), margins[resists], resists)


class OptimumSlopes(NamedTuple):
    """Slopes at an optimum along directions (first axis).

    Attributes
    ----------
    rows, figures
        Counting rows and figures of the design as it is.
    mass
        Mass of the aircraft with the design optimised again [kg].
    """

    rows: Floats
    figures: Mapping[str, Any]
    mass: Floats


def optimum_slopes(optimum: Optimum, directions: Floats) -> OptimumSlopes:
    """Slopes at an optimum; of the least mass by the envelope theorem.

    ``dm*/dp = dm/dp - multipliers . d rows/dp`` (Fiacco, Introduction to Sensitivity and Stability
    Analysis in Nonlinear Programming, 1983, ch. 3, from memory).

    Parameters
    ----------
    optimum : of the study
    directions : in the parameters, shape (k, parameters)
    """
    problem = optimum.problem
    slopes = problem.chain.slopes(optimum.design, problem.theta, problem.prelude, directions)
    rows = np.asarray(slopes.rows)[:, problem.counting]
    return OptimumSlopes(
        rows, slopes.figures, slopes.figures[OBJECTIVE] - rows @ optimum.multipliers
    )


def knob_slopes(optimum: Optimum, knob: Knob) -> OptimumSlopes:
    """Slopes at an optimum along a knob of its study, found once."""
    return _once(optimum, knob, lambda: direction(optimum.problem, knob))


class InputSlopes(NamedTuple):
    """Slopes by the inputs in their even variables: first axis inputs.

    Counting rows, system mass of the design as it is and re-optimised [kg].
    """

    rows: Floats
    mass: Floats
    optimum_mass: Floats


def input_slopes(optimum: Optimum, inputs: tuple[Uncertain, ...]) -> InputSlopes:
    """Slopes at an optimum along uncertain inputs, found once."""
    slopes = _once(optimum, inputs, lambda: directions(optimum.problem, inputs))
    stretch, mass = of_inputs(inputs, "stretch"), slopes.figures[OBJECTIVE]
    return InputSlopes(stretch[:, None] * slopes.rows, stretch * mass, stretch * slopes.mass)


def _once(optimum: Optimum, key: object, along: Callable[[], Floats]) -> OptimumSlopes:
    if key not in optimum.memory:
        optimum.memory[key] = optimum_slopes(optimum, along())
    found: OptimumSlopes = optimum.memory[key]
    return found


def mass_with(optimum: Optimum, fields: Mapping[str, float]) -> float:
    """Mass of the aircraft re-optimised with numbers of the study changed [kg].

    NaN where no design is feasible then.
    """
    try:
        return reoptimise_with(optimum.problem, fields, optimum).mass
    except NoOptimumError:
        return math.nan
