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


def compiler_options() -> dict[str, bool] | None:
    """Options for large functions with many derivatives.

    On a CPU the older emitters make them a third faster and compile them in two thirds of the time.
    """
    return {"xla_cpu_use_fusion_emitters": False} if jax.default_backend() == "cpu" else None
