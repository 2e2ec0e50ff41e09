"""A manager brings casks in from a workbook: the empty one saved, one with mistakes, then one in order."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from openpyxl import load_workbook

Look = Callable[[Any], None]
SignOn = Callable[[str], Any]
CASK = ["barrel", 1, 200, "1A", "2022-02-15 09:00", 46.6, 223.4, 63.5]
LONGEST_MS = 60_000


def test_from_the_empty_workbook_to_casks_in_the_warehouse(sign_on: SignOn, axe: Look, tmp_path: Path) -> None:
    page = sign_on("manager")
    page.goto("/site/")
    page.get_by_role("link", name="Bring in a workbook").click()
    axe(page)
    with page.expect_download() as saved:
        page.get_by_role("link", name="Save the empty workbook").click()
    empty = tmp_path / "empty.xlsx"
    saved.value.save_as(empty)
    # Without a workbook the box says so.
    page.get_by_role("button", name="Look at it").click()
    assert page.locator(".error-summary").inner_text().endswith("Choose the workbook that you filled in.")
    axe(page)

    book = load_workbook(empty)
    book["Casks"].append(["", "2021/0901", *CASK])
    book["Casks"].append(["", "2021/0902", *CASK[:6], "=200+23.4", 63.5])
    wrong = tmp_path / "wrong.xlsx"
    book.save(wrong)
    page.get_by_label("Workbook (.xlsx)").set_input_files(wrong)
    page.get_by_role("button", name="Look at it").click()
    problems = page.locator("table[data-list=problems]")
    problems.wait_for(timeout=LONGEST_MS)
    assert problems.locator("tbody tr").count() == 1
    assert "I4" in problems.inner_text()
    assert page.get_by_role("button", name="Bring").count() == 0
    axe(page)

    book["Casks"]["I4"] = 223.4
    right = tmp_path / "right.xlsx"
    book.save(right)
    page.get_by_role("link", name="Choose another workbook").click()
    page.get_by_label("Workbook (.xlsx)").set_input_files(right)
    page.get_by_role("button", name="Look at it").click()
    button = page.get_by_role("button", name="Bring 2 rows in")
    button.wait_for(timeout=LONGEST_MS)
    axe(page)
    page.set_viewport_size({"width": 360, "height": 740})
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    button.click()
    page.get_by_text("It is brought in.").wait_for(timeout=LONGEST_MS)
    page.goto("/casks/2021/0902/")
    assert "2021/0902" in page.locator("h1").inner_text()
