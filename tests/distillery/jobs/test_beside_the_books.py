"""A job that holds the books tells how far it is beside them, and counts as alive by it."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.utils import timezone

from distillery.jobs import beside
from distillery.jobs.claiming import is_left
from distillery.jobs.models import Job, JobState
from distillery.jobs.progress import Progress
from ledger.views.long_work import as_told

pytestmark = pytest.mark.django_db


@pytest.fixture
def job(settings, tmp_path) -> Job:
    settings.LONG_WORK_FOLDER = tmp_path
    long_ago = timezone.now() - timedelta(minutes=5)
    return Job.objects.create(
        kind="try_workbook",
        asked_at=long_ago,
        file="a" * 32,
        state=JobState.GOING_ON,
        run=2,
        alive_at=long_ago,
        machine="another",
    )


def test_silent_in_the_books_and_heard_beside_them(job):
    assert is_left(job, timezone.now())
    beside.tell(job, "40 of 100 entries", 40, 100)
    assert not is_left(job, timezone.now())
    as_told(job)
    assert (job.said, job.done, job.total) == ("40 of 100 entries", 40, 100)
    beside.hush(job)
    assert is_left(job, timezone.now())


def test_another_run_is_not_taken_for_this_one(job):
    beside.tell(job, "begun", 0, 0)
    job.run = 3
    assert beside.heard(job) is None


def test_what_was_half_written_is_not_heard(job, tmp_path):
    (tmp_path / f"{'a' * 32}-2.said").write_text('["40 of', encoding="utf-8")
    assert beside.heard(job) is None


def test_progress_goes_where_it_waits_for_nobody(job):
    progress = Progress(job)
    with progress.holding_the_books():
        progress.tell("7 of 9 entries", 7, 9)
        progress.write_down()
        told = beside.heard(job)
        on_sqlite = connection.vendor == "sqlite"
        assert (told is not None) == on_sqlite
    assert beside.heard(job) is None
    progress.write_down()
    job.refresh_from_db()
    assert (job.said, job.done, job.total) == ("7 of 9 entries", 7, 9)
