"""Who has the pen at a shared PC: the person changes in place, the PC locks, and what was typed stays.

Keys are counted as they are pressed; each journey has the demonstration at an enrolled PC.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from distillery.management.demonstration import GUESTS
from tests.running_site import Databases, serving_process

PINS = {"brodie": "402917", "isla": "730158"}
CHANGE_WITHIN_S = 4.0
MOST_KEYS = 12
IDLE_S = 8


@pytest.fixture
def at_pc(page: Any, sign_on: Callable[[str], Any]) -> Any:
    """A window at an enrolled PC; brodie and isla have PINs, and isla has the pen."""
    sign_on("manager")
    page.goto("/site/pc/enrol/")
    page.get_by_label("Name of this PC").fill(f"Still house PC {time.monotonic_ns()}")
    with page.expect_navigation():
        page.get_by_role("button", name="Enrol this PC").click()
    for name, pin in PINS.items():
        page.goto(f"/site/pin/?name={name}")
        page.fill("#id_pin", pin)
        page.fill("#id_again", pin)
        with page.expect_navigation():
            page.get_by_role("button", name="Keep this PIN").click()
    return page


def take_by_keys(page: Any, name: str, pin: str) -> int:
    """Takes the pen in the boxes that are laid over the page, by keys alone; how many beside the PIN's figures."""
    keys = 0
    page.wait_for_selector(".pen-over .names input:focus, .pen-over input[name=password]:focus")
    while page.evaluate("document.activeElement.type") == "radio":
        if page.evaluate("document.activeElement.value") == name:
            page.keyboard.press("Enter")
        else:
            page.keyboard.press("ArrowDown")
        keys += 1
        assert keys < 10
    page.keyboard.type(pin)
    page.keyboard.press("Enter")
    page.wait_for_selector(".pen-over", state="detached")
    return keys + 1


def test_the_person_changes_over_a_half_typed_row_and_both_names_are_stored(at_pc: Any, axe: Any) -> None:
    page = at_pc
    page.goto("/records/transfer/new/")
    page.fill("input[name=from_before_dip_mm]", "1000")
    page.evaluate("window.same = 1")
    page.keyboard.press("F2")
    page.wait_for_selector(".pen-over .names input:focus")
    axe(page)
    page.keyboard.press("Escape")
    begun = time.monotonic()
    page.keyboard.press("F2")
    take_by_keys(page, "brodie", PINS["brodie"])
    assert time.monotonic() - begun < CHANGE_WITHIN_S
    assert page.evaluate("window.same") == 1, "the page was loaded anew"
    assert page.input_value("input[name=from_before_dip_mm]") == "1000"
    assert page.evaluate("document.activeElement.name") == "from_before_dip_mm"
    assert "Brodie Catterwell has the pen" in page.inner_text(".name-bar .person")
    assert page.inner_text("main .messages") == "Brodie Catterwell has the pen."
    save = page.get_by_role("button", name="Save: Isla typed, Brodie saves")
    axe(page)
    # What is wrong with the sheet comes back, with both names still on it, and then it is saved.
    with page.expect_navigation():
        save.click()
    assert page.get_by_role("button", name="Save: Isla typed, Brodie saves").count() == 1
    for name, value in {
        "from_before_celsius": "18",
        "from_before_hydrometer_percent": "63",
        "to_before_dip_mm": "0",
        "from_after_dip_mm": "900",
        "from_after_celsius": "18",
        "from_after_hydrometer_percent": "63",
        "to_after_dip_mm": "100",
        "to_after_celsius": "18",
        "to_after_hydrometer_percent": "63",
    }.items():
        page.fill(f"input[name={name}]", value)
    assert page.locator("form#sheet input[name=pen]").count() == 2, "both typed now"
    assert page.get_by_role("button", name="Save: Isla and Brodie typed, Brodie saves").count() == 1


