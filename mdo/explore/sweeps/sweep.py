"""The analysis: up to a hundred million designs evaluated as they are, each with its verdict."""

from __future__ import annotations

import math
import os
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from mdo.explore.exploration import Exploration, Say, source_of
from mdo.explore.sweeps.evaluate import FUNCTION, WORST
from mdo.explore.sweeps.list_file import DesignList, read_list
from mdo.explore.sweeps.space import Space, space_of
from mdo.optimise.levels.study_optimum import dear_problem
from mdo.optimise.problem import DesignProblem
from mdo.optimise.problem_text import problem_context
from mdo.optimise.status import FEASIBLE, STATUSES
from mdo.quantities import QUANTITIES
from mdo.results.files import clear_errors
from mdo.results.work import Task, Work
from mdo.results.work.chunks import plain_text
from mdo.study.text import file_name

AS_THEY_ARE = "{0.dear}, each design as it is"
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


def run_sweep(
    problem: DesignProblem, work: Work, say: Say, base: ArrayLike | None = None
) -> Exploration:
    """Evaluate all designs of a sweep.

    Parameters
    ----------
    problem : the study
    work : who does the chunks; the file of all designs is left in its folder
    say : told which chunk is under way
    base : design that gives what is not swept; None: a first guess, where one is needed

    Raises
    ------
    StudyError
        If the plan or the list of designs cannot be used.
    WorkError
        If a chunk cannot be done.
    StoreError
        If something cannot be written.
    """
    plan, given_problem = problem.study.analysis.sweep, problem
    if problem.correction is not None:  # designs as they are: nothing to interpolate
        problem = dear_problem(problem)
    space = space_of(problem, base if plan.file is None else problem.lower)
    listed = None
    if plan.file is not None:
        file = problem.study.folder / file_name(plan.file)
        where = f"{source_of(problem)}: analysis.sweep.file"
        listed = read_list(problem, space.axes, file, work.folder / NUMBERS_FILE, where)
        space = space_of(problem, base, listed.names)
    sample = listed or space.sample
    size = 0 if sample is None else sample.size
    given = {"base": space.low.tolist(), "listed": None if listed is None else listed.names}
    tasks = SweepTasks(size, plan.chunk, listed)
    context = problem_context(problem, given)
    chunks = work.do("sweep", FUNCTION, context, tasks, say, title="Sweep")
    stride = math.ceil(size / SHOWN)
    path = work.folder / DESIGNS_FILE
    gathered = gather(chunks, path, stride)
    counts = dict.fromkeys(STATUSES, 0)
    for (status, _), count in gathered.counts.items():
        counts[status] += count
    facts = SweepFacts(
        plan.sample, problem.study.seed, Path(plan.file or "").name, size, len(space.names),
        stride, gathered.lightest,
    )  # fmt: skip
    tables = _tables(space, gathered)
    return Exploration(
        "sweep", given_problem, tables, counts, facts, {DESIGNS_FILE: path}, AS_THEY_ARE
    )


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


def _tables(space: Space, gathered: Gathered) -> dict[str, pd.DataFrame]:
    """Tables of the result: the thinned designs, counts of verdicts, what the columns hold."""
    verdicts = sorted(
        gathered.counts.items(), key=lambda item: (STATUSES.index(item[0][0]), -item[1], item[0])
    )
    axes = {axis.name: (axis.unit, axis.title) for axis in space.axes}
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


class Lightest(NamedTuple):
    """The lightest feasible design: its number and mass [kg]."""

    design: int
    mass: float


class Gathered(NamedTuple):
    """What all designs say together.

    Attributes
    ----------
    sample
        Every so many designs.
    counts
        Designs by status and reason.
    ends
        Least and largest value of each column of numbers, those that are not finite left out.
    lightest
        None where no design is feasible.
    """

    sample: pd.DataFrame
    counts: Counter[tuple[str, str]]
    ends: dict[str, tuple[float, float]]
    lightest: Lightest | None


def gather(chunks: Iterable[Any], path: Path, stride: int) -> Gathered:
    """Stream chunks into one Parquet file, a row group each, and sum them up.

    Parameters
    ----------
    chunks : tables (pyarrow) in the order of the designs; one at a time is held
    path : the file; it is there whole or not at all
    stride : every so many designs go into the sample

    Raises
    ------
    StoreError
        If the file cannot be written.
    """
    import pyarrow.parquet as pq

    temporary = path.with_name(f".{path.name}.tmp")
    summed = _Sums(stride)
    writer = None
    with clear_errors(path, "write"):
        try:
            for table in chunks:
                if writer is None:
                    writer = pq.ParquetWriter(temporary, table.schema, compression="zstd")
                writer.write_table(table, row_group_size=len(table))
                summed.add(table)
        finally:
            if writer is not None:
                writer.close()
        with temporary.open("rb") as file:
            os.fsync(file.fileno())
        temporary.replace(path)
    sample = pd.concat(summed.samples, ignore_index=True)
    return Gathered(sample, summed.counts, summed.ends, summed.lightest)


class _Sums:
    """Counts, ends and sample of the tables added so far."""

    def __init__(self, stride: int) -> None:
        self._stride = stride
        self.samples: list[pd.DataFrame] = []
        self.counts: Counter[tuple[str, str]] = Counter()
        self.ends: dict[str, tuple[float, float]] = {}
        self.lightest: Lightest | None = None

    def add(self, table: Any) -> None:
        frame = plain_text(table).to_pandas()
        self.samples.append(frame[frame["design"] % self._stride == 0])
        for verdict, count in frame.groupby(["status", "reason"]).size().items():
            self.counts[verdict] += int(count)
        for name in frame.columns.difference(["design", "status", "reason"], sort=False):
            values = frame[name].to_numpy()
            finite = values[np.isfinite(values)]
            if finite.size:
                low, high = self.ends.get(name, (np.inf, -np.inf))
                self.ends[name] = (min(low, float(finite.min())), max(high, float(finite.max())))
        feasible = frame[frame["status"] == FEASIBLE]
        if len(feasible):
            best = feasible.loc[feasible["system_mass"].idxmin()]
            if self.lightest is None or best["system_mass"] < self.lightest.mass:
                self.lightest = Lightest(int(best["design"]), float(best["system_mass"]))
