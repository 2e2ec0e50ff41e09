"""Every page of the process: it works, it asks who is there, an officer reads and writes nothing, and bad input
leaves nothing behind and keeps what was typed. The site is invented; no figure here is a check of alcoholometry."""

from __future__ import annotations

import re

import pytest
from small_site import CASKS, CHARGE, FILL, FINISH, charged_run, fill, opening, small_site

from batches.models import Reading, Record, Version
from batches.records import recording
from batches.steps import STEPS
from ledger.models import Movement
from tests.signing import seen_on

pytestmark = pytest.mark.django_db

READ_BY_ALL = ["/", "/warehouse/", "/bottling/", "/records/", "/find/", "/casks/C001/"]
WRITTEN_BY_WRITERS = ["complete/", "correct/", "reading/", "void/"]


def post_of(form: dict[str, str], lines: list[dict[str, str]] | None = None) -> dict[str, str]:
    data = dict(form)
    for number, line in enumerate(lines or []):
        data |= {f"line-{number}-{name}": value for name, value in line.items()}
    if lines is not None:
        data["lines"] = str(len(lines) + 2)
    return data


# -- reading


@pytest.mark.parametrize("address", READ_BY_ALL)
def test_a_page_is_read_by_an_officer_and_by_nobody_unknown(site, officer, browser_of, stranger, address):
    assert browser_of(officer).get(address).status_code == 200
    answer = stranger.get(address)
    assert answer.status_code == 302
    assert answer["Location"].startswith("/sign-on/")


@pytest.mark.parametrize("sheet", STEPS, ids=lambda sheet: sheet.kind)
def test_every_step_has_its_list_its_form_and_its_blank_sheet(site, browser_of, officer, stranger, sheet):
    here = browser_of(site)
    assert sheet.plural in here.get(f"/records/{sheet.kind}/").content.decode()
    page = here.get(f"/records/{sheet.kind}/new/").content.decode()
    for field in sheet.fields:
        assert f'name="{field.name}"' in page
    for field in sheet.row_fields:
        assert f'name="line-0-{field.name}"' in page
    assert 'type="number"' not in page
    assert "style=" not in page
    paper = browser_of(officer).get(f"/records/{sheet.kind}/blank-sheet.pdf?copies=2")
    assert paper.content.startswith(b"%PDF")
    lines = browser_of(officer).get(f"/records/{sheet.kind}/blank-sheet.pdf?part=lines")
    assert lines.content.startswith(b"%PDF")
    assert browser_of(officer).get(f"/records/{sheet.kind}/new/").status_code == 403
    assert stranger.get(f"/records/{sheet.kind}/new/").status_code == 302
    assert stranger.post(f"/records/{sheet.kind}/new/", {}).status_code == 302


def test_an_unknown_kind_or_number_is_not_found(site, browser_of):
    here = browser_of(site)
    assert here.get("/records/nothing/").status_code == 404
    assert here.get("/records/cask_fill/CF9999/").status_code == 404
    assert here.get("/casks/V1/").status_code == 404
    assert here.get("/records/cask_fill/blank-sheet.pdf?copies=-3").status_code == 400


def test_site_is_for_who_keeps_the_plant(site, manager, administrator, officer, browser_of, stranger):
    for person in (manager, administrator):
        page = browser_of(person).get("/site/").content.decode()
        assert "Duty rates" in page
        assert "Review thresholds" in page
        assert "test-officer" in browser_of(person).get("/site/people/").content.decode()
    # An officer reads what the books are judged by, and changes nothing of it.
    read = browser_of(officer).get("/site/").content.decode()
    assert "Review thresholds" in read
    assert "/new/" not in read
    assert browser_of(site).get("/site/").status_code == 403
    assert stranger.get("/site/").status_code == 302


# -- writing


def test_a_fill_is_written_and_its_page_shows_what_it_came_to(site, browser_of, officer):
    here = browser_of(site)
    answer = here.post("/records/cask_fill/new/", post_of(FILL, CASKS), follow=True)
    page = answer.content.decode()
    record = Record.objects.get(kind="cask_fill")
    assert answer.redirect_chain[-1][0] == f"/records/cask_fill/{record.number}/"
    assert "Saved" in page
    movement = Movement.objects.get(record_number=record.number)
    assert f"/books/movements/{movement.pk}/" in page
    assert "2,540.00" in page
    assert "From reading to alcohol" in page
    assert "OIML R 22" in page
    assert "OV0001" in page
    seen = browser_of(officer).get(f"/records/cask_fill/{record.number}/").content.decode()
    assert "Correct</a>" not in seen
    assert "Print a copy" in seen
    assert "CF0001" in here.get("/casks/C001/").content.decode()
    assert "CF0001" in here.get("/records/cask_fill/?month=2027-03").content.decode()
    assert "No cask fills match" in here.get("/records/cask_fill/?month=2027-02").content.decode()
    assert "All months are shown" in here.get("/records/cask_fill/?month=soon").content.decode()


