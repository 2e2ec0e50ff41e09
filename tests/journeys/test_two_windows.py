"""Two people at two windows correct the same record, and one clicks Save twice: nothing is lost and nothing doubled."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from distillery.management.demonstration import GUESTS


def window_of(browser: Any, site: str, role: str) -> Any:
    """A window of its own at which somebody has signed on."""
    guest = next(guest for guest in GUESTS if guest.role == role)
    context = browser.new_context(base_url=site, locale="en-GB", timezone_id="Europe/London")
    context.set_default_timeout(10_000)
    window = context.new_page()
    window.goto("/sign-on/")
    window.fill("input[name=username]", guest.username)
    window.fill("input[name=password]", guest.password)
    window.press("input[name=password]", "Enter")
    window.wait_for_url(lambda url: "/sign-on/" not in url)
    return window


def test_two_correct_one_record_and_the_second_chooses(browser: Any, site: str, axe: Callable[[Any], None]) -> None:
    one, two = window_of(browser, site, "staff"), window_of(browser, site, "manager")
    address = "/records/mash/MA0001/correct/"
    one.goto(address)
    two.goto(address)
    before = one.locator("[name=husk_percent]").input_value()
    one.locator("[name=wort_celsius]").fill("18.1")
    one.locator("[name=husk_percent]").fill("20.3")
    one.locator("[name=reason]").fill("thermometer read again")
    one.get_by_role("button", name="Save correction").click()
    one.wait_for_url(re.compile("/records/mash/MA0001/$"))
    two.locator("[name=husk_percent]").fill("20.7")
    two.locator("[name=reason]").fill("sieved again")
    two.locator("[name=reason]").press("F8")
    table = two.get_by_role("region", name=re.compile("Written meanwhile"))
    row = table.get_by_role("row", name=re.compile("usk"))
    assert before in row.inner_text()
    assert "20.7" in row.inner_text()
    assert "20.3" in row.inner_text()
    assert two.locator("[name=husk_percent]").input_value() == "20.7"
    assert two.locator("[name=wort_celsius]").input_value() == "18.1"
    axe(two)
    with two.expect_navigation():
        row.get_by_role("button", name=re.compile("Take theirs")).click()
    assert two.locator("[name=husk_percent]").input_value() == "20.3"
    with two.expect_navigation():
        row.get_by_role("button", name=re.compile("Take yours")).click()
    assert two.locator("[name=husk_percent]").input_value() == "20.7"
    two.get_by_role("button", name="Save correction").last.click()
    two.wait_for_url(re.compile("/records/mash/MA0001/$"))
    text = two.locator("main").inner_text()
    for words in ("18.1", "20.7", "sieved again", "thermometer read again"):
        assert words in text
    for window in (one, two):
        window.context.close()


def test_a_double_click_writes_once(browser: Any, site: str) -> None:
    page = window_of(browser, site, "staff")
    page.goto("/records/intake/")
    there = page.locator("main table tbody tr").count()
    page.goto("/records/intake/new/")
    page.locator("[name=kilograms]").fill("10000")
    page.get_by_role("button", name="Save").last.dblclick()
    page.wait_for_url(re.compile(r"/records/intake/[A-Z0-9]+/$"))
    page.goto("/records/intake/")
    assert page.locator("main table tbody tr").count() == there + 1
    page.context.close()
