"""What a process of the local cluster does before anything else: keep to one core.

JAX makes one thread per core that its process may use, so a process held to one core has one
thread, and two such processes do not get in each other's way. Loaded by the worker at its start,
before it takes work and so before JAX starts.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

# Large arrays come and go with every batch: keep their memory instead of giving it back and asking
# for it anew. The C library reads these at the start of a process.
ALLOCATOR = {
    "MALLOC_TRIM_THRESHOLD_": "1073741824",
    "MALLOC_MMAP_THRESHOLD_": "268435456",
}


def dask_setup(worker: Any) -> None:
    """Hold this process to the core with the number of its worker."""
    pin(int(worker.name))


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
