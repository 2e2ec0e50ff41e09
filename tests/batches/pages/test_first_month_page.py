"""The list of what a new site does: ticked by what the books hold, in a small site and in one with nothing."""

from __future__ import annotations

import pytest
from django.urls import reverse

from batches.first_month import next_of, steps
from distillery.plant.models import Vessel
from distillery.rules.site_facts import Statement

pytestmark = pytest.mark.django_db


def done() -> dict[str, bool]:
    return {one.title: one.done for one in steps()}


def test_in_books_with_nothing_people_alone_are_ticked(manager, staff):
    assert [title for title, is_done in done().items() if is_done] == [
        "A first manager",
        "A second person who writes",
    ]
    found = next_of(steps())
    assert found is not None
    assert found.title == "The site's name, address and approval"
    vessels = next(one for one in steps() if one.title == "Vessels")
    assert vessels.said == "None yet. Still wanted for the line: 1 washback, 2 stills, 2 receivers."


def test_what_stands_in_the_books_is_ticked_by_itself(site):
    """The small site has washback, stills, receivers and vats with their tables, and an opening stock."""
    ticked = {title for title, is_done in done().items() if is_done}
    assert {"Vessels", "Tables of the vessels", "Opening stock"} <= ticked
    assert not {"First mash", "Instruments and their certificates", "Close the first month"} & ticked
    Vessel.objects.create(code="V9", name="Vat 9", kind="vat", stage="new spirit")
    tables = next(one for one in steps() if one.title == "Tables of the vessels")
    assert (tables.done, tables.said) == (False, "Without a table: V9.")


def test_a_statement_is_kept_with_the_name_of_who_made_it(site, manager, browser_of):
    here = browser_of(manager)
    page = here.get(reverse("first_month")).content.decode()
    assert "I have looked through them: they stand" in page
    for what in ("figures", "months"):
        assert here.post(reverse("first_month_state", args=[what])).status_code == 302
    assert set(Statement.objects.values_list("what", "person")) == {("figures", manager.pk), ("months", manager.pk)}
    assert done()["Review thresholds looked through"]
    assert done()["The first period of account"]
    page = here.get(reverse("first_month")).content.decode()
    assert "I have looked through them" not in page
    assert f"Looked through by {manager.shown_name}" in page
    assert here.post(reverse("first_month_state", args=["the moon"])).status_code == 404


def test_staff_see_the_list_and_state_nothing(site, staff, browser_of):
    page = browser_of(staff).get(reverse("first_month")).content.decode()
    assert "First mash" in page
    assert "We account by calendar months" not in page


def test_a_form_opened_from_the_list_leads_back_to_it(site, manager, browser_of):
    here = browser_of(manager)
    vessel = {"code": "V8", "name": "Vat 8", "kind": "vat", "stage": "new spirit", "lines": "0\t0\n1000\t2500"}
    answer = here.post(f"{reverse('vessel_new')}?then=first_month", vessel)
    assert answer["Location"] == reverse("first_month")
    assert Vessel.objects.get(code="V8").calibration.count() == 2
    wrong = here.post(reverse("vessel_new"), vessel | {"code": "V7", "lines": "0 0\n1000"})
    assert "Line 2, &#x27;1000&#x27;, is not two figures" in wrong.content.decode()
    assert here.post(f"{reverse('vessel_new')}?then=elsewhere", vessel | {"code": "V6"})["Location"] == reverse("plant")


def test_this_shift_of_books_with_nothing_leads_to_the_list(manager, browser_of):
    page = browser_of(manager).get("/").content.decode()
    assert "Nothing is written yet." in page
    assert reverse("first_month") in page
