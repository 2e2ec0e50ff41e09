"""Long work on pages: asking for an export of large books, one job in each of its states, and who may see which."""

from __future__ import annotations

import io
import zipfile
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from distillery.clock.reading import site_day
from distillery.figures import day
from distillery.jobs import asking, starting
from distillery.jobs.files import path_of
from distillery.jobs.models import Job, JobState
from distillery.jobs.working import FAULT, work_off
from ledger.enquiries import following
from ledger.kept.models import CATCH_UP_CODE, Uncompared
from ledger.models import Head
from ledger.views.proof import exports

pytestmark = pytest.mark.django_db


class _Still:
    """Nothing is written down meanwhile: a test's transaction is seen by no other thread."""

    def __init__(self, progress) -> None:
        pass

    def __enter__(self) -> None:
        pass

    def __exit__(self, *error: object) -> None:
        pass


def worked_off() -> list[Job]:
    return list(work_off(beats=_Still))


def text_of(answer) -> str:
    assert answer.status_code == 200
    return answer.content.decode()


def an_export(person, **more: object) -> Job:
    job = asking.ask("export", {"movements": 3, "seal": "0" * 64}, by=person)
    Job.objects.filter(pk=job.pk).update(**more)
    job.refresh_from_db()
    return job


@pytest.fixture
def starts(monkeypatch) -> list[bool]:
    """How often a page looked whether a process is to be started."""
    looked: list[bool] = []
    for place in ("ledger.views.long_work.start", "ledger.views.proof.exports.start"):
        monkeypatch.setattr(place, lambda: looked.append(True))
    return looked


class TestAnExportOfLargeBooks:
    @pytest.fixture(autouse=True)
    def _large(self, monkeypatch, small_books) -> None:
        monkeypatch.setattr(exports, "MOST_AT_ONCE", 3)

    def test_is_asked_for_made_and_saved(self, officer, browser_of, starts) -> None:
        browser = browser_of(officer)
        page = text_of(browser.get(reverse("export")))
        assert "Make the export" in page
        assert reverse("export_zip") not in page
        asked = browser.post(reverse("export"))
        job = Job.objects.get()
        assert asked.url == reverse("job", args=[job.pk])
        assert (job.asked_by, job.state, len(starts)) == (officer, JobState.WAITING, 1)
        page = text_of(browser.get(asked.url))
        assert "It waits for its turn." in page
        assert '<noscript><meta http-equiv="refresh" content="5"></noscript>' in page
        assert 'role="status"' in page
        head = Head.objects.get(pk=1)
        [done] = worked_off()
        assert done.state == JobState.DONE
        page = text_of(browser.get(asked.url))
        name = f"ledger-{head.last_number}-{head.last_seal[:8]}.zip"
        assert f"Save {name}" in page
        assert "refresh" not in page
        assert "Give up" not in page
        answer = browser.get(reverse("job_result", args=[job.pk]))
        assert f'filename="{name}"' in answer["Content-Disposition"]
        with zipfile.ZipFile(io.BytesIO(b"".join(answer.streaming_content))) as archive:
            assert archive.testzip() is None
            lines = archive.read(f"{name.removesuffix('.zip')}/movements.jsonl").splitlines()
        assert len(lines) == head.last_number

    def test_is_one_however_often_it_is_asked_for(self, manager, browser_of, starts) -> None:
        browser = browser_of(manager)
        assert browser.post(reverse("export")).url == browser.post(reverse("export")).url
        assert Job.objects.count() == 1

    def test_is_the_same_as_one_sent_at_once(self, manager, browser_of, starts, monkeypatch) -> None:
        browser = browser_of(manager)
        browser.post(reverse("export"))
        [job] = worked_off()
        monkeypatch.setattr(exports, "MOST_AT_ONCE", 1_000_000)
        sent = io.BytesIO(b"".join(browser.get(reverse("export_zip")).streaming_content))
        with zipfile.ZipFile(path_of(job)) as made, zipfile.ZipFile(sent) as at_once:
            assert made.namelist() == at_once.namelist()
            assert all(made.read(name) == at_once.read(name) for name in made.namelist())

    def test_is_not_made_while_it_is_asked_for_by_its_old_address(self, manager, browser_of, starts) -> None:
        answer = browser_of(manager).get(reverse("export_zip"))
        assert (answer.status_code, answer.url) == (302, reverse("export"))
        assert not Job.objects.exists()

    def test_is_not_for_the_shift(self, staff, browser_of) -> None:
        assert browser_of(staff).post(reverse("export")).status_code == 403
        assert not Job.objects.exists()


