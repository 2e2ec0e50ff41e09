"""The pages of a workbook: who may, what is refused beside the box, what is shown before and after it is brought in."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from batches.loading.workbook import long_work
from batches.models import Version
from batches.pages.bringing import views
from distillery.jobs.files import path_of
from distillery.jobs.models import Job, JobState
from distillery.jobs.working import work_off
from distillery.plant.models import Vessel
from tests.batches.workbook.test_forty_mistakes import filled

pytestmark = pytest.mark.django_db


class _Still:
    """Nothing is written down meanwhile: a test's transaction is seen by no other thread."""

    def __init__(self, progress) -> None:
        pass

    def __enter__(self) -> None:
        pass

    def __exit__(self, *error: object) -> None:
        pass


@pytest.fixture
def page(browser_of, manager, settings, tmp_path):
    settings.LONG_WORK_FOLDER = tmp_path / "long-work"
    return browser_of(manager)


def sent(page, path, name: str = "harrowmere.xlsx"):
    return page.post(reverse("bring_in"), {"workbook": SimpleUploadedFile(name, path.read_bytes())}, follow=True)


@pytest.fixture
def workbook(tmp_path):
    path = tmp_path / "site.xlsx"
    filled(path).save(path)
    return path


def test_chosen_looked_at_and_brought_in(page, workbook, manager):
    answer = sent(page, workbook)
    job = Job.objects.get()
    assert answer.redirect_chain == [(reverse("bring_in_job", args=[job.pk]), 302)]
    assert "It waits for its turn" in answer.content.decode()
    list(work_off(beats=_Still))
    looked = page.get(reverse("bring_in_job", args=[job.pk])).content.decode()
    assert "Bring 17 rows in" in looked
    assert "2022/0001" in looked
    assert not Vessel.objects.exists()
    csv = b"".join(page.get(reverse("bring_in_job", args=[job.pk]), {"rows-as": "csv"}).streaming_content).decode()
    assert len(csv.splitlines()) == 18
    page.post(reverse("bring_in_write", args=[job.pk]))
    [written] = work_off(beats=_Still)
    assert (written.state, written.fault) == (JobState.DONE, "")
    assert "It is brought in." in page.get(reverse("bring_in_job", args=[written.pk])).content.decode()
    assert {one.person for one in Version.objects.all()} == {manager}
    # The same workbook once more has nothing new, and no button.
    sent(page, workbook)
    [again] = work_off(beats=_Still)
    shown = page.get(reverse("bring_in_job", args=[again.pk])).content.decode()
    assert "There is nothing new in this workbook" in shown
    assert f"bring-in/{again.pk}/write" not in shown


def test_problems_are_listed_and_nothing_can_be_written(page, tmp_path):
    path = tmp_path / "site.xlsx"
    book = filled(path)
    book["Casks"]["I3"] = "=200+23.4"
    book["Vessels"]["D3"] = "bath"
    book.save(path)
    sent(page, path)
    [job] = work_off(beats=_Still)
    shown = page.get(reverse("bring_in_job", args=[job.pk])).content.decode()
    assert "I3" in shown
    assert "This cell holds a formula." in shown
    assert "Kind is &#x27;bath&#x27;" in shown
    page.post(reverse("bring_in_write", args=[job.pk]))
    assert Job.objects.count() == 1
    assert not Vessel.objects.exists()


@pytest.mark.parametrize(
    ("name", "content", "sentence"),
    [
        ("none.xlsx", b"", views.NOT_CHOSEN),
        ("list.csv", b"vessel,dip\n", views.NOT_A_WORKBOOK),
    ],
)
def test_what_is_no_workbook_is_refused_beside_the_box(page, tmp_path, name, content, sentence):
    path = tmp_path / name
    path.write_bytes(content)
    answer = sent(page, path, name)
    assert answer.status_code == 400
    assert answer.content.decode().count(sentence) == 2
    assert not Job.objects.exists()


def test_one_that_is_too_large_is_not_kept(page, workbook, monkeypatch):
    monkeypatch.setattr(views, "MOST_BYTES", 100)
    assert sent(page, workbook).status_code == 400
    assert not Job.objects.exists()


def test_a_workbook_that_was_exchanged_meanwhile_is_not_brought_in(page, workbook, settings):
    sent(page, workbook)
    [kept] = settings.LONG_WORK_FOLDER.glob("*.xlsx")
    kept.write_bytes(kept.read_bytes() + b" ")
    [job] = work_off(beats=_Still)
    assert job.fault == long_work.GONE
    assert "Choose it again" in page.get(reverse("bring_in_job", args=[job.pk])).content.decode()


def test_a_result_that_is_no_longer_kept_says_so(page, workbook):
    sent(page, workbook)
    [job] = work_off(beats=_Still)
    path_of(job).unlink()
    assert "is no longer kept" in page.get(reverse("bring_in_job", args=[job.pk])).content.decode()


def test_only_a_manager_may(browser_of, staff, officer, administrator, settings, tmp_path, workbook):
    settings.LONG_WORK_FOLDER = tmp_path / "long-work"
    for person in (staff, officer, administrator):
        here = browser_of(person)
        for name in ("bring_in", "bring_in_template"):
            assert here.get(reverse(name)).status_code == 403
        assert sent(here, workbook).status_code == 403


def test_the_empty_workbook_is_there_to_save(page):
    answer = page.get(reverse("bring_in_template"))
    assert b"".join(answer.streaming_content).startswith(b"PK")
    assert "site to bring in.xlsx" in answer["Content-Disposition"] or "site%20to" in answer["Content-Disposition"]


def test_another_kind_of_job_has_no_page_here(page):
    from distillery.jobs import asking

    job = asking.ask("export", {"movements": 1, "seal": ""})
    assert page.get(reverse("bring_in_job", args=[job.pk])).status_code == 404
