"""The analysis: up to a hundred million designs evaluated as they are, each with its verdict."""

from __future__ import annotations

import contextlib
import math
import os
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache, partial
from pathlib import Path
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy as np
import pandas as pd
from jax import Array
from numpy.typing import ArrayLike

from mdo.arrays import Floats, Indices
from mdo.explore.exploration import Exploration, Say, source_of
from mdo.explore.sweeps.list_file import read_list
from mdo.explore.sweeps.space import Space, space_of
from mdo.optimise.blocks import in_blocks
from mdo.optimise.idle_rows import FEASIBLE as HOLDS
from mdo.optimise.levels.study_optimum import dear_problem
from mdo.optimise.many.points import TIMES
from mdo.optimise.problem import DesignProblem
from mdo.optimise.problem_text import options_in, problem_context, problem_in
from mdo.optimise.status import FEASIBLE, INFEASIBLE, OPEN, STATUSES
from mdo.quantities import QUANTITIES
from mdo.results.files import clear_errors
from mdo.results.work import Task, Work
from mdo.results.work.chunks import plain_text
from mdo.study.text import file_name

BATCH = 2_000  # designs evaluated at once: keeps memory flat, compiles once
# What of a design is kept: outputs of the system, and the longest times of all legs.
OUTPUTS = (
    "system_mass", "alloy_mass", "peak_power", "sortie_energy", "bundle_length", "bundle_height",
)  # fmt: skip
WORST = "worst_row"
FUNCTION = f"{__name__}:evaluate_chunk"


def evaluate_chunk(context: str, payload: Mapping[str, Any]) -> dict[str, Any]:
    """Columns of the designs of one chunk.

    Parameters
    ----------
    context : the study and the options
    payload : ``start`` and ``stop``, numbers of the designs; ``rows``, their values if listed
    """
    space, start, stop = _space(context), payload["start"], payload["stop"]
    if space.sample is None:
        values = np.asarray(payload["rows"])
    else:
        values = space.values(space.sample.shares(start, stop))
    designs = space.designs(values)
    found = _evaluated(space, values[:, : len(space.axes)], designs)
    status, reason = verdicts(space.problem, found)
    active = space.problem.active
    labels = [label for label, on in zip(space.problem.labels, active, strict=True) if on]
    return {
        "design": np.arange(start, stop),
        **dict(zip(space.names, values[:, : len(space.axes)].T, strict=False)),
        **dict(zip(labels, designs[:, active].T, strict=True)),
        **{name: found[name] for name in (*OUTPUTS, *TIMES, WORST)},
        "status": status,
        "reason": reason,
    }


@lru_cache(maxsize=2)
def _space(context: str) -> Space:
    return space_of(problem_in(context), **options_in(context))


def verdicts(problem: DesignProblem, found: Mapping[str, Any]) -> tuple[list[str], list[str]]:
    """Status of every design, and the title of the row that speaks against it."""
    titles = np.array([label.requirement.title for label in problem.rows.labels])[found["place"]]
    broken, holds = found["broken"], found[WORST] >= -HOLDS
    open_ = broken | ~np.isfinite(found["system_mass"])
    lacking = np.char.add("No finite value: ", np.where(broken, titles, "system mass"))
    status = np.select([open_, holds], [OPEN, FEASIBLE], INFEASIBLE)
    return status.tolist(), np.select([open_, holds], [lacking, ""], titles).tolist()


def _evaluated(space: Space, points: Floats, designs: Floats) -> Any:
    """What is kept of each design, as :func:`one_design` gives it."""
    problem = space.problem

    def batch(places: Indices) -> Any:
        if not space.axes:
            shared = (problem.theta, dict(problem.prelude), problem.rows.counts)
            return compiled(problem, one_point=True)(designs[places], *shared)
        turned = space.parametric.parameters(points[places])
        return compiled(problem, one_point=False)(designs[places], *turned)

    return in_blocks(batch, len(designs), BATCH)


@lru_cache(maxsize=4)
def compiled(problem: DesignProblem, *, one_point: bool) -> Any:
    """Compiled :func:`one_design` over a batch: of one point of the axes, or of a point each."""
    axes = (0, None, None, None) if one_point else 0
    evaluate = jax.vmap(partial(one_design, problem), in_axes=axes)
    return problem.chain.compiled(f"verdicts, {axes}", evaluate)


def one_design(
    problem: DesignProblem, x: Array, theta: Array, prelude: Any, counts: Array
) -> dict[str, Array]:
    """What is kept of one design.

    ``place`` is the row that speaks against it: the worst, or the first without a finite value;
    ``broken`` says that there is one of these.
    """
    chain = problem.chain
    names = (*OUTPUTS, *TIMES.values())
    rows, outputs = chain.evaluate_rows(x, theta, prelude, names)
    values = dict(zip(names, outputs, strict=True))
    limits = chain.unpack(theta)["legs"].time_limit
    kept = jnp.where(counts, rows, jnp.inf)
    bad = counts & ~jnp.isfinite(rows)
    broken = bad.any()
    found = {name: values[name] for name in OUTPUTS}
    for name, group in TIMES.items():  # the longest time of the legs whose row of it counts
        own = counts[np.array([label.group == group for label in problem.rows.labels])]
        times = jnp.where(own, limits * jnp.exp(-values[group]), -jnp.inf)
        found[name] = jnp.where(own.any(), times.max(), jnp.nan)
    return found | {
        WORST: kept.min(),
        "place": jnp.where(broken, jnp.argmax(bad), jnp.argmin(kept)),
        "broken": broken,
    }


