"""A study as an OpenMDAO problem, with its design variables, objective and rows."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from mdo.arrays import Floats
from mdo.model.correction import NAME as CORRECTION
from mdo.model.correction import Correction
from mdo.model.layout import split_design
from mdo.model.problem import openmdao_problem
from mdo.model.requirements import STATICS
from mdo.model.system import OBJECTIVE, declare_system
from mdo.optimise.idle_rows import rows_that_differ
from mdo.optimise.problem import DesignProblem, make_problem
from mdo.optimise.starts import starting_designs
from mdo.study.study import Study


def build_problem(study: Study, *, start: Floats | None = None, **options: Any) -> Any:
    """Set up the OpenMDAO problem of a study, with a user's own components.

    Parameters
    ----------
    study : the study
    start : design vector to start from; else the most promising start of the count problem
    options : ``report`` and ``extend`` of :func:`problem_from`

    Returns
    -------
    openmdao.api.Problem
        Set up, with SLSQP as driver; ``run_model()`` and ``run_driver()`` work as they are.
    """
    problem = make_problem(study)
    x = start if start is not None else starting_designs(problem, 1)[0].design
    return problem_from(problem, x, **options)


def problem_from(
    problem: DesignProblem,
    x: Floats,
    *,
    report: bool = False,
    extend: Callable[[Any], None] | None = None,
) -> Any:
    """OpenMDAO problem of a design problem, started at a design vector.

    Parameters
    ----------
    problem, x : the study and the design
    report : include the disciplines that only the report needs (exact margins)
    extend : function of the model, called before set-up (OpenMDAO takes no components after it)
    """
    values = problem.values(x)
    design = {name: np.asarray(value) for name, value in split_design(x).items()}  # type: ignore[arg-type]
    known = {**problem.assembled.parameters, **values, **design}
    if problem.correction is not None:
        known[CORRECTION] = _without_fillers(problem, problem.correction)
    known["vehicle_mass"] = values["closed_vehicle_mass"]
    keep = rows_that_differ(problem, x)
    counts = np.zeros(problem.rows.counts.size, dtype=bool)
    counts[problem.counting[keep]] = True
    # fillers come last along the first axis: places among the rows of the study are the same
    groups = np.array([label.group for label in problem.rows.labels])
    rows = {name: np.flatnonzero(counts[groups == name]) for name in problem.chain.row_names}
    lower, upper, active = (
        {name: np.atleast_1d(part) for name, part in split_design(vector).items()}  # type: ignore[arg-type]
        for vector in (problem.lower, problem.upper, problem.active)
    )
    levels, corrected = problem.study.fidelity.optimise, problem.correction is not None
    system = declare_system(levels=levels, report=report, corrected=corrected)
    places = {name: np.flatnonzero(on) for name, on in active.items()}
    return openmdao_problem(
        system, known, objective=OBJECTIVE, rows=rows, extend=extend, lower=lower, upper=upper,
        active=places,
    )  # fmt: skip


def _without_fillers(problem: DesignProblem, correction: Correction) -> Correction:
    """Numbers of the rows of the legs and statics that the study has."""
    parameters = problem.assembled.parameters
    legs, statics = np.size(parameters["legs"].moves), np.size(parameters["statics"].state.moves)
    real = [
        label.leg < (statics if label.requirement.over == STATICS else legs)
        for label in problem.rows.labels
    ]
    places = np.append(0, 1 + np.flatnonzero(real))
    values, slopes = np.asarray(correction.values), np.asarray(correction.slopes)
    return correction._replace(values=values[places], slopes=slopes[places])
