"""The chunks of a sweep brought together: one file of all designs, counts, and a thinned table."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from mdo.optimise.status import FEASIBLE
from mdo.results.files import clear_errors
from mdo.results.work.chunks import plain_text

if TYPE_CHECKING:
    import pandas as pd


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
    import pyarrow as pa
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
    sample = pa.concat_tables(summed.samples).to_pandas()
    return Gathered(sample, summed.counts, summed.ends, summed.lightest)


class _Sums:
    """Counts, ends and sample of the tables added so far."""

    def __init__(self, stride: int) -> None:
        self._stride = stride
        self.samples: list[Any] = []
        self.counts: Counter[tuple[str, str]] = Counter()
        self.ends: dict[str, tuple[float, float]] = {}
        self.lightest: Lightest | None = None

    def add(self, table: Any) -> None:
        design = table["design"].to_numpy()
        self.samples.append(plain_text(table.filter(design % self._stride == 0)))
        self._count(table)
        for name in table.column_names:
            if name not in {"design", "status", "reason"}:
                self._widen(name, table[name].to_numpy())
        self._weigh(table, design)

    def _count(self, table: Any) -> None:
        status, reason = (table[name].combine_chunks() for name in ("status", "reason"))
        pairs = np.stack([status.indices.to_numpy(), reason.indices.to_numpy()])
        kinds, counts = np.unique(pairs, axis=1, return_counts=True)
        for (one, other), count in zip(kinds.T, counts, strict=True):
            key = status.dictionary[int(one)].as_py(), reason.dictionary[int(other)].as_py()
            self.counts[key] += int(count)

    def _widen(self, name: str, values: Any) -> None:
        finite = values[np.isfinite(values)]
        if finite.size:
            low, high = self.ends.get(name, (np.inf, -np.inf))
            self.ends[name] = (min(low, float(finite.min())), max(high, float(finite.max())))

    def _weigh(self, table: Any, design: Any) -> None:
        status = table["status"].combine_chunks()
        names = status.dictionary.to_pylist()
        if FEASIBLE not in names:
            return
        feasible = status.indices.to_numpy() == names.index(FEASIBLE)
        masses = np.where(feasible, table["system_mass"].to_numpy(), np.inf)
        best = int(masses.argmin())
        if self.lightest is None or masses[best] < self.lightest.mass:
            self.lightest = Lightest(int(design[best]), float(masses[best]))
