"""Open a result that a user names: whole, made by this version, unchanged; or say what to do."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterable, Iterator
from importlib import metadata
from pathlib import Path

from mdo.results.files import StoreError, clear_errors, fingerprint, write_whole
from mdo.results.manifest import NAME as MANIFEST
from mdo.results.manifest import TOOL, Manifest, read_manifest
from mdo.results.stored import StoredResult

EXPECTED = "expected the folder of a finished result, such as results/STUDY/optimum"
RUN = f"'{TOOL} run STUDY' makes one"
AGAIN = f"run the study again ('{TOOL} run STUDY')"


def open_result(folder: str | Path) -> StoredResult:
    """Open a finished result of any version of the tool.

    Parameters
    ----------
    folder : folder of the result, or a file in it

    Raises
    ------
    StoreError
        If there is none; the message says what was expected and what to do.
    """
    place = Path(folder)
    try:
        if place.is_file() and (place.parent / MANIFEST).is_file():
            place = place.parent
        _check_place(place)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a usable path"
        raise StoreError(f"{place}: cannot read: {reason}; {EXPECTED}") from None
    manifest = Manifest.read(place)
    if not manifest.complete:
        raise StoreError(f"{place}: not finished; {AGAIN}")
    if not manifest.tables:
        raise StoreError(f"{place}: has no tables, expected those that a run writes; {AGAIN}")
    return StoredResult(place, manifest)


def check_version(result: StoredResult) -> None:
    """Refuse a result of another version of the tool.

    Raises
    ------
    StoreError
        Naming both versions and what to do.
    """
    theirs, ours = result.manifest.versions.get(TOOL, "unknown"), metadata.version(TOOL)
    if theirs != ours:
        raise StoreError(
            f"{result.folder}: made by {TOOL} {theirs}, this is {ours}, which may compute and show "
            f"other things; {AGAIN}, or use {TOOL} {theirs} for this result"
        )


def check_unchanged(result: StoredResult, names: Iterable[str]) -> None:
    """Refuse a result of which some files are missing or not as they were written.

    Parameters
    ----------
    result : the result
    names : the files that matter; ones that it never had are named too

    Raises
    ------
    StoreError
        Naming the files and what to do.
    """
    known = result.manifest.files
    missing = [name for name in names if not (result.folder / name).is_file()]
    changed = [
        name
        for name in names
        if name not in missing and fingerprint(result.folder / name) != known.get(name)
    ]
    if missing or changed:
        parts = [f"missing: {_listed(missing)}"] if missing else []
        parts += [f"changed since written: {_listed(changed)}"] if changed else []
        raise StoreError(
            f"{result.folder}: edited or damaged ({'; '.join(parts)}); put the files back as they "
            f"were, or {AGAIN}"
        )


@contextlib.contextmanager
def expecting_our_own(where: object) -> Iterator[None]:
    """Turn what goes wrong in the contents of a foreign result into one message.

    Raises
    ------
    StoreError
        If the block fails on what the files hold; it says what to do.
    """
    try:
        yield
    except (KeyError, IndexError, AttributeError, TypeError, ValueError) as error:
        what = " ".join(f"{type(error).__name__} {error}".split())
        raise StoreError(f"{where}: not what a run writes ({what}); {AGAIN}") from error


def write_output(file: str | Path, data: bytes) -> None:
    """Write a file that a user names, whole or not at all; links, devices and pipes stay.

    Raises
    ------
    StoreError
        If it cannot be written.
    """
    path = Path(file)
    if path.is_dir():
        raise StoreError(f"{path}: a folder, expected the name of a file to write")
    if not path.parent.is_dir():
        raise StoreError(f"{path}: no folder {path.parent}; make it first, or name another file")
    if path.exists() and not path.is_file():  # a device or a pipe: it takes the data as they come
        with clear_errors(path, "write"), path.open("wb") as stream:
            stream.write(data)
        return
    write_whole(Path(os.path.realpath(path)), data)  # what a link names, not the link


def results_in(folder: Path) -> list[Path]:
    """Folders of finished results below a folder, at most two levels down."""
    found = [one.parent for depth in ("*", "*/*") for one in folder.glob(f"{depth}/{MANIFEST}")]
    return sorted(
        one
        for one in found
        if not any(part.startswith(".") for part in one.relative_to(folder).parts)
        and getattr(read_manifest(one), "complete", False) is True
    )


def _check_place(place: Path) -> None:
    """Say what is wrong with a place that holds no manifest."""
    if (place / MANIFEST).is_file():
        return
    if place.is_file():
        raise StoreError(f"{place}: a file, {EXPECTED}; {RUN}")
    if place.name and (place.with_name(f".{place.name}.part") / MANIFEST).is_file():
        raise StoreError(f"{place}: not finished; {AGAIN}")
    if not place.exists():
        raise StoreError(f"{place}: no such folder, {EXPECTED}; {RUN}")
    below = results_in(place)
    if below:
        raise StoreError(
            f"{place}: holds results but is none itself; name one of: {_listed(map(str, below))}"
        )
    raise StoreError(f"{place}: no result (it has no {MANIFEST}), {EXPECTED}; {RUN}")


def _listed(names: Iterable[str], most: int = 6) -> str:
    """Names with commas, the first few."""
    all_of_them = list(names)
    more = f" and {len(all_of_them) - most} more" if len(all_of_them) > most else ""
    return ", ".join(all_of_them[:most]) + more
