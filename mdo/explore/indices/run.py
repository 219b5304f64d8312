"""The analysis `sensitivity`: what of the inputs moves a design's figures, and the optimum's mass.

All inputs are screened by Morris' effects; the Sobol indices of an output are those of the inputs
with the largest effects on it, the others held at the study's values.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.explore.axes import Axis, Turner
from mdo.explore.exploration import Exploration
from mdo.explore.indices import fixed
from mdo.explore.indices.inputs import Input, agrees, inputs_of, values_at
from mdo.explore.indices.methods import (
    Morris,
    Sobol,
    morris_of,
    morris_points,
    sobol_of,
    sobol_points,
)
from mdo.explore.indices.words import sensitivity_lines
from mdo.explore.many.optima import Setting, find_optima
from mdo.explore.optimum import find_optimum
from mdo.explore.problem import DesignProblem
from mdo.explore.work import Work
from mdo.study.reader import StudyError

if TYPE_CHECKING:
    import pandas as pd

Floats = NDArray[np.float64]
Say = Callable[[str], None]
DESIGN, OPTIMUM = "design", "optimum"
MASS, THERE = "system_mass", "feasible_optimum"
FEASIBLE, INFEASIBLE, OPEN = "feasible", "infeasible", "not settled"
STARTS = 4
FELT = 1e-9  # share of the largest effect below which an input has none


@dataclass(frozen=True, kw_only=True)
class SensitivityOptions:
    """``[analysis.sensitivity]``.

    Attributes
    ----------
    axes
        Inputs and their ranges; every judged input of the study where empty.
    of
        ``design`` and ``optimum``: a fixed design, or the optimum found again at every point.
    samples, optimum_samples
        Base samples of the Sobol indices of each, powers of two.
    trajectories
        Of Morris.
    inputs_most
        Inputs that are left for the Sobol indices.
    confidence
        Of the intervals.
    seed
        Of everything random.
    """

    axes: tuple[Axis, ...] = ()
    of: tuple[str, ...] = (DESIGN, OPTIMUM)
    samples: int = 1024
    optimum_samples: int = 64
    trajectories: int = 20
    inputs_most: int = 8
    confidence: float = 0.95
    seed: int = 0


class Evaluated(NamedTuple):
    """Values of outputs at points (NaN where there are none), and the points by status."""

    outputs: Mapping[str, Floats]
    statuses: Mapping[str, int]


class Found(NamedTuple):
    """What one subject gave: effects of all inputs, indices of those left, points by status.

    ``left`` are the inputs of each output that its indices are of, ``base`` the base samples.
    """

    inputs: tuple[Input, ...]
    morris: Mapping[str, Morris]
    left: Mapping[str, tuple[Input, ...]]
    sobol: Mapping[str, Sobol]
    base: int
    statuses: Mapping[str, int]


Evaluator = Callable[[str, Sequence[Input], Floats], Evaluated]


def run_sensitivity(
    problem: DesignProblem, options: SensitivityOptions, work: Work, say: Say
) -> Exploration:
    """Sobol indices and Morris effects of a fixed design and of the re-optimised mass.

    Parameters
    ----------
    problem : the study
    options : inputs, subjects, samples
    work : who does the chunks
    say : told what is being done

    Raises
    ------
    StudyError
        If an option is wrong or the study has no judged inputs.
    """
    check(problem, options)
    inputs = inputs_of(problem, options.axes)
    if not inputs:
        raise StudyError([_fault(problem, "axes", "none, and the study judges no input")])
    found: dict[str, Found] = {}
    if DESIGN in options.of:
        say("Sensitivity of the design: its optimum")
        best = find_optimum(problem, starts=STARTS)
        evaluate = _of_design(problem, best.design, work, say)
        found[DESIGN] = study_subject(problem, inputs, options, options.samples, evaluate)
    if OPTIMUM in options.of:
        evaluate = _of_optimum(problem, work, say)
        found[OPTIMUM] = study_subject(problem, inputs, options, options.optimum_samples, evaluate)
    last = found[options.of[-1] if options.of[-1] in found else DESIGN]
    return Exploration(
        kind="sensitivity",
        problem=problem,
        tables=tables_of(found),
        lines=sensitivity_lines(found, options.confidence),
        status_counts=last.statuses,
    )


def check(problem: DesignProblem, options: SensitivityOptions) -> None:
    """Raise every fault of the options at once.

    Raises
    ------
    StudyError
        With one line per fault.
    """
    o = options
    subjects = f"expected {DESIGN} or {OPTIMUM}"
    faults = [
        _fault(problem, name, f"got {value}, expected {wanted}")
        for name, value, good, wanted in (
            ("samples", o.samples, _power_of_two(o.samples), "a power of two"),
            ("optimum_samples", o.optimum_samples, _power_of_two(o.optimum_samples),
             "a power of two"),
            ("trajectories", o.trajectories, o.trajectories >= 2, "2 or more"),
            ("inputs_most", o.inputs_most, o.inputs_most >= 1, "1 or more"),
            ("confidence", o.confidence, 0.0 < o.confidence < 1.0, "a number between 0 and 1"),
        )
        if not good
    ]  # fmt: skip
    faults += [
        _fault(problem, "of", f"got {one}, {subjects}")
        for one in options.of
        if one not in {DESIGN, OPTIMUM}
    ]
    if not options.of:
        faults.append(_fault(problem, "of", f"empty, {subjects}"))
    if faults:
        raise StudyError(faults)


def _power_of_two(number: int) -> bool:
    return number >= 2 and number & (number - 1) == 0


def _fault(problem: DesignProblem, field: str, fault: str) -> str:
    source = str(problem.study.path) if problem.study.path else "study"
    return f"{source}: analysis.sensitivity.{field}: {fault}"


def study_subject(
    problem: DesignProblem,
    inputs: tuple[Input, ...],
    options: SensitivityOptions,
    base: int,
    evaluate: Evaluator,
) -> Found:
    """Screen all inputs, then take the indices of those with the largest effects.

    Parameters
    ----------
    problem, inputs, options : the study, what is uncertain, how it is looked at
    base : base samples of the Sobol indices
    evaluate : gives the outputs at points of inputs; the first argument names the stage
    """
    seed, confidence = options.seed, options.confidence
    shares = morris_points(len(inputs), options.trajectories, seed)
    screened = _evaluated(problem, inputs, shares, evaluate, "morris")
    morris = {
        name: morris_of(shares, values, confidence=confidence, seed=seed)
        for name, values in screened.outputs.items()
    }
    left = {name: strongest(inputs, one, options.inputs_most) for name, one in morris.items()}
    sobol: dict[str, Sobol] = {}
    seen = [screened.statuses]
    for own in dict.fromkeys(left.values()):
        if not own:
            continue
        points = sobol_points(len(own), base, seed)
        sampled = _evaluated(problem, own, points, evaluate, f"sobol{len(seen)}")
        seen.append(sampled.statuses)
        for name in (name for name, inputs_left in left.items() if inputs_left == own):
            values = sampled.outputs[name]
            sobol[name] = sobol_of(values, len(own), confidence=confidence, seed=seed)
    statuses = {
        name: sum(one.get(name, 0) for one in seen) for name in (FEASIBLE, INFEASIBLE, OPEN)
    }
    return Found(inputs, morris, left, sobol, base, statuses)


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
    problem: DesignProblem,
    inputs: Sequence[Input],
    shares: Floats,
    evaluate: Evaluator,
    stage: str,
) -> Evaluated:
    """Outputs at points of the unit cube; none where the alloy contradicts itself."""
    values = values_at(inputs, shares)
    sound = agrees(problem, inputs, values)
    found = evaluate(stage, inputs, values[sound])
    outputs = {}
    for name, some in found.outputs.items():
        outputs[name] = np.full(len(values), np.nan)
        outputs[name][sound] = some
    return Evaluated(outputs, found.statuses)


def _of_design(problem: DesignProblem, design: Floats, work: Work, say: Say) -> Evaluator:
    def evaluate(stage: str, inputs: Sequence[Input], points: Floats) -> Evaluated:
        context, tasks = fixed.fixed_tasks(problem, design, inputs, points)
        title = f"Design, {stage.capitalize()}"
        frame = work.do(f"design-{stage}", fixed.FUNCTION, context, tasks, say, title=title).frame()
        met = int(frame[fixed.MET].sum())
        outputs = {name: np.asarray(frame[name]) for name in fixed.outputs_of(problem)}
        return Evaluated(outputs, {FEASIBLE: met, INFEASIBLE: len(frame) - met})

    return evaluate


def _of_optimum(problem: DesignProblem, work: Work, say: Say) -> Evaluator:
    def evaluate(stage: str, inputs: Sequence[Input], points: Floats) -> Evaluated:
        turner = Turner(problem, [one.axis for one in inputs])
        setting = Setting(turner, problem.active, work, f"optimum-{stage}", say)
        frame = find_optima(setting, points, costs=False).frame
        status = np.asarray(frame["status"])
        good = status == FEASIBLE
        mass = np.where(good, np.asarray(frame[MASS], dtype=float), np.nan)
        there = np.where(status == OPEN, np.nan, good.astype(float))
        names, counts = np.unique(status, return_counts=True)
        statuses = {str(one): int(n) for one, n in zip(names, counts, strict=True)}
        return Evaluated({MASS: mass, THERE: there}, statuses)

    return evaluate


def tables_of(found: Mapping[str, Found]) -> dict[str, pd.DataFrame]:
    """Tables of all subjects."""
    import pandas as pd

    sobol: list[dict[str, Any]] = []
    morris: list[dict[str, Any]] = []
    for of, one in found.items():
        for output, effects in one.morris.items():
            for number, part in enumerate(one.inputs):
                morris.append({
                    **_heading(of, output, part),
                    "effect": effects.effect[number],
                    "effect_interval": effects.effect_interval[number],
                    "spread": effects.spread[number],
                    "trajectories": effects.kept,
                })  # fmt: skip
        for output, indices in one.sobol.items():
            for number, part in enumerate(one.left[output]):
                sobol.append({
                    **_heading(of, output, part),
                    "first": indices.first[number],
                    "first_interval": indices.first_interval[number],
                    "total": indices.total[number],
                    "total_interval": indices.total_interval[number],
                    "samples": indices.kept,
                })  # fmt: skip
    inputs = next(iter(found.values())).inputs
    listed = [
        {"input": one.axis.name, "title": one.axis.title, "unit": one.axis.unit,
         "low": one.axis.low, "high": one.axis.high,
         "even": "logarithm" if one.logarithmic else "value"}
        for one in inputs
    ]  # fmt: skip
    return {
        "sobol_indices": pd.DataFrame(sobol),
        "morris_effects": pd.DataFrame(morris),
        "sensitivity_inputs": pd.DataFrame(listed),
    }


def _heading(of: str, output: str, one: Input) -> dict[str, Any]:
    return {"of": of, "output": output, "input": one.axis.name, "title": one.axis.title}
