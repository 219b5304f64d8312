"""The result store: ``<root>/<study>/<analysis>/`` with tables, texts and a manifest.

A result is written into a hidden folder beside its place and renamed when it is whole, so that what
is seen is always whole. A killed run leaves the hidden folder; the next run begins it anew. A
result of another study (or of another version of the tool) is never overwritten: it moves to
``<analysis>-<first ten digits of its hash>``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Self

import pandas as pd

from mdo.quantities import QUANTITIES
from mdo.results.columns import COLUMNS, columns_table
from mdo.results.files import (
    PATIENCE,
    Lock,
    check_writable,
    clear_errors,
    fingerprint,
    remove_folder,
    write_whole,
)
from mdo.results.manifest import NAME as MANIFEST
from mdo.results.manifest import Manifest, read_manifest, tool_versions
from mdo.results.spreadsheet import csv_bytes
from mdo.results.stored import StoredResult, parquet_bytes
from mdo.study.text import is_reserved

HASH_DIGITS = 10
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,127}")


class ResultStore:
    """Results of one study under a root folder.

    Parameters
    ----------
    root
        Folder of all results; made when the first result is written.
    study_name
        Name of the study: letters, digits, ``_``, ``.`` and ``-``.
    patience
        How long to wait for another run that writes the same result [s].

    Raises
    ------
    ValueError
        If the name is no name of a folder.
    """

    def __init__(self, root: str | Path, study_name: str, *, patience: float = PATIENCE) -> None:
        self.patience = patience
        self.study_name = _checked(study_name)
        self.folder = Path(root) / study_name

    def place(self, analysis: str) -> Path:
        """Folder of the latest result of an analysis."""
        return self.folder / _checked(analysis)

    def check_writable(self) -> None:
        """Learn before long work whether results can be kept.

        Raises
        ------
        StoreError
            If the folder cannot be made or written.
        """
        check_writable(self.folder)

    def find(
        self, analysis: str, study_text: str, study_hash: str, seed: int
    ) -> StoredResult | None:
        """Find a whole result of the same study by the same version of the tool, or None.

        It is the latest, or an older one under the name with its hash.
        """
        return self._find(self._manifest(analysis, study_text, study_hash, seed))

    def begin(self, analysis: str, study_text: str, study_hash: str, seed: int) -> Writer | None:
        """Begin to write a result; what a killed run left is begun anew.

        Parameters
        ----------
        analysis
            Name of the analysis: letters, digits, ``_``, ``.`` and ``-``.
        study_text, study_hash
            The study and its hash; the hash covers everything that the result depends on.
        seed
            Seed of everything random.

        Returns
        -------
        A writer, or None if the result is there already (:meth:`find` says where).

        Raises
        ------
        StoreError
            If another run does not end to write this result, or the folder cannot be written.
        """
        wanted = self._manifest(analysis, study_text, study_hash, seed)
        if self._find(wanted):
            return None
        with clear_errors(self.folder, "make the folder"):
            self.folder.mkdir(parents=True, exist_ok=True)
        place = self.place(analysis)
        lock = Lock(self.folder / f".{analysis}.lock", str(place), patience=self.patience)
        writer = None
        try:
            if self._find(wanted) is None:
                writer = Writer(place, wanted, lock)
        finally:
            if writer is None:
                lock.release()
        return writer

    def _find(self, wanted: Manifest) -> StoredResult | None:
        """Find a whole and unchanged result of the same run."""
        place = self.place(wanted.analysis)
        with clear_errors(self.folder, "read"):
            kept = sorted(self.folder.glob(f"{place.name}-{wanted.study_hash[:HASH_DIGITS]}*"))
        for folder in [place, *kept]:
            found = read_manifest(folder)
            if found and found.complete and found.is_same_run(wanted) and found.is_intact(folder):
                return StoredResult(folder, found)
        return None

    def _manifest(self, analysis: str, text: str, hash_: str, seed: int) -> Manifest:
        """Manifest of a result that has nothing in it yet."""
        return Manifest(
            study=self.study_name, analysis=analysis, study_text=text, study_hash=hash_, seed=seed,
            versions=tool_versions(),
        )  # fmt: skip


class Writer:
    """Writes one result; use it in a ``with``, which lets the lock go, finished or not.

    Attributes
    ----------
    place
        Folder that the result will have.
    """

    def __init__(self, place: Path, manifest: Manifest, lock: Lock) -> None:
        self.place = place
        self._lock = lock
        self._part = place.with_name(f".{place.name}.part")
        self._manifest = manifest
        self._files: dict[str, str] = {}
        self._tables: dict[str, Any] = {}
        remove_folder(self._part)
        with clear_errors(self._part, "make the folder"):
            self._part.mkdir()
        manifest.write(self._part)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let the lock go; an unfinished result stays in its hidden folder, and is begun anew."""
        self._lock.release()

    def write(self, tables: Mapping[str, pd.DataFrame], texts: Mapping[str, str]) -> None:
        """Write tables, what their columns mean, and texts."""
        for name, data in {**tables, COLUMNS: columns_table(tables)}.items():
            self.table(name, data)
        for name, content in texts.items():
            self.text(name, content)

    def table(self, name: str, data: pd.DataFrame) -> None:
        """Write a table as Parquet and as CSV; its index is not kept.

        The same data give the same bytes. Units of the columns, by their names (up to a dot) in the
        table of quantities, go into the manifest.

        Raises
        ------
        StoreError
            If it cannot be written.
        ValueError
            If the name is no name of a file or two columns have one name.
        """
        _checked(name)
        columns = [str(column) for column in data.columns]
        if len(set(columns)) < len(columns):
            raise ValueError(f"table {name}: two columns have the same name, got {columns}")
        data = data.set_axis(columns, axis=1)
        self._put(f"{name}.parquet", parquet_bytes(data))
        self._put(f"{name}.csv", csv_bytes(data))
        self._tables[name] = {"rows": len(data), "columns": {one: unit_of(one) for one in columns}}

    def text(self, name: str, content: str) -> None:
        """Write a text, such as ``report.html``, in UTF-8.

        What UTF-8 has no code for (the name of a file in another encoding) becomes a question mark.

        Raises
        ------
        StoreError
            If it cannot be written.
        """
        if _checked(name) == MANIFEST:
            raise ValueError(f"text {name}: the store writes it itself")
        self._put(name, content.encode(errors="replace"))

    def file(self, name: str, path: Path) -> None:
        """Take in a large file that was made elsewhere on the same disk; it is moved.

        Raises
        ------
        StoreError
            If it cannot be moved.
        """
        place = self._part / _checked(name)
        with clear_errors(place, "write"):
            path.replace(place)
        self._files[name] = fingerprint(place)

    def finish(self, status_counts: Mapping[str, int], timings: Mapping[str, float]) -> Path:
        """Complete the manifest and put the result in its place.

        Returns
        -------
        The folder of the result.

        Raises
        ------
        StoreError
            If it cannot be written or renamed.
        """
        done = replace(
            self._manifest,
            complete=True,
            files=self._files,
            tables=self._tables,
            status_counts={name: int(count) for name, count in status_counts.items()},
            timings={name: float(seconds) for name, seconds in timings.items()},
        )
        done.write(self._part)
        with clear_errors(self.place, "put the results in place"):
            if self.place.exists():
                self.place.rename(_name_to_keep(self.place))
            self._part.replace(self.place)
        self.close()
        return self.place

    def _put(self, name: str, data: bytes) -> None:
        """Write a file and keep its fingerprint for the manifest."""
        self._files[name] = write_whole(self._part / name, data)


def unit_of(column: str) -> str:
    """Return the unit of a column named after a quantity (``tube_count.up`` counts), else empty."""
    quantity = QUANTITIES.get(column.partition(".")[0])
    return quantity.unit if quantity else ""


def _checked(name: str) -> str:
    """Return a name that can be a file in a folder.

    Raises
    ------
    ValueError
        If it cannot.
    """
    if not _NAME.fullmatch(name) or name.endswith(".") or is_reserved(name):
        raise ValueError(f"not a name, got {name!r}, expected letters, digits, '_', '.' and '-'")
    return name


def _name_to_keep(place: Path) -> Path:
    """Free name, with the hash of its study, for a result that has to make room."""
    found = read_manifest(place)
    mark = found.study_hash[:HASH_DIGITS] if found else "unknown"
    kept = place.with_name(f"{place.name}-{mark}")
    number = 2
    while kept.exists():
        kept = place.with_name(f"{place.name}-{mark}-{number}")
        number += 1
    return kept
