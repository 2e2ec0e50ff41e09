"""What asks for an act at once: a receiver near full while a run is on, and a vessel beyond the stop limit.

Four runs of one still on the small invented site; all figures worked by hand.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from small_site import CHARGE, FINISH, LITRE_UL

from batches.models import Record
from batches.records import recording
from batches.running.due import Waits, readings_due
from distillery.clock.reading import books_now, offset_days
from distillery.people.models import Person
from distillery.plant.models import Vessel
from distillery.seals.writing import signed

pytestmark = pytest.mark.django_db


@signed("tests")
def holds_at_most(code: str, litres: int) -> None:
    Vessel.objects.filter(code=code).update(capacity_ul=litres * LITRE_UL)


def of_day(day: int, typed: dict[str, str]) -> dict[str, str]:
    return {name: text.replace("2027-03-03", f"2027-03-0{day}") for name, text in typed.items()}


def charged(person: Person, day: int, **changed: str) -> Record:
    """A charge at 06:00 of a day, with the spirit receiver as the runs of the days before left it."""
    strength = {"spirit_before_hydrometer_percent": "69.1"} if day > 3 else {}
    receiver = {"spirit_before_dip_mm": str(300 * (day - 3)), **strength}
    return recording.save("spirit_run", None, of_day(day, {**CHARGE, **receiver, **changed}), person=person, sure=True)


def finished(person: Person, day: int) -> None:
    """Its end: 300 mm of spirit more, which is 1,200 L, in the 3 h 20 min between the cuts."""
    record = charged(person, day)
    rest = of_day(day, {**FINISH, "spirit_after_dip_mm": str(300 * (day - 2))})
    recording.save("spirit_run", record.number, rest, person=person, sure=True)


@pytest.fixture
def three_runs(site) -> Person:
    with time_machine.travel(datetime(2027, 3, 7, 12, tzinfo=UTC) - timedelta(days=offset_days()), tick=False):
        for day in (3, 4, 5):
            finished(site, day)
    return site


def messages(page: str) -> list[str]:
    found = re.findall(r'<p class="act-now".*?</p>', page, re.DOTALL)
    return [re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", one)).strip() for one in found]


def test_a_receiver_near_full_says_so_while_the_spirit_runs_into_it(three_runs, browser_of):
    # The books stand at 09:00 of 6 March: the spirit came on at 07:20, half of the usual time ago.
    with time_machine.travel(datetime(2027, 3, 6, 9, tzinfo=UTC) - timedelta(days=offset_days()), tick=False):
        record = charged(three_runs, 6, low_wines_before_dip_mm="0", feints_before_dip_mm="530")
        here = browser_of(three_runs)
        address = f"/records/spirit_run/{record.number}/running/"
        holds_at_most("SPR", 4600)
        assert messages(here.get("/").content.decode()) == []
        recording.save(
            "spirit_run", record.number, of_day(6, {"spirit_on_at": FINISH["spirit_on_at"]}), person=three_runs
        )
        # 900 mm before the run are 3,600 L; half of 1,200 L has come: 4,200 L are more than nine tenths of 4,600.
        for page in ("/", address):
            (said,) = messages(here.get(page).content.decode())
            assert re.search(r"SPR is near full: about 4,(19|20)\d of 4,600 L by estimate", said)
            assert "Change receiver before it is full, and gauge both." in said
            assert f"{record.number} runs into it" in said
        holds_at_most("SPR", 4800)
        assert messages(here.get("/").content.decode()) == []
        holds_at_most("SPR", 4600)
        off = of_day(6, {"spirit_off_at": "2027-03-03 08:59"})
        recording.save("spirit_run", record.number, off, person=three_runs)
        assert messages(here.get("/").content.decode()) == []
        text = here.get(address).content.decode()
        assert "plan 62.1 %" not in text
        assert "Grey: from the lowest to the highest of the last 3 spirit runs in SS." in text
        assert "Into SPR so far" in text


def test_a_vessel_beyond_the_stop_limit_says_so_until_it_is_measured_again(three_runs, browser_of):
    with time_machine.travel(datetime(2027, 3, 6, 9, tzinfo=UTC) - timedelta(days=offset_days()), tick=False):
        here = browser_of(three_runs)
        # On 4 and 5 March the low wines receiver held 900 mm again that nobody had written down: 3,600 L of what a
        # hydrometer shows as 24.8 % at 18 °C, some 25.6 % at 20 °C.
        (said,) = messages(here.get("/").content.decode())
        assert re.search(r"LWR held 92\d\.\d LPA more than its book when it was gauged Fri 5 Mar 06:00", said)
        assert "Move nothing more from it until it is measured again; a true movement can still be written." in said
        charged(three_runs, 6, low_wines_before_dip_mm="0", feints_before_dip_mm="530")
        assert messages(here.get("/").content.decode()) == []


def test_all_that_is_due_is_asked_for_at_once(three_runs, django_assert_max_num_queries):
    with time_machine.travel(datetime(2027, 3, 6, 9, tzinfo=UTC) - timedelta(days=offset_days()), tick=False):
        assert readings_due(books_now()) == []
        record = charged(three_runs, 6, low_wines_before_dip_mm="0", feints_before_dip_mm="530")
        # The first time all that is on is read with the runs before it, afterwards only whether anything was written.
        with django_assert_max_num_queries(13):
            (due,) = readings_due(books_now())
        with django_assert_max_num_queries(1):
            assert [one.at for one in readings_due(books_now())] == [due.at]
        # In the three runs before, the first strength was that of the cut at 07:20. So seven readings were to come by
        # 08:50, and the seventh is ten minutes overdue.
        assert (due.run.record, due.waits) == (record, Waits.OVERDUE)
        assert due.at == books_now() - timedelta(minutes=10)
        assert len(due.missing) + due.missing_before == 6
