"""Who does the chunks: this process, processes of this machine, or a cluster that runs already."""

from __future__ import annotations

import contextlib
import itertools
import logging
import multiprocessing
import os
import signal
import uuid
from collections.abc import Iterable, Iterator
from concurrent.futures import CancelledError
from functools import partial
from multiprocessing import resource_tracker
from typing import Any, Protocol

from mdo.results.work.pinning import ALLOCATOR, core_count
from mdo.results.work.tasks import Job, Task, WorkError, perform

SERIAL, LOCAL = "serial", "local"
REMOTE = ("tcp://", "tls://")
DEATHS = 3  # worker processes that may end while they do a chunk, before it is done alone
CONNECT = 15.0  # [s] patience with a scheduler that does not answer or has no workers
ALONE = 120.0  # [s] patience with a cluster that has lost all its workers
LOOK = 5.0  # [s] between looks at whether there are workers
CLOSE = 10.0  # [s] patience with processes that do not end by themselves


class Scheduler(Protocol):
    """Whoever does chunks."""

    def results(self, job: Job, tasks: Iterable[Task]) -> Iterator[tuple[str, bytes]]:
        """Key and bytes of every task as they are done, in any order."""

    def close(self) -> None:
        """End what was started."""


def scheduler_named(name: str, workers: int | None) -> Scheduler:
    """Scheduler of a name: ``serial``, ``local`` or the address of a Dask scheduler.

    Parameters
    ----------
    name : as above
    workers : processes of the local cluster; None: one per core

    Raises
    ------
    WorkError
        If there is no such scheduler, or it does not answer.
    """
    check_scheduler(name, workers)
    if name == SERIAL:
        return Serial()
    return LocalCluster(workers or core_count()) if name == LOCAL else RemoteCluster(name)


def check_scheduler(name: str, workers: int | None) -> None:
    """Check name and number of workers before long work.

    Raises
    ------
    WorkError
        Naming what is wrong.
    """
    if name not in {SERIAL, LOCAL} and not name.startswith(REMOTE):
        raise WorkError(
            f"scheduler: unknown, got {name!r}, expected 'serial', 'local' or the address of a "
            "running scheduler such as 'tcp://10.0.0.5:8786'"
        )
    if workers is not None and workers < 1:
        raise WorkError(f"workers: got {workers}, expected 1 or more")


class Serial:
    """One chunk after the other in the process that asks."""

    def results(self, job: Job, tasks: Iterable[Task]) -> Iterator[tuple[str, bytes]]:
        """Key and bytes of every task, in order."""
        for key, payload in tasks:
            try:
                yield key, perform(job, payload)
            except Exception as error:
                error.add_note(f"in chunk {key}")
                raise

    def close(self) -> None:
        """Nothing was started."""


class DaskCluster:
    """Processes behind a Dask client; at most one chunk per worker is under way.

    A worker that ends, killed or crashed, takes nothing with it: its chunk is done by another one.
    A chunk whose workers end again and again is set aside and done alone once the others are done,
    so that it is known to be the one.
    """

    def __init__(self, client: Any) -> None:
        self._client = client

    def results(self, job: Job, tasks: Iterable[Task]) -> Iterator[tuple[str, bytes]]:
        """Key and bytes of every task as they are done, in any order."""
        suspects: list[Task] = []
        yield from self._all(job, iter(tasks), suspects, None)
        for task in suspects:
            again: list[Task] = []
            yield from self._all(job, iter([task]), again, 1)
            if again:
                raise WorkError(
                    f"chunk {task.key}: the process that does it ended {2 * DEATHS} times (memory "
                    "full, or a crash); the other chunks are done and kept. Expected a chunk that "
                    "fits into memory: make the chunks smaller, or use fewer workers"
                )

    def close(self) -> None:
        """Leave the scheduler."""
        self._client.close()

    def _all(
        self, job: Job, tasks: Iterator[Task], suspects: list[Task], most: int | None
    ) -> Iterator[tuple[str, bytes]]:
        """Do tasks, as many at once as there are workers or as given."""
        running: dict[str, tuple[Any, Task]] = {}
        self._fill(job, tasks, running, most)
        while running:
            for future in self._ended([future for future, _ in running.values()]):
                _, task = running.pop(future.key)
                data = _result(future, task)
                self._fill(job, tasks, running, most)
                if data is None:
                    suspects.append(task)
                else:
                    yield task.key, data

    def _fill(
        self,
        job: Job,
        tasks: Iterator[Task],
        running: dict[str, tuple[Any, Task]],
        most: int | None,
    ) -> None:
        """Give every worker a task while there are any."""
        room = (most or max(1, self._workers())) - len(running)
        for task in itertools.islice(tasks, max(room, 0)):
            name = f"{task.key}-{uuid.uuid4().hex}"
            future = self._client.submit(perform, job, task.payload, key=name, pure=False)
            running[name] = future, task

    def _ended(self, futures: list[Any]) -> list[Any]:
        """Wait until some tasks have ended.

        Raises
        ------
        WorkError
            If there are no workers any more.
        """
        from distributed import wait

        alone = 0
        while not (ended := [future for future in futures if future.done()]):
            with contextlib.suppress(TimeoutError, CancelledError), self._client.as_current():
                wait(futures, timeout=LOOK, return_when="FIRST_COMPLETED")
                continue
            alone = 0 if self._workers() else alone + 1
            if alone * LOOK > ALONE:
                raise WorkError(
                    f"no workers for {ALONE:.0f} s; what is done is kept: start workers, then run "
                    "the study again"
                )
        return ended

    def _workers(self) -> int:
        """How many workers there are now; none where the scheduler does not answer."""
        try:
            return len(self._client.ncores())
        except OSError:
            return 0


