"""Processes of this machine that do chunks, each held to a core of its own.

Every process has a pipe of its own and one chunk at a time, so that it is known which chunk was
under way in one that ends. Nothing here needs a semaphore or a lock of the system: whatever ends
this process leaves nothing behind.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import sys
import threading
from collections import Counter
from collections.abc import Iterable, Iterator
from multiprocessing import connection, resource_tracker
from pathlib import Path
from typing import Any, NamedTuple

from mdo.results.work.tasks import Job, Task, WorkError, perform

DEATHS = 3  # processes that may end while they do a chunk, before it is done alone
CLOSE = 10.0  # [s] patience with processes that do not end by themselves
SPAWN = multiprocessing.get_context("spawn")  # a fork would inherit threads and compiled code
STARTED = "started"


class Retrying:
    """Does a chunk again whose process ended, and sets aside one whose processes always end.

    It is done alone once the others are done, so that it is known to be the one.
    """

    def results(self, job: Job, tasks: Iterable[Task]) -> Iterator[tuple[str, bytes]]:
        """Key and bytes of every task as they are done, in any order."""
        suspects: list[Task] = []
        yield from self._all(job, iter(tasks), suspects, None)
        for task in suspects:
            lost: list[Task] = []
            yield from self._all(job, iter([task]), lost, 1)
            if lost:
                raise WorkError(
                    f"chunk {task.key}: the process that does it ended {2 * DEATHS} times (memory "
                    "full, or a crash); the other chunks are done and kept. Expected a chunk that "
                    "fits into memory: make the chunks smaller, or use fewer workers"
                )

    def _all(
        self, job: Job, tasks: Iterator[Task], suspects: list[Task], most: int | None
    ) -> Iterator[tuple[str, bytes]]:
        """Do tasks, as many at once as there are workers or as given."""
        raise NotImplementedError


class Worker(NamedTuple):
    """A process and this end of its pipe."""

    process: Any
    pipe: Any


class LocalProcesses(Retrying):
    """Processes of this machine, one thread each.

    Parameters
    ----------
    count : how many; they start with the first chunk
    """

    def __init__(self, count: int) -> None:
        if getattr(multiprocessing.current_process(), "_inheriting", False):
            raise SystemExit(1)  # a process that imports the script that has started it
        self.count = count
        self.workers: dict[int, Worker] = {}
        self.ready: set[int] = set()
        self.failed = 0  # processes that ended before they had started, one after the other
        self._before = {name: os.environ.get(name) for name in ALLOCATOR}
        for name, value in ALLOCATOR.items():
            os.environ.setdefault(name, value)

    def close(self) -> None:
        """End the processes, also those that a busy machine does not end in time."""
        for number in list(self.workers):
            self._end(number)
        for name, value in self._before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value

    def _all(
        self, job: Job, tasks: Iterator[Task], suspects: list[Task], most: int | None
    ) -> Iterator[tuple[str, bytes]]:
        running: dict[int, Task] = {}
        repeated: list[Task] = []
        deaths: Counter[str] = Counter()
        left = True
        try:
            while True:
                self._start()
                idle = sorted(self.ready - running.keys())
                for number in idle[: (most or self.count) - len(running)]:
                    task = repeated.pop() if repeated else next(tasks, None)
                    left = task is not None
                    if task is None:
                        break
                    running[number] = task
                    with contextlib.suppress(OSError):  # it has just ended: the pipe says so below
                        self.workers[number].pipe.send((job, task))
                if not left and not running:
                    return
                for number, answer in self._answers():
                    if answer == STARTED:
                        self.ready.add(number)
                    elif answer is not None:
                        yield running.pop(number).key, _data(answer)
                    elif number in running:
                        task = running.pop(number)
                        deaths[task.key] += 1
                        (suspects if deaths[task.key] == DEATHS else repeated).append(task)
                        left = left or bool(repeated)
        finally:
            for number in running:  # its answer would come too late
                self._end(number)

    def _start(self) -> None:
        """Start the processes that are missing."""
        for number in range(self.count):
            if number not in self.workers:
                here, there = SPAWN.Pipe()
                process = SPAWN.Process(target=do_chunks, args=(there, number), daemon=True)
                with _deaf_to_interrupts():
                    process.start()
                there.close()
                self.workers[number] = Worker(process, here)

    def _answers(self) -> Iterator[tuple[int, Any]]:
        """Number and answer of every process that has one; None where it has ended.

        Raises
        ------
        WorkError
            If one ends by itself before it has started, or several are ended.
        """
        numbers = {worker.pipe: number for number, worker in self.workers.items()}
        for pipe in connection.wait(list(numbers)):
            number: int = numbers[pipe]
            try:
                answer = pipe.recv()  # type: ignore[union-attr, call-arg]
            except (EOFError, OSError):
                self.failed = 0 if number in self.ready else self.failed + 1
                status = self._end(number)
                if self.failed and ((status or 0) > 0 or self.failed > DEATHS * self.count):
                    raise WorkError(
                        f"the worker processes did not start (exit status {status}). A script that "
                        "starts them has to do it under 'if __name__ == \"__main__\":', since "
                        "every process imports the script; or use the scheduler 'serial'"
                    ) from None
                answer = None
            yield number, answer

    def _end(self, number: int) -> int | None:
        """End a process; its exit status if it had ended by itself."""
        self.ready.discard(number)
        worker = self.workers.pop(number)
        worker.pipe.close()
        worker.process.join(timeout=0.0 if worker.process.is_alive() else None)
        status: int | None = worker.process.exitcode
        worker.process.terminate()
        worker.process.join(timeout=CLOSE)
        worker.process.kill()
        return status


def _data(answer: Any) -> bytes:
    """Bytes of a chunk; its error is raised here."""
    if isinstance(answer, BaseException):
        raise answer
    data: bytes = answer
    return data


def do_chunks(pipe: Any, number: int) -> None:
    """Do the chunks that come through a pipe until it is closed: what a process does.

    Parameters
    ----------
    pipe : gives job and task, takes bytes or an error
    number : of the process and its core
    """
    hold_to_core(number)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    pipe.send(STARTED)
    with contextlib.suppress(EOFError, OSError):
        while True:
            job, task = pipe.recv()
            try:
                answer: Any = perform(job, task)
            except Exception as error:
                answer = error
            pipe.send(answer)


def _end_with_parent() -> None:
    """End this process as soon as the one that has started it has ended, however."""
    parent = multiprocessing.parent_process()
    assert parent is not None
    parent.join()
    os._exit(1)


@contextlib.contextmanager
def _deaf_to_interrupts() -> Iterator[None]:
    """Start processes that never hear Ctrl-C.

    A terminal sends it to them too, and each would print a traceback; this process ends them. A
    blocked signal is handed down to whatever is started. (The tracker of multiprocessing would
    unblock it when it starts, so it starts before.)
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


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
