"""Sheets that come back with their draft: on every kind of page, to the PC they were typed at, beside what others saved
meanwhile; and a draft goes with the saving of its form. The site is invented."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from drafted import NEW, attribute, box, leave_boxes, shown, token_of
from small_site import CHARGE, FINISH, charged_run

from batches.models import Reading, Record
from batches.records import recording
from distillery.drafts.models import Draft
from distillery.drafts.pc import COOKIE

pytestmark = pytest.mark.django_db


def test_a_new_sheet_comes_back_as_it_was_left(site, browser_of):
    here = browser_of(site)
    page = shown(here, NEW)
    assert "Throw the draft away" not in page
    said = leave_boxes(here, page, low_wines_before_dip_mm="1054", note="a & b")
    assert said["by"] == site.shown_name
    for address in (NEW, attribute(page, "-at")):
        again = shown(here, address)
        assert box(again, "low_wines_before_dip_mm") == "1054"
        assert token_of(again) == token_of(page)
        assert f"Draft kept {said['kept']}, {site.shown_name}" in again
    assert "<b>1 draft</b> at this PC, not saved:" in shown(here, "/")


def test_a_pc_sees_the_drafts_of_all_who_type_there_and_of_no_other_pc(site, manager, browser_of):
    here = browser_of(site)
    leave_boxes(here, shown(here, NEW), low_wines_before_dip_mm="1054")
    elsewhere = browser_of(site)
    assert box(shown(elsewhere, NEW), "low_wines_before_dip_mm") == ""
    assert "drafts-kept" not in shown(elsewhere, "/")
    here.force_login(manager)
    page = shown(here, NEW)
    assert box(page, "low_wines_before_dip_mm") == "1054"
    assert f", {site.shown_name}" in page
    # A number of one's own making is none of the site's.
    elsewhere.cookies[COOKIE] = Draft.objects.get().pc
    assert box(shown(elsewhere, NEW), "low_wines_before_dip_mm") == ""


def test_the_number_of_a_pc_is_kept_from_scripts_and_signed(site, browser_of):
    here = browser_of(site)
    leave_boxes(here, shown(here, NEW), note="1")
    cookie = here.cookies[COOKIE]
    assert cookie["httponly"]
    assert cookie["samesite"] == "Lax"
    assert cookie.value.rpartition(":")[0].rpartition(":")[0] == Draft.objects.get().pc


def test_a_draft_thrown_away_is_gone(site, browser_of):
    here = browser_of(site)
    page = shown(here, NEW)
    leave_boxes(here, page, low_wines_before_dip_mm="1054")
    thrown = here.post("/drafts/throw-away/", {"key": attribute(page, ""), "back": NEW}, follow=True)
    assert "The draft is thrown away." in thrown.content.decode()
    assert box(thrown.content.decode(), "low_wines_before_dip_mm") == ""
    assert here.post("/drafts/throw-away/", {"key": "x", "back": "//elsewhere.example/"})["Location"] == "/"


def test_a_saved_sheet_has_no_draft_any_more_and_takes_none_that_comes_late(site, browser_of):
    here = browser_of(site)
    page = shown(here, NEW)
    leave_boxes(here, page, low_wines_before_dip_mm="1054")
    saved = here.post(NEW, CHARGE | {"sending": token_of(page), "draft": attribute(page, "")})
    assert saved.status_code == 302, saved.content.decode()
    assert not Draft.objects.exists()
    assert leave_boxes(here, page, low_wines_before_dip_mm="1055") == {"saved": True}
    assert not Draft.objects.exists()
    assert box(shown(here, NEW), "low_wines_before_dip_mm") == ""


def test_a_refused_sheet_keeps_its_draft_and_asks_for_all_boxes(site, browser_of):
    here = browser_of(site)
    page = shown(here, NEW)
    leave_boxes(here, page, low_wines_before_dip_mm="99999")
    wrong = here.post(NEW, CHARGE | {"sending": token_of(page), "low_wines_before_dip_mm": "99999"}).content.decode()
    assert "thing" in wrong
    assert attribute(wrong, "") == attribute(page, "")
    assert "data-draft-whole" in wrong
    assert Draft.objects.count() == 1


def test_what_is_left_of_a_record_comes_back_and_goes_when_saved(site, browser_of):
    here, record = browser_of(site), charged_run(site)
    address = f"/records/spirit_run/{record.number}/complete/"
    page = shown(here, address)
    name, text = next((name, text) for name, text in FINISH.items() if name.endswith("_dip_mm"))
    leave_boxes(here, page, **{name: text})
    again = shown(here, address)
    assert box(again, name) == text
    assert f"{record.number}, finish" in shown(here, "/")
    saved = here.post(address, FINISH | {"sending": token_of(again), "version": "1", "draft": attribute(again, "")})
    assert saved.status_code == 302, saved.content.decode()
    assert not Draft.objects.exists()


def test_a_draft_of_what_somebody_else_wrote_meanwhile_is_shown_beside_it(site, manager, browser_of):
    here, record = browser_of(site), charged_run(site)
    address = f"/records/spirit_run/{record.number}/complete/"
    page = shown(here, address)
    name, text = next((name, text) for name, text in FINISH.items() if name.endswith("_dip_mm"))
    leave_boxes(here, page, **{name: str(int(text) - 1)})
    recording.save("spirit_run", record.number, FINISH, person=manager, seen=1)
    before = record.versions.count()
    again = shown(here, address)
    assert "Written meanwhile" in again
    assert box(again, name) == str(int(text) - 1)
    assert f"theirs:{name}" in again
    assert record.versions.count() == before
    # It has become a correction, and its draft goes with that.
    data = {"sending": token_of(again), "draft": attribute(again, ""), "reason": "dipped again", "version": "2"}
    standing = FINISH | CHARGE | {name: str(int(text) - 1)}
    saved = here.post(f"/records/spirit_run/{record.number}/correct/", standing | data)
    assert saved.status_code == 302, saved.content.decode()
    assert not Draft.objects.exists()


def test_a_figure_carried_into_a_sheet_stands_beside_what_was_typed_there(site, browser_of):
    here, record = browser_of(site), charged_run(site)
    address = f"/records/spirit_run/{record.number}/complete/"
    leave_boxes(here, shown(here, address), spent_lees_litres="2300")
    for start, name in ((address, "spirit_after_dip_mm"), (NEW, "low_wines_before_dip_mm")):
        page = shown(here, f"{start}?{name}=312")
        assert box(page, name) == "312"
        assert "data-draft-whole" in page
    page = shown(here, f"{address}?spirit_after_dip_mm=312")
    assert box(page, "spent_lees_litres") == "2300"


def test_a_correction_comes_back_with_its_reason(site, browser_of):
    here, record = browser_of(site), charged_run(site)
    address = f"/records/spirit_run/{record.number}/correct/"
    leave_boxes(here, shown(here, address), low_wines_before_dip_mm="899", reason="read again")
    again = shown(here, address)
    assert box(again, "low_wines_before_dip_mm") == "899"
    assert box(again, "reason") == "read again"


def test_a_line_of_readings_comes_back_with_its_token(site, browser_of):
    here, record = browser_of(site), charged_run(site)
    address = f"/records/spirit_run/{record.number}/reading/"
    page = shown(here, address)
    quantity = re.findall(r'name="([a-z_]+)"[^>]*class="[^"]*width-8', page)[0]
    leave_boxes(here, page, **{quantity: "70.2"})
    again = shown(here, address)
    assert box(again, quantity) == "70.2"
    assert token_of(again) == token_of(page)
    data = {"at": "2027-03-03 08:00", quantity: "70.2", "sending": token_of(again), "draft": attribute(again, "")}
    here.post(address, data)
    assert Reading.objects.count() == 1
    assert not Draft.objects.exists()


def test_a_second_line_keeps_its_draft_while_the_first_is_saved(site, browser_of):
    here, record = browser_of(site), charged_run(site)
    address = f"/records/spirit_run/{record.number}/reading/"
    first = shown(here, address)
    quantity = re.findall(r'name="([a-z_]+)"[^>]*class="[^"]*width-8', first)[0]
    leave_boxes(here, first, **{quantity: "70.2"})
    start = attribute(first, "").rpartition("/")[0]
    second = {"key": f"{start}/of-the-browser", "token": "of-the-browser", f"box:{quantity}": "69.9"}
    assert here.post("/drafts/keep/", second).status_code == 200
    data = {"at": "2027-03-03 08:00", quantity: "70.2", "sending": token_of(first), "draft": attribute(first, "")}
    assert here.post(address, data).status_code == 302
    again = shown(here, address)
    assert (box(again, quantity), token_of(again)) == ("69.9", "of-the-browser")


def test_what_another_window_of_this_pc_kept_since_stays(site, browser_of):
    here, record = browser_of(site), charged_run(site)
    address = f"/records/spirit_run/{record.number}/correct/"
    one, two = shown(here, address), shown(here, address)
    leave_boxes(here, one, low_wines_before_dip_mm="899")
    leave_boxes(here, two, feints_before_dip_mm="499")
    data = CHARGE | {"low_wines_before_dip_mm": "899", "reason": "read again", "version": "1"}
    saved = here.post(address, data | {"sending": token_of(one), "draft": attribute(one, "")})
    assert saved.status_code == 302, saved.content.decode()
    again = shown(here, address)
    assert box(again, "feints_before_dip_mm") == "499"
    assert token_of(again) == token_of(two)


def test_who_only_reads_has_no_drafts_and_nobody_drafts_unsigned(site, officer, browser_of, stranger):
    said = {"key": "new/mash/t", "box:note": "1"}
    assert browser_of(officer).post("/drafts/keep/", said).status_code == 403
    assert stranger.post("/drafts/keep/", said).status_code == 401
    assert stranger.get("/drafts/here/").status_code == 401
    assert browser_of(officer).get("/drafts/here/").status_code == 204
    assert Client(enforce_csrf_checks=True).post("/drafts/keep/", said).status_code == 403
    assert not Draft.objects.exists()


def test_a_draft_beyond_its_bounds_is_refused_with_a_sentence(site, browser_of):
    answer = browser_of(site).post("/drafts/keep/", {"key": "new/mash/t", "box:note": "x" * 5000})
    assert answer.status_code == 413
    assert "too long for a draft" in answer.json()["sentence"]


def test_two_people_who_read_at_the_same_minute_see_both_figures(site, manager, browser_of):
    record = charged_run(site)
    address = f"/records/spirit_run/{record.number}/reading/"
    page = shown(browser_of(site), address)
    quantity = re.findall(r'name="([a-z_]+)"[^>]*class="[^"]*width-8', page)[0]
    first = {"at": "2027-03-03 09:00", quantity: "70.2"}
    assert browser_of(site).post(address, first | {"sending": "one"}).status_code == 302
    second = first | {quantity: "69.8", "sending": "two"}
    asked = browser_of(manager).post(address, second).content.decode()
    assert f"{site.shown_name} wrote 70.2" in asked
    assert "you wrote 69.8" in asked
    assert box(asked, quantity) == "69.8"
    assert [one.value for one in Reading.objects.all()] == ["70.2"]
    answer = re.search(r'name="answered" value="([^"]*)"', asked)
    assert answer is not None
    assert browser_of(manager).post(address, second | {"answered": answer[1]}).status_code == 302
    assert sorted(one.value for one in Reading.objects.all()) == ["69.8", "70.2"]
    # Nobody is asked about a figure of their own.
    assert browser_of(site).post(address, first | {"at": "2027-03-03 10:00", "sending": "three"}).status_code == 302
    assert browser_of(site).post(address, first | {"at": "2027-03-03 10:00", "sending": "four"}).status_code == 302


def test_who_typed_a_draft_is_named_where_somebody_else_saves_it(site, manager, browser_of):
    first = browser_of(site)
    leave_boxes(first, shown(first, NEW), low_wines_before_dip_mm="900", feints_before_dip_mm="501")
    here = browser_of(manager)
    here.cookies[COOKIE] = first.cookies[COOKIE].value
    page = shown(here, NEW)
    assert box(page, "low_wines_before_dip_mm") == "900"
    # One of the two boxes is typed anew by who saves; the other stands as it was left.
    sent = CHARGE | {"feints_before_dip_mm": "500", "sending": token_of(page), "draft": attribute(page, "")}
    here.post(NEW, sent)
    version = Record.objects.get(kind="spirit_run").versions.get()
    assert (version.person, version.typed_by) == (manager, site.username)


def test_nobody_else_is_named_where_all_boxes_were_typed_anew(site, manager, browser_of):
    first = browser_of(site)
    leave_boxes(first, shown(first, NEW), low_wines_before_dip_mm="90")
    here = browser_of(manager)
    here.cookies[COOKIE] = first.cookies[COOKIE].value
    page = shown(here, NEW)
    here.post(NEW, CHARGE | {"sending": token_of(page), "draft": attribute(page, "")})
    assert Record.objects.get(kind="spirit_run").versions.get().typed_by == ""
