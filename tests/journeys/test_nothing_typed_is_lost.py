"""What is typed is not lost: reload, Back, a browser shut, a server killed, a session gone, the network away.

Each journey writes on records of the demonstration of its own.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from playwright.sync_api import expect

from distillery.management.demonstration import GUESTS
from tests.running_site import Databases, execute, serving_process

READING = "/records/fermentation/FE0021/reading/"


def sign_on_at(window: Any, role: str = "staff", *, at: str = "/sign-on/") -> None:
    guest = next(guest for guest in GUESTS if guest.role == role)
    window.goto(at)
    window.fill("input[name=username]", guest.username)
    window.fill("input[name=password]", guest.password)
    window.press("input[name=password]", "Enter")
    window.wait_for_url(lambda url: "/sign-on/" not in url)


def leave(window: Any, name: str, text: str) -> None:
    """Types into a box and leaves it, as the Tab key does."""
    window.locator(f"main [name={name}]").fill(text)
    window.locator(f"main [name={name}]").press("Tab")


def kept(window: Any, words: str = "Draft kept") -> str:
    said = window.locator("[data-draft-said]", has_text=words)
    said.wait_for()
    return str(said.inner_text())


def value(window: Any, name: str) -> str:
    return str(window.locator(f"main [name={name}]").input_value())


def test_a_sheet_comes_back_after_a_reload_a_link_and_the_back_key(
    sign_on: Callable[[str], Any], axe: Callable[[Any], None]
) -> None:
    page = sign_on("staff")
    page.goto("/records/intake/new/")
    leave(page, "kilograms", "10000")
    said = kept(page)
    page.reload()
    assert value(page, "kilograms") == "10000"
    assert said in page.get_by_role("form", name="The draft below").inner_text()
    assert said in page.locator("#id_kilograms_draft").inner_text()
    axe(page)
    # A box that is not left yet goes with the page.
    page.locator("[name=moisture_percent]").fill("4.1")
    page.goto("/")
    line = page.locator(".drafts-kept")
    assert "1 draft at this PC, not saved: New malt intake, by " in line.inner_text()
    page.go_back()
    page.wait_for_url(re.compile("/records/intake/new/"))
    assert (value(page, "kilograms"), value(page, "moisture_percent")) == ("10000", "4.1")
    page.goto("/")
    page.get_by_role("link", name="New malt intake").click()
    page.wait_for_url(re.compile("/records/intake/new/"))
    assert (value(page, "kilograms"), value(page, "moisture_percent")) == ("10000", "4.1")
    # A blank sheet beside it has a draft of its own.
    page.get_by_role("link", name="Keep it and write a blank sheet").click()
    page.wait_for_url(re.compile("sheet=blank"))
    assert value(page, "kilograms") == ""
    leave(page, "kilograms", "20000")
    kept(page)
    page.reload()
    assert value(page, "kilograms") == "20000"
    page.get_by_role("button", name="Throw the draft away").click()
    page.get_by_text("The draft is thrown away.").wait_for()
    page.goto("/records/intake/new/")
    assert value(page, "kilograms") == "10000"
    with page.expect_navigation(url=re.compile(r"/records/intake/[A-Z0-9]+/$")):
        page.get_by_role("button", name="Save").last.click()
    page.goto("/")
    assert page.locator(".drafts-kept").count() == 0


def test_another_person_finds_the_sheet_with_the_name_of_who_typed_it(sign_on: Callable[[str], Any]) -> None:
    page = sign_on("staff")
    page.goto("/records/mash/MA0001/correct/")
    leave(page, "wort_celsius", "18.1")
    said = kept(page)
    page.get_by_role("button", name="Sign off").click()
    page.wait_for_url(re.compile("/sign-on/"))
    sign_on("manager")
    page.goto("/records/mash/MA0001/correct/")
    assert value(page, "wort_celsius") == "18.1"
    assert said in page.locator("#id_wort_celsius_draft").inner_text()
    leave(page, "wort_celsius", "18.3")
    mine = kept(page)
    assert mine.rpartition(",")[2] != said.rpartition(",")[2]
    page.get_by_role("button", name="Throw the draft away").click()
    page.get_by_text("The draft is thrown away.").wait_for()


def test_a_browser_that_was_shut_finds_the_sheet_again(browser: Any, site: str) -> None:
    first = browser.new_context(base_url=site)
    window = first.new_page()
    sign_on_at(window)
    window.goto("/records/intake/new/")
    leave(window, "kilograms", "12000")
    kept(window)
    address, storage = window.url, first.storage_state()
    first.close()
    second = browser.new_context(base_url=site, storage_state=storage)
    again = second.new_page()
    again.goto(address)
    assert value(again, "kilograms") == "12000"
    second.close()
    elsewhere = browser.new_context(base_url=site)
    other = elsewhere.new_page()
    sign_on_at(other)
    other.goto("/records/intake/new/")
    assert value(other, "kilograms") == ""
    elsewhere.close()


def test_two_rows_logged_while_the_network_is_away_arrive_once_each_with_their_times(
    sign_on: Callable[[str], Any],
) -> None:
    page = sign_on("staff")
    page.clock.install()
    page.goto(READING)
    rows = page.get_by_role("row")
    before = rows.count()
    page.context.set_offline(True)
    pressed = []
    for gravity in ("0.9992", "0.9991"):
        leave(page, "gravity", gravity)
        page.clock.run_for(1000)
        kept(page, "Kept in this browser, not yet on the server")
        page.get_by_role("button", name="Save reading").last.click()
        # Said of the press before it too, so the press is known by its line in the list.
        expect(page.get_by_label("Not sent yet").get_by_role("listitem")).to_have_count(len(pressed) + 1)
        told = page.locator("[data-unsent-said]", has_text="Not sent yet")
        told.wait_for()
        pressed.append(re.search(r"Pressed (\d\d:\d\d)", told.inner_text())[1])  # type: ignore[index]
        assert value(page, "gravity") == ""
        assert value(page, "at") == "now"
        page.clock.run_for(2 * 60 * 1000)
    assert pressed[0] != pressed[1]
    assert page.get_by_label("Not sent yet").get_by_role("listitem").count() == 2
    page.context.set_offline(False)
    page.clock.run_for(60 * 1000)
    page.get_by_text(re.compile("Sent .* FE0021, reading, pressed")).wait_for()
    page.get_by_label("Not sent yet").wait_for(state="hidden")
    page.goto(READING)
    for at, gravity in zip(pressed, ("0.9992", "0.9991"), strict=True):
        assert at in page.get_by_role("row", name=re.compile(re.escape(gravity))).inner_text()
    assert rows.count() == before + 2


def test_a_row_that_is_refused_comes_back_into_its_boxes(sign_on: Callable[[str], Any]) -> None:
    page = sign_on("staff")
    page.goto(READING)
    stands_at = page.locator(".books-clock time").get_attribute("datetime")
    page.context.set_offline(True)
    leave(page, "gravity", "10203 kg")
    page.get_by_role("button", name="Save reading").last.click()
    waits = page.get_by_label("Not sent yet")
    waits.get_by_role("listitem").wait_for()
    page.context.set_offline(False)
    waits.get_by_text("Not taken:").wait_for()
    with page.expect_navigation():
        waits.get_by_role("button", name="Open it again").click()
    assert value(page, "gravity") == "10203 kg"
    assert page.get_by_role("alert").inner_text().count("Gravity")
    # No longer 'now': the time of the press stands in the box.
    pressed = datetime.fromisoformat(value(page, "at"))
    assert timedelta(0) <= pressed - datetime.fromisoformat(stands_at[:16]) < timedelta(minutes=5)
    assert page.get_by_label("Not sent yet").is_hidden()
    page.get_by_role("link", name="To the record").click()
    page.wait_for_url(re.compile("FE0021/$"))
    page.goto(READING)
    page.get_by_role("button", name="Throw the draft away").click()
    page.get_by_text("The draft is thrown away.").wait_for()


def test_a_session_that_ended_loses_nothing_and_leads_back(
    browser: Any, chromium: str, demo_database: str, databases: Databases
) -> None:
    url = databases.copy_of(demo_database)
    with serving_process(url) as (_, address):
        context = browser.new_context(base_url=address)
        page = context.new_page()
        sign_on_at(page)
        page.goto("/records/intake/new/")
        leave(page, "kilograms", "13000")
        kept(page)
        execute(url, "DELETE FROM django_session")
        leave(page, "moisture_percent", "4.2")
        kept(page, "Kept in this browser, not yet on the server: sign on first.")
        page.get_by_role("button", name="Save").last.click()
        page.locator("input[name=username]").wait_for()
        guest = next(guest for guest in GUESTS if guest.role == "staff")
        assert "13000" in page.locator("main").inner_text()
        page.fill("input[name=username]", guest.username)
        page.fill("input[name=password]", guest.password)
        with page.expect_navigation():
            page.press("input[name=password]", "Enter")
        assert (value(page, "kilograms"), value(page, "moisture_percent")) == ("13000", "4.2")
        with page.expect_navigation(url=re.compile(r"/records/intake/[A-Z0-9]+/$")):
            page.get_by_role("button", name="Save").last.click()
        page.goto("/")
        assert page.locator(".drafts-kept").count() == 0
        assert page.evaluate("() => localStorage.length") == 0
        context.close()


def test_a_server_killed_in_the_middle_of_an_entry_finds_the_boxes_again(
    browser: Any, chromium: str, demo_database: str, databases: Databases
) -> None:
    url = databases.copy_of(demo_database)
    context = browser.new_context()
    page = context.new_page()
    with serving_process(url) as (process, address):
        sign_on_at(page, at=f"{address}/sign-on/")
        page.goto(f"{address}/records/intake/new/")
        leave(page, "kilograms", "14000")
        leave(page, "moisture_percent", "4.3")
        kept(page)
        process.kill()
        process.wait()
        leave(page, "nitrogen_percent", "1.5")
        kept(page, "Kept in this browser, not yet on the server: the server is away.")
        port = int(address.rpartition(":")[2])
    with serving_process(url, "--port", str(port)):
        kept(page, "Draft kept")
        page.reload()
        found = [value(page, name) for name in ("kilograms", "moisture_percent", "nitrogen_percent")]
        assert found == ["14000", "4.3", "1.5"]
        with page.expect_navigation(url=re.compile(r"/records/intake/[A-Z0-9]+/$")):
            page.get_by_role("button", name="Save").last.click()
    context.close()


def test_without_script_what_was_sent_comes_back(
    browser: Any, chromium: str, demo_database: str, databases: Databases
) -> None:
    url = databases.copy_of(demo_database)
    with serving_process(url) as (_, address):
        context = browser.new_context(base_url=address, java_script_enabled=False)
        page = context.new_page()
        sign_on_at(page)
        page.goto("/records/intake/new/")
        page.locator("[name=kilograms]").fill("15000")
        execute(url, "DELETE FROM django_session")
        page.get_by_role("button", name="Save").last.click()
        guest = next(guest for guest in GUESTS if guest.role == "staff")
        page.fill("input[name=username]", guest.username)
        page.fill("input[name=password]", guest.password)
        page.press("input[name=password]", "Enter")
        page.wait_for_url(re.compile("/records/intake/new/"))
        assert value(page, "kilograms") == "15000"
        assert page.get_by_role("form", name="The draft below").is_visible()
        context.close()
