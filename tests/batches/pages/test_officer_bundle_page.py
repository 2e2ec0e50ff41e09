"""Asking for the officer's bundle on its page: who may, which months, and the archive that long work makes of it."""

from __future__ import annotations

import io
import zipfile

import pytest
from django.urls import reverse

from batches.pages.bundle import views
from batches.pages.bundle.chosen import EVERY
from batches.pages.bundle.long_work import BUNDLE_CODE
from distillery.jobs import asking
from distillery.jobs.models import Job, JobState
from distillery.jobs.working import work_off

pytestmark = pytest.mark.django_db
ASKED = {"first": "2027-03", "last": "2027-03"}


class _Still:
    """Nothing is written down meanwhile: a test's transaction is seen by no other thread."""

    def __init__(self, progress: object) -> None:
        pass

    def __enter__(self) -> None:
        pass

    def __exit__(self, *error: object) -> None:
        pass


@pytest.fixture(autouse=True)
def starts(monkeypatch) -> list[bool]:
    looked: list[bool] = []
    monkeypatch.setattr(views, "start", lambda: looked.append(True))
    return looked


def test_books_without_anything_have_nothing_to_bundle(officer, browser_of):
    page = browser_of(officer).get(reverse("officer_bundle")).content.decode()
    assert "Nothing has happened in the books yet" in page
    assert "Make the bundle" not in page


@pytest.mark.parametrize(
    ("role", "status"), [("officer", 200), ("manager", 200), ("administrator", 200), ("staff", 403)]
)
def test_who_may_ask(role, status, request, browser_of):
    assert browser_of(request.getfixturevalue(role)).get(reverse("officer_bundle")).status_code == status


@pytest.mark.usefixtures("small_books")
class TestAsking:
    def test_an_officer_asks_and_saves_the_archive(self, officer, browser_of, starts) -> None:
        browser = browser_of(officer)
        page = browser.get(reverse("officer_bundle")).content.decode()
        assert '<option value="2027-04" selected>April 2027</option>' in page
        asked = browser.post(reverse("officer_bundle"), ASKED)
        job = Job.objects.get(kind=BUNDLE_CODE)
        assert (asked.url, job.asked_by, starts) == (reverse("job", args=[job.pk]), officer, [True])
        assert browser.post(reverse("officer_bundle"), ASKED).url == asked.url
        [done] = work_off(beats=_Still)
        assert (done.state, done.file_name) == (JobState.DONE, "officer-bundle-2027-03-to-2027-03.zip")
        assert f"Save {done.file_name}" in browser.get(asked.url).content.decode()
        saved = b"".join(browser.get(reverse("job_result", args=[job.pk])).streaming_content)
        with zipfile.ZipFile(io.BytesIO(saved)) as archive:
            assert archive.testzip() is None
            names = {name.partition("/")[2] for name in archive.namelist()}
        assert {"bundle.pdf", "documents.jsonl", "pages.csv", "verify_export.py", "verify_pages.py"} <= names

    def test_parts_are_chosen_by_their_ticks(self, officer, browser_of) -> None:
        page = browser_of(officer).get(reverse("officer_bundle")).content.decode()
        assert page.count('type="checkbox"') == page.count(" checked") == len(EVERY)
        browser_of(officer).post(reverse("officer_bundle"), ASKED | {"parts": ["stock", "accounts"]})
        [done] = work_off(beats=_Still)
        assert done.file_name == "officer-bundle-2027-03-to-2027-03-parts-1-2.zip"

    def test_a_first_month_after_the_last_is_said_beside_the_box(self, officer, browser_of) -> None:
        answer = browser_of(officer).post(reverse("officer_bundle"), {"first": "2027-04", "last": "2027-03"})
        page = answer.content.decode()
        assert "the first month comes after the last" in page
        assert '<option value="2027-04" selected>' in page
        assert not Job.objects.filter(kind=BUNDLE_CODE).exists()

    def test_months_that_this_version_cannot_bundle_end_the_job_with_a_sentence(self, officer) -> None:
        asking.ask(BUNDLE_CODE, {"first": "2027-12", "last": "2027-12"}, by=officer)
        [done] = work_off(beats=_Still)
        assert (done.state, done.fault) == (
            JobState.FAILED,
            "December 2027 is still to come; ask for months up to this one.",
        )