def test_ten_wrong_pins_stop_one_person_and_no_other(at_pc: Any) -> None:
    """The waits themselves are long; here they are seen to begin, and a colleague goes on."""
    page = at_pc
    page.goto("/")
    page.keyboard.press("F2")
    page.wait_for_selector(".pen-over .names input:focus")
    page.locator(".pen-over input[value=brodie]").check()
    box = page.locator(".pen-over input[name=password]")
    said = page.locator(".pen-over .said")
    for left in (9, 8, 7):
        box.fill("111112")
        box.press("Enter")
        said.get_by_text(f"{left} tries left").wait_for()
    said.get_by_text("Wait 30 s before the next").wait_for()
    box.fill(PINS["brodie"])
    box.press("Enter")
    said.get_by_text("Others can take the pen meanwhile").wait_for()
    page.locator(".pen-over input[value=isla]").check()
    box.fill(PINS["isla"])
    box.press("Enter")
    page.wait_for_selector(".pen-over", state="detached")
    assert "Isla Venmore has the pen" in page.inner_text(".name-bar .person")


@pytest.fixture
def quickly_idle(chromium: str, demo_database: str, databases: Databases, monkeypatch: Any) -> Iterator[str]:
    """The site, with PCs that lock after some seconds."""
    monkeypatch.setenv("IDLE_SECONDS", str(IDLE_S))
    with serving_process(databases.copy_of(demo_database)) as (_, address):
        yield address


def test_an_idle_pc_counts_down_locks_keeps_what_was_typed_and_is_unlocked_by_keys(
    browser: Any, quickly_idle: str, axe: Any
) -> None:
    context = browser.new_context(base_url=quickly_idle, viewport={"width": 1366, "height": 768})
    context.set_default_timeout(15_000)
    page = context.new_page()
    page.goto("/sign-on/")
    guest = next(one for one in GUESTS if one.username == "isla")
    page.fill("input[name=username]", guest.username)
    page.fill("input[name=password]", guest.password)
    with page.expect_navigation():
        page.press("input[name=password]", "Enter")
    page.goto("/site/pc/enrol/")
    page.get_by_label("Name of this PC").fill("Still house PC")
    with page.expect_navigation():
        page.get_by_role("button", name="Enrol this PC").click()
    page.goto("/site/pin/?name=isla")
    page.fill("#id_pin", PINS["isla"])
    page.fill("#id_again", PINS["isla"])
    with page.expect_navigation():
        page.get_by_role("button", name="Keep this PIN").click()
    page.goto("/records/transfer/new/")
    page.evaluate(
        "for (const what of ['locked', 'unlocked'])"
        " document.addEventListener(`gaugebook:${what}`, () => { window[what] = (window[what] ?? 0) + 1; })"
    )
    page.fill("input[name=from_before_dip_mm]", "1000")
    # Any key keeps the pen.
    page.wait_for_selector(".pen-count")
    axe(page)
    page.keyboard.press("Shift")
    page.wait_for_selector(".pen-count", state="detached")
    page.wait_for_selector(".pen-over.covers input[name=password]:focus")
    axe(page)
    assert page.evaluate("window.locked") == 1
    covered = page.locator(".pen-over")
    assert "Act now" in covered.inner_text()
    assert "Due" in covered.inner_text()
    page.keyboard.press("Escape")
    page.keyboard.press("F8")
    assert covered.is_visible()
    # The server refuses the same, whatever the page does.
    asked = "fetch('/books/', {headers: {Accept: 'application/json'}}).then((answer) => answer.status)"
    assert page.evaluate(asked) == 403
    keys = take_by_keys(page, "isla", PINS["isla"])
    assert keys == 1
    assert page.evaluate("window.unlocked") == 1
    assert page.input_value("input[name=from_before_dip_mm]") == "1000"
    assert page.evaluate("document.activeElement.name") == "from_before_dip_mm"
    assert page.get_by_role("button", name=re.compile("^Save")).count() == 1
    context.close()


