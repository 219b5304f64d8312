"""Run an exploration of a study: its plan as options, who does the work, what is written."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from mdo.analysis_names import EXPLORATIONS
from mdo.explore.exploration import Exploration
from mdo.optimise.levels.study_optimum import dear_problem
from mdo.optimise.problem import DesignProblem
from mdo.results.manifest import tool_versions
from mdo.results.stored import StoredResult
from mdo.results.work import Work
from mdo.run import phases
from mdo.run.progress import Phase
from mdo.study.reader import StudyError
from mdo.study.text import file_name

if TYPE_CHECKING:
    from mdo.study.study import Study

LOCAL = "local"
REPORT, TRADE = "report.html", "trade.html"
Say = Callable[[str], None]
UNJUDGED = ("sensitivity", "motion")  # says nothing of whether a design is feasible
FOUND, NOTHING = "explored", "nothing feasible"


class Explorer(NamedTuple):
    """What checks the plan of an exploration, what runs it, and its phases for the time left."""

    check: Callable[[DesignProblem], Any]
    run: Callable[[DesignProblem, Work, Say], Exploration]
    phases: Callable[[Study], list[Phase]]


class Means(NamedTuple):
    """Who does the work: ``serial``, ``local`` or the address of a scheduler; processes."""

    scheduler: str = LOCAL
    workers: int | None = None


def is_exploration(name: str) -> bool:
    """Whether an analysis looks at many designs."""
    return name in EXPLORATIONS


def explore(
    name: str, problem: DesignProblem, place: Path | None, key: str, means: Means, say: Say
) -> tuple[Exploration, Work]:
    """Run one exploration; the work is left open until its result is written.

    Parameters
    ----------
    name : of the analysis
    problem : the study
    place : folder that the result will have; None keeps nothing
    key : hash of everything that the result depends on
    means : who does the work
    say : told what is being done

    Raises
    ------
    StudyError
        If the plan of the study does not serve.
    WorkError
        If the work cannot be done.
    """
    work = Work(place, key, scheduler=means.scheduler, workers=means.workers)
    try:
        if problem.correction is not None and name == "sweep":  # designs as they are: nothing to
            found = explorers()[name].run(dear_problem(problem), work, say)  # interpolate
            return replace(found, problem=problem), work
        return explorers()[name].run(problem, work, say), work
    except BaseException:
        work.close()
        raise


def check_plans(problem: DesignProblem, names: Sequence[str]) -> None:
    """Check the plans of explorations before anything is computed.

    Raises
    ------
    StudyError
        With every problem of them.
    """
    problems: list[str] = []
    for name in names:
        if is_exploration(name):
            try:
                explorers()[name].check(problem)
            except StudyError as error:
                problems += error.problems
    if problems:
        raise StudyError(problems)


def plan_files(study: Study, name: str) -> list[Path]:
    """Files that an exploration reads beside the study."""
    file = getattr(getattr(study.analysis, name, None), "file", None)
    return [] if file is None else [study.folder / file_name(file)]


def level_of(found: Exploration) -> str:
    """Say in two words what came out."""
    return FOUND if found.kind in UNJUDGED or found.status_counts.get("feasible", 0) else NOTHING


def exploration_summaries(found: Exploration) -> dict[str, str]:
    """Texts for a terminal and for scripts."""
    from mdo.report.words.bench import bench_words
    from mdo.report.words.explorations import sentences

    lines = bench_words(found.study.content, [*sentences(found), *_levels_words(found)])
    title = found.study.title or found.study.name
    text = "\n".join([f"{title}: {found.kind}", *(f"  {line}" for line in lines)])
    summary = {
        "study": found.study.name,
        "analysis": found.kind,
        "verdict": level_of(found),
        "lines": list(lines),
        "status_counts": dict(found.status_counts),
        "rows": {name: len(table) for name, table in found.tables.items()},
        **_dear_numbers(found),
    }
    return {"si": text, "us": text, "json": json.dumps(summary, indent=1, sort_keys=True)}


def _dear_numbers(found: Exploration) -> dict[str, float | int | None]:
    """How far a map of corrected rows is off, for scripts."""
    from mdo.explore.maps.dear import dear_figures

    figures = dear_figures(found.tables["map_points"]) if found.kind == "map" else None
    if figures is None:
        return {}
    median, most = (None if np.isnan(share) else share for share in figures[1:3])
    return {
        "dear_points": figures.dear_points,
        "mass_bound_median": median,
        "mass_bound_most": most,
        "mass_bound_unknown": figures.unknown,
        "held_out": figures.held_out,
        "held_out_inside": figures.inside,
    }


def _levels_words(found: Exploration) -> list[str]:
    """Say at which levels an exploration of a study that corrects rows stands."""
    fidelity = found.study.fidelity._replace(verify={})  # nothing is marched here
    if not fidelity.correct:
        return []
    between = "interpolated between points optimised at the dear levels"
    if found.kind == "map":
        return [f"Levels of fidelity: {fidelity}, {between}"]
    if found.kind == "front":
        turned = any(one.axis is not None for one in found.facts)
        around = "around the optimum of the study; the error elsewhere is not known"
        return [f"Levels of fidelity: {fidelity}, {between if turned else around}"]
    if found.kind == "sweep":
        return [f"Levels of fidelity: {fidelity.dear}, each design as it is"]
    return [f"Levels of fidelity: {fidelity.optimise}; nothing is corrected here"]


def pages_of(exploration: Exploration) -> dict[str, str]:
    """Pages of an exploration by their file."""
    from mdo.report.words.explorations import sentences

    study, lines = exploration.study, [*sentences(exploration), *_levels_words(exploration)]
    about = study.title or study.name, study.name, study.vehicle.name, study.description
    whole = _Whole(exploration.kind, about, tool_versions(), study.seed, study.hash)
    return _pages(whole, study.content, lines, exploration.tables)


def stored_pages(result: StoredResult) -> dict[str, str]:
    """Pages of a stored exploration by their file, from its tables, summary and study."""
    tables = {name: result.table(name) for name in result.tables if name != "columns"}
    summary = json.loads((result.folder / "summary.json").read_text(encoding="utf-8"))
    content, manifest = result.study, result.manifest
    head = content["study"]
    whose = content["bench"] if "bench" in content else content["vehicle"]
    title = head.get("title") or head["name"]
    about = title, head["name"], whose["name"], head.get("description", "")
    text_hash = hashlib.sha256(manifest.study_text.encode()).hexdigest()
    whole = _Whole(manifest.analysis, about, manifest.versions, manifest.seed, text_hash)
    return _pages(whole, content, summary["lines"], tables)


class _Whole(NamedTuple):
    """An exploration as its pages name it: kind, words of the study, versions, seed, hash."""

    kind: str
    about: tuple[str, str, str, str]
    versions: Mapping[str, str]
    seed: int
    study_hash: str


def _pages(
    whole: _Whole, content: Mapping[str, Any], lines: Sequence[str], tables: Mapping[str, Any]
) -> dict[str, str]:
    from mdo.report import render_exploration, trade_page
    from mdo.report.words.bench import bench_page

    trade = None
    if whole.kind == "map":
        trade = trade_page(*whole.about, tables, whole.versions, whole.seed, whole.study_hash)
    beside = "" if trade is None else TRADE
    page = render_exploration(whole.kind, *whole.about, lines, tables, whole.versions, beside)
    made = {REPORT: page} | ({} if trade is None else {TRADE: trade})
    return {name: bench_page(content, text) for name, text in made.items()}


def explorers() -> Mapping[str, Explorer]:
    """Explorations by their name; imported where the first one is asked for."""
    from mdo.explore.assurance.assurance import check as check_assurance
    from mdo.explore.assurance.assurance import run_assurance
    from mdo.explore.fronts.front import run_front
    from mdo.explore.fronts.objectives import objectives_of
    from mdo.explore.indices.inputs import inputs_of
    from mdo.explore.indices.sensitivity import run_sensitivity
    from mdo.explore.maps.map import grid_of, run_map
    from mdo.explore.motion.motion import check as check_motion
    from mdo.explore.motion.motion import run_motion
    from mdo.explore.scaling.scaling import check, run_scaling
    from mdo.explore.sweeps.space import space_of
    from mdo.explore.sweeps.sweep import run_sweep
    from mdo.run.design_analyses import sized

    return {
        "map": Explorer(grid_of, run_map, phases.of_map),
        "front": Explorer(objectives_of, run_front, phases.of_front),
        "sweep": Explorer(
            lambda problem: space_of(problem, problem.lower), run_sweep, phases.of_sweep
        ),
        "sensitivity": Explorer(inputs_of, run_sensitivity, phases.of_sensitivity),
        "scaling": Explorer(check, run_scaling, phases.of_scaling),
        "assurance": Explorer(check_assurance, run_assurance, phases.of_assurance),
        "motion": Explorer(
            check_motion, lambda problem, _, say: run_motion(problem, sized, say), phases.of_motion
        ),
    }
