"""Manifest of a result: what was run, with what, what came out and the fingerprint of each file."""

from __future__ import annotations

import json
import platform
import re
import sys
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from functools import lru_cache
from importlib import metadata
from pathlib import Path
from typing import Any, Self

from mdo.results.files import StoreError, fingerprint, read_whole, write_whole

NAME = "manifest.json"
TOOL = "fold-mdo"
_FINGERPRINT = re.compile(r"[0-9a-f]{64}")
PACKAGES = (TOOL, "jax", "jaxlib", "numpy", "openmdao", "pandas", "pyarrow", "scipy")


@dataclass(frozen=True, kw_only=True)
class Manifest:
    """What a folder of results says about itself.

    Attributes
    ----------
    complete
        False while the run goes on.
    study, analysis, study_hash, study_text, seed
        What was run.
    versions
        Python, platform and packages by name.
    tables
        For each table: rows, and columns with their unit (empty where a column has none).
    files
        SHA-256 of each file by name.
    status_counts
        Designs by status.
    timings
        Seconds by name; the only place where a result holds times of the clock.
    """

    study: str
    analysis: str
    study_hash: str
    study_text: str
    seed: int
    versions: Mapping[str, str]
    complete: bool = False
    tables: Mapping[str, Any] = field(default_factory=dict)
    files: Mapping[str, str] = field(default_factory=dict)
    status_counts: Mapping[str, int] = field(default_factory=dict)
    timings: Mapping[str, float] = field(default_factory=dict)

    def write(self, folder: Path) -> None:
        """Write ``manifest.json`` into a folder.

        Raises
        ------
        StoreError
            If it cannot be written.
        """
        text = json.dumps(asdict(self), indent=2, ensure_ascii=False, allow_nan=False)
        write_whole(folder / NAME, f"{text}\n".encode())

    @classmethod
    def read(cls, folder: Path) -> Self:
        """Read the manifest of a folder.

        Raises
        ------
        StoreError
            If there is none, or it is none of ours.
        """
        path = folder / NAME
        try:
            found = cls(**json.loads(read_whole(path)))
            _check_types(found)
        except (ValueError, TypeError, RecursionError) as error:
            raise StoreError(
                f"{path}: not a manifest of results: {error}; expected the one that the run wrote "
                "(run the study again)"
            ) from None
        return found

    def is_same_run(self, other: Manifest) -> bool:
        """Whether another manifest is of the same study, analysis and seed by the same tool."""

        def run(manifest: Manifest) -> tuple[object, ...]:
            fields = ("study", "analysis", "study_hash", "study_text", "seed")
            return (*(getattr(manifest, name) for name in fields), manifest.versions.get(TOOL))

        return run(self) == run(other)

    def is_intact(self, folder: Path) -> bool:
        """Whether every file of the manifest is in the folder, unchanged."""
        return all(fingerprint(folder / name) == known for name, known in self.files.items())


def _check_types(found: Manifest) -> None:
    """Check that a manifest read from a file holds what its fields say.

    Raises
    ------
    TypeError
        Naming the field that does not.
    """
    texts = ("study", "analysis", "study_hash", "study_text")
    counted = ("seed", "complete")
    tables = ("versions", "tables", "files", "status_counts", "timings")
    kinds: dict[type, tuple[str, ...]] = {str: texts, int: counted, dict: tables}
    for kind, names in kinds.items():
        for name in names:
            if not isinstance(getattr(found, name), kind):
                raise TypeError(f"{name} is no {kind.__name__}")
    for name, known in found.files.items():
        plain = Path(name).name == name and "\\" not in name and ":" not in name
        if not (plain and isinstance(known, str) and _FINGERPRINT.fullmatch(known)):
            raise TypeError(f"files: {name!r} is no file of this folder with its SHA-256")
    for name in found.tables:
        if f"{name}.parquet" not in found.files:
            raise TypeError(f"tables: {name!r} has no file")


def read_manifest(folder: Path) -> Manifest | None:
    """Read the manifest of a folder, or None if there is none that can be read."""
    try:
        return Manifest.read(folder)
    except StoreError:
        return None


@lru_cache(maxsize=1)
def tool_versions() -> dict[str, str]:
    """Versions of Python, the platform and the packages that results depend on."""
    versions = {"python": platform.python_version(), "platform": sys.platform}
    versions["machine"] = platform.machine()
    for name in PACKAGES:
        try:
            versions[name] = metadata.version(name)
        except metadata.PackageNotFoundError:
            versions[name] = "not installed"
    return versions
