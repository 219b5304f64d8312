"""A study as its verified optimum leaves it: what the paths of its tubes take stands in its rows.

Where many designs of a study are looked at, each has the stress factor, drag and strain that
:mod:`mdo.optimise.verify` has found for the optimum of the study, so that the point at the study's
own values is that optimum. Away from it they are those of a design near by.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from mdo.optimise.optimum import Optimum, Progress, find_optimum
from mdo.optimise.problem import DesignProblem, problem_of
from mdo.optimise.verify import Paths, is_marched, paths_of, verified_optimum, with_paths
from mdo.study.study import study_from_dict
from mdo.study.text import study_content


def follows_paths(problem: DesignProblem) -> bool:
    """Whether what its paths take is fed back into the rows of a study.

    A factor on the stress of one level says nothing of another: where the rows of the tubes are
    corrected to a dearer level, nothing is.
    """
    return is_marched(problem) and "tube" not in problem.study.fidelity.correct


def with_own_paths(
    problem: DesignProblem, say: Progress, optimum: Optimum | None = None
) -> DesignProblem:
    """Study with what the paths of its verified optimum take.

    Parameters
    ----------
    problem : the study
    say : told what is being done
    optimum : of the study as it is; left out: found first

    Returns
    -------
    The study as it is where nothing is fed back, or where it has no feasible optimum.
    """
    if not follows_paths(problem):
        return problem
    plan = problem.study.analysis.optimum
    optimum = optimum or find_optimum(problem, starts=plan.starts, progress=say)
    if not optimum.feasible:
        return problem
    return taking_paths(problem, paths_of(verified_optimum(problem, optimum, say)[0].problem))


def taking_paths(problem: DesignProblem, paths: Paths) -> DesignProblem:
    """Study with given paths in its legs, where they differ from its own."""
    own, legs = paths_of(problem), problem.assembled.legs
    differing = {
        leg.case for at, leg in enumerate(legs)
        if any(not np.array_equal(a[at], b[at]) for a, b in zip(own, paths, strict=True))
    }  # fmt: skip
    # with both legs of a case: a return that says nothing has what its case has
    told = [at for at, leg in enumerate(legs) if leg.case in differing]
    return with_paths(problem, told, paths) if told else problem


def has_paths(problem: DesignProblem) -> bool:
    """Whether a study has been given paths that its file does not have."""
    return bool(study_content(problem.study.text) != problem.study.content)


def as_in_its_file(problem: DesignProblem) -> DesignProblem:
    """Study without the paths that it has been given."""
    if not has_paths(problem):
        return problem
    own = problem.study
    plain = study_from_dict(study_content(own.text), folder=own.folder)
    plain = replace(plain, path=own.path, text=own.text, hash=own.hash)
    return problem_of(plain, problem.card_fields, problem.correction, problem.fixed)


def paths_table(problem: DesignProblem) -> pd.DataFrame:
    """What a study has been given, by leg: the factor, the largest drag factor and strain."""
    paths = paths_of(problem)
    return pd.DataFrame({
        "leg": [leg.label for leg in problem.assembled.legs],
        "outer_stress_factor": paths.factor,
        "path_drag_factor": paths.drag.max(axis=1),
        "path_strain": paths.strain.max(axis=1),
    })  # fmt: skip
