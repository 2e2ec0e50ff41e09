"""A figure is put right and saved: the page is there at once, and says what it came to as soon as that is compared."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

Look = Callable[[Any], None]
SignOn = Callable[[str], Any]

RUN = "/records/spirit_run/SR0007/"


def test_the_page_after_saving_says_by_itself_what_it_came_to(sign_on: SignOn, axe: Look) -> None:
    page = sign_on("staff")
    page.goto(RUN)
    assert page.get_by_text("Enquiry EQ0001, open").count() == 1
    page.goto(f"{RUN}correct/")
    page.locator("[name=spirit_after_dip_mm]").fill("927")
    page.locator("[name=reason]").fill("read again")
    page.get_by_role("button", name="Save correction").last.click()
    page.wait_for_url(re.compile(f"{RUN}$"))
    page.get_by_text("Enquiry EQ0001, put right by a correction").wait_for()
    assert page.locator("[data-being-compared]").count() == 0
    axe(page)
