"""A stock take in the browser: planned, casks scanned, a vat apart counted again, its reason, two names, posted.

The demonstration's month is invented; the dips are of the journey.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

Look = Callable[[Any], None]
SignOn = Callable[[str], Any]
TAKE = "/stock-takes/1/"


def test_a_stock_take_from_its_plan_to_two_names(sign_on: SignOn, page: Any, axe: Look) -> None:
    sign_on("staff")
    page.goto("/stock-takes/")
    assert "No stock was taken yet" in page.locator("main").inner_text()
    axe(page)
    page.click("text=Start a stock take")
    # Nothing is chosen: it says what to do.
    page.click("button:text('Start counting')")
    assert "Nothing is to be counted" in page.locator(".error-summary").inner_text()
    axe(page)
    page.check("text=SV Spirit vat")
    page.check("label:text-is('2B')")
    page.check("text=gin, 70 cl")
    page.fill("[name=weigh_one_in]", "0")
    page.click("button:text('Start counting')")
    page.wait_for_url(f"**{TAKE}")
    axe(page)

    # The vat, too low by 174 mm: apart, counted again, then a reason.
    page.click("main >> text=Vessels")
    page.click("text=Count the next one")
    assert "3,998" not in page.locator("main").inner_text()
    axe(page)
    _gauge(page, "1000")
    text = page.locator("main").inner_text()
    assert "COUNT AGAIN" in text.upper()
    assert "3,998.26 LPA" in text
    assert page.locator("[name=reason]").count() == 0
    _gauge(page, "1000")
    axe(page)
    page.fill("[name=reason]", "a hose was left open")
    page.click("text=Save the reason")
    page.wait_for_url(f"**{TAKE}vessels/")

    # Casks by scan, one that there is not, and the rest by ticks.
    page.goto(f"{TAKE}casks/?in=2B")
    axe(page)
    first = page.get_attribute("#seen-1", "value")
    with page.expect_navigation():
        page.keyboard.type("9999/9\n")
    page.locator(".error-summary").wait_for()
    assert page.input_value("[name=cask]") == "9999/9"
    page.fill("[name=cask]", first)
    page.press("[name=cask]", "Enter")
    page.wait_for_url(re.compile(r"/casks/\?in=2B$"))
    assert f"{first} seen" in page.locator("main").inner_text()
    while True:
        page.goto(f"{TAKE}casks/?in=2B&left=1")
        ticks = page.locator("input[name=seen]")
        if not ticks.count():
            break
        for place in range(ticks.count()):
            ticks.nth(place).check()
        page.click("text=Save what is ticked")
        page.locator("text=casks seen").wait_for()

    # Bottles agree.
    page.goto(f"{TAKE}bottles/")
    page.click("text=Count the next one")
    page.fill("[name=bottles]", "490")
    page.press("[name=bottles]", "Enter")
    page.wait_for_url(f"**{TAKE}bottles/")
    assert "agrees with the book" in page.locator("main").inner_text()

    page.goto(TAKE)
    page.click("button:text('All is counted')")
    page.get_by_text("1 of 2", exact=True).wait_for()
    axe(page)
    assert page.locator("button:text-is('Agree and post')").count() == 1
    page.fill("[name=second_name]", "isla")
    page.fill("[name=second_password]", "middle-cut-70")
    page.click("button:text-is('Agree and post')")
    page.locator("main >> text=Posted").first.wait_for()
    text = page.locator("main").inner_text()
    assert "ST0002" in text
    assert "Isla Venmore" in text
    axe(page)
    page.goto("/stock/")
    axe(page)
    assert "3,364.37" in page.locator("main").inner_text()


def test_stock_takes_fit_a_narrow_screen_by_day_and_by_night(sign_on: SignOn, page: Any, axe: Look) -> None:
    sign_on("manager")
    page.set_viewport_size({"width": 360, "height": 800})
    for address in ("/stock-takes/", "/stock-takes/new/?all=1", "/stock/", TAKE, f"{TAKE}casks/?in=2B"):
        for theme in ("Day", "Night"):
            page.goto(address)
            button = page.locator(f"button:text-is('{theme}')")
            if button.count():
                button.first.click()
            wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
            assert wide <= 0, f"{address} scrolls sideways by {wide}"
            axe(page)


def _gauge(page: Any, dip: str) -> None:
    page.fill("[name=gauge_dip_mm]", dip)
    page.fill("[name=gauge_celsius]", "16.8")
    page.fill("[name=gauge_hydrometer_percent]", "67.2")
    # The address stays the same, and the page says 'saved' before as well as after.
    with page.expect_navigation():
        page.press("[name=gauge_hydrometer_percent]", "Enter")
