"""A spirit run worked from its page, from the charge to the finish, beside two washbacks that ferment.

The keys that a reading costs beyond its digits are counted: at most four.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest

from distillery.management.demonstration import GUESTS
from tests.journeys.at_the_page import clock_of, gauge, keep_as_typed, typed

# Worked out from nothing: dips and strengths of the size that this still is charged with.
CHARGE = {
    "low_wines_before": ("1040", "17.0", "23.4"),
    "low_wines_after": ("35", "17.0", "23.4"),
    "feints_before": ("540", "17.0", "34.8"),
    "feints_after": ("18", "17.0", "34.8"),
    "spirit_before": ("0", "17.0", ""),
}
# Feints alone, as the vessels stand after that run, and nearly as they stood before it.
OF_FEINTS = {
    "low_wines_before": ("35", "17.0", "23.4"),
    "low_wines_after": ("35", "17.0", "23.4"),
    "feints_before": ("550", "17.0", "34.9"),
    "feints_after": ("18", "17.0", "34.9"),
    "spirit_before": ("500", "16.5", "68.8"),
}
FINISH = {"spirit_after": ("500", "16.5", "68.8"), "feints_receiver_after": ("550", "17.0", "34.9")}
# The first three are read now, five hours after the charge, the others written late.
READINGS = ["46.0", "45.1", "41.5", "70.4", "66.3", "62.2"]


class Keys:
    """Presses keys and counts those that are no digits of a figure."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.besides = 0

    def digits(self, figure: str) -> None:
        self.page.keyboard.type(figure)

    def press(self, key: str) -> None:
        self.besides += 1
        self.page.keyboard.press(key)


def charge(page: Any, hours_ago: float, gauges: dict[str, tuple[str, str, str]]) -> datetime:
    """Charges the spirit still by its sheet; gives when."""
    page.goto("/records/spirit_run/new/")
    at = clock_of(page) - timedelta(hours=hours_ago)
    page.locator("[name=charged_at]").fill(typed(at))
    for name, values in gauges.items():
        gauge(page, name, values)
    # The page of a new sheet changes its own address when it keeps drafts: what comes next is known by its look.
    page.keyboard.press("F8")
    page.locator("h1 .run-state, .question").first.wait_for()
    keep_as_typed(page)
    page.wait_for_url(re.compile("/running/$"))
    return at


@pytest.fixture
def still(sign_on: Callable[[str], Any]) -> Any:
    page = sign_on("staff")
    page.set_viewport_size({"width": 1366, "height": 768})
    return page


def test_a_spirit_run_from_charge_to_finish(still: Any, axe: Callable[[Any], None]) -> None:
    page = still
    begun = charge(page, 5, CHARGE)
    state = page.locator("h1 .run-state")
    assert state.inner_text().upper() == "FORESHOTS"
    # Capitals to be read from two metres.
    assert state.evaluate("one => parseFloat(getComputedStyle(one).fontSize)") >= 52
    axe(page)

    # The next reading: its box has the focus, Enter goes on and saves from the last, and the boxes are empty again.
    keys = Keys(page)
    for place, strength in enumerate(READINGS[:2]):
        assert page.evaluate("document.activeElement.name") == "distillate_percent"
        keys.digits(strength)
        keys.press("Enter")
        keys.digits("16.2")
        # What has run off since is read now and then: its box is gone past, and being the last it saves.
        keys.press("Enter")
        assert page.evaluate("document.activeElement.name") == "run_off_litres"
        with page.expect_navigation():
            keys.press("Enter")
        assert page.locator("[name=distillate_percent]").input_value() == ""
        assert page.locator(".run-write tbody").first.inner_text().count(strength) == 1
        assert keys.besides <= 4 * (place + 1)
    # The same with F8, from any box. Two digits changed about are asked about, and kept with one key or put right.
    keys.digits("14.5")
    with page.expect_navigation():
        keys.press("F8")
    assert f"did you mean {READINGS[2]}? You typed 14.5" in page.locator(".question").inner_text()
    assert page.evaluate("document.activeElement.textContent") == "Keep 14.5 % vol"
    assert page.locator("[name=distillate_percent]").input_value() == "14.5"
    axe(page)
    with page.expect_navigation():
        page.get_by_role("button", name=f"It was {READINGS[2]} % vol").click()
    assert READINGS[2] in page.locator("main").inner_text()
    for place, strength in enumerate(READINGS[3:], start=3):
        page.locator("[name=at]").fill(typed(begun + timedelta(minutes=30 + 40 * place)))
        page.locator("[name=distillate_percent]").fill(strength)
        with page.expect_navigation():
            page.locator("[name=distillate_percent]").press("F8")
        keep_as_typed(page)

    for name, after, strength, word in (("Spirit on", 1.0, "74.6", "SPIRIT ON"), ("Spirit off", 3.2, "62.4", "FEINTS")):
        with page.expect_navigation():
            page.get_by_role("link", name=name, exact=True).click()
        assert page.get_by_role("heading", name=f"Cut made: {name}").is_visible()
        time = page.locator(".run-sheet input[type=text]").first
        assert re.fullmatch(r"\d\d:\d\d", time.input_value())
        assert page.evaluate("document.activeElement.name").startswith("cut_o")
        page.keyboard.type(strength)
        time.fill(typed(begun + timedelta(hours=after)))
        with page.expect_navigation():
            page.locator(".run-sheet [data-save]").click()
        keep_as_typed(page)
        assert page.locator("h1 .run-state").inner_text().upper() == word
    axe(page)
    assert "Cut now" not in page.content()

    with page.expect_navigation():
        page.get_by_role("link", name="Finish", exact=True).click()
    assert page.locator("[name=cut_off_percent]").input_value() == "62.4"
    page.locator("[name=ended_at]").fill(typed(begun + timedelta(hours=4.8)))
    for name, values in FINISH.items():
        gauge(page, name, values)
    page.locator("[name=spent_lees_litres]").fill("2350")
    page.locator("[name=spent_lees_percent]").fill("0.05")
    with page.expect_navigation():
        page.keyboard.press("F8")
    keep_as_typed(page)
    assert re.search(r"/records/spirit_run/SR\d+/$", page.url)
    text = page.locator("main").text_content()
    for value in (*READINGS, "74.6", "62.4"):
        assert value in text


