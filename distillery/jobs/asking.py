"""Asking for long work, giving it up, asking again, and who may see which."""

from __future__ import annotations

import json
import secrets
from collections.abc import Mapping
from typing import Any

from django.db.models import Q, QuerySet
from django.utils import timezone

from distillery.database.retrying import retried
from distillery.jobs.files import path_of
from distillery.jobs.kinds import kind_of
from distillery.jobs.models import OPEN, Job, JobState
from distillery.people.models import Person
from distillery.people.roles import ADMINISTRATOR, MANAGER, holds

# They see what everybody asked for, and what the program asked for by itself.
SEE_ALL = frozenset({MANAGER, ADMINISTRATOR})


@retried
def ask(kind: str, arguments: Mapping[str, Any] | None = None, *, by: Person | None = None) -> Job:
    """Notes that a job is to be done, for a person, or for the program itself. The same asked for twice is one while it
    is open. Raises UnknownKind, Busy.
    """
    kind_of(kind)
    text = json.dumps(arguments or {}, sort_keys=True)
    there = Job.objects.filter(kind=kind, arguments=text, asked_by=by, state__in=OPEN).first()
    return there or Job.objects.create(
        kind=kind, arguments=text, asked_by=by, asked_at=timezone.now(), file=secrets.token_hex(16)
    )


@retried
def give_up(job: Job) -> bool:
    """Gives up a job that waits or goes on; False where it has ended meanwhile. Its process stops at its next word."""
    given_up = Job.objects.filter(pk=job.pk, state__in=OPEN).update(
        state=JobState.GIVEN_UP, ended_at=timezone.now(), process=None
    )
    return bool(given_up)


@retried
def ask_again(job: Job) -> bool:
    """Lets a job wait anew that failed, was given up, or whose result is gone; False where it does so already."""
    lost = job.has_file and not path_of(job).exists()
    may_be = Q(state__in=(JobState.FAILED, JobState.GIVEN_UP)) | Q(state=JobState.DONE, removed_at__isnull=False)
    asked = Job.objects.filter(may_be | Q(state=JobState.DONE) if lost else may_be, pk=job.pk).update(
        state=JobState.WAITING,
        broken_off=0,
        begun_at=None,
        alive_at=None,
        ended_at=None,
        removed_at=None,
        process=None,
        said="",
        fault="",
        file_name="",
        file_bytes=0,
        done=0,
        total=0,
    )
    return bool(asked)


def seen_by(person: Person) -> QuerySet[Job]:
    """The jobs a person may see: managers and administrators all, others those they asked for."""
    jobs = Job.objects.select_related("asked_by")
    return jobs if holds(person, SEE_ALL) else jobs.filter(asked_by=person)


def may_see(job: Job, person: Person) -> bool:
    """True where a person may see a job, give it up and ask for it again."""
    return job.asked_by_id == person.pk or holds(person, SEE_ALL)
