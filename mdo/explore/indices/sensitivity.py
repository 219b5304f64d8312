"""The analysis `sensitivity`: what of the inputs moves a design's figures, and the optimum's mass.

Inputs of a design are screened by Morris' effects; the Sobol indices of an output are those of the
inputs with the largest effects on it, the others held at the study's values. Inputs of the optimum
are screened one at a time (:mod:`mdo.explore.indices.evaluators`); both methods
take those left.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import pandas as pd

from mdo.explore.exploration import Exploration, Say
from mdo.explore.indices.evaluators import evaluated, reoptimised, screen
from mdo.explore.indices.inputs import Input, inputs_of
from mdo.explore.indices.methods import Morris, Sobol
from mdo.explore.indices.subject import Subject, study_subject
from mdo.optimise.optimum import find_optimum
from mdo.optimise.problem import DesignProblem
from mdo.optimise.status import INFEASIBLE
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
        evaluate = evaluated(problem, best.design, work, say)
        subjects[DESIGN] = study_subject(problem, inputs, plan.samples, evaluate)
    if OPTIMUM in plan.of and best.feasible:
        again, screened = reoptimised(best, work, say), None
        if len(inputs) > plan.inputs_most:
            screened = screen(best, inputs, plan.inputs_most, again)
        left = screened.left if screened else inputs
        subject = study_subject(problem, left, plan.optimum_samples, again, PARTS)
        subjects[OPTIMUM] = subject._replace(screened=screened)
    counts = list(subjects.values())[-1].statuses if subjects else {INFEASIBLE: 1}
    facts = SensitivityFacts(subjects, inputs, plan.confidence, best.feasible)
    return Exploration("sensitivity", problem, tables_of(inputs, subjects), counts, facts)


def tables_of(inputs: Sequence[Input], subjects: Mapping[str, Subject]) -> dict[str, pd.DataFrame]:
    """Tables of all subjects."""
    sobol: list[dict[str, Any]] = []
    morris: list[dict[str, Any]] = []
    for of, subject in subjects.items():
        headings = {
            output: {"of": of, "output": output, "range_part": part}
            for output, part in subject.parts.items()
        }
        for output, effects in subject.morris.items():
            morris += _rows(headings[output], subject.inputs, effects, "trajectories")
        for output, indices in subject.sobol.items():
            sobol += _rows(headings[output], subject.left[output], indices, "samples")
    listed = pd.DataFrame([
        {"input": axis.name, "title": axis.title, "unit": axis.unit, "low": axis.low,
         "high": axis.high, "even": "logarithm" if logarithmic else "value"}
        for axis, logarithmic in inputs
    ])  # fmt: skip
    screened = subjects[OPTIMUM].screened if OPTIMUM in subjects else None
    if screened is not None:
        listed = listed.assign(mass_at_low=screened.low, mass_at_high=screened.high)
    return {
        "sobol_indices": pd.DataFrame(sobol, columns=SOBOL_COLUMNS),
        "morris_effects": pd.DataFrame(morris, columns=MORRIS_COLUMNS),
        "sensitivity_inputs": listed,
    }


def _rows(
    heading: Mapping[str, Any], inputs: Sequence[Input], indices: Sobol | Morris, counted: str
) -> list[dict[str, Any]]:
    """Rows of one output, one for each input."""
    columns = indices._asdict()
    kept = columns.pop("kept")
    return [
        {**heading, "input": axis.name, "title": axis.title, counted: kept}
        | {name: values[number] for name, values in columns.items()}
        for number, (axis, _) in enumerate(inputs)
    ]
