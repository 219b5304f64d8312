"""One chunk of work: what it is, how it is done, and its result as the bytes of a table."""

from __future__ import annotations

import hashlib
import importlib
import json
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.errors import InputError
from mdo.results.manifest import tool_versions
from mdo.results.stored import table_bytes

KEY = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_-]{0,63}")
Columns = Mapping[str, NDArray[Any] | Sequence[str]]
Function = Callable[[str, Mapping[str, Any]], Columns]


class WorkError(InputError):
    """Work that cannot be done; the message says which chunk, why and what to do."""


class Task(NamedTuple):
    """One chunk of work.

    Attributes
    ----------
    key
        Letters, digits, ``_`` and ``-``: it becomes the name of a file.
    payload
        Numbers, text and numpy arrays by name.
    """

    key: str
    payload: Mapping[str, Any]


def in_parts(
    payload: Mapping[str, NDArray[Any]], size: int, shared: Mapping[str, Any] | None = None
) -> list[Task]:
    """Chunks of so many rows of some arrays, with what all of them share."""
    count = len(next(iter(payload.values())))
    return [
        Task(
            f"part{at // size:05d}",
            {name: rows[at : at + size] for name, rows in payload.items()} | dict(shared or {}),
        )
        for at in range(0, count, size)
    ]


class Job(NamedTuple):
    """What all chunks of one stage have in common.

    Attributes
    ----------
    function
        ``package.module:name`` of the function that does a chunk: called with context and payload,
        gives columns of one length.
    context
        Plain text (JSON) from which the function makes what it needs, once per process.
    versions
        Versions of the tool and its packages, which must be those of the process that works.
    """

    function: str
    context: str
    versions: Mapping[str, str]


def perform(job: Job, task: Task) -> bytes:
    """Do one chunk; returns its columns as the bytes of a Parquet file.

    Raises
    ------
    WorkError
        If this process has other versions of the tool or its packages.
    """
    here = tool_versions()
    if job.versions != here:
        other = sorted(
            f"{name} {here.get(name)} instead of {version}"
            for name, version in job.versions.items()
            if here.get(name) != version
        )
        raise WorkError(
            f"a worker has other versions, got {', '.join(other)}; expected the same on every "
            "machine, or the results would not be those of one run"
        )
    try:
        return encoded(_function(job.function)(job.context, task.payload))
    except Exception as error:
        error.add_note(f"in chunk {task.key}")
        raise


@lru_cache(maxsize=8)
def _function(name: str) -> Function:
    """Function that a text names."""
    module, _, attribute = name.partition(":")
    found: Function = getattr(importlib.import_module(module), attribute)
    return found


def encoded(columns: Columns) -> bytes:
    """Columns as the bytes of a Parquet file; text becomes a dictionary.

    Raises
    ------
    ValueError
        If the columns do not have one length.
    """
    import pyarrow as pa

    lengths = {name: len(values) for name, values in columns.items()}
    if len(set(lengths.values())) != 1:
        raise ValueError(f"columns of a chunk must have one length, got {lengths}")
    arrays = {
        name: pa.array(values)
        if isinstance(values, np.ndarray)
        else pa.array(list(values), pa.string()).dictionary_encode()
        for name, values in columns.items()
    }
    return table_bytes(pa.table(arrays))


def identity(job: Job, run: str, tasks: Iterable[Task]) -> dict[str, Any]:
    """What the chunks of one stage depend on, for a JSON file.

    Raises
    ------
    ValueError
        If a key cannot be the name of a file or is given twice.
    """
    keys: set[str] = set()
    digest = hashlib.sha256()
    for key, payload in tasks:
        if not KEY.fullmatch(key) or key.casefold() in keys:
            raise ValueError(f"not the key of a chunk, or one given twice, got {key!r}")
        keys.add(key.casefold())
        digest.update(f"{key}\n".encode())
        for name, value in sorted(payload.items()):
            digest.update(f"{name}\n".encode() + _bytes(value))
    return {
        "run": run,
        "function": job.function,
        "context": hashlib.sha256(job.context.encode()).hexdigest(),
        "tasks": digest.hexdigest(),
        "versions": dict(job.versions),
    }


def _bytes(value: Any) -> bytes:
    """Value of a payload as bytes that differ where it differs."""
    if isinstance(value, np.ndarray) and value.dtype.kind in "fiub":
        return f"{value.dtype.str}{value.shape}".encode() + value.tobytes()
    if isinstance(value, np.ndarray):
        value = value.tolist()
    return json.dumps(value).encode() + b"\n"
