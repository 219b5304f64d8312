"""Run an exploration of a study: its plan as options, who does the work, what is written."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any, NamedTuple

from mdo.explore.exploration import Exploration
from mdo.optimise.axes import Axis, axes_of
from mdo.optimise.problem import DesignProblem
from mdo.results.manifest import tool_versions
from mdo.results.stored import StoredResult
from mdo.results.work import Work
from mdo.study.analyses import MODES, Ends
from mdo.study.choices import EXPLORATIONS
from mdo.study.reader import StudyError
from mdo.study.text import file_name
from mdo.study.units import UnitError, parse_quantity

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd
    from numpy.typing import NDArray

    from mdo.study.study import Study

LOCAL = "local"
Say = Callable[[str], None]
Explorer = Callable[[DesignProblem, Any, Work, Say], Exploration]
UNJUDGED = ("sensitivity",)  # says nothing of whether a design is feasible
FOUND, NOTHING = "explored", "nothing feasible"


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
    options, run = PLANNED[name](problem)
    work = Work(place, key, scheduler=means.scheduler, workers=means.workers)
    try:
        return run(problem, options, work, say), work
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
                PLANNED[name](problem)
            except StudyError as error:
                problems += error.problems
    if problems:
        raise StudyError(problems)


def plan_files(study: Study, name: str) -> list[Path]:
    """Files that an exploration reads beside the study."""
    file = getattr(getattr(study.analysis, name), "file", None)
    return [] if file is None else [study.folder / file_name(file)]


def level_of(found: Exploration) -> str:
    """Say in two words what came out."""
    return FOUND if found.kind in UNJUDGED or found.status_counts.get("feasible", 0) else NOTHING


def exploration_summaries(found: Exploration) -> dict[str, str]:
    """Texts for a terminal and for scripts."""
    from mdo.report.words.explorations import sentences

    lines = sentences(found)
    title = found.study.title or found.study.name
    text = "\n".join([f"{title}: {found.kind}", *(f"  {line}" for line in lines)])
    summary = {
        "study": found.study.name,
        "analysis": found.kind,
        "verdict": level_of(found),
        "lines": list(lines),
        "status_counts": dict(found.status_counts),
        "rows": {name: len(table) for name, table in found.tables.items()},
    }
    return {"si": text, "us": text, "json": json.dumps(summary, indent=1, sort_keys=True)}


def page_of(exploration: Exploration) -> str:
    """Page of an exploration."""
    from mdo.report.words.explorations import sentences

    study = exploration.study
    head = {"name": study.name, "title": study.title, "description": study.description}
    return _page(
        exploration.kind,
        head,
        study.vehicle.name,
        sentences(exploration),
        exploration.tables,
        tool_versions(),
    )


def stored_page(result: StoredResult) -> str:
    """Page of a stored exploration, from its tables, summary and study."""
    tables = {name: result.table(name) for name in result.tables if name != "columns"}
    summary = json.loads((result.folder / "summary.json").read_text(encoding="utf-8"))
    text = result.manifest.study_text
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError:  # a study that was changed in Python is kept as JSON
        content = json.loads(text)
    head, vehicle = content["study"], content["vehicle"]["name"]
    kind, versions = result.manifest.analysis, result.manifest.versions
    return _page(kind, head, vehicle, summary["lines"], tables, versions)


def _page(
    kind: str,
    head: Mapping[str, str],
    vehicle: str,
    lines: Sequence[str],
    tables: Mapping[str, pd.DataFrame],
    versions: Mapping[str, str],
) -> str:
    from mdo.report import render_exploration

    title, about = head.get("title") or head["name"], head.get("description", "")
    return render_exploration(kind, title, head["name"], vehicle, about, lines, tables, versions)


def _axes(problem: DesignProblem, name: str, given: Mapping[str, Ends]) -> tuple[Axis, ...]:
    return axes_of(problem, given, f"analysis.{name}.axes")


def _map(problem: DesignProblem) -> tuple[Any, Explorer]:
    from mdo.explore.maps import MapOptions, run_map

    plan = problem.study.analysis.map
    axes = _axes(problem, "map", plan.axes)
    points = None if plan.file is None else _listed(problem, axes, plan.file)
    _check_levels(problem, "map", plan.sample, plan.levels, [axis.name for axis in axes])
    options = MapOptions(
        axes=axes,
        sample=plan.sample,
        count=plan.points,
        seed=problem.study.seed,
        levels=plan.levels,
        points=points,
        choices=plan.choices,
        looks=plan.looks,
    )
    return options, run_map


def _listed(problem: DesignProblem, axes: tuple[Axis, ...], file: str) -> NDArray[np.float64]:
    """Points of a CSV file, read as a sweep reads its designs."""
    from mdo.explore.sweeps.list_file import read_list

    path = problem.study.folder / file_name(file)
    where = f"{_source(problem)}: analysis.map.file"
    with TemporaryDirectory() as folder:
        listed = read_list(problem, axes, path, Path(folder) / "points.bin", where)
        if len(listed.names) > len(axes):
            more = ", ".join(listed.names[len(axes) :])
            raise StudyError([f"{where}: columns of design variables, got {more}, expected axes"])
        return listed.rows(0, listed.size)


def _sweep(problem: DesignProblem) -> tuple[Any, Explorer]:
    from mdo.explore.sweeps import SweepOptions, run_sweep
    from mdo.explore.sweeps.options import check_options

    plan = problem.study.analysis.sweep
    options = SweepOptions(
        sample=plan.sample,
        designs=plan.designs,
        seed=problem.study.seed,
        chunk=plan.chunk,
        variables=_ranges(problem, plan.variables),
        axes=_axes(problem, "sweep", plan.axes),
        levels=plan.levels,
        file=None if plan.file is None else problem.study.folder / file_name(plan.file),
    )
    check_options(problem, options)
    return options, run_sweep


def _front(problem: DesignProblem) -> tuple[Any, Explorer]:
    from mdo.explore.fronts import FrontOptions, run_front
    from mdo.explore.fronts.objectives import objectives_of

    plan = problem.study.analysis.front
    options = FrontOptions(
        objectives=plan.objectives,
        ranges=plan.ranges,
        points=plan.points,
        choices=plan.choices,
    )
    objectives_of(problem, options)
    return options, run_front


def _sensitivity(problem: DesignProblem) -> tuple[Any, Explorer]:
    from mdo.explore.indices import SensitivityOptions, run_sensitivity

    plan = problem.study.analysis.sensitivity
    options = SensitivityOptions(
        axes=_axes(problem, "sensitivity", plan.axes),
        of=plan.of,
        samples=plan.samples,
        optimum_samples=plan.optimum_samples,
        trajectories=plan.trajectories,
        inputs_most=plan.inputs_most,
        confidence=plan.confidence,
        seed=problem.study.seed,
    )
    return options, run_sensitivity


def _scaling(problem: DesignProblem) -> tuple[Any, Explorer]:
    from mdo.explore.scaling import ScalingOptions, run_scaling

    plan = problem.study.analysis.scaling
    modes = MODES if plan.checks else MODES[:1]
    return ScalingOptions(laws=plan.laws, sizes=plan.sizes, modes=modes), run_scaling


def _ranges(
    problem: DesignProblem, given: Mapping[str, Ends]
) -> dict[str, tuple[float, float] | None]:
    """Ranges of design variables in SI."""
    from mdo.quantities import QUANTITIES

    found: dict[str, tuple[float, float] | None] = {}
    problems = []
    for label, ends in given.items():
        quantity = QUANTITIES.get(label.partition(".")[0])
        unit = "1" if quantity is None else quantity.unit
        try:
            low, high = (
                parse_quantity(end, unit) if isinstance(end, str) else _bare(end, unit)
                for end in ends
            )
            found[label] = (low, high)
        except UnitError as error:
            problems.append(f"{_source(problem)}: analysis.sweep.variables.{label}: {error}")
    if problems:
        raise StudyError(problems)
    return found


def _bare(end: float, unit: str) -> float:
    if unit != "1":
        raise UnitError(f"missing unit, got {end}, expected text with a unit of {unit}")
    return float(end)


def _check_levels(
    problem: DesignProblem, name: str, sample: str, levels: Mapping[str, int], names: Sequence[str]
) -> None:
    where = f"{_source(problem)}: analysis.{name}.levels"
    faults = [f"{where}.{one}: no axis, expected one of {', '.join(names)}"
              for one in levels if one not in names]  # fmt: skip
    if sample == "factorial":
        faults += [f"{where}.{one}: missing, expected 2 or more" for one in names
                   if one not in levels]  # fmt: skip
    if faults:
        raise StudyError(faults)


def _source(problem: DesignProblem) -> str:
    return str(problem.study.path) if problem.study.path else "study"


PLANNED: Mapping[str, Callable[[DesignProblem], tuple[Any, Explorer]]] = {
    "map": _map,
    "front": _front,
    "sweep": _sweep,
    "sensitivity": _sensitivity,
    "scaling": _scaling,
}
