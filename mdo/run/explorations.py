"""Run an exploration of a study: its plan as options, who does the work, what is written."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from mdo.explore.assurance.assurance import check as check_assurance
from mdo.explore.assurance.assurance import run_assurance
from mdo.explore.exploration import PATHS, Choice, Exploration, paths_of_choices
from mdo.explore.fronts.front import run_front
from mdo.explore.fronts.study_front import objectives_of
from mdo.explore.indices.sensitivity import run_sensitivity
from mdo.explore.indices.subject import inputs_of
from mdo.explore.maps.dear import dear_figures
from mdo.explore.maps.map import grid_of, run_map
from mdo.explore.motion.motion import check as check_motion
from mdo.explore.motion.motion import run_motion
from mdo.explore.scaling.scaling import check as check_scaling
from mdo.explore.scaling.scaling import run_scaling
from mdo.explore.sweeps.space import space_of
from mdo.explore.sweeps.sweep import run_sweep
from mdo.optimise.own_paths import follows_paths, taking_paths, with_own_paths
from mdo.optimise.problem import DesignProblem
from mdo.optimise.verify import Paths, paths_of
from mdo.report import Head, render_exploration, trade_page
from mdo.report.words.bench import bench_page, bench_words
from mdo.report.words.explorations import sentences
from mdo.results.manifest import tool_versions
from mdo.results.stored import StoredResult
from mdo.results.work import Work
from mdo.run import phases
from mdo.run.design_analyses import continuous_optimum, designed
from mdo.run.progress import Phase, Say
from mdo.study.number_text import wrapped
from mdo.study.reader import StudyError
from mdo.study.study import Study
from mdo.study.text import file_name

REPORT, TRADE = "report.html", "trade.html"
SIZES_ITSELF = "motion"
UNJUDGED = ("sensitivity", "motion")  # says nothing of whether a design is feasible
FOUND, NOTHING = "explored", "nothing feasible"


class Explorer(NamedTuple):
    """What checks the plan of an exploration, what runs it, and its phases for the time left."""

    check: Callable[[DesignProblem], Any]
    run: Callable[[DesignProblem, Work, Say], Exploration]
    phases: Callable[[Study], list[Phase]]


EXPLORERS = {
    "map": Explorer(grid_of, run_map, phases.of_map),
    "front": Explorer(objectives_of, run_front, phases.of_front),
    "sweep": Explorer(lambda problem: space_of(problem, problem.lower), run_sweep, phases.of_sweep),
    "sensitivity": Explorer(inputs_of, run_sensitivity, phases.of_sensitivity),
    "scaling": Explorer(check_scaling, run_scaling, phases.of_scaling),
    "assurance": Explorer(check_assurance, run_assurance, phases.of_assurance),
    "motion": Explorer(
        check_motion,
        lambda problem, work, say: run_motion(
            problem, lambda study, told: designed(study, work, told), say
        ),
        phases.of_motion,
    ),
}


def is_exploration(name: str) -> bool:
    """Whether an analysis looks at many designs."""
    return name in EXPLORERS


def explore(
    name: str, problem: DesignProblem, work: Work, say: Say, paths: Paths | None = None
) -> Exploration:
    """Run one exploration.

    It starts from the study as its verified optimum leaves it; a motion sizes the study itself.

    Parameters
    ----------
    name : of the analysis
    problem : the study
    work : who does it, and where its chunks are kept
    say : told what is being done
    paths : what those of that optimum take, where it was found before

    Raises
    ------
    StudyError
        If the plan of the study does not serve.
    WorkError
        If the work cannot be done.
    """
    if name == SIZES_ITSELF:
        return EXPLORERS[name].run(problem, work, say)
    if paths is not None:
        problem = taking_paths(problem, paths)
    elif follows_paths(problem):
        problem = taking_paths(problem, _own_paths(problem, work, say))
    found = EXPLORERS[name].run(problem, work, say)
    own = paths_of_choices([Choice("", problem, "")])
    return replace(found, tables={**own, **found.tables})


def _own_paths(problem: DesignProblem, work: Work, say: Say) -> Paths:
    """What the paths of the verified optimum of a study take; kept as a chunk of the work is."""
    kept, own = work.kept(PATHS), paths_of(problem)
    if PATHS not in kept:
        found = paths_of(with_own_paths(problem, say, continuous_optimum(problem, say)))
        kept.write_numbers(PATHS, np.concatenate([part.ravel() for part in found]))
    parts = np.split(kept.read_numbers(PATHS), np.cumsum([part.size for part in own])[:-1])
    return Paths(*(part.reshape(like.shape) for part, like in zip(parts, own, strict=True)))


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
                EXPLORERS[name].check(problem)
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
    lines = bench_words(found.study.content, _said(found))
    title = found.study.title or found.study.name
    told = [part for line in lines for part in wrapped(line, indent="  ", hanging="    ")]
    text = "\n".join([f"{title}: {found.kind}", *told])
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
    figures = dear_figures(found.tables["map_points"]) if "map_points" in found.tables else None
    numbers = {} if figures is None else figures._asdict()
    return {name: None if np.isnan(number) else number for name, number in numbers.items()}


def _said(found: Exploration) -> list[str]:
    """Sentences on an exploration, where it stands if the study corrects rows, and whose paths."""
    paths = [] if found.kind == SIZES_ITSELF else [paths_words(found)]
    return [*sentences(found), *levels_words(found), *paths]


def paths_words(found: Exploration) -> str:
    """Say whose the factors of stress, drag and lost strain are."""
    if not follows_paths(found.problem):
        return "The paths of the tubes are not followed: stress stands at the study's factor."
    if PATHS not in found.tables:
        return (
            "The study has no feasible optimum at its own values: stress stands at its factor, and "
            "what the paths of the tubes take is in no mass here."
        )
    whose = "each choice" if found.tables[PATHS]["choice"].nunique() > 1 else "the study"
    return (
        "Stress, drag and strain along the paths of the tubes are those of the verified optimum of "
        f"{whose} at the study's own values (table {PATHS}); elsewhere nothing is marched again."
    )


def levels_words(found: Exploration) -> list[str]:
    """Say at which levels an exploration of a study that corrects rows stands."""
    fidelity = found.study.fidelity._replace(verify={})  # no point is marched here
    return [f"Levels of fidelity: {found.levels.format(fidelity)}"] if fidelity.correct else []


def exploration_pages(found: Exploration) -> dict[str, str]:
    """Pages of an exploration by their file."""
    study = found.study
    head = Head(found.kind, study.content, tool_versions(), study.seed, study.hash)
    return _pages(head, _said(found), found.tables)


def stored_pages(result: StoredResult) -> dict[str, str]:
    """Pages of a stored exploration by their file, from its tables, summary and study."""
    summary = json.loads((result.folder / "summary.json").read_text(encoding="utf-8"))
    of = result.manifest
    text_hash = hashlib.sha256(of.study_text.encode()).hexdigest()
    head = Head(of.analysis, result.study, of.versions, of.seed, text_hash)
    return _pages(head, summary["lines"], result.page_tables)


def _pages(head: Head, lines: Sequence[str], tables: Mapping[str, Any]) -> dict[str, str]:
    trade = trade_page(head, tables)
    page = render_exploration(head, lines, tables, "" if trade is None else TRADE)
    made = {REPORT: page} | ({} if trade is None else {TRADE: trade})
    return {name: bench_page(head.content, text) for name, text in made.items()}
