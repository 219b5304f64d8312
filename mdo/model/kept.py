"""Compiled functions whose trace is kept on disk: a second process does not run them in Python.

To find the operations of a large function JAX runs it in Python, for the whole chain and its
tangents some seconds in every process, though the compiled code is in the cache. What it finds
follows from the sources of this package (but those that only ask, store, explain and show), the
versions of JAX, and the shapes of the arguments; it is written down as StableHLO (``jax.export``),
beside the compiled code, under a hash of all these. The compiled code itself is kept by JAX's
persistent cache, switched on here.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import tempfile
from collections.abc import Callable
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

import jax
from jax import export
from platformdirs import user_cache_dir

from mdo.model.computed_once import computed_once

ENVIRONMENT = "FOLD_MDO_CACHE"


@cache
def use_persistent_cache() -> Path | None:
    """Switch the cache on, once; returns its folder, or None where it cannot be used.

    The folder is the user's cache folder, or what FOLD_MDO_CACHE names; an empty FOLD_MDO_CACHE
    switches the cache off.
    """
    named = os.environ.get(ENVIRONMENT)
    if named == "":
        return None
    folder = Path(named) if named else Path(user_cache_dir("fold-mdo")) / "compiled"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return None
    jax.config.update("jax_compilation_cache_dir", str(folder))
    jax.config.update("jax_persistent_cache_min_compile_time_secs", 0.0)
    jax.config.update("jax_persistent_cache_min_entry_size_bytes", -1)
    return folder


Options = dict[str, bool | int | str] | None
OLDER_EMITTERS: dict[str, bool | int | str] = {
    "xla_cpu_use_fusion_emitters": False,
    "xla_disable_hlo_passes": "cse_barrier_expander",  # it drops barriers before it fuses
}


def compiler_options() -> Options:
    """Options for large functions with many derivatives.

    On a CPU the older emitters make them a third faster and compile them in two thirds of the time.
    """
    return known_options(**OLDER_EMITTERS)


def optimiser_options() -> Options:
    """Options for functions of one design that are called some hundred times.

    Level 1 compiles in four fifths of the time, and what it gives is no slower.
    """
    return known_options(**OLDER_EMITTERS, xla_backend_optimization_level=1)


def cheap_options() -> Options:
    """Options for functions of one design that are called a few times.

    Level 0 compiles in three fifths of the time, and what it gives takes a fifth longer.
    """
    return known_options(**OLDER_EMITTERS, xla_backend_optimization_level=0)


def known_options(**options: bool | int | str) -> Options:
    """Options that the compiler of this version has, on a CPU; none elsewhere."""
    if jax.default_backend() != "cpu":
        return None
    return {name: value for name, value in options.items() if _knows(name, value)}


@cache
def _knows(name: str, value: bool | int | str) -> bool:
    """Whether the compiler has an option: later versions drop some, and refuse what they lack."""
    try:
        jax.jit(_with_barrier, compiler_options={name: value}).lower(1.0).compile()
    except jax.errors.JaxRuntimeError:
        return False
    return True


def _with_barrier(number: Any) -> Any:
    return jax.lax.optimization_barrier(2.0 * number) + 1.0


PACKAGE = Path(__file__).parents[1]
FOLDER = "traced"
UNTRACED = ("api.py", "cli", "defend", "report", "results", "run")  # no JAX there: a test
VERSIONS = 5  # of the sources, whose traces are kept
REMEMBERED = 8  # last values that are remembered of a kind
CHECK = 32  # bytes of the hash in front of a file
_SHARED: dict[str, Any] = {}  # compiled functions by all that they depend on


def kept(function: Callable[..., Any], identity: str | None, options: Options = None) -> Any:
    """Compile a function of trees of arrays, and keep its trace.

    Parameters
    ----------
    function : gives arrays in tuples, lists and dicts
    identity : what it is, and everything that it depends on beside its arguments and the sources of
        this package; None keeps nothing
    options : of the compiler
    """
    if identity is None:
        return jax.jit(function, compiler_options=options)

    def replayed(*arguments: Any) -> Any:
        leaves, tree = jax.tree.flatten(arguments)
        shapes = [jax.ShapeDtypeStruct(leaf.shape, leaf.dtype) for leaf in leaves]
        text = "\n".join([identity, str(tree), str(shapes)])

        def flat(leaves: list[Any]) -> Any:
            return function(*jax.tree.unflatten(tree, leaves))

        return _trace(flat, shapes, hashlib.sha256(text.encode()).hexdigest()).call(leaves)

    return jax.jit(replayed, compiler_options=options)


def shared(function: Callable[..., Any], identity: str | None, options: Options = None) -> Any:
    """Compile a function as :func:`kept` does, or take what this process has of that identity.

    Parameters
    ----------
    function, identity, options : as of :func:`kept`
    """
    if identity is None or use_persistent_cache() is None:
        return kept(function, identity, options)
    return _SHARED.setdefault(f"{identity}\n{options}", kept(function, identity, options))


def remembered(known: dict[bytes, Any], key: bytes, find: Callable[[], Any]) -> Any:
    """Value of a key, found where it is not known; the last few are kept.

    Parameters
    ----------
    known : values by key, the last that were asked for at the end
    key, find : of the value
    """
    found = known.pop(key, None)
    known[key] = found = find() if found is None else found
    for old in list(known)[:-REMEMBERED]:
        known.pop(old, None)
    return found


def _trace(flat: Callable[[list[Any]], Any], shapes: list[Any], name: str) -> export.Exported:
    """Trace of a function: read where it is kept, else found and kept."""
    folder = use_persistent_cache()
    path = None if folder is None else folder / FOLDER / surroundings() / name
    data = None if path is None else _read(path)
    if data is not None:
        return export.deserialize(bytearray(data))
    placed = computed_once(flat) if jax.default_backend() == "cpu" else flat
    found = export.export(jax.jit(placed))(shapes)
    if path is not None:
        _write(path, bytes(found.serialize()))
    return found


def _read(path: Path) -> bytes | None:
    """Content of a file; None where it is not there or not as it was written."""
    try:
        data = path.read_bytes()
    except OSError:
        return None
    check, content = data[:CHECK], data[CHECK:]
    return content if check == hashlib.sha256(content).digest() else None


def _write(path: Path, content: bytes) -> None:
    """Write a file whole, with its hash in front; where that fails it is not kept."""
    with contextlib.suppress(OSError):
        if not path.parent.is_dir():
            path.parent.mkdir(parents=True, exist_ok=True)
            _forget(path.parent.parent)
        number, name = tempfile.mkstemp(dir=path.parent)
        with os.fdopen(number, "wb") as file:
            file.write(hashlib.sha256(content).digest() + content)
        Path(name).replace(path)


def _forget(folder: Path) -> None:
    """Remove the traces of all but the last few versions of the sources."""
    versions = sorted(folder.iterdir(), key=lambda one: one.stat().st_mtime)
    for old in versions[:-VERSIONS]:
        shutil.rmtree(old, ignore_errors=True)


@cache
def surroundings() -> str:
    """Hash of what a trace depends on beside its function: versions, device, package sources."""
    digest = hashlib.sha256()
    for path in sorted(PACKAGE.rglob("*.py")):
        place = path.relative_to(PACKAGE)
        if place.parts[0] not in UNTRACED:
            digest.update(place.as_posix().encode() + b"\0" + path.read_bytes())
    versions = " ".join(version(name) for name in ("jax", "jaxlib"))
    digest.update(f"{versions} {jax.default_backend()}".encode())
    return digest.hexdigest()
