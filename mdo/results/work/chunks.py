"""Finished chunks on disk: one Parquet file each, whole or not there, in a hidden folder.

The name of a file is the key of its chunk and the fingerprint of its content, so a file that was
cut short or changed is known without a list that would itself have to be kept in step. A small JSON
file says which run the folder belongs to; a folder of another run is removed.
"""

from __future__ import annotations

import hashlib
import io
import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from mdo.arrays import Floats
from mdo.results.files import StoreError, clear_errors, read_whole, remove_folder, write_whole
from mdo.results.stored import parquet_bytes

NUMBERS = "number"  # column of an array
RUN = "run.json"
DIGITS = 20  # of the SHA-256 of a file, in its name


class ChunkFolder:
    """Folder of the chunks of one stage.

    Parameters
    ----------
    folder
        Made if it is not there; emptied if it belongs to another run.
    identity
        What the chunks depend on; plain data.

    Raises
    ------
    StoreError
        If the folder cannot be made, read or written.
    """

    def __init__(self, folder: Path, identity: Mapping[str, Any]) -> None:
        self.folder = folder
        text = json.dumps(identity, indent=1, sort_keys=True).encode()
        if not self._belongs(text):
            remove_folder(folder)
            with clear_errors(folder, "make the folder"):
                folder.mkdir(parents=True)
            write_whole(folder / RUN, text)
        self._files: dict[str, Path] = {}

    def _belongs(self, identity: bytes) -> bool:
        try:
            return read_whole(self.folder / RUN) == identity
        except StoreError:
            return False

    def take_up(self) -> None:
        """Look for chunks of an earlier run; whatever is not one, whole and unchanged, goes."""
        with clear_errors(self.folder, "read"):
            found = sorted(self.folder.iterdir())
        for path in found:
            key, _, _ = path.name.partition(".")
            if path.name == RUN:
                continue
            if key and key not in self._files and _is_intact(path):
                self._files[key] = path
            else:
                with clear_errors(path, "remove"):
                    path.unlink()

    def __contains__(self, key: object) -> bool:
        return key in self._files

    def __len__(self) -> int:
        return len(self._files)

    def write(self, key: str, data: bytes) -> None:
        """Keep a finished chunk.

        Raises
        ------
        StoreError
            If it cannot be written.
        """
        digest = hashlib.sha256(data).hexdigest()[:DIGITS]
        path = self.folder / f"{key}.{digest}.parquet"
        write_whole(path, data)
        self._files[key] = path

    def write_numbers(self, key: str, numbers: Floats) -> None:
        """Keep an array of one axis, as :meth:`write` does; :meth:`read_numbers` has its bits."""
        self.write(key, parquet_bytes(pd.DataFrame({NUMBERS: numbers})))

    def read_numbers(self, key: str) -> Floats:
        """Array that was kept, as :meth:`read` does."""
        return np.array(self.read(key)[NUMBERS], dtype=float)

    def read(self, key: str) -> Any:
        """Table (pyarrow) of a finished chunk.

        Raises
        ------
        StoreError
            If its file is gone or is not the one that was written.
        """
        import pyarrow.parquet as pq

        path = self._files[key]
        data = read_whole(path)
        if not _is_named(path, data):
            raise StoreError(
                f"{path}: changed since it was written; expected nobody to touch the chunks of a "
                "run (run the study again: this chunk alone is done anew)"
            )
        return pq.read_table(io.BytesIO(data))


class Chunks(Sequence[Any]):
    """Finished chunks in the order of their tasks; each is read when it is asked for."""

    def __init__(self, folder: ChunkFolder, keys: Sequence[str]) -> None:
        self._folder = folder
        self.keys = tuple(keys)

    def __len__(self) -> int:
        return len(self.keys)

    def __getitem__(self, place: Any) -> Any:
        return self._folder.read(self.keys[place])

    def __iter__(self) -> Iterator[Any]:
        return (self._folder.read(key) for key in self.keys)

    def frame(self) -> pd.DataFrame:
        """All rows as one table, in the order of the tasks; text as plain text."""
        import pyarrow as pa

        tables = [plain_text(table) for table in self]
        return pa.concat_tables(tables).to_pandas() if tables else pd.DataFrame()


def plain_text(table: Any) -> Any:
    """Table with its dictionaries of text as text."""
    import pyarrow as pa

    fields = [
        pa.field(field.name, field.type.value_type) if pa.types.is_dictionary(field.type) else field
        for field in table.schema
    ]
    return table.cast(pa.schema(fields))


def _is_intact(path: Path) -> bool:
    """Tell whether a file is a chunk with the content that its name says."""
    try:
        return path.suffix == ".parquet" and _is_named(path, path.read_bytes())
    except OSError:
        return False


def _is_named(path: Path, data: bytes) -> bool:
    return path.name.split(".")[1] == hashlib.sha256(data).hexdigest()[:DIGITS]