def test_what_cannot_be_is_said_at_the_top_and_beside_its_box_and_nothing_is_written(site, browser_of):
    before = Record.objects.count()
    wrong = CASKS[1] | {"gross_kg": "heavy"}
    page = (
        browser_of(site)
        .post("/records/cask_fill/new/", post_of(FILL | {"vat_before_dip_mm": "99999"}, [{}, CASKS[0], wrong]))
        .content.decode()
    )
    assert Record.objects.count() == before
    assert page.count("is not a figure") == 2
    assert 'href="#id_line-2-gross_kg"' in page
    assert 'href="#id_vat_before_dip_mm"' in page
    assert re.search(r'name="line-2-gross_kg"[^>]*value="heavy"', page)
    assert re.search(r'name="vat_before_dip_mm"[^>]*value="99999"', page)
    assert "<title>Error: New cask fill" in page


def test_more_lines_keeps_what_was_typed_and_saves_nothing(site, browser_of):
    before = Record.objects.count()
    data = post_of(FILL, CASKS) | {"more": "1"}
    page = browser_of(site).post("/records/cask_fill/new/", data).content.decode()
    assert Record.objects.count() == before
    assert 'name="line-9-cask"' in page
    assert re.search(r'name="line-1-gross_kg"[^>]*value="230.0"', page)
    assert "to put right" not in page


def test_a_run_is_charged_first_and_completed_later(site, browser_of, officer):
    here = browser_of(site)
    here.post("/records/spirit_run/new/", post_of(CHARGE))
    record = Record.objects.get(kind="spirit_run")
    assert record.state == "open"
    address = f"/records/spirit_run/{record.number}/"
    assert f"{address}running/" in here.get("/").content.decode()
    assert f"{address}complete/" in here.get(f"{address}running/").content.decode()
    for page in ("/", f"{address}running/"):
        assert f"{address}complete/" not in browser_of(officer).get(page).content.decode()
    form = here.get(f"{address}complete/").content.decode()
    assert 'name="ended_at"' in form
    assert 'name="charged_at"' not in form
    bad = here.post(f"{address}complete/", post_of(FINISH | {"spent_lees_percent": "146"})).content.decode()
    assert "Spent lees, strength is 146" in bad
    assert re.search(r'name="cut_off_percent"[^>]*value="62.1"', bad)
    here.post(f"{address}complete/", post_of(FINISH))
    record.refresh_from_db()
    assert record.state == "complete"
    assert Movement.objects.filter(record_number=record.number).count() == 2
    assert here.get(f"{address}complete/").status_code == 302


def test_a_second_saver_sees_that_somebody_wrote_first(site, browser_of):
    record = charged_run(site)
    address = f"/records/spirit_run/{record.number}/complete/"
    recording.save("spirit_run", record.number, {"cut_on_percent": "72.0"}, person=site)
    page = browser_of(site).post(address, post_of(FINISH) | {"version": "1"}).content.decode()
    assert "Nothing of yours was saved" in page
    assert re.search(r'name="spent_lees_litres"[^>]*value="2300"', page)
    record.refresh_from_db()
    assert record.state == "open"


def test_what_is_unlikely_is_kept_and_said(site, browser_of):
    lines = [CASKS[0] | {"tare_kg": "250.0", "gross_kg": "429.1"}]
    here = browser_of(site)
    page = here.post("/records/cask_fill/new/", post_of(FILL, lines)).content.decode()
    assert not Record.objects.filter(kind="cask_fill").exists()
    kept = re.search(r'name="answered" value="([^"]*)"[^>]*>Keep 250.0 kg<', page)
    assert kept is not None
    answered = post_of(FILL, lines) | {"answered": kept[1]}
    page = here.post("/records/cask_fill/new/", answered, follow=True).content.decode()
    assert "Unlikely, kept" in page
    assert "Unlikely, kept as written" in page