def _result(future: Any, task: Task) -> bytes | None:
    """Bytes of an ended task; None where its workers died.

    Raises
    ------
    WorkError
        If the scheduler is gone.
    """
    from distributed import KilledWorker

    if future.status == "finished":
        data: bytes = future.result()
        return data
    if future.status != "error":
        raise WorkError(
            "the scheduler is gone; what is done is kept: start it, then run the study again"
        )
    error: BaseException = future.exception()
    if isinstance(error, KilledWorker):
        return None
    error.add_note(f"in chunk {task.key}")
    raise error


class LocalCluster(DaskCluster):
    """Processes of this machine, one thread each, each held to a core of its own."""

    def __init__(self, workers: int) -> None:
        import dask
        import distributed

        if getattr(multiprocessing.current_process(), "_inheriting", False):
            raise SystemExit(1)  # a worker that imports the script that has started it
        set_by_workers = ("PYTHONHASHSEED", *dask.config.get("distributed.nanny.pre-spawn-environ"))
        self._before = {name: os.environ.get(name) for name in (*ALLOCATOR, *set_by_workers)}
        for name, value in ALLOCATOR.items():
            os.environ.setdefault(name, value)
        # else a worker that is just being replaced when this time is over is not replaced again
        self._config = dask.config.set({"distributed.deploy.lost-worker-timeout": "1000 days"})
        try:
            with _deaf_to_interrupts():
                self._cluster = distributed.LocalCluster(
                    n_workers=workers,
                    threads_per_worker=1,
                    processes=True,
                    host="127.0.0.1",
                    dashboard_address="127.0.0.1:0",
                    memory_limit=0,
                    silence_logs=logging.CRITICAL,  # a killed worker is replaced: nothing to read
                    preload=["mdo.results.work.pinning"],
                    scheduler_kwargs={"allowed_failures": DEATHS - 1},
                )
                super().__init__(distributed.Client(self._cluster, set_as_default=False))
        except RuntimeError as error:
            self._restore()
            raise WorkError(
                f"the worker processes did not start ({error}). A script that starts them has to "
                "do it under 'if __name__ == \"__main__\":', since every process imports the "
                "script; or use the scheduler 'serial'"
            ) from None
        except BaseException:
            self._restore()
            raise

    def close(self) -> None:
        """End the processes; those that a busy machine does not end in time end with this one."""
        for ending in (super().close, partial(self._cluster.close, timeout=CLOSE)):
            with contextlib.suppress(TimeoutError):
                ending()
        self._restore()

    def _restore(self) -> None:
        """Take back what the cluster set in environment and configuration for its processes."""
        for name, value in self._before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value
        self._config.__exit__(None, None, None)


@contextlib.contextmanager
def _deaf_to_interrupts() -> Iterator[None]:
    """Start threads and processes that never hear Ctrl-C.

    A terminal sends it to the workers too, and each would print a traceback; this process ends
    them. A blocked signal is handed down to whatever is started, also later, from here or from the
    threads started here. (The tracker of multiprocessing would unblock it when it starts, so it
    starts before.)
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


class RemoteCluster(DaskCluster):
    """Workers of a Dask scheduler that runs already, on this machine or others."""

    def __init__(self, address: str) -> None:
        import distributed

        try:
            client = distributed.Client(address, timeout=CONNECT, set_as_default=False)
        except (OSError, ValueError) as error:
            raise WorkError(
                f"scheduler: no answer from {address!r} ({error}), expected the address of a "
                "running scheduler such as 'tcp://10.0.0.5:8786'"
            ) from None
        try:
            client.wait_for_workers(1, timeout=CONNECT)
        except TimeoutError:
            with contextlib.suppress(Exception):
                client.close()
            raise WorkError(
                f"scheduler: {address!r} has no workers, expected at least one"
            ) from None
        super().__init__(client)
