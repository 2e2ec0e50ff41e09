"""The page a run is worked from and This shift, on the small invented site; the books stand at the time a test says."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from small_site import CHARGE, FINISH, charged_run

from batches.models import Reading, Record, Version
from batches.records import recording
from batches.records.readings import add_readings, strike_reading
from batches.running.holding import what_holds
from distillery.clock.reading import books_now, offset_days
from distillery.plant.models import Kind, Stage, Vessel
from distillery.rules.setting.figures import set_usual_figure
from distillery.seals.writing import signed

pytestmark = pytest.mark.django_db


@pytest.fixture
def clock() -> Iterator[time_machine.Coordinates]:
    """The books stand at 09:00 of the day of the charge, three hours after it (06:00 of the site's clock is UTC)."""
    there = datetime(2027, 3, 3, 9, 0, tzinfo=UTC) - timedelta(days=offset_days())
    with time_machine.travel(there, tick=False) as moved:
        yield moved


@pytest.fixture
def run(site, clock) -> Record:
    return charged_run(site)


def address(record: Record) -> str:
    return f"/records/{record.kind}/{record.number}/running/"


def token(page: str) -> str:
    found = re.search(r'name="sending" value="([^"]+)"', page)
    assert found is not None
    return found[1]


def test_a_first_save_leads_to_the_page_and_a_finished_run_to_its_record(site, clock, browser_of):
    here = browser_of(site)
    answer = here.post("/records/spirit_run/new/", CHARGE)
    record = Record.objects.get(kind="spirit_run")
    assert answer["Location"] == address(record)
    page = here.get(address(record)).content.decode()
    assert '<span class="run-state">Foreshots</span>' in page
    assert f'href="{address(record).replace("running", "complete")}">Finish</a>' in page
    done = {**FINISH, "ended_at": "2027-03-03 08:55", "spirit_off_at": "2027-03-03 08:40"}
    answer = here.post(f"/records/spirit_run/{record.number}/complete/", {**done, "version": "1"})
    assert answer["Location"] == f"/records/spirit_run/{record.number}/"
    assert here.get(address(record))["Location"] == f"/records/spirit_run/{record.number}/"


def test_a_reading_is_written_once_and_the_boxes_stand_empty_and_focused(run, site, browser_of):
    here = browser_of(site)
    page = here.get(address(run)).content.decode()
    box = re.search(r'<input[^>]*name="distillate_percent"[^>]*>', page)
    assert box is not None
    assert "autofocus" in box[0]
    assert 'inputmode="decimal"' in box[0]
    assert "value=" not in box[0]
    sent = {"at": "now", "distillate_percent": "73.2", "celsius": "16.1", "sending": token(page)}
    assert here.post(address(run), sent)["Location"] == address(run)
    assert here.post(address(run), sent)["Location"] == address(run)
    assert list(Reading.objects.values_list("quantity", "value", "at")) == [
        ("distillate_percent", "73.2", books_now()),
        ("celsius", "16.1", books_now()),
    ]
    assert "Reading next 09:15" in here.get(address(run)).content.decode()


def test_what_is_wrong_with_a_reading_stands_at_its_box_and_what_was_typed_stays(run, site, browser_of):
    page = browser_of(site).post(address(run), {"at": "now", "distillate_percent": "170", "celsius": "16.1"})
    text = page.content.decode()
    assert 'value="170"' in text
    assert "Distillate, strength is 170; " in text
    assert not Reading.objects.exists()
    nothing = browser_of(site).post(address(run), {"at": "now"}).content.decode()
    assert "No reading is written; fill in at least one box." in nothing


def test_a_cut_takes_the_time_of_the_press_and_its_strength(run, site, browser_of, clock):
    here = browser_of(site)
    page = here.get(f"{address(run)}?event=spirit_on").content.decode()
    assert re.search(r'<input[^>]*name="spirit_on_at"[^>]*value="09:00"', page)
    assert "Cut made: Spirit on" in page
    clock.shift(120)
    sent = {"event": "spirit_on", "spirit_on_at": "09:00", "cut_on_percent": "74.1", "sending": token(page)}
    for _twice in range(2):
        assert here.post(address(run), sent)["Location"] == address(run)
    assert Version.objects.filter(record=run).count() == 2
    page = here.get(address(run)).content.decode()
    assert '<span class="run-state">Spirit on</span>' in page
    assert "2 min, since 09:00 at 74.1 %" in page
    assert "?event=spirit_off" in page
    assert "?event=spirit_on" not in page
    # What was written at the press stands in the fields that the sheet has always had, and Finish asks for the rest.
    rest = here.get(f"/records/spirit_run/{run.number}/complete/").content.decode()
    assert re.search(r'name="cut_on_percent"[^>]*value="74.1"', rest)


def test_a_second_person_does_not_write_over_a_cut(run, site, manager, browser_of):
    page = browser_of(site).get(f"{address(run)}?event=spirit_on").content.decode()
    first = {"event": "spirit_on", "spirit_on_at": "08:50", "cut_on_percent": "74.1"}
    browser_of(manager).post(address(run), first)
    answer = browser_of(site).post(address(run), {**first, "spirit_on_at": "08:55", "sending": token(page)})
    assert "Spirit on stands already: 08:50 74.1 %." in answer.content.decode()
    assert Version.objects.filter(record=run).count() == 2


def test_an_event_without_a_time_or_before_the_charge_is_refused(run, site, browser_of):
    here = browser_of(site)
    blank = here.post(address(run), {"event": "spirit_on", "spirit_on_at": "", "cut_on_percent": "74.1"})
    assert "Time is blank; say when it happened." in blank.content.decode()
    early = here.post(address(run), {"event": "spirit_on", "spirit_on_at": "2027-03-03 05:00"}).content.decode()
    assert "before charged at" in early
    assert here.post(address(run), {"event": "no such"}).status_code == 404
    assert Version.objects.filter(record=run).count() == 1


def test_a_stop_and_a_start_again_are_written_down_as_often_as_they_come(run, site, browser_of, clock):
    here = browser_of(site)
    for name, word in (("stop", "Stopped"), ("start_again", "Foreshots"), ("stop", "Stopped")):
        here.post(address(run), {"event": name, "at": "now"})
        assert f'<span class="run-state">{word}</span>' in here.get(address(run)).content.decode()
        clock.shift(600)
    assert list(Reading.objects.order_by("pk").values_list("value", flat=True)) == [
        "stopped",
        "started again",
        "stopped",
    ]


def test_readings_stand_newest_first_and_a_struck_one_with_its_reason(run, site, browser_of):
    now = books_now()
    add_readings(
        run, [(now - timedelta(minutes=after), "distillate_percent", f"{70 + after / 10}") for after in (30, 15)], site
    )
    strike_reading(Reading.objects.get(value="71.5"), person=site, reason="meniscus misread", value="71.0")
    page = browser_of(site).get(address(run)).content.decode()
    table = page[page.index('id="read-caption"') :]
    assert table.index("08:45") < table.index("08:30")
    assert '<del><span class="visually-hidden">struck </span>71.5</del>' in table
    assert re.search(r"a  71\.5 struck \d\d:\d\d: meniscus misread, ", table)


def test_an_officer_reads_and_cannot_write(run, officer, browser_of):
    here = browser_of(officer)
    for page in (here.get(address(run)), here.get("/")):
        text = page.content.decode()
        assert page.status_code == 200
        assert 'class="run-state">Foreshots<' in text
        assert "data-save" not in text
        assert "?event=" not in text
    assert here.post(address(run), {"at": "now", "distillate_percent": "73"}).status_code == 403
    assert not Reading.objects.exists()


def test_a_site_sets_how_often_it_reads_from_a_day_on(run, site, browser_of):
    page = browser_of(site).get(address(run)).content.decode()
    # Charged at 06:00, read every 15 minutes: one is due at 09:00.
    assert "Reading due 09:00" in page
    for from_day, minutes in ((date(2027, 3, 1), 40), (date(2027, 3, 4), 5)):
        set_usual_figure(
            name="time between readings, spirit run",
            from_day=from_day,
            expected=Decimal(minutes),
            spread=Decimal(5),
            source="the still house's own rule",
        )
    # Every 40 minutes: 06:40, 07:20, 08:00, 08:40, and the last of them is 20 minutes overdue.
    assert "Reading overdue since 08:40" in browser_of(site).get(address(run)).content.decode()


def test_a_line_of_this_shift_takes_a_reading_and_comes_back(run, site, browser_of):
    here = browser_of(site)
    page = here.get("/").content.decode()
    assert page.count('class="run-line') == 1
    assert "Missing" in page
    answer = here.post(address(run), {"at": "now", "distillate_percent": "73.2", "from": "shift"})
    assert answer["Location"] == "/"
    assert Reading.objects.get().value == "73.2"
    assert "next 09:15" in here.get("/").content.decode()
    # What is wrong is put right on the page of the run.
    wrong = here.post(address(run), {"at": "now", "distillate_percent": "x", "from": "shift"}).content.decode()
    assert "is not a figure" in wrong


def test_with_nothing_on_this_shift_says_what_to_do(site, clock, browser_of):
    page = browser_of(site).get("/").content.decode()
    assert "Nothing is due." in page
    assert "Nothing is on. Begin with the first sheet of the day's work below" in page
    for setting_up in ("Opening stock", "Cask in store at opening", "Opening bottled stock"):
        assert f">{setting_up}</a>" not in page
    order = ["Malt intake", "Mash", "Fermentation", "Wash run", "Spirit run"]
    assert sorted(order, key=lambda title: page.index(f">{title}</a>")) == order


def test_a_still_holds_its_charge_and_a_washback_without_a_record_nothing(run):
    held = what_holds(Vessel.objects.get(code="SS"))
    assert held is not None
    assert (held.record_number, held.said) == (run.number, "foreshots")
    assert held.pure_ul is not None
    assert held.pure_ul > 0
    assert what_holds(Vessel.objects.get(code="WB1")) is None


@signed("tests")
def another_still(code: str) -> None:
    Vessel.objects.create(code=code, name=code, kind=Kind.STILL, stage=Stage.LOW_WINES)


def test_more_runs_and_more_history_cost_no_more_queries(run, site, browser_of):
    here = browser_of(site)

    def queries(page: str) -> int:
        here.get(page)
        with CaptureQueriesContext(connection) as asked:
            assert here.get(page).status_code == 200
        return len(asked)

    one = {page: queries(page) for page in ("/", address(run))}
    for place in range(2, 5):
        another_still(f"SS{place}")
        # Emptied receivers give nothing; it is the number of runs that counts here.
        charge = {**CHARGE, "still": f"SS{place}", "charged_at": f"2027-03-03 07:{place}0"}
        charge |= {name: "0" for name in charge if name.endswith("_dip_mm")}
        charge = {name: text for name, text in charge.items() if not name.endswith("_percent")}
        other = recording.save("spirit_run", None, charge, person=site, sure=True)
        rows = [(books_now() - timedelta(minutes=5 * step), "distillate_percent", "70.0") for step in range(12)]
        add_readings(other, rows, site)
    page = here.get("/").content.decode()
    assert page.count('class="run-line') == 4
    assert queries("/") <= one["/"]
    assert queries(address(run)) <= one[address(run)]


CUT_OF_A_TENTH = {"event": "spirit_on", "spirit_on_at": "2027-03-03 07:20", "cut_on_percent": "7.4"}


def test_what_is_asked_about_a_box_stands_beside_it(run, site, browser_of):
    here = browser_of(site)
    page = here.post(address(run), CUT_OF_A_TENTH).content.decode()
    question = re.search(r'<div class="question" id="question".*?<p id="question-said">(.*?) <a', page, re.DOTALL)
    assert question is not None
    box = page[page.index('name="cut_on_percent"') :]
    assert f'<p class="asked-beside">{question[1]} <a href="#question">To the answers</a></p>' in box
    assert page.count("asked-beside") == 1
    # What was typed is kept with one key: the first answer has the focus, before any box.
    first = page[page.index('class="question"') :]
    assert re.search(r'<button [^>]*name="answered"[^>]* autofocus>Keep 7.4 % vol', first)
    assert "autofocus" not in page[page.index("<main") : page.index('class="question"')]


def test_what_is_asked_about_a_gauge_stands_under_its_row(site, clock, browser_of):
    here = browser_of(site)
    page = here.post("/records/spirit_run/new/", {**CHARGE, "low_wines_before_hydrometer_percent": "2.34"})
    text = page.content.decode()
    row = text[text.index('data-gauge="low_wines_before"') : text.index('data-gauge="low_wines_after"')]
    assert "asked-beside" in row
    assert text.count("asked-beside") == 1


def test_a_reading_that_was_odd_and_kept_bears_a_look_where_it_stands(run, site, browser_of):
    here = browser_of(site)
    add_readings(run, [("2027-03-03 08:50", "distillate_percent", "74.0")], site, sure=True)
    add_readings(run, [("2027-03-03 08:55", "distillate_percent", "7.4")], site, sure=True)
    add_readings(run, [("2027-03-03 08:58", "distillate_percent", "73.8")], site, sure=True)
    for page in (address(run), f"/records/spirit_run/{run.number}/"):
        shown = here.get(page).content.decode()
        cells = re.findall(r"<td class=\"numeric[^>]*>.*?</td>", shown, re.DOTALL)
        for value, looks in (("74.0", False), ("7.4", True), ("73.8", False)):
            found = [cell for cell in cells if re.search(rf"[> ]{re.escape(value)}[< ]", cell)]
            assert found, (page, value)
            assert all(("Look" in cell) == looks for cell in found), (page, value)
