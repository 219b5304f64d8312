"""What a process that does chunks does before anything else: keep to one core.

JAX makes one thread per core that its process may use, so a process held to one core has one
thread, and two such processes do not get in each other's way. They leave an accelerator alone, of
which each would take all memory: it is used by one process, with the serial scheduler.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

PLATFORM = "JAX_PLATFORMS"
# Large arrays come and go with every batch: keep their memory instead of giving it back and asking
# for it anew. The C library reads these at the start of a process.
ALLOCATOR = {"MALLOC_TRIM_THRESHOLD_": "1073741824", "MALLOC_MMAP_THRESHOLD_": "268435456"}


def hold_to_core(number: int) -> None:
    """Hold this process to the core of its number, and JAX to cores."""
    pin(number)
    os.environ.setdefault(PLATFORM, "cpu")
    if "jax" in sys.modules:  # imported by the script that started all this: it has read the name
        sys.modules["jax"].config.update("jax_platforms", os.environ[PLATFORM])


def pin(number: int) -> None:
    """Hold all threads of this process to one of the cores that it may use.

    Where the platform cannot do that, nothing happens.
    """
    if not hasattr(os, "sched_setaffinity"):
        return
    cores = sorted(os.sched_getaffinity(0))
    core = {cores[number % len(cores)]}
    os.sched_setaffinity(0, core)
    for thread in Path("/proc/self/task").glob("*"):
        os.sched_setaffinity(int(thread.name), core)


def core_count() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
