"""Run the analyses of a study, write their results, and sum them up."""

from __future__ import annotations

import contextlib
import hashlib
import json
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from mdo.defend.record import record_text
from mdo.defend.tables.design import result_tables
from mdo.defend.verdict import INFEASIBLE, judge
from mdo.explore.exploration import Exploration
from mdo.model.layout import DESIGN_SIZES, join_design
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.optimum import find_optimum
from mdo.optimise.problem import DesignProblem, make_problem
from mdo.optimise.starts import starting_designs
from mdo.report.words.summary import summary_dict, summary_text
from mdo.results.columns import columns_table
from mdo.results.files import StoreError, read_whole
from mdo.results.store import ResultStore
from mdo.run.exploration_steps import exploration_plan
from mdo.run.explorations import (
    NOTHING,
    Means,
    check_plans,
    exploration_summaries,
    explore,
    is_exploration,
    level_of,
    page_of,
    plan_files,
    write_exploration,
)
from mdo.run.progress import COMPILING, Phase, Tracker, plan
from mdo.study.assemble import alloy_card
from mdo.study.study import Study

if TYPE_CHECKING:
    import pandas as pd

Progress = Callable[[str], None]
FOUND, NOT_FEASIBLE = 0, 3
SUMMARIES = {"si": "summary.txt", "us": "summary_us.txt", "json": "summary.json"}
REPORT, RECORD, ORDER_SHEET = "report.html", "record.json", "order_sheet.md"
DEFAULT_MEANS = Means()
COLUMNS = "columns"  # the table that says what the columns of the others mean


@dataclass(frozen=True)
class Done:
    """One analysis: its appraisal or exploration, or only its place where it was run before."""

    analysis: str
    level: str
    appraisal: Appraisal | None
    folder: Path | None
    summaries: Mapping[str, str]
    exploration: Exploration | None = None

    @property
    def is_fresh(self) -> bool:
        """Whether this run computed it."""
        return self.appraisal is not None or self.exploration is not None


class NotWrittenError(StoreError):
    """What was computed but could not be written; ``outcome`` holds it, summary and all."""

    def __init__(self, message: str, outcome: Outcome) -> None:
        super().__init__(message)
        self.outcome = outcome


@dataclass(frozen=True)
class Outcome:
    """What a run gave, one entry per analysis; the last one is summed up."""

    study: Study
    done: tuple[Done, ...]

    @property
    def exit_code(self) -> int:
        """0, or 3 where sizing finds no feasible design."""
        return NOT_FEASIBLE if self.done[-1].level in {INFEASIBLE, NOTHING} else FOUND

    @property
    def appraisal(self) -> Appraisal | None:
        """Appraisal of the last analysis; None where it had been run before."""
        return self.done[-1].appraisal

    def summary_text(self, units: str = "si") -> str:
        """Summary for a terminal."""
        parts = [self.done[-1].summaries[units]]
        for one in self.done:
            if one.folder is not None:
                again = "" if one.is_fresh else " (nothing to do: the same study was run before)"
                parts.append(f"Results of '{one.analysis}': {one.folder}{again}")
        return "\n".join(parts)

    def summary(self) -> dict[str, Any]:
        """Summary for scripts, SI units."""
        whole: dict[str, Any] = json.loads(self.done[-1].summaries["json"])
        whole["exit_code"] = self.exit_code
        whole["results"] = {
            one.analysis: {
                "folder": None if one.folder is None else str(one.folder),
                "run_before": not one.is_fresh,
            }
            for one in self.done
        }
        return whole


def run_study(
    study: Study,
    *,
    results_root: Path | None = None,
    progress: Progress | None = None,
    means: Means = DEFAULT_MEANS,
) -> Outcome:
    """Run every analysis of a study; one that has been run before is not run again.

    Parameters
    ----------
    study : the study
    results_root : folder of results; None writes nothing
    progress : told what is being done, one line at a time; a tracker knows how far that is
    means : who does the work of explorations

    Raises
    ------
    StudyError
        If the alloy card, a table of loads or the plan of an exploration does not serve.
    WorkError
        If the work of an exploration cannot be done.
    StoreError
        If results cannot be written: as far as that can be known, before anything is computed;
        a :class:`NotWrittenError` if it fails afterwards.
    """
    tracker = progress if isinstance(progress, Tracker) else Tracker(progress or _ignore)
    store = None if results_root is None else ResultStore(results_root, study.name)
    key = result_hash(study)
    before = {name: _run_before(store, name, study, key) for name in study.analyses}
    ahead = [name for name, found in before.items() if found is None]
    if ahead:
        if store is not None:
            store.check_writable()
        tracker.begin((COMPILING, *(phase for name in ahead for phase in _phases(study, name))))
        tracker("Compiling the coupled model (once; kept for later runs)")
        problem = make_problem(study)
        check_plans(problem, ahead)
        if {"optimum", "defence"} & set(study.analyses):
            problem.compile_ahead()
    done: list[Done] = []
    for name, found in before.items():
        if found is not None:
            done.append(found)
            continue
        if is_exploration(name):
            done.append(_explored(name, problem, store, key, means, tracker, done))
            continue
        one, spent = _analysed(name, problem, tracker)
        if store is not None:
            tracker("Writing tables and report")
            try:
                one = write_done(store, one, key, spent)
            except StoreError as error:
                raise NotWrittenError(str(error), Outcome(study, (*done, one))) from error
        done.append(one)
    return Outcome(study, tuple(done))


