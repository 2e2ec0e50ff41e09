"""Lists as people meet them in a browser: wide and narrow windows, sorting, filtering, and the find box by keyboard."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

Look = Callable[[Any], None]
SignOn = Callable[[str], Any]

PAGES = (
    "/books/movements/",
    "/warehouse/",
    "/warehouse/expected/",
    "/bottling/",
    "/books/accounts/",
    "/books/accounts/SV/?month=2027-03",
    "/books/findings/?month=2027-03",
    "/books/losses/?month=2027-03",
    "/plant/instruments/",
    "/",
)


@pytest.mark.parametrize("size", [(1366, 768), (320, 640)], ids=["wide", "narrow"])
def test_no_list_makes_the_page_itself_go_sideways(sign_on: SignOn, axe: Look, size: tuple[int, int]) -> None:
    page = sign_on("manager")
    page.set_viewport_size({"width": size[0], "height": size[1]})
    for address in PAGES:
        page.goto(address)
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0], address
        for window in page.locator(".list-scroll").all():
            # As tall as its lines: nothing of a list lies below the edge of a window of its own.
            assert window.evaluate("one => one.scrollHeight - one.clientHeight") <= 1, address
    axe(page)


def test_a_list_says_that_it_goes_on_and_is_sorted_and_filtered(sign_on: SignOn, axe: Look) -> None:
    page = sign_on("manager")
    page.goto("/books/movements/")
    assert page.locator(".goes-on").inner_text() == "The first 50 lines: the list goes on after them."
    axe(page)
    with page.expect_navigation():
        page.get_by_role("link", name="Last lines").click()
    assert page.locator("tbody th").last.inner_text() == "1"
    with page.expect_navigation():
        page.locator("thead a", has_text="Movement").click()
    assert page.locator("tbody th").first.inner_text() == "1"
    page.get_by_label("Vessel or cask").fill("sv")
    page.get_by_label("Month").fill("2027-03")
    with page.expect_navigation():
        page.get_by_role("button", name="Show").click()
    assert page.locator("tfoot").inner_text().startswith("Total")
    with page.expect_navigation():
        page.get_by_role("link", name="Clear the filter").click()
    assert page.locator("tfoot").count() == 0


def test_a_stroke_goes_to_the_find_box_and_a_number_without_noughts_to_its_record(sign_on: SignOn) -> None:
    page = sign_on("staff")
    page.goto("/warehouse/")
    page.keyboard.press("/")
    assert page.evaluate("document.activeElement.id") == "find"
    page.keyboard.type("sr7")
    page.keyboard.press("Enter")
    page.wait_for_url("**/records/spirit_run/SR0007/")
    page.goto("/warehouse/")
    box = page.get_by_label("Number has")
    box.focus()
    page.keyboard.type("2022/")
    assert box.input_value() == "2022/"
