"""The analysis: up to a hundred million designs evaluated as they are, each with its verdict."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from mdo.explore.exploration import Exploration
from mdo.explore.sweeps.evaluate import FUNCTION, STATUSES, WORST
from mdo.explore.sweeps.gather import Gathered, gather
from mdo.explore.sweeps.list_file import Listed, read_list
from mdo.explore.sweeps.options import (
    FACTORIAL,
    LATIN,
    LISTED,
    SOBOL,
    WHERE,
    SweepOptions,
    check_options,
    plain_options,
    swept_names,
)
from mdo.explore.sweeps.space import base_design, sample_of
from mdo.optimise.problem import DesignProblem
from mdo.optimise.problem_text import problem_context
from mdo.quantities import QUANTITIES
from mdo.results.work import Task, Work

if TYPE_CHECKING:
    import pandas as pd

KIND = "sweep"
SHOWN = 5_000  # rows of the thinned table
REASONS_SHOWN = 3
DESIGNS_FILE = "designs.parquet"
NUMBERS_FILE = "listed.bin"
OWN_TITLES = {
    "fold_time_longest": ("s", "Longest fold time of all legs"),
    "return_time_longest": ("s", "Longest return time of all legs"),
    WORST: ("1", "Worst requirement, normalised: 0 or more where all hold"),
}
SAMPLE_WORDS = {
    LATIN: "Latin hypercube, seed {seed}",
    SOBOL: "scrambled Sobol sequence, seed {seed}",
    FACTORIAL: "full factorial",
    LISTED: "from {file}",
}


def run_sweep(
    problem: DesignProblem, options: SweepOptions, work: Work, say: Callable[[str], None]
) -> Exploration:
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
    listed = None
    if options.sample == LISTED and options.file is not None:
        listed, options = _listed(problem, options, options.file, work)
    options = replace(options, base=base_design(problem, options))
    sample = listed or sample_of(problem, options)
    size = 0 if sample is None else sample.size
    context = problem_context(problem, plain_options(options))
    tasks = SweepTasks(size, options.chunk, listed)
    chunks = work.do(KIND, FUNCTION, context, tasks, say, title="Sweep")
    stride = math.ceil(size / SHOWN)
    gathered = gather(chunks, work.folder / DESIGNS_FILE, stride)
    return Exploration(
        KIND,
        problem,
        _tables(options, gathered),
        tuple(_lines(problem, options, gathered, size, stride)),
        _by_status(gathered),
        {DESIGNS_FILE: work.folder / DESIGNS_FILE},
    )


def _listed(
    problem: DesignProblem, options: SweepOptions, file: Path, work: Work
) -> tuple[Listed, SweepOptions]:
    """Designs of the file, and options that sweep just what it has columns for."""
    source = str(problem.study.path) if problem.study.path else "study"
    numbers = work.folder / NUMBERS_FILE
    listed = read_list(problem, options.axes, file, numbers, f"{source}: {WHERE}.file")
    labels = listed.names[len(options.axes) :]
    return listed, replace(options, variables=dict.fromkeys(labels), designs=listed.size)


class SweepTasks(Sequence[Task]):
    """Chunks of a sweep, each made when it is asked for."""

    def __init__(self, size: int, chunk: int, listed: Listed | None) -> None:
        self._size, self._chunk, self._listed = size, chunk, listed

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


def _by_status(gathered: Gathered) -> dict[str, int]:
    """Designs by status, in a fixed order."""
    found = dict.fromkeys(STATUSES, 0)
    for (status, _), count in gathered.counts.items():
        found[status] += count
    return found


def _lines(
    problem: DesignProblem, options: SweepOptions, gathered: Gathered, size: int, stride: int
) -> list[str]:
    """What came out, in plain sentences."""
    counts = _by_status(gathered)
    words = SAMPLE_WORDS[options.sample].format(
        seed=options.seed, file=options.file.name if options.file else ""
    )
    lines = [
        f"{size:,} designs over {len(swept_names(problem, options))} numbers ({words}): "
        + ", ".join(f"{count:,} {status}" for status, count in counts.items())
        + "."
    ]
    if gathered.lightest is not None:
        number, mass = gathered.lightest
        lines.append(
            f"The lightest feasible design is number {number:,}, {mass:.2f} kg; no design of a "
            "sweep is optimised."
        )
    against = [(n, reason) for (status, reason), n in gathered.counts.items()
               if status == STATUSES[1]]  # fmt: skip
    if against:
        most = sorted(against, key=lambda item: (-item[0], item[1]))[:REASONS_SHOWN]
        shares = ", ".join(f"{reason} ({n / counts[STATUSES[1]]:.0%})" for n, reason in most)
        lines.append(f"What speaks most often against the infeasible ones: {shares}.")
    if options.sample == SOBOL and size & (size - 1):
        near = 1 << (size.bit_length() - 1)
        lines.append(
            "A Sobol sequence is balanced where its length is a power of two, such as "
            f"{near:,} or {2 * near:,}."
        )
    if stride > 1:
        lines.append(
            f"The table shows every design whose number divides by {stride:,}; its medians are of "
            f"these, least and largest values of all. All designs are in {DESIGNS_FILE}."
        )
    return lines