def _phases(study: Study, name: str) -> tuple[Phase, ...]:
    """Phases of an analysis."""
    return exploration_plan(study, name) if is_exploration(name) else plan(study, name)


def _ignore(_: str) -> None:
    """Say nothing."""


def _analysed(name: str, problem: DesignProblem, say: Progress) -> tuple[Done, dict[str, float]]:
    """Run one analysis and sum it up; nothing is written. Also the time that it took."""
    began = time.perf_counter()
    appraisal = ANALYSES[name](problem, say)
    spent = {"analysis": time.perf_counter() - began}
    summaries = {
        "si": summary_text(appraisal, "si"),
        "us": summary_text(appraisal, "us"),
        "json": json.dumps(summary_dict(appraisal), indent=1, sort_keys=True),
    }
    return Done(name, judge(appraisal).level, appraisal, None, summaries), spent


def _explored(
    name: str,
    problem: DesignProblem,
    store: ResultStore | None,
    key: str,
    means: Means,
    say: Progress,
    before: Sequence[Done],
) -> Done:
    """Run one exploration and write what it gave; chunks are kept until that is done."""
    began = time.perf_counter()
    place = None if store is None else store.place(name)
    found, work = explore(name, problem, place, key, means, say)
    with work:
        summaries = exploration_summaries(found)
        one = Done(name, level_of(found), None, None, summaries, found)
        if store is None:
            return one
        say("Writing tables and report")
        spent = {"analysis": time.perf_counter() - began}
        try:
            folder = _write_explored(store, one, key, spent)
        except StoreError as error:
            raise NotWrittenError(str(error), Outcome(problem.study, (*before, one))) from error
        work.finish()
    return replace(one, folder=folder)


def _write_explored(store: ResultStore, one: Done, key: str, spent: Mapping[str, float]) -> Path:
    """Write what an exploration gave; returns the folder."""
    found = one.exploration
    assert found is not None
    study = found.study
    writer = store.begin(one.analysis, study.text, key, study.seed)
    if writer is None:  # another process was faster
        return store.place(one.analysis)
    with writer:
        for kind, file in SUMMARIES.items():
            writer.text(file, one.summaries[kind])
        write_exploration(writer, found, page_of(found))
        return writer.finish(found.status_counts, spent)


def write_done(store: ResultStore, one: Done, key: str, spent: Mapping[str, float]) -> Done:
    """Write what one analysis gave; the same with the folder that it is in."""
    if one.appraisal is None:
        return one
    folder = write_result(store, one.analysis, key, one.appraisal, one.summaries, spent)
    return replace(one, folder=folder)


def _run_before(store: ResultStore | None, name: str, study: Study, key: str) -> Done | None:
    """Result of the same study by the same version of the tool, if it is there and whole.

    Raises
    ------
    StoreError
        If its manifest is in order but does not list what a run writes.
    """
    if store is None:
        return None
    found = store.find(name, study_text=study.text, study_hash=key, seed=study.seed)
    if found is None:
        return None
    if not found.manifest.status_counts or not set(SUMMARIES.values()) <= set(found.manifest.files):
        raise StoreError(
            f"{found.folder}: not what a run writes, expected summaries and a verdict (remove the "
            "folder and run the study again)"
        )
    summaries = {kind: read_whole(found.folder / file).decode() for kind, file in SUMMARIES.items()}
    level = next(iter(found.manifest.status_counts))
    if is_exploration(name):
        level = str(json.loads(summaries["json"])["verdict"])
    return Done(name, level, None, found.folder, summaries)


