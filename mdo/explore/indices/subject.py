"""One subject of a sensitivity analysis: all inputs screened, then indices of the strongest.

A subject is a function of the inputs with one or more outputs: a design as it is, or the optimum
found again at every point.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from mdo.arrays import Booleans, Floats
from mdo.defend import drawn_inputs
from mdo.defend.uncertain import uncertain_inputs
from mdo.explore.exploration import refuse
from mdo.explore.indices.methods import (
    Morris,
    Sobol,
    morris_of,
    morris_points,
    sobol_of,
    sobol_points,
)
from mdo.optimise.axes import Axis, axes_of
from mdo.optimise.problem import DesignProblem
from mdo.optimise.status import STATUSES
from mdo.study.units import as_written

COMPARED = "baseline"  # record of the hinges compared with: no output here follows it


class Input(NamedTuple):
    """One input: an axis, and whether its logarithm is even over the range."""

    axis: Axis
    logarithmic: bool

    def at(self, share: Floats) -> Floats:
        """Values at shares 0 to 1 of the range, SI."""
        low, high = self.axis.low, self.axis.high
        if self.logarithmic:
            return np.asarray(low * (high / low) ** share)
        return np.asarray(low + (high - low) * share)

    @property
    def own_share(self) -> float:
        """Share of the range at which the value of the study is."""
        low, high, value = self.axis.low, self.axis.high, self.axis.knob.value
        if self.logarithmic:
            low, high, value = np.log(low), np.log(high), np.log(value)
        share = (value - low) / (high - low)
        return float(np.clip(share, 0.0, 1.0)) if np.isfinite(share) else 0.5


def inputs_of(problem: DesignProblem) -> tuple[Input, ...]:
    """Axes of the plan, even over their ranges; every judged input of the study without any.

    Raises
    ------
    StudyError
        If the plan is wrong or there are no inputs.
    """
    plan = problem.study.analysis.sensitivity
    axes = axes_of(problem, plan.axes, "analysis.sensitivity.axes")
    counts = {"samples": plan.samples, "optimum_samples": plan.optimum_samples}
    faults = [
        f"{name}: got {count}, expected a power of two"
        for name, count in counts.items()
        if count & (count - 1)
    ]
    inputs = tuple(Input(axis, logarithmic=False) for axis in axes) or _judged(problem)
    if not inputs:
        faults.append("axes: none, and the study judges no input")
    refuse(problem, "sensitivity", faults)
    return inputs


def _judged(problem: DesignProblem) -> tuple[Input, ...]:
    """Every judged input of a study."""
    judged = [one for one in uncertain_inputs(problem) if one.record != COMPARED]
    ends = {
        one.path: (as_written(one.low, one.unit), as_written(one.high, one.unit)) for one in judged
    }
    axes = axes_of(problem, ends, "inputs")
    return tuple(Input(axis, one.logarithmic) for axis, one in zip(axes, judged, strict=True))


def values_at(inputs: Sequence[Input], shares: Floats, part: float = 1.0) -> Floats:
    """Values at points of the unit cube, SI, shape (points, inputs).

    Parameters
    ----------
    inputs : what is turned
    shares : points of the unit cube
    part : part of every range that is covered, drawn in towards the value of the study
    """
    own = [one.own_share for one in inputs]
    drawn = np.array(own) + part * (shares - own) if part != 1.0 else shares
    return np.column_stack([one.at(share) for one, share in zip(inputs, drawn.T, strict=True)])


def agrees(problem: DesignProblem, inputs: Sequence[Input], values: Floats) -> Booleans:
    """Points at which temperatures and stresses of the alloy keep their order."""
    return drawn_inputs.agrees(problem, (one.axis.name for one in inputs), values)


MOST = 0.5  # share of the trajectories
FELT = 1e-9  # share of the largest effect below which an input has none


class Evaluated(NamedTuple):
    """Values of outputs at points (NaN where there are none), and the points by status."""

    outputs: Mapping[str, Floats]
    statuses: Mapping[str, int]


# Outputs at points of some inputs, SI; the first argument names the stage.
Evaluator = Callable[[str, Sequence[Input], Floats], Evaluated]


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


class Subject(NamedTuple):
    """What one subject gave: effects of all inputs, indices of those left, points by status.

    ``left`` are the inputs of each output that its indices are of, ``base`` the base samples,
    ``screened`` what each input does alone where that was asked first, ``parts`` the part of every
    range that was covered for an output, ``whole`` the points by status over the whole ranges.
    """

    inputs: tuple[Input, ...]
    morris: Mapping[str, Morris]
    left: Mapping[str, tuple[Input, ...]]
    sobol: Mapping[str, Sobol]
    base: int
    statuses: Mapping[str, int]
    whole: Mapping[str, int]
    parts: Mapping[str, float]
    screened: Screened | None = None


def study_subject(
    problem: DesignProblem,
    inputs: tuple[Input, ...],
    base: int,
    evaluate: Evaluator,
    parts: tuple[float, ...] = (1.0,),
) -> Subject:
    """Screen all inputs, then take the indices of those with the largest effects.

    Parameters
    ----------
    problem, inputs : the study, and what is uncertain
    base : base samples of the Sobol indices
    evaluate : gives the outputs at points of inputs; the first argument names the stage
    parts : parts of the ranges, the first taken at which most trajectories have values throughout
    """
    plan, seed = problem.study.analysis.sensitivity, problem.study.seed
    known: dict[str, Any] = {"confidence": plan.confidence, "seed": seed}
    shares, enough = morris_points(len(inputs), plan.trajectories, seed), MOST * plan.trajectories
    morris: dict[str, Morris] = {}
    covered: dict[str, float] = {}
    seen: list[Mapping[str, int]] = []
    for number, part in enumerate(parts, 1):
        points = values_at(inputs, shares, part)
        found = _sound(problem, inputs, points, evaluate, f"morris{number}")
        seen.append(found.statuses)
        for name, values in found.outputs.items():
            if name not in morris or morris[name].kept <= enough:
                morris[name], covered[name] = morris_of(shares, values, **known), part
        if min(one.kept for one in morris.values()) > enough:
            break
    left = {name: strongest(inputs, one, plan.inputs_most) for name, one in morris.items()}
    plans = {name: (chosen, covered[name]) for name, chosen in left.items() if chosen}
    sobol: dict[str, Sobol] = {}
    for number, (chosen, part) in enumerate(dict.fromkeys(plans.values()), 1):
        points = values_at(chosen, sobol_points(len(chosen), base, seed), part)
        found = _sound(problem, chosen, points, evaluate, f"sobol{number}")
        seen.append(found.statuses)
        for name, own in plans.items():
            if own == (chosen, part):
                sobol[name] = sobol_of(found.outputs[name], len(chosen), **known)
    statuses = {name: sum(one.get(name, 0) for one in seen) for name in STATUSES}
    return Subject(inputs, morris, left, sobol, base, statuses, seen[0], covered)


def strongest(inputs: tuple[Input, ...], effects: Morris, most: int) -> tuple[Input, ...]:
    """Inputs with the largest effects on an output, in their own order; none without effect.

    All of them, up to the most, where there are no effects to go by.
    """
    if np.isnan(effects.effect).all():
        return inputs[:most] if len(inputs) <= most else ()
    order = np.argsort(-effects.effect, kind="stable")[:most]
    felt = effects.effect > FELT * effects.effect.max(initial=0.0)
    return tuple(inputs[number] for number in np.sort(order) if felt[number])


def _sound(
    problem: DesignProblem, inputs: Sequence[Input], points: Floats, evaluate: Evaluator, stage: str
) -> Evaluated:
    """Outputs at points, SI; none where the alloy contradicts itself."""
    sound = agrees(problem, inputs, points)
    found = evaluate(stage, inputs, points[sound])
    outputs = {name: np.full(len(points), np.nan) for name in found.outputs}
    for name, values in found.outputs.items():
        outputs[name][sound] = values
    return found._replace(outputs=outputs)
