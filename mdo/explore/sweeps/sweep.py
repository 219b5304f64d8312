"""The analysis: up to a hundred million designs evaluated as they are, each with its verdict."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from mdo.explore.exploration import Exploration, Say, source_of
from mdo.explore.sweeps.evaluate import FUNCTION, WORST
from mdo.explore.sweeps.gather import Gathered, Lightest, gather
from mdo.explore.sweeps.list_file import DesignList, read_list
from mdo.explore.sweeps.options import (
    WHERE,
    SweepOptions,
    check_options,
    plain_options,
    swept_names,
)
from mdo.explore.sweeps.samples import LISTED
from mdo.explore.sweeps.space import base_design, drawn_sample
from mdo.optimise.problem import DesignProblem
from mdo.optimise.problem_text import problem_context
from mdo.optimise.status import STATUSES
from mdo.quantities import QUANTITIES
from mdo.results.work import Task, Work

if TYPE_CHECKING:
    import pandas as pd

KIND = "sweep"
SHOWN = 5_000  # rows of the thinned table
DESIGNS_FILE = "designs.parquet"
NUMBERS_FILE = "listed.bin"
OWN_TITLES = {
    "fold_time_longest": ("s", "Longest fold time of all legs"),
    "return_time_longest": ("s", "Longest return time of all legs"),
    WORST: ("1", "Worst requirement, normalised: 0 or more where all hold"),
}


class SweepFacts(NamedTuple):
    """How a sweep was drawn, and the number and mass [kg] of its lightest feasible design."""

    sample: str
    seed: int
    file: str
    size: int
    numbers: int
    stride: int
    lightest: Lightest | None


def run_sweep(problem: DesignProblem, options: SweepOptions, work: Work, say: Say) -> Exploration:
    """Evaluate all designs of a sweep.

    Parameters
    ----------
    problem : the study
    options : what is swept
    work : who does the chunks; the file of all designs is left in its folder
    say : told which chunk is under way

    Raises
    ------
    StudyError
        If the options or the list of designs cannot be used.
    WorkError
        If a chunk cannot be done.
    StoreError
        If something cannot be written.
    """
    check_options(problem, options)
    designs = None
    if options.sample == LISTED and options.file is not None:
        designs, options = _read_designs(problem, options, options.file, work)
    options = replace(options, base=base_design(problem, options))
    sample = designs or drawn_sample(problem, options)
    size = 0 if sample is None else sample.size
    context = problem_context(problem, plain_options(options))
    tasks = SweepTasks(size, options.chunk, designs)
    chunks = work.do(KIND, FUNCTION, context, tasks, say, title="Sweep")
    stride = math.ceil(size / SHOWN)
    gathered = gather(chunks, work.folder / DESIGNS_FILE, stride)
    counts = dict.fromkeys(STATUSES, 0)
    for (status, _), count in gathered.counts.items():
        counts[status] += count
    numbers = len(swept_names(problem, options))
    file = options.file.name if options.file else ""
    facts = SweepFacts(options.sample, options.seed, file, size, numbers, stride, gathered.lightest)
    files = {DESIGNS_FILE: work.folder / DESIGNS_FILE}
    return Exploration(KIND, problem, _tables(options, gathered), counts, facts, files)


def _read_designs(
    problem: DesignProblem, options: SweepOptions, file: Path, work: Work
) -> tuple[DesignList, SweepOptions]:
    """Designs of the file, and options that sweep just what it has columns for."""
    numbers = work.folder / NUMBERS_FILE
    designs = read_list(problem, options.axes, file, numbers, f"{source_of(problem)}: {WHERE}.file")
    labels = designs.names[len(options.axes) :]
    return designs, replace(options, variables=dict.fromkeys(labels), designs=designs.size)


class SweepTasks(Sequence[Task]):
    """Chunks of a sweep, each made when it is asked for."""

    def __init__(self, size: int, chunk: int, designs: DesignList | None) -> None:
        self._size, self._chunk, self._listed = size, chunk, designs

    def __len__(self) -> int:
        return math.ceil(self._size / self._chunk)

    def __getitem__(self, place: Any) -> Any:
        if not 0 <= place < len(self):
            raise IndexError(place)
        start = place * self._chunk
        stop = min(start + self._chunk, self._size)
        payload: dict[str, Any] = {"start": start, "stop": stop}
        if self._listed is not None:
            payload["rows"] = self._listed.rows(start, stop)
        return Task(f"designs-{place:06d}", payload)


def _tables(options: SweepOptions, gathered: Gathered) -> dict[str, pd.DataFrame]:
    """Tables of the result: the thinned designs, counts of verdicts, what the columns hold."""
    import pandas as pd

    verdicts = sorted(
        gathered.counts.items(), key=lambda item: (STATUSES.index(item[0][0]), -item[1], item[0])
    )
    axes = {axis.name: (axis.unit, axis.title) for axis in options.axes}
    columns = []
    for name in gathered.sample.columns:
        if name in {"design", "status", "reason"}:
            continue
        unit, title = axes.get(name) or _about(name)
        low, high = gathered.ends.get(name, (math.nan, math.nan))
        middle = float(gathered.sample[name].median())
        columns.append((name, title, unit, low, middle, high))
    return {
        "sweep_sample": gathered.sample,
        "sweep_status": pd.DataFrame(
            [(*key, count) for key, count in verdicts], columns=["status", "reason", "designs"]
        ),
        "sweep_columns": pd.DataFrame(
            columns, columns=["column", "title", "unit", "low", "median", "high"]
        ),
    }


def _about(name: str) -> tuple[str, str]:
    """Unit and words of a column that is no axis."""
    if name in OWN_TITLES:
        return OWN_TITLES[name]
    base, _, side = name.partition(".")
    meaning = QUANTITIES[base].meaning
    return QUANTITIES[base].unit, f"{meaning} ({side} set)" if side else meaning
