"""A receiver near full while the spirit runs: 'Act now', the sheet of the change, and the finish of the next one."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from playwright.sync_api import expect
from test_running_a_still import CHARGE, FINISH, charge, gauge, keep_as_typed, typed

# 2,150 mm of the spirit receiver are more than nine tenths of its 6,000 L.
NEARLY_FULL = {**CHARGE, "spirit_before": ("2150", "17.0", "68.8")}


@pytest.fixture
def still(sign_on: Callable[[str], Any]) -> Any:
    page = sign_on("staff")
    page.set_viewport_size({"width": 1366, "height": 768})
    return page


def save(page: Any) -> None:
    """Saves by F8, and keeps as typed what is asked first."""
    with page.expect_navigation():
        page.keyboard.press("F8")
    keep_as_typed(page)


def test_the_next_receiver_is_taken_and_gauged_at_the_finish(still: Any, axe: Callable[[Any], None]) -> None:
    page = still
    begun = charge(page, 5, NEARLY_FULL)
    assert page.locator(".act-now").count() == 0

    page.get_by_role("link", name="Spirit on", exact=True).click()
    page.locator("[name=cut_on_percent]").fill("74.6")
    page.locator("[name=spirit_on_at]").fill(typed(begun + timedelta(hours=1)))
    save(page)
    expect(page.locator("h1 .run-state")).to_have_text("Spirit on")
    said = page.locator(".act-now")
    expect(said).to_contain_text("SR is near full")
    expect(said).to_contain_text("Change receiver before it is full, and gauge both.")
    axe(page)
    # The same on This shift, where it is seen first.
    page.goto("/")
    first = page.locator(".act-now").first
    expect(first).to_contain_text("SR is near full")
    axe(page)

    first.locator("a").click()
    page.wait_for_url(re.compile("moment=spirit_receiver_changed"))
    expect(page.get_by_role("heading", level=1)).to_contain_text("Change of spirit receiver")
    axe(page)
    page.locator("[name=spirit_receiver_changed_at]").fill(typed(begun + timedelta(hours=2)))
    gauge(page, "spirit_receiver_filled", ("2300", "17.0", "69.0"))
    page.locator("[name=next_spirit_receiver]").select_option("SV")
    gauge(page, "next_spirit_receiver_before", ("0", "17.0", ""))
    save(page)
    page.wait_for_url(re.compile("/running/$"))
    assert page.locator(".act-now").count() == 0
    expect(page.locator(".run-balance")).to_contain_text("Into SV so far")
    expect(page.locator(".run-balance")).to_contain_text("Into SR, gauged")
    expect(page.get_by_role("link", name="Change spirit receiver")).to_have_count(0)

    page.get_by_role("link", name="Spirit off", exact=True).click()
    page.locator("[name=cut_off_percent]").fill("62.4")
    page.locator("[name=spirit_off_at]").fill(typed(begun + timedelta(hours=3.2)))
    save(page)
    expect(page.locator("h1 .run-state")).to_have_text("Feints")

    page.get_by_role("link", name="Finish", exact=True).click()
    # The receiver that was changed is gauged already: the one that took its place is asked for, by its name.
    expect(page.locator("#sheet")).to_contain_text("Spirit vat")
    axe(page)
    page.locator("[name=ended_at]").fill(typed(begun + timedelta(hours=4.8)))
    gauge(page, "spirit_after", ("60", "16.5", "68.0"))
    gauge(page, "feints_receiver_after", FINISH["feints_receiver_after"])
    page.locator("[name=spent_lees_litres]").fill("2350")
    page.locator("[name=spent_lees_percent]").fill("0.05")
    save(page)
    page.wait_for_url(re.compile(r"/records/spirit_run/SR\d+/$"))
    text = page.locator("main").text_content()
    for name in ("Spirit receiver when changed", "Next spirit receiver before"):
        assert name in text
    axe(page)
