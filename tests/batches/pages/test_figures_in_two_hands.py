"""A figure by which the books are judged is set in two hands: it waits, is agreed to or refused, never by itself."""

from __future__ import annotations

import json
from datetime import date, timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from batches.pages.setting_up import asked as _declared  # noqa: F401
from batches.pages.setting_up.declared import FORMS
from distillery.people.models import Person
from distillery.rules import in_force
from distillery.rules.models import ReviewThreshold
from distillery.rules.setting import entering, two_hands
from distillery.rules.site_facts import Entered, FigureAnswered, FigureAsked
from distillery.seals.writing import signed as sealed
from tests.batches.pages.test_site_settings import THRESHOLD, new, text
from tests.conftest import PASSWORD
from tests.people import agreed_by

pytestmark = pytest.mark.django_db
ON = date(2027, 5, 10)


def holds() -> int:
    """The review threshold of transfers on the day, in millionths."""
    in_force.let_go()
    return in_force.review_threshold("transfer", "", ON).threshold_millionths


@pytest.fixture
def waits(site: Any, manager: Any, browser_of: Any) -> FigureAsked:
    """A threshold that the manager asked for, and nobody agreed to."""
    said = text(browser_of(manager).post(new("thresholds"), THRESHOLD, follow=True))
    assert "Waits for a second person, 1 of 2" in said
    assert "Set a review threshold: transfer" in said, "the list says what waits"
    return FigureAsked.objects.get()


def page(here: Any, asked: FigureAsked) -> str:
    return text(here.get(reverse("figure_waiting", args=[asked.pk])))


def agree(here: Any, asked: FigureAsked, **more: str) -> str:
    """Presses Agree with what the page had."""
    seen = here.get(reverse("figure_waiting", args=[asked.pk])).context["seen"]
    sent = {} if seen is None else {"seen": seen.digest, "seen_words": seen.words}
    return text(here.post(reverse("figure_agree", args=[asked.pk]), sent | more, follow=True))


def test_what_was_before_holds_until_somebody_else_agrees(waits, manager, staff, browser_of):
    before = holds()
    assert before == 9_000, "what came with the program"
    own = page(browser_of(manager), waits)
    assert "1 of 2" in own
    here = browser_of(staff)
    seen = page(here, waits)
    assert "0.9" in seen
    assert "0.8" in seen
    assert THRESHOLD["reason"] in seen
    assert holds() == before
    assert f"Review threshold of transfer set; it holds from Mon 10 May 2027. {staff.shown_name} agreed." in agree(
        here, waits
    )
    assert holds() == 8_000
    entered = Entered.objects.get(person=manager)
    answered = FigureAnswered.objects.get()
    assert (answered.agreed, answered.person, answered.row) == (True, staff, entered.row)
    agree(here, waits)
    assert ReviewThreshold.objects.filter(source=THRESHOLD["source"]).count() == 1


def test_nobody_agrees_to_what_they_asked_for(waits, manager, officer, browser_of):
    assert "You asked for this figure yourself" in agree(browser_of(manager), waits)
    assert "You asked for this figure yourself" in agree(browser_of(manager), waits, **agreed_by(manager))
    assert "may not write" in agree(browser_of(manager), waits, **agreed_by(officer))
    assert browser_of(officer).post(reverse("figure_agree", args=[waits.pk]), {}).status_code == 403
    assert "Agree" not in page(browser_of(officer), waits).split("<main")[1]
    assert holds() == 9_000


def test_the_second_person_agrees_in_place(waits, manager, staff, browser_of):
    here = browser_of(manager)
    wrong = agree(here, waits, second_name=staff.username, second_password="not-this-one")
    assert holds() == 9_000
    assert "agreed." not in wrong
    assert f"{staff.shown_name} agreed." in agree(here, waits, second_name=staff.username, second_password=PASSWORD)
    assert holds() == 8_000


def test_it_is_refused_with_a_reason_and_stays_on_record(waits, manager, staff, browser_of):
    here = browser_of(staff)
    refuse = reverse("figure_refuse", args=[waits.pk])
    assert "This is blank" in text(here.post(refuse, {"reason": " "}))
    assert "Refused: what held before holds." in text(here.post(refuse, {"reason": "too wide"}, follow=True))
    assert "has refused it already" in text(here.post(refuse, {"reason": "again"}))
    assert holds() == 9_000
    assert two_hands.waiting() == []
    seen = text(browser_of(manager).get(reverse("figures_waiting")))
    assert "too wide" in seen
    assert "refused" in seen


def test_who_asked_takes_it_back(waits, manager, browser_of):
    refuse = reverse("figure_refuse", args=[waits.pk])
    assert "Taken back" in text(browser_of(manager).post(refuse, {"reason": "mistyped"}, follow=True))
    assert "Taken back by" in page(browser_of(manager), waits)


