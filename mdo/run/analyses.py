"""Run the analyses of a study, write their results, and sum them up."""

from __future__ import annotations

import contextlib
import hashlib
import json
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pandas as pd

from mdo.defend.record import record_text
from mdo.defend.tables.design import result_tables
from mdo.defend.verdict import INFEASIBLE, judge
from mdo.explore.exploration import Exploration
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.levels.study_optimum import keeping
from mdo.optimise.problem import DesignProblem, make_problem
from mdo.optimise.verify import Paths, paths_of
from mdo.report import Source, render_report, render_review
from mdo.report.pages.notebook import outcome_html
from mdo.report.pages.order_sheet import order_sheet_markdown
from mdo.report.words.bench import bench_words
from mdo.report.words.summary import summary_text
from mdo.report.words.summary_data import summary_dict
from mdo.results.files import StoreError, read_whole
from mdo.results.store import ResultStore
from mdo.results.work import LOCAL, Work
from mdo.run.design_analyses import ANALYSES, RECORD, stored_design
from mdo.run.explorations import (
    EXPLORERS,
    NOTHING,
    REPORT,
    SIZES_ITSELF,
    check_plans,
    exploration_pages,
    exploration_summaries,
    explore,
    is_exploration,
    level_of,
    plan_files,
)
from mdo.run.phases import COMPILING, WRITING, of_own_paths
from mdo.run.progress import Phase, Say, Tracker
from mdo.study.assemble import alloy_card
from mdo.study.study import Study

FOUND, NOT_FEASIBLE = 0, 3
OPTIMUM = "optimum"
SUMMARIES = {"si": "summary.txt", "us": "summary_us.txt", "json": "summary.json"}
REVIEW, ORDER_SHEET = "review.html", "order_sheet.md"


@dataclass(frozen=True)
class Done:
    """One analysis: its appraisal or exploration, or only its place where it was run before."""

    analysis: str
    level: str
    summaries: Mapping[str, str]
    folder: Path | None = None
    result: Appraisal | Exploration | None = None
    tables: Mapping[str, pd.DataFrame] = field(default_factory=dict)

    @property
    def is_fresh(self) -> bool:
        """Whether this run computed it."""
        return self.result is not None


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
        last = self.done[-1].result
        return last if isinstance(last, Appraisal) else None

    def summary_text(self, units: str = "si") -> str:
        """Summary for a terminal."""
        parts = [self.done[-1].summaries[units]]
        for done in self.done:
            if done.folder is not None:
                again = "" if done.is_fresh else " (nothing to do: the same study was run before)"
                parts.append(f"Results of '{done.analysis}': {done.folder}{again}")
        return "\n".join(parts)

    def _repr_html_(self) -> str:
        """What a notebook shows: verdict and key numbers."""
        last = self.done[-1]
        summary = json.loads(last.summaries["json"])
        return outcome_html(summary, "" if last.folder is None else str(last.folder))

    def summary(self) -> dict[str, Any]:
        """Summary for scripts, SI units."""
        whole: dict[str, Any] = json.loads(self.done[-1].summaries["json"])
        whole["exit_code"] = self.exit_code
        whole["results"] = {}
        for done in self.done:
            folder = None if done.folder is None else str(done.folder)
            whole["results"][done.analysis] = {"folder": folder, "run_before": not done.is_fresh}
        return whole


