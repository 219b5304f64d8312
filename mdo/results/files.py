"""Files of the store: whole or not at all, one clear error, and a lock that a dead run lets go."""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import IO

from mdo.errors import InputError

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

PATIENCE = 120.0  # [s] writing a result takes seconds; whoever holds the lock longer is stuck
_LOCK_PAUSE = 0.1  # [s]


class StoreError(InputError):
    """Results that cannot be written or read; the message says where, why and what to do."""


@contextlib.contextmanager
def clear_errors(where: Path, doing: str) -> Iterator[None]:
    """Turn errors of the operating system into one message.

    Raises
    ------
    StoreError
        Naming the place, what was tried and the reason.
    """
    try:
        yield
    except (OSError, ValueError) as error:  # ValueError: a name that no file can have
        reason = getattr(error, "strerror", None) or str(error)
        raise StoreError(
            f"{where}: cannot {doing}: {reason}; expected a folder with permission and room "
            "(choose another one for the results)"
        ) from error


def write_whole(path: Path, data: bytes) -> str:
    """Write a file under a temporary name beside it and rename it: it is there whole or not at all.

    Returns
    -------
    SHA-256 of the data, hexadecimal.

    Raises
    ------
    StoreError
        If it cannot be written; no partial file is left.
    """
    temporary = path.with_name(f".{path.name}.tmp")
    with clear_errors(path, "write"):
        try:
            with temporary.open("wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            temporary.replace(path)
        except OSError:
            with contextlib.suppress(OSError):
                temporary.unlink()
            raise
    return hashlib.sha256(data).hexdigest()


def read_whole(path: Path) -> bytes:
    """Read a file.

    Raises
    ------
    StoreError
        If it cannot be read.
    """
    try:
        return path.read_bytes()
    except OSError as error:
        raise StoreError(f"{path}: cannot read: {error.strerror or error}") from error


def fingerprint(path: Path) -> str:
    """SHA-256 of a file, hexadecimal; empty if it cannot be read."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""


def check_writable(folder: Path) -> None:
    """Make a folder and write a file in it, to learn before long work whether results can be kept.

    Raises
    ------
    StoreError
        If that does not work.
    """
    with clear_errors(folder, "make the folder"):
        folder.mkdir(parents=True, exist_ok=True)
    probe = folder / f".probe-{os.getpid()}"
    with clear_errors(folder, "write"):
        try:
            probe.write_bytes(b"probe")
        finally:
            with contextlib.suppress(OSError):
                probe.unlink()


def remove_folder(path: Path) -> None:
    """Remove a folder of our own, if it is there.

    Raises
    ------
    StoreError
        If something in it cannot be removed.
    """
    with clear_errors(path, "remove"):
        if path.is_dir():
            shutil.rmtree(path)


class Lock:
    """Advisory lock on a file; the operating system lets it go when the process ends, however.

    Parameters
    ----------
    path
        The file; made if it is not there, removed at the end.
    what
        What is locked, for the message.
    patience
        How long to wait for another process that holds it [s].

    Raises
    ------
    StoreError
        If another process does not let it go, or the file cannot be made.
    """

    def __init__(self, path: Path, what: str, *, patience: float = PATIENCE) -> None:
        self.path = path
        self._file: IO[str] | None = None
        self._holder = ""
        end = time.monotonic() + patience
        while not self._take():
            if time.monotonic() >= end:
                by = f" (process {self._holder})" if self._holder.isdigit() else ""
                raise StoreError(
                    f"{what}: another run{by} is writing these results; wait for it to end, or "
                    "choose another folder for the results"
                )
            time.sleep(_LOCK_PAUSE)

    def _take(self) -> bool:
        """Lock the file; False if another process holds it or removed it meanwhile."""
        with clear_errors(self.path, "lock"):
            file = self.path.open("a+", encoding="utf-8")
            mine = _lock_file(file)
        if not mine:
            with contextlib.suppress(OSError, ValueError):  # a locked part may not be readable
                file.seek(0)
                self._holder = file.read(20).strip()
            file.close()
            return False
        try:
            current = self.path.stat().st_ino == os.fstat(file.fileno()).st_ino
        except OSError:
            current = False
        if not current:
            file.close()
            return False
        with clear_errors(self.path, "write the lock file"):
            file.truncate(0)
            file.write(str(os.getpid()))
            file.flush()
        self._file = file
        return True

    def release(self) -> None:
        """Let go; may be called again."""
        if self._file is not None:
            with contextlib.suppress(OSError):
                self.path.unlink()
            self._file.close()
            self._file = None


if sys.platform == "win32":

    def _lock_file(file: IO[str]) -> bool:
        """Lock an open file without waiting; False if another process has it."""
        file.seek(100)
        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:

    def _lock_file(file: IO[str]) -> bool:
        """Lock an open file without waiting; False if another process has it."""
        try:
            fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True
