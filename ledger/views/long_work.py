"""Long work on pages: a list, and one job with how far it has come, its result, and the ways to end or repeat it."""

from __future__ import annotations

from typing import Any, Final

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import FileResponse, HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from distillery.figures import count, day, moment, number
from distillery.jobs import asking, beside
from distillery.jobs.files import path_of, removed_after
from distillery.jobs.kinds import UnknownKind, kind_of, name_of
from distillery.jobs.models import Job, JobState
from distillery.jobs.starting import start
from distillery.lists.showing import listed
from distillery.pages import Fact
from distillery.people.models import Person
from ledger.views.lists.long_work import LongWorkTable, asked_by, state_of
from ledger.views.ways import books_places

BYTES_A_MEGABYTE: Final = 1_000_000
NOT_YOURS: Final = "This was asked for by someone else. Whoever asked, a manager or an administrator can open it."


def long_work(request: HttpRequest) -> HttpResponseBase:
    """What the person may see of it."""
    person = request.user
    assert isinstance(person, Person)
    start()
    found = listed(request, LongWorkTable, asking.seen_by(person))
    return found.file or render(request, "ledger/long_work.html", {**_books(), "jobs": found.table})


def job_page(request: HttpRequest, number: int) -> HttpResponseBase:
    """One job. Whoever looks takes up what was left."""
    job = _job(request, number)
    if job.is_open:
        start()
        as_told(job)
    there = job.has_file and path_of(job).exists()
    shown = {
        **_books(),
        "job": job,
        "name": name_of(job.kind),
        "state": state_of(job),
        "facts": _facts(job, there),
        "is_going_on": job.state == JobState.GOING_ON,
        "said": how_far(job),
        "sentence": _sentence(job, there),
        "has_result": there,
        "may_ask_again": not job.is_open and not there and (job.state != JobState.DONE or bool(job.file_name)),
    }
    return render(request, "ledger/job.html", shown)


@require_POST
def job_give_up(request: HttpRequest, number: int) -> HttpResponseBase:
    """Gives it up. What was written in the books by then stays."""
    job = _job(request, number)
    if asking.give_up(job):
        messages.success(request, "It is given up. It can be done again from here.")
    else:
        messages.warning(request, "It had ended before it could be given up.")
    return redirect("job", job.pk)


@require_POST
def job_again(request: HttpRequest, number: int) -> HttpResponseBase:
    """Does it once more from the beginning."""
    job = _job(request, number)
    if asking.ask_again(job):
        start()
    else:
        messages.warning(request, "It is asked for already, or its result is still here.")
    return redirect("job", job.pk)


def job_result(request: HttpRequest, number: int) -> HttpResponseBase:
    """The file it made; its page, which says why, where there is none."""
    job = _job(request, number)
    if not job.has_file or not path_of(job).exists():
        return redirect("job", job.pk)
    return FileResponse(path_of(job).open("rb"), as_attachment=True, filename=job.file_name)


def _job(request: HttpRequest, number: int) -> Job:
    job = get_object_or_404(Job.objects.select_related("asked_by"), pk=number)
    person = request.user
    if not isinstance(person, Person) or not asking.may_see(job, person):
        raise PermissionDenied(NOT_YOURS)
    return job


def _books() -> dict[str, Any]:
    return {"area": "books", "density": "paper", "places": books_places("long_work")}


def _facts(job: Job, there: bool) -> list[Fact]:
    facts = [
        Fact("Asked by", asked_by(job)),
        Fact("Asked", moment(job.asked_at, year=True)),
        Fact("State", "Done" if job.state == JobState.DONE else "", state=state_of(job)),
    ]
    if job.begun_at is not None:
        facts.append(Fact("Begun", moment(job.begun_at, year=True)))
    if job.ended_at is not None:
        facts.append(Fact("Ended", moment(job.ended_at, year=True)))
    if there and job.ended_at is not None:
        facts.append(Fact("Size", number(job.file_bytes / BYTES_A_MEGABYTE, 1), unit="MB"))
        facts.append(Fact("Kept until", day(job.ended_at + removed_after(), year=True)))
    return facts


def as_told(job: Job) -> None:
    """Brings a job that goes on to what it told beside the books, where it holds them."""
    told = beside.heard(job) if job.state == JobState.GOING_ON else None
    if told is not None:
        job.said, job.done, job.total = told.said, told.done, told.total


def how_far(job: Job) -> str:
    """How far it has come, read aloud whenever it changes."""
    if job.state == JobState.WAITING:
        return "It waits for its turn. One piece of long work is done at a time."
    return f"{job.said or 'It has begun'}."


def _sentence(job: Job, there: bool) -> str:
    """What is to be known beside how far it has come; '' where there is nothing."""
    if job.state == JobState.FAILED:
        return job.fault
    if job.removed_at is not None:
        days = count(removed_after().days)
        return f"Its result was removed on {day(job.removed_at, year=True)}: results are kept for {days} days."
    if job.has_file and not there:
        return "Its result is no longer in the site's folder. Do it again to have it anew."
    if job.broken_off and job.is_open:
        try:
            return f"Its process ended without a word. {kind_of(job.kind).begun_again}"
        except UnknownKind:
            return "Its process ended without a word."
    return ""