def evaluate_analysis(problem: DesignProblem, say: Progress) -> Appraisal:
    """Evaluate the design that the study gives; what it leaves open is a first guess."""
    given = given_design(problem)
    said = "a first guess" if np.isnan(given[problem.active]).all() else "the given design"
    say(f"Evaluating {said}")
    start = starting_designs(problem, 1)[0].design
    x = np.where(np.isnan(given), start, given)
    open_variables = problem.active & np.isnan(given)
    if not np.isnan(given[problem.active]).any() and problem.active.any():
        origin = "design given in the study"
    elif open_variables.all() or np.isnan(given).all():
        origin = "first guess by the count problem (the study gives no design)"
    else:
        origin = "design given in part; the rest is a first guess by the count problem"
    return Appraisal("evaluate", problem, x, problem.values(x), None, origin)


def optimum_analysis(problem: DesignProblem, say: Progress) -> Appraisal:
    """Optimise the study, frozen variables kept."""
    return _optimised("optimum", problem, say, problem.study.analysis.optimum.starts)


def defence_analysis(problem: DesignProblem, say: Progress) -> Appraisal:
    """Optimise the study from many starts, and find what a review asks about the optimum."""
    from mdo.defend.defence import defended, find_defence

    found = _optimised("defence", problem, say, problem.study.analysis.defence.starts)
    return defended(found, find_defence(found, say))


def _optimised(kind: str, problem: DesignProblem, say: Progress, starts: int) -> Appraisal:
    options = problem.study.analysis.optimum
    given = given_design(problem)
    first = None if np.isnan(given[problem.active]).any() else given
    optimum = find_optimum(
        problem,
        starts=starts,
        tolerance=options.tolerance,
        iterations=options.iterations,
        progress=say,
        first=first,
    )
    values = problem.values(optimum.design)
    reached = sum(abs(one.mass / optimum.mass - 1.0) < 1e-6 for one in optimum.attempts)
    origin = f"optimum, reached from {reached} of {len(optimum.attempts)} starts"
    return Appraisal(kind, problem, optimum.design, values, optimum, origin)


ANALYSES: dict[str, Callable[[DesignProblem, Progress], Appraisal]] = {
    "evaluate": evaluate_analysis,
    "optimum": optimum_analysis,
    "defence": defence_analysis,
}


def given_design(problem: DesignProblem) -> NDArray[np.float64]:
    """Design vector of values and starts that the study gives, NaN where it gives none."""
    values: dict[str, list[float]] = {}
    for name, size in DESIGN_SIZES.items():
        variable = getattr(problem.study.design, name)
        sides = [variable] if size == 1 else [variable.up, variable.down]
        values[name] = [
            side.value
            if side.value is not None
            else side.start
            if side.start is not None
            else np.nan
            for side in sides
        ]
    given = join_design(values)
    # what the discrete choices leave without meaning does not make a design incomplete
    return np.where(problem.active | ~np.isnan(given), given, problem.lower)


def appraise_design(problem: DesignProblem, x: NDArray[np.float64], origin: str) -> Appraisal:
    """Appraisal of any design vector."""
    return Appraisal("evaluate", problem, x, problem.values(x), None, origin)


def result_hash(study: Study) -> str:
    """Hash of everything that a result depends on: study text, alloy card, load table."""
    digest = hashlib.sha256(study.text.encode())
    digest.update(alloy_card(study).path.read_bytes())
    digest.update(repr(study.load_table).encode())
    for file in (one for name in study.analyses for one in plan_files(study, name)):
        with contextlib.suppress(OSError):  # whoever reads it says what is wrong
            digest.update(file.read_bytes())
    return digest.hexdigest()


def write_result(
    store: ResultStore,
    name: str,
    key: str,
    appraisal: Appraisal,
    summaries: Mapping[str, str],
    timings: Mapping[str, float],
) -> Path:
    """Write tables, summaries and report of an appraisal; returns the folder."""
    from mdo.report import render_report
    from mdo.report.pages.order_sheet import order_sheet_markdown

    study = appraisal.study
    writer = store.begin(name, study.text, key, study.seed)
    if writer is None:  # another process finished the same run in the meantime
        found = store.find(name, study_text=study.text, study_hash=key, seed=study.seed)
        return store.place(name) if found is None else found.folder
    with writer:
        tables = result_tables(appraisal)
        for table, frame in {**tables, COLUMNS: columns_table(tables)}.items():
            writer.table(table, frame)
        for kind, file in SUMMARIES.items():
            writer.text(file, summaries[kind])
        writer.text(RECORD, record_text(appraisal))
        writer.text(ORDER_SHEET, order_sheet_markdown(tables))
        writer.text(REPORT, render_report(appraisal, tables))
        return writer.finish({judge(appraisal).level: 1}, timings)


def page_tables(tables: Mapping[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    """Tables of a stored result that its page is made from."""
    return {name: frame for name, frame in tables.items() if name != COLUMNS}
