"""Cheap chunks for the tests, importable by worker processes, and a run of them to be killed.

python cheap.py PLACE SCHEDULER PAUSE  # prints "done" and the SHA-256 of all rows
"""

from __future__ import annotations

import hashlib
import json
import os
import signal
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

from mdo.results.work import Task, Work

CHUNKS, ROWS = 24, 50
LARGE = 10_000
RUN = "0123456789abcdef"
FUNCTION = "cheap:rows"


def rows(context: str, payload: dict[str, Any]) -> dict[str, Any]:
    """Random numbers that only the number of the chunk decides, after a pause."""
    wanted = json.loads(context)
    time.sleep(wanted["pause"])
    number = payload["number"]
    if number in wanted.get("deadly", ()):
        os.kill(os.getpid(), signal.SIGKILL)
    if number in wanted.get("faulty", ()):
        raise ValueError(f"number {number} is faulty")
    if "note" in wanted:
        with Path(wanted["note"]).open("a") as file:
            file.write(f"{number} {os.getpid()} {len(os.sched_getaffinity(0))}\n")
    generator = np.random.default_rng([wanted["seed"], number])
    return {
        "number": np.arange(number * ROWS, (number + 1) * ROWS),
        "share": generator.random(ROWS),
        "text": ["odd" if number % 2 else "even"] * ROWS,
    }


def same_rows(context: str, payload: dict[str, Any]) -> dict[str, Any]:
    """Another function that gives the same."""
    return rows(context, payload)


def large(context: str, payload: dict[str, Any]) -> dict[str, Any]:
    """Two megabytes that do not compress."""
    generator = np.random.default_rng(payload["number"])
    return {f"column_{n}": generator.random(LARGE) for n in range(25)}


def context(pause: float = 0.0, **more: Any) -> str:
    return json.dumps({"pause": pause, "seed": 7, **more})


def tasks(count: int = CHUNKS) -> list[Task]:
    return [Task(f"part-{number:04d}", {"number": number}) for number in range(count)]


def digest(chunks: Any) -> str:
    """Fingerprint of all rows, bit by bit, in their order."""
    frame = chunks.frame()
    whole = hashlib.sha256("\n".join(frame["text"]).encode())
    for name in ("number", "share"):
        whole.update(frame[name].to_numpy().tobytes())
    return whole.hexdigest()


def main() -> None:
    """Do all chunks; what is kept of an earlier run is taken."""
    place, scheduler, pause = Path(sys.argv[1]), sys.argv[2], float(sys.argv[3])
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    with Work(place, RUN, scheduler=scheduler, workers=2, patience=20.0) as work:
        chunks = work.do("rows", FUNCTION, context(pause), tasks(), lambda _: None)
        sys.stdout.write(f"done {digest(chunks)}\n")
        work.finish()


if __name__ == "__main__":
    main()
