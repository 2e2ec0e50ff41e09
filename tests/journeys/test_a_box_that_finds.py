"""The number of a cask, found from the keyboard: typed, offered, taken; and a number that no cask has."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any

Look = Callable[[Any], None]
SignOn = Callable[[str], Any]


def test_a_cask_is_found_by_the_keyboard_alone(sign_on: SignOn, axe: Look) -> None:
    page = sign_on("staff")
    page.goto("/records/regauge/new/")
    box = page.get_by_role("combobox", name="Cask")
    box.focus()
    page.keyboard.type("2022/00")
    offers = page.get_by_role("listbox", name="Cask: those that fit")
    offers.wait_for()
    assert offers.get_by_role("option").count() == 20
    assert page.get_by_text("The first 20; type more of the number.").is_visible()
    assert box.get_attribute("aria-expanded") == "true"
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    chosen = offers.get_by_role("option", selected=True)
    assert chosen.inner_text().startswith("2022/0002 barrel, warehouse 1A")
    assert box.get_attribute("aria-activedescendant") == chosen.get_attribute("id")
    axe(page)
    if folder := os.environ.get("SCREENSHOTS"):
        page.screenshot(path=f"{folder}/offers.png")
    # Enter takes the offer and does not send the sheet.
    page.keyboard.press("Enter")
    assert box.input_value() == "2022/0002"
    assert offers.is_hidden()
    assert page.url.endswith("/records/regauge/new/")


def test_escape_shuts_and_a_number_that_no_cask_has_gets_a_sentence(sign_on: SignOn, axe: Look) -> None:
    page = sign_on("staff")
    page.goto("/records/regauge/new/")
    box = page.get_by_role("combobox", name="Cask")
    box.focus()
    page.keyboard.type("2022/7")
    page.get_by_role("option", name="2022/0007").wait_for()
    page.keyboard.press("Escape")
    assert page.get_by_role("listbox").count() == 0
    assert box.input_value() == "2022/7"
    page.keyboard.press("Control+A")
    page.keyboard.type("1999/1")
    page.get_by_text("No cask of that number in the warehouse.").wait_for()
    axe(page)
    if folder := os.environ.get("SCREENSHOTS"):
        page.screenshot(path=f"{folder}/nothing.png")


def test_without_script_a_number_without_its_noughts_is_understood(sign_on: SignOn, browser: Any, site: str) -> None:
    signed_on = sign_on("staff").context
    plain = browser.new_context(base_url=site, java_script_enabled=False, storage_state=signed_on.storage_state())
    page = plain.new_page()
    page.goto("/records/regauge/new/")
    readings = {"cask": "2022/7", "tare_kg": "50", "gross_kg": "9", "celsius": "15", "hydrometer_percent": "60"}
    for name, text in readings.items():
        page.fill(f"input[name={name}]", text)
    page.keyboard.press("Enter")
    # The tare is more than the gross, so nothing is kept, and the box was understood.
    page.locator(".error-summary").wait_for()
    assert page.locator("input[name=cask]").input_value() == "2022/7"
    assert page.get_by_text("there is no vessel").count() == 0
    page.fill("input[name=cask]", "1999/1")
    page.keyboard.press("Enter")
    page.get_by_text("Cask: there is no vessel 1999/1 on this site.").first.wait_for()
    plain.close()
