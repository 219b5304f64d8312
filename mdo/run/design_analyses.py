"""Analyses of one design: evaluate the given one, find the lightest, defend it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.defend.record import read_design
from mdo.model.layout import join_design
from mdo.optimise.appraisal import Appraisal, neighbour_levels
from mdo.optimise.levels.study_optimum import dear_optimum, dear_problem
from mdo.optimise.optimum import Optimum, find_optimum
from mdo.optimise.own_paths import follows_paths
from mdo.optimise.problem import DesignProblem, make_problem
from mdo.optimise.reoptimise import first_feasible
from mdo.optimise.starts import starting_designs
from mdo.optimise.variables import variables_of
from mdo.optimise.verify import LEVEL, is_marched, verified_optimum, verify
from mdo.optimise.whole_tubes.rounding import round_design
from mdo.results.files import read_whole
from mdo.results.opening import expecting_our_own
from mdo.results.store import ResultStore
from mdo.results.work import Work
from mdo.run import phases
from mdo.run.progress import Phase, Say
from mdo.study.study import Study

RECORD = "record.json"  # what a result of one design is read back from


def evaluate_analysis(problem: DesignProblem, say: Say) -> Appraisal:
    """Evaluate the design that the study gives; what it leaves open is a first guess."""
    problem = _judging(problem)
    given = given_design(problem)
    missing = np.isnan(given[problem.active])
    if missing.all():
        origin = "first guess by the count problem (the study gives no design)"
    elif missing.any():
        origin = "design given in part; the rest is a first guess by the count problem"
    else:
        origin = "design given in the study"
    say(f"Evaluating {'a first guess' if missing.all() else 'the given design'}")
    x = np.where(np.isnan(given), starting_designs(problem, 1)[0].design, given)
    return _beside(Appraisal("evaluate", problem, x, problem.values(x), None, origin), say)


def _judging(problem: DesignProblem) -> DesignProblem:
    """Problem at the levels that a design is judged by: where rows are corrected, the dear ones."""
    return problem if problem.correction is None else dear_problem(problem)


def optimum_analysis(problem: DesignProblem, say: Say) -> Appraisal:
    """Optimise the study, frozen variables kept."""
    return _beside(sized(problem, say), say)


def defence_analysis(problem: DesignProblem, say: Say) -> Appraisal:
    """Optimise the study from many starts, and find what a review asks about the optimum."""
    from mdo.defend.defence import find_defence

    starts = problem.study.analysis.defence.starts
    optimum = _beside(sized(problem, say, kind="defence", starts=starts), say)
    return find_defence(optimum, say, _as_study)


def _as_study(study: Study, near: Sequence[Floats]) -> Appraisal:
    """Study as a run of it ends, in whole tubes; not run where no design near by leads to one."""
    problem = make_problem(study)
    optimum = first_feasible(
        problem, map(problem.clip, near), hopeless=lambda end: end.blocked.size > 0
    )
    if not optimum.feasible:
        x = optimum.design
        return Appraisal("optimum", problem, x, problem.values(x), optimum, _reached(optimum))
    return sized(problem, lambda _: None)


def sized(
    problem: DesignProblem, say: Say, *, kind: str = "optimum", starts: int | None = None
) -> Appraisal:
    """Size the actuator of a study, in whole tubes where there are any; frozen variables kept.

    Parameters
    ----------
    problem : the study
    say : told what is being done
    kind : the analysis that asks
    starts : how many; those of the plan of the optimum where they are left out
    """
    bound = _finished(kind, problem, continuous_optimum(problem, say, starts), say)
    if bound.optimum is None or not bound.optimum.feasible:
        return bound
    return _in_whole_tubes(bound, problem, say)


def continuous_optimum(problem: DesignProblem, say: Say, starts: int | None = None) -> Optimum:
    """Optimum of a study as it is, counts free, by the plan of its optimum."""
    options = problem.study.analysis.optimum
    given = given_design(problem)
    first = None if np.isnan(given[problem.active]).any() else given
    return find_optimum(
        problem, starts=options.starts if starts is None else starts, progress=say, first=first,
        tolerance=options.tolerance, iterations=options.iterations,
    )  # fmt: skip


def stored_design(
    kind: str, problem: DesignProblem, store: ResultStore | None, key: str
) -> Appraisal | None:
    """Design that a result of the same study and the same tool holds; None where there is none.

    Raises
    ------
    StoreError
        If the result is not what a run writes.
    """
    study = problem.study
    known = None if store is None else store.find(kind, study.text, key, study.seed)
    if known is None:
        return None
    with expecting_our_own(known.folder):
        return read_design(read_whole(known.folder / RECORD).decode(), problem)


def designed(problem: DesignProblem, work: Work, say: Say) -> Appraisal:
    """Design that a result of the same study holds beside the work; sized where there is none.

    Raises
    ------
    StoreError
        If the result is not what a run writes.
    """
    place = work.place
    store = None if place is None else ResultStore(place.parent.parent, problem.study.name)
    for kind in ("optimum", "defence"):
        found = stored_design(kind, problem, store, work.run)
        if found is not None:
            say(f"Motion: design of the stored '{kind}', not sized again")
            return replace(found, origin=f"that of the stored '{kind}'")
    say("Motion: sizing the actuator")
    return sized(problem, say)


def _in_whole_tubes(bound: Appraisal, problem: DesignProblem, say: Say) -> Appraisal:
    """Design in whole tubes, of stock sizes where the study lists them, verified as its bound."""
    assert bound.optimum is not None
    stock = problem.study.analysis.defence.stock
    rounded = round_design(
        bound.problem, bound.optimum, tubes=stock.tubes or None, sleeves=stock.sleeves or None,
        sheets=stock.sheets or None, wires=True, progress=say,
    )  # fmt: skip
    relief = bound.verification is None or not bound.verification.kept_back
    whole = _finished(bound.kind, problem, rounded.optimum, say, relief=relief)
    assert whole.optimum is not None
    return replace(whole, origin=bound.origin, bound=bound, rounded=rounded.ended_at(whole.optimum))


def _finished(
    kind: str, study: DesignProblem, optimum: Optimum, say: Say, *, relief: bool = True
) -> Appraisal:
    """Optimum with the stress of its own paths fed back, at the levels that rows are corrected to.

    Parameters
    ----------
    kind : the analysis
    study : the study as it is
    optimum : of it, with counts free or whole
    say : told what is being done
    relief : whether less stress along its own path may be credited
    """
    origin = _reached(optimum)
    verification = None
    if follows_paths(study):  # else a dear level of the tubes is only marched
        optimum, verification = verified_optimum(study, optimum, say, relief=relief)
    values_of = problem = optimum.problem
    if problem.correction is not None:
        values_of = dear = dear_problem(problem)
        optimum = dear_optimum(optimum, dear, say)
        problem, origin = optimum.problem, _reached(optimum)
    values = values_of.values(optimum.design)
    if verification is not None and values_of is not problem:
        again = verify(problem, optimum.design, values)
        verification = replace(again, masses=verification.masses, kept_back=verification.kept_back)
    return Appraisal(kind, problem, optimum.design, values, optimum, origin, verification)


def _reached(optimum: Optimum) -> str:
    """How many starts ended at an optimum, in words."""
    reached = sum(abs(end.mass / optimum.mass - 1.0) < 1e-6 for end in optimum.attempts)
    return f"optimum, reached from {reached} of {len(optimum.attempts)} starts"


def _beside(appraisal: Appraisal, say: Say) -> Appraisal:
    """Appraisal with its verification, if the study has one, and at the neighbouring levels."""
    x, values = appraisal.x, appraisal.values
    problem = _judging(appraisal.problem)  # the values are of these levels: so are their neighbours
    verification = appraisal.verification
    if verification is None and is_marched(problem):
        say(f"Marching every leg along its path ({LEVEL})")
        verification = verify(problem, x, values)
    say("Neighbouring levels of fidelity")
    beside = tuple(neighbour_levels(problem, x, values, verification))
    return replace(appraisal, verification=verification, neighbours=beside)


class DesignAnalysis(NamedTuple):
    """What runs an analysis of one design, and its phases for the time left."""

    run: Callable[[DesignProblem, Say], Appraisal]
    phases: Callable[[Study], list[Phase]]


ANALYSES = {
    "evaluate": DesignAnalysis(evaluate_analysis, phases.of_evaluate),
    "optimum": DesignAnalysis(optimum_analysis, phases.of_optimum),
    "defence": DesignAnalysis(defence_analysis, phases.of_defence),
}


def given_design(problem: DesignProblem) -> Floats:
    """Design vector of values and starts that the study gives, NaN where it gives none."""
    known = {
        name: [side.start if side.value is None else side.value for side in sides]
        for name, sides in variables_of(problem.study).items()
    }
    given = np.asarray(join_design(known), dtype=float)
    # what the discrete choices leave without meaning does not make a design incomplete
    return np.where(problem.active | ~np.isnan(given), given, problem.lower)


def appraise_design(problem: DesignProblem, x: Floats, origin: str) -> Appraisal:
    """Appraisal of any design vector."""
    problem = _judging(problem)
    return Appraisal("evaluate", problem, x, problem.values(x), None, origin)
