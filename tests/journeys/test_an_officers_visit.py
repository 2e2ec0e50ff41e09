"""An officer's visit: begins at Records, finds all changes to one cask and its print, leaves a note."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from typing import Any

from pypdf import PdfReader

Look = Callable[[Any], None]
SignOn = Callable[[str], Any]


def test_all_changes_to_one_cask_are_found_and_printed(sign_on: SignOn, axe: Look) -> None:
    page = sign_on("officer")
    page.wait_for_url("**/records/")
    page.get_by_role("cell", name="Site: approval and vessels").wait_for()
    axe(page)
    page.locator("#find").fill("2022/1")
    page.locator("#find").press("Enter")
    page.wait_for_url("**/casks/2022/0001/")
    page.get_by_role("link", name="All changes").click()
    page.get_by_role("heading", name="All changes to cask 2022/0001").wait_for()
    axe(page)
    digest = page.locator("main p .figure").inner_text()
    address = page.get_by_role("link", name="Save as PDF").get_attribute("href")
    printed = PdfReader(BytesIO(page.request.get(page.url.split("?")[0] + address).body()))
    for number, one in enumerate(printed.pages, 1):
        text = one.extract_text()
        assert digest in text
        assert f"Page {number} of {len(printed.pages)}" in text
    page.goto("/visit-notes/")
    page.get_by_label("Note", exact=True).fill("Casks of row 2 were counted; all were there.")
    page.get_by_role("button", name="Write the note").click()
    page.get_by_text("is written; another note can put it right").wait_for()
    axe(page)
    page.set_viewport_size({"width": 360, "height": 740})
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