def test_a_still_reading_from_a_locked_screen_by_keys_alone(at_pc: Any) -> None:
    """At most twelve keys beside the figures of the PIN and of the reading."""
    page = at_pc
    found = page.evaluate(
        "fetch('/records/spirit_run/').then((answer) => answer.text()).then((text) => text.match(/SR\\d+/)[0])"
    )
    page.goto(f"/records/spirit_run/{found}/reading/")
    page.evaluate(
        "fetch('/pen/lock/', {method: 'POST', headers: {Accept: 'application/json',"
        " 'X-CSRFToken': document.querySelector('input[name=csrfmiddlewaretoken]').value}})"
    )
    page.goto(f"/records/spirit_run/{found}/reading/")
    page.wait_for_selector("main input[name=password]:focus")
    keys = 0
    page.keyboard.type(PINS["isla"])
    with page.expect_navigation():
        page.keyboard.press("Enter")
    keys += 1
    while page.evaluate("document.activeElement.name") != "distillate_percent":
        page.keyboard.press("Tab")
        keys += 1
        assert keys < 40, page.evaluate("document.activeElement.outerHTML")
    page.keyboard.type("70.1")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    keys += 1
    assert keys <= MOST_KEYS
    assert "Isla Venmore" in page.inner_text(".name-bar")


def test_the_same_person_does_not_sign_twice_and_a_second_signs_in_place(at_pc: Any) -> None:
    page = at_pc
    page.goto("/records/stock_take/new/")
    vessels = page.eval_on_selector_all("select[name=line-0-vessel] option", "all => all.map((one) => one.value)")
    page.select_option("select[name=line-0-vessel]", next(one for one in vessels if one))
    page.fill("input[name=line-0-gauge_dip_mm]", "0")
    with page.expect_navigation():
        page.get_by_role("button", name=re.compile("^Save")).click()
    while page.locator(".question").count():
        with page.expect_navigation():
            page.locator(".question button").first.click()
    # What waits stands in a table on This shift, which keeps its width to itself on a narrow screen.
    waits, size = page.url, page.viewport_size
    page.set_viewport_size({"width": 320, "height": 640})
    page.goto("/")
    page.get_by_text("1 of 2").first.wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    page.set_viewport_size(size)
    page.goto(waits)
    second = page.locator(".second-person")
    second.locator("input[name=second_name]").fill("isla")
    second.locator("input[name=second_password]").fill(PINS["isla"])
    with page.expect_navigation():
        second.get_by_role("button", name="Countersign here").click()
    assert "someone else has to agree" in page.inner_text("main .messages")
    second.locator("input[name=second_name]").fill("Brodie")
    second.locator("input[name=second_password]").fill(PINS["brodie"])
    with page.expect_navigation():
        second.get_by_role("button", name="Countersign here").click()
    assert "Countersigned" in page.inner_text("main .messages")
    assert "Isla Venmore has the pen" in page.inner_text(".name-bar .person")


def test_a_pin_by_keys_of_80_px_and_somebody_put_on_shift(at_pc: Any, axe: Any) -> None:
    page = at_pc
    page.goto("/on-shift/")
    axe(page)
    page.get_by_label("Who").select_option("jory")
    with page.expect_navigation():
        page.get_by_role("button", name="Put on shift").click()
    page.keyboard.press("F2")
    page.wait_for_selector(".pen-over .names")
    assert "Jory" in page.inner_text(".pen-over .names fieldset:first-of-type")
    page.locator(".pen-over .name-tile", has_text="Brodie").click()
    page.get_by_text("Number keys").click()
    for digit in PINS["brodie"] + "5":
        page.get_by_role("button", name=digit, exact=True).click()
    page.get_by_role("button", name="Rub out").click()
    size = page.get_by_role("button", name="7", exact=True).bounding_box()
    assert (size["width"], size["height"]) >= (80, 80)
    axe(page)
    page.get_by_role("button", name="Take the pen").click()
    page.wait_for_selector(".pen-over", state="detached")
    assert "Brodie" in page.inner_text(".name-bar")
