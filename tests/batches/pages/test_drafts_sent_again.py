"""What was typed when the sending did not go through: nobody signed on, a fault of the program, no proof, an answer
lost on its way. The site is invented."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from django.test import Client
from drafted import NEW, attribute, box, leave_boxes, shown, token_of
from small_site import CHARGE, charged_run

from batches.models import Reading, Record
from batches.records import recording
from distillery.drafts.models import Draft
from distillery.drafts.pc import COOKIE
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db


def carried_by(page: str) -> dict[str, str]:
    """What a form says of its draft when it is sent."""
    return {"draft": attribute(page, ""), "draft-title": attribute(page, "-title"), "draft-at": attribute(page, "-at")}


def sign_on_again(page: str, here: Client, person: Any) -> Any:
    """Signs on at a page that carries what was typed."""
    carried = dict(re.findall(r'<input type="hidden" name="((?:typed|next)[^"]*)" value="([^"]*)"', page))
    return here.post("/sign-on/", carried | {"username": person.username, "password": PASSWORD}, follow=True)


def test_signing_on_leads_back_to_the_sheet_with_all_that_was_sent(site, manager, browser_of):
    here = browser_of(site)
    page = shown(here, NEW)
    leave_boxes(here, page, low_wines_before_dip_mm="900")
    pc = here.cookies[COOKIE].value
    here.logout()
    here.cookies[COOKIE] = pc
    carried = carried_by(page)
    refused = here.post(NEW, CHARGE | carried | {"sending": token_of(page)})
    assert refused.status_code == 403
    text = refused.content.decode()
    assert "nobody is signed on" in text
    assert not Record.objects.filter(kind="spirit_run").exists()
    back = sign_on_again(text, here, manager)
    assert back.redirect_chain[-1][0].startswith(NEW)
    sheet = back.content.decode()
    assert box(sheet, "low_wines_before_celsius") == "18.0"
    assert token_of(sheet) == token_of(page)
    draft = Draft.objects.get()
    assert json.loads(draft.boxes).keys() == CHARGE.keys()


def test_what_was_kept_stays_whose_it_is_when_somebody_else_signs_on(site, manager, browser_of):
    here = browser_of(site)
    page = shown(here, NEW)
    leave_boxes(here, page, low_wines_before_dip_mm="900")
    pc = here.cookies[COOKIE].value
    stranger = Client()
    stranger.cookies[COOKIE] = pc
    carried = carried_by(page)
    text = stranger.post(NEW, CHARGE | carried | {"sending": token_of(page)}).content.decode()
    assert "is shown again in its sheet" in text
    sheet = sign_on_again(text, stranger, manager).content.decode()
    marks = dict(re.findall(r'id="id_([a-z_]+)_draft">Draft kept [0-9:]+, ([^<]+)<', sheet))
    assert marks["low_wines_before_dip_mm"] == site.shown_name
    assert marks["low_wines_before_celsius"] == manager.shown_name


def test_a_fault_of_the_program_says_what_is_on_the_server_and_nothing_else(site, browser_of, monkeypatch):
    here = browser_of(site)
    here.raise_request_exception = False
    page = shown(here, NEW)

    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("a fault made by this test")

    monkeypatch.setattr(recording, "save", broken)
    data = CHARGE | {"sending": token_of(page), "draft": attribute(page, "")}
    without = here.post(NEW, data)
    assert without.status_code == 500
    assert "on the server as well" not in without.content.decode()
    said = leave_boxes(here, page, low_wines_before_dip_mm="900")
    text = here.post(NEW, data).content.decode()
    assert f"Draft kept {said['kept']}, {site.shown_name}, is on the server as well" in text
    assert "<dt>low wines before celsius</dt><dd>18.0</dd>" in text
    assert "draft" not in re.findall(r"<dt>([^<]*)</dt>", text)


def test_a_form_that_came_without_its_proof_says_what_is_on_the_server(site, browser_of):
    here = Client(enforce_csrf_checks=True)
    here.force_login(site)
    page = shown(here, NEW)
    proof = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)
    assert proof is not None
    kept = {"key": attribute(page, ""), "box:low_wines_before_dip_mm": "900", "csrfmiddlewaretoken": proof[1]}
    assert here.post("/drafts/keep/", kept | {"address": attribute(page, "-at")}).status_code == 200
    refused = here.post(NEW, CHARGE | {"sending": token_of(page), "draft": attribute(page, "")})
    assert refused.status_code == 403
    assert "is on the server as well" in refused.content.decode()


def test_now_means_the_moment_of_the_press_however_late_it_arrives(site, browser_of):
    here, record = browser_of(site), charged_run(site)
    address = f"/records/spirit_run/{record.number}/reading/"
    page = shown(here, address)
    quantity = re.findall(r'name="([a-z_]+)"[^>]*class="[^"]*width-8', page)[0]
    data = {"at": "now", quantity: "70.2", "sending": token_of(page), "pressed": "2027-03-03T08:07:31.250Z"}
    first = here.post(address, data, headers={"X-Unsent": "1"})
    assert first.json() == {"saved": True, "href": address}
    # The answer was lost on its way: the same form comes once more, and is known.
    assert here.post(address, data, headers={"X-Unsent": "1"}).json()["saved"]
    assert [f"{one.at:%Y-%m-%d %H:%M}" for one in Reading.objects.all()] == ["2027-03-03 08:07"]
    # What asks for a sign-on is no saving.
    assert Client().post(address, headers={"X-Unsent": "1"}).status_code in (401, 403)


def test_a_press_that_is_still_to_come_is_asked_about(site, browser_of):
    here = browser_of(site)
    page = shown(here, NEW)
    data = CHARGE | {"charged_at": "now", "sending": token_of(page), "pressed": "2031-01-01T00:00:00Z"}
    asked = here.post(NEW, data).content.decode()
    assert "2031" in asked
    assert not Record.objects.filter(kind="spirit_run").exists()


@pytest.mark.parametrize("pressed", ["", "yesterday", "2027-03-03T08:07:31", "2027-13-03T08:07:31Z", "9" * 5000])
def test_a_press_that_says_no_moment_is_none(site, browser_of, pressed):
    here, record = browser_of(site), charged_run(site)
    address = f"/records/spirit_run/{record.number}/reading/"
    page = shown(here, address)
    quantity = re.findall(r'name="([a-z_]+)"[^>]*class="[^"]*width-8', page)[0]
    data = {"at": "2027-03-03 09:00", quantity: "70.2", "sending": token_of(page), "pressed": pressed}
    assert here.post(address, data).status_code == 302
    assert Reading.objects.get().at.hour == 9