def test_a_page_that_has_moved_on_signs_nothing(waits, manager, staff, browser_of):
    here = browser_of(staff)
    seen = here.get(reverse("figure_waiting", args=[waits.pk])).context["seen"]
    other = THRESHOLD | agreed_by(staff) | {"threshold_percent": "0.7", "source": "other"}
    browser_of(manager).post(new("thresholds"), other)
    answer = text(here.post(reverse("figure_agree", args=[waits.pk]), {"seen": seen.digest, "seen_words": seen.words}))
    assert "What has changed since the page was made" in answer
    assert holds() == 7_000
    assert waits in two_hands.waiting()


def test_a_day_that_was_closed_meanwhile_is_refused_as_it_is_agreed_to(waits, staff, browser_of, monkeypatch):
    monkeypatch.setattr(entering, "last_closed_day", [lambda: date(2027, 5, 31)])
    assert "Everything to Mon 31 May 2027 is closed" in agree(browser_of(staff), waits)
    assert not FigureAnswered.objects.exists()


def test_what_could_not_be_entered_is_not_asked_for(site, manager, browser_of, monkeypatch):
    monkeypatch.setattr(entering, "last_closed_day", [lambda: date(2027, 5, 31)])
    answer = text(browser_of(manager).post(new("thresholds"), THRESHOLD))
    assert "Everything to Mon 31 May 2027 is closed" in answer
    assert not FigureAsked.objects.exists()
    assert not Entered.objects.filter(person=manager).exists()


def test_a_wrong_second_person_loses_nothing_that_was_typed(site, manager, staff, browser_of):
    wrong = {"second_name": staff.username, "second_password": "not-this-one"}
    answer = text(browser_of(manager).post(new("thresholds"), THRESHOLD | wrong))
    assert 'value="0.8"' in answer
    assert f'value="{staff.username}"' in answer
    assert "not-this-one" not in answer
    assert not FigureAsked.objects.exists()


def test_name_and_causes_need_one_person_and_all_else_two():
    assert {kind for kind, form in FORMS.items() if not form.two_hands} == {"details", "causes"}


def test_while_nothing_is_posted_one_person_sets_up_the_site(manager, browser_of):
    assert not two_hands.needed()
    browser_of(manager).post(new("thresholds"), THRESHOLD)
    assert holds() == 8_000
    assert not FigureAsked.objects.exists()


def test_a_site_of_one_writer_is_told_so_and_nothing_is_agreed_to_by_itself(waits, manager, browser_of):
    _gone_but(manager)
    here = browser_of(manager)
    for address in (
        new("thresholds"),
        reverse("figure_waiting", args=[waits.pk]),
        reverse("figures_waiting"),
        reverse("site_setting", args=["thresholds"]),
    ):
        assert f"{manager.shown_name} alone may write at this site" in text(here.get(address))
    assert holds() == 9_000


@sealed("tests")
def _gone_but(one: Person) -> None:
    Person.objects.exclude(pk=one.pk).update(is_active=False)


def test_what_waits_longer_than_a_week_is_on_the_list_of_the_month(waits, staff):
    from batches.audit.closing import records_not_ready

    begins = timezone.now()
    assert not any("asked for waits" in one.sentence for one in records_not_ready(begins, begins))
    assert not two_hands.waits_long(waits, waits.asked_at + timedelta(days=7))
    assert two_hands.waits_long(waits, waits.asked_at + timedelta(days=7, seconds=1))


@pytest.mark.parametrize(
    ("kind", "boxes", "stood"),
    [
        (
            "rate",
            {
                "from_day": "2027-02-01",
                "strength_from_percent": "22.1",
                "strength_to_percent": "100",
                "pounds_per_lpa": "35.01",
                "source": "invented",
            },
            "nothing held",
        ),
        # Law: SI 2006/659, schedule 2: what may be missing of 200 to 300 mL is 9 mL.
        ("packages", {"from_day": "2027-06-01", "bands": "5 - 5 %", "source": "invented"}, "200 300 9 mL"),
        # Law: SI 2009/663: spirits of 100 to 2000 mL in listed sizes alone.
        (
            "sizes",
            {
                "from_day": "2027-06-01",
                "sizes": "700",
                "listed_from_ml": "100",
                "listed_to_ml": "2000",
                "source": "invented",
            },
            "100 200 350 500 700 1000 1500 1750 2000",
        ),
    ],
)
def test_what_the_law_sets_waits_too_beside_what_holds(site, manager, staff, browser_of, kind, boxes, stood):
    name = {"rate": "duty_rate_new", "packages": "package_errors_new", "sizes": "bottle_sizes_new"}[kind]
    answer = text(browser_of(manager).post(reverse(name), boxes, follow=True))
    assert "Waits for a second person" in answer
    waits = FigureAsked.objects.get()
    assert json.loads(waits.boxes)["source"] == "invented"
    seen = page(browser_of(staff), waits)
    assert stood in seen
    assert f"{staff.shown_name} agreed." in agree(browser_of(staff), waits)
