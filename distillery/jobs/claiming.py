"""Taking a job for one process, so that no two do the same, and telling which jobs nobody does any more."""

from __future__ import annotations

import os
import platform
from datetime import datetime, timedelta
from typing import Any, Final

from django.db import IntegrityError, transaction
from django.db.models import F, QuerySet
from django.utils import timezone

from distillery.database.retrying import retried
from distillery.jobs import beside
from distillery.jobs.models import Job, JobState

# A busy SQLite database keeps a sign of life waiting for at most 20 s; three times that is no hurry.
SILENT_FOR: Final = timedelta(seconds=60)
# What ends its process every time would take it again for ever.
MOST_BROKEN_OFF: Final = 5
BROKEN_OFF_TOO_OFTEN: Final = (
    f"Its process ended without a word {MOST_BROKEN_OFF} times. The computer may be short of memory."
)


def this_machine() -> str:
    """What this computer is called."""
    return platform.node()[:255]


def is_left(job: Job, now: datetime) -> bool:
    """True where the process of a job that goes on is gone, or has not given a sign of life for a minute."""
    told = beside.heard(job)
    alive = [at for at in (job.alive_at, told.at if told is not None else None) if at is not None]
    if not alive or max(alive) < now - SILENT_FOR:
        return True
    return job.machine == this_machine() and job.process is not None and not _runs(job.process)


def anything_to_do() -> bool:
    """True where a job waits and none goes on, or one goes on that nobody does any more."""
    now = timezone.now()
    going_on = list(Job.objects.filter(state=JobState.GOING_ON))
    if going_on:
        return any(is_left(job, now) for job in going_on)
    return Job.objects.filter(state=JobState.WAITING).exists()


@retried
def claim() -> Job | None:
    """Takes the job that was left, else the one that has waited longest, for this process; None where there is none, or
    another process is at work. Raises Busy.
    """
    for job in Job.objects.filter(state=JobState.GOING_ON):
        if not is_left(job, timezone.now()):
            return None
        if job.broken_off + 1 >= MOST_BROKEN_OFF:
            _own(job).update(
                state=JobState.FAILED,
                broken_off=F("broken_off") + 1,
                ended_at=timezone.now(),
                fault=BROKEN_OFF_TOO_OFTEN,
            )
        elif _own(job).update(**_mine(), broken_off=F("broken_off") + 1):
            return Job.objects.get(pk=job.pk)
        else:
            return None
    for job in Job.objects.filter(state=JobState.WAITING).order_by("pk"):
        try:
            with transaction.atomic():
                taken = _own(job).update(**_mine(), begun_at=timezone.now())
        except IntegrityError:
            # Another process began one meanwhile.
            return None
        if taken:
            return Job.objects.get(pk=job.pk)
    return None


def _own(job: Job) -> QuerySet[Job]:
    """The row, as long as it stands as it was read."""
    return Job.objects.filter(pk=job.pk, run=job.run, state=job.state)


def _mine() -> dict[str, Any]:
    return {
        "state": JobState.GOING_ON,
        "run": F("run") + 1,
        "process": os.getpid(),
        "machine": this_machine(),
        "alive_at": timezone.now(),
    }


def _runs(process: int) -> bool:
    """False for a process that is gone. On Windows nothing can be asked without ending it, so silence decides."""
    if os.name == "nt":
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True
