"""A form that arrives twice writes once, in every place where something is written; and what was typed is never lost
for it, nor where the books are busy. The site is invented."""

from __future__ import annotations

import re

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction
from small_site import CASKS, CHARGE, FILL, FINISH, charged_run, fill

from batches.models import Reading, Record, Sending, Version
from batches.records import recording
from distillery.database.retrying import Busy
from ledger.models import Movement
from tests.signing import seen_on

pytestmark = pytest.mark.django_db


def fill_form(token: str = "", **changed: str) -> dict[str, str]:
    data = FILL | changed
    for number, line in enumerate(CASKS):
        data |= {f"line-{number}-{name}": value for name, value in line.items()}
    return data | {"lines": "4"} | ({"sending": token} if token else {})


def token_of(page: str) -> str:
    found = re.search(r'name="sending"[^>]*value="([^"]+)"', page)
    assert found is not None
    return found[1]


def test_every_form_gets_a_token_of_its_own_and_keeps_it_over_a_mistake(site, browser_of):
    here = browser_of(site)
    tokens = [token_of(here.get("/records/cask_fill/new/").content.decode()) for _ in range(2)]
    assert len(set(tokens)) == 2
    wrong = here.post("/records/cask_fill/new/", fill_form(tokens[0], vat_before_dip_mm="99999")).content.decode()
    assert token_of(wrong) == tokens[0]
    more = here.post("/records/cask_fill/new/", fill_form(tokens[0]) | {"more": "1"}).content.decode()
    assert token_of(more) == tokens[0]
    assert not Sending.objects.exists()


def test_a_new_record_sent_twice_is_there_once(site, browser_of):
    here = browser_of(site)
    token = token_of(here.get("/records/cask_fill/new/").content.decode())
    first = here.post("/records/cask_fill/new/", fill_form(token))
    second = here.post("/records/cask_fill/new/", fill_form(token), follow=True)
    assert second.redirect_chain[-1][0] == first["Location"]
    assert "was saved from this sheet already; nothing was written a second time" in second.content.decode()
    assert Record.objects.filter(kind="cask_fill").count() == 1
    assert Movement.objects.filter(record_kind="cask_fill").count() == 1


def test_a_page_gone_back_to_and_written_on_anew_is_not_taken_for_the_old_one(site, browser_of):
    def transfer(at: str, giver: int, taker: int) -> dict[str, str]:
        dips = {"from_before": giver, "to_before": taker, "from_after": giver - 100, "to_after": taker + 100}
        sheet = {"at": at, "from_vessel": "V1", "to_vessel": "V2"}
        for prefix, dip in dips.items():
            sheet |= {f"{prefix}_dip_mm": str(dip), f"{prefix}_celsius": "20.0"}
            sheet |= {f"{prefix}_hydrometer_percent": "63.5"} if dip else {}
        return sheet

    here, address = browser_of(site), "/records/transfer/new/"
    token = token_of(here.get(address).content.decode())
    here.post(address, transfer("2027-03-02 10:00", 1000, 0) | {"sending": token})
    other = transfer("2027-03-02 11:00", 900, 100) | {"sending": token}
    page = here.post(address, other).content.decode()
    assert "saved already, as TR0001, and says something else now" in page
    assert re.search(r'name="to_after_dip_mm"[^>]*value="200"', page)
    assert Record.objects.filter(kind="transfer").count() == 1
    assert here.post(address, other | {"sending": token_of(page)}).status_code == 302
    assert Record.objects.filter(kind="transfer").count() == 2


def test_an_addition_and_a_correction_sent_twice_are_written_once(site, browser_of):
    here = browser_of(site)
    here.post("/records/spirit_run/new/", CHARGE)
    record = Record.objects.get(kind="spirit_run")
    address = f"/records/spirit_run/{record.number}/"
    page = here.get(f"{address}complete/").content.decode()
    finish = FINISH | {"version": "1", "sending": token_of(page)}
    for _ in range(2):
        answer = here.post(f"{address}complete/", finish, follow=True)
        assert answer.redirect_chain[-1][0] == address
    assert "saved from this sheet already" in answer.content.decode()
    assert Version.objects.filter(record=record).count() == 2
    page = here.get(f"{address}correct/").content.decode()
    right = CHARGE | FINISH | {"spirit_after_dip_mm": "301", "reason": "misread", "version": "2"}
    right["sending"] = token_of(page)
    for _ in range(2):
        answer = here.post(f"{address}correct/", right, follow=True)
        assert answer.redirect_chain[-1][0] == address
    assert Version.objects.filter(record=record).count() == 3


