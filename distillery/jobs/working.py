"""Doing the jobs that wait, one after another, in the process that called."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from typing import Final

from django.db import DatabaseError
from django.utils import timezone

from distillery.database.full_disk import FullDisk, is_full
from distillery.database.retrying import Busy, is_busy, retried
from distillery.jobs import files
from distillery.jobs.claiming import claim
from distillery.jobs.kinds import UnknownKind, kind_of
from distillery.jobs.models import Job, JobState
from distillery.jobs.progress import Beating, NotDone, Progress, Stopped

FAULT: Final = "The program could not do it, by a fault of its own. The log of the site says where."
BUSY: Final = "The books were busy for too long."
LONGEST_FAULT: Final = 500

log = logging.getLogger(__name__)

Beats = Callable[[Progress], AbstractContextManager[object]]


def work_off(*, most: int | None = None, beats: Beats = Beating) -> Iterator[Job]:
    """Does what waits, at most so many, and gives each job as it ended. Another process at work is left alone.

    `beats` is what writes the progress down meanwhile. Raises Busy where not even a claim could be written.
    """
    done = 0
    while most is None or done < most:
        job = claim()
        if job is None:
            return
        _do(job, beats)
        job.refresh_from_db()
        yield job
        done += 1


def _do(job: Job, beats: Beats) -> None:
    progress = Progress(job)
    files.clear_parts(job)
    try:
        with beats(progress):
            name = kind_of(job.kind).do(progress)
            # A result of a job that was given up in the last second is nobody's.
            progress.write_down()
            progress.tell("Done.")
        size = files.keep(job) if name else 0
        _end(job, state=JobState.DONE, said="", file_name=name, file_bytes=size)
    except Stopped:
        log.info("%s was given up or taken over", job)
    except Exception as error:
        _end(job, state=JobState.FAILED, fault=_sentence(error, job)[:LONGEST_FAULT])
    finally:
        files.clear_parts(job)


@retried
def _end(job: Job, **said: object) -> None:
    Job.objects.filter(pk=job.pk, run=job.run, state=JobState.GOING_ON).update(
        **said, ended_at=timezone.now(), process=None
    )


def _sentence(error: Exception, job: Job) -> str:
    """Why it failed, for a page; a fault of the program goes to the log with its insides."""
    if is_full(error):
        return FullDisk.sentence
    if isinstance(error, Busy) or (isinstance(error, DatabaseError) and is_busy(error)):
        return BUSY
    if isinstance(error, UnknownKind | NotDone):
        return str(error)
    if isinstance(error, OSError) and error.strerror:
        log.error("%s: %s", job, error)
        return f"Its file cannot be written: {error.strerror}."
    log.error("%s failed", job, exc_info=error)
    return FAULT
