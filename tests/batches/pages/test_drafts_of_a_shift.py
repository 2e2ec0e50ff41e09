"""What is typed on This shift, in a note or a handover and is not saved comes back; and who read it, on any sheet."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from drafted import attribute, box, leave_boxes, token_of
from small_site import charged_run

from batches.handover.models import Handover, Note
from batches.models import Reading, Record
from distillery.clock.reading import offset_days
from distillery.drafts.models import Draft

pytestmark = pytest.mark.django_db


@pytest.fixture
def run(site) -> Iterator[Record]:
    with time_machine.travel(datetime(2027, 3, 3, 9, 0, tzinfo=UTC) - timedelta(days=offset_days()), tick=False):
        yield charged_run(site)


def part(page: str, start: str) -> str:
    """One form of a page, from what stands in its tag."""
    found = re.search(rf"<form[^>]*{start}.*?</form>", page, re.DOTALL)
    assert found is not None
    return found[0]


def keep(here, form: str, **boxes: str) -> None:
    said = {"key": attribute(form, ""), "title": attribute(form, "-title"), "address": attribute(form, "-at")}
    answer = here.post("/drafts/keep/", said | {f"box:{name}": text for name, text in boxes.items()})
    assert answer.status_code == 200, answer.content


def test_the_figure_of_a_line_of_this_shift_comes_back_and_goes_once_it_is_saved(site, run, browser_of):
    here = browser_of(site)
    line = part(here.get("/").content.decode(), "running")
    leave_boxes(here, line, distillate_percent="71.2")
    line = part(here.get("/").content.decode(), "running")
    assert box(line, "distillate_percent") == "71.2"
    assert "Draft kept" in line
    # The page of the run has the same figure.
    page = here.get(f"/records/spirit_run/{run.number}/running/").content.decode()
    assert box(page, "distillate_percent") == "71.2"
    saved = {"at": "now", "distillate_percent": "71.2", "sending": token_of(line), "from": "shift"}
    saved |= {"draft": attribute(line, "")}
    assert here.post(f"/records/spirit_run/{run.number}/running/", saved)["Location"] == "/"
    assert Reading.objects.get(record=run, quantity="distillate_percent").value == "71.2"
    assert not Draft.objects.exists()


def test_a_draft_with_more_than_a_line_shows_stays_on_its_page(site, run, browser_of):
    here = browser_of(site)
    page = here.get(f"/records/spirit_run/{run.number}/running/").content.decode()
    leave_boxes(here, page, distillate_percent="71.2", celsius="15.9")
    assert box(part(here.get("/").content.decode(), "running"), "distillate_percent") == ""
    assert f"{run.number}, reading" in here.get("/").content.decode()


def test_a_note_half_written_on_this_shift_stands_there_and_on_the_page_of_notes(site, browser_of):
    here = browser_of(site)
    keep(here, part(here.get("/").content.decode(), "/notes/"), text="cooling water 9 deg")
    assert 'value="cooling water 9 deg"' in part(here.get("/").content.decode(), "/notes/")
    page = here.get("/notes/").content.decode()
    assert 'value="cooling water 9 deg"' in page
    assert "Draft kept" in page
    here.post("/notes/", {"text": "cooling water 9 degrees"})
    assert Note.objects.get().text == "cooling water 9 degrees"
    assert not Draft.objects.exists()


def test_a_handover_half_written_comes_back(site, browser_of):
    here = browser_of(site)
    page = here.get("/handover/new/").content.decode()
    keep(here, page[page.index("data-draft=") - 200 :], text="The low wines valve is stiff")
    assert "The low wines valve is stiff</textarea>" in here.get("/handover/new/").content.decode()
    here.post("/handover/new/", {"text": "The low wines valve is stiff; do not force it."})
    assert Handover.objects.count() == 1
    assert not Draft.objects.exists()


def test_who_read_it_comes_back_with_the_rest(site, run, browser_of):
    here = browser_of(site)
    for address, name in (
        (f"/records/spirit_run/{run.number}/running/", "distillate_percent"),
        (f"/records/spirit_run/{run.number}/complete/", "cut_on_percent"),
    ):
        leave_boxes(here, here.get(address).content.decode(), **{name: "71.2"}, read_by="Callum", late_reason="PC off")
        page = here.get(address).content.decode()
        assert box(page, "read_by") == "Callum"
        assert box(page, "late_reason") == "PC off"
        assert '<details class="read-by" open>' in page
