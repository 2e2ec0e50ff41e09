"""Which PC a draft belongs to: one answer for enrolled PCs and others, and nobody's name for what a locked PC sends."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
import time_machine

from distillery.drafts.keeping import Which, kept
from distillery.drafts.models import Draft
from distillery.drafts.pc import COOKIE
from distillery.pen.models import EnrolledPC
from distillery.pen.pcs import COOKIE as ENROLMENT
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db
BOX = {"key": "new/transfer/abc", "title": "New transfer", "address": "/", "box:from_before_dip_mm": "281"}
ENROL = {"name": "Still house PC", "place": "Still house", "idle_minutes": ""}


def keep(here, **box):
    return here.post("/drafts/keep/", {**BOX, **box})


def test_drafts_go_with_the_pc_as_it_is_enrolled_and_outlive_its_cookie(manager, browser_of):
    here = browser_of(manager)
    assert keep(here).status_code == 200
    before = Draft.objects.get().pc
    assert here.post("/site/pc/enrol/", ENROL).status_code == 302
    number = EnrolledPC.objects.get().token_digest
    assert Draft.objects.get().pc == number != before
    # The number without enrolment is not asked for any more.
    del here.cookies[COOKIE]
    assert keep(here, **{"box:to_before_dip_mm": "100"}).status_code == 200
    assert COOKIE not in here.cookies
    draft = kept(Which(number, BOX["key"]))
    assert draft is not None
    assert draft.values == {"from_before_dip_mm": "281", "to_before_dip_mm": "100"}


def test_they_are_there_still_once_the_enrolment_has_ended(manager, browser_of):
    here = browser_of(manager)
    here.post("/site/pc/enrol/", ENROL)
    keep(here)
    here.post("/site/pc/end/", {"pc": str(EnrolledPC.objects.get().pk)})
    assert EnrolledPC.objects.get().ended_at is not None
    here.post("/sign-on/", {"username": manager.username, "password": PASSWORD})
    assert "New transfer" in here.get("/").content.decode()


def test_another_enrolled_pc_has_none_of_them(manager, browser_of):
    here, there = browser_of(manager), browser_of(manager)
    here.post("/site/pc/enrol/", ENROL)
    keep(here)
    there.post("/site/pc/enrol/", {**ENROL, "name": "Mash house PC"})
    assert "New transfer" not in there.get("/").content.decode()
    there.cookies[ENROLMENT] = "made up by hand"
    assert "New transfer" not in there.get("/").content.decode()


def test_what_a_locked_pc_sends_is_kept_in_nobodys_name(manager, browser_of):
    with time_machine.travel(datetime.now(UTC), tick=False) as clock:
        here = browser_of(manager)
        here.post("/site/pc/enrol/", ENROL)
        clock.shift(400)
        answer = keep(here)
        assert answer.status_code == 423
        assert answer.json()["sentence"] == "The PC is locked; take the pen first."
        assert not Draft.objects.exists()