# -- putting right


def test_a_correction_shows_old_and_new_with_who_and_why(site, browser_of, officer):
    record = fill(site)
    here = browser_of(site)
    address = f"/records/cask_fill/{record.number}/"
    form = here.get(f"{address}correct/").content.decode()
    assert re.search(r'name="vat_after_dip_mm"[^>]*value="899"', form)
    assert re.search(r'name="line-1-gross_kg"[^>]*value="230.0"', form)
    changed = post_of(FILL | {"vat_after_dip_mm": "900"}, CASKS)
    without = here.post(f"{address}correct/", changed).content.decode()
    assert without.count("Why is blank") == 2
    assert 'href="#id_reason"' in without
    assert re.search(r'name="vat_after_dip_mm"[^>]*value="900"', without)
    assert Version.objects.filter(record=record).count() == 1
    page = here.post(f"{address}correct/", changed | {"reason": "misread the rod"}, follow=True).content.decode()
    assert re.search(r"<del>.*899</del> 900", page)
    assert "misread the rod" in page
    assert "test-staff" in page
    assert "Taken back by corrections" in page
    for method in ("get", "post"):
        assert getattr(browser_of(officer), method)(f"{address}correct/").status_code == 403


def test_a_suggestion_stands_in_the_box_beside_what_was_written(site, browser_of):
    record = fill(site)
    query = "suggest=vat_after_dip_mm:899.5&suggest=line-0-gross_kg:219.1&suggest=nonsense"
    page = browser_of(site).get(f"/records/cask_fill/{record.number}/correct/?{query}").content.decode()
    assert re.search(r'name="vat_after_dip_mm"[^>]*value="899.5"', page)
    assert "Suggested 899.5; written 899." in page
    assert re.search(r'name="line-0-gross_kg"[^>]*value="219.1"', page)
    assert Version.objects.filter(record=record).count() == 1


@pytest.mark.parametrize("what", WRITTEN_BY_WRITERS)
def test_an_officer_writes_nothing_and_a_stranger_signs_on(site, browser_of, officer, stranger, what):
    record = charged_run(site)
    address = f"/records/spirit_run/{record.number}/{what}"
    for method in ("get", "post"):
        refused = getattr(browser_of(officer), method)(address)
        assert refused.status_code == 403
        assert "Ask the manager" in refused.content.decode()
        assert getattr(stranger, method)(address).status_code == 302
    assert Version.objects.filter(record=record).count() == 1


# -- readings


def test_readings_are_added_shown_and_drawn(site, browser_of):
    record = charged_run(site)
    here = browser_of(site)
    address = f"/records/spirit_run/{record.number}/"
    for hour, strength in ((7, "74.2"), (8, "71.0"), (9, "66.3")):
        answer = here.post(f"{address}reading/", {"at": f"2027-03-03 0{hour}:15", "distillate_percent": strength})
        assert answer.status_code == 302
    page = here.get(address).content.decode()
    assert "<svg" in page
    assert "71.0" in page
    bad = here.post(f"{address}reading/", {"at": "soon", "distillate_percent": "146", "celsius": "16.1"})
    shown = bad.content.decode()
    assert "is not a time" in shown
    assert "is 146" in shown
    assert re.search(r'name="celsius"[^>]*value="16.1"', shown)
    assert "No reading is written" in here.post(f"{address}reading/", {"at": "2027-03-03 10:00"}).content.decode()
    assert Reading.objects.filter(record=record).count() == 3
    bare = here.post(f"{address}reading/", {"at": "00:00", "celsius": "16.0"})
    assert bare.status_code == 302


def test_a_step_without_readings_has_no_form_for_them(site, browser_of):
    record = fill(site)
    assert browser_of(site).get(f"/records/cask_fill/{record.number}/reading/").status_code == 302


# -- a second person


