"""A manager reads a month and the board on the real server: what blocks the close first, and by keyboard."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

SignOn = Callable[[str], Any]
Look = Callable[[Any], None]


def test_what_blocks_the_close_stands_first_and_leads_there(sign_on: SignOn, axe: Look) -> None:
    page = sign_on("manager")
    page.goto("/books/months/2027-03/")
    main = page.locator("main")
    headings = main.locator("h2").all_inner_texts()
    assert headings[0].startswith("Before March 2027 can close: ")
    blocks = main.locator(".before-close li").all_inner_texts()
    musts = ["settle first" in one.lower() for one in blocks]
    assert musts == sorted(musts, reverse=True), "what must be settled stands before what needs a remark"
    assert "Alcohol Duty return due" in main.inner_text()
    axe(page)
    page.keyboard.press("Tab")
    link = main.locator(".before-close a").first
    link.focus()
    name = link.inner_text().removeprefix("Answer ")
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/books/enquiries/{name}/")


def test_the_board_by_keyboard(sign_on: SignOn, axe: Look) -> None:
    page = sign_on("officer")
    page.goto("/books/")
    page.get_by_role("link", name="Board", exact=True).click()
    page.wait_for_url("**/board/")
    assert page.locator("main svg").count() == 5
    axe(page)
    page.locator("#from").focus()
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_url("**/board/?from=2027-03&to=2027-03")
    with page.expect_download() as started:
        page.locator(".list", has=page.locator("table[data-list=stock]")).get_by_text("Save as CSV").click()
    with open(started.value.path(), encoding="utf-8") as file:
        head, march = file.read().splitlines()[:2]
    assert head.startswith("Month,Low wines and feints LPA")
    assert march.startswith("March 2027,446.40,4793.21,")
