"""A figure of the site that waits for a second person is found from This shift, from the books and on paper."""

from __future__ import annotations

import io
from typing import Any

import pytest
from django.urls import reverse
from pypdf import PdfReader

from batches.pages.setting_up import asked as _declared  # noqa: F401
from distillery.people.models import Person
from distillery.rules.setting import two_hands
from distillery.rules.site_facts import FigureAsked
from distillery.seals.writing import signed as sealed
from tests.batches.pages.test_site_settings import THRESHOLD, new, text

pytestmark = pytest.mark.django_db
WHAT = "Set a review threshold: transfer"
ALONE = "alone may write at this site"


@pytest.fixture
def in_use(site: Any) -> None:
    """Books in which something is posted, so that a figure needs two people."""
    assert two_hands.needed()


@pytest.fixture
def waits(in_use: None, manager: Person, browser_of: Any) -> FigureAsked:
    """A threshold that the manager asked for, and nobody agreed to."""
    browser_of(manager).post(new("thresholds"), THRESHOLD)
    return FigureAsked.objects.get()


def test_this_shift_leads_whoever_writes_to_it_until_it_is_answered(in_use, manager, staff, officer, browser_of):
    here, shift = browser_of(staff), reverse("shift")
    assert "Figures asked for" not in text(here.get(shift))
    browser_of(manager).post(new("thresholds"), THRESHOLD)
    [waits] = two_hands.waiting()
    page = text(here.get(shift))
    assert "Figures asked for" in page
    assert f'<a href="{reverse("figure_waiting", args=[waits.pk])}">{WHAT}</a>' in page
    assert f"asked for by {manager.shown_name}" in page
    assert WHAT not in text(browser_of(officer).get(shift)), "who reads cannot agree"
    two_hands.refuse(waits, person=staff, reason="no need")
    assert "Figures asked for" not in text(here.get(shift))


def test_the_page_of_the_books_says_how_many_wait(waits, manager, staff, browser_of):
    here, books = browser_of(manager), reverse("books")
    page = text(here.get(books))
    assert f'<a href="{reverse("figures_waiting")}">1 figure asked for</a>' in page
    assert f"the first by {manager.shown_name}" in page
    two_hands.refuse(waits, person=staff, reason="no need")
    assert "figure asked for" not in text(here.get(books))


@sealed("tests")
def _gone_but(one: Person) -> None:
    Person.objects.exclude(pk=one.pk).update(is_active=False)


@pytest.mark.parametrize("page", ["thresholds", ""])
def test_paper_says_that_one_person_alone_may_write(page, waits, manager, browser_of):
    here = browser_of(manager)
    address = reverse("site_setting", args=[page]) if page else reverse("figures_waiting")

    def on_paper() -> str:
        found = PdfReader(io.BytesIO(here.get(address, {"as": "pdf"}).getvalue())).pages[0].extract_text()
        return " ".join(found.split())

    assert ALONE not in on_paper()
    _gone_but(manager)
    assert f"{manager.shown_name} {ALONE}" in on_paper()


def test_paper_of_a_figure_that_one_person_sets_does_not_say_so(waits, manager, browser_of):
    _gone_but(manager)
    answer = browser_of(manager).get(reverse("site_setting", args=["causes"]), {"as": "pdf"})
    assert ALONE not in " ".join(PdfReader(io.BytesIO(answer.getvalue())).pages[0].extract_text().split())