class TestAJobOnItsPage:
    def test_says_how_far_it_has_come_and_can_be_given_up(self, manager, browser_of) -> None:
        job = an_export(
            manager, state=JobState.GOING_ON, run=1, done=2, total=18, said="Writing legs.csv", begun_at=timezone.now()
        )
        browser = browser_of(manager)
        page = text_of(browser.get(reverse("job", args=[job.pk])))
        assert "Writing legs.csv." in page
        assert 'max="18" value="2"' in page
        assert browser.get(reverse("job_give_up", args=[job.pk])).status_code == 405
        page = text_of(browser.post(reverse("job_give_up", args=[job.pk]), follow=True))
        assert "It is given up. It can be done again from here." in page
        assert "Do it again" in page
        job.refresh_from_db()
        assert job.state == JobState.GIVEN_UP
        page = text_of(browser.post(reverse("job_give_up", args=[job.pk]), follow=True))
        assert "It had ended before it could be given up." in page

    def test_says_that_it_was_taken_up(self, manager, browser_of) -> None:
        job = an_export(manager, state=JobState.GOING_ON, run=2, broken_off=1)
        assert "Its process ended without a word. It was begun again from the first file" in text_of(
            browser_of(manager).get(reverse("job", args=[job.pk]))
        )

    def test_says_why_it_failed_and_can_be_done_again(self, manager, browser_of, starts) -> None:
        job = an_export(manager, state=JobState.FAILED, run=1, fault=FAULT, ended_at=timezone.now())
        browser = browser_of(manager)
        assert FAULT in text_of(browser.get(reverse("job", args=[job.pk])))
        assert starts == []
        page = text_of(browser.post(reverse("job_again", args=[job.pk]), follow=True))
        assert "It waits for its turn." in page
        job.refresh_from_db()
        assert (job.state, job.fault) == (JobState.WAITING, "")
        assert "It is asked for already" in text_of(browser.post(reverse("job_again", args=[job.pk]), follow=True))

    def test_says_when_its_result_was_removed(self, manager, browser_of, settings) -> None:
        removed = timezone.now() - timedelta(days=2)
        job = an_export(
            manager, state=JobState.DONE, file_name="ledger.zip", file_bytes=3, ended_at=removed, removed_at=removed
        )
        browser = browser_of(manager)
        page = text_of(browser.get(reverse("job", args=[job.pk])))
        said = f"Its result was removed on {day(site_day(removed), year=True)}: results are kept for 7 days."
        assert said in page
        assert "Do it again" in page
        assert browser.get(reverse("job_result", args=[job.pk])).url == reverse("job", args=[job.pk])

    def test_says_that_its_result_is_gone_from_the_folder(self, manager, browser_of) -> None:
        job = an_export(
            manager, state=JobState.DONE, file_name="ledger.zip", file_bytes=3, ended_at=timezone.now(), run=1
        )
        page = text_of(browser_of(manager).get(reverse("job", args=[job.pk])))
        assert "no longer in the site's folder" in page.replace("&#x27;", "'")
        assert "Save ledger.zip" not in page

    def test_of_another_version_is_shown_by_its_code(self, manager, browser_of) -> None:
        job = an_export(manager, kind="of tomorrow", broken_off=1)
        assert "<h1>Of tomorrow</h1>" in text_of(browser_of(manager).get(reverse("job", args=[job.pk])))