def test_three_are_on_and_the_line_of_each_takes_its_reading(still: Any, axe: Callable[[Any], None]) -> None:
    page = still
    charge(page, 0.1, OF_FEINTS)
    page.goto("/")
    lines = page.locator(".run-line")
    assert lines.count() == 3
    axe(page)
    # All of it stands in one window, the ways to start a sheet included; so would two stills and three washbacks.
    starts = page.get_by_role("navigation", name="Start a sheet").bounding_box()
    assert starts["y"] + starts["height"] <= 768
    first, *washbacks = [line.bounding_box() for line in lines.all()]
    assert first["y"] + 2 * first["height"] + 3 * max(one["height"] for one in washbacks) <= 768
    boxes = [box.bounding_box() for box in lines.locator("input[type=text]").all()]
    assert min(box["height"] for box in boxes) >= 48
    page.locator(".run-line", has_text="WB2").locator("input[type=text]").fill("1.0401")
    with page.expect_navigation():
        page.locator(".run-line", has_text="WB2").locator("input[type=text]").press("Enter")
    keep_as_typed(page)
    page.goto("/")
    line = page.locator(".run-line", has_text="WB2").inner_text()
    assert "1.0401" in line
    assert "next" in line.casefold()


def test_without_script(browser: Any, site: str) -> None:
    guest = next(one for one in GUESTS if one.role == "staff")
    context = browser.new_context(base_url=site, java_script_enabled=False, locale="en-GB", timezone_id="Europe/London")
    context.set_default_timeout(10_000)
    page = context.new_page()
    page.goto("/sign-on/")
    page.fill("input[name=username]", guest.username)
    page.fill("input[name=password]", guest.password)
    page.press("input[name=password]", "Enter")
    page.goto("/records/fermentation/FE0021/running/")
    page.fill("[name=gravity]", "0.9988")
    page.fill("[name=celsius]", "32.1")
    page.press("[name=celsius]", "Enter")
    page.get_by_role("cell", name="0.9988").first.wait_for()
    page.get_by_role("link", name="Declaration of the wash").click()
    page.locator("[name=final_gravity]").wait_for()
    context.close()


def test_what_is_on_is_read_and_not_written_by_an_officer(sign_on: Callable[[str], Any]) -> None:
    page = sign_on("officer")
    page.goto("/records/fermentation/FE0022/running/")
    assert page.locator("h1 .run-state").inner_text().upper().endswith(" H")
    assert page.locator("[data-save]").count() == 0
    assert page.get_by_role("link", name="Declaration of the wash").count() == 0
