"""The analysis `sensitivity`: what of the inputs moves a design's figures, and the optimum's mass.

Inputs of a design are screened by Morris' effects; the Sobol indices of an output are those of the
inputs with the largest effects on it, the others held at the study's values. Inputs of the optimum
are screened one at a time (:mod:`mdo.explore.indices.optimum_indices`); both methods
take those left.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.explore.exploration import Exploration, Say, refuse
from mdo.explore.indices import design_indices
from mdo.explore.indices.inputs import Input, agrees, inputs_of, values_at
from mdo.explore.indices.methods import (
    Morris,
    Sobol,
    morris_of,
    morris_points,
    sobol_of,
    sobol_points,
)
from mdo.explore.indices.optimum_indices import Evaluated, Reoptimised, Screened
from mdo.optimise.axes import Axis
from mdo.optimise.optimum import find_optimum
from mdo.optimise.problem import DesignProblem
from mdo.optimise.status import FEASIBLE, INFEASIBLE, STATUSES
from mdo.results.work import Work

if TYPE_CHECKING:
    import pandas as pd

Floats = NDArray[np.float64]
DESIGN, OPTIMUM = "design", "optimum"
STARTS = 4
HEADING = ("of", "output", "input", "title")
EFFECTS = ("effect", "effect_interval", "spread")
INDICES = ("first", "first_interval", "total", "total_interval")
SOBOL_COLUMNS = [*HEADING, *INDICES, "samples", "range_part"]
MORRIS_COLUMNS = [*HEADING, *EFFECTS, "trajectories", "range_part"]
# Parts of the ranges, until most trajectories are feasible throughout.
PARTS = (1.0, 0.5, 0.25, 0.125, 0.0625, 0.03125)
MOST = 0.5  # share of the trajectories
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


class SensitivityFacts(NamedTuple):
    """What the sentences tell: the subjects, all inputs, and whether there is an optimum."""

    subjects: Mapping[str, Subject]
    inputs: tuple[Input, ...]
    confidence: float
    feasible: bool


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
        refuse(problem, "sensitivity", ["axes: none, and the study judges no input"])
    say("Sensitivity: the optimum of the study")
    best = find_optimum(problem, starts=STARTS)
    subjects: dict[str, Subject] = {}
    if DESIGN in options.of:
        evaluate = _of_design(problem, best.design, work, say)
        subjects[DESIGN] = study_subject(problem, inputs, options, options.samples, evaluate)
    if OPTIMUM in options.of and best.feasible:
        optimum = Reoptimised(problem, best.design, work, say)
        screened, left = None, inputs
        if len(inputs) > options.inputs_most:
            screened = optimum.screen(inputs, best.mass, options.inputs_most)
            left = screened.left
        base = options.optimum_samples
        subject = study_subject(problem, left, options, base, optimum, PARTS)
        subjects[OPTIMUM] = subject._replace(screened=screened)
    counts = list(subjects.values())[-1].statuses if subjects else {INFEASIBLE: 1}
    facts = SensitivityFacts(subjects, inputs, options.confidence, best.feasible)
    return Exploration("sensitivity", problem, tables_of(inputs, subjects), counts, facts)


def check(problem: DesignProblem, options: SensitivityOptions) -> None:
    """Raise every fault of the options at once.

    Raises
    ------
    StudyError
        With one line per fault.
    """
    wanted: dict[str, tuple[Callable[[Any], bool], str]] = {
        "samples": (_power_of_two, "a power of two"),
        "optimum_samples": (_power_of_two, "a power of two"),
        "trajectories": (lambda number: bool(number >= 2), "2 or more"),
        "inputs_most": (lambda number: bool(number >= 1), "1 or more"),
        "confidence": (lambda share: bool(0.0 < share < 1.0), "a number between 0 and 1"),
    }
    given = {name: getattr(options, name) for name in wanted}
    faults = [
        f"{name}: got {given[name]}, expected {words}"
        for name, (sound, words) in wanted.items()
        if not sound(given[name])
    ]
    known = f"expected {DESIGN} or {OPTIMUM}"
    faults += [f"of: got {one}, {known}" for one in options.of if one not in {DESIGN, OPTIMUM}]
    refuse(problem, "sensitivity", faults if options.of else [*faults, f"of: empty, {known}"])


def _power_of_two(number: int) -> bool:
    return number >= 2 and number & (number - 1) == 0


def study_subject(
    problem: DesignProblem,
    inputs: tuple[Input, ...],
    options: SensitivityOptions,
    base: int,
    evaluate: Evaluator,
    parts: tuple[float, ...] = (1.0,),
) -> Subject:
    """Screen all inputs, then take the indices of those with the largest effects.

    Parameters
    ----------
    problem, inputs, options : the study, what is uncertain, how it is looked at
    base : base samples of the Sobol indices
    evaluate : gives the outputs at points of inputs; the first argument names the stage
    parts : parts of the ranges, the first taken at which most trajectories have values throughout
    """
    effects = _effects(problem, inputs, options, evaluate, parts)
    left = {
        name: strongest(inputs, one, options.inputs_most) for name, one in effects.morris.items()
    }
    plans = {name: (chosen, effects.parts[name]) for name, chosen in left.items() if chosen}
    sobol: dict[str, Sobol] = {}
    seen = list(effects.seen)
    for number, plan in enumerate(dict.fromkeys(plans.values()), 1):
        chosen, part = plan
        points = values_at(chosen, sobol_points(len(chosen), base, options.seed), part)
        sampled = _evaluated(problem, chosen, points, evaluate, f"sobol{number}")
        seen.append(sampled.statuses)
        for name in (name for name, one in plans.items() if one == plan):
            sobol[name] = sobol_of(
                sampled.outputs[name], len(chosen), confidence=options.confidence, seed=options.seed
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
    problem: DesignProblem,
    inputs: tuple[Input, ...],
    options: SensitivityOptions,
    evaluate: Evaluator,
    parts: tuple[float, ...],
) -> _Effects:
    """Effects of all inputs, each output over the first part of the ranges that gives enough."""
    shares = morris_points(len(inputs), options.trajectories, options.seed)
    enough = MOST * options.trajectories
    found: dict[str, Morris] = {}
    covered: dict[str, float] = {}
    seen = []
    for number, part in enumerate(parts, 1):
        values = values_at(inputs, shares, part)
        screened = _evaluated(problem, inputs, values, evaluate, f"morris{number}")
        seen.append(screened.statuses)
        for name, own in screened.outputs.items():
            if name not in found or found[name].kept <= enough:
                found[name] = morris_of(
                    shares, own, confidence=options.confidence, seed=options.seed
                )
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
    problem: DesignProblem,
    inputs: Sequence[Input],
    values: Floats,
    evaluate: Evaluator,
    stage: str,
) -> Evaluated:
    """Outputs at points, SI; none where the alloy contradicts itself."""
    sound = agrees(problem, inputs, values)
    found = evaluate(stage, inputs, values[sound])
    outputs = {}
    for name, some in found.outputs.items():
        outputs[name] = np.full(len(values), np.nan)
        outputs[name][sound] = some
    return Evaluated(outputs, found.statuses)


def _of_design(problem: DesignProblem, design: Floats, work: Work, say: Say) -> Evaluator:
    def evaluate(stage: str, inputs: Sequence[Input], points: Floats) -> Evaluated:
        context, tasks = design_indices.fixed_tasks(problem, design, inputs, points)
        title = f"Design, {stage.capitalize()}"
        frame = work.do(
            f"design-{stage}", design_indices.FUNCTION, context, tasks, say, title=title
        ).frame()
        met = int(frame[design_indices.MET].sum())
        outputs = {name: np.asarray(frame[name]) for name in design_indices.outputs_of(problem)}
        return Evaluated(outputs, {FEASIBLE: met, INFEASIBLE: len(frame) - met})

    return evaluate


def tables_of(inputs: Sequence[Input], found: Mapping[str, Subject]) -> dict[str, pd.DataFrame]:
    """Tables of all subjects."""
    import pandas as pd

    sobol: list[dict[str, Any]] = []
    morris: list[dict[str, Any]] = []
    for of, one in found.items():
        for output, effects in one.morris.items():
            columns = {name: getattr(effects, name) for name in EFFECTS}
            morris += _rows(
                of,
                output,
                one.inputs,
                columns,
                {"trajectories": effects.kept, "range_part": one.parts[output]},
            )
        for output, indices in one.sobol.items():
            columns = {name: getattr(indices, name) for name in INDICES}
            sobol += _rows(
                of,
                output,
                one.left[output],
                columns,
                {"samples": indices.kept, "range_part": one.parts[output]},
            )
    return {
        "sobol_indices": pd.DataFrame(sobol, columns=SOBOL_COLUMNS),
        "morris_effects": pd.DataFrame(morris, columns=MORRIS_COLUMNS),
        "sensitivity_inputs": pd.DataFrame(_listed(inputs, found)),
    }


def _rows(
    of: str,
    output: str,
    inputs: Sequence[Input],
    columns: Mapping[str, Floats],
    more: Mapping[str, float],
) -> list[dict[str, Any]]:
    return [
        {
            **dict(zip(HEADING, (of, output, one.axis.name, one.axis.title), strict=True)),
            **{name: values[number] for name, values in columns.items()},
            **more,
        }
        for number, one in enumerate(inputs)
    ]


def _listed(inputs: Sequence[Input], found: Mapping[str, Subject]) -> list[dict[str, Any]]:
    """Inputs with their ranges, and the re-optimised mass with each alone at its ends."""
    screened = found[OPTIMUM].screened if OPTIMUM in found else None
    rows = []
    for number, one in enumerate(inputs):
        row = {
            "input": one.axis.name, "title": one.axis.title, "unit": one.axis.unit,
            "low": one.axis.low, "high": one.axis.high,
            "even": "logarithm" if one.logarithmic else "value",
        }  # fmt: skip
        if screened is not None:
            row |= {"mass_at_low": screened.low[number], "mass_at_high": screened.high[number]}
        rows.append(row)
    return rows
