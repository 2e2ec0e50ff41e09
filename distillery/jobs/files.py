"""The files that jobs make: where they lie, and how long they are kept."""

from __future__ import annotations

import os
from contextlib import suppress
from datetime import timedelta
from pathlib import Path

from django.conf import settings
from django.db.models import Q
from django.utils import timezone

from distillery.jobs.models import OPEN, Job, JobState

# A file that is still being written.
PART = ".part"


def folder() -> Path:
    """The folder for results; made where it is not there."""
    made = Path(settings.LONG_WORK_FOLDER)
    made.mkdir(mode=0o700, parents=True, exist_ok=True)
    return made


def path_of(job: Job) -> Path:
    """Where the result of a job lies once it is done."""
    return folder() / job.file


def part_of(job: Job) -> Path:
    """Where one run of a job writes its result. Another run writes elsewhere, so neither spoils the other's."""
    return folder() / f"{job.file}-{job.run}{PART}"


def keep(job: Job) -> int:
    """Puts what was written in its place, on the disk for certain, and gives its size in bytes."""
    part = part_of(job)
    with part.open("rb+") as file:
        os.fsync(file.fileno())
        size = file.seek(0, os.SEEK_END)
    part.replace(path_of(job))
    return size


def clear_parts(job: Job) -> None:
    """Removes what runs of a job left that were broken off."""
    for part in folder().glob(f"{job.file}-*{PART}"):
        # On Windows a file that somebody still writes stays; it goes by its age.
        with suppress(OSError):
            part.unlink()


def removed_after() -> timedelta:
    """How long a result is kept."""
    return timedelta(days=settings.LONG_WORK_KEPT_DAYS)


def forget_old() -> int:
    """Removes the rows of jobs that ended longer ago than they are listed and whose result is gone; gives how many.

    No fact is lost: what a job made can be made again from the books at any time.
    """
    listed = max(timedelta(days=settings.LONG_WORK_LISTED_DAYS), removed_after())
    ended = Job.objects.exclude(state__in=OPEN).filter(ended_at__lt=timezone.now() - listed)
    old = ended.filter(Q(removed_at__isnull=False) | Q(file_bytes=0))
    # Asked first, since to remove nothing would still wait for whoever writes.
    return old.delete()[0] if old.exists() else 0


def remove_old() -> int:
    """Removes results past their time, and whatever broken-off runs left; gives how many results were removed."""
    now = timezone.now()
    old = Job.objects.filter(state=JobState.DONE, ended_at__lt=now - removed_after(), removed_at=None, file_bytes__gt=0)
    removed = 0
    for job in old:
        path_of(job).unlink(missing_ok=True)
        removed += Job.objects.filter(pk=job.pk, removed_at=None).update(removed_at=now)
    # The folder may serve several databases, so files go by their age alone, and never one still written to.
    before = (now - removed_after()).timestamp()
    for path in folder().iterdir():
        if path.is_file() and path.stat().st_mtime < before:
            path.unlink(missing_ok=True)
    return removed
