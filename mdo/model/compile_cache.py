"""JAX's persistent compilation cache, so that a second process starts in seconds."""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path

import jax
from platformdirs import user_cache_dir

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


Options = dict[str, bool | int] | None
OLDER_EMITTERS: dict[str, bool | int] = {"xla_cpu_use_fusion_emitters": False}


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


def known_options(**options: bool | int) -> Options:
    """Options that the compiler of this version has, on a CPU; none elsewhere."""
    if jax.default_backend() != "cpu":
        return None
    return {name: value for name, value in options.items() if _knows(name, value)}


@cache
def _knows(name: str, value: bool | int) -> bool:
    """Whether the compiler has an option: later versions drop some, and refuse what they lack."""
    try:
        jax.jit(lambda: 0, compiler_options={name: value}).lower().compile()
    except jax.errors.JaxRuntimeError:
        return False
    return True
