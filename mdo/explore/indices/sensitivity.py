"""The analysis `sensitivity`: what of the inputs moves a design's figures, and the optimum's mass.

Inputs of a design are screened by Morris' effects; the Sobol indices of an output are those of the
inputs with the largest effects on it, the others held at the study's values. Inputs of the optimum
are screened one at a time (:mod:`mdo.explore.indices.optimum_indices`); both methods
take those left.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from mdo.arrays import Floats
from mdo.explore.exploration import Exploration, Say
from mdo.explore.indices import design_indices
from mdo.explore.indices.inputs import Input, inputs_of
from mdo.explore.indices.methods import Morris, Sobol
from mdo.explore.indices.optimum_indices import Evaluated, Reoptimised
from mdo.explore.indices.subject import Evaluator, Subject, study_subject
from mdo.optimise.optimum import find_optimum
from mdo.optimise.problem import DesignProblem
from mdo.optimise.status import FEASIBLE, INFEASIBLE
from mdo.results.work import Work
from mdo.study.analyses import SENSITIVITIES

STARTS = 4
DESIGN, OPTIMUM = SENSITIVITIES
HEADING = ["of", "output", "input", "title"]
SOBOL_COLUMNS = [*HEADING, *Sobol._fields[:-1], "samples", "range_part"]
MORRIS_COLUMNS = [*HEADING, *Morris._fields[:-1], "trajectories", "range_part"]
# Parts of the ranges, until most trajectories are feasible throughout.
PARTS = (1.0, 0.5, 0.25, 0.125, 0.0625, 0.03125)


class SensitivityFacts(NamedTuple):
    """What the sentences tell: the subjects, all inputs, and whether there is an optimum."""

    subjects: Mapping[str, Subject]
    inputs: tuple[Input, ...]
    confidence: float
    feasible: bool


def run_sensitivity(problem: DesignProblem, work: Work, say: Say) -> Exploration:
    """Sobol indices and Morris effects of a fixed design and of the re-optimised mass.

    Parameters
    ----------
    problem : the study
    work : who does the chunks
    say : told what is being done

    Raises
    ------
    StudyError
        If the plan is wrong or the study has no judged inputs.
    """
    plan, inputs = problem.study.analysis.sensitivity, inputs_of(problem)
    say("Sensitivity: the optimum of the study")
    best = find_optimum(problem, starts=STARTS)
    subjects: dict[str, Subject] = {}
    if DESIGN in plan.of:
        evaluate = _of_design(problem, best.design, work, say)
        subjects[DESIGN] = study_subject(problem, inputs, plan.samples, evaluate)
    if OPTIMUM in plan.of and best.feasible:
        optimum = Reoptimised(problem, best.design, work, say)
        screened, left = None, inputs
        if len(inputs) > plan.inputs_most:
            screened = optimum.screen(inputs, best.mass, plan.inputs_most)
            left = screened.left
        subject = study_subject(problem, left, plan.optimum_samples, optimum, PARTS)
        subjects[OPTIMUM] = subject._replace(screened=screened)
    counts = list(subjects.values())[-1].statuses if subjects else {INFEASIBLE: 1}
    facts = SensitivityFacts(subjects, inputs, plan.confidence, best.feasible)
    return Exploration("sensitivity", problem, tables_of(inputs, subjects), counts, facts)


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


def tables_of(inputs: Sequence[Input], subjects: Mapping[str, Subject]) -> dict[str, pd.DataFrame]:
    """Tables of all subjects."""
    sobol: list[dict[str, Any]] = []
    morris: list[dict[str, Any]] = []
    for of, subject in subjects.items():
        for output, effects in subject.morris.items():
            heading = {"of": of, "output": output, "range_part": subject.parts[output]}
            morris += _rows(heading, subject.inputs, effects, "trajectories")
        for output, indices in subject.sobol.items():
            heading = {"of": of, "output": output, "range_part": subject.parts[output]}
            sobol += _rows(heading, subject.left[output], indices, "samples")
    return {
        "sobol_indices": pd.DataFrame(sobol, columns=SOBOL_COLUMNS),
        "morris_effects": pd.DataFrame(morris, columns=MORRIS_COLUMNS),
        "sensitivity_inputs": pd.DataFrame(_listed(inputs, subjects)),
    }


def _rows(
    heading: Mapping[str, Any], inputs: Sequence[Input], indices: Sobol | Morris, counted: str
) -> list[dict[str, Any]]:
    """Rows of one output, one for each input."""
    columns = indices._asdict()
    kept = columns.pop("kept")
    return [
        {**heading, "input": uncertain.axis.name, "title": uncertain.axis.title, counted: kept}
        | {name: values[number] for name, values in columns.items()}
        for number, uncertain in enumerate(inputs)
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
