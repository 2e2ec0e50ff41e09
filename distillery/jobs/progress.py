"""How far a job has come: said by whoever does it, and written down once a second with a sign of life.

A thread with a connection of its own writes. The connection that works could not: one that is reading an SQLite
database cannot write once another has, and nobody sees a sign of life inside a long transaction.
"""

from __future__ import annotations

import json
import logging
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, Final

from django.db import DatabaseError, connection
from django.utils import timezone

from distillery.jobs import beside
from distillery.jobs.files import part_of
from distillery.jobs.models import Job, JobState
from distillery.people.models import Person

BEAT_S: Final = 1.0
_LONGEST_SAID: Final = 300

log = logging.getLogger(__name__)


class Stopped(Exception):
    """The job was given up, or taken over by another process: whoever does it ends without a result."""


class NotDone(Exception):
    """Raised by a kind for a job that cannot be done: one sentence, which its page shows."""


class Progress:
    """What a kind is given to do one run of a job by: its arguments, where its result goes, and somebody to tell."""

    def __init__(self, job: Job) -> None:
        self._job = job
        self._told: tuple[str, int, int] = (job.said, job.done, job.total)
        self._stopped = False
        self._holds_books = False

    @property
    def asked_by(self) -> Person | None:
        """Who asked for it; None where the program did by itself."""
        return self._job.asked_by

    @property
    def arguments(self) -> dict[str, Any]:
        """What was asked for."""
        read: dict[str, Any] = json.loads(self._job.arguments)
        return read

    @property
    def path(self) -> Path:
        """The file to write a result into."""
        return part_of(self._job)

    def tell(self, said: str, done: int = 0, total: int = 0) -> None:
        """Says how far it has come: a sentence, and `done` of `total` where they can be counted. Raises Stopped where
        it is to end.
        """
        self._told = (said[:_LONGEST_SAID], done, total)
        if self._stopped:
            raise Stopped

    @contextmanager
    def holding_the_books(self) -> Iterator[None]:
        """While it is entered one transaction writes all the time, so progress goes where it waits for nobody."""
        self._holds_books = connection.vendor == "sqlite"
        try:
            yield
        finally:
            self._holds_books = False
            beside.hush(self._job)

    def write_down(self) -> None:
        """Writes down what was told last, with a sign of life; finds out whether the job is still this run's."""
        said, done, total = self._told
        if self._holds_books:
            beside.tell(self._job, said, done, total)
            return
        written = Job.objects.filter(pk=self._job.pk, run=self._job.run, state=JobState.GOING_ON).update(
            said=said, done=done, total=total, alive_at=timezone.now()
        )
        self._stopped = self._stopped or not written


class Beating:
    """While it is entered, a thread of its own writes down the progress once a second."""

    def __init__(self, progress: Progress, *, every_s: float = BEAT_S) -> None:
        self._progress = progress
        self._every_s = every_s
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._beat, name="progress", daemon=True)

    def __enter__(self) -> Beating:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._ended.set()
        self._thread.join()

    def _beat(self) -> None:
        while not self._ended.wait(self._every_s):
            try:
                self._progress.write_down()
            except (DatabaseError, OSError) as error:
                # Busy, or gone for a moment; the next beat tries again.
                log.warning("A sign of life could not be written: %s", error)
                connection.close()
        connection.close()