def test_readings_and_strikes_sent_twice_are_written_once(site, browser_of):
    record = charged_run(site)
    here = browser_of(site)
    address = f"/records/spirit_run/{record.number}/reading/"
    reading = {
        "at": "2027-03-03 07:15",
        "distillate_percent": "71.9",
        "sending": token_of(here.get(address).content.decode()),
    }
    for _ in range(2):
        assert here.post(address, reading)["Location"] == address
    assert Reading.objects.count() == 1
    other = here.post(address, reading | {"distillate_percent": "70.9"}).content.decode()
    assert "says something else now" in other
    assert re.search(r'name="distillate_percent"[^>]*value="70.9"', other)
    assert token_of(other) != reading["sending"]
    strike = f"{address}{Reading.objects.get().pk}/strike/"
    struck = {"value": "70.9", "reason": "misread", "sending": token_of(here.get(strike).content.decode())}
    for _ in range(2):
        assert here.post(strike, struck)["Location"] == address
    assert Reading.objects.count() == 2


def test_voiding_and_countersigning_twice_say_that_it_is_done(site, manager, browser_of, monkeypatch):
    record = fill(site)
    here = browser_of(site)
    for _ in range(2):
        answer = here.post(f"/records/cask_fill/{record.number}/void/", {"reason": "twice"}, follow=True)
    assert "is void already" in answer.content.decode()
    take = recording.save(
        "stock_take",
        None,
        {"at": "2027-03-31 18:00"},
        [{"vessel": "V1", "gauge_dip_mm": "1000", "gauge_celsius": "20.0", "gauge_hydrometer_percent": "63.5"}],
        person=site,
    )
    address = f"/records/stock_take/{take.number}/"
    opened = seen_on(browser_of(manager).get(address))
    for _ in range(2):
        answer = browser_of(manager).post(f"{address}countersign/", opened, follow=True)
    page = answer.content.decode()
    assert "carries your name already" in page
    assert "is not waiting" not in page


def test_a_token_stands_once_and_is_never_changed(site):
    record = fill(site)
    Sending.objects.create(token="one", content="a", record=record)
    with pytest.raises(IntegrityError), transaction.atomic():
        Sending.objects.create(token="one", content="b", record=record)
    with pytest.raises(DatabaseError, match="keeps what was written"), transaction.atomic():
        Sending.objects.update(content="b")
    with pytest.raises(DatabaseError, match="keeps what was written"), transaction.atomic():
        Sending.objects.all()._raw_delete(connection.alias)


@pytest.mark.parametrize("token", ["", "x" * 65])
def test_a_form_without_a_token_still_writes(site, browser_of, token):
    assert browser_of(site).post("/records/cask_fill/new/", fill_form(token)).status_code == 302
    assert not Sending.objects.exists()


def test_busy_books_keep_what_was_typed_and_say_so(site, browser_of, monkeypatch):
    def busy(*args: object, **more: object) -> None:
        raise Busy

    here = browser_of(site)
    for name in ("save", "correct", "void", "countersign"):
        monkeypatch.setattr(recording, name, busy)
    page = here.post("/records/cask_fill/new/", fill_form("again")).content.decode()
    assert "The books are busy; nothing was saved; press Save again." in page
    assert re.search(r'name="vat_after_dip_mm"[^>]*value="899"', page)
    assert re.search(r'name="line-1-gross_kg"[^>]*value="230.0"', page)
    assert token_of(page) == "again"
    monkeypatch.undo()
    record = fill(site)
    monkeypatch.setattr(recording, "correct", busy)
    monkeypatch.setattr(recording, "void", busy)
    monkeypatch.setattr("batches.pages.writing.taking_back.strike_reading", busy)
    monkeypatch.setattr("batches.pages.records.record.add_readings", busy)
    address = f"/records/cask_fill/{record.number}/"
    right = fill_form(vat_after_dip_mm="900") | {"reason": "misread the rod"}
    corrected = here.post(f"{address}correct/", right).content.decode()
    assert "The books are busy" in corrected
    assert 'value="misread the rod"' in corrected
    voided = here.post(f"{address}void/", {"reason": "written twice"}).content.decode()
    assert "The books are busy" in voided
    assert 'value="written twice"' in voided
    run = charged_run(site)
    reading = recording.add_reading(run, "2027-03-03 07:15", "distillate_percent", "71.9", site)
    address = f"/records/spirit_run/{run.number}/reading/"
    for where, data in (
        (address, {"at": "2027-03-03 08:15", "distillate_percent": "70.1"}),
        (f"{address}{reading.pk}/strike/", {"value": "70.9", "reason": "misread"}),
    ):
        page = here.post(where, data).content.decode()
        assert "The books are busy" in page
        assert re.search(r'value="70\.[19]"', page)
