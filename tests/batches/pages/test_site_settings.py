"""The pages on which a site sets its dated figures and looks after its people, in a small invented site."""

from __future__ import annotations

import csv
import io
from datetime import date
from typing import Any

import pytest
from django.urls import reverse

from batches.pages.setting_up import of_the_site as _declared  # noqa: F401
from batches.pages.setting_up.declared import SETTINGS
from batches.pages.setting_up.history import DatedTable
from distillery.people.changes import PersonChange
from distillery.people.models import Person
from distillery.rules import in_force
from distillery.rules.models import ReviewThreshold
from distillery.rules.setting import entering
from distillery.rules.site_facts import Entered, Interval, SiteDetails
from tests.people import agreed_by

pytestmark = pytest.mark.django_db

KINDS = (
    "details",
    "thresholds",
    "bands",
    "usual",
    "causes",
    "names",
    "reporting",
    "intervals",
)
THRESHOLD = {
    "operation": "transfer",
    "vessel": "",
    "usual_percent": "0.1",
    "usual_half_width_percent": "0.1",
    "spread_percent": "0.1",
    "threshold_percent": "0.8",
    "floor_lpa": "5",
    "from_day": "2027-05-10",
    "source": "a year of transfers, invented",
    "reason": "we know our hoses now",
}


def text(answer: Any) -> str:
    whole: bytes = answer.getvalue()
    return whole.decode("utf-8-sig")


def new(kind: str) -> str:
    return reverse("site_setting_new", args=[kind])


def test_every_kind_has_its_page_its_form_and_its_files(site, manager, browser_of):
    assert set(SETTINGS) >= set(KINDS)
    here = browser_of(manager)
    for kind in KINDS:
        page = text(here.get(reverse("site_setting", args=[kind])))
        assert SETTINGS[kind].title in page
        assert SETTINGS[kind].form.title in page
        assert issubclass(SETTINGS[kind].table, DatedTable)
        assert here.get(new(kind)).status_code == 200
        rows = list(csv.reader(io.StringIO(text(here.get(reverse("site_setting", args=[kind]), {"as": "csv"})))))
        assert {"Now", "Entered by", "Entered", "Why"} <= set(rows[0])
    assert here.get(reverse("site_setting", args=["nothing"])).status_code == 404


def test_a_return_is_reported_and_has_no_review_threshold(site, manager, browser_of):
    here = browser_of(manager)
    assert "Alcohol duty return" in text(here.get(new("reporting")))
    assert "Alcohol duty return" not in text(here.get(new("thresholds")))


def test_all_may_read_and_only_keepers_of_the_plant_may_set(site, staff, officer, administrator, stranger, browser_of):
    for person in (staff, officer):
        here = browser_of(person)
        page = text(here.get(reverse("site_setting", args=["thresholds"])))
        assert "Review thresholds" in page
        assert new("thresholds") not in page, "no way is shown to what would be refused"
        assert here.get(new("thresholds")).status_code == 403
        assert here.post(new("thresholds"), THRESHOLD).status_code == 403
        assert here.get(reverse("people")).status_code == (403 if person == staff else 200)
        assert here.get(reverse("person_new")).status_code == 403
        assert here.post(reverse("first_month_state", args=["months"])).status_code == 403
    assert browser_of(administrator).get(new("thresholds")).status_code == 200
    assert stranger.post(new("thresholds"), THRESHOLD).status_code in (302, 403)
    assert not Entered.objects.filter(person__isnull=False).exists()


def test_a_threshold_is_set_anew_beside_the_old_one(site, staff, manager, browser_of):
    here = browser_of(manager)
    old = in_force.review_threshold("transfer", "", date(2027, 5, 10))
    begun = text(here.get(new("thresholds"), {"row": old.pk}))
    assert 'value="0.9"' in begun, "the box begins with the threshold that stands"
    answer = here.post(new("thresholds"), THRESHOLD | agreed_by(staff), follow=True)
    assert "Review threshold of transfer set; it holds from Mon 10 May 2027." in text(answer)
    in_force.let_go()
    assert in_force.review_threshold("transfer", "", date(2027, 5, 10)).threshold_millionths == 8_000
    assert in_force.review_threshold("transfer", "", date(2027, 5, 9)).pk == old.pk
    rows = list(
        csv.DictReader(io.StringIO(text(here.get(reverse("site_setting", args=["thresholds"]), {"as": "csv"}))))
    )
    seen = ("Now", "Entered by", "Agreed by", "Why")
    assert [tuple(row[name] for name in seen) for row in rows if row["Operation"] == "Transfer"] == [
        ("no longer", "came with the program", "not asked", "not said"),
        ("in force", manager.shown_name, staff.shown_name, "we know our hoses now"),
    ]