AS_THEY_ARE = "{0.dear}, each design as it is"
SHOWN = 5_000  # rows of the thinned table
DESIGNS_FILE = "designs.parquet"
NUMBERS_FILE = "listed.bin"
OWN_TITLES = {
    "fold_time_longest": ("s", "Longest fold time of all legs"),
    "return_time_longest": ("s", "Longest return time of all legs"),
    WORST: ("1", "Worst requirement, normalised: 0 or more where all hold"),
}
VERDICT = ["status", "reason"]


class SweepFacts(NamedTuple):
    """How a sweep was drawn, and the number and mass [kg] of its lightest feasible design."""

    sample: str
    seed: int
    file: str
    size: int
    numbers: int
    stride: int
    lightest: tuple[int, float] | None


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
    listed = None
    if plan.file is None:
        space = space_of(problem, base)
    else:
        axes = space_of(problem, problem.lower).axes
        file = problem.study.folder / file_name(plan.file)
        where = f"{source_of(problem)}: analysis.sweep.file"
        listed = read_list(problem, axes, file, work.folder / NUMBERS_FILE, where)
        space = space_of(problem, base, listed.names)
    size = len(listed.numbers) if listed else space.sample.size if space.sample else 0
    tasks = []
    for number, start in enumerate(range(0, size, plan.chunk)):
        payload: dict[str, Any] = {"start": start, "stop": min(start + plan.chunk, size)}
        if listed:
            payload["rows"] = listed.numbers[start : start + plan.chunk]
        tasks.append(Task(f"designs-{number:06d}", payload))
    given = {"base": space.low.tolist(), "listed": listed and listed.names}
    chunks = work.do("sweep", FUNCTION, problem_context(problem, given), tasks, say, title="Sweep")
    stride = math.ceil(size / SHOWN)
    path = work.folder / DESIGNS_FILE
    found = gather(chunks, path, stride)
    counts = found.counts.groupby(level="status").sum().reindex(STATUSES, fill_value=0).to_dict()
    facts = SweepFacts(
        plan.sample, problem.study.seed, Path(plan.file or "").name, size, len(space.names),
        stride, next(found.lightest.itertuples(index=False, name=None), None),
    )  # fmt: skip
    tables, files = _tables(space, found), {DESIGNS_FILE: path}
    return Exploration("sweep", given_problem, tables, counts, facts, files, AS_THEY_ARE)


def _tables(space: Space, found: Gathered) -> dict[str, pd.DataFrame]:
    """Tables of the result: the thinned designs, counts of verdicts, what the columns hold."""
    status = found.counts.reset_index(name="designs")
    status["status"] = pd.Categorical(status["status"], STATUSES)
    status = status.sort_values(["status", "designs", "reason"], ascending=[True, False, True])
    columns = pd.DataFrame(
        {"column": found.low.index, "low": found.low, "high": found.high,
         "median": found.sample[found.low.index].median()}
    )  # fmt: skip
    axes = {axis.name: (axis.unit, axis.title) for axis in space.axes}
    about = [axes.get(name) or _about(name) for name in found.low.index]
    columns["unit"], columns["title"] = zip(*about, strict=True)
    order = ["column", "title", "unit", "low", "median", "high"]
    return {
        "sweep_sample": found.sample,
        "sweep_status": status.astype({"status": object}).reset_index(drop=True),
        "sweep_columns": columns[order].reset_index(drop=True),
    }


def _about(name: str) -> tuple[str, str]:
    """Unit and words of a column that is no axis."""
    if name in OWN_TITLES:
        return OWN_TITLES[name]
    base, _, side = name.partition(".")
    meaning = QUANTITIES[base].meaning
    return QUANTITIES[base].unit, f"{meaning} ({side} set)" if side else meaning


class Gathered(NamedTuple):
    """What many designs say together.

    Attributes
    ----------
    sample
        Every so many designs.
    counts
        Designs by status and reason.
    low, high
        Least and largest value of each column of numbers, those that are not finite left out.
    lightest
        Number and mass [kg] of the lightest feasible one; no row where none is feasible.
    """

    sample: pd.DataFrame
    counts: pd.Series[int]
    low: pd.Series[float]
    high: pd.Series[float]
    lightest: pd.DataFrame


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
    parts: list[Gathered] = []
    with clear_errors(path, "write"):
        with contextlib.ExitStack() as opened:
            writer = None
            for table in chunks:
                if writer is None:
                    whole = pq.ParquetWriter(temporary, table.schema, compression="zstd")
                    writer = opened.enter_context(whole)
                writer.write_table(table, row_group_size=len(table))
                parts = [_joined([*parts, _summed(plain_text(table).to_pandas(), stride)])]
        with temporary.open("rb") as file:
            os.fsync(file.fileno())
        temporary.replace(path)
    return parts[0]


def _joined(parts: Sequence[Gathered]) -> Gathered:
    """What the designs of several chunks say together."""
    samples, counts, lows, highs, lightest = zip(*parts, strict=True)
    return Gathered(
        pd.concat(samples, ignore_index=True), pd.concat(counts).groupby(level=VERDICT).sum(),
        pd.DataFrame(lows).min(), pd.DataFrame(highs).max(),
        pd.concat(lightest).nsmallest(1, "system_mass"),
    )  # fmt: skip


def _summed(frame: pd.DataFrame, stride: int) -> Gathered:
    """What the designs of one chunk say."""
    numbers = frame.drop(columns=["design", *VERDICT]).replace([np.inf, -np.inf], np.nan)
    feasible = frame.loc[frame["status"] == FEASIBLE, ["design", "system_mass"]]
    return Gathered(
        frame[frame["design"] % stride == 0], frame.groupby(VERDICT).size(),
        numbers.min(), numbers.max(), feasible.nsmallest(1, "system_mass"),
    )  # fmt: skip
