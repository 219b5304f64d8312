"""The chunks of a sweep brought together: one file of all designs, counts, and a thinned table."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from mdo.optimise.status import FEASIBLE
from mdo.results.files import clear_errors
from mdo.results.work.chunks import plain_text


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