def test_a_row_for_a_later_day_waits(site, staff, manager, browser_of):
    here = browser_of(manager)
    here.post(new("thresholds"), THRESHOLD | agreed_by(staff) | {"from_day": "1/6/2027"})
    rows = list(
        csv.DictReader(io.StringIO(text(here.get(reverse("site_setting", args=["thresholds"]), {"as": "csv"}))))
    )
    assert [row["Now"] for row in rows if row["Operation"] == "Transfer"] == ["in force", "not yet"]


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"reason": ""}, "This is blank: fill it in."),
        ({"source": ""}, "This is blank: fill it in."),
        ({"from_day": "soon"}, "This is not a day: write it as 2027-03-04."),
        ({"threshold_percent": "101"}, "101.0 % is more than the whole: give 0 to 100."),
        ({"threshold_percent": "much"}, "much"),
        ({"operation": "juggling"}, "juggling"),
    ],
)
def test_what_cannot_be_is_said_beside_its_box_and_what_was_typed_stays(site, manager, browser_of, changed, sentence):
    number = ReviewThreshold.objects.count()
    page = text(browser_of(manager).post(new("thresholds"), THRESHOLD | changed))
    assert "<title>Error: " in page
    assert sentence in page
    assert 'value="0.8"' in page or "threshold_percent" in changed
    assert ReviewThreshold.objects.count() == number


def test_a_day_of_a_closed_month_is_refused_with_the_first_open_day(site, manager, browser_of, monkeypatch):
    monkeypatch.setattr(entering, "last_closed_day", [lambda: date(2027, 4, 30)])
    page = text(browser_of(manager).post(new("thresholds"), THRESHOLD | {"from_day": "2027-04-30"}))
    assert "Everything to Fri 30 Apr 2027 is closed" in page
    assert "Set it from Sat 1 May 2027 on" in page
    assert not Entered.objects.filter(person=manager).exists()


def test_the_other_kinds_keep_what_was_typed_in_them(site, staff, manager, browser_of):
    here = browser_of(manager)
    same = {"from_day": "2027-05-10", "source": "invented", "reason": "for the test"}
    sent = {
        "details": {"name": "Underhill Stillhouse", "address": "2 Weir Lane", "approval_number": "HX 0007"},
        "bands": {"warehouse": "W1", "cask_kind": "barrel", "low_percent_a_year": "1.2", "high_percent_a_year": "2.8"},
        "usual": {"name": "run time", "expected": "8", "spread": "1"},
        "causes": {"name": "Burst hose"},
        "names": {
            "name": "gin",
            "code": "E23b",
            "said": "bottled strength",
            "measure": "bottled strength",
            "way": "at least",
            "limit": "37.5",
            "unit": "% vol",
        },
        "reporting": {
            "operation": "removal",
            "occasion": "always",
            "report": "a copy of the note to the office",
            "by_whom": "whoever sends",
            "until": "the same evening",
        },
        "intervals": {"what": "certificate, temperature", "months": "12"},
    }
    for kind, boxes in sent.items():
        answer = here.post(new(kind), boxes | same | agreed_by(staff))
        assert answer.status_code == 302, text(answer)
    assert Entered.objects.filter(person=manager, reason="for the test").count() == len(sent)
    assert SiteDetails.objects.get().approval_number == "HX 0007"
    assert "Underhill Stillhouse" in text(here.get(reverse("site"))), "every page bears the name from its day on"
    assert Interval.objects.filter(what="certificate, temperature").latest("pk").months == 12
    for kind in sent:
        row = SETTINGS[kind].model._default_manager.latest("pk")
        assert here.get(new(kind), {"row": row.pk}).status_code == 200


def test_site_says_how_long_records_are_kept_and_where_things_are_set(site, manager, browser_of):
    page = text(browser_of(manager).get(reverse("site")))
    assert "Records are kept 6 years" in page
    # The opening stock of the small site was gauged on 1 March 2027.
    assert "The oldest is of Mon 1 Mar 2027: kept until Tue 1 Mar 2033 at least." in page
    for kind in KINDS:
        assert reverse("site_setting", args=[kind]) in page
    assert reverse("first_month") in page


PERSON = {
    "first_name": "Fern",
    "last_name": "Ashby",
    "username": "f.ashby",
    "roles": ["staff"],
    "password": "a-copper-lantern-9",
    "password_again": "a-copper-lantern-9",
    "reason": "writes on the day shift",
}


def about(what: str) -> str:
    return reverse("person_about", args=["f.ashby", what])


def test_a_person_is_made_ended_and_brought_back_on_pages(site, manager, browser_of):
    here = browser_of(manager)
    page = text(here.post(reverse("person_new"), PERSON | {"password_again": "another"}))
    assert "The two passwords are not the same" in page
    assert "a-copper-lantern-9" not in page, "no password is given back"
    assert not Person.objects.filter(username="f.ashby").exists()
    assert "Fern Ashby may sign on as f.ashby." in text(here.post(reverse("person_new"), PERSON, follow=True))
    here.post(about("roles"), {"roles": ["staff", "manager"], "reason": "leads the shift"})
    assert "fill it in" in text(here.post(about("end"), {"reason": ""}))
    here.post(about("end"), {"reason": "left the site"})
    page = text(here.get(reverse("person", args=["f.ashby"])))
    assert "may no longer sign on" in page
    assert about("back") in page
    assert about("end") not in page
    secret = {"password": "another-lantern-10", "password_again": "another-lantern-10"}
    here.post(about("back"), secret | {"reason": "came back"})
    done = PersonChange.objects.filter(person__username="f.ashby")
    assert list(done.values_list("what", flat=True)) == ["made", "roles", "ended", "back"]
    assert {one.by_id for one in done} == {manager.pk}
    listed = text(here.get(reverse("people")))
    for said in ("writes on the day shift", "leads the shift", "left the site", "came back"):
        assert said in listed
