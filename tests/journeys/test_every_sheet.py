"""Every step's list, empty sheet, record and print, and on a telephone's width, so that who cannot see or point can use
them too.

The books are a small month in which each step between cask and customer stands once. Night has the same pages in other
colours, whose contrast `test_style.py` computes and `test_day_and_night.py` looks at.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest

from batches.steps import STEPS
from tests.batches.test_load_from_cask_to_customer import KINDS, TABLES
from tests.batches.tiny_month import write_folder
from tests.running_site import Databases, run, serving

WIDTH = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
SHARED, NARROW = {"width": 1366, "height": 768}, {"width": 360, "height": 740}
# What is entered by a table of the plant alone has no empty sheet.
WRITTEN = [sheet for sheet in STEPS if not sheet.in_plant]
pytestmark = pytest.mark.long


@pytest.fixture(scope="module")
def site(
    chromium: str, migrated_original: str, databases: Databases, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[str]:
    """A small site in whose books each step stands."""
    database = databases.copy_of(migrated_original)
    folder = write_folder(tmp_path_factory.mktemp("month"), **TABLES)
    invited = "from distillery.management.demonstration import invite\ninvite()"
    done = run(database, "shell", "--verbosity", "0", "-c", invited)
    assert not done.returncode, done.stdout + done.stderr
    done = run(database, "load_month", folder, "--person", "brodie", "--second", "isla")
    assert not done.returncode, done.stdout + done.stderr
    with serving(database) as address:
        yield address


def test_every_step_can_be_read_and_written(sign_on: Callable[[str], Any], axe: Callable[[Any], None]) -> None:
    page = sign_on("staff")
    page.set_viewport_size(SHARED)
    recorded = []
    for sheet in WRITTEN:
        page.goto(f"/records/{sheet.kind}/")
        axe(page)
        assert page.get_by_role("heading", level=1).inner_text() == sheet.plural
        first = page.locator(f"main tbody a[href^='/records/{sheet.kind}/']").first
        if first.count():
            recorded.append(sheet.kind)
            with page.expect_navigation():
                first.click()
            axe(page)
            printed = page.get_by_role("link", name="PDF", exact=True).first.get_attribute("href")
            assert page.request.get(printed).body()[:5] == b"%PDF-"
        page.goto(f"/records/{sheet.kind}/new/")
        axe(page)
        page.set_viewport_size(NARROW)
        assert page.evaluate(WIDTH) <= 0, f"{page.url} goes sideways"
        page.set_viewport_size(SHARED)
    assert set(KINDS) <= set(recorded)


def test_a_sheet_that_is_refused_leads_to_each_box(sign_on: Callable[[str], Any], axe: Callable[[Any], None]) -> None:
    page = sign_on("staff")
    page.set_viewport_size(SHARED)
    for sheet in WRITTEN:
        page.goto(f"/records/{sheet.kind}/new/")
        page.evaluate("document.body.dataset.before = 'yes'")
        page.keyboard.press("F8")
        answered = page.locator("body:not([data-before]) :is(.error-summary, .question, .messages li)")
        answered.first.wait_for()
        if not page.locator(".error-summary a").count():
            continue
        axe(page)
        target = page.locator(".error-summary a").first.get_attribute("href")
        assert page.locator(target.replace(":", r"\:")).count() == 1, f"{sheet.kind}: {target} leads nowhere"