class TestWhoMaySee:
    @pytest.mark.parametrize(("way", "method"), [("job", "get"), ("job_result", "get")] + [
        (way, "post") for way in ("job_give_up", "job_again")
    ])  # fmt: skip
    def test_what_somebody_else_asked_for_is_refused(self, way, method, officer, staff, manager, browser_of) -> None:
        job = an_export(manager)
        for other in (officer, staff):
            answer = getattr(browser_of(other), method)(reverse(way, args=[job.pk]))
            assert answer.status_code == 403
            assert "This was asked for by someone else." in answer.content.decode()
        job.refresh_from_db()
        assert job.state == JobState.WAITING

    def test_managers_and_administrators_see_all_others_their_own(
        self, officer, staff, manager, administrator, browser_of
    ) -> None:
        its_own = asking.ask(CATCH_UP_CODE)
        asked = an_export(officer)
        for person in (manager, administrator):
            page = text_of(browser_of(person).get(reverse("long_work")))
            assert page.count("Export of the ledger") == 1
            assert page.count("Comparing figures") == 1
            assert "The program" in page
        page = text_of(browser_of(officer).get(reverse("long_work")))
        assert reverse("job", args=[asked.pk]) in page
        assert reverse("job", args=[its_own.pk]) not in page
        assert "No long work has been asked for." in text_of(browser_of(staff).get(reverse("long_work")))

    def test_a_stranger_signs_on_first(self, stranger, manager) -> None:
        job = an_export(manager)
        for address in (reverse("long_work"), reverse("job", args=[job.pk])):
            assert stranger.get(address).status_code == 302

    def test_a_job_that_never_was_is_no_page(self, manager, browser_of) -> None:
        assert browser_of(manager).get(reverse("job", args=[12345])).status_code == 404
        assert browser_of(manager).get("/books/long-work/99999999999999999999/").status_code == 404


class TestCatchingUp:
    @pytest.fixture
    def waiting(self, small_books) -> list[str]:
        periods = [f"2026-{month:02}" for month in range(1, 8)]
        for period in periods:
            Uncompared.objects.create(period=period, after="WR0001", at=timezone.now())
        return periods

    def test_many_periods_are_left_to_a_process_of_its_own(self, waiting, monkeypatch) -> None:
        started: list[bool] = []
        monkeypatch.setattr(starting, "may_start", lambda: True)
        monkeypatch.setattr(starting, "start", lambda: started.append(True))
        following.follow()
        following.follow()
        [job] = Job.objects.all()
        assert (job.kind, job.asked_by, len(started)) == (CATCH_UP_CODE, None, 2)
        assert Uncompared.objects.count() == len(waiting)
        [done] = worked_off()
        assert (done.state, done.said, done.file_name) == (JobState.DONE, "", "")
        assert not Uncompared.objects.exists()

    def test_a_handful_is_compared_at_once(self, waiting, monkeypatch) -> None:
        monkeypatch.setattr(starting, "may_start", lambda: True)
        Uncompared.objects.filter(period__in=waiting[following.HANDFUL :]).delete()
        following.follow()
        assert not Job.objects.exists()
        assert not Uncompared.objects.exists()

    def test_a_command_compares_however_many_there_are(self, waiting) -> None:
        following.follow()
        assert not Job.objects.exists()
        assert not Uncompared.objects.exists()

    def test_what_cannot_be_compared_does_not_keep_it_going(self, waiting, monkeypatch) -> None:
        rounds: list[int] = []
        monkeypatch.setattr(following, "catch_up", lambda tell: rounds.append(1))
        asking.ask(CATCH_UP_CODE)
        [done] = worked_off()
        assert (done.state, len(rounds)) == (JobState.DONE, 1)
