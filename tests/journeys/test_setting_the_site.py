"""A manager sets a figure of the demonstration's site anew, by keyboard, by night and on a narrow screen."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from playwright.sync_api import expect

from tests.journeys.test_first_month import shot

Look = Callable[[Any], None]
SignOn = Callable[[str], Any]
PAGES = (
    "/site/",
    "/site/first-month/",
    "/site/people/",
    "/site/people/new/",
    "/site/due/",
    "/site/figures/thresholds/",
    "/site/figures/details/new/",
    "/site/figures/asked/",
    "/site/figures/usual/new/",
    "/plant/vessels/new/",
)


def test_a_threshold_is_set_anew_by_the_keyboard(sign_on: SignOn, axe: Look) -> None:
    page = sign_on("manager")
    page.goto("/site/figures/thresholds/")
    axe(page)
    page.get_by_role("link", name="Transfer", exact=True).focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/thresholds/new/?row=*")
    assert page.evaluate("document.activeElement.name") == "operation"
    page.locator("[name=threshold_percent]").focus()
    page.keyboard.press("Control+A")
    page.keyboard.type("0,8")
    page.locator("[name=from_day]").focus()
    page.keyboard.type("2027-04-01")
    page.keyboard.press("Tab")
    page.keyboard.type("a year of transfers (invented)")
    page.keyboard.press("Enter")
    # Why is still blank: it is said beside its box, and all that was typed is there.
    expect(page.locator(".field-error")).to_contain_text("This is blank")
    assert page.input_value("[name=threshold_percent]") == "0,8"
    axe(page)
    shot(page, "setting-error")
    page.locator("[name=reason]").focus()
    page.keyboard.type("our hoses drain well")
    page.keyboard.press("Enter")
    page.wait_for_url("**/site/figures/thresholds/")
    expect(page.locator("main")).to_contain_text("Waits for a second person, 1 of 2")
    expect(page.locator("table")).not_to_contain_text("our hoses drain well")
    # The second person is here: they see both figures and sign without taking the pen.
    with page.expect_navigation():
        page.get_by_role("link", name="Set a review threshold: transfer").press("Enter")
    expect(page.locator("main")).to_contain_text("What holds, and what would")
    axe(page)
    shot(page, "setting-waits")
    page.locator("[name=second_name]").fill("brodie")
    page.locator("[name=second_password]").fill("low-wines-24")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    expect(page.locator("main")).to_contain_text("Review threshold of transfer set")
    expect(page.locator("table")).to_contain_text("our hoses drain well")
    expect(page.locator("table")).to_contain_text("Brodie")
    shot(page, "setting-set")


def test_pages_of_the_site_by_night_and_on_a_narrow_screen(sign_on: SignOn, axe: Look) -> None:
    page = sign_on("manager")
    page.get_by_role("button", name="Night").click()
    page.set_viewport_size({"width": 360, "height": 740})
    for number, address in enumerate(PAGES):
        page.goto(address)
        axe(page)
        wider = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert wider <= 0, f"{address} is wider than the screen by {wider}"
        shot(page, f"site-night-{number}")
