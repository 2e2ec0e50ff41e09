"""How a time is asked about on a page: what was typed stays, nothing is written until it is answered. The site is
invented; its books stand at noon UTC on 15 May 2027.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from small_site import CHARGE, charged_run

from batches.models import Reading, Record, Version
from distillery.clock.reading import books_now, books_today
from ledger.models import Movement

pytestmark = pytest.mark.django_db
NEW = "/records/transfer/new/"


def transfer(at: str) -> dict[str, str]:
    sheet = {"at": at, "from_vessel": "V1", "to_vessel": "V2"}
    for prefix, dip in {"from_before": 1000, "to_before": 0, "from_after": 900, "to_after": 100}.items():
        sheet |= {f"{prefix}_dip_mm": str(dip), f"{prefix}_celsius": "20.0"}
        sheet |= {f"{prefix}_hydrometer_percent": "63.5"} if dip else {}
    return sheet


def value_of(page: str, name: str) -> str:
    found = re.search(rf'<input[^>]*name="{name}"[^>]*value="([^"]*)"', page)
    assert found is not None, name
    return found[1]


def buttons(page: str) -> list[tuple[str, str, str]]:
    part = page[page.index('class="question"') :]
    part = part[: part.index("</div>\n</div>")]
    return re.findall(r'<button class="plain" name="(\w+)" value="([^"]*)"[^>]*>([^<]*)</button>', part)


def test_the_box_says_now_and_does_not_go_stale(site, browser_of):
    here = browser_of(site)
    page = here.get(NEW).content.decode()
    assert value_of(page, "at") == "now"
    assert "The moment of saving" in page
    with time_machine.travel(datetime.now(UTC).replace(second=0, microsecond=0), tick=False) as clock:
        # What is wrong is put right a quarter of an hour later, and the time is that of the saving.
        wrong = here.post(NEW, transfer("now") | {"from_before_dip_mm": "x"}).content.decode()
        assert value_of(wrong, "at") == "now"
        clock.shift(450)
        # Somebody is there and types, so the PC does not lock.
        assert here.post("/pen/keep/").status_code == 204
        clock.shift(450)
        here.post(NEW, transfer("now"))
        assert Record.objects.get(kind="transfer").happened_from == books_now()


def test_a_time_ahead_is_asked_about_and_nothing_typed_is_lost(site, browser_of):
    here = browser_of(site)
    before = Movement.objects.count()
    page = here.post(NEW, transfer("2072-03-04 10:00")).content.decode()
    assert "ahead of the clock" in page
    assert value_of(page, "at") == "2072-03-04 10:00"
    assert value_of(page, "from_before_dip_mm") == "1000"
    keep, instead = buttons(page)
    assert keep == ("answered", "ahead:at:2072-03-04T10:00+00:00", "Keep Fri 4 Mar 2072 10:00")
    assert instead == ("instead", "at|2027-03-04T10:00", "It was Thu 4 Mar 2027 10:00")
    assert (Record.objects.filter(kind="transfer").count(), Movement.objects.count()) == (0, before)
    # Enter, which presses the first button, answers nothing.
    assert page.index("Save</button>") < page.index('class="question"')
    here.post(NEW, transfer("2072-03-04 10:00") | {instead[0]: instead[1]})
    assert Record.objects.get(kind="transfer").happened_from == datetime(2027, 3, 4, 10, tzinfo=UTC)


def test_what_is_kept_is_remarked_on(site, browser_of):
    here = browser_of(site)
    page = here.post(NEW, transfer("2072-03-04 10:00")).content.decode()
    answer = here.post(NEW, transfer("2072-03-04 10:00") | {"answered": buttons(page)[0][1]}, follow=True)
    assert "was ahead of the clock of the books when it was written" in answer.content.decode()
    assert Record.objects.get(kind="transfer").happened_from.year == 2072


def test_each_question_is_put_once_and_answers_are_carried_along(site, browser_of):
    here = browser_of(site)
    run = CHARGE | {"charged_at": "2027-02-04 10:00", "spirit_on_at": "2027-03-04 12:00"}
    address = "/records/spirit_run/new/"
    page = here.post(address, run).content.decode()
    assert "begin with its opening stock" in page
    first = buttons(page)[0][1]
    page = here.post(address, run | {"answered": first}).content.decode()
    assert "after charged at" in page
    assert f'name="answered" value="{first}"' in page
    here.post(address, run | {"answered": [first, buttons(page)[0][1]]})
    assert Record.objects.filter(kind="spirit_run").count() == 1


def test_a_correction_is_asked_too_and_keeps_its_reason(site, browser_of):
    here = browser_of(site)
    here.post(NEW, transfer("2027-03-04 10:00"))
    address = "/records/transfer/TR0001/correct/"
    right = transfer("2028-03-04 10:00") | {"reason": "wrong year", "version": "1"}
    page = here.post(address, right).content.decode()
    assert "ahead of the clock" in page
    assert value_of(page, "reason") == "wrong year"
    assert Version.objects.filter(record__number="TR0001").count() == 1
    # A time without its day is of the day of the record.
    here.post(address, right | {"at": "11:30"})
    assert Record.objects.get(kind="transfer").happened_from == datetime(2027, 3, 4, 11, 30, tzinfo=UTC)


def test_a_reading_is_asked_about_on_its_page(site, browser_of):
    record = charged_run(site)
    here = browser_of(site)
    address = f"/records/spirit_run/{record.number}/reading/"
    page = here.get(address).content.decode()
    assert value_of(page, "at") == "now"
    name = re.findall(r'name="(\w+_percent)"', page)[0]
    page = here.post(address, {"at": "2027-01-01 10:00", name: "70.1"}).content.decode()
    assert f"but {record.number} began" in page
    assert value_of(page, name) == "70.1"
    assert not Reading.objects.exists()
    here.post(address, {"at": "2027-01-01 10:00", name: "70.1", "answered": buttons(page)[0][1]})
    assert Reading.objects.count() == 1


def test_a_bare_time_still_to_come_says_that_it_was_yesterday(site, browser_of):
    record = charged_run(site)
    here = browser_of(site)
    with time_machine.travel(datetime.now(UTC).replace(hour=0, minute=20), tick=False):
        yesterday = books_today() - timedelta(days=1)
        page = here.post(
            f"/records/spirit_run/{record.number}/reading/", {"at": "23:50", "distillate_percent": "70.1"}, follow=True
        ).content.decode()
    assert f"23:50 was taken as {yesterday:%a} {yesterday.day} May 2027 23:50." in page
