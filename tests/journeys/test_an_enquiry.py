"""From a finding to its answer: proposed by one person, agreed to by another at the same PC, posted to the books.

The demonstration's month is invented, and so is the spill that the two of them settle on.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from distillery.management.demonstration import GUESTS
from distillery.people.roles import MANAGER

Look = Callable[[Any], None]
SignOn = Callable[[str], Any]

MONTH = "/books/months/2027-03/"
SLIP = "SR0007"


def figure_of(page: Any, table: str, name: str) -> float:
    """The litres of pure alcohol beside a name in a table of the month's account, missing positive; 0 where it is not
    there."""
    row = page.locator(f"table:has(caption#{table}-caption) tr").filter(has=page.get_by_text(name, exact=True))
    if row.count() == 0:
        return 0.0
    amount, _, way = row.first.locator("td").first.inner_text().replace(",", "").partition(" ")
    return -float(amount) if way == "over" else float(amount)


def test_a_finding_is_answered_by_two_people_and_the_month_shows_it(sign_on: SignOn, axe: Look) -> None:
    page = sign_on("staff")
    page.goto(MONTH)
    lost, apart = figure_of(page, "losses", "Spillage"), figure_of(page, "differences", "Spirit run")
    assert lost == 0.0

    page.goto("/books/findings/?month=2027-03")
    axe(page)
    page.get_by_role("link", name=SLIP).first.click()
    page.wait_for_url(re.compile(r"/books/enquiries/EQ\d{4}/$"))
    axe(page)
    page.get_by_role("link", name="Write down what was checked").click()
    page.get_by_label("Something was checked").check()
    page.get_by_label("In your words").fill("Floor and seal of the receiver looked at.")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Floor and seal of the receiver looked at.").wait_for()

    with page.expect_navigation():
        page.get_by_role("link", name="It is something else").click()
    axe(page)
    page.get_by_role("button", name="End it").click()
    page.get_by_text(re.compile(r"\d+ things? to put right")).wait_for()
    page.get_by_label("What was checked").fill("Floor and seal of the receiver; the vat was gauged again.")
    page.get_by_label("Reason").fill("The receiver ran over through a worn seal.")
    page.get_by_label("Cause", exact=True).select_option("spillage")
    page.get_by_label("Product").fill("new spirit")
    page.get_by_label(re.compile("^Strength")).fill("70.4")
    page.get_by_role("button", name="End it").click()
    page.get_by_role("heading", name="Waits for a second person").wait_for()
    axe(page)

    second = next(guest for guest in GUESTS if guest.role == MANAGER)
    page.get_by_label("Name of the second person").fill(second.username)
    page.get_by_label("Password of the second person").fill("not this")
    page.get_by_role("button", name="Agree").click()
    page.get_by_text("Name and password do not belong together").first.wait_for()
    page.get_by_label("Name of the second person").fill(second.username)
    page.get_by_label("Password of the second person").fill(second.password)
    page.get_by_role("button", name="Agree").click()
    page.wait_for_url(re.compile(r"/books/enquiries/EQ\d{4}/$"))
    page.get_by_text("Answered: spillage").wait_for()
    axe(page)

    page.goto(MONTH)
    moved = figure_of(page, "losses", "Spillage")
    assert moved > 190
    assert abs(apart - figure_of(page, "differences", "Spirit run") - moved) < 0.02
    page.goto("/books/losses/?month=2027-03")
    assert page.get_by_role("cell", name="spillage").first.is_visible()
    axe(page)


def test_the_leaking_cask_is_found_by_its_band(sign_on: SignOn, axe: Look) -> None:
    page = sign_on("officer")
    page.goto("/warehouse/")
    with page.expect_navigation():
        page.get_by_role("link", name="Casks and their bands").click()
    axe(page)
    first = page.locator("tbody tr").first
    assert "2022/0007" in first.inner_text()
    assert "look for a leak" in first.inner_text()
