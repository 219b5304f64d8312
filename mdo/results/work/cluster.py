"""Who does the chunks: this process, processes of this machine, or a cluster that runs already."""

from __future__ import annotations

import contextlib
import itertools
import uuid
from collections.abc import Iterable, Iterator
from concurrent.futures import CancelledError
from typing import Any

from mdo.results.work.processes import LocalProcesses, Retrying, core_count
from mdo.results.work.tasks import Job, Task, WorkError, perform

SERIAL, LOCAL = "serial", "local"
REMOTE = ("tcp://", "tls://")
CONNECT = 15.0  # [s] patience with a scheduler that does not answer or has no workers
ALONE = 120.0  # [s] patience with a cluster that has lost all its workers
LOOK = 5.0  # [s] between looks at whether there are workers


def scheduler_named(name: str, workers: int | None) -> Scheduler:
    """Scheduler of a name: ``serial``, ``local`` or the address of a Dask scheduler.

    Parameters
    ----------
    name : as above
    workers : processes of this machine; None: one per core

    Raises
    ------
    WorkError
        If there is no such scheduler, or it does not answer.
    """
    check_scheduler(name, workers)
    if name == SERIAL:
        return Serial()
    return LocalProcesses(workers or core_count()) if name == LOCAL else RemoteCluster(name)


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
        for task in tasks:
            yield task.key, perform(job, task)

    def close(self) -> None:
        """Nothing was started."""


class RemoteCluster(Retrying):
    """Workers of a Dask scheduler that runs already, on this machine or others.

    At most one chunk per worker is under way. A worker that ends, killed or crashed, takes nothing
    with it: its chunk is done by another one.
    """

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
        self._client = client

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
                data = _result(future)
                self._fill(job, tasks, running, most)
                if data is None:
                    suspects.append(task)
                else:
                    yield task.key, data

    def _fill(
        self, job: Job, tasks: Iterator[Task], running: dict[str, tuple[Any, Task]],
        most: int | None,
    ) -> None:  # fmt: skip
        """Give every worker a task while there are any."""
        room = (most or max(1, self._workers())) - len(running)
        for task in itertools.islice(tasks, max(room, 0)):
            name = f"{task.key}-{uuid.uuid4().hex}"
            future = self._client.submit(perform, job, task, key=name, pure=False)
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


Scheduler = Serial | LocalProcesses | RemoteCluster


def _result(future: Any) -> bytes | None:
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
    raise error
