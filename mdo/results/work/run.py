"""Chunks of an analysis: done by whoever is asked to, kept until the result is written."""

from __future__ import annotations

import contextlib
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Self

from mdo.results.files import PATIENCE, Lock, clear_errors, remove_folder
from mdo.results.manifest import tool_versions
from mdo.results.store import HASH_DIGITS
from mdo.results.work.chunks import ChunkFolder, Chunks
from mdo.results.work.cluster import SERIAL, Scheduler, check_scheduler, scheduler_named
from mdo.results.work.tasks import Job, Task, identity


class Work:
    """Chunks of one analysis; use it in a ``with``, which ends processes and lets the lock go.

    Finished chunks stay on disk until :meth:`finish`, so a run that was stopped or killed goes on
    where it was. Only one process works in a folder at a time.

    Parameters
    ----------
    place
        Folder that the result will have; the chunks lie in a hidden one beside it. None keeps them
        for this run only.
    run
        Hash of everything that the result depends on.
    scheduler
        ``serial``, ``local`` or the address of a Dask scheduler.
    workers
        Processes of this machine; None: one per core.
    patience
        How long to wait for another process that works in the same folder [s].

    Raises
    ------
    WorkError
        If there is no such scheduler.
    StoreError
        If the folder cannot be made, or another process holds it.
    """

    def __init__(
        self, place: Path | None, run: str, *, scheduler: str = SERIAL,
        workers: int | None = None, patience: float = PATIENCE,
    ) -> None:  # fmt: skip
        check_scheduler(scheduler, workers)
        self._named = (scheduler, workers)
        self._scheduler: Scheduler | None = None
        self.place, self.run = place, run
        self._held = contextlib.ExitStack()  # lock, folder and processes, let go in reverse
        if place is None:
            folder = tempfile.TemporaryDirectory(prefix="chunks-")
            self.folder = Path(self._held.enter_context(folder))
        else:
            self.folder = place.with_name(f".{place.name}.chunks-{run[:HASH_DIGITS]}")
            self._take(place, patience)

    def _take(self, place: Path, patience: float) -> None:
        """Take the folder, and remove those of other runs."""
        with clear_errors(place.parent, "make the folder"):
            place.parent.mkdir(parents=True, exist_ok=True)
        lock = Lock(place.with_name(f".{place.name}.chunks.lock"), str(place), patience=patience)
        with contextlib.ExitStack() as held:
            held.callback(lock.release)
            for other in sorted(place.parent.glob(f".{place.name}.chunks-*")):
                if other != self.folder:
                    remove_folder(other)
            with clear_errors(self.folder, "make the folder"):
                self.folder.mkdir(exist_ok=True)
            self._held.push(held.pop_all())

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def do(
        self, stage: str, function: str, context: str, tasks: Sequence[Task],
        say: Callable[[str], None], *, title: str = "",
    ) -> Chunks:  # fmt: skip
        """Do the tasks of one stage that are not done yet.

        Parameters
        ----------
        stage : name of the folder of its chunks: letters, digits, ``_`` and ``-``
        function : ``package.module:name``, see :class:`mdo.results.work.tasks.Job`
        context : plain text that the function takes
        tasks : in the order that the rows shall have; may make each task when it is asked for
        say : told which chunk of how many is under way
        title : first words of these lines; the stage where there is none

        Returns
        -------
        The chunks in the order of the tasks.

        Raises
        ------
        WorkError
            If a chunk cannot be done.
        StoreError
            If a chunk cannot be written.
        """
        job = Job(function, context, tool_versions())
        folder = ChunkFolder(self.folder / stage, identity(job, self.run, tasks))
        folder.take_up()
        keys = [task.key for task in tasks]
        kept = sum(key in folder for key in keys)
        if kept < len(keys):
            earlier = f" ({kept} kept from an earlier run)" if kept else ""
            say(f"{title or stage}: chunk {kept + 1} of {len(keys)}{earlier}")
            if self._scheduler is None:
                scheduler = contextlib.closing(scheduler_named(*self._named))
                self._scheduler = self._held.enter_context(scheduler)
            left = (task for task in tasks if task.key not in folder)
            for done, (key, data) in enumerate(self._scheduler.results(job, left), kept + 1):
                folder.write(key, data)
                if done < len(keys):
                    say(f"{title or stage}: chunk {done + 1} of {len(keys)}")
        return Chunks(folder, keys)

    def kept(self, stage: str) -> ChunkFolder:
        """Folder of what a stage keeps as it goes, with what an earlier run has left there.

        Raises
        ------
        StoreError
            If the folder cannot be made, read or written.
        """
        folder = ChunkFolder(self.folder / stage, {"run": self.run, "versions": tool_versions()})
        folder.take_up()
        return folder

    def finish(self) -> None:
        """Remove the chunks: the result is written."""
        remove_folder(self.folder)

    def close(self) -> None:
        """End processes and let the folder go; its chunks stay, to be taken up."""
        self._held.close()
        self._scheduler = None
