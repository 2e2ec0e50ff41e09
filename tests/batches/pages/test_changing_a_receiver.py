"""A receiver is changed from the page of a run: its button leads to the sheet of the change, and what follows."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from small_site import FINISH, charged_run

from batches.models import Record, State
from batches.pages.records.blank_sheets import blank_sheet_pdf
from batches.pages.records.printed import record_pdf
from batches.pages.records.shown import RecordAsWritten
from batches.records import recording
from batches.sheets.register import sheet_of
from distillery.clock.reading import books_now, offset_days

pytestmark = pytest.mark.django_db
CHANGE = {
    "spirit_receiver_changed_at": "2027-03-03 08:30",
    "spirit_receiver_filled_dip_mm": "180",
    "spirit_receiver_filled_celsius": "18.0",
    "spirit_receiver_filled_hydrometer_percent": "70.9",
    "next_spirit_receiver": "V2",
    "next_spirit_receiver_before_dip_mm": "0",
    "next_spirit_receiver_before_celsius": "18.0",
}


@pytest.fixture
def clock() -> Iterator[None]:
    with time_machine.travel(datetime(2027, 3, 3, 9, 0, tzinfo=UTC) - timedelta(days=offset_days()), tick=False):
        yield


@pytest.fixture
def run(site, clock) -> Record:
    record = charged_run(site)
    return recording.save("spirit_run", record.number, {"spirit_on_at": FINISH["spirit_on_at"]}, person=site)


def text_of(page: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))


def test_the_button_leads_to_the_sheet_of_the_change_alone(site, run, browser_of):
    here = browser_of(site)
    running = f"/records/spirit_run/{run.number}/running/"
    assert 'href="?event=spirit_receiver_changed">Change spirit receiver</a>' in here.get(running).content.decode()
    answer = here.get(f"{running}?event=spirit_receiver_changed")
    assert answer["Location"] == f"/records/spirit_run/{run.number}/complete/?moment=spirit_receiver_changed"
    page = here.get(answer["Location"]).content.decode()
    assert f"Change of spirit receiver of {run.number}" in page
    # The time of the press, which may be written over; nothing of the finish.
    assert re.search(r'name="spirit_receiver_changed_at" value="09:00"', page)
    assert 'name="next_spirit_receiver_before_dip_mm"' in page
    assert 'name="ended_at"' not in page
    answer = here.post(answer["Location"], {**CHANGE, "version": "2"})
    assert answer["Location"] == running
    page = text_of(here.get(running).content.decode())
    assert "Into V2 so far" in page
    assert "Into SPR, gauged" in page
    assert "Change spirit receiver" not in page
    record = Record.objects.get(pk=run.pk)
    assert record.state == State.OPEN


def test_the_finish_gauges_the_one_that_took_its_place(site, run, browser_of):
    recording.save("spirit_run", run.number, CHANGE, person=site, sure=True)
    here = browser_of(site)
    address = f"/records/spirit_run/{run.number}/complete/"
    page = here.get(address).content.decode()
    assert "V2 of the tests</span>, after the run: dip, mm" in page
    # The feints receiver was not changed; that stands folded away.
    assert "Only if it happened: change of feints receiver" in page
    done = {**FINISH, "ended_at": "2027-03-03 08:55", "spirit_off_at": "2027-03-03 08:40", "spirit_after_dip_mm": "120"}
    here.post(address, {**done, "version": "3"})
    record = Record.objects.get(pk=run.pk)
    assert (record.state, record.happened_to and record.happened_to.hour) == (State.COMPLETE, 8)
    page = text_of(here.get(f"/records/spirit_run/{run.number}/").content.decode())
    assert "Spirit receiver when changed" in page
    assert "Next spirit receiver before" in page


def test_a_complete_run_asks_for_no_change_and_a_correction_offers_it(site, run, browser_of):
    done = {**FINISH, "ended_at": "2027-03-03 08:55", "spirit_off_at": "2027-03-03 08:40"}
    recording.save("spirit_run", run.number, done, person=site, sure=True)
    here = browser_of(site)
    page = here.get(f"/records/spirit_run/{run.number}/").content.decode()
    assert f"/records/spirit_run/{run.number}/complete/" not in page
    page = here.get(f"/records/spirit_run/{run.number}/correct/").content.decode()
    assert "Only if it happened: change of spirit receiver, change of feints receiver" in page
    assert 'name="spirit_receiver_changed_at"' in page


def test_it_stands_on_paper_filled_in_and_blank(site, run):
    recording.save("spirit_run", run.number, CHANGE, person=site, sure=True)
    written = RecordAsWritten(Record.objects.get(pk=run.pk), sheet_of("spirit_run"))
    assert record_pdf(written, printed_at=books_now(), printed_by="tests").startswith(b"%PDF")
    assert blank_sheet_pdf(sheet_of("spirit_run"), ["1"], printed_at=books_now(), printed_by="tests").startswith(
        b"%PDF"
    )


def test_a_next_receiver_far_from_its_book_is_asked_about(site, run, browser_of):
    here = browser_of(site)
    far = {**CHANGE, "next_spirit_receiver": "V1", "version": "2"}
    page = here.post(f"/records/spirit_run/{run.number}/complete/?moment=spirit_receiver_changed", far)
    assert "this gauge says 0.00 LPA in V1" in text_of(page.content.decode())
