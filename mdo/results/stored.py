"""A result on disk, opened to be read."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from mdo.results.columns import COLUMNS
from mdo.results.files import StoreError, fingerprint, read_whole
from mdo.results.manifest import Manifest
from mdo.study.text import study_content


@dataclass(frozen=True)
class StoredResult:
    """A result on disk: its folder and its manifest."""

    folder: Path
    manifest: Manifest

    @property
    def tables(self) -> tuple[str, ...]:
        """Names of its tables."""
        return tuple(self.manifest.tables)

    @property
    def study(self) -> dict[str, Any]:
        """Content of the study that it was made from; one changed in Python is kept as JSON."""
        return study_content(self.manifest.study_text)

    @property
    def page_tables(self) -> dict[str, pd.DataFrame]:
        """Tables that its page is made from: all but the one that explains their columns."""
        return {name: self.table(name) for name in self.tables if name != COLUMNS}

    def table(self, name: str) -> pd.DataFrame:
        """Read a table.

        Raises
        ------
        StoreError
            If there is none of that name, or its file is not the one that was written.
        """
        if name not in self.manifest.tables:
            known = ", ".join(self.manifest.tables) or "none"
            raise StoreError(f"{self.folder}: no table {name!r}, expected one of: {known}")
        path = self.folder / f"{name}.parquet"
        data = read_whole(path)
        if fingerprint(path) != self.manifest.files[path.name]:
            raise StoreError(f"{path}: changed since it was written (its SHA-256 differs)")
        return pd.read_parquet(io.BytesIO(data))


def parquet_bytes(data: pd.DataFrame) -> bytes:
    """Return a table as the bytes of a Parquet file."""
    import pyarrow as pa

    return table_bytes(pa.Table.from_pandas(data, preserve_index=False))


def table_bytes(table: Any) -> bytes:
    """Return a table (pyarrow) as the bytes of a Parquet file."""
    import pyarrow.parquet as pq

    buffer = io.BytesIO()
    pq.write_table(table, buffer, compression="zstd")
    return buffer.getvalue()