def test_a_stock_take_waits_for_somebody_else(site, manager, officer, browser_of, stranger):
    data = post_of(
        {"at": "2027-03-31 18:00"},
        [
            {
                "vessel": "V1",
                "gauge_dip_mm": "1000",
                "gauge_celsius": "20.0",
                "gauge_hydrometer_percent": "63.5",
            }
        ],
    )
    browser_of(site).post("/records/stock_take/new/", data)
    record = Record.objects.get(kind="stock_take")
    address = f"/records/stock_take/{record.number}/"
    own = browser_of(site).get(address).content.decode()
    assert "Waiting for a second person" in own
    assert "Countersign</button>" not in own
    assert "Countersign</button>" in browser_of(manager).get(address).content.decode()
    assert not Movement.objects.filter(record_number=record.number).exists()
    assert stranger.post(f"{address}countersign/").status_code == 302
    assert browser_of(officer).post(f"{address}countersign/").status_code == 403
    assert browser_of(manager).get(f"{address}countersign/").status_code == 405
    refused = browser_of(site).post(f"{address}countersign/", follow=True).content.decode()
    assert "someone else has to agree" in refused
    browser_of(manager).post(f"{address}countersign/", seen_on(browser_of(manager).get(address)))
    record.refresh_from_db()
    assert record.state == "complete"
    assert record.second == manager


# -- paper


def test_a_record_prints_with_its_correction(site, officer, browser_of, stranger):
    from io import BytesIO

    from pypdf import PdfReader

    record = fill(site)
    recording.correct(record, {"vat_after_dip_mm": "900"}, person=site, reason="misread the rod")
    address = f"/records/cask_fill/{record.number}/record.pdf"
    answer = browser_of(officer).get(address)
    assert answer["Content-Type"] == "application/pdf"
    text = "\n".join(page.extract_text() for page in PdfReader(BytesIO(answer.content)).pages)
    for words in (
        "Cask filling sheet",
        record.number,
        "version 2",
        "899 struck",
        "misread the rod",
        "2,540.00",
        "C002",
    ):
        assert words in text
    assert stranger.get(address).status_code == 302


def test_a_run_prints_its_curve_and_both_moments(site, browser_of):
    record = charged_run(site)
    for hour, strength in ((7, "74.2"), (8, "71.0"), (9, "66.3")):
        recording.add_reading(record, f"2027-03-03 0{hour}:15", "distillate_percent", strength, site)
    recording.save("spirit_run", record.number, FINISH, person=site)
    answer = browser_of(site).get(f"/records/spirit_run/{record.number}/record.pdf")
    assert answer.content.startswith(b"%PDF")


# -- taking back


def test_a_struck_reading_stays_to_be_read_with_its_reason(site, browser_of, officer, stranger):
    record = charged_run(site)
    reading = recording.add_reading(record, "2027-03-03 07:15", "distillate_percent", "71.9", site)
    here = browser_of(site)
    address = f"/records/spirit_run/{record.number}/reading/{reading.pk}/strike/"
    assert address in here.get(f"/records/spirit_run/{record.number}/reading/").content.decode()
    assert "71.9" in here.get(address).content.decode()
    assert browser_of(officer).post(address, {"reason": "no"}).status_code == 403
    assert stranger.post(address, {"reason": "no"}).status_code == 403
    without = here.post(address, {"value": "70.9", "reason": ""}).content.decode()
    assert "Reason is blank" in without
    assert re.search(r'name="value"[^>]*value="70.9"', without)
    assert Reading.objects.count() == 1
    page = here.post(address, {"value": "70.9", "reason": "misread meniscus"}, follow=True).content.decode()
    assert re.search(r"<del>.*71.9</del>", page)
    assert "70.9" in page
    assert here.get(f"/records/spirit_run/{record.number}/reading/99999/strike/").status_code == 404


def test_a_record_made_void_is_taken_back_and_remains(site, browser_of):
    record = fill(site)
    here = browser_of(site)
    address = f"/records/cask_fill/{record.number}/"
    assert "Reason is blank" in here.post(f"{address}void/", {"reason": " "}).content.decode()
    page = here.post(f"{address}void/", {"reason": "written twice"}, follow=True).content.decode()
    assert "Void" in page
    assert "written twice" in page
    assert "C002" in page
    assert here.get(f"{address}void/").status_code == 302
    assert here.get(f"{address}correct/").status_code == 302


def test_a_reading_form_that_arrives_empty_is_refused_in_a_sentence(browser_of, staff) -> None:
    small_site()
    opening(staff, "LWR", dip="900", percent="24.8")
    opening(staff, "FR", dip="500", percent="36.0")
    run = charged_run(staff)
    answer = browser_of(staff).generic(
        "POST", f"/records/spirit_run/{run.number}/reading/", b"--x\r\n", content_type="multipart/form-data; boundary=x"
    )
    assert answer.status_code == 200
    assert "No reading is written; fill in at least one box." in answer.content.decode()
