"""The plant page in the sample month: the line of vessels, the account points, the balance of the site."""

from __future__ import annotations

import re
from typing import Any

import pytest

from distillery import figures
from distillery.clock.reading import books_now
from ledger.periods.calendar import Calendar
from ledger.statements.account_points import account_points
from ledger.statements.month import month_account, site_line

pytestmark = pytest.mark.django_db


def test_the_site_alone_is_the_site_of_the_month(loaded_month: Any) -> None:
    assert site_line("2027-03") == month_account("2027-03").site


def test_each_point_is_the_last_of_its_operation(loaded_month: Any) -> None:
    """By the month's own tables: the last of 20 wash and 20 spirit runs, of 11 transfers, of 2 fills."""
    points = {one.left.operation: one for one in account_points()}
    records = {name: one.left.record for name, one in points.items()}
    assert records.items() >= {
        ("wash run", "WR0020"),
        ("spirit run", "SR0020"),
        ("cask fill", "CF0002"),
        ("bottling", "BO0001"),
    }
    for one in points.values():
        assert one.sent_ul - one.received_ul == one.left.difference_ul
        assert one.sent_ul > 0


def test_the_page_has_figures_beside_each_vessel(loaded_month: Any, officer: Any, browser_of: Any) -> None:
    page = browser_of(officer).get("/plant/").content.decode()
    assert page.count('<svg xmlns="http://www.w3.org/2000/svg" class="vessel') == 21
    washback = re.search(r'class="of-vessel"><a href="[^"]+">WB1</a>.*?</li>', page, re.DOTALL)
    assert washback is not None
    assert re.search(r"\([\d,.]+\) <span class=.unit.>L</span>", washback[0])
    assert re.search(r"ferments \d+ h", washback[0])
    assert "style=" not in page
    site = site_line(Calendar.read().period_of(books_now()))
    assert figures.lpa(site.should_be_ul) in page
    assert "Oldest figure of a vessel" in page
    listed = b"".join(browser_of(officer).get("/plant/?as=csv").streaming_content).decode()
    assert "WB1" in listed
    assert "ferments" in listed


def test_a_plant_without_vessels_says_what_to_do(db: Any, officer: Any, browser_of: Any) -> None:
    page = browser_of(officer).get("/plant/").content.decode()
    assert "No vessels are set up" in page
    assert "Nothing has passed an account point yet" in page
