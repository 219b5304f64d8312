"""One subject of a sensitivity analysis: all inputs screened, then indices of the strongest.

A subject is a function of the inputs with one or more outputs: a design as it is, or the optimum
found again at every point.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.explore.indices.inputs import Input, agrees, values_at
from mdo.explore.indices.methods import (
    Morris,
    Sobol,
    morris_of,
    morris_points,
    sobol_of,
    sobol_points,
)
from mdo.explore.indices.optimum_indices import Evaluated, Screened
from mdo.optimise.problem import DesignProblem
from mdo.optimise.status import STATUSES

MOST = 0.5  # share of the trajectories
FELT = 1e-9  # share of the largest effect below which an input has none


Evaluator = Callable[[str, Sequence[Input], Floats], Evaluated]


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
    effects = _effects(problem, inputs, evaluate, parts)
    left = {name: strongest(inputs, one, plan.inputs_most) for name, one in effects.morris.items()}
    plans = {name: (chosen, effects.parts[name]) for name, chosen in left.items() if chosen}
    sobol: dict[str, Sobol] = {}
    seen = list(effects.seen)
    for number, covered in enumerate(dict.fromkeys(plans.values()), 1):
        chosen, part = covered
        points = values_at(chosen, sobol_points(len(chosen), base, seed), part)
        sampled = _evaluated(problem, chosen, points, evaluate, f"sobol{number}")
        seen.append(sampled.statuses)
        for name in (name for name, one in plans.items() if one == covered):
            sobol[name] = sobol_of(
                sampled.outputs[name], len(chosen), confidence=plan.confidence, seed=seed
            )
    statuses = {name: sum(one.get(name, 0) for one in seen) for name in STATUSES}
    return Subject(
        inputs, effects.morris, left, sobol, base, statuses, effects.seen[0], effects.parts
    )


class _Effects(NamedTuple):
    """Morris' effects by output, the part of the ranges of each, points by status of each part."""

    morris: Mapping[str, Morris]
    parts: Mapping[str, float]
    seen: Sequence[Mapping[str, int]]


def _effects(
    problem: DesignProblem, inputs: tuple[Input, ...], evaluate: Evaluator, parts: tuple[float, ...]
) -> _Effects:
    """Effects of all inputs, each output over the first part of the ranges that gives enough."""
    plan, seed = problem.study.analysis.sensitivity, problem.study.seed
    shares = morris_points(len(inputs), plan.trajectories, seed)
    enough = MOST * plan.trajectories
    found: dict[str, Morris] = {}
    covered: dict[str, float] = {}
    seen = []
    for number, part in enumerate(parts, 1):
        values = values_at(inputs, shares, part)
        screened = _evaluated(problem, inputs, values, evaluate, f"morris{number}")
        seen.append(screened.statuses)
        for name, own in screened.outputs.items():
            if name not in found or found[name].kept <= enough:
                found[name] = morris_of(shares, own, confidence=plan.confidence, seed=seed)
                covered[name] = part
        if min(one.kept for one in found.values()) > enough:
            break
    return _Effects(found, covered, seen)


def strongest(inputs: tuple[Input, ...], effects: Morris, most: int) -> tuple[Input, ...]:
    """Inputs with the largest effects on an output, in their own order; none without effect.

    All of them, up to the most, where there are no effects to go by.
    """
    if np.isnan(effects.effect).all():
        return inputs[:most] if len(inputs) <= most else ()
    order = np.argsort(-effects.effect, kind="stable")[:most]
    felt = effects.effect > FELT * effects.effect.max(initial=0.0)
    return tuple(inputs[number] for number in np.sort(order) if felt[number])


def _evaluated(
    problem: DesignProblem, inputs: Sequence[Input], values: Floats, evaluate: Evaluator, stage: str
) -> Evaluated:
    """Outputs at points, SI; none where the alloy contradicts itself."""
    sound = agrees(problem, inputs, values)
    found = evaluate(stage, inputs, values[sound])
    outputs = {}
    for name, some in found.outputs.items():
        outputs[name] = np.full(len(values), np.nan)
        outputs[name][sound] = some
    return Evaluated(outputs, found.statuses)