def run_study(
    study: Study, *, results_root: Path | None = None, progress: Say | None = None,
    scheduler: str = LOCAL, workers: int | None = None,
) -> Outcome:  # fmt: skip
    """Run every analysis of a study; one that has been run before is not run again.

    Parameters
    ----------
    study : the study
    results_root : folder of results; None writes nothing
    progress : told what is being done, one line at a time; a tracker knows how far that is
    scheduler, workers : who does the work of explorations, as :func:`mdo.api.run` takes them

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
    tracker = progress if isinstance(progress, Tracker) else Tracker(progress or (lambda _: None))
    store = None if results_root is None else ResultStore(results_root, study.name)
    key = result_hash(study)
    before = {name: _run_before(store, name, study, key) for name in study.analyses}
    ahead = [name for name, known in before.items() if known is None]
    if ahead:
        if store is not None:
            store.check_writable()
        tracker.begin((COMPILING, *(phase for name in ahead for phase in plan(study, name))))
        tracker("Compiling the coupled model (once; kept for later runs)")
        problem = make_problem(study)
        check_plans(problem, ahead)
        if {"optimum", "defence"} & set(ahead):
            problem.compile_ahead()
    done: list[Done] = []
    for name, known in before.items():
        if known is not None:
            done.append(known)
            continue
        began = time.perf_counter()
        with contextlib.ExitStack() as held:  # chunks stay until what they gave is written
            work = None
            if is_exploration(name) or (store is not None and problem.correction is not None):
                place = None if store is None else store.place(name)
                work = held.enter_context(Work(place, key, scheduler=scheduler, workers=workers))
            paths = paths_found(done, store, problem, key) if is_exploration(name) else None
            fresh = _analysed(name, problem, work, tracker, paths)
            if store is not None:
                spent = {"analysis": time.perf_counter() - began}
                tracker("Writing tables and report")
                try:
                    fresh = replace(fresh, folder=_written(store, study, key, fresh, spent))
                except StoreError as error:
                    raise NotWrittenError(str(error), Outcome(study, (*done, fresh))) from error
                if work is not None:
                    work.finish()
        done.append(fresh)
    return Outcome(study, tuple(done))


def plan(study: Study, name: str) -> tuple[Phase, ...]:
    """Phases of an analysis, in their order."""
    if not is_exploration(name):
        return (*ANALYSES[name].phases(study), WRITING)
    known = name == SIZES_ITSELF or OPTIMUM in study.analyses or not study.fidelity.verify
    first = [] if known else of_own_paths(study)
    return (*first, *EXPLORERS[name].phases(study), WRITING)


def _analysed(
    name: str, problem: DesignProblem, work: Work | None, say: Say, paths: Paths | None
) -> Done:
    """Run one analysis and sum it up; nothing is written."""
    if is_exploration(name):
        assert work is not None
        found = explore(name, problem, work, say, paths)
        return Done(name, level_of(found), exploration_summaries(found), None, found, found.tables)
    appraisal = _appraised(name, problem, work, say)
    tables = result_tables(appraisal)
    summaries = {
        "si": summary_text(appraisal, "si", tables),
        "us": summary_text(appraisal, "us", tables),
        "json": json.dumps(summary_dict(appraisal, tables), indent=1, sort_keys=True),
    }
    return Done(name, judge(appraisal).level, summaries, None, appraisal, tables)


def _appraised(name: str, problem: DesignProblem, work: Work | None, say: Say) -> Appraisal:
    """Run an analysis of one design; dear evaluations of corrected rows are kept in the work.

    A run that was stopped or killed takes them up, and ends with the same bits.
    """
    if work is None:
        return ANALYSES[name].run(problem, say)
    folder = work.kept("dear")
    if len(folder):
        say(f"Dear evaluations: {len(folder)} kept from an earlier run")
    with keeping(folder):
        return ANALYSES[name].run(problem, say)


def paths_found(
    done: Sequence[Done], store: ResultStore | None, problem: DesignProblem, key: str
) -> Paths | None:
    """What the paths of the optimum of the same study take, if it was found in this run or before.

    Of an infeasible one those of the study.
    """
    of_now = (each.result for each in done if each.analysis == OPTIMUM)
    found = next((one for one in of_now if isinstance(one, Appraisal)), None)
    found = found or stored_design(OPTIMUM, problem, store, key)
    return None if found is None else paths_of((found.bound or found).problem)


def _written(
    store: ResultStore, study: Study, key: str, done: Done, spent: Mapping[str, float]
) -> Path:
    """Write what one analysis gave; returns the folder."""
    writer = store.begin(done.analysis, study.text, key, study.seed)
    if writer is None:  # another process finished the same run in the meantime
        known = store.find(done.analysis, study.text, key, study.seed)
        return store.place(done.analysis) if known is None else known.folder
    texts = {file: done.summaries[kind] for kind, file in SUMMARIES.items()}
    with writer:
        if isinstance(done.result, Exploration):
            tables, counts = done.tables, done.result.status_counts
            texts |= exploration_pages(done.result)
            for name, path in done.result.files.items():
                writer.file(name, path)
        else:
            assert done.result is not None
            tables = bench_words(study.content, done.tables)
            counts = {done.level: 1}
            texts[RECORD] = record_text(done.result)
            texts |= design_pages(Source(done.result, tables))
        writer.write(tables, texts)
        return writer.finish(counts, spent)


def design_pages(source: Source) -> dict[str, str]:
    """Pages of a design, and its order sheet, by their file."""
    return {
        ORDER_SHEET: order_sheet_markdown(source.tables),
        REPORT: render_report(source),
        REVIEW: render_review(source),
    }


def _run_before(store: ResultStore | None, name: str, study: Study, key: str) -> Done | None:
    """Result of the same study by the same version of the tool, if it is there and whole.

    Raises
    ------
    StoreError
        If its manifest is in order but does not list what a run writes.
    """
    if store is None:
        return None
    known = store.find(name, study.text, key, study.seed)
    if known is None:
        return None
    if not known.manifest.status_counts or not set(SUMMARIES.values()) <= set(known.manifest.files):
        raise StoreError(
            f"{known.folder}: not what a run writes, expected summaries and a verdict (remove the "
            "folder and run the study again)"
        )
    summaries = {kind: read_whole(known.folder / file).decode() for kind, file in SUMMARIES.items()}
    level = next(iter(known.manifest.status_counts))
    if is_exploration(name):
        level = str(json.loads(summaries["json"])["verdict"])
    return Done(name, level, summaries, known.folder)


def result_hash(study: Study) -> str:
    """Hash of everything that a result depends on: study text, alloy card, load table."""
    digest = hashlib.sha256(study.text.encode())
    digest.update(alloy_card(study).path.read_bytes())
    digest.update(repr(study.load_table).encode())
    for file in (path for name in study.analyses for path in plan_files(study, name)):
        with contextlib.suppress(OSError):  # whoever reads it says what is wrong
            digest.update(file.read_bytes())
    return digest.hexdigest()
